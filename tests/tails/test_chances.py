"""The chances of a gantry: figures of the simulation study, second routes, and what must change nothing."""

import numpy as np
import pytest
from scipy import integrate, stats

from holdzero.compute.tails.belief import Belief
from holdzero.compute.tails.chances import PLACES, Asked, Chances, chances, pooled
from holdzero.compute.tails.components import BY_HOMING, GANTRY, ONE_SERIES, posterior
from holdzero.compute.tails.sets import Sets
from holdzero.compute.tails.share import Nodes, table
from holdzero.compute.tails.student import upper_tail

Side = list[np.ndarray]


def gantry(
    left: Side, right: Side, limit: float, *, step: float = 0.0, share: list[float] | None = None
) -> Chances:
    """Judge both ends by `limit` and squareness by 1.35 of it, at 1 in 1000."""
    apart = [b - a for a, b in zip(left, right, strict=True)]
    sides = [Sets.of(side, resolution=step) for side in (left, right)]
    difference = Sets.of(apart, resolution=step * 2**0.5)
    beliefs = [Belief.of(one) for one in sides]
    return chances(
        [Asked.of(Nodes.of(one), ((limit, 1),)) for one in beliefs],
        Asked.of(Nodes.of(Belief.of(difference)), ((1.35 * limit, 1),)),
        evidence=pooled([one.log_evidence for one in beliefs]),
        prior=GANTRY,
        risk=1e-3,
        coarse=any(one.coarse for one in sides),
    )


def both_sides(rng, sets: int, each: int, between: float, *, step: float = 0.0, run: int = 0, law=None):
    law = law or rng.standard_normal
    sides = []
    for _ in range(2):
        side = [law(each) + between * rng.standard_normal() for _ in range(sets)]
        side += [law(run) + between * rng.standard_normal()] if run else []
        sides.append([np.round(one / step) * step for one in side] if step else side)
    return sides


class TestFiguresOfTheStudy:
    """The same readings through the program of the study, which sums over 512 random pairs: simulated, so .01.

    Columns: sets, homings each, between, step, homings in a run, limit; then regular, heavy, three times the risk.
    """

    CASES = (
        ((8, 5, 0.5, 0.0, 0), 6.4, (0.961, 0.890, 0.940), 3, "unknown"),
        ((12, 3, 0.0, 0.0, 0), 5.2, (0.938, 0.870, 0.939), 3, "unknown"),
        ((8, 5, 0.0, 1.0, 0), 5.6, (0.984, 0.817, 0.817), 1, "unknown"),
        ((8, 5, 0.5, 3.0, 0), 9.0, (0.986, 0.943, 0.943), 1, "unknown"),
        ((8, 5, 0.0, 0.0, 100), 5.3, (0.998, 0.985, 0.997), 3, "unknown"),
    )
    EVIDENCE = (  # of the left side, log, less that of the normal law
        (0, -0.13, -0.28, -0.43, -0.65, -0.86, -1.24, -0.74, -1.49, -2.39),
        (0, 0.04, 0.0, -0.06, -0.2, -0.34, -0.63, -0.6, -1.29, -2.25),
        (0, 0.05, 0.0, -0.09, -0.29, -0.52, -0.97, -0.74, -1.52, -2.47),
        (0, 0.1, 0.19, 0.24, 0.29, 0.31, 0.29),
        (0, 0.2, -0.03, -0.45, -1.23, -2.08, -3.73, -0.85, -1.75, -2.75),
    )

    def test_all(self):
        rng = np.random.default_rng(20261101)
        for (layout, limit, expected, times, tails), evidence in zip(self.CASES, self.EVIDENCE, strict=True):
            sets, each, between, step, run = layout
            left, right = both_sides(rng, sets, each, between, step=step, run=run)
            got = gantry(left, right, limit, step=step)
            assert (got.regular, got.heavy, got.wide) == pytest.approx(expected, abs=0.01)
            assert (got.times, got.tails) == (times, tails)
            logs = Belief.of(Sets.of(left, resolution=step)).log_evidence
            assert (logs - logs[0])[: len(evidence)] == pytest.approx(evidence, abs=0.02)

    def test_heavy_tails_that_show(self):
        """Student's t with 3 degrees of freedom: log evidence 5.56 for it, and the asked risk is asked."""
        rng = np.random.default_rng(20261101)
        for layout, *_ in self.CASES:
            sets, each, between, step, run = layout
            both_sides(rng, sets, each, between, step=step, run=run)
        left, right = both_sides(rng, 8, 5, 0.0, law=lambda n: rng.standard_t(3, n))
        got = gantry(left, right, 12.0)
        assert (got.regular, got.heavy, got.wide) == pytest.approx((1.0, 0.586, 0.586), abs=0.01)
        assert got.times == 1
        logs = Belief.of(Sets.of(left, resolution=0)).log_evidence
        assert (logs - logs[0])[:7] == pytest.approx([0, 1.47, 2.74, 3.61, 4.47, 5.01, 5.56], abs=0.02)


