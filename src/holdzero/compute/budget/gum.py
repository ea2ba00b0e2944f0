"""GUM: how standard uncertainties combine (JCGM 100).

Small and general: effective degrees of freedom, coverage
factors, and the one product whose second order matters here, growth times temperature.
"""

from collections.abc import Iterable
from math import floor, hypot, inf, isinf, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, ndtri, stdtrit

from holdzero.compute.spread.reaching import reaching

Floats = NDArray[np.float64]

DIVISORS = {  # of a half width, or of a standard deviation
    "normal": 1.0,
    "rectangular": sqrt(3),
    "triangular": sqrt(6),
    "arcsine": sqrt(2),
}


def effective_dof(parts: Iterable[tuple[float, float]]) -> float:
    """Effective degrees of freedom of a combined uncertainty, by Welch and Satterthwaite. [-]

    Parameters
    ----------
    parts : iterable of (float, float)
        Standard uncertainty of each part, all in one unit, and its degrees of freedom (inf: known well).

    Returns
    -------
    float
        u⁴ / Σ uᵢ⁴/νᵢ; inf where every part is known well.

    References
    ----------
    JCGM 100:2008, G.4.1.

    Examples
    --------
    The end gauge of annex H.1, in nm:

    >>> parts = [(25, 18), (5.8, 24), (3.9, 5), (6.7, 8), (2.9, 50), (16.6, 2)]
    >>> round(effective_dof(parts), 2)
    16.75
    """
    parts = list(parts)
    doubt: float = sum(u**4 / dof for u, dof in parts)
    combined: float = sum(u * u for u, _ in parts) ** 2
    return combined / doubt if doubt > 0 else inf


def coverage_factor(dof: float, *, coverage: float = 0.95) -> float:
    """Factor of the expanded uncertainty: Student's t for the degrees of freedom, cut to a whole number. [-]

    Parameters
    ----------
    dof : float
        Effective degrees of freedom, at least 1. [-]
    coverage : float, default 0.95
        Chance that the interval covers. [-]

    References
    ----------
    JCGM 100:2008, G.4.1, note 1: cut before looking up.

    Examples
    --------
    >>> round(coverage_factor(16.75), 2), round(coverage_factor(float("inf")), 2)
    (2.12, 1.96)
    """
    p = (1 + coverage) / 2
    return float(ndtri(p) if isinf(dof) else stdtrit(max(1, floor(dof)), p))


def dof_of_interval(*, low: float, high: float) -> float:
    """Degrees of freedom of a standard deviation, from the 95 % interval it may lie in. [-]

    Parameters
    ----------
    low, high : float
        Ends of the interval, low > 0. [any unit]

    Notes
    -----
    high/low = √(χ²(0.975, ν)/χ²(0.025, ν)) solved for ν: what a plain sample of the same doubt would have.

    Examples
    --------
    >>> f"{dof_of_interval(low=0.0014, high=0.0069):.0f}"  # five homings have four
    '4'
    """
    wanted = (high / low) ** 2
    return reaching(lambda dof: -float(chdtri(dof, 0.025) / chdtri(dof, 0.975)), -wanted, low=0.5, high=1e6)


def product_u(*, x: float, u_x: float, y: float, u_y: float) -> float:
    """Standard uncertainty of x y for independent x and y, with the second-order term. [unit of x y]

    √((y u_x)² + (x u_y)² + (u_x u_y)²), exact for the standard deviation of a product. Where one mean is
    zero the first-order term of the other vanishes and only the last one is left.

    References
    ----------
    JCGM 100:2008, 5.1.2 note and H.1.7.
    """
    return hypot(y * u_x, x * u_y, u_x * u_y)
