"""Parts: the current-voltage curve of everything that can stand in a home-switch circuit.

Each function takes numbers or arrays (one value per case) and returns a `Curve`, which counts from
the part's first to its second node. The figures are class-typical (common practice, no source) unless
a clause is named; what the person states about their sensor overrides them.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from holdzero.compute.wiring.network import CurrentCurve

OPEN_CONTACT_OHM = 1e8
IEC_POINTS = {  # volts, amperes of our own input curves, inside the regions of IEC 61131-2
    1: ((-1.0, 0.0, 5.0, 15.0, 30.0, 31.0), (-0.2e-3, 0.0, 4e-3 / 3, 4e-3, 8e-3, 8.2667e-3)),
    2: ((-1.0, 0.0, 5.0, 11.0, 30.0, 31.0), (-1e-3, 0.0, 2.4e-3, 7e-3, 8e-3, 8.05e-3)),
    3: ((-1.0, 0.0, 5.0, 11.0, 30.0, 31.0), (-0.36e-3, 0.0, 1.8e-3, 2.6e-3, 3.0e-3, 3.02e-3)),
}
_REVERSE = 1e-9  # slope of what blocks [S]
_FLAT = 1e-8  # slope of what holds a current [S]


def contact(*, closed: ArrayLike, ohm: ArrayLike) -> CurrentCurve:
    """A mechanical contact. [ohm]"""
    return CurrentCurve.resistor(np.where(closed, ohm, OPEN_CONTACT_OHM))


def diode(*, knee_v: ArrayLike = 0.7, ohm: ArrayLike = 5.0) -> CurrentCurve:
    """A junction: hardly anything up to its knee, then a slope. [V, ohm]"""
    knee = np.asarray(knee_v, float)
    slope = 1 / np.asarray(ohm, float)
    return CurrentCurve.through([-1.0, 0.0 * knee, knee, knee + 1], [-_REVERSE, 0.0, 1e-6, 1e-6 + slope])


def led(*, knee_v: ArrayLike, ohm: ArrayLike = 15.0) -> CurrentCurve:
    """The light-emitting diode of an opto-coupler. [V, ohm]"""
    knee = np.asarray(knee_v, float)
    return CurrentCurve.through(
        [-1.0, 0.0, knee, knee + 1], [-_REVERSE, 0.0, 1e-5, 1e-5 + 1 / np.asarray(ohm, float)]
    )


def transistor(
    *, on: ArrayLike, knee_v: ArrayLike, ohm: ArrayLike, limit_a: ArrayLike, leak_a: ArrayLike
) -> CurrentCurve:
    """A transistor output: on, a knee, a slope and a current limit; off, a leakage reached at 1 V.

    Parameters
    ----------
    on : bool or ndarray, shape (n,)
        Whether it conducts.
    knee_v, ohm, limit_a, leak_a : float or ndarray, shape (n,)
        [V, ohm, A, A]
    """
    on = np.asarray(on, bool)
    knee = np.maximum(np.asarray(knee_v, float), 1e-3)
    leak = np.asarray(leak_a, float)
    toe, slope = 1e-5 / knee, 1 / np.asarray(ohm, float)
    full = knee + np.asarray(limit_a, float) * np.asarray(ohm, float)
    return CurrentCurve(
        0.0,
        _REVERSE,
        (
            (0.0, np.where(on, toe, leak) - _REVERSE),
            (np.where(on, knee, 1.0), np.where(on, slope - toe, _FLAT - leak)),
            (full, np.where(on, _FLAT - slope, 0.0)),
        ),
    )


def two_wire(
    *, on: ArrayLike, drop_v: ArrayLike, ohm: ArrayLike, limit_a: ArrayLike, leak_a: ArrayLike
) -> CurrentCurve:
    """A 2-wire DC sensor: on, a drop that its own supply needs; off, a leakage reached at 3 V. [V, ohm, A, A]"""
    on = np.asarray(on, bool)
    drop, leak = np.asarray(drop_v, float), np.asarray(leak_a, float)
    rest = np.where(on, leak / drop, leak / 3.0)
    slope = 1 / np.asarray(ohm, float)
    full = drop + np.asarray(limit_a, float) * np.asarray(ohm, float)
    return CurrentCurve(
        0.0,
        _REVERSE,
        (
            (0.0, rest - _REVERSE),
            (np.where(on, drop, 3.0), np.where(on, slope, _FLAT) - rest),
            (full, np.where(on, _FLAT - slope, 0.0)),
        ),
    )


def electronics(*, own_a: ArrayLike) -> CurrentCurve:
    """What a 3-wire sensor takes for itself: flat above 5 V. [A]"""
    own = np.asarray(own_a, float)
    return CurrentCurve.through([-1.0, 0.0, 5.0, 105.0], [-_REVERSE, 0.0, own, own + 1e-6])


def iec_input(*, kind: Sequence[int], scale: ArrayLike) -> CurrentCurve:
    """Current-sinking 24 V inputs of IEC 61131-2, one type a circuit.

    Parameters
    ----------
    kind : sequence of {1, 2, 3}, shape (circuits,)
        Type of the input.
    scale : float or array, shape (circuits, cases) or less
        Factor on the current, so small that it stays in the regions of the standard. [-]
    """
    points = np.array([IEC_POINTS[volt_type] for volt_type in kind])[
        ..., None
    ]  # (circuits, volts and amperes, points, 1)
    return CurrentCurve.through(
        [points[:, 0, k] for k in range(points.shape[2])],
        [points[:, 1, k] * np.asarray(scale, float) for k in range(points.shape[2])],
    )


def leakage(*, amp: ArrayLike) -> CurrentCurve:
    """A leakage that flows one way, reached at 0.1 V. [A]"""
    leak = np.asarray(amp, float)
    return CurrentCurve.through([-1.0, 0.0, 0.1, 100.1], [0.0 * leak, 0.0, leak, leak + 1e-9])
