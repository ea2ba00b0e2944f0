"""As text: a candidate's figures as a few plain lines, to paste into a message."""

from collections.abc import Sequence

from holdzero import __version__, quantity
from holdzero.case.enough import SIDES
from holdzero.compute.findings.values import Findings
from holdzero.quantity import System
from holdzero.store import KeptReading

MOST_SETS = 12


def as_text(
    machine: str, trial: str, findings: Sequence[Findings], rows: Sequence[KeptReading], *, system: System
) -> str:
    """Return the figures and the newest readings as text without any marks.

    Parameters
    ----------
    machine, trial : str
        Names.
    findings : sequence of Findings
        One candidate's sides.
    rows : sequence of KeptReading
        Its readings that count, in the order taken.
    system : {"metric", "inch"}
        Units shown.
    """
    if not findings:
        return ""
    first = findings[0]
    lines = [
        f"{machine}: {trial}",
        " ".join(filter(None, ("Sensor", first.sensor, "axis" * bool(first.axis), first.axis))),
    ]
    lines += [_figures(series, system) for series in findings]
    plain = [row for row in rows if not (row.repeat or row.set_aside or row.left_out)]
    numbers, unit = _as_read([row.deviation_mm for row in plain], system)
    sets: dict[tuple[str, str], list[str]] = {}
    for row, number in zip(plain, numbers, strict=True):
        sets.setdefault((row.set_label, row.side), []).append(number)
    if sets:
        lines += ["", f"Readings [{unit}], a line for each power-up:"]
        shown = list(sets.items())[-MOST_SETS:]
        lines += [
            f"set {label}{f' {SIDES[side]}' * bool(side)}: {'  '.join(of_set)}" for (label, side), of_set in shown
        ]
    if len(sets) > MOST_SETS:
        lines.append(f"({len(sets) - MOST_SETS} lines before these are left out)")
    return "\n".join([*lines, "", f"holdzero {__version__}. A design aid, not a certificate."]).replace(
        "\u202f", " "
    )


def _figures(series: Findings, system: System) -> str:
    spread = series.spread
    limits = quantity.show_interval(spread.low, spread.high, "length", system=system)
    size = "" if spread.middle is None else quantity.show(spread.middle, "length", system=system, digits=2) + ", "
    name = "spread" + (f" {SIDES[series.side]}" if series.side else "")
    sets = f"{series.sets} power-up{'' if series.sets == 1 else 's'}"
    return f"{name}: {size}95 % {limits} ({series.n} homings, {sets})"


def _as_read(values: Sequence[float], system: System) -> tuple[list[str], str]:
    numbers, unit = quantity.column(values, "length", system=system, digits=5 if system == "metric" else 4)
    decimals = max((len(number.partition(".")[2].rstrip("0")) for number in numbers), default=0)
    return [quantity.fixed(value, "length", unit=unit, decimals=decimals)[0] for value in values], unit
