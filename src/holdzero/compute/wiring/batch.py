"""Batch: circuits of one shape, solved whole, at every corner and with every fault, and what can be read off."""

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.wiring.cases import Bench, Bools, Cases, corners, faulty, states
from holdzero.compute.wiring.netlist import CircuitShape, Netlist, netlist_of
from holdzero.compute.wiring.network import Floats
from holdzero.compute.wiring.results import (
    LOSSES,
    Damage,
    Effect,
    FaultRow,
    Grade,
    Reads,
    State,
    Wetting,
)
from holdzero.compute.wiring.seen import IEC_OFF, IEC_ON, NEITHER, OFF, ON, SLACK, Levels, Seen, look
from holdzero.compute.wiring.values import Circuit, Input, Limits, SensorOutput, Supply
from holdzero.compute.wiring.words import milliamps, volts

WETS = {"silver": (5.0, 10e-3), "gold": (5.0, 1e-3), "reed": (5.0, 0.1e-3)}  # V and A; common practice, no source
HARM = {  # what a figure of `Seen.hurt` means for the input
    "clamp current": ("A", "{figure} through the clamp diode of the input's pin, where {limit} is the most"),
    "pin over supply": ("V", "the input's pin {figure} above its own supply, where {limit} is the most"),
    "pin below 0 V": ("V", "the input's pin {figure} below 0 V, where {limit} is the most"),
    "LED current": ("A", "{figure} through the LED of the opto-coupler, where {limit} is the most"),
    "LED reversed": ("V", "the LED of the opto-coupler reversed by {figure}, where {limit} is the most"),
    "input voltage": ("V", "{figure} across the input, where {limit} is the most"),
}


