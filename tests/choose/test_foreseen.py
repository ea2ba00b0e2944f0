"""What more power-ups would settle, against trials that go on: each homing drawn."""

from dataclasses import replace
from statistics import fmean

import numpy as np
import pytest
from scipy.stats import binom, chi2

from holdzero.compute.choose.more import ASKED, _settles, more, nothing_more, rare_enough
from holdzero.compute.choose.values import Lack, Part
from holdzero.compute.findings import Findings
from holdzero.compute.findings.values import Misses
from holdzero.compute.spread import Interval
from trials import found_in

CONFIDENCE, AGAINST = 0.95, 0.025
SEEDS = range(60)


def part_of(series: Findings, times: float) -> Part:
    """A part that allows so many times the spread that was seen."""
    return Part(
        name="position",
        findings=series,
        spread_allowed_mm=times * series.spread.middle,
        chance_holds=None,
        chance_holds_heavy=None,
        share_outside=None,
    )


def tried(sets: int, homings: int, *, between: float, seed: int = 4, step: float = 0.0) -> Findings:
    rng = np.random.default_rng(seed)
    values = between * rng.standard_normal((sets, 1)) + rng.standard_normal((sets, homings))
    values = np.rint(values / step) * step if step else values
    return found_in([[f"{value:.6f}" for value in row] for row in values], resolution_mm=step)


def gone_on(
    series: Findings,
    allowed: float,
    further: int,
    homings: int,
    *,
    draws: int = 10_000,
    judged: float | None = None,
) -> float:
    """Share of machines, drawn from what is believed of this one, whose trial settles the question by going on.

    Each further homing is drawn. Analysis of means with the harmonic mean of the sizes (Searle, Casella and
    McCulloch, Variance Components (1992), 4.6, from memory), Satterthwaite's degrees of freedom.
    """
    rng = np.random.default_rng(99)
    labels = series.homings.set_label
    groups = np.array([series.value_mm[labels == label] for label in dict.fromkeys(labels.tolist())])
    (k, size), step = groups.shape, series.rounding_mm
    total = series.posterior.quantiles(rng.random(draws))
    within = np.minimum(series.within_posterior.quantiles(rng.random(draws)), total) if size > 1 else total
    between = np.sqrt(total**2 - within**2)
    # where the machine's mean is believed to be, and the power-ups that follow
    centre = groups.mean() + np.sqrt((between**2 + within**2 / size) / k) * rng.standard_normal(draws)
    places = centre[:, None] + between[:, None] * rng.standard_normal((draws, further))
    new = places[:, :, None] + within[:, None, None] * rng.standard_normal((draws, further, homings))
    new = np.rint(new / step) * step if step else new
    sizes = np.array([size] * k + [homings] * further)
    means = np.hstack([np.broadcast_to(groups.mean(axis=1), (draws, k)), new.mean(axis=2)])
    squares = size * groups.var(axis=1).sum() + homings * new.var(axis=2).sum(axis=1)
    harmonic = sizes.size / (1 / sizes).sum()
    inside = sizes.sum() - sizes.size
    mean_square = squares / inside if inside else np.zeros(draws)
    of_means = np.maximum(means.var(axis=1, ddof=1), mean_square / harmonic)
    of_rest = (1 - 1 / harmonic) * mean_square
    scatter = of_means + of_rest
    df = scatter**2 / (
        of_means**2 / (sizes.size - 1) + (of_rest**2 / (sizes.size * (harmonic - 1)) if inside else 0.0)
    )
    scatter = np.maximum(scatter - step**2 / 12, 1e-12)  # what the display adds to every reading
    holds = chi2.sf(df * scatter / (judged or allowed) ** 2, df)
    fails = chi2.sf(df * scatter / allowed**2, df)
    return float(np.mean((holds >= CONFIDENCE) | (fails <= AGAINST)))


def foreseen(part: Part, chance: float | None = None) -> float:
    """Chance told by the most that is looked at, over several seeds."""
    plan = more(part, chance=chance)
    assert plan.power_ups is None
    further = 3 * part.findings.power_ups
    told = [_settles(part, chance, CONFIDENCE, seed)(further, plan.homings_each) for seed in SEEDS]
    assert plan.chance == pytest.approx(fmean(told), abs=4 * 0.025)  # 400 draws: 0.025 at most
    return fmean(told)