class TestSecondRoutes:
    """SciPy, quadrature, brute force, drawing."""

    def test_tail_against_scipy(self):
        t = np.linspace(0, 30, 200)
        for nu in BY_HOMING[1:]:
            assert upper_tail(t, nu) == pytest.approx(stats.t.sf(t, nu), rel=1e-9, abs=1e-15)

    @pytest.mark.parametrize(
        ("row", "part", "limit"), [(6, 0.3, 8.0), (4, 0.65, 4.1), (2, 0.9, 3.0), (0, 0.5, 2.4)]
    )
    def test_share_by_quadrature(self, row: int, part: float, limit: float):
        """P(|s t + b z| > A) by SciPy's quadrature over z; between the nodes of the table, so 3 %."""
        nu, s, b = BY_HOMING[row], 1 - part, part
        law = stats.norm if row == 0 else stats.t(nu)

        def outside(z: float) -> float:
            return stats.norm.pdf(z) * (law.sf((limit - b * z) / s) + law.cdf((-limit - b * z) / s))

        exact = integrate.quad(outside, -9, 9, points=[-limit, 0, limit], limit=200)[0]
        one = Belief(np.full((7, 1), s), np.array([b]), np.zeros((7, 1, 1)))
        assert np.exp(Nodes.of(one).log_share(limit)[row]) == pytest.approx(exact, rel=0.03)

    @pytest.mark.parametrize("j", [1, 8, 20, 30, 37])
    def test_table_by_a_finer_rule(self, j: int):
        """4001 points each, by the same rule: no entry is coarser than 1e-9."""
        part, z = j / 40, np.linspace(-7, 7, 4001)
        limit = 0.25 * 240 ** (np.arange(82) / 59)
        weight = np.exp(-0.5 * z * z) * (z[1] - z[0]) / np.sqrt(2 * np.pi)
        away = (limit[:, None] - part * z) / (1 - part)
        for row, nu in enumerate(BY_HOMING[1:], start=1):
            assert np.exp(table()[row, j]) == pytest.approx(2 * upper_tail(away, nu) @ weight, abs=1e-9, rel=0)

    def test_table_is_made_once(self):
        assert table() is table()

    @pytest.mark.parametrize("row", [0, 4, 6])
    def test_evidence_by_brute_force(self, row: int):
        """Two power-ups of three: the same prior, integrated over scale, spread between and both levels."""
        sets = [np.array([0.1, -0.7, 0.4]), np.array([1.9, 1.1, 0.6])]
        nu = BY_HOMING[row]
        law = stats.norm if row == 0 else stats.t(nu)
        belief = Belief.of(Sets.of(sets, resolution=0))
        levels = np.linspace(-16, 17, 1101)
        step = levels[1] - levels[0]
        # Each level normal about a common mean, which may be anywhere: their difference has the spread b √2.
        weight = np.exp(belief.log_weight[row] - belief.log_weight[row].max())
        checked = []
        for g, b in ((10, 20), (12, 25), (9, 30), (14, 22)):
            s, between = belief.scale[row, g], belief.between[b]
            chance = [np.prod([law.pdf((x - levels) / s) / s for x in values], axis=0) for values in sets]
            gap = levels[:, None] - levels[None, :]
            together = stats.norm.pdf(gap, scale=between * 2**0.5)
            total = float(chance[0] @ together @ chance[1]) * step**2
            mean_variance = np.mean([self.variance(one, levels) for one in chance])
            checked.append(total / (between**2 + mean_variance) * between * (between ** (2 / 3)))
            checked[-1] /= weight[g, b]
        assert checked == pytest.approx([checked[0]] * 4, rel=0.03)

    @staticmethod
    def variance(chance: np.ndarray, levels: np.ndarray) -> float:
        weight = chance / chance.sum()
        mean = float(weight @ levels)
        return float(weight @ (levels - mean) ** 2)

    def test_sum_of_shares_by_drawing(self):
        """200 000 random draws of the three shares instead of the lattice, at the chances verdicts turn on."""
        rng = np.random.default_rng(4)
        left, right = both_sides(rng, 8, 5, 0.5)
        got = gantry(left, right, 6.4)
        beliefs = [Belief.of(Sets.of(side, resolution=0)) for side in (left, right)]
        apart = Belief.of(Sets.of([b - a for a, b in zip(left, right, strict=True)], resolution=0))
        weight = posterior(pooled([one.log_evidence for one in beliefs]), GANTRY)
        shares = [
            Nodes.of(one).quantiles(((limit, 1),), PLACES)
            for one, limit in ((beliefs[0], 6.4), (beliefs[1], 6.4), (apart, 1.35 * 6.4))
        ]
        drawn = sum(one[:, rng.integers(0, PLACES.size, 200_000)] for one in shares)
        assert got.regular == pytest.approx((drawn[0] <= 1e-3).mean(), abs=0.004)
        assert got.wide == pytest.approx(weight @ (drawn <= got.times * 1e-3).mean(axis=1), abs=0.004)


