"""Writing: homings back into a readings file that says everything itself."""

import csv
import math
from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

from holdzero.inputs.reading.joined import own_labels
from holdzero.inputs.reading.values import Homings, Protocol, Readings, Spans

PLAIN = ("deviation_mm", "speed_mm_s", "temperature_degc", "direction", "time", "condition", "set_aside", "repeat")
FIRST: tuple[str, ...] = ("sensor", "axis", "side", "set", "homing")
SOMETIMES = ("trial", "kind", "event", "left_out", "trip_to_index_mm")  # columns a group may be without
FIRST += (*PLAIN, *SOMETIMES, "resolution_mm", "protocol")  # columns in their order, then those of the file


def write_readings(readings: Readings) -> str:
    r"""Write readings as a file that reads back to the same homings.

    Parameters
    ----------
    readings : Readings
        Groups follow each other; resolution and protocol stand in every row, so no option is needed.

    Returns
    -------
    str
        CSV. A column that would be empty throughout is left out.

    Examples
    --------
    >>> from holdzero.inputs.reading import read_readings
    >>> read = read_readings("side,set,deviation_um\nL,1,3\nR,1,-1\n", resolution_mm=0.001)
    >>> print(write_readings(read), end="")
    side,set,homing,deviation_mm,resolution_mm,protocol
    L,1,1,0.003,0.001,outside
    R,1,1,-0.001,0.001,outside
    """
    rows = [row for group in readings.groups for row in _rows(group)]
    return _written(rows, "deviation_mm", FIRST)


def _written(rows: list[dict[str, Any]], least: str, first: Sequence[str] = ()) -> str:
    """Return rows as CSV, columns that are empty throughout left out; `least`: the heading of none."""
    names = dict.fromkeys([*first, *(name for row in rows for name in row)])
    full = [name for name in names if any(row.get(name) not in (None, "") for row in rows)]
    lines: list[str] = []
    writer = csv.DictWriter(  # whose line end decides which cells it quotes: with \r\n those with either
        SimpleNamespace(write=lines.append), full or [least], extrasaction="ignore", lineterminator="\r\n"
    )
    writer.writeheader()
    writer.writerows(rows)
    return "".join(line.removesuffix("\r\n") + "\n" for line in lines)


def write_spans(spans: Sequence[Spans]) -> str:
    r"""Write spans as a file that reads back to the same ones.

    Parameters
    ----------
    spans : sequence of Spans
        Groups follow each other; resolution and protocol stand in every row.

    Returns
    -------
    str
        CSV. A column that would be empty throughout is left out.

    Examples
    --------
    >>> from holdzero.inputs.reading import read_readings
    >>> read = read_readings("set,least_um,greatest_um,n\n1,-2,3,5\n", resolution_mm=0.001)
    >>> print(write_spans(read.spans), end="")
    set,least_mm,greatest_mm,n,resolution_mm,protocol
    1,-0.002,0.003,5,0.001,outside
    """
    rows = []
    for group in spans:
        whose = {"sensor": group.sensor, "axis": group.axis, "side": group.side}
        protocol = Protocol.FIRST if group.own_zeros else Protocol.OUTSIDE
        for i in range(group.n.size):
            ends = {"least_mm": _cell(float(group.least_mm[i])), "greatest_mm": _cell(float(group.greatest_mm[i]))}
            span_mm = "" if ends["least_mm"] != "" else float(group.span_mm[i])
            rows.append(
                whose
                | {"set": str(group.set_label[i])}
                | ends
                | {"span_mm": span_mm, "n": int(group.n[i]), "set_aside": str(group.set_aside[i])}
                | {"resolution_mm": group.resolution_mm, "protocol": protocol.value}
                | {heading: str(column[i]) for heading, column in group.extra.items()}
            )
    return _written(rows, "span_mm")


def _rows(group: Homings) -> list[dict[str, Any]]:
    whose = {"sensor": group.sensor, "axis": group.axis, "side": group.side}
    how = {"resolution_mm": group.resolution_mm, "protocol": group.protocol.value}
    columns = {"set": own_labels(group), "homing": group.homing} | {name: getattr(group, name) for name in PLAIN}
    columns |= {name: column for name in SOMETIMES if (column := getattr(group, name)) is not None}
    cells = zip(*((_cell(value) for value in column.tolist()) for column in columns.values()), strict=True)
    more = {heading: column.tolist() for heading, column in group.extra.items()}
    return [
        whose
        | dict(zip(columns, row, strict=True))
        | how
        | {heading: column[i] for heading, column in more.items()}
        for i, row in enumerate(cells)
    ]


def _cell(value: Any) -> Any:
    if isinstance(value, bool):
        return "yes" if value else ""
    return "" if isinstance(value, float) and math.isnan(value) else value
