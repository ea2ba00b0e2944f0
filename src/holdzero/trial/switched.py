"""Switched: an indicator that was switched between inch and mm in the middle of a trial."""

from collections.abc import Sequence

import numpy as np

from holdzero.compute.signature.unit import unit_switched
from holdzero.store import KeptReading
from holdzero.store.sound import FIGURES, refuse_reading

WATCHED = 60  # newest readings of a side that are looked through


def switched_unit(rows: Sequence[KeptReading], resolution_mm: float | None) -> str:
    """Say that the unit was switched, and how to see it; empty where the readings do not show it.

    Parameters
    ----------
    rows : sequence of KeptReading
        Of one candidate on one axis, in the order taken; the side read last is looked at.
    resolution_mm : float or None
        Step of the display; None: not stated. [mm]
    """
    side = [row for row in rows if row.side == rows[-1].side and not (row.repeat or row.set_aside or row.left_out)]
    side = side[-WATCHED:]
    if not side:
        return ""
    for row in side:
        refuse_reading({name: getattr(row, name) for name in FIGURES})
    signatures = unit_switched(
        np.array([row.deviation_mm for row in side]),
        np.array([row.set_label for row in side]),
        resolution=resolution_mm or 0.0,
    )
    return f"{signatures[0].sentence} {signatures[0].check}" if signatures else ""
