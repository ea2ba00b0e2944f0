"""Seen: what the controller's input makes of a circuit, case by case.

Logic pins read volts, opto-couplers read the current of their LED, IEC 61131-2 inputs read both. An
output holds "on" only while its own supply is up: solved, looked at, and where it is down solved again
with the output let go; if it would then switch on again, it chatters.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.wiring.cases import Bench, Bools
from holdzero.compute.wiring.network import Floats, Solved
from holdzero.compute.wiring.windows import PIN_OVER_V
from holdzero.inputs.sensor.output import Output

Levels = NDArray[np.int8]
ON, OFF, NEITHER = 1, -1, 0
SLACK = 1e-3  # at a limit is read, but nothing is left: the figures are good to 0.1 %
IEC_ON = {1: (15.0, 2e-3), 2: (11.0, 6e-3), 3: (11.0, 2e-3)}  # volts and amperes, IEC 61131-2
IEC_OFF = {1: (5.0, 0.5e-3), 2: (5.0, 2e-3), 3: (5.0, 1.5e-3)}  # volts or amperes
IEC_MOST_V = 30.0
LED_REVERSE_V = 5.0
RESISTORS = ("pull-up", "pull-down", "series", "bleed", "shunt", "filter resistor")


@dataclass(frozen=True, slots=True)
class Seen:
    """Figures of every circuit in every case, shape (circuits, cases)."""

    input_v: Floats  # logic: at the pin; else at the terminal, against the controller's 0 V
    input_a: Floats
    level: Levels  # ON, OFF or NEITHER
    on_v: Floats  # what is left above the least level that is surely on, below 0 where missing; nan: not read
    on_a: Floats
    off_v: Floats
    off_a: Floats
    chatters: Bools
    hurt: dict[str, Floats]  # what would be damaged: how far over its limit, in its own unit; above 0 is damage
    figures: dict[str, Floats]  # the figure compared there
    contact_a: Floats  # (sensors, circuits, cases): through each output
    contact_v: Floats
    volt: dict[str, Floats]  # of every node
    heat_w: dict[str, Floats]  # in each resistor that is added outside


def look(bench: Bench, near: "Seen | None" = None) -> Seen:
    """Solve all columns and read the input.

    Parameters
    ----------
    bench : Bench
        Circuits of one shape under given cases.
    near : Seen, optional
        The plain states of the same circuits, to start from.
    """
    network = bench.network()
    start = None
    if near is not None:
        start = np.array([near.volt[node][:, bench.cases.state] for node in network.nodes])
    first = network.solve(start)
    powered = [k for k, sensor in enumerate(bench.circuits[0].sensors) if sensor.output.three_wire]
    if not powered:
        return _read(bench, first)
    let_go = _let_go(bench, first, powered)
    if not let_go.any():
        return _read(bench, first)
    before = _read(bench, first)
    second = bench.let_go(network, let_go).solve(first.x, only=np.asarray(let_go.any(axis=0)))
    after = _read(bench, second)
    again = (let_go & ~_down(bench, second, powered)).any(axis=0)
    chatters = again & (after.level != before.level)
    return replace(after, level=np.where(chatters, NEITHER, after.level).astype(np.int8), chatters=chatters)


def _down(bench: Bench, solved: Solved, powered: list[int]) -> Bools:
    """Whether each sensor's own supply is too low to hold an output, shape (sensors, circuits, cases)."""
    down = np.zeros((len(bench.circuits[0].sensors), *bench.shape), bool)
    for k in powered:
        own = solved.drop(f"{bench.circuits[0].sensors[k].name} electronics")
        down[k] = own < bench.plain(lambda c, k=k: c.sensors[k].hold_v)  # type: ignore[misc]
    return down


def _let_go(bench: Bench, solved: Solved, powered: list[int]) -> Bools:
    down = _down(bench, solved, powered)
    for k in powered:
        if not bench.circuits[0].sensors[k].output.both_ways:
            down[k] &= bench.commanded(k)
        if bench.cases.stuck is not None:
            down[k] &= bench.cases.stuck[k] != 1  # stuck on: a transistor that has failed needs no supply
    return down


