"""Reaching: the size at which a share reaches a level, against SciPy's own root finder."""

from math import exp, log, nextafter

import pytest
from scipy.optimize import brentq
from scipy.stats import binom, chi2, norm

from holdzero.compute.spread.reaching import reaching

SHARES = {
    "square": (lambda size: size**2 / 100, 0.25, 1e-3, 100.0),
    "chi-square": (lambda size: float(chi2.cdf(size, 7)), 0.95, 1e-6, 1e4),
    "outside": (lambda size: 2 * float(norm.sf(0.05 / size)), 1e-3, 1e-9, 1.0),
    "from zero": (lambda size: float(norm.cdf(size)) - 0.5, 0.3, 0.0, 50.0),
    "flat, then steep": (lambda size: 1 / (1 + exp(-min(max(400 * (size - 3), -700), 700))), 0.2, 0.0, 10.0),
    "by a power of twenty": (lambda size: size**20, 1e-6, 0.0, 2.0),
    "binomial": (lambda size: float(binom.sf(2, 300, size)), 0.05, 1e-9, 0.5),
}


@pytest.mark.parametrize("name", SHARES)
def test_where_scipy_finds_it(name: str):
    share, level, low, high = SHARES[name]
    root = brentq(lambda size: share(size) - level, low, high, xtol=1e-15, rtol=1e-14)
    reached = reaching(share, level, low=low, high=high)
    assert reached == pytest.approx(root, rel=1e-12)
    assert share(reached) <= level < share(reached * (1 + 1e-13))


@pytest.mark.parametrize("name", SHARES)
def test_in_few_steps(name: str):
    """Halving takes 50 and more to the last digit; the parabola a dozen, and what is nearly flat some more."""
    share, level, low, high = SHARES[name]
    asked = []
    reaching(lambda size: asked.append(size) or share(size), level, low=low, high=high)
    assert len(asked) <= 40
    assert all(low <= size <= high * (1 + 1e-15) for size in asked)


def test_a_step_is_reached_at_its_edge():
    """Nothing but halving finds a step, to the last digit of a float."""
    edge = 0.3
    reached = reaching(lambda size: float(size >= edge), 0.5, low=0.0, high=1.0)
    assert nextafter(edge, 0) - 1e-15 <= reached < edge


def test_a_level_reached_outside_is_the_nearest_end():
    """At `low` exactly it is reached there; above `high` it is `high`."""
    assert reaching(lambda size: size, 0.1, low=0.2, high=1.0) == 0.2
    assert reaching(lambda size: size, 2.0, low=0.2, high=1.0) == 1.0
    assert reaching(lambda size: size, 1.0, low=0.2, high=1.0) == 1.0
    flat = reaching(lambda size: max(size, 0.2) if size < 0.7 else 1.0, 0.2, low=0.1, high=1.0)
    assert flat == pytest.approx(0.2, rel=1e-12)  # the largest whose share is not above, not `low`
    assert reaching(lambda size: log(size), 0.0, low=0.5, high=8.0) == pytest.approx(1.0)
