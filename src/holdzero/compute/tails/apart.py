"""Apart: one power-up that landed elsewhere than all the others, by Grubbs' test on the means."""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

Floats = NDArray[np.float64]

FEWEST = 8  # power-ups, from which one that stands apart can be told


@dataclass(frozen=True, slots=True)
class Apart:
    """The power-up farthest from the others.

    Parameters
    ----------
    place : int
        Which one: 0, 1, ...
    away : float
        From the mean of the others. [unit of the means]
    statistic, limit : float
        Grubbs' G, and what it stays under but for once in 1/risk trials. [-]
    """

    place: int
    away: float
    statistic: float
    limit: float

    @property
    def shows(self) -> bool:
        """True where it stands apart."""
        return self.statistic > self.limit


def apart(means: Floats, *, risk: float = 0.01) -> Apart | None:
    """Test the power-up that lies farthest out; None below 8 power-ups, or where all are alike.

    Parameters
    ----------
    means : ndarray, shape (k,)
        Mean of each power-up. [any unit]
    risk : float
        Chance that regular power-ups show one. [-]

    References
    ----------
    .. [1] F. E. Grubbs, Technometrics 11 (1969) 1-21 (not re-read); NIST/SEMATECH e-Handbook of Statistical
       Methods, section 1.3.5.17.1.
    """
    k = means.size
    if k < FEWEST:
        return None
    away = means - means[0]
    away = away - away.mean()
    spread = float(away.std(ddof=1))
    if not spread > 1e-9 * float(np.abs(means).max()):
        return None
    place = int(np.abs(away).argmax())
    t = float(stdtrit(k - 2, 1 - risk / (2 * k)))
    return Apart(
        place=place,
        away=float(away[place]) * k / (k - 1),
        statistic=abs(float(away[place])) / spread,
        limit=(k - 1) / sqrt(k) * sqrt(t * t / (k - 2 + t * t)),
    )


def share_not_seen(power_ups: int, *, confidence: float = 0.95) -> float:
    """Share of power-ups that may land elsewhere although none of so many did. [-]

    >>> [f"{share_not_seen(k):.2f}" for k in (8, 20, 60)]
    ['0.31', '0.14', '0.05']
    """
    return float(1 - (1 - confidence) ** (1 / power_ups))