@pytest.mark.parametrize(
    ("sets", "homings", "between", "times", "step"),
    [
        (5, 6, 0.6, 1.0, 0.0),
        (5, 2, 1.5, 1.1, 0.0),
        (7, 4, 0.3, 0.9, 0.0),
        (9, 1, 0.0, 1.15, 0.0),
        (6, 4, 0.6, 1.0, 1.3),
        (4, 2, 0.0, 1.0, 0.0),
        (4, 3, 0.0, 1.1, 2.0),
    ],
)
def test_the_most_looked_at_is_three_times_what_there_is(
    sets: int, homings: int, between: float, times: float, step: float
):
    series = tried(sets, homings, between=between, step=step)
    part = part_of(series, times)
    expected = gone_on(series, part.spread_allowed_mm, 3 * sets, homings)
    assert foreseen(part) == pytest.approx(expected, abs=0.02)


def test_a_smaller_chance_is_judged_by_the_spread_it_stands_for():
    """`holds` is judged by the spread believed not to be exceeded with 0.4, `does not hold` by the limit."""
    series = tried(6, 4, between=0.5)
    part = part_of(series, 1.3)
    smaller = float(series.posterior.quantile(0.4))
    expected = gone_on(series, part.spread_allowed_mm, 18, 4, judged=smaller)
    assert foreseen(part, chance=0.4) == pytest.approx(expected, abs=0.02)