@dataclass(frozen=True, slots=True)
class Batch:
    """What came out for the circuits of one shape; methods take the number of a circuit."""

    net: Netlist
    circuits: Sequence[Circuit]
    plain: Seen  # (circuits, states)
    corner: Seen  # (circuits, states x corners)
    corner_cases: Cases
    expected: Levels  # (circuits, states)
    corner_ok: Bools  # (circuits, states, corners)
    left: Floats  # (circuits, states, corners): share of the guaranteed level that is left, below 0 missing
    worst_corner: NDArray[np.intp]  # (circuits, states)
    grades: list[list[Grade]]  # (circuits, states)
    hurts: dict[str, list[bool]]  # what any state or corner would damage, by circuit
    heats: dict[str, list[float]]  # most that each added resistor takes, by circuit [W]
    faults: "_Faults"

    @classmethod
    def solve(cls, shape: CircuitShape, circuits: Sequence[Circuit]) -> "Batch":
        """Solve circuits of one shape."""
        net, sensors = netlist_of(shape), len(shape.outputs)
        plain = look(Bench(net, circuits, states(sensors)))
        corner_cases = corners(sensors, net)
        corners_bench = Bench(net, circuits, corner_cases)
        corner = look(corners_bench, plain)
        fault = look(Bench(net, circuits, faulty(sensors, net.faults)), plain)
        expected = _expected(circuits, plain.level)
        by_corner = (len(circuits), 1 + sensors, -1)
        corner_ok = corner.level.reshape(by_corner) == expected[:, :, None]
        left = _left(corners_bench, corner, np.repeat(expected, corner_ok.shape[2], axis=1)).reshape(by_corner)
        hurts: dict[str, list[bool]] = {}
        for code, rows in corner.hurt.items():
            hurt = np.logical_or((rows > 0).any(axis=1), (plain.hurt[code] > 0).any(axis=1))
            hurts[code] = [bool(harmed) for harmed in hurt]
        return cls(
            net,
            circuits,
            plain,
            corner,
            corner_cases,
            expected,
            corner_ok,
            left,
            left.argmin(axis=2),
            _grades(plain.level == expected, corner_ok.all(axis=2) & (left.min(axis=2) > SLACK)),
            hurts,
            {name: heat.max(axis=1).tolist() for name, heat in corner.heat_w.items()},
            _Faults.of(circuits, fault, expected, net),
        )

    def held_as_stated(self) -> dict[int, bool]:
        """For circuits that fail only at a corner: whether they hold when only stated tolerances are counted."""
        failing = [
            k
            for k, grades in enumerate(self.grades)
            if "marginal" in grades and "wrong" not in grades and _says_tolerances(self.circuits[k])
        ]
        if not failing:
            return {}
        circuits = [self.circuits[k] for k in failing]
        seen = look(Bench(self.net, circuits, self.corner_cases, stated_only=True))
        ok = seen.level.reshape(len(failing), *self.corner_ok.shape[1:]) == self.expected[failing][:, :, None]
        return dict(zip(failing, ok.all(axis=(1, 2)).tolist(), strict=True))

    # states ------------------------------------------------------------------------------------------

    def worst(self, k: int) -> int:
        """Which sensor tripped, counted from 1, reads worst: wrong before marginal before the least margin."""
        order: tuple[Grade, ...] = ("wrong", "marginal", "good")
        return min(
            range(1, len(self.grades[k])),
            key=lambda s: (order.index(self.grades[k][s]), self.left[k, s, self.worst_corner[k, s]]),
        )

    def state(self, k: int, s: int) -> State:
        """Figures of one state: 0 clear, else the sensor that is tripped."""
        circuit, on = self.circuits[k], self.expected[k, s] == ON
        column = s * self.left.shape[2] + int(self.worst_corner[k, s])
        corners_of = slice(s * self.left.shape[2], (s + 1) * self.left.shape[2])
        every_v = (self.corner.on_v if on else self.corner.off_v)[k, corners_of]
        every_a = (self.corner.on_a if on else self.corner.off_a)[k, corners_of]
        # The least of each, which need not be at one corner.
        margin_v: float | None = float(every_v.min())
        margin_a: float | None = float(every_a.min())
        if circuit.input.kind == "logic":
            margin_a = None
        elif circuit.input.kind == "opto":
            margin_v = None
        elif not on:  # volts or amperes: one of them is enough
            margin_v, margin_a = _surer(circuit.input.iec_type, every_v, every_a)
        level = self.corner_cases.levels.get("supply")
        supply = circuit.supply.volt
        return State(
            float(self.plain.input_v[k, s]),
            float(self.plain.input_a[k, s]),
            _reads(int(self.plain.level[k, s]), int(self.expected[k, 0])),
            margin_v,
            margin_a,
            self.grades[k][s],
            None if level is None else supply.low if level[column] < 0 else supply.high,
            at_limit=self.grades[k][s] == "marginal" and bool(self.corner_ok[k, s].all()),
        )

    def drop_decides(self, k: int) -> bool:
        """Whether the unknown drop of an output at a small current is what stands in the way of a logic input."""
        if not any(sensor.drop_unknown for sensor in self.circuits[k].sensors):
            return False
        pulled_low = self.expected[k][self.corner_cases.state] == OFF
        at_worst = self.corner_cases.levels["sensor"] == 1
        bad = ~self.corner_ok[k].reshape(-1) & pulled_low
        return bool(bad.any() and at_worst[bad].all())

    def through(self, k: int, sensor: int) -> float:
        """Most current through one output in any whole state. [A]"""
        return float(np.abs(self.plain.contact_a[sensor, k]).max())

    def least_through(self, k: int, sensor: int) -> float:
        """Current through one output where a state gives it most, at the corner that gives it least. [A]"""
        by_corner = np.abs(self.corner.contact_a[sensor, k]).reshape(self.left.shape[1:])
        return float(by_corner.max(axis=0).min())

    def _unlimited(self, k: int, part: str, at: int) -> bool:
        """Whether hardly anything but an output itself stands in the way of its current, in a state or corner."""
        sensor = next((p.sensor for p in self.net.parts if p.name == part), -1)
        if sensor < 0:  # of the input
            return False
        if not self.circuits[k].sensors[sensor].output.electronic:
            return True
        across = np.concatenate([self.plain.contact_v[sensor, k], self.corner.contact_v[sensor, k]])
        return bool(abs(across[at]) > abs(self.circuits[k].supply.volt.nominal) / 2)

    def wetting(self, k: int) -> Wetting | None:
        """Load of the contact that has the least of it."""
        wettings = []
        for at, sensor in enumerate(self.circuits[k].sensors):
            if not sensor.output.electronic:
                material = sensor.material or "silver"
                volt = float(np.abs(self.plain.contact_v[at, k]).max())
                wettings.append(Wetting(volt, self.through(k, at), *WETS[material], material, not sensor.material))
        if wettings and all(w.wets for w in wettings) and _says_tolerances(self.circuits[k]):
            return self._least_wetting(k)
        return min(wettings, key=lambda w: w.amp / w.need_a) if wettings else None

    def _least_wetting(self, k: int) -> Wetting:
        """Load of the contact that has the least of it at the ends of what is stated."""
        seen = look(Bench(self.net, [self.circuits[k]], self.corner_cases, stated_only=True))
        by_corner = self.left.shape[1:]
        wettings = []
        for at, sensor in enumerate(self.circuits[k].sensors):
            if not sensor.output.electronic:
                material = sensor.material or "silver"
                volt, amp = (
                    float(np.abs(figure[at, 0]).reshape(by_corner).max(axis=0).min())
                    for figure in (seen.contact_v, seen.contact_a)
                )
                wettings.append(Wetting(volt, amp, *WETS[material], material, not sensor.material))
        return min(wettings, key=lambda w: w.amp / w.need_a)

    # what breaks -------------------------------------------------------------------------------------

    def fault_rows(self, k: int) -> tuple[FaultRow, ...]:
        """Every fault, with what comes of it."""
        fault_states = self.faults
        return tuple(
            FaultRow(fault.name, fault.kind, fault.text, READS[clear], READS[tripped], EFFECTS[effect], *figures)
            for fault, clear, tripped, effect, *figures in zip(
                self.net.faults,
                fault_states.clear[k],
                fault_states.tripped[k],
                fault_states.effect[k],
                fault_states.clear_v[k],
                fault_states.tripped_v[k],
                fault_states.chatters[k],
                strict=True,
            )
        )

    def _sheet_is_silent(self, k: int, code: str) -> bool:
        """Whether the sheet of the sensor that a figure is of neither allows nor forbids it."""
        circuit = self.circuits[k]
        return any(f"{s.name} supply" == code and s.silent_above(circuit.supply.volt) for s in circuit.sensors)

    def damage(self, k: int, rows: Sequence[FaultRow]) -> list[Damage]:
        """What a state or a corner would destroy; of a pin without clamps, what a single loss would too."""
        guessed = not self.circuits[k].supply.volt.stated
        damages: list[Damage] = []
        for code, any_hurt in self.hurts.items():
            if not any_hurt[k]:
                continue
            plain, corner = self.plain.hurt[code][k], self.corner.hurt[code][k]
            if code.endswith(" supply") and plain.max() <= 0 and (guessed or self._sheet_is_silent(k, code)):
                continue  # too much only where we assume that the supply may rise, or no more than usual
            every = np.concatenate([plain, corner])
            figures = np.concatenate([self.plain.figures[code][k], self.corner.figures[code][k]])
            at = int(np.argmax(every))
            unlimited = code.endswith(" current") and self._unlimited(k, code.removesuffix(" current"), at)
            harmed = _harmed(code, float(figures[at]), float(figures[at] - every[at]), unlimited=unlimited)
            # Of a logic input the pin that it ends in comes first.
            damages.insert(0 if unlimited and self.circuits[k].input.kind != "logic" else len(damages), harmed)
        codes = {damage.harm for damage in damages}
        if "clamp current" in codes:  # says the same
            damages = [damage for damage in damages if damage.harm != "pin over supply"]
        if self.circuits[k].input.clamp is False:
            damages += [
                _at_the_pin(row, pin_v)
                for row, pin_v in zip(rows, self.faults.pin_v[k], strict=True)
                if row.effect == "damage" and row.kind in LOSSES
            ]
        return damages


