"""Protocols: docs/methods.md, section 5."""

import numpy as np
import pytest

from holdzero.compute.spread import alternation_p, positions, spread, wrong_protocol
from holdzero.compute.spread.protocol import _as_declared
from holdzero.inputs.reading.values import Protocol
from rates import rate

TWO_SETS = ["1", "1", "1", "2", "2"]


class TestPositions:
    """What the display showed, turned into where the machine stood."""

    READ = (0.002, -0.001, 0.003, 0.0, 0.004)

    @pytest.mark.parametrize("protocol", [Protocol.OUTSIDE, Protocol.ENCODER])
    def test_as_read(self, protocol):
        found = positions(self.READ, protocol=protocol, sets=TWO_SETS)
        assert found.value.tolist() == list(self.READ)
        assert found.reading.tolist() == [0, 1, 2, 3, 4]

    def test_first_adds_the_zeroing_homing_where_the_file_has_none(self):
        """Set 1 lacks it; set 2 starts with an exact 0, so that is it."""
        found = positions(self.READ, protocol=Protocol.FIRST, sets=TWO_SETS)
        assert [one.tolist() for one in found.by_set()] == [[0, 0.002, -0.001, 0.003], [0, 0.004]]
        assert found.reading.tolist() == [-1, 0, 1, 2, 3, 4]
        assert found.set_label.tolist() == ["1", "1", "1", "1", "2", "2"]

    def test_previous_is_a_running_sum_from_zero(self):
        found = positions(self.READ, protocol=Protocol.PREVIOUS, sets=TWO_SETS)
        first, second = found.by_set()
        assert first == pytest.approx([0, 0.002, 0.001, 0.004])
        assert second == pytest.approx([0, 0, 0.004])
        assert found.reading.tolist() == [-1, 0, 1, 2, -1, 3, 4]

    def test_a_button_loses_nothing(self):
        """Counts subtracted one from the next and summed again are the counts."""
        counts = np.rint(2 * np.random.default_rng(1).normal(size=30))
        found = positions(np.diff(counts), protocol=Protocol.PREVIOUS, sets=np.full(29, "1"))
        assert found.value.tolist() == (counts - counts[0]).tolist()
        assert spread(found.value, resolution=1).sigma == pytest.approx(spread(counts, resolution=1).sigma)

    def test_sets_that_alternate_in_the_file(self):
        found = positions([1.0, 10.0, 2.0, 20.0], protocol=Protocol.FIRST, sets=["b", "a", "b", "a"])
        assert [one.tolist() for one in found.by_set()] == [[0, 1, 2], [0, 10, 20]]
        assert found.reading.tolist() == [-1, 0, 2, -1, 1, 3]

    def test_nothing_read(self):
        assert positions([], protocol=Protocol.FIRST, sets=[]).by_set() == ()

    def test_differences_rounded_one_by_one_have_none(self):
        with pytest.raises(ValueError, match="spread_of_differences"):
            positions(self.READ, protocol=Protocol.PREVIOUS_RESET, sets=TWO_SETS)


