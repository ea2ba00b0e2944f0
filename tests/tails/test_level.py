"""What one power-up says under each law: held against the integral over its level, summed as it stands."""

from functools import partial

import numpy as np
import pytest
from scipy import stats

from holdzero.compute.tails import components
from holdzero.compute.tails.belief import Belief, tails_of
from holdzero.compute.tails.components import BY_HOMING, BY_POWER_UP, Prior, posterior
from holdzero.compute.tails.level import levels_by_homing, levels_by_power_up
from holdzero.compute.tails.sets import Sets
from holdzero.compute.tails.student import log_height

RNG = np.random.default_rng(3)
ONE, TWO, FIVE, SIX, RUN = (RNG.normal(0, 1, n) for n in (1, 2, 5, 6, 30))


def law_of(nu):
    return stats.norm if nu == np.inf else stats.t(nu)


def over_level(log_density, values, s, share=1.0):
    """Log of the integral over the level, its mean and variance, of the density of homings less the level."""
    level = np.linspace(values.min() - 40 * s, values.max() + 40 * s, 2001)
    logs = share * log_density(values[:, None] - level).sum(axis=0)
    weight = np.exp(logs - logs.max())
    weight /= (total := weight.sum())
    mean = float(weight @ level)
    return logs.max() + np.log(total * (level[1] - level[0])), mean, float(weight @ (level - mean) ** 2)


@pytest.mark.parametrize("row", range(7))
@pytest.mark.parametrize(
    ("homings", "share"),
    [((ONE, SIX), (1, 1)), ((TWO, FIVE), (1, 1)), ((SIX, RUN + 2), (1, 0.4))],
    ids=["1 and 6", "2 and 5", "6 and a run of 30"],
)
@pytest.mark.parametrize("s", [0.5, 2.0])
def test_by_homing_it_is_the_integral_over_the_level(row, homings, share, s):
    sets = Sets.of(homings, resolution=0, share=share)
    told = levels_by_homing(sets, np.full((7, 1), s))
    law = law_of(BY_HOMING[row])
    parts = [
        over_level(lambda away: law.logpdf(away / s) - np.log(s), values, s, each)
        for values, each in zip(sets.values, share, strict=True)
    ]
    evidence, mean, variance = np.array(parts).T
    assert told.log_evidence[row, 0] == pytest.approx(evidence.sum(), abs=5e-3)
    assert told.mean[row, 0] == pytest.approx(mean, abs=2e-3 * s)
    assert told.variance[row, 0] == pytest.approx(variance, rel=0.06)  # of one or two the tails reach far


def chance_of_count(law, r, s, away):
    """Log of the chance that a homing is shown as this count."""
    far = np.abs(away / s)
    return np.log(np.maximum(law.sf(far - r / 2 / s) - law.sf(far + r / 2 / s), 1e-300))


@pytest.mark.parametrize("row", range(7))
@pytest.mark.parametrize(("r", "within"), [(0.3, 0.02), (1.0, 1e-4), (3.0, 1e-4)])
def test_of_a_display_it_is_the_chance_of_the_counts(row, r, within):
    """Exact where the step is over half the scatter; below, rounding as a variance is within a fiftieth of it."""
    rng = np.random.default_rng(5)
    sets = Sets.of([np.round(rng.normal(at, 1, 8) / r) * r for at in (0, 3)], resolution=r)
    told = levels_by_homing(sets, np.full((7, 1), 0.8))
    log_density = partial(chance_of_count, law_of(BY_HOMING[row]), r, 0.8)
    evidence, mean, variance = np.array([over_level(log_density, values, 0.8) for values in sets.values]).T
    assert told.log_evidence[row, 0] == pytest.approx(evidence.sum(), abs=within)
    assert told.mean[row, 0] == pytest.approx(mean, abs=within)
    assert told.variance[row, 0] == pytest.approx(variance, rel=max(within, 2e-3))