def _surer(iec_type: int, off_v: Floats, off_a: Floats) -> tuple[float | None, float | None]:
    """Margins of an IEC input that is off, over the corners: of volts or amperes, whichever are surer."""
    most_v, most_a = IEC_OFF[iec_type]
    share_v, share_a = off_v / most_v, off_a / most_a
    at = int(np.argmin(np.maximum(share_v, share_a)))
    return (float(off_v[at]), None) if share_v[at] >= share_a[at] else (None, float(off_a[at]))


def _grades(whole: Bools, everywhere: Bools) -> list[list[Grade]]:
    return [
        ["wrong" if not ok else "good" if always else "marginal" for ok, always in zip(*pair, strict=True)]
        for pair in zip(whole.tolist(), everywhere.tolist(), strict=True)
    ]


def _expected(circuits: Sequence[Circuit], level: Levels) -> Levels:
    """Level of every state: what whole states show, so that the controller can be set to it, else by the parts."""
    clear, tripped = level[:, 0], level[:, 1:]
    # Where one of the states is undefined, the other still tells which way round the input reads.
    first_told = np.argmax(tripped != NEITHER, axis=1)
    read_state = np.where(clear != NEITHER, clear, -tripped[np.arange(len(clear)), first_told])
    opposed = (tripped != clear[:, None]).any(axis=1) & (read_state != NEITHER)
    first = np.where(opposed, read_state, [_made_for(circuit) for circuit in circuits]).astype(np.int8)[:, None]
    return np.concatenate([first, np.broadcast_to(-first, tripped.shape)], axis=1)


