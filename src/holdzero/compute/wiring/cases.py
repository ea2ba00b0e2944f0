"""Cases: the states, corners and faults of circuits of one shape, as columns of one network.

A case says which sensors are tripped, where each tolerance stands, and what is broken. All circuits of
one shape take the same cases, so the columns are circuits x cases.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.wiring import parts
from holdzero.compute.wiring.conductor import warm
from holdzero.compute.wiring.netlist import Fault, Netlist, NetPart
from holdzero.compute.wiring.network import ABSENT_OHM, OPEN_OHM, SHORT_OHM, CurrentCurve, Floats, Network
from holdzero.compute.wiring.values import Circuit, Limits
from holdzero.inputs.sensor.output import Output

Bools = NDArray[np.bool_]
FACTORS = (
    "supply",
    "logic",
    "sensor",
    "input",
    "series",
    "pull-up",
    "pull-down",
    "across",
    "built-in up",
    "built-in down",
)
# A warm wire goes with the sensor's worst: both weaken an output that is on, and neither matters to one that
# is off. Resistors that pull against each other, or against a drop, have corners of their own; those in one row,
# or side by side, share one.
# Of a sensor, where it has a corner of its own: an edge begins on and ends off, or the other way.
LEAKAGE = "leakage"
LINE_OHM = 1e-3
LOGIC_OHM = 0.05
PIN_LEAK_A = 10e-6  # either way; common practice, no source
IEC_SPREAD = (0.87, 1.15)  # of an input's current: stays inside the regions of IEC 61131-2
CLAMP_OHM = 20.0  # common practice, no source
_BUILT_IN_SPREAD = 0.3
JOINT_OHM = 5e3  # a terminal or plug gone bad: "some kilo-ohms"; common practice, no source
WATER_OHM = 10e3  # between two contacts of a wet plug; common practice, no source
JOINED_BY_FAULT = ("short", "water", "touch")


@dataclass(frozen=True, slots=True)
class Cases:
    """What differs from column to column, shape (cases,) or (sensors, cases)."""

    sensors: int
    state: NDArray[np.intp]  # 0: nobody tripped; k: sensor number k, from 1, tripped alone
    levels: dict[str, NDArray[np.int8]] = field(default_factory=dict)  # factor: -1 low, 0 nominal, 1 high
    opened: dict[str, Bools] = field(default_factory=dict)  # part: broken
    shorted: dict[str, Bools] = field(default_factory=dict)  # part of kind "short": there
    stuck: NDArray[np.int8] | None = None  # (sensors, cases): -1 free, 0 off, 1 on
    joints: dict[str, Bools] = field(default_factory=dict)  # part: has some kilo-ohms
    asleep: Bools | None = None  # (cases,): what the input sees is tripped by nothing

    @property
    def count(self) -> int:
        """Number of cases."""
        return len(self.state)

    def take(self, columns: NDArray[np.intp]) -> "Cases":
        """Return these cases, in this order."""
        return Cases(
            self.sensors,
            self.state[columns],
            {name: row[columns] for name, row in self.levels.items()},
            {name: row[columns] for name, row in self.opened.items()},
            {name: row[columns] for name, row in self.shorted.items()},
            None if self.stuck is None else self.stuck[:, columns],
            {name: row[columns] for name, row in self.joints.items()},
            None if self.asleep is None else self.asleep[columns],
        )


def states(sensors: int) -> Cases:
    """Nobody tripped, then each sensor tripped alone."""
    return Cases(sensors, np.arange(1 + sensors))


def corners(sensors: int, net: Netlist) -> Cases:
    """Every state at every corner of the tolerances that the circuit has: state by state, corners inside."""
    kinds = {p.kind for p in net.parts}
    present = {
        "supply": "supply" in kinds,
        "logic": "logic supply" in kinds,
        "sensor": True,
        "input": True,
        "series": bool(kinds & {"series", "filter resistor"}),
        "pull-up": "pull-up" in kinds,
        "pull-down": "pull-down" in kinds,
        "across": bool(kinds & {"bleed", "shunt"}),
        "built-in up": "built-in pull-up" in kinds,
        "built-in down": "built-in pull-down" in kinds,
    }
    used = [name for name in FACTORS if present[name]]
    grid = np.array(list(product((-1, 1), repeat=len(used))), np.int8).T
    return Cases(
        sensors,
        np.repeat(np.arange(1 + sensors), grid.shape[1]),
        {name: np.tile(row, 1 + sensors) for name, row in zip(used, grid, strict=True)},
    )


def faulty(sensors: int, faults: Sequence[Fault]) -> Cases:
    """Every fault in every state: fault by fault, states inside."""
    rows_each, total = 1 + sensors, (1 + sensors) * len(faults)

    def where(names: Callable[[Fault], tuple[str, ...]]) -> dict[str, Bools]:
        rows: dict[str, Bools] = {}
        for k, fault in enumerate(faults):
            for name in names(fault):
                rows.setdefault(name, np.zeros(total, bool))[k * rows_each : (k + 1) * rows_each] = True
        return rows

    stuck = np.full((sensors, total), -1, np.int8)
    for k, fault in enumerate(faults):
        if fault.stuck is not None:
            stuck[fault.sensor, k * rows_each : (k + 1) * rows_each] = fault.stuck
    return Cases(
        sensors,
        np.tile(np.arange(rows_each), len(faults)),
        {},
        where(lambda f: f.open),
        where(lambda f: f.short),
        stuck,
        where(lambda f: f.joint),
        np.repeat([f.asleep for f in faults], rows_each),
    )


@dataclass(frozen=True, slots=True)
class Bench:
    """Circuits of one shape on the bench, under given cases: makes the network, and hands out figures.

    Arrays have shape (circuits, cases), or (circuits, 1) where all cases are alike.
    """

    net: Netlist
    circuits: Sequence[Circuit]
    cases: Cases
    stated_only: bool = False  # tolerances that we assumed are left at nominal
    tap_ohm: float = ABSENT_OHM  # of an instrument at the input's terminal

    @property
    def shape(self) -> tuple[int, int]:
        """(circuits, cases)."""
        return len(self.circuits), self.cases.count

    def pick(self, of: Callable[[Circuit], Limits], factor: str) -> Floats:
        """Return a value where the cases put it, shape (circuits, cases) or (circuits, 1) if all alike."""
        limits = [of(c) for c in self.circuits]
        if self.stated_only:
            limits = [limit.as_stated for limit in limits]
        level = self.cases.levels.get(factor)
        nominal = np.array([[limit.nominal] for limit in limits])
        if level is None:
            return nominal
        low = np.array([[limit.low] for limit in limits])
        high = np.array([[limit.high] for limit in limits])
        return np.where(level < 0, low, np.where(level > 0, high, nominal))

    def plain(self, of: Callable[[Circuit], float]) -> Floats:
        """Return a figure without room, shape (circuits, 1)."""
        return np.array([[of(c)] for c in self.circuits])

    def logic_v(self) -> Floats:
        """Supply of the input."""
        return self.pick(lambda c: c.logic_volt, self._logic_factor)

    def high_v(self) -> Floats:
        """Where a logic input surely reads high."""
        return self.pick(lambda c: c.input.surely_high(c.logic_volt), self._logic_factor)

    @property
    def _logic_factor(self) -> str:
        return "supply" if self.circuits[0].supply.shared else "logic"

    def commanded(self, k: int) -> Bools:
        """Whether sensor `k` switches its output on, shape (circuits, cases)."""
        closes = np.array([[not c.sensors[k].contact.rests_closed] for c in self.circuits])
        tripped = self.cases.state == k + 1
        if self.cases.asleep is not None:
            tripped = tripped & ~self.cases.asleep
        on = tripped == closes
        if self.cases.stuck is not None:
            on = np.where(self.cases.stuck[k] >= 0, self.cases.stuck[k] == 1, on)
        return np.broadcast_to(on, self.shape)

    def network(self) -> Network:
        """Return the network of all cases, every output as it is commanded."""
        net = Network(*self.shape)
        hot = self._warmth()
        for part in self.net.parts:
            if part.kind in JOINED_BY_FAULT and not self.cases.shorted:
                continue
            net.add(part.name, part.first, part.second, self._curve(part, hot))
        return net

    def _warmth(self) -> Floats:
        """Resistance of copper over that at 20 degC."""
        return self.pick(
            lambda c: Limits(1.0, warm(c.cable.low_degc), warm(c.cable.high_degc), stated=True), "sensor"
        )

    def _ohm(self, ohm: Floats, part: NetPart) -> CurrentCurve:
        opened, joint = self.cases.opened.get(part.name), self.cases.joints.get(part.name)
        if joint is not None:
            ohm = np.where(joint, ohm + JOINT_OHM, ohm)
        return CurrentCurve.resistor(ohm if opened is None else np.where(opened, OPEN_OHM, ohm))

    def _joined(self, part: NetPart, ohm: float) -> Floats:
        """Resistance of what only a fault puts there."""
        shorted = self.cases.shorted.get(part.name)
        return np.array([[ABSENT_OHM]]) if shorted is None else np.where(shorted, ohm, ABSENT_OHM)[None, :]

    def _curve(self, part: NetPart, hot: Floats) -> CurrentCurve:
        """Return the curve of one part in every column."""
        k = part.sensor
        match part.kind:
            case "core":
                return self._ohm(self.plain(lambda c: c.core_ohm(k)) * hot, part)
            case "link":
                return self._ohm(np.array([[LINE_OHM]]), part)
            case "wire":
                link = part.name == "0 V link"
                return self._ohm(
                    self.plain(lambda c: (c.supply.joined_ohm or LINE_OHM) if link else LINE_OHM), part
                )
            case "line":
                return self._ohm(np.array([[LINE_OHM]]), part)
            case "short":
                return CurrentCurve.resistor(self._joined(part, SHORT_OHM))
            case "water":
                return CurrentCurve.resistor(self._joined(part, WATER_OHM))
            case "touch":
                volt = self.pick(lambda c: c.supply.volt, "supply")
                return CurrentCurve.supply(volt, self._joined(part, SHORT_OHM))
            case "supply":
                volt = self.pick(lambda c: c.supply.volt, "supply")
                return CurrentCurve.supply(volt, self.plain(lambda c: c.supply.ohm))
            case "logic supply":
                lost = self.cases.opened.get(part.name)
                ohm = LOGIC_OHM if lost is None else np.where(lost, OPEN_OHM, LOGIC_OHM)
                return CurrentCurve.supply(self.logic_v(), ohm)
            case Output.DRY_CONTACT:
                ohm = self.pick(lambda c: c.sensors[k].contact_ohm, "sensor")
                return parts.contact(closed=self.commanded(k), ohm=ohm)
            case Output.TWO_WIRE | "high" | "low":
                return self._output(part)
            case "electronics" | "others":
                own = self.pick(lambda c: c.sensors[k].own_a, "sensor")
                more = self.plain(lambda c: c.cable.shared_by - 1.0) if part.kind == "others" else 1.0
                return parts.electronics(own_a=own * more)
            case "diode":
                return parts.diode()
            case "clamp":
                return parts.diode(knee_v=self.plain(lambda c: c.input.clamp_v), ohm=CLAMP_OHM)
            case "built-in pull-up" | "built-in pull-down":
                up = part.kind == "built-in pull-up"
                factor = "built-in up" if up else "built-in down"
                return CurrentCurve.resistor(self.pick(lambda c: _built_in(c, k, up=up), factor))
            case "leak up" | "leak down":
                level = self.cases.levels.get("input")
                if level is None or self.stated_only:
                    return parts.leakage(amp=0.0)
                return parts.leakage(amp=np.where(level == (-1 if part.kind == "leak up" else 1), PIN_LEAK_A, 0.0))
            case "led":
                return parts.led(knee_v=self.pick(lambda c: c.input.led_v, "input"))
            case "IEC":
                spread = self.pick(lambda _: Limits(1.0, *IEC_SPREAD), "input")
                return parts.iec_input(kind=[c.input.iec_type for c in self.circuits], scale=spread)
            case "series":
                return CurrentCurve.resistor(self.pick(lambda c: _value_of(c.input.series_ohm), "series"))
            case "filter resistor":
                return CurrentCurve.resistor(self.pick(lambda c: _value_of(c.input.filter_ohm), "series"))
            case "pull-up":
                return CurrentCurve.resistor(self.pick(lambda c: _value_of(c.input.pull_up_ohm), "pull-up"))
            case "pull-down":
                return CurrentCurve.resistor(self.pick(lambda c: _value_of(c.input.pull_down_ohm), "pull-down"))
            case "bleed":
                return CurrentCurve.resistor(self.pick(lambda c: _value_of(c.input.bleed_ohm), "across"))
            case "shunt":
                return CurrentCurve.resistor(self.pick(lambda c: _value_of(c.input.shunt_ohm), "across"))
            case "tap":
                return CurrentCurve.resistor(self.tap_ohm)
            case _:
                raise ValueError(f"no curve for a part of kind {part.kind}")

    def let_go(self, network: Network, dead: Bools) -> Network:
        """Return the network with outputs let go where `dead`, shape (sensors, circuits, cases)."""
        outputs = [part for part in self.net.parts if part.kind in ("high", "low")]
        return network.with_curves({part.name: self._output(part, dead) for part in outputs})

    def _output(self, part: NetPart, dead: Bools | None = None) -> CurrentCurve:
        k = part.sensor
        on = self.commanded(k)
        if part.kind == "low" and self.circuits[0].sensors[k].output.both_ways:
            on = ~on
        if dead is not None:
            on = on & ~dead[k]
        drop = self.pick(lambda c: c.sensors[k].drop_v, "sensor")
        leak = self.pick(lambda c: c.sensors[k].leak_a, LEAKAGE if LEAKAGE in self.cases.levels else "sensor")
        ohm, limit = self.plain(lambda c: c.sensors[k].ohm), self.plain(lambda c: c.sensors[k].limit_a)
        if part.kind == Output.TWO_WIRE:
            return parts.two_wire(on=on, drop_v=drop, ohm=ohm, limit_a=limit, leak_a=leak)
        return parts.transistor(on=on, knee_v=drop, ohm=ohm, limit_a=limit, leak_a=leak)

    def only(self, rows: Sequence[int]) -> "Bench":
        """The same cases for some of the circuits."""
        return replace(self, circuits=[self.circuits[row] for row in rows])


def _value_of(limits: Limits | None) -> Limits:
    if limits is None:
        raise ValueError("a part without its value: netlist and circuit do not belong together")
    return limits


def _built_in(circuit: Circuit, k: int, *, up: bool) -> Limits:
    sensor = circuit.sensors[k]
    ohm = sensor.pull_up_ohm if up else sensor.pull_down_ohm
    return Limits.around(ohm or ABSENT_OHM, _BUILT_IN_SPREAD)