@pytest.mark.parametrize(("r", "s"), [(1.0, 0.8), (0.5, 0.45)])
def test_a_count_of_less_than_a_billionth_has_the_density_times_the_step(r, s):
    """Sixty homings on two counts and one 14 away, for 20 degrees of freedom: SciPy's chance of the counts."""
    sets = Sets.of([r * np.array([*[0.0] * 30, *[1.0] * 30, 14])], resolution=r)
    told = levels_by_homing(sets, np.full((7, 1), s))
    log_density = partial(chance_of_count, law_of(20), r, s)
    assert np.exp(log_density(np.array([13.5 * r]))) < 1e-9
    evidence, mean, variance = over_level(log_density, sets.values[0], s)
    assert told.log_evidence[1, 0] == pytest.approx(evidence, abs=0.1)
    assert told.mean[1, 0, 0] == pytest.approx(mean, abs=1e-3)
    assert told.variance[1, 0, 0] == pytest.approx(variance, rel=1e-2)


@pytest.mark.parametrize("r", [0.0, 0.3])
@pytest.mark.parametrize("row", range(3))
def test_by_power_up_it_is_the_integral_of_the_multivariate_law(row, r):
    """SciPy's multivariate t: all homings of a power-up share a width; rounding is a variance of r^2/12."""
    sets, nu = Sets.of([FIVE, TWO + 1], resolution=r), BY_POWER_UP[row]
    told = levels_by_power_up(sets, np.full((3, 1), 0.8))
    logs = 0.0
    for i, values in enumerate(sets.values):
        level = np.linspace(values.min() - 200, values.max() + 200, 60001)
        law = stats.multivariate_t(shape=(0.8**2 + r**2 / 12) * np.eye(values.size), df=nu)
        height = law.pdf((values[:, None] - level).T) * (r**values.size if r else 1.0)
        weight = height / height.sum()
        logs += np.log(height.sum() * (level[1] - level[0]))
        assert told.mean[row, 0, i] == pytest.approx(weight @ level, abs=1e-6)
        assert told.variance[row, 0, i] == pytest.approx(weight @ (level - weight @ level) ** 2, rel=1e-3)
    assert told.log_evidence[row, 0] == pytest.approx(logs, abs=1e-4)


@pytest.mark.parametrize("r", [0.0, 0.02, 1.5])
def test_evidence_of_one_power_up_is_summed_over_every_scale(r):
    """Over scales of a twentieth to ninety times the scatter, prior 1/(s + r), by SciPy: nothing is cut off."""
    values = np.round(FIVE / r) * r if r else FIVE
    sets = Sets.of([values], resolution=r)
    logs = Belief.of(sets).log_evidence
    scale = np.exp(np.linspace(np.log(sets.within) - 3, np.log(sets.within) + 4.5, 31))
    for row in (0, 3, 6):
        law = law_of(BY_HOMING[row])
        log_density = (
            (lambda away, s, law=law: chance_of_count(law, r, s, away))
            if r
            else (lambda away, s, law=law: law.logpdf(away / s) - np.log(s))
        )
        parts = [over_level(partial(log_density, s=s), sets.values[0], s)[0] for s in scale]
        total = np.log((np.exp(parts) * scale / (scale + r)).sum() * np.log(scale[1] / scale[0]))
        assert logs[row] == pytest.approx(total, abs=0.03)


@pytest.mark.parametrize("sizes", [(5, 5), (2, 3, 4), (5, 1, 5, 3), (3,) * 5, (5,) * 8])
@pytest.mark.parametrize("between", [0.0, 3.0])
def test_evidence_of_several_power_ups_is_summed_over_every_spread_between_them(sizes, between):
    """The normal law in closed form, priors 1/s and b/(b^2 + mean variance of the levels), over nine decades of b.

    Two power-ups leave a tail as 1/b: a few in a hundred of it lie beyond what is looked at.
    """
    rng = np.random.default_rng(sum(sizes))
    values = [rng.normal(between * rng.normal(), 1, n) for n in sizes]
    n, mean = np.array(sizes), np.array([one.mean() for one in values])
    squares = sum(((one - one.mean()) ** 2).sum() for one in values)
    step = 0.1
    log_s, log_b = np.arange(-3, 4, step)[:, None], np.arange(-12, 9, step)
    s, b = np.exp(log_s), np.exp(log_b)
    logs = -(n.sum() - n.size) * (log_s + np.log(2 * np.pi) / 2) - np.log(n).sum() / 2 - squares / (2 * s**2)
    u = 1 / (b[..., None] ** 2 + s[..., None] ** 2 / n)
    middle = (u * mean).sum(axis=-1) / u.sum(axis=-1)
    logs = logs + 0.5 * (np.log(u).sum(axis=-1) - np.log(u.sum(axis=-1)))
    logs -= 0.5 * (u * (mean - middle[..., None]) ** 2).sum(axis=-1)
    logs += 2 * log_b - np.log(b**2 + (s[..., None] ** 2 / n).mean(axis=-1))
    total = logs.max() + np.log(np.exp(logs - logs.max()).sum() * step**2)
    assert Belief.of(Sets.of(values, resolution=0)).log_evidence[0] == pytest.approx(total, abs=0.04)


