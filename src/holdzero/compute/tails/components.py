"""Components: the laws that scatter may follow, and how likely each is before a homing is read.

Regular scatter, every homing with a width of its own (Student's t by homing), or every power-up with a width of
its own (Student's t by power-up). Power-ups among themselves stay normal: a few means cannot show more.
"""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

BY_HOMING = (inf, 20.0, 10.0, 7.0, 5.0, 4.0, 3.0)  # degrees of freedom; the first is the normal law
BY_POWER_UP = (10.0, 5.0, 3.0)
FREEDOM = np.array([*BY_HOMING, *BY_POWER_UP])
REGULAR_FROM, HEAVY_TO = 20.0, 7.0  # degrees of freedom
LAW = np.array([0, 1, 2, 3, 4, 5, 6, 2, 4, 6])  # row of `BY_HOMING` with the same degrees of freedom


@dataclass(frozen=True, slots=True)
class Prior:
    """Chance of each kind of law; within a kind the degrees of freedom are alike likely. [-]

    Parameters
    ----------
    normal, by_homing, by_power_up : float
        Sum to 1.
    """

    normal: float
    by_homing: float
    by_power_up: float

    def weights(self, *, by_power_up: bool) -> Floats:
        """Chance of each component. shape (10,), or (7,) where power-ups cannot show a width of their own. [-]"""
        if not by_power_up:
            share = (1 - self.normal) / (len(BY_HOMING) - 1)
            return np.array([self.normal] + [share] * (len(BY_HOMING) - 1))
        homing, power_up = self.by_homing / (len(BY_HOMING) - 1), self.by_power_up / len(BY_POWER_UP)
        return np.array([self.normal] + [homing] * (len(BY_HOMING) - 1) + [power_up] * len(BY_POWER_UP))


GANTRY = Prior(3 / 4, 1 / 6, 1 / 12)  # one kind of switch, seen on both sides
ONE_SERIES = Prior(1 / 2, 1 / 3, 1 / 6)


def posterior(log_evidence: Floats, prior: Prior) -> Floats:
    """Chance of each component after the homings. shape (c,), c 7 or 10 [-]

    Parameters
    ----------
    log_evidence : ndarray, shape (c,)
        Log probability of the homings under each component, up to a constant.
    prior : Prior
    """
    weight = prior.weights(by_power_up=log_evidence.size > len(BY_HOMING))
    chance: Floats = weight * np.exp(log_evidence - log_evidence.max())
    chance /= chance.sum()
    return chance
