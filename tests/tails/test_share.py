"""Shares outside, their quantiles and their sums: held against SciPy's quadrature and against sums by hand."""

import numpy as np
import pytest
from scipy import integrate, stats

from holdzero.compute.tails.belief import Belief
from holdzero.compute.tails.chances import PLACES, Asked, chances, pooled
from holdzero.compute.tails.components import BY_HOMING, GANTRY, ONE_SERIES
from holdzero.compute.tails.floors import enough
from holdzero.compute.tails.share import Nodes, table


def outside(nu, *, s, b, limit):
    """P(|s t + b z| > limit) by SciPy's quadrature over z."""
    law = stats.norm if nu == np.inf else stats.t(nu)
    if s == 0:
        return 2 * stats.norm.sf(limit / b)

    def height(z):
        return stats.norm.pdf(z) * (law.sf((limit - b * z) / s) + law.sf((limit + b * z) / s))

    if b == 0:
        return 2 * law.sf(limit / s)
    points = [0, *(sign * limit / b for sign in (-1, 1) if limit / b < 9)]
    return integrate.quad(height, -9, 9, points=points, limit=200, epsabs=1e-13)[0]


@pytest.mark.parametrize("row", [0, 1, 2, 6])
@pytest.mark.parametrize("part", [0, 1, 7, 20, 33, 40])
@pytest.mark.parametrize("place", [0, 17, 40])
def test_the_table_at_its_nodes(row, part, place):
    """b/(s + b) in fortieths; A/(s + b) from 1/4 on, 59 steps to 60."""
    b, limit = part / 40, 0.25 * 240 ** (place / 59)
    exact = outside(BY_HOMING[row], s=1 - b, b=b, limit=limit)
    assert np.exp(table()[row, part, place]) == pytest.approx(exact, abs=2e-7)


@pytest.mark.parametrize(("component", "nu"), [(0, np.inf), (4, 5.0), (7, 10.0), (9, 3.0)])
@pytest.mark.parametrize(("s", "b"), [(2.0, 0.0), (0.9, 1.1), (0.5, 2.5), (1e-6, 2.0)])
def test_a_share_is_read_off_for_each_law_and_width(component, nu, s, b):
    """Those by power-up have the tails of those by homing; at 2.5 and 4.1 widths, to 5 %."""
    weight = np.full((10, 1, 1), -np.inf)
    weight[component] = 0.0
    with np.errstate(invalid="ignore"):
        nodes = Nodes.of(Belief(np.full((10, 1), s), np.array([b]), weight))
    for widths in (2.5, 4.1):
        limit = widths * np.hypot(s, b)
        told = np.exp(nodes.log_share(limit))
        assert told.tolist() == [pytest.approx(outside(nu, s=s, b=b, limit=limit), rel=0.05)]


def nodes_of(*widths, weights):
    """Scales of a normal law, no spread between; each weighs so much."""
    log_weight = np.full((7, len(widths), 1), -1e4)
    log_weight[0, :, 0] = np.log(weights)
    return Nodes.of(Belief(np.tile(np.array(widths), (7, 1)), np.zeros(1), log_weight))


class TestQuantiles:
    """The law of a share that lies at so many nodes."""

    STEP = 240 ** (1 / 59)  # of the table, so that nothing is read off between its nodes
    WIDTHS, WEIGHTS = (1.0, STEP**2, STEP**-2), (2.0, 1.0, 1.0)
    LIMIT, NEARER = 0.25 * STEP**27, 0.25 * STEP**23

    def shares(self, limit):
        return [2 * stats.norm.sf(limit / width) for width in (self.STEP**-2, 1.0, self.STEP**2)]

    def test_each_node_stands_at_the_middle_of_its_weight(self):
        """Of 4: 0 to 1, 1 to 3, 3 to 4; between their middles even in the logarithm, beyond the ends flat."""
        low, middle, high = self.shares(self.LIMIT)
        places = np.array([0.01, 1 / 8, (1 / 8 + 1 / 2) / 2, 1 / 2, 7 / 8, 0.99])
        told = nodes_of(*self.WIDTHS, weights=self.WEIGHTS).quantiles(((self.LIMIT, 1),), places)[0]
        assert told == pytest.approx([low, low, np.sqrt(low * middle), middle, high, high], rel=1e-9)

    @pytest.mark.parametrize("times", [1, 2, 0.5])
    def test_several_limits_and_times(self, times):
        shares = np.array(self.shares(self.LIMIT))
        nodes, places = nodes_of(*self.WIDTHS, weights=self.WEIGHTS), np.array([1 / 8, 1 / 2, 7 / 8])
        assert nodes.quantiles(((self.LIMIT, times),), places)[0] == pytest.approx(times * shares, rel=1e-9)
        more = nodes.quantiles(((self.LIMIT, times), (self.NEARER, 3)), places)[0]
        assert more == pytest.approx(times * shares + 3 * np.array(self.shares(self.NEARER)), rel=1e-9)

    def test_what_weighs_less_than_a_ten_millionth_counts_for_nothing(self):
        few = nodes_of(1.0, 3.0, weights=(1.0, 9e-8)).quantiles(((3.0, 1),), np.array([0.5, 1 - 1e-12]))[0]
        assert few[1] == few[0]
        some = nodes_of(1.0, 3.0, weights=(1.0, 2e-7)).quantiles(((3.0, 1),), np.array([0.5, 1 - 1e-12]))[0]
        assert some[1] == pytest.approx(2 * stats.norm.sf(1.0), rel=0.02)


