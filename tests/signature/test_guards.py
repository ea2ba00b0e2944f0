"""Guards: what lowers a verdict at once, and how often it does so for no reason (methods, Verdict)."""

import numpy as np
import pytest

from holdzero.compute.shape import plot_positions, shape
from holdzero.compute.signature.guards import not_steady, odd_shape, outlying
from holdzero.compute.steady.steadiness import steadiness
from rates import rate

LABEL = np.repeat(["1", "2", "3"], 12)


def guards(values, sets, *, resolution, system="metric"):
    """What lowers a verdict at once, as `signatures` brings it together."""
    scatter = shape(values, sets, resolution=resolution)
    time = steadiness(values, sets, apart=scatter.outliers.places)
    return not_steady(time, sets, system) + odd_shape(scatter) + outlying(scatter, values, sets, system)


def fired(values, label=LABEL, *, resolution=0.0):
    return {one.code: one for one in guards(values, label, resolution=resolution)}


def quiet(seed=3, n=36):
    """Normal scores in a shuffled order, 5 um: as regular as scatter can be."""
    return 0.005 * np.random.default_rng(seed).permutation(plot_positions(n))


class TestNotSteady:
    """Drift and steps cap the verdict."""

    def test_warm_up(self):
        found = fired(quiet() + 0.05 * np.exp(-np.tile(np.arange(12), 3) / 2))["not-steady"]
        assert found.lowers == "caps"
        assert "discard the first" in found.sentence
        assert "warm" in found.causes[0]

    def test_step(self):
        found = fired(quiet() + 0.05 * (np.arange(36) >= 19))["not-steady"]
        assert "homing 8 of set 2" in found.sentence
        assert "witness marks" in found.check

    def test_inches_for_those_who_think_in_them(self):
        found = guards(quiet() + 0.05 * (np.arange(36) >= 19), LABEL, resolution=0, system="inch")
        assert "thou" in found[0].sentence
        assert "mm" not in found[0].sentence


class TestRemarks:
    """Shape and outliers are said and lower nothing by themselves."""

    def test_a_homing_that_stands_apart(self):
        values = quiet()
        values[15] += 0.08
        found = fired(values)["outlying"]
        assert found.lowers == ""
        assert "homing 4 of set 2" in found.sentence
        assert found.statistic > found.threshold

    def test_two_humps(self):
        found = fired(quiet() + 0.03 * (np.arange(36) % 2))["shape"]
        assert found.lowers == ""
        assert found.threshold == 0.752


def test_quiet_homings_raise_nothing():
    assert fired(quiet()) == {}


@pytest.mark.parametrize("values", [[0.2], [0.2, 0.3], [0.2] * 12, [0.0, 0.0, 0.001]])
def test_few_or_alike_raise_nothing(values):
    assert guards(np.array(values), np.zeros(len(values)), resolution=0.001) == ()


def rates_of(trials, sizes, scatter, seed=44):
    rng = np.random.default_rng(seed)
    label = np.repeat(np.arange(len(sizes)), sizes)
    codes = [
        {
            one.code
            for one in guards(
                rng.standard_normal(len(sizes))[label] + scatter(rng, label.size), label, resolution=0
            )
        }
        for _ in range(trials)
    ]
    return {code: np.mean([code in one for one in codes]) for code in ("not-steady", "shape", "outlying")}


def normal(rng, n):
    return rng.standard_normal(n)


def one_in_thirty_wild(rng, n):
    return rng.standard_normal(n) * np.where(rng.random(n) < 0.03, 8, 1)


@pytest.mark.parametrize("sizes", [[36], [5] * 8])
def test_for_no_reason(sizes):
    found = rates_of(150, sizes, normal)
    assert found["not-steady"] <= 0.01 + 4 * np.sqrt(0.01 / 150)
    assert found["shape"] == rate(0.05, trials=150)
    assert found["outlying"] == rate(0.05, trials=150)


def test_for_a_reason():
    """3 % of homings eight times as wild, n 36: two of three trials hold one, and it shows in most of them."""
    found = rates_of(100, [36], one_in_thirty_wild)
    assert 0.4 < found["outlying"] < 0.8
