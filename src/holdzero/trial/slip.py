"""Slip: does a figure look like a slip of the keys, or of the indicator?

It is asked about once and never refused: what the machine did is kept, however odd it is. A figure that is typed
is asked about before it is kept; one that an indicator sends is kept and asked about afterwards, because the
person is at the machine and the next homing comes.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from holdzero.quantity import System, column
from holdzero.store import KeptReading, NewReading

NEWEST_OF_SET = 400  # readings looked through: far more than a set holds
FEWEST = 3  # readings before anything can look odd
MANY = 8
FAR, FAR_AMONG_FEW, FAR_FROM_OTHER_SETS = 8.0, 15.0, 25.0  # times the distance that three in four stay within
LEAST_MM = 0.0005  # nobody types finer by hand
FACTORS = (
    (25.4, "About 25.4 times what came before: was the indicator switched between inch and mm?"),
    (1 / 25.4, "About 25.4 times less than before: was the indicator switched between inch and mm?"),
    (10.0, "About ten times what came before: a slipped decimal point?"),
    (0.1, "About a tenth of what came before: a slipped decimal point?"),
    (100.0, "About a hundred times what came before: a slipped decimal point?"),
    (1000.0, "About a thousand times what came before: a slipped decimal point, or another unit?"),
    (-1.0, "The same size with the other sign: was the sign forgotten?"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Slip:
    """A figure far from what is usual. `why`: what it looks like, where it looks like something."""

    usual_mm: float
    off_mm: float
    why: str = ""


def doubt(new: NewReading, rows: Sequence[KeptReading], *, system: System) -> str:
    """Say what is odd about a reading, for the person who is asked; empty where nothing is.

    Parameters
    ----------
    new : NewReading
        The reading that comes in.
    rows : sequence of KeptReading
        The readings of its candidate and axis so far.
    system : {"metric", "inch"}
        Units shown.
    """
    side = [row for row in rows if row.side == new.side and not (row.set_aside or row.left_out or row.asked)]
    far_out = slip(
        new.deviation_mm,
        set_so_far=[row.deviation_mm for row in side if row.set_label == new.set_label],
        other_sets=[row.deviation_mm for row in side if row.set_label != new.set_label],
        step_mm=new.resolution_mm,
    )
    if far_out is None:
        return ""
    (off, usual), unit = column((abs(far_out.off_mm), far_out.usual_mm), "length", system=system)
    return f"{off}\u202f{unit} away from the others, which lie around {usual}\u202f{unit}. {far_out.why}".strip()


def slip(
    value_mm: float, *, set_so_far: Sequence[float], other_sets: Sequence[float] = (), step_mm: float | None = None
) -> Slip | None:
    """Tell whether a reading lies far out.

    Parameters
    ----------
    value_mm : float
        What was typed. [mm]
    set_so_far : sequence of float
        Readings of the same set and side. [mm]
    other_sets : sequence of float
        Readings of the same side in other sets: they count where the set has fewer than three. [mm]
    step_mm : float, optional
        Step of the display. [mm]

    Notes
    -----
    Distance from the median, against the distance within which three in four of the others stay: one wild
    reading in four changes neither much. Of regular readings fewer than 7 in 1 000 are asked about among
    three, fewer than 2 in 1 000 from four on (by simulation).
    """
    among = list(set_so_far)
    own = len(among) >= FEWEST
    if not own:
        among = [*other_sets, *set_so_far]
    if len(among) < FEWEST:
        return None
    usual = float(np.median(among))
    usually_off = float(np.quantile(np.abs(np.array(among) - usual), 0.75))
    usually_off = max(usually_off, step_mm or 0.0, LEAST_MM)
    times = FAR_FROM_OTHER_SETS if not own else FAR if len(among) >= MANY else FAR_AMONG_FEW
    off = value_mm - usual
    if abs(off) <= times * usually_off:
        return None
    clear = abs(usual) > 3 * usually_off  # else every factor fits
    alike = [why for factor, why in FACTORS if clear and abs(value_mm / usual / factor - 1) < 0.2]
    return Slip(usual_mm=usual, off_mm=off, why=alike[0] if alike else "")