def series(n: int, coarseness: float, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """One trial of n readings, read against the first homing, from outside, and each against the one before."""
    homings = rng.standard_normal(n + 1)
    read = {
        "first": homings[1:] - homings[0],
        "outside": homings[1:] + rng.uniform(-1, 1),
        "differences": np.diff(homings),
        "drifting": homings[1:] + 2 * np.linspace(0, 1, n),
    }
    return read if coarseness == 0 else {way: np.rint(x / coarseness) * coarseness for way, x in read.items()}


def shares(n: int, coarseness: float, *, trials: int, seed: int) -> dict[str, float]:
    """Shares of trials in which the statistic passes its thresholds."""
    rng = np.random.default_rng(seed)
    told = dict.fromkeys(
        ("false first", "false outside", "false drifting", "power", "false absolute", "power absolute"), 0
    )
    for _ in range(trials):
        delta = {
            way: wrong_protocol([x], declared=Protocol.OUTSIDE, resolution=coarseness).delta
            for way, x in series(n, coarseness, rng).items()
        }
        told["false first"] += delta["first"] > 2
        told["false outside"] += delta["outside"] > 2
        told["false drifting"] += delta["drifting"] > 2
        told["power"] += delta["differences"] > 2
        told["false absolute"] += delta["differences"] < -3
        told["power absolute"] += delta["first"] < -3
    return {name: number / trials for name, number in told.items()}


# (n, r/s): called differences though first-zeroed, though outside, and power; called deviations, and power.
# 6000 trials each.
PUBLISHED = {
    (8, 0): (0.0075, 0.0102, 0.381, 0.0080, 0.777),
    (8, 1): (0.0108, 0.0155, 0.312, 0.0077, 0.715),
    (8, 2): (0.0134, 0.0222, 0.240, 0.0079, 0.607),
    (11, 0): (0.0083, 0.0125, 0.620, 0.0042, 0.876),
    (11, 1): (0.0098, 0.0153, 0.527, 0.0065, 0.821),
    (11, 2): (0.0121, 0.0137, 0.346, 0.0095, 0.691),
    (19, 0): (0.0040, 0.0047, 0.900, 0.0017, 0.971),
    (19, 1): (0.0075, 0.0078, 0.799, 0.0033, 0.932),
    (19, 2): (0.0087, 0.0098, 0.567, 0.0057, 0.814),
    (29, 0): (0.0010, 0.0013, 0.977, 0.0007, 0.995),
    (29, 1): (0.0027, 0.0027, 0.923, 0.0023, 0.973),
    (29, 2): (0.0053, 0.0068, 0.758, 0.0042, 0.888),
    (59, 0): (0.0002, 0.0000, 0.999, 0.0000, 1.000),
    (59, 1): (0.0000, 0.0007, 0.996, 0.0005, 0.998),
    (59, 2): (0.0022, 0.0028, 0.957, 0.0008, 0.975),
}


def agree(found: dict[str, float], published: tuple[float, ...], trials: int) -> None:
    names = ("false first", "false outside", "power", "false absolute", "power absolute")
    for name, expected in zip(names, published, strict=True):
        assert found[name] == rate(expected, trials=trials, published=6000), name
    assert found["false drifting"] <= 0.001 + 4 * np.sqrt(0.001 / trials)


class TestDrawnAsDeclared:
    """Draws that the chance of a wrong protocol is counted by: what each way of reading does to 40 homings.

    Scatter s and a display of step r: positions have variance s² + r²/12. The sum of differences of counts is that
    of two readings, 2 s² + r²/6; where each of m differences was rounded by itself it is 2 s² + m r²/12.
    """

    S, R, N = 1.0, 0.8, 40

    def drawn(self, declared: Protocol) -> list[np.ndarray]:
        homings = [self.S * np.random.default_rng(seed).standard_normal(self.N + 1) for seed in (1, 2)]
        read = [np.diff(x) if declared in (Protocol.PREVIOUS, Protocol.PREVIOUS_RESET) else x[1:] for x in homings]
        rounded = [np.rint(x / self.R) * self.R for x in read]
        return _as_declared(rounded, declared, self.R)

    @pytest.mark.parametrize(("declared", "extra"), [(Protocol.PREVIOUS, 2), (Protocol.PREVIOUS_RESET, 40)])
    def test_differences(self, declared: Protocol, extra: int):
        sets = self.drawn(declared)
        assert [x.shape[1] for x in sets] == [self.N, self.N]
        for x in sets:
            assert x / self.R == pytest.approx(np.rint(x / self.R))
            alone = x.var() - self.R**2 / 12 * (2 if declared is Protocol.PREVIOUS else 1)
            assert alone == pytest.approx(2 * self.S**2, rel=0.3)  # the scatter is told from 80 differences
            assert x.sum(axis=1).var() == pytest.approx(alone + extra * self.R**2 / 12, rel=0.15)

    def test_positions(self):
        """They scatter, rounding and all, as the 80 readings do about their two means, -8 and 8 steps."""
        read = [
            np.rint(np.random.default_rng(seed).standard_normal(self.N) / self.R + zero) * self.R
            for seed, zero in ((1, -8), (2, 8))
        ]
        sets = _as_declared(read, Protocol.OUTSIDE, self.R)
        told = np.mean([x.var(axis=1, ddof=1).mean() for x in sets])
        assert told == pytest.approx(np.mean([x.var(ddof=1) for x in read]), rel=0.02)
        both = np.concatenate(sets, axis=1)
        assert np.abs(np.corrcoef(both[:, 0], both[:, -1])[0, 1]) < 0.15


class TestWrongProtocol:
    """docs/methods.md 5: false alarms and power of the two thresholds."""

    @pytest.mark.parametrize(("n", "coarseness"), [(11, 0), (19, 2)])
    def test_rates(self, n, coarseness):
        agree(shares(n, coarseness, trials=150, seed=55), PUBLISHED[n, coarseness], 150)

    @pytest.mark.checks
    @pytest.mark.parametrize(("n", "coarseness"), PUBLISHED)
    def test_rates_in_full(self, n, coarseness):
        agree(shares(n, coarseness, trials=2000, seed=55), PUBLISHED[n, coarseness], 2000)

    def test_sets_add_up(self):
        """Eight sets of five at r = 2 s, by simulation here: false at most .002 and .01, power about .9."""
        rng = np.random.default_rng(56)
        false = power = 0
        for _ in range(100):
            trial = [series(5, 2, rng) for _ in range(8)]
            first, differences = ([one[way] for one in trial] for way in ("first", "differences"))
            false += wrong_protocol(first, declared=Protocol.FIRST, resolution=2).looks_like is not None
            false += wrong_protocol(differences, declared=Protocol.PREVIOUS, resolution=2).looks_like is not None
            power += wrong_protocol(differences, declared=Protocol.FIRST, resolution=2).looks_like == "differences"
        assert false / 200 <= 0.01 + 4 * np.sqrt(0.01 / 200)
        assert power / 100 == rate(0.88, trials=100)

    def test_resolution_has_to_be_told(self):
        """Leave r out and honest coarse series are accused: 78 % at 59 readings, r = 2 s."""
        rng = np.random.default_rng(57)
        accused = 0
        for _ in range(60):
            differences = series(59, 2, rng)["differences"]
            accused += wrong_protocol([differences], declared=Protocol.PREVIOUS_RESET, resolution=0).delta < -3
        assert accused / 60 > 0.5

    def test_two_places_are_not_called_differences(self):
        """Homings that alternate between two places look like differences; alternation is tested first."""
        rng = np.random.default_rng(58)
        readings = 2 * np.resize([1.0, -1.0], 24) + rng.standard_normal(24)
        found = wrong_protocol([readings], declared=Protocol.OUTSIDE, resolution=0)
        assert found.alternation_p < 0.01
        assert found.looks_like is None

    @pytest.mark.parametrize(
        ("declared", "way", "verdict"),
        [
            (Protocol.OUTSIDE, "differences", "differences"),
            (Protocol.FIRST, "first", None),
            (Protocol.PREVIOUS, "first", "deviations"),
            (Protocol.PREVIOUS_RESET, "differences", None),
        ],
    )
    def test_verdict(self, declared, way, verdict):
        readings = series(40, 0.5, np.random.default_rng(59))[way]
        assert wrong_protocol([readings], declared=declared, resolution=0.5).looks_like == verdict

    def test_the_chance_is_a_rank_among_as_many_as_are_drawn(self):
        """A series and 999 like it, each looked at by itself: so many of the 1000 look as much like it."""
        ranks = []
        for seed in range(150):
            read = series(8, 1, np.random.default_rng(seed))["differences" if seed % 4 else "outside"]
            found = wrong_protocol([read], declared=Protocol.OUTSIDE, resolution=1)
            if 2 < found.delta < 4 and found.alternation_p >= 0.01:
                ranks.append((found.p, found.delta, read))
        alone = {p: (delta, read) for p, delta, read in ranks}
        assert len(alone) > 3
        for p in (min(alone), max(alone)):
            delta, read = alone[p]
            (drawn,) = _as_declared([read], Protocol.OUTSIDE, 1)
            others = [wrong_protocol([one], declared=Protocol.OUTSIDE, resolution=1).delta for one in drawn]
            assert p == pytest.approx((1 + sum(other >= delta for other in others)) / 1000, rel=1e-9)

    @pytest.mark.parametrize(
        ("declared", "way"), [(Protocol.OUTSIDE, "differences"), (Protocol.PREVIOUS, "outside")]
    )
    def test_the_chance_is_never_below_one_in_the_thousand(self, declared, way):
        """Nothing drawn looks like it, and where that is beyond doubt nothing is drawn: 1 of 1000 either way."""
        found = [
            wrong_protocol([series(n, 0.5, np.random.default_rng(60))[way]], declared=declared, resolution=0.5)
            for n in (16, 20, 24, 30, 200)
        ]
        close = [one for one in found if 5 < abs(one.delta) < 10]
        assert close
        assert abs(found[-1].delta) > 10
        assert min(one.p for one in close) == pytest.approx(0.001, rel=1e-9)
        assert found[-1].p == pytest.approx(0.001, rel=1e-9)

    def test_no_scatter_no_doubt(self):
        assert wrong_protocol([[0.1, 0.1, 0.1]], declared=Protocol.FIRST, resolution=0.01).looks_like is None


class TestAlternation:
    """Two-sample t of odd against even homings."""

    def test_one_set_is_the_t_test(self):
        """scipy.stats.ttest_ind([1.1, 1.4, 0.9, 1.6], [2.0, 2.3, 1.7]) gives p 0.0239184."""
        readings = [1.1, 2.0, 1.4, 2.3, 0.9, 1.7, 1.6]
        assert alternation_p([readings]) == pytest.approx(0.0239184, abs=5e-8)

    def test_set_means_do_not_count(self):
        readings = np.random.default_rng(4).normal(size=(3, 7))
        moved = readings + np.array([[0.0], [5.0], [-9.0]])
        assert alternation_p(list(moved)) == pytest.approx(alternation_p(list(readings)))

    def test_too_few_to_tell(self):
        assert alternation_p([[0.0, 1.0]]) == 1
