"""Incoming: what a file or paste would bring in, drawn before it does: dots on rails, power-up by power-up."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.picture import WIDE_PX, Picture, chart
from holdzero.chart.plot import AxisScale, Dots, Lettering, Mark, Plot, Px, Rules
from holdzero.chart.theme import THICK_PX
from holdzero.inputs.reading.values import Homings, Readings
from holdzero.quantity import System

LEFT_PX, RIGHT_PX = 52.0, 10.0
HEAD_PX, RAIL_PX, FOOT_PX = 22.0, 40.0, 20.0
SWING_PX = 13.0  # farthest a dot lies off its rail
MOST_SETS, MOST_SETS_NARROW = 24, 10  # power-ups drawn; the others are counted
MOST_DOTS = 40  # of one power-up on one rail
SIDES = {"L": "left", "R": "right", "": "one side"}


@dataclass(frozen=True, slots=True)
class _Block:
    """One candidate: its rails, and its power-ups in order."""

    name: str
    rails: tuple[Homings, ...]
    sets: tuple[str, ...]


def incoming_picture(readings: Readings, *, left_out: Sequence[str] = (), system: System = "metric") -> Picture:
    """Picture readings that are about to come in.

    Parameters
    ----------
    readings : Readings
        As they would be kept.
    left_out : sequence of str
        What is not used, and why; a cross is drawn for each.
    system : "metric" or "inch"
        Units shown.

    Returns
    -------
    Picture
        A block a candidate with a rail a side. Power-ups stand one after the other; each dot is a homing, as far
        off its rail as it was read off the middle; a ring is one that is kept but does not count.
    """
    blocks = _blocks(readings)
    largest = max((_swing_mm(block) for block in blocks), default=0.0)
    unit = length_unit(largest, system)
    words = _words(blocks, left_out)
    return chart("What comes in", words, lambda width: _plot(blocks, left_out, unit, width))


def _blocks(readings: Readings) -> list[_Block]:
    by_name: dict[tuple[str, str], list[Homings]] = {}
    for group in readings.groups:
        by_name.setdefault((group.sensor, group.axis), []).append(group)
    blocks = []
    for (sensor, axis), groups in by_name.items():
        labels = dict.fromkeys(label for group in groups for label in group.set_label.tolist())
        name = ", ".join(filter(None, (sensor or "no candidate named", f"axis {axis}" if axis else "")))
        rails = tuple(sorted(groups, key=lambda group: group.side))
        blocks.append(_Block(name, rails, tuple(labels)))
    return blocks


def _middle_mm(group: Homings) -> float:
    return float(np.median(group.deviation_mm))


def _swing_mm(block: _Block) -> float:
    return max(float(np.abs(group.deviation_mm - _middle_mm(group)).max()) for group in block.rails)


def _plot(blocks: Sequence[_Block], left_out: Sequence[str], unit: LengthUnit, width: float) -> Plot:
    room = width - LEFT_PX - RIGHT_PX
    most = MOST_SETS if width >= WIDE_PX else MOST_SETS_NARROW
    marks: list[Mark] = []
    y = 0.0
    for block in blocks:
        marks.append(Lettering(rows=[(Px(2 - LEFT_PX), Px(y + HEAD_PX / 2), _head(block))], bold=True))
        y += HEAD_PX
        sets = block.sets[:most]
        column = room / max(len(sets), 1)
        top = y
        for group in block.rails:
            marks += _rail(group, sets, unit, y + RAIL_PX / 2, column=column, swing_mm=_swing_mm(block))
            y += RAIL_PX
        walls = [(Px(column * i), Px(top), Px(column * i), Px(y)) for i in range(1, len(sets))]
        if walls:
            marks.insert(0, Rules(rows=walls, dash="2 3", opacity=0.6))
        every = 1 if column > 22 else 2 if column > 11 else 4
        marks += [
            Lettering(rows=[(Px(column * (i + 0.5)), Px(y + 6), label[:6])], align="center")
            for i, label in enumerate(sets)
            if i % every == 0
        ]
        more = len(block.sets) - len(sets)
        y += FOOT_PX
        if more:
            text = f"and {more} more power-up{'' if more == 1 else 's'}, not drawn"
            marks.append(Lettering(rows=[(Px(room), Px(y), text)], align="right"))
            y += FOOT_PX
    if left_out:
        shown = left_out[: int(room / 14)]
        marks.append(Lettering(rows=[(Px(2 - LEFT_PX), Px(y + 12), "not used")]))
        dots = [(Px(16 + 14 * i), Px(y + 12)) for i in range(len(shown))]
        marks.append(Dots(rows=dots, shape="cross", radius=4, accent=True, notes=list(shown)))
        y += 26
    return Plot(
        width=width,
        height=y,
        x=AxisScale(low=0.0, high=1.0),
        y=AxisScale(low=0.0, high=1.0),
        marks=marks,
        left=LEFT_PX,
        right=RIGHT_PX,
    )


def _rail(
    group: Homings, sets: Sequence[str], unit: LengthUnit, y: float, *, column: float, swing_mm: float
) -> list[Mark]:
    """One side: the rail, and its dots power-up by power-up; a power-up it has no reading of says so."""
    middle_mm, width = _middle_mm(group), column * len(sets)
    marks: list[Mark] = [
        Lettering(rows=[(Px(-8), Px(y), SIDES.get(group.side, group.side))], align="right"),
        Rules(rows=[(Px(0), Px(y), Px(width), Px(y))], width=THICK_PX, opacity=0.5),
    ]
    counted, aside, notes, aside_notes = [], [], [], []
    for i, label in enumerate(sets):
        of_set = np.flatnonzero(group.set_label == label)[:MOST_DOTS]
        if not of_set.size:
            marks.append(Lettering(rows=[(Px(column * (i + 0.5)), Px(y - 9), "none")], align="center"))
        step = column / (of_set.size + 1)
        for place, k in enumerate(of_set.tolist()):
            off = (group.deviation_mm[k] - middle_mm) / swing_mm * SWING_PX if swing_mm else 0.0
            at = Px(column * i + step * (place + 1)), Px(y - off)
            note = f"power-up {label}, homing {group.homing[k]}: {unit.say(float(group.deviation_mm[k]))}"
            if group.counted[k]:
                counted.append(at)
                notes.append(note)
            else:
                aside.append(at)
                aside_notes.append(f"{note}, {_why(group, k)}")
    marks.append(Dots(rows=counted, notes=notes))
    if aside:
        marks.append(Dots(rows=aside, shape="ring", notes=aside_notes))
    return marks


def _why(group: Homings, k: int) -> str:
    if group.repeat[k]:
        return "read again without homing"
    return f"does not count: {group.set_aside[k]}" if group.set_aside[k] else "does not count"


def _head(block: _Block) -> str:
    n = sum(group.homing.size for group in block.rails)
    sets = len(block.sets)
    return f"{block.name}: {n} reading{'' if n == 1 else 's'}, {sets} power-up{'' if sets == 1 else 's'}"


def _words(blocks: Sequence[_Block], left_out: Sequence[str]) -> str:
    """What the picture shows, for whoever cannot see it."""
    phrases = []
    for block in blocks:
        sides = ", ".join(f"{SIDES.get(group.side, group.side)} {group.homing.size}" for group in block.rails)
        phrases.append(f"{_head(block)} ({sides})")
    if left_out:
        phrases.append(f"{len(left_out)} not used")
    return ". ".join(phrases) + "."