def test_fewest_that_do_and_twice_the_homings():
    """Sizes that differ: two homings were taken, four are asked. Enough is enough, half as many are too few."""
    series = tried(4, 2, between=0.2, seed=6)
    part = part_of(series, 2.0)
    plan = more(part, minutes=(2.0, 7.0))
    for held, homings in ((plan, 2), (plan.instead, 4)):
        assert held.homings_each == homings
        expected = gone_on(series, part.spread_allowed_mm, held.power_ups, homings)
        assert held.chance == pytest.approx(expected, abs=0.045)
        assert held.chance >= ASKED
        assert held.homings == held.power_ups * homings
        assert held.minutes == held.power_ups * (7 + homings * 2)
        assert gone_on(series, part.spread_allowed_mm, held.power_ups // 2, homings) < ASKED
    own, instead = plan, plan.instead
    assert plan.sentence == (
        f"{own.power_ups} more power-ups of 2 would settle it with a chance of about {own.chance:.2f}: "
        f"{own.minutes:.0f} minutes, at 2 a homing and 7 a power-up."
        f" Or {instead.power_ups} of 4 ({instead.minutes:.0f} minutes)."
    )


@pytest.mark.parametrize(("sets", "step"), [(6, 0.0), (5, 1.5)])
@pytest.mark.parametrize("homings", [6, 20])
def test_more_homings_in_each_further_power_up(sets: int, step: float, homings: int):
    """Scatter within is all there is: three more power-ups of 20 settle far more than of 6."""
    series = tried(sets, 3, between=0.0, seed=4 if step else 11, step=step)
    part = part_of(series, 1.1)
    told = fmean(_settles(part, None, CONFIDENCE, seed)(3, homings) for seed in SEEDS)
    assert told == pytest.approx(gone_on(series, part.spread_allowed_mm, 3, homings), abs=0.02)


@pytest.mark.parametrize(
    ("sets", "homings", "further", "times"),
    [
        (2, 3, 1, 0.5),
        (2, 3, 1, 2.0),
        (3, 2, 1, 2.0),
        (2, 1, 1, 3.0),
        (2, 1, 2, 1.0),
        (4, 1, 1, 2.0),
        (2, 4, 2, 0.5),
    ],
)
def test_the_first_further_power_ups_count_most(sets: int, homings: int, further: int, times: float):
    """A third or a fourth power-up: one degree of freedom more or less is a great part of all."""
    series = tried(sets, homings, between=0.0)
    part = part_of(series, times)
    told = fmean(_settles(part, None, CONFIDENCE, seed)(further, homings) for seed in SEEDS)
    assert told == pytest.approx(gone_on(series, part.spread_allowed_mm, further, homings), abs=0.025)


def test_twice_the_homings_are_offered_where_power_ups_scatter_and_have_more_than_one():
    """Of 2 homings each 4 are offered; none where a power-up has one homing, or where all showed one count."""
    for homings, offered in ((1, None), (2, 4), (3, 6)):
        instead = more(part_of(tried(5, homings, between=0.2, seed=6), 2.0)).instead
        assert (instead and instead.homings_each) == offered
    still = found_in([["0.00"] * 3] * 3, resolution_mm=0.01)
    plan = more(replace(part_of(tried(3, 3, between=0.2), 1.0), findings=still, spread_allowed_mm=0.01))
    assert (plan.power_ups, plan.instead) == (1, None)


@pytest.mark.parametrize("step", [0.0, 1.6])
def test_it_does_not_depend_on_the_unit(step: float):
    """A display of 1.6 mm rounds as much of millimetres as one of 1.6 um of micrometres."""
    series = tried(5, 4, between=0.5, step=step)
    small = found_in(
        [
            [f"{value * 1e-3:.9f}" for value in series.value_mm[series.homings.set_label == label]]
            for label in dict.fromkeys(series.homings.set_label.tolist())
        ],
        resolution_mm=step * 1e-3,
    )
    big, little = more(part_of(series, 1.4)), more(part_of(small, 1.4))
    assert (big.power_ups, big.sentence) == (little.power_ups, little.sentence)
    assert big.chance == pytest.approx(little.chance, abs=0.01)


@pytest.mark.parametrize(
    ("outside", "n", "risk"), [(1, 40, 1e-3), (2, 300, 1e-2), (1, 12, 1e-3), (2, 20, 1e-3), (3, 30, 0.05)]
)
def test_rare_enough_by_counting_up(outside: int, n: int, risk: float):
    """The first n at which so many or more have less than 0.05 left to be fewer: exact binomial, one by one."""
    enough = next(m for m in range(n + 1, 20_000) if binom.sf(outside - 1, m, risk) > 1 - CONFIDENCE)
    misses = Misses(count=outside, n=n, high_95=0.1, outside=outside)
    settled = rare_enough(misses, risk=risk, confidence=CONFIDENCE)
    assert settled.homings == enough - n
    assert (settled.power_ups, settled.homings_each, settled.chance) == (None, 0, 0.0)
    assert f"it would take {enough - n} more homings without another" in settled.sentence
    assert ("what sent the homing outside" in settled.sentence) == (outside == 1)


def test_what_is_missing_by_itself():
    """Power-ups and homings short, rounded up to whole power-ups, and what they take."""
    series = tried(4, 3, between=0.4)
    part = part_of(series, 1.4)
    lacks = [
        Lack(code="power-ups", side="", sentence="Nine more.", counted=4, need=13),
        Lack(code="homings", side="", sentence="Forty more.", counted=12, need=52),
        Lack(code="both-sides", side="L", sentence="The left side.", counted=0, need=90),
    ]
    far = more(part, lacks=lacks, minutes=(1.5, 4.0))
    assert (far.power_ups, far.homings, far.minutes) == (14, 42, 14 * (4 + 3 * 1.5))  # 40 / 3, rounded up
    assert (far.chance, far.sentence) == (0.0, "Nine more. Forty more. The left side.")
    near = more(part_of(series, 3.0), lacks=lacks[:1])
    assert near.power_ups == 9  # within three times the four there are: looked at, and enough
    assert near.chance >= ASKED
    none = Lack(code="homings", side="", sentence="All of them.", counted=0, need=24)
    assert more(part_of(series, 3.0), lacks=[none]).power_ups == 8
    unseen = Lack(code="power-ups", side="", sentence="All of them.", counted=0, need=7)
    assert more(part_of(series, 3.0), lacks=[unseen]).power_ups == 7


def test_two_power_ups_can_become_six_more():
    """From the first further one on; a homing takes a minute and a power-up five where nobody says."""
    series = tried(2, 6, between=0.5)
    assert more(part_of(series, 1.0)).sentence.startswith(
        "Even 6 more power-ups of 6 would settle it with a chance of 56\u202f% only."
    )
    sure = more(part_of(series, 30.0))
    assert (sure.power_ups, sure.minutes) == (1, 5 + 6 * 1)


def test_a_cause_is_settled_by_no_homings():
    settled = nothing_more("Look at it.")
    assert (settled.power_ups, settled.homings_each, settled.chance, settled.homings) == (None, 0, 0.0, None)
    assert (settled.sentence, settled.minutes) == ("Look at it.", None)


def test_four_power_ups_of_five_where_any_part_has_seen_one_only():
    unseen, seen = part_of(tried(1, 20, between=0.0), 2.0), part_of(tried(5, 4, between=0.4), 1.7)
    plans = [more(unseen, minutes=(1.5, 4.0)), more(seen, rest_of_them=[unseen], minutes=(1.5, 4.0))]
    for plan in plans:
        assert (plan.power_ups, plan.homings_each, plan.homings, plan.chance) == (4, 5, 20, 0.0)
        assert plan.minutes == 4 * (4 + 5 * 1.5)
        assert "at least 4 more times, 5 homings each" in plan.sentence


def test_what_decides_more_cheaply_where_a_display_hides_the_scatter_within():
    series = tried(5, 6, between=0.5)
    for within, between, tighter in (
        (None, 9.0, True),
        (1.0, 9.0, False),
        (1.0, 2.1, False),
        (1.0, None, True),
        (1.0, 1.9, True),
    ):
        parts = {name: Interval(middle, 0.0, 9.0) for name, middle in (("within", within), ("between", between))}
        said = more(part_of(replace(series, **parts), 1.0)).sentence
        assert ("A tighter sensor" in said) == tighter
        assert ("find what moves when it is switched on" in said) != tighter
