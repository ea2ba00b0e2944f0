"""What is told of a choice: the cheapest, what more money buys, how the spreads compare; by second routes."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.choose import Candidate, Choice, Verdict, choose
from holdzero.compute.choose.compared import compared, dearer, ratio_of
from holdzero.compute.choose.parts import Sides
from holdzero.compute.choose.words import gross_misses, reasons, rests_on
from holdzero.compute.findings import Study, study
from holdzero.compute.findings.values import Misses, MissesElsewhere
from holdzero.compute.spread import Interval
from holdzero.inputs.machine import Axis, Machine, Requirement
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor
from holdzero.quantity import plain
from trials import rows, study_of

MACHINE = Machine(name="m", requirement=Requirement(position_mm=0.05), axes=(Axis.of("X"),))
SPREADS = {"A": 0.003, "B": 0.0045, "C": 0.0075, "D": 0.03, "E": 0.013}
HOLD = ("A", "B", "C")  # D does not, E is open


def homings(name: str, sd: float, *, seed: int, sets: int = 8, side: str = "") -> list[str]:
    """Rows of power-ups of five, regular by any test."""
    n = 5 * sets
    scores = stats.norm.ppf((np.arange(1, n + 1) - 0.375) / (n + 0.25))
    scatter = sd * np.random.default_rng(seed).permutation(scores / scores.std(ddof=1)).reshape(sets, 5)
    return rows([[f"{value:.6f}" for value in row] for row in scatter], sensor=name, axis="X", side=side)


@pytest.fixture(scope="module")
def tried() -> Study:
    return study_of(
        *(line for seed, name in enumerate(SPREADS) for line in homings(name, SPREADS[name], seed=seed))
    )


def chosen(study: Study, **prices: float | None) -> Choice:
    return choose(MACHINE, tuple(Sensor(name=name, price=price) for name, price in prices.items()), study)


def of_name(choice: Choice) -> dict[str, Candidate]:
    return {candidate.sensor.name: candidate for candidate in choice.candidates}


@pytest.mark.parametrize("prices", list(permutations((5.0, 10.0, 20.0, 30.0, 40.0)))[::11])
def test_the_cheapest_by_going_through_them(tried: Study, prices: tuple[float, ...]):
    price = dict(zip(SPREADS, prices, strict=True))
    choice = chosen(tried, **price)
    by_name = of_name(choice)
    assert {name for name in SPREADS if by_name[name].verdict == Verdict.HOLDS} == set(HOLD)
    best = None
    for name in HOLD:
        if best is None or price[name] < price[best]:
            best = name
    assert choice.choice == best
    cheaper = [name for name in SPREADS if name not in HOLD and price[name] < price[best]]
    told = choice.reason.removeprefix(f"{best} ({price[best]:.2f}) is the cheapest that holds.").split(". ")
    told = [part.strip(" .") for part in told if part.strip(" .")]
    assert told == [f"{name} ({price[name]:.2f}): {by_name[name].verdict}" for name in cheaper]
    more = sorted((price[name] - price[best], name) for name in HOLD if price[name] > price[best])
    assert [(each.extra, each.sensor) for each in choice.more_money] == more


def test_ratio_by_drawing(tried: Study):
    """Independent draws of both spreads; the quantiles of their ratio."""
    choice = chosen(tried, A=5.0, B=10.0, C=20.0)
    rng = np.random.default_rng(2)
    belief = {name: tried.of(name, "X", "").posterior for name in HOLD}
    for name, to in (("A", "B"), ("B", "A"), ("A", "C"), ("C", "B")):
        draws = [belief[each].quantiles(rng.uniform(size=200_000)) for each in (name, to)]
        low, middle, high = np.quantile(draws[0] / draws[1], [0.025, 0.5, 0.975])
        ratio = ratio_of(choice.comparison, name, to)
        assert (ratio.low, ratio.middle, ratio.high) == pytest.approx((low, middle, high), rel=0.02)
    assert ratio_of(choice.comparison, "A", "Q") is None
    assert ratio_of(None, "A", "B") is None


def test_what_more_money_buys_in_words(tried: Study):
    """Told apart where the whole interval lies on one side of 1, and only there."""
    choice = chosen(tried, C=5.0, B=7.5, A=30.0)
    tight, near = choice.more_money[1], choice.more_money[0]
    times = {name: of_name(choice)[name].tolerance_times for name in HOLD}
    assert tight.sentence == (
        f"A costs 25.00 more: its spread is {tight.ratio.middle:.2g} times that of C "
        f"({tight.ratio.low:.2g} to {tight.ratio.high:.2g}); it would hold {times['A']:.2g} of the tolerance "
        f"asked, C {times['C']:.2g}."
    )
    assert near.sensor == "B"
    assert near.extra == 2.5
    assert ("not told apart" in near.sentence) == (near.ratio.low < 1 < near.ratio.high)
    wider = chosen(tried, A=5.0, C=30.0).more_money[0]
    assert "C costs 25.00 more: its spread is 2." in wider.sentence
    same = study_of(*homings("A", 0.004, seed=1), *homings("B", 0.004, seed=2))
    (alike,) = chosen(same, A=5.0, B=6.0).more_money
    assert alike.sentence.startswith("B costs 1.00 more, and its spread is not told apart from that of A (")


def test_what_is_not_offered(tried: Study):
    """Nothing without a price, nothing that is ruled out, cheaper or as dear, and no ratio where none is known."""
    choice = chosen(tried, A=5.0, B=5.0, C=30.0)
    assert [each.sensor for each in choice.more_money] == ["C"]
    ruled = tuple(replace(candidate, ruled_out=("It is too long.",)) for candidate in choice.candidates)
    assert dearer(ruled, "A", choice.comparison) == ()
    unpriced = chosen(tried, A=None, B=None, C=None)
    assert unpriced.more_money == ()
    assert dearer(choice.candidates, None, choice.comparison) == ()
    bare = tuple(replace(candidate, tolerance_times=None) for candidate in choice.candidates)
    (unknown,) = dearer(bare, "A", None)
    assert unknown.ratio is None
    assert unknown.sentence == "C costs 25.00 more; how its spread compares with that of A is not known."
    assert "of the tolerance" not in dearer(bare, "A", choice.comparison)[0].sentence
    half = (replace(choice.candidates[0], tolerance_times=None), *choice.candidates[1:])
    assert "of the tolerance" not in dearer(half, "A", choice.comparison)[0].sentence


def test_within_where_any_has_seen_a_single_power_up(tried: Study):
    """Then all are compared within a power-up, the same for each."""
    lone = study_of(*homings("A", 0.003, seed=1, sets=1), *homings("B", 0.0045, seed=2))
    sides = {name: Sides.of(lone, name, "X") for name in "AB"}
    comparison, basis = compared(sides)
    assert basis == "within a power-up"
    rng = np.random.default_rng(3)
    draws = [lone.of(name, "X", "").within_posterior.quantiles(rng.uniform(size=200_000)) for name in "AB"]
    ratio = ratio_of(comparison, "A", "B")
    assert ratio.middle == pytest.approx(np.median(draws[0] / draws[1]), rel=0.02)
    assert comparison.ranking.chance_tightest["A"] == pytest.approx(np.mean(draws[0] < draws[1]), abs=0.015)
    both = {name: Sides.of(tried, name, "X") for name in "AB"}
    assert compared(both)[1] == "day to day"
    assert compared({"A": both["A"]}) == (None, "")
    assert compared({"A": both["A"], "Q": Sides.of(tried, "Q", "X")}) == (None, "")


@pytest.mark.parametrize("wide", ["L", "R"])
def test_the_worse_side_is_compared_whichever_it_is(wide: str):
    """A scatters by 3 um on one side and by 9 on the other, B by 4.5: A is the wider one, 9/4.5 of B."""
    sides = {"L": 0.003, "R": 0.003} | {wide: 0.009}
    found = study_of(
        *(line for seed, side in enumerate("LR") for line in homings("A", sides[side], seed=seed, side=side)),
        *homings("B", 0.0045, seed=2),
    )
    comparison, _ = compared({name: Sides.of(found, name, "X") for name in "AB"})
    rng = np.random.default_rng(3)
    belief = {"A": found.of("A", "X", wide).posterior, "B": found.of("B", "X", "").posterior}
    draws = [belief[name].quantiles(rng.uniform(size=200_000)) for name in "AB"]
    ratio = ratio_of(comparison, "A", "B")
    assert ratio.middle == pytest.approx(np.median(draws[0] / draws[1]), rel=0.02)
    assert ratio.middle == pytest.approx(2.0, rel=0.15)
    assert comparison.ranking.chance_tightest["A"] < 0.01


def test_a_ratio_without_a_middle_stays_without(tried: Study):
    """Where a display hides one of the two, only limits are known; turned round they change places."""
    choice = chosen(tried, A=5.0, B=10.0)
    (pair,) = choice.comparison.ranking.ratios
    hidden = replace(pair, ratio=Interval(None, 0.2, 4.0))
    ranking = replace(choice.comparison.ranking, ratios=(hidden,))
    comparison = replace(choice.comparison, ranking=ranking)
    straight, turned = (ratio_of(comparison, *names) for names in ((pair.name, pair.to), (pair.to, pair.name)))
    assert (straight.middle, straight.low, straight.high) == (None, 0.2, 4.0)
    assert (turned.middle, turned.low, turned.high) == (None, 0.25, 5.0)
    assert "is not known" in dearer(choice.candidates, "A", comparison)[0].sentence


def test_as_dear_and_without_a_price(tried: Study):
    """The surest of those as dear, whatever their order; those without a price are named, and not chosen."""
    for order in permutations(HOLD):
        choice = chosen(tried, **dict.fromkeys(order, 10.0), E=5.0)
        others = [name for name in order if name != "A"]
        others = sorted(others, key="BC".index)  # surer first
        assert choice.reason == (
            f"A (10.00) is the cheapest that holds; {others[0]} (10.00) and {others[1]} (10.00) cost the same and "
            "hold less surely. E (5.00): too close to call."
        )
    unpriced = chosen(tried, A=10.0, B=None, C=None)
    assert unpriced.choice == "A"
    assert "B and C hold too, but without a price nobody can say whether they would be cheaper." in unpriced.reason
    assert (
        "B holds too, but without a price nobody can say whether it would be"
        in chosen(tried, A=10.0, B=None, D=1.0).reason
    )


def test_where_none_holds_the_nearest_says_what_would_settle_it(tried: Study):
    choice = chosen(tried, D=1.0, E=2.0)
    open_part = of_name(choice)["E"]
    assert choice.choice is None
    assert choice.reason == (
        f"No candidate holds yet (D (1.00): does not hold; E (2.00): too close to call). For E: "
        f"{open_part.to_settle.sentence}"
    )
    assert choose(MACHINE, (), tried).reason == "No candidate is named yet."
    assert choose(MACHINE, (), tried).choice is None
    nearer = study_of(*homings("E", 0.013, seed=4), *homings("F", 0.0125, seed=4))
    both = chosen(nearer, E=2.0, F=3.0)
    assert of_name(both)["F"].chance_holds > of_name(both)["E"].chance_holds
    assert f" For F: {of_name(both)['F'].to_settle.sentence}" in both.reason
    unseen = study_of(*homings("E", 0.013, seed=4), *homings("F", 0.0125, seed=4, sets=1))
    for order in ("EF", "FE"):  # a chance that is not known is not the nearer one
        assert " For E: " in chosen(unseen, **dict.fromkeys(order, 2.0)).reason


def test_temperature_it_is_valid_for():
    """Least and greatest of the means of the power-ups, those that count; None where none was noted."""
    rng = np.random.default_rng(6)
    degc = rng.uniform(12, 28, (6, 5)).round(2)
    off = rng.normal(0, 0.003, (6, 5))
    lines = [
        f"A,X,{k},{i},{off[k, i]:.5f},{degc[k, i]:.2f}" for k in range(6) for i in range(5) if (k, i) != (2, 3)
    ]
    text = "\n".join(["sensor,axis,set,homing,deviation_mm,temperature_degc", *lines, ""])
    noted = choose(MACHINE, (Sensor(name="A"),), study(read_readings(text))).candidates[0]
    means = [np.mean([degc[k, i] for i in range(5) if (k, i) != (2, 3)]) for k in range(6)]
    assert noted.valid_for_degc == (round(min(means), 1), round(max(means), 1))


def test_no_temperature_noted_is_none(tried: Study):
    assert of_name(chosen(tried, A=1.0))["A"].valid_for_degc is None


@pytest.mark.parametrize(
    ("misses", "says"),
    [
        ((0, 0, 0, 0), "no homing was read."),
        ((0, 5, 0, 0), "none in 5, so fewer than 45 % (95 %)."),  # 1 - 0.05^(1/5) = 0.451
        ((0, 6, 0, 0), "none in 6, so fewer than 1 in 2 (95 %)."),  # 0.393
        ((2, 2, 2, 0), "2 in 2, so up to all of them (95 %); 2 of them landed outside what is asked."),
        ((3, 40, 0, 0), "3 in 40, so up to 1 in 5 (95 %); none of them landed outside what is asked."),  # 0.184
        (
            (3, 40, 1, 2),
            "3 in 40, so up to 1 in 5 (95 %); 1 of them landed outside what is asked, 2 far from all others: find",
        ),
    ],
)
def test_misses_in_words(misses: tuple[int, int, int, int], says: str):
    """The limit by SciPy's beta law, told so that it is not passed."""
    count, n, outside, apart = misses
    high = stats.beta.ppf(0.95, count + 1, n - count) if count < n else 1.0
    told = gross_misses(Misses(count=count, n=n, high_95=high, outside=outside, apart=apart))
    assert plain(told).removesuffix(" the cause first.") == f"Gross misses: {says}"