class TestWhatChangesNothing:
    """Sides exchanged, sign, a constant, the order of homings, other units: no chance moves by more than .001."""

    RNG = np.random.default_rng(11)
    LEFT, RIGHT = both_sides(RNG, 8, 5, 0.5)

    def same(self, left: Side, right: Side, limit: float = 6.4, step: float = 0.0) -> None:
        before = gantry(*([np.round(x, 3) for x in side] for side in (self.LEFT, self.RIGHT)), 6.4, step=step)
        after = gantry(left, right, limit, step=step)
        for name in ("regular", "heavy", "wide", "share_outside"):
            assert getattr(after, name) == pytest.approx(getattr(before, name), abs=0.001), name
        assert (after.times, after.tails) == (before.times, before.tails)

    @pytest.fixture(params=[0.0, 0.001])
    def step(self, request) -> float:
        return request.param

    @pytest.fixture
    def sides(self) -> tuple[Side, Side]:
        return tuple([np.round(x, 3) for x in side] for side in (self.LEFT, self.RIGHT))

    def test_sides_exchanged(self, sides, step):
        self.same(sides[1], sides[0], step=step)

    def test_sign(self, sides, step):
        self.same([-x for x in sides[0]], [-x for x in sides[1]], step=step)

    def test_a_constant(self, sides, step):
        self.same([x + 137.25 for x in sides[0]], [x - 20.5 for x in sides[1]], step=step)

    def test_order_within_and_between_power_ups(self, sides, step):
        rng = np.random.default_rng(1)
        within, among = [rng.permutation(5) for _ in range(8)], rng.permutation(8)
        self.same(*([side[i][within[i]] for i in among] for side in sides), step=step)

    def test_other_units(self, sides):
        self.same(*([1000 * x for x in side] for side in sides), limit=6400.0)


class TestEdges:
    """Few homings, coarse displays, single homings, runs."""

    def test_nothing_to_judge_by(self):
        assert Sets.of([np.zeros(5)] * 8, resolution=0) is None
        assert Sets.of([np.array([1.0])], resolution=0.1) is None

    def test_one_homing_a_power_up_is_one_set(self):
        sets = Sets.of([np.array([x]) for x in (1.0, 2.0, 4.0, 0.5)], resolution=0)
        assert [one.size for one in sets.values] == [4]
        assert Belief.of(sets).between.tolist() == [0.0]

    def test_all_alike_is_hardly_evidence(self):
        """A display that shows one count says next to nothing of tails."""
        logs = Belief.of(Sets.of([np.zeros(5)] * 8, resolution=1.0)).log_evidence
        assert logs.size == 7
        assert np.ptp(logs) < 1.5

    def test_mixed_sizes_with_single_homings(self):
        rng = np.random.default_rng(4)
        sets = [rng.standard_normal(n) for n in (5, 5, 1, 1, 3, 5, 5, 5)]
        assert np.isfinite(Belief.of(Sets.of(sets, resolution=0)).log_evidence).all()

    def test_one_homing_thirty_away_is_heavy(self):
        rng = np.random.default_rng(3)
        left, right = both_sides(rng, 8, 5, 0.5)
        left[3][2] += 30
        assert gantry(left, right, 30.0).tails == "heavy"

    def test_uneven_power_ups_show(self):
        rng = np.random.default_rng(8)
        wide = np.array([1, 1, 6, 1, 0.3, 1, 8, 0.3] * 2)
        left, right = ([w * rng.standard_normal(8) for w in wide] for _ in range(2))
        assert gantry(left, right, 40.0).uneven

    def test_a_run_that_hangs_together_counts_less(self):
        """200 homings of which each counts for a tenth say as much as 20 independent ones, about."""
        rng = np.random.default_rng(2)
        run = rng.standard_normal(200)
        short = [rng.standard_normal(5) for _ in range(8)]
        whole, less = (
            Belief.of(Sets.of([*short, run], resolution=0, share=[1] * 8 + [f])).log_evidence for f in (1.0, 0.1)
        )
        alone = Belief.of(Sets.of(short, resolution=0)).log_evidence
        assert abs((less - less[0])[6] - (alone - alone[0])[6]) < abs(
            (whole - whole[0])[6] - (alone - alone[0])[6]
        )

    def test_one_series_alone(self):
        rng = np.random.default_rng(2)
        belief = Belief.of(Sets.of([rng.standard_normal(5) for _ in range(8)], resolution=0))
        got = chances(
            [Asked.of(Nodes.of(belief), ((6.0, 1),))],
            None,
            evidence=belief.log_evidence,
            prior=ONE_SERIES,
            risk=1e-3,
        )
        assert 0.5 < got.heavy <= got.wide < got.regular < 1

    def test_only_squareness(self):
        rng = np.random.default_rng(2)
        left, right = both_sides(rng, 8, 5, 0.0)
        beliefs = [Belief.of(Sets.of(side, resolution=0)) for side in (left, right)]
        apart = Belief.of(Sets.of([b - a for a, b in zip(left, right, strict=True)], resolution=0))
        got = chances(
            [],
            Asked.of(Nodes.of(apart), ((7.5, 1),)),
            evidence=pooled([one.log_evidence for one in beliefs]),
            prior=GANTRY,
            risk=1e-3,
        )
        assert 0.5 < got.wide < 1
