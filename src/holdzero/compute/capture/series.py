"""Series: the trips of a capture as homings, to be read like any other trial.

One capture is one power-up: it shows the scatter within it, and nothing of what another power-up brings.
"""

import csv
import io
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture.results import CaptureFindings, SwitchFindings
from holdzero.compute.capture.scatter import speed_labels
from holdzero.errors import InputError

SUSPECT = "its place is suspect: counts were lost before it"


@dataclass(frozen=True, slots=True)
class TripRow:
    """One trip as a homing. `deviation_mm`: from the median of those at the slowest speed. [mm]"""

    side: str
    homing: int
    deviation_mm: float
    speed_mm_s: float
    resolution_mm: float
    trip_to_index_mm: float
    set_aside: str
    tick: int


def trip_rows(findings: CaptureFindings, *, all_speeds: bool = False) -> tuple[TripRow, ...]:
    """Return the trips on the way in, in order, one switch after the other.

    Parameters
    ----------
    findings : CaptureFindings
    all_speeds : bool, default False
        True: those of the faster speeds too. A search at speed before the creep makes no home.

    Raises
    ------
    InputError
        No trip on the way in whose place is known.
    """
    rows = [row for switch in findings.switches for row in _of_switch(switch, findings.sample_s, all_speeds)]
    if not rows:
        raise InputError(
            found="no trip on the way in whose place is sure",
            need="trips that a trial can be made of",
            do="check the map: channels, active_low, inward",
        )
    return tuple(rows)


def _of_switch(findings: SwitchFindings, sample_s: float, all_speeds: bool) -> list[TripRow]:
    at, inward = findings.at, findings.events.trip & (findings.at.direction == 1)
    slowest = inward & _slowest(np.where(inward & ~findings.suspect, at.speed_mm_s, np.nan), at.speed_mm_s)
    wanted = np.flatnonzero(inward if all_speeds else slowest)
    sure = wanted[~findings.suspect[wanted]]
    if not sure.size:
        return []
    home = float(np.median(at.position_mm[np.flatnonzero(slowest & ~findings.suspect)]))
    return [
        TripRow(
            side=findings.switch.side,
            homing=number,
            deviation_mm=float(at.position_mm[i]) - home,
            speed_mm_s=float(at.speed_mm_s[i]),
            resolution_mm=float(at.speed_mm_s[i]) * sample_s,
            trip_to_index_mm=float(findings.to_index_mm[i]),
            set_aside=SUSPECT if findings.suspect[i] else "",
            tick=int(findings.events.first[i]),
        )
        for number, i in enumerate(wanted.tolist(), 1)
    ]


def _slowest(known_mm_s: NDArray[np.float64], speed_mm_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Events as slow as the slowest group of those whose place is sure."""
    labels = speed_labels(known_mm_s)
    if not (labels >= 0).any():
        return np.zeros(labels.size, np.bool_)
    most = known_mm_s[labels == 0].max()
    slow: NDArray[np.bool_] = speed_mm_s <= most
    return slow


def readings_csv(rows: tuple[TripRow, ...], *, sensor: str, axis: str, side: str, digest: str) -> str:
    """Write trips as a readings file.

    Parameters
    ----------
    rows : tuple of TripRow
    sensor, axis, side : str
        Whose homings they are; empty where not said. A side of the row goes before.
    digest : str
        SHA-256 of the capture, kept with every reading.
    """
    text = io.StringIO()
    out = csv.writer(text, lineterminator="\n")
    with_index = any(row.trip_to_index_mm == row.trip_to_index_mm for row in rows)
    out.writerow(
        (
            *(
                "sensor",
                "axis",
                "side",
                "set",
                "homing",
                "deviation_mm",
                "speed_mm_s",
                "resolution_mm",
                "protocol",
            ),
            *("kind", "set_aside", "tick", "capture"),
            *(("trip_to_index_mm",) if with_index else ()),
        )
    )
    for row in rows:
        out.writerow(
            (
                *(sensor, axis, row.side or side, f"capture {digest[:8]}", row.homing),
                *(f"{row.deviation_mm:.7f}", f"{row.speed_mm_s:.5g}", f"{row.resolution_mm:.3g}", "encoder"),
                *("long run", row.set_aside, row.tick, digest),
                *((_figure(row.trip_to_index_mm),) if with_index else ()),
            )
        )
    return text.getvalue()


def _figure(value: float) -> str:
    return f"{value:.7f}" if value == value else ""