@pytest.mark.parametrize(
    ("sd", "position_mm", "system", "says"),
    [
        (0.003, 0.05, "metric", "is 3.1 um (95 %: 2.5 to 4.2); 15.2 um is allowed."),
        (0.003, 0.05, "inch", "is 0.12 thou (95 %: 0.10 to 0.16); 0.60 thou is allowed."),  # /25.4 um
        (0.4, 5.0, "metric", "is 0.421 mm (95 %: 0.335 to 0.569); 1.520 mm is allowed."),
        (3.0, 50.0, "inch", "is 0.1237 in (95 %: 0.0990 to 0.1642); 0.5982 in is allowed."),
    ],
)
def test_the_figure_in_one_unit(sd: float, position_mm: float, system: str, says: str):
    """Allowed by hand, a tolerance over 3.2905; the spread as believed, in the unit of the smaller of both."""
    machine = Machine(name="m", requirement=Requirement(position_mm=position_mm), axes=(Axis.of("X"),))
    found = study_of(*homings("A", sd, seed=1 if sd == 0.4 else 0))
    (candidate,) = choose(machine, (Sensor(name="A"),), found, system=system).candidates
    assert plain(candidate.reasons[0]) == f"Position: the spread {says}"


@pytest.mark.parametrize(
    ("sets", "resolution_mm", "says"),
    [
        ([["0.01"]], None, "1 homing cannot show a spread; record at least 10, over several power-ups."),
        (
            [["0.0", "0.0"]],
            None,
            "every homing read the same and the step of the display is not said; say it, ",
        ),
        (
            [["0.0", "0.0"]] * 2,
            None,
            "every homing read the same and the step of the display is not said; say it, ",
        ),
        (
            [["0.00", "0.01"] * 3] * 6,
            0.01,
            "the spread is at most 6.0 um, as far as a display that counts in 10 um can",
        ),
    ],
)
def test_where_no_figure_can_be_had(sets: list[list[str]], resolution_mm: float | None, says: str):
    found = study_of(*rows(sets, sensor="A", axis="X"), resolution_mm=resolution_mm)
    (candidate,) = choose(MACHINE, (Sensor(name="A"),), found).candidates
    assert plain(candidate.reasons[0]).startswith(f"Position: {says}")
    short = [reason for reason in candidate.reasons if " are needed: " in reason and "homing" in reason]
    number = len(sets) * len(sets[0])
    homings_count = "1 homing counts" if number == 1 else f"{number} homings count"
    assert short == [f"{homings_count}, 12 are needed: {12 - number} more."] * (number < 12)


