"""Captures made up with a known truth: an axis that goes in and out, and the edges an analyser would see of it.

The axis moves evenly; an encoder's edges lie at whole multiples of the count; the switch trips at a place drawn
for each homing and its edge comes a delay later. Nothing here knows how holdzero reads or reckons.
"""

import gzip
import io
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from vcd import VCDWriter

ORDER = ((0, 0), (1, 0), (1, 1), (0, 1))  # A, B while counting up: A leads


@dataclass
class Truth:
    """What was really so. Places are counted from the start of the file, + inward. [mm, s, ticks]"""

    tick_s: float
    count_mm: float
    changes: list = field(default_factory=list)  # (tick, channel, level)
    initial: dict = field(default_factory=dict)
    trip_mm: list = field(default_factory=list)  # where the axis was at the first edge
    release_mm: list = field(default_factory=list)
    speed_mm_s: list = field(default_factory=list)
    trip_tick: list = field(default_factory=list)
    trip_last: list = field(default_factory=list)
    trip_edges: list = field(default_factory=list)
    release_tick: list = field(default_factory=list)
    pulse_tick: list = field(default_factory=list)
    pulse_ticks: list = field(default_factory=list)
    final_count: int = 0

    def sorted(self):
        """Changes in order of time."""
        return sorted(self.changes, key=lambda change: change[0])


def homings(
    speeds,
    *,
    seed=1,
    tick_s=1e-6,
    count_mm=0.01,
    trip_at=3.0,
    spread=0.002,
    hysteresis=0.1,
    delay=0.0,
    release_delay=None,
    jitter=0.0,
    bounce=0.0,
    pulses=0,
    index=None,
    index_at=0.0,
    steps=False,
    over=0.3,
    switch="SW",
    low=False,
    sense=1,
    wander=None,
):
    """Make a capture of one homing for each speed.

    Parameters
    ----------
    speeds : sequence of float
        Of each homing, in and out. [mm/s]
    bounce : float
        Mean time between the edges of a bounce; 0: clean edges. [s]
    pulses : int
        Interference pulses of 2 us while the axis is far from the switch, one in each of the first homings.
    index : float, optional
        Pitch of the index. [mm]
    wander : sequence of float, optional
        Added to the trip place of each homing. [mm]
    """
    rng = np.random.default_rng(seed)
    truth = Truth(tick_s, count_mm)
    release_delay = delay if release_delay is None else release_delay
    start = 0.0037
    origin = np.floor(start / count_mm)
    x, t = start, 0.01
    clear = int(low)
    truth.initial = {"A": ORDER[0][0], "B": ORDER[0][1], switch: clear}
    if steps:
        truth.initial |= {"A": 0, "B": 0}
    if index:
        truth.initial["Z"] = 0

    def ticks(time):
        return round(time / tick_s)

    def move(to, speed):
        nonlocal x, t
        way = 1 if to > x else -1
        low_edge, high_edge = sorted((x, to))
        edges = np.arange(np.ceil(low_edge / count_mm), np.floor(high_edge / count_mm) + 1)[::way]
        if steps and edges.size:
            truth.changes.append((ticks(t - 1e-4), "B", int(way * sense > 0)))
        for edge in edges:
            when = ticks(t + abs(edge * count_mm - x) / speed)
            if steps:
                truth.changes += [(when, "A", 1), (when + 3, "A", 0)]
                truth.final_count += way
                continue
            after = int(edge - origin) if way > 0 else int(edge - origin) - 1
            before = after - way
            truth.final_count = after
            new, old = ORDER[sense * after % 4], ORDER[sense * before % 4]
            if new[0] != old[0]:
                truth.changes.append((when, "A", new[0]))
            else:
                truth.changes.append((when, "B", new[1]))
        if index:
            for k in np.arange(
                np.ceil((low_edge - index_at) / index), np.floor((high_edge - index_at) / index) + 1
            )[::way]:
                for flank, level in ((0.0, way > 0), (2.5 * count_mm, way < 0)):
                    place = index_at + k * index + flank
                    if low_edge < place < high_edge:
                        truth.changes.append((ticks(t + abs(place - x) / speed), "Z", int(level)))
        t += abs(to - x) / speed
        x = to

    def switched(when, level):
        first = ticks(when)
        edges = [first]
        if bounce:
            for _ in range(2 * int(rng.integers(0, 4))):
                edges.append(edges[-1] + 1 + int(rng.exponential(bounce) / tick_s))
        truth.changes += [(edge, switch, level ^ (i % 2)) for i, edge in enumerate(edges)]
        return first, edges[-1], len(edges)

    for number, speed in enumerate(speeds):
        late = max(delay + jitter * rng.normal(), 0.0)
        place = trip_at + spread * rng.normal() + (wander[number] if wander is not None else 0.0)
        end = place + speed * late + over + 0.2 * rng.random()
        begin_t, begin_x = t, x
        move(end, speed)
        when = begin_t + (place - begin_x) / speed + late
        first, last, edges = switched(when, 1 - clear)
        truth.trip_tick.append(first)
        truth.trip_last.append(last)
        truth.trip_edges.append(edges)
        truth.trip_mm.append(place + speed * late - origin * count_mm)
        truth.speed_mm_s.append(speed)
        t += 0.05
        begin_t, begin_x = t, x
        back = start + 0.4 * rng.random()
        move(back, speed)
        place -= hysteresis
        when = begin_t + (begin_x - place) / speed + release_delay
        truth.release_tick.append(switched(when, clear)[0])
        truth.release_mm.append(place - speed * release_delay - origin * count_mm)
        if number < pulses:
            at = ticks(t + 0.03)
            truth.changes += [(at, switch, 1 - clear), (at + 2, switch, clear)]
            truth.pulse_tick.append(at)
            truth.pulse_ticks.append(2)
        t += 0.06
    return truth


def write_vcd(path: Path, truth, *, timescale="1 us", aliases=False, packed=False):
    """Write a capture with pyvcd."""
    text = io.StringIO()
    with VCDWriter(text, timescale=timescale, date="", version="") as writer:
        wires = {
            name: writer.register_var("rig", name, "wire", size=1, init=level)
            for name, level in truth.initial.items()
        }
        if aliases:
            writer.register_alias("rig.copy", "A_too", wires["A"])
        for tick, channel, level in truth.sorted():
            writer.change(wires[channel], tick, level)
    data = text.getvalue().encode()
    path.write_bytes(gzip.compress(data) if packed else data)
    return path


def write_csv(path: Path, truth, *, how="rows", delimiter=","):
    """Write a capture as CSV: all levels in `rows` at each change, in `samples` by number, or a `list`."""
    names = list(truth.initial)
    level = dict(truth.initial)
    lines = []
    if how == "list":
        lines = ["time_s,channel,level", *(f"0,{name},{level[name]}" for name in names)]
        lines += [f"{tick * truth.tick_s:.9f},{channel},{to}" for tick, channel, to in truth.sorted()]
    else:
        clock = "sample" if how == "samples" else "time_s"
        lines = [delimiter.join([clock, *names])]
        at = 0

        def row():
            when = str(at) if how == "samples" else f"{at * truth.tick_s:.9f}"
            lines.append(delimiter.join([when, *(str(level[name]) for name in names)]))

        for tick, channel, to in truth.sorted():
            if tick != at:
                row()
                at = tick
            level[channel] = to
        row()
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path
