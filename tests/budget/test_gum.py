"""The uncertainty examples of JCGM 100 and JCGM 101."""

from math import hypot, inf, sqrt

import numpy as np
import pytest

from holdzero.compute.budget.gum import DIVISORS, coverage_factor, effective_dof, product_u
from holdzero.compute.budget.monte_carlo import BLOCK, monte_carlo
from printed import printed

NOTHING = np.zeros(0, dtype=np.int64)


class TestEndGauge:
    """JCGM 100, H.1. Contributions in nm with their degrees of freedom."""

    EXPANSION = 1e-6 / DIVISORS["rectangular"] * 0.1 * 50.000623e6
    TEMPERATURE = 0.05 / DIVISORS["rectangular"] * 11.5e-6 * 50.000623e6
    PARTS = ((25, 18), (5.8, 24), (3.9, 5), (6.7, 8), (EXPANSION, 50), (TEMPERATURE, 2))

    def test_contributions_from_half_widths(self):
        expansion, temperature = self.EXPANSION, self.TEMPERATURE
        assert (expansion, temperature) == (printed("2.9"), printed("16.6"))

    def test_combined(self):
        assert hypot(*(u for u, _ in self.PARTS)) == printed("32")
        assert hypot(*(u for u, _ in self.PARTS)) == printed("31.6639")

    def test_effective_degrees_of_freedom(self):
        """The book cuts 16.75 to 16.7, and again to 16 before it looks up t."""
        assert effective_dof(self.PARTS) == printed("16.7519")
        assert effective_dof(self.PARTS) == printed("16.7", 1)

    def test_coverage_factor(self):
        assert coverage_factor(effective_dof(self.PARTS)) == printed("2.12")
        assert coverage_factor(16.7, coverage=0.99) == printed("2.92")
        assert coverage_factor(16.7, coverage=0.99) * 32 == printed("93", units_in_last_place=0.5)

    def test_second_order(self):
        """Half widths 1e-6 and 2e-6 per K, bath 0.2 K with a cycle of 0.5 K, 0.05 K between the gauges."""
        bath = hypot(0.2, 0.5 / DIVISORS["arcsine"])
        length = 50e6
        first = length * product_u(x=0, u_x=1e-6 / sqrt(3), y=0, u_y=bath)
        second = length * product_u(x=0, u_x=2e-6 / sqrt(3), y=0, u_y=0.05 / sqrt(3))
        assert first == printed("11.7")
        assert second == printed("1.7")
        assert hypot(31.6639, first, second) == printed("34")


class TestAdditive:
    """JCGM 101, 9.2. Sums of four inputs with known answers."""

    @staticmethod
    def drawn(block):
        return monte_carlo(lambda: lambda rng: (block(rng)[None], NOTHING), seed=20260301, digits=3).outcomes[0]

    @staticmethod
    def flat(rng, u, *shape):
        return rng.uniform(-u * sqrt(3), u * sqrt(3), shape)

    def test_normal(self):
        """Exact: 2 and 1.959964 x 2."""
        found = self.drawn(lambda rng: rng.standard_normal((4, BLOCK)).sum(axis=0))
        assert found.sd == pytest.approx(2.0, abs=4 * found.sd_error)
        assert found.high == pytest.approx(3.919928, abs=4 * found.high_error)
        assert found.low == pytest.approx(-3.919928, abs=4 * found.low_error)

    def test_rectangular(self):
        """Exact half width √3 (4 − 2 x 0.6^(1/4)) = 3.879407."""
        found = self.drawn(lambda rng: self.flat(rng, 1, 4, BLOCK).sum(axis=0))
        assert found.high == pytest.approx(3.879407, abs=4 * found.high_error)
        assert found.high == printed("3.88", 1)

    def test_one_dominant_rectangle(self):
        """Exact 17.01527; the law of propagation says 1.96 x 10.1489 = 19.9."""
        found = self.drawn(lambda rng: self.flat(rng, 1, 3, BLOCK).sum(axis=0) + self.flat(rng, 10, BLOCK))
        assert found.sd == pytest.approx(sqrt(103), abs=4 * found.sd_error)
        assert found.high == pytest.approx(17.01527, abs=4 * found.high_error)
        assert 1.959964 * sqrt(103) == printed("19.9")

    def test_stops_once_the_digits_stand_still(self):
        coarse, fine = (
            monte_carlo(
                lambda: lambda rng: (2 * rng.standard_normal((1, BLOCK)), NOTHING), seed=20260302, digits=digits
            )
            for digits in (2, 3)
        )
        assert coarse.settled
        assert fine.settled
        assert coarse.n < fine.n
        assert 2 * fine.outcomes[0].high_error <= 0.005


class TestComparisonLoss:
    """JCGM 101, 9.4. x1² + x2², each N(0, 0.005): nowhere near normal, exponential with mean 50e-6."""

    def test_shortest_interval(self):
        def block(rng):
            return (rng.normal(0, 0.005, (2, BLOCK)) ** 2).sum(axis=0)[None] * 1e6, NOTHING

        found = monte_carlo(lambda: block, seed=20260303).outcomes[0]
        assert found.mean == pytest.approx(50, abs=4 * found.mean_error)
        assert found.sd == pytest.approx(50, abs=4 * found.sd_error)
        assert found.shortest_low == pytest.approx(0, abs=0.1)
        assert found.shortest_high == pytest.approx(149.787, rel=0.01)  # -50 ln 0.05


@pytest.mark.parametrize(
    ("distribution", "u"), [("rectangular", "0.577350"), ("triangular", "0.408248"), ("arcsine", "0.707107")]
)
def test_divisors(distribution, u):
    """JCGM 100, 4.3.7 and 4.3.9; JCGM 101, 6.4: half width 1."""
    assert 1 / DIVISORS[distribution] == printed(u)


def test_everything_known_well_has_endless_degrees_of_freedom():
    assert effective_dof([(1.0, inf), (2.0, inf)]) == inf
    assert coverage_factor(inf) == printed("1.959964")