def _made_for(circuit: Circuit) -> int:
    """Level with the switch clear that this kind of output gives the kind of input it is made for."""
    controller_input, sensor = circuit.input, circuit.sensors[0]
    sinks = sensor.feed == "minus" and not sensor.output.both_ways
    if controller_input.kind == "logic":
        conducting = OFF if sinks else ON
    elif sensor.output.both_ways:
        conducting = ON if controller_input.common == "minus" else OFF
    else:
        turned = (
            controller_input.pull_up_ohm is not None
            if controller_input.common == "minus"
            else controller_input.pull_down_ohm is not None
        )
        conducting = OFF if turned and sinks == (controller_input.common == "minus") else ON
    return conducting if sensor.contact.rests_closed else -conducting


def _left(bench: Bench, seen: Seen, expected: Levels) -> Floats:
    """Share of the guaranteed level that is left in every column, as the state wants it."""
    kind = bench.circuits[0].input.kind
    if kind == "logic":
        low_v = bench.plain(lambda c: c.input.surely_low_v)
        return np.where(expected == ON, seen.on_v / bench.high_v(), seen.off_v / low_v)
    if kind == "opto":
        on, off = bench.plain(lambda c: c.input.on_a), bench.plain(lambda c: c.input.off_a)
        return np.where(expected == ON, seen.on_a / on, seen.off_a / off)
    on_v, on_a = (bench.plain(lambda c, n=n: IEC_ON[c.input.iec_type][n]) for n in (0, 1))  # type: ignore[misc]
    off_v, off_a = (bench.plain(lambda c, n=n: IEC_OFF[c.input.iec_type][n]) for n in (0, 1))  # type: ignore[misc]
    surely_on = np.minimum(seen.on_v / on_v, seen.on_a / on_a)
    surely_off = np.maximum(seen.off_v / off_v, seen.off_a / off_a)
    return np.where(expected == ON, surely_on, surely_off)


def _says_tolerances(circuit: Circuit) -> bool:
    """Whether the person stated any tolerance at all; if not, nothing fails as stated."""
    things: tuple[Supply | Input | SensorOutput, ...] = (circuit.supply, circuit.input, *circuit.sensors)
    values = [getattr(thing, field.name) for thing in things for field in fields(thing)]
    return any(isinstance(value, Limits) and value.stated and value.low < value.high for value in values)


def _reads(level: int, clear_level: int) -> Reads:
    return "undefined" if level == NEITHER else "clear" if level == clear_level else "tripped"


READS: tuple[Reads, ...] = ("undefined", "clear", "tripped")
EFFECTS: tuple[Effect | None, ...] = (None, "stops", "found at the next homing", "hides", "damage")