def asked_of(*rows):
    """Shares that are the same at every place, a row a component."""
    return Asked(np.repeat(np.array(rows, float)[:, None], PLACES.size, axis=1))


class TestSums:
    """Chances from shares that are known."""

    EVEN = np.zeros(7)

    def test_components_that_keep_the_risk_are_added_by_their_chance(self):
        """1/2 for the normal law and 1/12 for each other: four of the seven stay within the risk of 1/1000."""
        told = chances(
            [asked_of(0.0009, 0.0009, 0.0011, 0.0009, 0.0029, 0.0031, 0.0009)],
            None,
            evidence=self.EVEN,
            prior=ONE_SERIES,
            risk=1e-3,
        )
        assert (told.times, told.seen, told.coarse) == (1, True, False)  # heavy: 4 laws of 1/12
        assert told.heavy == told.wide == pytest.approx(1 / 2 + 3 / 12)
        assert told.regular == pytest.approx(1 - 0.5 / 1021)  # more the lattice cannot tell
        assert told.share_outside == pytest.approx(0.0009 * 3 / 4 + (0.0011 + 0.0029 + 0.0031) / 12)

    def test_three_times_the_risk_where_no_heavy_tails_are_seen(self):
        evidence = np.log([1, 1, 1, 0.1, 0.1, 0.1, 0.1])  # 0.5 + 2/12 against 0.4/12 of heavy ones
        told = chances(
            [asked_of(0.0029, 0.0031, *[0.0009] * 5)], None, evidence=evidence, prior=ONE_SERIES, risk=1e-3
        )
        assert (told.times, told.seen, told.tails) == (3, False, "unknown")
        whole = 0.5 + 2 / 12 + 0.4 / 12
        assert told.heavy == pytest.approx((1 / 12 + 0.4 / 12) / whole)
        assert told.wide == pytest.approx(1 - 1 / 12 / whole)
        assert told.regular == 0
        coarse = chances(
            [asked_of(0.0029, 0.0031, *[0.0009] * 5)],
            None,
            evidence=evidence,
            prior=ONE_SERIES,
            risk=1e-3,
            coarse=True,
        )
        assert (coarse.times, coarse.coarse) == (1, True)

    def test_what_breaks_anything_is_the_sum_of_all(self):
        one, two, difference = (asked_of(*[share] * 7) for share in (3e-4, 4e-4, 2.9e-4))
        for sides, squareness, kept in (
            ([one, two], None, 1),
            ([one, two], difference, 1),
            ([one, one, two], None, 1),
        ):
            told = chances(sides, squareness, evidence=self.EVEN, prior=GANTRY, risk=1e-3)
            assert told.regular == pytest.approx(kept, abs=1e-3)
        worse = chances([one, two], asked_of(*[3.1e-4] * 7), evidence=self.EVEN, prior=GANTRY, risk=1e-3)
        assert (worse.regular, worse.share_outside) == (0, pytest.approx(1.01e-3))
        none = chances([asked_of(*[0.0] * 7)] * 2, None, evidence=self.EVEN, prior=GANTRY, risk=1e-3)
        assert none.regular == none.heavy == none.wide == pytest.approx(1 - 0.5 / 1021)
        sure = chances([asked_of(*[0.9] * 7)] * 2, None, evidence=self.EVEN, prior=GANTRY, risk=1e-3)
        assert sure.share_outside == 1  # no more than all

    @pytest.mark.parametrize("squareness", [True, False])
    def test_shares_are_added_as_if_independent_and_sides_in_either_order(self, squareness):
        """Even between 0 and 1 each: below 0.7 in sum by chance 0.7^2/2 of two, 0.7^3/6 of three."""
        even = Asked(np.tile(PLACES, (7, 1)))
        skew = Asked(np.tile(PLACES**2, (7, 1)))
        told = chances([even, even], even if squareness else None, evidence=self.EVEN, prior=GANTRY, risk=0.7)
        assert told.regular == pytest.approx(0.7**3 / 6 if squareness else 0.7**2 / 2, abs=0.004)
        pair = [
            chances(sides, even if squareness else None, evidence=self.EVEN, prior=GANTRY, risk=0.7)
            for sides in ([even, skew], [skew, even])
        ]
        assert pair[0] == pair[1]

    def test_power_ups_of_uneven_width_are_said_from_four_fifths_on(self):
        """Prior 1/6 by power-up against 5/6: evidence 20 or 19.9 times as high makes 0.8 or 0.799."""
        for times, said in ((20.001, True), (19.9, False)):
            evidence = np.append(np.zeros(7), np.full(3, np.log(times)))
            told = chances([asked_of(*[1e-4] * 10)], None, evidence=evidence, prior=ONE_SERIES, risk=1e-3)
            assert told.uneven is said


def test_evidence_of_two_series_is_added_over_what_both_can_show():
    assert pooled([np.arange(10.0), np.arange(10.0) * 2]).tolist() == (np.arange(10) * 3.0).tolist()
    for pair in ([np.arange(10.0), np.ones(7)], [np.ones(7), np.arange(10.0)]):
        assert pooled(pair).tolist() == (np.arange(7) + 1.0).tolist()


@pytest.mark.parametrize(("power_ups", "homings", "told"), [(4, 12, True), (3, 12, False), (4, 11, False)])
def test_four_power_ups_and_twelve_homings_are_enough(power_ups, homings, told):
    assert enough(power_ups=power_ups, homings=homings) is told
