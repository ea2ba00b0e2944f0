"""Repeatability as ISO 230-2 states it: four standard deviations, and with two directions the reversal value.

A convention for comparing machines, not a promise: 30 homings give mean ± 2 s, which takes in 95 % of
homings to come with far less than 95 % confidence (2.55 s would).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeatability:
    """Figures of ISO 230-2, one entry for each target where shapes say (m,). [unit of the readings]

    Those of the reverse direction, and those of both, are None where only one direction was approached.

    Parameters
    ----------
    mean_forward, mean_reverse : ndarray, shape (m,)
        Mean deviation at each target.
    sd_forward, sd_reverse : ndarray, shape (m,)
        Standard deviation at each target.
    forward, reverse : float
        Unidirectional repeatability, the largest 4 s.
    reversal : float
        The largest mean forward less mean reverse, without sign.
    bidirectional : float
        The largest of max(2 s_f + 2 s_r + |reversal|, 4 s_f, 4 s_r).
    """

    mean_forward: Floats
    sd_forward: Floats
    forward: float
    mean_reverse: Floats | None = None
    sd_reverse: Floats | None = None
    reverse: float | None = None
    reversal: float | None = None
    bidirectional: float | None = None


def _mean_and_sd(runs: Floats) -> tuple[Floats, Floats]:
    """Of each target, about its first run: runs all alike have a standard deviation of exactly 0. shapes (m,)"""
    runs = np.atleast_2d(runs)
    away = runs - runs[:, :1]
    return runs[:, 0] + away.mean(axis=1), away.std(axis=1, ddof=1)


def repeatability(forward: Floats, reverse: Floats | None = None) -> Repeatability:
    """State repeatability by the terms of ISO 230-2.

    Parameters
    ----------
    forward : ndarray, shape (m, runs) or (runs,), runs >= 2
        Deviations at each target approached forward; homings of one switch are one target. [any unit]
    reverse : ndarray, shape (m, runs), optional
        The same approached in reverse; the number of runs may differ.

    Notes
    -----
    ISO 230-2:2014 (definitions from memory; checked against a case of our own in exact fractions).

    Examples
    --------
    >>> repeatability(np.array([2.1, 1.8, 2.4, 2.0, 1.7])).forward.__round__(6)
    1.095445
    """
    mean_f, sd_f = _mean_and_sd(forward)
    if reverse is None:
        return Repeatability(mean_forward=mean_f, sd_forward=sd_f, forward=4 * float(sd_f.max()))
    mean_r, sd_r = _mean_and_sd(reverse)
    gap = mean_f - mean_r
    two_way = np.maximum(2 * sd_f + 2 * sd_r + np.abs(gap), np.maximum(4 * sd_f, 4 * sd_r))
    return Repeatability(
        mean_forward=mean_f,
        sd_forward=sd_f,
        forward=4 * float(sd_f.max()),
        mean_reverse=mean_r,
        sd_reverse=sd_r,
        reverse=4 * float(sd_r.max()),
        reversal=float(np.abs(gap).max()),
        bidirectional=float(two_way.max()),
    )
