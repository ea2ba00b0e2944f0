"""Lattice: homings that land on steps (methods, Signatures)."""

import numpy as np
import pytest

from holdzero.compute.signature.draw import Drawn
from holdzero.compute.signature.lattice import lattices, resultant
from rates import rate

STEP = {"full step": 1.0}


def test_drawn_series_scatter_between_sets_by_what_the_set_means_do_not_owe_to_scatter_within():
    """By hand: deviations -2 .. 2 have variance 10/4, a mean of five 0.5; of 1.5 that leaves 1, of 0.5 nothing."""
    label, within = np.repeat(np.arange(8), 5), np.tile([-2.0, -1, 0, 1, 2], 8)
    for of_means, between in ((1.5, 1.0), (0.5, 0.0)):
        means = np.repeat([-1, 1] * 4, 5) * (of_means * 7 / 8) ** 0.5
        assert Drawn.like(within + means, label, resolution=0).between == pytest.approx(between, abs=1e-7)


def rounded(x, r):
    return np.rint(x / r) * r if r else x


def flagged(trials, sizes, *, spread, r, on_steps, between=0.0, seed=6):
    rng = np.random.default_rng(seed)
    label = np.repeat(np.arange(len(sizes)), sizes)
    found = []
    for _ in range(trials):
        x = spread * (rng.standard_normal(label.size) + between * rng.standard_normal(len(sizes))[label])
        if on_steps:
            x = np.rint(rng.uniform(-0.5, 0.5) + x) + 0.07 * rng.standard_normal(label.size)
        found.append(bool(lattices(rounded(rng.uniform(-0.5, 0.5) + x, r), label, STEP, resolution=r)))
    return np.mean(found)


def test_resultant_by_hand():
    """Quarter and three quarters of a step cancel; on the step they add."""
    assert resultant(np.array([0.25, 0.75]), 1) == pytest.approx(0, abs=1e-12)
    assert resultant(np.array([-2.0, 0, 5]), 1) == pytest.approx(1)
    assert resultant(np.array([0.0, 0.25]), 1) == pytest.approx(np.sqrt(0.5))


class TestFalseAlarms:
    """Scatter without steps."""

    @pytest.mark.parametrize(
        ("sizes", "between"), [([12], 0), ([36], 0), ([5] * 8, 0), ([5] * 8, 1), ([5] * 8, 3), ([12] * 3, 1)]
    )
    @pytest.mark.parametrize("spread", [0.3, 1])
    def test_at_one_percent(self, sizes, between, spread):
        """Power-ups far apart beside the scatter are no lattice either."""
        found = flagged(80, sizes, spread=spread, r=0.25, on_steps=False, between=between)
        assert found <= 0.018 + 4 * np.sqrt(0.018 / 80)

    @pytest.mark.checks
    @pytest.mark.parametrize("sizes", [[12], [36], [5] * 8])
    @pytest.mark.parametrize("r", [0, 0.1, 0.25, 0.4, 0.5])
    @pytest.mark.parametrize("spread", [0.3, 0.6, 1, 2])
    def test_full(self, sizes, r, spread):
        assert flagged(600, sizes, spread=spread, r=r, on_steps=False, between=1) <= 0.018 + 4 * np.sqrt(
            0.018 / 600
        )

    def test_a_few_far_homings_make_no_lattice_of_the_rest(self):
        """Scatter of a tenth of a step and three homings 1.2 steps off, displaced alike."""
        rng = np.random.default_rng(2)
        found = []
        for _ in range(60):
            x = 0.1 * rng.standard_normal(36)
            apart = tuple(rng.choice(36, 3, replace=False).tolist())
            x[list(apart)] += 1.2
            found.append(bool(lattices(x, np.zeros(36), STEP, resolution=0, apart=apart)))
        assert np.mean(found) <= 0.05


class TestPower:
    """Jitter 0.07 steps; 250 trials behind each figure (homings that stand apart not yet taken out)."""

    ROWS = ((12, 0, 0.6, 1.0), (12, 0.25, 0.6, 0.996), (12, 0.4, 0.6, 0.82), (36, 0, 1, 1.0), (36, 0.5, 1, 0.796))

    @pytest.mark.parametrize(("n", "r", "spread", "published"), ROWS)
    def test_one_set(self, n, r, spread, published):
        assert flagged(80, [n], spread=spread, r=r, on_steps=True) == rate(published, trials=80, published=250)

    def test_power_ups(self):
        assert flagged(40, [5] * 8, spread=0.6, r=0.25, on_steps=True, between=1) >= 0.95


class TestWhichStep:
    """A motor of 200 full steps and 16 microsteps on a lead of 10 mm."""

    rng = np.random.default_rng(4)
    STEPS = {"microstep": 0.003125, "full step": 0.05, "electrical cycle": 0.2, "index pitch": 10.0}  # noqa: RUF012

    def found(self, values, resolution=0.001, apart=()):
        return lattices(values, np.zeros(values.size), self.STEPS, resolution=resolution, apart=apart)

    def scatter(self, n=36):
        return 0.001 * self.rng.standard_normal(n)

    def test_full_step(self):
        (one,) = self.found(0.05 * self.rng.integers(-2, 3, 36) + self.scatter())
        assert (one.code, one.lowers) == ("lattice-full-step", "")
        assert "50" in one.sentence

    def test_the_longest_is_named(self):
        """On cycles of 0.2 mm every homing is on full steps of 0.05 mm too."""
        (one,) = self.found(0.2 * self.rng.integers(-2, 3, 36) + self.scatter())
        assert (one.code, one.lowers) == ("lattice-electrical-cycle", "caps")

    def test_a_turn_off_now_and_then(self):
        """Four of 36 homings one or two index pitches away: the rest sees no lattice, these four do."""
        values = self.scatter()
        values[[3, 11, 20, 31]] += [10, -10, 10, 20]
        (one,) = self.found(values, apart=(31, 3, 11, 20))
        assert (one.code, one.lowers) == ("lattice-index-pitch", "caps")
        assert "stand apart" in one.sentence

    def test_display_too_coarse_to_see_it(self):
        """0.05 mm cannot be seen on a display of 0.03 mm."""
        values = rounded(0.05 * self.rng.integers(-2, 3, 36) + self.scatter(), 0.03)
        assert lattices(values, np.zeros(36), {"full step": 0.05}, resolution=0.03) == ()


def test_a_homing_apart_that_is_alone_in_its_set_is_left_out():
    """Found by trying: it has no level to be apart from."""
    values, sets = np.append(np.arange(12) % 3 * 0.001, 1.0), np.append(np.zeros(12), 1.0)
    found = lattices(values, sets, STEP, resolution=0.001, apart=[12])
    assert found == lattices(values[:12], sets[:12], {}, resolution=0.001)


def test_shifted_and_turned_round():
    rng = np.random.default_rng(8)
    values = np.rint(rng.standard_normal(36)) + 0.05 * rng.standard_normal(36)
    (plain,) = lattices(values, np.zeros(36), STEP, resolution=0)
    (other,) = lattices(0.3 - 4 * values[::-1], np.zeros(36), {"full step": 4.0}, resolution=0)
    assert other.statistic == pytest.approx(plain.statistic)
