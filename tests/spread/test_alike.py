"""All alike: docs/methods.md section 2."""

from statistics import NormalDist

import numpy as np
import pytest

from holdzero.compute.spread import chance_all_alike, hidden_spread, spread_of_sets
from holdzero.compute.spread.alike import hidden_spread_of_sets
from holdzero.errors import InputError, TooFewReadings
from printed import printed


@pytest.mark.parametrize("n", [2, 5])
def test_a_very_fine_display_costs_no_memory(n):
    """The sum over counts runs into the integral of the density to the power n, alike where they meet."""
    below, above = (chance_all_alike(n, spread=s, resolution=1.0) for s in (999.99, 1000.01))
    assert above / below == pytest.approx((999.99 / 1000.01) ** (n - 1), rel=1e-6)
    assert 0 < chance_all_alike(n, spread=1.0, resolution=1e-9) < 1e-8


class TestBound:
    """docs/methods.md 2: largest spread that n homings all alike can hide, in steps."""

    @pytest.mark.parametrize(
        ("n", "bound"),
        [
            (2, "5.635"),
            (3, "1.324"),
            (4, ".822"),
            (5, ".666"),
            (6, ".5856"),
            (8, ".495"),
            (10, ".4428"),
            (12, ".4085"),
            (20, ".3380"),
            (30, ".2995"),
            (100, ".2297"),
        ],
    )
    def test_figures(self, n, bound):
        assert hidden_spread(n, resolution=1) == printed(bound)

    @pytest.mark.parametrize("n", [6, 10, 30, 1000])
    def test_closed_form_from_six_on(self, n):
        """r/2 over the normal quantile of (1 + 0.05^(1/n))/2, the mean in the middle of its step."""
        closed = 0.5 / NormalDist().inv_cdf((1 + 0.05 ** (1 / n)) / 2)
        assert hidden_spread(n, resolution=1) == pytest.approx(closed, rel=5e-4)

    def test_chance_is_the_inverse(self):
        assert chance_all_alike(
            7, spread=hidden_spread(7, resolution=0.001, risk=0.2), resolution=0.001
        ) == pytest.approx(0.2)

    def test_scales_with_the_display(self):
        assert hidden_spread(10, resolution=0.002) == pytest.approx(2 * hidden_spread(10, resolution=0.001))

    def test_no_spread_is_always_alike(self):
        assert chance_all_alike(10, spread=0, resolution=0.001) == 1

    @pytest.mark.parametrize("n", [2, 3, 10])
    def test_agrees_with_simulated_rounding(self, n):
        """Another way: roll the dice at the bound, the mean at its worst place and elsewhere."""
        sigma = hidden_spread(n, resolution=1)
        rng = np.random.default_rng(20260101)
        worst = 0.48 if n == 2 else 0.0
        alike = {}
        for mean in (worst, 0.25):
            counts = np.floor(mean + sigma * rng.standard_normal((200_000, n)) + 0.5)
            alike[mean] = (counts == counts[:, :1]).all(axis=1).mean()
        assert alike[worst] == pytest.approx(0.05, abs=0.002)  # four standard errors of the simulation
        assert alike[0.25] <= 0.052

    def test_sets_alike_within_whatever_count_each_shows(self):
        """By simulation: three sets of four, at the bound for the scatter within, each alike in its own count."""
        sigma = hidden_spread_of_sets((4, 4, 4), resolution=1)
        rng = np.random.default_rng(20260102)
        counts = np.rint(sigma * rng.standard_normal((100_000, 3, 4)))
        alike = (counts == counts[:, :, :1]).all(axis=(1, 2)).mean()
        assert alike == pytest.approx(0.05, abs=0.003)

    def test_one_homing_is_always_alike(self):
        with pytest.raises(TooFewReadings, match="found 1 homing"):
            hidden_spread(1, resolution=0.001)

    def test_no_resolution(self):
        with pytest.raises(InputError, match="found 10 readings all alike and no resolution"):
            chance_all_alike(10, spread=0.001, resolution=0)


class TestPowerUpsAllAlike:
    """docs/methods.md 2: several sets all alike bound the day-to-day spread by the number of power-ups only."""

    @pytest.mark.parametrize(
        ("k", "n", "bound"), [(3, 12, "1.324"), (5, 6, ".666"), (8, 4, ".495"), (12, 3, ".408")]
    )
    def test_bound(self, k, n, bound):
        found = spread_of_sets(np.full((k, n), 0.35), resolution=1)
        assert found.total.middle is None
        assert (found.total.low, found.total.high) == (0, printed(bound, units_in_last_place=0.6))
        assert (found.all_alike, found.alike_power_ups) == (True, k)
        assert found.between == found.total
        assert found.within.high <= found.total.high

    def test_scatter_within_is_bounded_by_what_the_sets_hide(self):
        """A test and not a belief, as with one set; eight sets of four hide .294 r (simulated above for 3 x 4)."""
        found = spread_of_sets(np.full((8, 4), 0.35), resolution=1)
        assert found.within.high == pytest.approx(hidden_spread_of_sets([4] * 8, resolution=1))
        assert found.within.high == printed(".294")
        assert found.within.high > found.within_posterior.quantile(0.975)

    def test_sets_all_alike_in_counts_of_their_own(self):
        counts = np.repeat([[0], [3], [1], [7], [4]], 6, axis=1)
        found = spread_of_sets(counts, resolution=1)
        assert found.within.middle is None
        assert found.within.high == pytest.approx(hidden_spread_of_sets([6] * 5, resolution=1))
        assert found.total.middle is not None

    @pytest.mark.parametrize(("k", "n", "most"), [(3, 12, 0.044), (5, 6, 0.047), (8, 4, 0.047)])
    def test_holds_for_any_share_of_power_up_scatter(self, k, n, most):
        """At that bound all alike is seen at most so often, however the total is split."""
        total = hidden_spread(k, resolution=1)
        rng = np.random.default_rng(13)
        for ratio in (3, 10, 100):
            within = total / np.hypot(1, ratio)
            places = ratio * within * rng.standard_normal((30_000, k, 1))
            counts = np.rint(places + within * rng.standard_normal((30_000, k, n))).reshape(30_000, -1)
            alike = (counts == counts[:, :1]).all(axis=1).mean()
            assert alike <= most + 0.005  # four standard errors