@pytest.mark.parametrize("r", [0.0, 0.02])
def test_each_homing_twice_for_a_half_is_each_once(r):
    """What a run counts for: of the same homings twice, each for a half, nothing more is believed."""
    once = [FIVE, SIX + 1, RUN]
    twice = [FIVE, SIX + 1, np.repeat(RUN, 2)]
    told = [
        Belief.of(Sets.of(sets, resolution=r, share=share)).log_evidence
        for sets, share in ((once, [1, 1, 1]), (twice, [1, 1, 0.5]))
    ]
    assert told[1] - told[1][0] == pytest.approx(told[0] - told[0][0], abs=2e-3)


def test_where_levels_lie_is_free():
    """Two levels of two power-ups each: one of them 50 away changes nothing; on one level it would."""
    sets = [FIVE, FIVE[::-1] * 1.3 + 0.4, SIX, SIX * 0.7 - 0.5]
    moved = [*sets[:2], sets[2] + 50, sets[3] + 50]
    near, far = (
        Belief.of(Sets.of(each, resolution=0, levels=[4, 4, 9, 9])).log_evidence for each in (sets, moved)
    )
    assert far == pytest.approx(near, abs=1e-6)
    assert Belief.of(Sets.of(moved, resolution=0)).log_evidence.max() < near.max() - 5


@pytest.mark.parametrize("nu", BY_HOMING)
def test_height_of_each_law_at_its_middle(nu):
    assert log_height(nu) == pytest.approx(float(law_of(nu).logpdf(0)), abs=1e-12)


class TestPriors:
    """docs/methods.md, section 13."""

    def test_laws_and_what_is_called_heavy(self):
        assert list(components.BY_HOMING) == [np.inf, 20, 10, 7, 5, 4, 3]
        assert list(components.BY_POWER_UP) == [10, 5, 3]
        names = {nu: tails_of(np.where(np.array(BY_HOMING) == nu, 1.0, 0.0)) for nu in BY_HOMING}
        assert [nu for nu, name in names.items() if name == "regular"] == [np.inf, 20]
        assert [nu for nu, name in names.items() if name == "heavy"] == [7, 5, 4, 3]
        assert names[10] == "unknown"
        for regular, name in ((0.9001, "regular"), (0.8999, "unknown"), (0.1001, "unknown"), (0.0999, "heavy")):
            assert tails_of(np.array([regular, 0, 0, 0, 0, 0, 1 - regular])) == name

    @pytest.mark.parametrize(
        ("name", "normal", "homing", "power_up"),
        [("GANTRY", 3 / 4, 1 / 36, 1 / 36), ("ONE_SERIES", 0.5, 1 / 18, 1 / 18)],
    )
    def test_alike_within_a_kind(self, name, normal, homing, power_up):
        prior: Prior = getattr(components, name)
        assert prior.weights(by_power_up=True).tolist() == pytest.approx([normal] + [homing] * 6 + [power_up] * 3)
        assert prior.weights(by_power_up=False).tolist() == pytest.approx([normal] + [(1 - normal) / 6] * 6)

    def test_bayes(self):
        """Evidence 12 times as high for the fifth law as for every other one."""
        logs = np.full(7, -1000.0)
        logs[4] += np.log(12)
        chance = posterior(logs, Prior(0.4, 0.5, 0.1))
        assert chance.tolist() == pytest.approx([0.4 / 2.1, *[0.1 / 2.1] * 3, 1.2 / 2.1, *[0.1 / 2.1] * 2])
        assert posterior(np.zeros(10), Prior(0.4, 0.5, 0.1)).tolist() == pytest.approx(
            [0.4, *[0.5 / 6] * 6, *[0.1 / 3] * 3]
        )