def _read(bench: Bench, solved: Solved) -> Seen:
    shape = bench.shape
    controller_input = bench.circuits[0].input
    nan = np.full(shape, np.nan)

    hurt: dict[str, Floats] = {}
    figures: dict[str, Floats] = {}

    def harm(code: str, figure: Floats, limit: Floats | float) -> None:
        figures[code] = figure
        hurt[code] = figure - limit

    on_v, on_a, off_v, off_a = nan, nan, nan, nan
    if controller_input.kind == "logic":
        pin = "pin" if controller_input.series_ohm is not None else "in"
        logic_v = bench.logic_v()
        input_v = solved.volt(pin)
        cores = [p for p in bench.net.parts if p.second == "in" and p.kind == "core"]
        input_a = np.abs(sum((solved.amp(p.name) for p in cores), np.zeros(shape)))
        high_v = bench.high_v()
        low_v = bench.plain(lambda c: c.input.surely_low_v)
        on_v, off_v = input_v - high_v, low_v - input_v
        scale_on, scale_off = high_v, low_v
        level = np.where(on_v >= -SLACK * scale_on, ON, np.where(off_v >= -SLACK * scale_off, OFF, NEITHER))
        if controller_input.clamp is not False:
            harm(
                "clamp current",
                np.maximum(solved.amp("clamp to plus"), solved.amp("clamp from 0 V")),
                bench.plain(lambda c: c.input.clamp_a),
            )
        # A clamp that is only assumed must not be leaned on: the pin's own limit counts.
        most = np.where(bench.plain(lambda c: c.input.clamp is True), np.inf, PIN_OVER_V)
        harm("pin over supply", input_v - logic_v, most)
        harm("pin below 0 V", -input_v, most)
    elif controller_input.kind == "opto":
        input_v, input_a = solved.volt("in"), solved.amp("LED")
        on, off = bench.plain(lambda c: c.input.on_a), bench.plain(lambda c: c.input.off_a)
        on_a, off_a = input_a - on, off - input_a
        level = np.where(on_a >= -SLACK * on, ON, np.where(off_a >= -SLACK * off, OFF, NEITHER))
        harm("LED current", input_a, bench.plain(lambda c: c.input.most_a))
        if not controller_input.reverse_diode:
            harm("LED reversed", -solved.drop("LED"), LED_REVERSE_V)
    else:
        input_v, input_a, across = solved.volt("in"), solved.amp("input"), solved.drop("input")
        need_v, need_a = (
            bench.plain(lambda c: IEC_ON[c.input.iec_type][0]),
            bench.plain(lambda c: IEC_ON[c.input.iec_type][1]),
        )
        most_v, most_a = (
            bench.plain(lambda c: IEC_OFF[c.input.iec_type][0]),
            bench.plain(lambda c: IEC_OFF[c.input.iec_type][1]),
        )
        on_v, on_a, off_v, off_a = across - need_v, input_a - need_a, most_v - across, most_a - input_a
        is_on = (on_v >= -SLACK * need_v) & (on_a >= -SLACK * need_a)
        is_off = (off_v >= -SLACK * most_v) | (off_a >= -SLACK * most_a)
        level = np.where(is_on, ON, np.where(is_off, OFF, NEITHER))
        harm("input voltage", np.abs(across), IEC_MOST_V)
    contact_a, contact_v = _sensors(bench, solved, harm)
    return Seen(
        input_v,
        input_a,
        level.astype(np.int8),
        on_v,
        on_a,
        off_v,
        off_a,
        np.zeros(shape, bool),
        hurt,
        figures,
        contact_a,
        contact_v,
        {node: solved.volt(node) for node in solved.nodes},
        {p.name: solved.amp(p.name) * solved.drop(p.name) for p in bench.net.parts if p.kind in RESISTORS},
    )


def _sensors(
    bench: Bench, solved: Solved, harm: Callable[[str, Floats, Floats | float], None]
) -> tuple[Floats, Floats]:
    """Current through and voltage across each output, and what would hurt a sensor."""
    sensors = bench.circuits[0].sensors
    current, across = np.zeros((len(sensors), *bench.shape)), np.zeros((len(sensors), *bench.shape))
    for k, sensor in enumerate(sensors):
        own_parts = [p for p in bench.net.parts if p.sensor == k]
        for part in own_parts:
            if part.kind in (Output.DRY_CONTACT, Output.TWO_WIRE, "high", "low"):
                through = solved.amp(part.name)
                rating = bench.plain(lambda c, k=k: c.sensors[k].rating_a)  # type: ignore[misc]
                harm(f"{part.name} current", np.abs(through), rating)  # flat at its limit is just over it
                if part.kind == Output.TWO_WIRE:
                    harm(f"{part.name} reversed", -solved.drop(part.name), 1.0)
                if np.abs(through).sum() >= np.abs(current[k]).sum():
                    current[k], across[k] = through, solved.drop(part.name)
            if part.kind == "electronics":
                own = solved.drop(part.name)
                harm(f"{sensor.name} reversed", -own, 1.0)
                most = bench.plain(lambda c, k=k: c.sensors[k].bears_v or np.inf)  # type: ignore[misc]
                harm(f"{sensor.name} supply", own, most)
    return current, across
