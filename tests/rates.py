"""`rate(0.941, trials=300, published=1500)`: equal to a rate that another simulation printed."""

from math import inf, sqrt
from typing import Any

import pytest


def rate(expected: float, *, trials: int, published: float = inf) -> Any:
    """Agree to four binomial standard errors of the two simulations together, and the last printed digit.

    Parameters
    ----------
    expected : float
        As printed, to three decimals.
    trials : int
        Trials of the test.
    published : float
        Trials behind the printed figure; inf for an exact one.
    """
    # A rate printed as 0 or 1 is only known to about one trial in `published`.
    p = min(max(expected, 1 / min(published, 10_000)), 1 - 1 / min(published, 10_000))
    return pytest.approx(expected, abs=4 * sqrt(p * (1 - p) * (1 / trials + 1 / published)) + 0.0005)