@dataclass(frozen=True, slots=True)
class _Faults:
    """What the controller sees under every fault, as lists of (circuits, faults): numbers in READS and EFFECTS."""

    clear: list[list[int]]
    tripped: list[list[int]]  # of several sensors the one whose trip reads worst
    effect: list[list[int]]
    clear_v: list[list[float]]
    tripped_v: list[list[float]]
    chatters: list[list[bool]]
    pin_v: list[list[float]]  # of the state that hurts a logic input's pin most

    @classmethod
    def of(cls, circuits: Sequence[Circuit], seen: Seen, expected: Levels, net: Netlist) -> "_Faults":
        """Read the columns fault by fault."""
        shape = (len(circuits), -1, expected.shape[1])
        level, volt, chatters = (rows.reshape(shape) for rows in (seen.level, seen.input_v, seen.chatters))
        over = [seen.hurt[code] > 0 for code in HARM if code in seen.hurt]
        hurt = np.logical_or.reduce(over).reshape(shape).any(axis=2) if over else np.zeros(level.shape[:2], bool)
        hurt = hurt | _turned_round(circuits, seen, net, level.shape)
        reads = np.where(level == NEITHER, 0, np.where(level == expected[:, :1, None], 1, 2))
        clear, fault_reads = reads[:, :, 0], reads[:, :, 1:]
        # Reading clear is worse than nothing sure, and that is worse than reading tripped.
        worst = np.argmin(np.array([1, 0, 2])[fault_reads], axis=2)
        tripped = np.take_along_axis(fault_reads, worst[:, :, None], 2)[:, :, 0]
        tripped_v = np.take_along_axis(volt, 1 + worst[:, :, None], 2)[:, :, 0]
        # A false trip is seen at once where the input is watched; in homing only where the release is demanded,
        # else the wrong place becomes home.
        seen_as = np.array([[1 if c.input.watched else 2 if c.input.proves_release else 3] for c in circuits])
        effect = np.where(
            hurt,
            4,
            np.where(
                (clear == 0) | (tripped == 0), 3, np.where(clear == 2, seen_as, np.where(tripped == 1, 3, 0))
            ),
        )
        return cls(
            clear.tolist(),
            tripped.tolist(),
            effect.tolist(),
            volt[:, :, 0].tolist(),
            tripped_v.tolist(),
            np.asarray(chatters.any(axis=2)).tolist(),
            np.take_along_axis(volt, _hurts_most(seen, shape)[:, :, None], 2)[:, :, 0].tolist(),
        )


def _hurts_most(seen: Seen, shape: tuple[int, ...]) -> NDArray[np.intp]:
    """State in which a pin is furthest beyond what it bears, shape (circuits, faults); any, of other inputs."""
    over = [rows for code, rows in seen.hurt.items() if code.startswith("pin ")]
    furthest: Floats = np.max(over or [seen.input_v], axis=0)
    hurt_in: NDArray[np.intp] = furthest.reshape(shape).argmax(axis=2)
    return hurt_in


def _turned_round(circuits: Sequence[Circuit], seen: Seen, net: Netlist, shape: tuple[int, ...]) -> Bools:
    """Which faults put a sensor's own supply the wrong way round, and its sheet does not say that it bears it."""
    hurt = np.zeros(shape[:2], bool)
    for number, fault in enumerate(net.faults):
        if fault.kind != "reversed":
            continue
        own = circuits[0].sensors[fault.sensor]
        part = own.name if own.output.three_wire else f"{own.name} switch"
        bears = np.array([c.sensors[fault.sensor].reverse_protected for c in circuits])
        over_v = seen.hurt[f"{part} reversed"].reshape(shape)[:, number]
        hurt[:, number] = (over_v > 0).any(axis=1) & ~bears
    return hurt


def _harmed(code: str, figure: float, limit: float, *, unlimited: bool) -> Damage:
    """Say what a figure over its limit does: to the input, or to a sensor."""
    unit, text = HARM.get(code, ("", ""))
    if not text:
        part, _, part_name = code.rpartition(" ")
        sensor, _, kind = part.rpartition(" ")
        sensor = sensor or part
        output = "contact" if kind == "contact" else "output"
        bears = "which is its limit" if figure < 1.03 * limit else "which may carry {limit}"
        unit, text = {
            "reversed": ("V", f"{sensor} connected the wrong way round"),
            "supply": ("V", f"{{figure}} on {part}, which is made for {{limit}} at most"),
        }.get(part_name, ("A", f"{{figure}} through the {output} of {sensor}, {bears}"))
    if unlimited:
        text = f"nothing limits the current: {text}; a load must stand in series with it"
    say: Any = volts if unit == "V" else milliamps
    return Damage(
        code, figure, limit, "V" if unit == "V" else "A", text.format(figure=say(figure), limit=say(limit))
    )


def _at_the_pin(row: FaultRow, volt: float) -> Damage:
    text = f"{volts(volt)} on the input's pin, which has no clamp diodes, once there is this fault: {row.fault}"
    return Damage(row.fault, volt, 0.0, "V", text)
