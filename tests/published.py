"""More data sets of the National Institute of Standards and Technology (public domain), whole; see `nist`."""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def _values(text: str) -> Floats:
    return np.array(text.split(), dtype=float)


ROSNER = _values(
    """
    -0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70
    1.76 1.77 1.81 1.91 1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40
    2.47 2.54 2.62 2.64 2.90 2.92 2.92 2.93 3.21 3.26 3.30 3.59 3.68 4.30 4.64 5.34 5.42 6.01
    """
)
"""e-Handbook 1.3.5.17.3: 54 values, some of them outlying."""

NORRIS_Y = _values(
    """
    0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8
    557.7 228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2
    """
)
NORRIS_X = _values(
    """
    0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6
    556.0 228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5
    """
)
"""StRD: calibration of ozone monitors, 36 pairs."""


def smls(number: int) -> list[Floats]:
    """StRD SmLs01, 04, 07: nine groups of 21, c and ten pairs (c - 0.1, c + 0.1), shifted by 0, 1e6, 1e12."""
    shift = {1: 0.0, 4: 1e6, 7: 1e12}[number]
    middles = [1.4, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5, 1.3, 1.5]
    return [shift + np.array([c, *(c - 0.1, c + 0.1) * 10]) for c in middles]