def test_of_two_sides_the_one_read_less_is_named():
    """Of 40 homings in 8 power-ups at the left, and 45 in 9 at the right."""
    gantry = Machine(
        name="g",
        requirement=Requirement(position_mm=0.05),
        axes=(Axis.of("Y", motors=2, drive_distance_mm=980.0),),
    )
    lines = [
        line.replace(",X,", ",Y,")
        for side, sets, seed in (("L", 8, 1), ("R", 9, 2))
        for line in homings("A", 0.0015, seed=seed, sets=sets, side=side)
    ]
    (candidate,) = choose(gantry, (Sensor(name="A"),), study_of(*lines)).candidates
    assert candidate.verdict == Verdict.HOLDS
    line = rests_on(candidate, risk=1e-3, confidence=0.95, against=False)
    assert "these 40 homings" in line
    (told,) = (one for one in reasons(candidate, risk=1e-3) if "power-up that lands elsewhere" in one)
    assert "these 8, even" in told


def test_both_sides_of_one_source_are_counted_as_one():
    counted = [
        MissesElsewhere(sensor="A", axis="Y", side=side, count=count, n=n, source=source)
        for side, count, n, source in (
            ("L", 0, 182, "the watch log"),
            ("R", 1, 181, "the watch log"),
            ("", 0, 9, ""),
        )
    ]
    told = gross_misses(Misses(count=1, n=432, high_95=0.01, outside=0, apart=0, elsewhere=tuple(counted)))
    assert "(1 in 363 from the watch log, 0 in 9 from elsewhere)" in told