class TestSets:
    """How the homings of a series are laid out."""

    def test_by_hand(self):
        """Squares 5 about 1.5 and 2 about 11: 4 degrees of freedom; a homing of the second counts for a half."""
        sets = Sets.of([[3, 0, 1, 2], [], [12, 10]], resolution=0, share=[1, 7, 0.5], levels=[3, 8, 5])
        origin = (1.5 + 11) / 2
        assert [(values + origin).tolist() for values in sets.values] == [[0, 1, 2, 3], [10, 12]]
        assert (sets.mean + origin).tolist() == (sets.middle + origin).tolist() == [1.5, 11]
        assert (sets.squares.tolist(), sets.share.tolist(), sets.level.tolist()) == ([5, 2], [1, 0.5], [3, 5])
        assert (sets.size.tolist(), sets.freedom, sets.freedom_between) == ([4, 1], 3, 0)
        assert sets.within == pytest.approx(np.sqrt((5 + 1) / 3))

    @pytest.mark.parametrize(("r", "within"), [(0.6, np.sqrt(7 / 4 - 0.03)), (40.0, 10.0)])
    def test_what_rounding_adds_is_taken_out_down_to_a_quarter_of_a_step(self, r, within):
        sets = Sets.of([[0, 1, 2, 3], [10, 12]], resolution=r)
        assert sets.within == pytest.approx(within)

    @pytest.mark.parametrize(("r", "coarse"), [(1.7, False), (1.85, True)])
    def test_a_step_of_one_and_a_half_scatters_is_coarse(self, r, coarse):
        """Scatter sqrt(7/4 - 1.7^2/12) = 1.2285 is 1/1.38 of the step, sqrt(7/4 - 1.85^2/12) = 1.2103 1/1.53."""
        assert Sets.of([[0, 1, 2, 3], [10, 12]], resolution=r).coarse is coarse

    def test_spread_of_means_about_their_levels(self):
        """Means 0 and 2 on one level, 10, 13 and 16 on another: (2 + 18)/(5 - 2)."""
        sets = Sets.of([[m - 1, m + 1] for m in (0, 10, 2, 13, 16)], resolution=0, levels=[1, 2, 1, 2, 2])
        assert sets.freedom_between == 3
        assert sets.spread_of_means == pytest.approx(np.sqrt(20 / 3))

    def test_one_homing_has_a_freedom_of_one_at_least(self):
        assert Sets.of([[0.0], [1.0, 2.0]], resolution=0, share=[1, 0.5]).freedom == 1.0

    @pytest.mark.parametrize(
        ("values", "resolution", "kept"),
        [
            ([[0.0, 1.0]], 0, [2]),  # two homings are enough
            ([[0.0], [1.0]], 0, [2]),
            ([[0.5, 0.5], [1.0, 1.0], [3.0]], 0, [3]),  # alike within each: the levels are one set
            ([[0.5, 0.5], [1.0, 1.0], [3.0]], 0.5, [2, 2, 1]),  # the display hides what they scatter
            ([[0.5, 0.6], [1.0, 1.0], [3.0]], 0, [2, 2, 1]),
            ([[0.5, 0.5]], 0.5, [2]),
            ([[0.5, 0.5]], 0, None),
            ([[0.5, 0.5], [0.5, 0.5]], 0, None),
            ([[0.5], []], 0.5, None),
            ([[], []], 0.5, None),
        ],
    )
    def test_what_can_be_judged_by(self, values, resolution, kept):
        sets = Sets.of(values, resolution=resolution)
        assert (None if sets is None else [one.size for one in sets.values]) == kept

    def test_single_homings_are_one_set_on_each_level(self):
        sets = Sets.of([[1.0], [7.0], [2.0], [9.0], [4.0]], resolution=0, levels=[6, 2, 6, 2, 6])
        spans = [np.ptp(values) for values in sets.values]
        assert (spans, sets.level.tolist(), sets.share.tolist()) == ([2.0, 3.0], [2, 6], [1.0, 1.0])
