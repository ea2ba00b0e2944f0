"""Judge: solve circuits, judge what the controller sees, and say what comes of every fault.

Circuits of one shape are solved together: all states, corners and faults are columns of one network.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np

from holdzero.caution import Caution
from holdzero.wiring import words
from holdzero.wiring.cases import Bench, Bools, Cases, corners, faulty, states
from holdzero.wiring.delay import delays
from holdzero.wiring.netlist import Fault, Netlist, Shape, netlist_of
from holdzero.wiring.network import Floats
from holdzero.wiring.remedy import Proposal, proposals
from holdzero.wiring.results import (
    LOSSES,
    Assessment,
    Damage,
    Effect,
    FaultRow,
    Reads,
    Remedy,
    State,
    Verdict,
    Wetting,
)
from holdzero.wiring.seen import IEC_OFF, IEC_ON, NEITHER, OFF, ON, Levels, Seen, look
from holdzero.wiring.values import THREE_WIRE, Circuit, SensorOutput, Unsaid
from holdzero.wiring.words import listed, milliamps, volts

WETS = {"silver": (5.0, 10e-3), "gold": (5.0, 1e-3), "reed": (5.0, 0.1e-3)}  # common practice, no source
START_UP_S = 0.3  # a sensor's time until ready, IEC 60947-5-2
SMALL_PART_W = 0.25
SOFT_OHM = 100.0  # least in series with a capacitor that a contact discharges
INPUT_HARM = ("clamp current", "pin over supply", "pin below 0 V", "LED current", "LED reversed", "input voltage")
RANK: dict[Verdict, int] = {"damage": 0, "does not work": 1, "cannot say": 2, "works, but": 3, "works": 4}


def assess(circuit: Circuit | Unsaid) -> Assessment:
    """Solve one circuit and judge it, with delays and with remedies solved again.

    Examples
    --------
    >>> from holdzero.wiring.read import read_circuits
    >>> (circuit,) = read_circuits({
    ...     "supply": {"voltage": "20.4 V"},
    ...     "sensor": {"output": "2-wire", "contact": "NO", "drop": "8 V", "leakage": "1.5 mA"},
    ...     "input": {"kind": "IEC 61131-2 type 1"}})
    >>> found = assess(circuit)
    >>> found.verdict, f"{found.tripped.input_v:.2f} V", found.tripped.reads
    ('does not work', '12.40 V', 'undefined')
    """
    return assess_all([circuit])[0]


def assess_all(circuits: Sequence[Circuit | Unsaid]) -> list[Assessment]:
    """Solve circuits and judge them, with delays and remedies."""
    found = assess_many(circuits)
    tries = [
        (k, one)
        for k, a in enumerate(found)
        if a.circuit is not None and not (a.passes and a.verdict == "works")
        for one in proposals(a.circuit)
    ]
    again = assess_many([one.circuit for _, one in tries])
    kept: list[list[Remedy]] = [[] for _ in found]
    for (k, one), outcome in zip(tries, again, strict=True):
        if _better(outcome, found[k]):
            kept[k].append(_remedy(one, outcome))
    return [_finished(a, tuple(remedies)) for a, remedies in zip(found, kept, strict=True)]


def assess_many(circuits: Sequence[Circuit | Unsaid]) -> list[Assessment]:
    """Solve many circuits and judge them with their fault tables, without delays and remedies.

    Parameters
    ----------
    circuits : sequence of Circuit or Unsaid

    Returns
    -------
    list of Assessment
        In the order given.
    """
    found: list[Assessment | None] = [None] * len(circuits)
    groups: dict[Shape, list[int]] = {}
    for k, circuit in enumerate(circuits):
        if isinstance(circuit, Unsaid):
            found[k] = _unsaid(circuit)
        else:
            groups.setdefault(Shape.of(circuit), []).append(k)
    for shape, members in groups.items():
        batch = [cast(Circuit, circuits[k]) for k in members]
        for k, one in zip(members, _group(shape, batch), strict=True):
            found[k] = one
    return cast(list[Assessment], found)


def _unsaid(circuit: Unsaid) -> Assessment:
    missing = listed(list(circuit.missing))
    return Assessment(
        circuit.name,
        "cannot say",
        f"Cannot say: {missing} is not known.",
        None,
        None,
        advice=("Find the type of the sensor on the bench: see “An unknown sensor” in the wiring page.",),
        cautions=words.SAFETY,
    )


def _better(outcome: Assessment, before: Assessment) -> bool:
    if RANK[outcome.verdict] != RANK[before.verdict]:
        return RANK[outcome.verdict] > max(RANK[before.verdict], RANK["cannot say"])
    hidden = [sum(row.hides_a_loss for row in a.faults) for a in (outcome, before)]
    return outcome.verdict == "works, but" and hidden[0] < hidden[1]


def _remedy(one: Proposal, outcome: Assessment) -> Remedy:
    return Remedy(
        one.kind, one.text, outcome.verdict, outcome.sentence, one.circuit, one.low_ohm, one.high_ohm, one.ohm, one.heat_w
    )


def _finished(a: Assessment, remedies: tuple[Remedy, ...]) -> Assessment:
    if a.circuit is None or a.netlist is None:
        return a
    found = None if a.misreads else delays(a.circuit, a.netlist, clear_is_on=a.clear_is_on)
    advice = list(a.advice)
    ready = [r for r in remedies if RANK[r.verdict] >= RANK["works, but"]]
    first = [_advice_on(r) for r in sorted(ready, key=lambda r: r.verdict != "works")]
    return replace(a, remedies=remedies, delay=found, advice=tuple(dict.fromkeys(first[:4] + advice)))


def _advice_on(remedy: Remedy) -> str:
    text = remedy.text[0].upper() + remedy.text[1:]
    return f"{text}. Solved again: {remedy.sentence[0].lower()}{remedy.sentence[1:]}"


# one shape ---------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Solved:
    """What came out for the circuits of one shape."""

    net: Netlist
    circuits: Sequence[Circuit]
    plain: Seen  # (circuits, states)
    corner: Seen  # (circuits, states x corners)
    corner_cases: Cases
    fault: Seen  # (circuits, faults x states)
    expected: Levels  # (circuits, states)
    plain_ok: Bools  # (circuits, states)
    corner_ok: Bools  # (circuits, states, corners)
    left: Floats  # (circuits, states, corners): share of the guaranteed level that is left, below 0 missing


def _group(shape: Shape, circuits: Sequence[Circuit]) -> list[Assessment]:
    net = netlist_of(shape)
    sensors = len(shape.outputs)
    plain = look(Bench(net, circuits, states(sensors)))
    corner_cases = corners(sensors, net)
    corner = look(Bench(net, circuits, corner_cases), plain.x)
    fault = look(Bench(net, circuits, faulty(sensors, net.faults)), plain.x)
    expected = _expected(circuits, plain.level)
    by_corner = (len(circuits), 1 + sensors, -1)
    corner_ok = corner.level.reshape(by_corner) == expected[:, :, None]
    left = _left(circuits, corner, np.repeat(expected, corner_ok.shape[2], axis=1)).reshape(by_corner)
    solved = _Solved(net, circuits, plain, corner, corner_cases, fault, expected, plain.level == expected, corner_ok, left)
    held = _held_as_stated(solved)
    return [_judge(solved, k, held.get(k, True)) for k in range(len(circuits))]


def _expected(circuits: Sequence[Circuit], level: Levels) -> Levels:
    """Level of every state as the controller is to be set: what whole states show, else what the parts are made for."""
    clear, tripped = level[:, 0], level[:, 1:]
    by_parts = np.array([_made_for(c) for c in circuits], np.int8)
    # Where one of the states is undefined, the other one still tells which way round the input reads.
    some = np.where((tripped != NEITHER).any(axis=1), np.take_along_axis(tripped, np.argmax(tripped != 0, axis=1)[:, None], 1)[:, 0], 0)
    told = np.where(clear != NEITHER, clear, -some)
    opposed = (tripped != clear[:, None]).any(axis=1)
    first = np.where((told != NEITHER) & opposed, told, by_parts)
    return np.concatenate([first[:, None], np.broadcast_to(-first[:, None], tripped.shape)], axis=1).astype(np.int8)


def _made_for(circuit: Circuit) -> int:
    """Level of the input with the switch clear that this kind of output gives the kind of input it is made for."""
    one, sensor = circuit.input, circuit.sensors[0]
    sinks = sensor.feed == "minus" and sensor.output != "push-pull"
    if one.kind == "logic":
        conducting = OFF if sinks else ON
    elif sensor.output == "push-pull":
        conducting = ON if one.common == "minus" else OFF
    else:
        turned = one.pull_up_ohm is not None if one.common == "minus" else one.pull_down_ohm is not None
        conducting = OFF if turned and sinks == (one.common == "minus") else ON
    return conducting if sensor.contact == "NC" else -conducting


def _left(circuits: Sequence[Circuit], seen: Seen, expected: Levels) -> Floats:
    """Share of the guaranteed level that is left in every column, as the state wants it."""
    one = circuits[0].input

    def each(values: list[float]) -> Floats:
        return np.array(values)[:, None]

    if one.kind == "logic":
        logic = each([c.input.v_ih or 1.0 for c in circuits])
        return np.where(expected == ON, seen.on_v / logic, seen.off_v / each([c.input.v_il or 0.8 for c in circuits]))
    if one.kind == "opto":
        on, off = each([c.input.on_a for c in circuits]), each([c.input.off_a for c in circuits])
        return np.where(expected == ON, seen.on_a / on, seen.off_a / off)
    (on_v, on_a), (off_v, off_a) = IEC_ON[one.iec_type], IEC_OFF[one.iec_type]
    surely_on = np.minimum(seen.on_v / on_v, seen.on_a / on_a)
    surely_off = np.maximum(seen.off_v / off_v, seen.off_a / off_a)
    return np.where(expected == ON, surely_on, surely_off)


def _held_as_stated(solved: _Solved) -> dict[int, bool]:
    """For circuits that fail at a corner: whether they hold when only stated tolerances are counted."""
    failing = np.flatnonzero(solved.plain_ok.all(axis=1) & ~solved.corner_ok.all(axis=(1, 2)))
    if not len(failing):
        return {}
    circuits = [solved.circuits[k] for k in failing]
    seen = look(Bench(solved.net, circuits, solved.corner_cases, stated_only=True), solved.plain.x[:, failing])
    ok = seen.level.reshape(len(failing), *solved.corner_ok.shape[1:]) == solved.expected[failing][:, :, None]
    return dict(zip(failing.tolist(), ok.all(axis=(1, 2)).tolist(), strict=True))


# one circuit -------------------------------------------------------------------------------------------


def _judge(solved: _Solved, k: int, held_as_stated: bool) -> Assessment:
    circuit, net = solved.circuits[k], solved.net
    worst = _worst_state(solved, k)
    clear, tripped = _state(solved, k, 0), _state(solved, k, worst)
    rows = _fault_rows(solved, k)
    damage = _damage(solved, k)
    if circuit.input.clamp is False:
        damage += _fault_damage(rows)
    wetting = _wetting(solved, k)
    cautions = [*words.SAFETY, *circuit.notes, *_cautions(solved, k, wetting)]
    advice: list[str] = []
    clear_on = bool(solved.expected[k, 0] == ON)
    setting = _setting(circuit, clear_on)
    reasons: list[str] = []
    verdict: Verdict
    if damage:
        verdict = "damage"
        sentence = f"Damage: {damage[0].text}. Do not switch this on."
    elif "wrong" in (clear.grade, tripped.grade):
        verdict = "does not work"
        sentence = f"Does not work: {_wrong(circuit, clear, tripped)}."
    elif not held_as_stated:
        verdict = "does not work"
        sentence = f"Does not work at the ends of the stated tolerances: {_marginal(circuit, clear, tripped)}."
    elif "marginal" in (clear.grade, tripped.grade) and _only_the_drop(solved, k):
        verdict = "cannot say"
        sentence = (
            "Cannot say: the sheet does not tell how low the output pulls at the small current of a logic input; "
            f"below {volts(circuit.input.v_il or 0.8)} it works. Measure it."
        )
        advice.append(
            "With the pull-up in place and the output on, measure from the input to 0 V, and write the figure as "
            "drop, with drop_at for the current."
        )
    else:
        if "marginal" in (clear.grade, tripped.grade):
            reasons.append(f"not at the ends of what is assumed: {_marginal(circuit, clear, tripped)}")
        reasons += _reasons(circuit, rows, wetting, solved, k)
        verdict = "works, but" if reasons else "works"
        sentence = f"Works, but {reasons[0]}." if reasons else _works(circuit, rows)
    advice += [f"{reason[0].upper()}{reason[1:]}." for reason in reasons[1:]]
    advice += _advice(circuit, rows, net)
    return Assessment(
        circuit.name,
        verdict,
        sentence,
        clear,
        tripped,
        rows,
        tuple(damage),
        tuple(dict.fromkeys(advice)),
        tuple(cautions),
        circuit.assumed,
        setting,
        clear_on,
        wetting,
        None,
        (),
        _start_up(circuit),
        circuit,
        net,
    )


def _worst_state(solved: _Solved, k: int) -> int:
    """Which sensor tripped reads worst: wrong before marginal before the least margin."""
    marks = [
        (bool(solved.plain_ok[k, s]), bool(solved.corner_ok[k, s].all()), float(solved.left[k, s].min()), s)
        for s in range(1, solved.plain_ok.shape[1])
    ]
    return min(marks)[3]


def _reads(level: int, clear_level: int) -> Reads:
    return "undefined" if level == NEITHER else "clear" if level == clear_level else "tripped"


def _state(solved: _Solved, k: int, s: int) -> State:
    plain, corner = solved.plain, solved.corner
    at = int(np.argmin(solved.left[k, s]))
    column = s * solved.left.shape[2] + at
    kind, on = solved.circuits[k].input.kind, solved.expected[k, s] == ON
    margin_v: float | None = float((corner.on_v if on else corner.off_v)[k, column])
    margin_a: float | None = float((corner.on_a if on else corner.off_a)[k, column])
    if kind == "logic":
        margin_a = None
    elif kind == "opto":
        margin_v = None
    elif not on:  # volts or amperes, whichever is surer
        off_v, off_a = IEC_OFF[solved.circuits[k].input.iec_type]
        if cast(float, margin_v) / off_v >= cast(float, margin_a) / off_a:
            margin_a = None
        else:
            margin_v = None
    level = solved.corner_cases.levels.get("supply")
    supply = solved.circuits[k].supply.volt
    whole, everywhere = bool(solved.plain_ok[k, s]), bool(solved.corner_ok[k, s].all())
    return State(
        float(plain.input_v[k, s]),
        float(plain.input_a[k, s]),
        _reads(int(plain.level[k, s]), int(solved.expected[k, 0])),
        margin_v,
        margin_a,
        "good" if whole and everywhere else "marginal" if whole else "wrong",
        None if level is None else supply.low if level[column] < 0 else supply.high,
    )


def _fault_rows(solved: _Solved, k: int) -> tuple[FaultRow, ...]:
    seen, states_of = solved.fault, solved.plain.level.shape[1]
    circuit, clear_level = solved.circuits[k], int(solved.expected[k, 0])
    levels, chatters = seen.level[k].tolist(), seen.chatters[k].tolist()
    volt = seen.input_v[k].tolist()
    over = [seen.hurt[code][k] for code in INPUT_HARM if code in seen.hurt]
    hurt = (np.array(over) > 0).any(axis=0).tolist() if over else [False] * len(levels)
    rows = []
    for f, fault in enumerate(solved.net.faults):
        at = f * states_of
        clear = _reads(levels[at], clear_level)
        each = [_reads(level, clear_level) for level in levels[at + 1 : at + states_of]]
        # Of several sensors, the one whose trip reads worst.
        worst = 0 if "clear" not in each and "undefined" not in each else each.index("clear" if "clear" in each else "undefined")
        shaky = any(chatters[at : at + states_of])
        effect = _effect(circuit, clear, each[worst], hurt=any(hurt[at : at + states_of]))
        rows.append(
            FaultRow(
                fault.name, fault.kind, fault.text, clear, each[worst], effect, volt[at], volt[at + 1 + worst], shaky
            )
        )
    return tuple(rows)


def _effect(circuit: Circuit, clear: Reads, tripped: Reads, *, hurt: bool) -> Effect | None:
    """What comes of a fault; None: it reads right, for now."""
    if hurt:
        return "damage"
    if "undefined" in (clear, tripped):
        return "hides"
    if clear == "tripped":
        if circuit.input.watched:
            return "stops"
        # Read while homing only: found if homing demands the release, else the wrong place becomes home.
        return "found at the next homing" if circuit.input.proves_release else "hides"
    return "hides" if tripped == "clear" else None


_HARM: dict[str, tuple[str, str]] = {
    "clamp current": ("A", "{figure} through the clamp diode of the input's pin, where {limit} is the most"),
    "pin over supply": ("V", "the input's pin {figure} above its own supply, where {limit} is the most"),
    "pin below 0 V": ("V", "the input's pin {figure} below 0 V, where {limit} is the most"),
    "LED current": ("A", "{figure} through the LED of the opto-coupler, where {limit} is the most"),
    "LED reversed": ("V", "the LED of the opto-coupler reversed by {figure}, where {limit} is the most"),
    "input voltage": ("V", "{figure} across the input, where {limit} is the most"),
}


def _damage(solved: _Solved, k: int) -> list[Damage]:
    """What a state or a corner would destroy."""
    found = []
    for code, hurt in solved.corner.hurt.items():
        every = np.concatenate([solved.plain.hurt[code][k], hurt[k]])
        if every.max() <= 0:
            continue
        figures = np.concatenate([solved.plain.figures[code][k], solved.corner.figures[code][k]])
        at = int(np.argmax(every))
        figure, limit = float(figures[at]), float(figures[at] - every[at])
        found.append(_harmed(code, figure, limit))
    return found


def _harmed(code: str, figure: float, limit: float) -> Damage:
    unit, text = _HARM.get(code, ("", ""))
    if not text:
        part, _, what = code.rpartition(" ")
        if what == "reversed":
            unit, text = "V", f"{part.split()[0]} connected the wrong way round"
        elif what == "supply":
            unit, text = "V", f"{{figure}} on sensor {part}, which is made for {{limit}} at most"
        else:
            unit, text = "A", f"{{figure}} through the output of {part.split()[0]}, more than it may carry"
    say = volts if unit == "V" else milliamps
    return Damage(code, figure, limit, "V" if unit == "V" else "A", text.format(figure=say(figure), limit=say(limit)))


def _fault_damage(rows: Sequence[FaultRow]) -> list[Damage]:
    """A pin without clamps: what a single loss would destroy is refused too."""
    return [
        Damage(
            row.fault,
            max(row.clear_v, row.tripped_v),
            0.0,
            "V",
            f"{volts(max(row.clear_v, row.tripped_v))} on the input's pin, which has no clamp, once there is this fault: {row.fault}",
        )
        for row in rows
        if row.effect == "damage" and row.kind in LOSSES
    ]


def _wetting(solved: _Solved, k: int) -> Wetting | None:
    """Load of the contact that has the least of it."""
    found = []
    for at, sensor in enumerate(solved.circuits[k].sensors):
        if sensor.output != "dry contact":
            continue
        material = sensor.material or "silver"
        need_v, need_a = WETS[material]
        amp = float(np.abs(solved.plain.contact_a[at, k]).max())
        volt = float(np.abs(solved.plain.contact_v[at, k]).max())
        found.append(Wetting(volt, amp, need_v, need_a, material, not sensor.material))
    return min(found, key=lambda w: w.amp / w.need_a) if found else None


def _only_the_drop(solved: _Solved, k: int) -> bool:
    """Whether nothing but the unknown drop of an output at a small current stands in the way."""
    if not any(s.drop_unknown for s in solved.circuits[k].sensors):
        return False
    bad = ~solved.corner_ok[k].reshape(-1)
    level = solved.corner_cases.levels["sensor"]
    conducting = solved.expected[k][solved.corner_cases.state] == OFF  # pulled low
    return bool((level[bad] == 1).all() and conducting[bad].all())


# sentences ---------------------------------------------------------------------------------------------


def _need(circuit: Circuit, on: bool) -> str:
    one = circuit.input
    if one.kind == "logic":
        if on:
            v_ih = one.v_ih if one.v_ih is not None else 0.7 * (one.volt or circuit.supply.volt).nominal
            return f"a high from {volts(v_ih)}"
        return f"a low up to {volts(one.v_il or 0.8)}"
    if one.kind == "opto":
        return f"{milliamps(one.on_a)} or more" if on else f"at most {milliamps(one.off_a)}"
    if on:
        return f"{volts(IEC_ON[one.iec_type][0])} and {milliamps(IEC_ON[one.iec_type][1])} or more"
    return f"at most {volts(IEC_OFF[one.iec_type][0])} or {milliamps(IEC_OFF[one.iec_type][1])}"


def _figure(circuit: Circuit, state: State) -> str:
    if circuit.input.kind == "logic":
        return volts(state.input_v)
    if circuit.input.kind == "opto":
        return milliamps(state.input_a)
    return f"{volts(state.input_v)} and {milliamps(state.input_a)}"


def _wrong(circuit: Circuit, clear: State, tripped: State) -> str:
    """What reads wrong, with the figure and what was needed."""
    if clear.reads == tripped.reads:
        same = "undefined" if clear.reads == "undefined" else f"as {clear.reads}"
        text = f"clear and tripped both read {same} ({_figure(circuit, clear)}; {_figure(circuit, tripped)})"
        return text + (f", since {_why(circuit)}" if _why(circuit) else "")
    state, name = (clear, "clear") if clear.grade == "wrong" else (tripped, "tripped")
    on = (name == "clear") == _clear_on(circuit, clear, tripped)
    return f"{name} reads {state.reads}, {_figure(circuit, state)}, where {circuit.input.type_name} needs {_need(circuit, on)}"


def _clear_on(circuit: Circuit, clear: State, tripped: State) -> bool:
    return (clear.input_a >= tripped.input_a) if circuit.input.kind != "logic" else (clear.input_v >= tripped.input_v)


def _why(circuit: Circuit) -> str:
    one, sensor = circuit.input, circuit.sensors[0]
    if one.kind != "logic" and sensor.output in ("NPN", "PNP"):
        if sensor.output == "NPN" and one.common == "minus":
            return "an NPN output can only take current to 0 V, and this input needs current fed into it"
        if sensor.output == "PNP" and one.common == "plus":
            return "a PNP output can only feed current in, and this input needs it taken to 0 V"
    if circuit.supply.joined_ohm is None and one.kind == "logic":
        return "the two 0 V are not joined, so that no current can flow"
    for k in circuit.sensors:
        if k.output in THREE_WIRE and circuit.supply.volt.nominal < k.hold_v:
            return f"{k.name} needs {volts(k.hold_v)} and the supply gives {volts(circuit.supply.volt.nominal)}"
    if circuit.chain == "parallel" and sensor.contact == "NC":
        return "NC outputs in parallel hide each other: all would have to trip"
    if circuit.chain == "series" and sensor.contact == "NO":
        return "NO outputs in series need all to trip at once"
    return ""


def _marginal(circuit: Circuit, clear: State, tripped: State) -> str:
    state, name = min(
        ((s, n) for s, n in ((clear, "clear"), (tripped, "tripped")) if s.grade != "good"),
        key=lambda pair: pair[1] == "clear",
    )
    missing = [
        say(-margin)
        for margin, say in ((state.margin_v, volts), (state.margin_a, milliamps))
        if margin is not None and margin < 0
    ]
    at = "" if state.worst_supply_v is None else f" with {volts(state.worst_supply_v)} of supply"
    return f"{name} falls short by {listed(missing) if missing else 'little'}{at}"


def _works(circuit: Circuit, rows: Sequence[FaultRow]) -> str:
    effects = {row.effect for row in rows if row.kind == "open"}
    if effects == {"stops"}:
        return "Works, and a broken wire stops the machine."
    if effects <= {"stops", "found at the next homing"}:
        return "Works, and a broken wire is found at the next homing."
    return "Works."


def _reasons(
    circuit: Circuit, rows: Sequence[FaultRow], wetting: Wetting | None, solved: _Solved, k: int
) -> list[str]:
    """Why it is only a `works, but`."""
    reasons = []
    hurt = [row.fault for row in rows if row.hides_a_loss and row.effect == "damage"]
    hidden = [row.fault for row in rows if row.hides_a_loss and row.effect == "hides"]
    if hidden:
        many = len(hidden) > 4
        what = f"{len(hidden)} single losses go" if many else f"{listed(hidden)} {'goes' if len(hidden) == 1 else 'go'}"
        reasons.append(f"{what} unnoticed" + (f", among them {listed(hidden[:3])}" if many else ""))
    if hurt:
        reasons.append(f"{listed(hurt)} would overload the input's pin")
    least = _least_current(circuit, solved, k)
    if least:
        reasons.append(least)
    if wetting and not wetting.wets and not wetting.assumed:
        reasons.append(_dry(wetting))
    sides = [s.side for s in circuit.sensors if s.side]
    if len(set(sides)) > 1:
        reasons.append(
            "both sides of the gantry share one input: it cannot be told which side tripped, a switch that is stuck is "
            "not noticed, and both sides cannot be homed at once. Home one side at a time, or give each side an input"
        )
    if circuit.chain == "series" and circuit.sensors[0].output in THREE_WIRE:
        count = len(circuit.sensors)
        more = ": two is the most" if count > 2 else ""
        reasons.append(f"each of the {count} sensors in series starts only when the one before it is on{more}")
    return reasons


def _least_current(circuit: Circuit, solved: _Solved, k: int) -> str:
    for at, sensor in enumerate(circuit.sensors):
        if sensor.output != "2-wire":
            continue
        through = float(np.abs(solved.plain.contact_a[at, k]).max())
        if through < sensor.least_a.high * 0.999:
            known = "needs" if sensor.least_a.stated else "may need"
            return (
                f"only {milliamps(through)} flows through {sensor.name}, which {known} {milliamps(sensor.least_a.high)} "
                "to hold itself on"
            )
    return ""


def _dry(wetting: Wetting) -> str:
    return (
        f"{milliamps(wetting.amp)} at {volts(wetting.volt)} does not wet a {wetting.material} contact, which needs "
        f"{milliamps(wetting.need_a)} at {volts(wetting.need_v)}"
    )


def _setting(circuit: Circuit, clear_on: bool) -> str:
    one = circuit.input
    word = ("high" if clear_on else "low") if one.kind == "logic" else ("on" if clear_on else "off")
    other = {"high": "low", "low": "high", "on": "off", "off": "on"}[word]
    return f"Set the controller so that {word} means clear and {other} means tripped."


def _start_up(circuit: Circuit) -> float:
    powered = sum(s.output in THREE_WIRE for s in circuit.sensors)
    if not powered:
        return START_UP_S if any(s.output == "2-wire" for s in circuit.sensors) else 0.0
    return START_UP_S * (powered if circuit.chain == "series" else 1)


def _cautions(solved: _Solved, k: int, wetting: Wetting | None) -> list[Caution]:
    circuit, found = solved.circuits[k], []
    if wetting and not wetting.wets:
        material = f" (taken as {wetting.material}, since the material is not stated)" if wetting.assumed else ""
        text = _dry(wetting)
        found.append(Caution("contact-not-wetted", f"{text[0].upper()}{text[1:]}{material}.", "common practice, no source"))
    for name, heat in solved.corner.heat_w.items():
        most = float(heat[k].max())
        if most > SMALL_PART_W / 2:
            text = f"The {name} takes up to {most:.2g}{words.GAP}W: a part of twice that rating is wanted."
            found.append(Caution("resistor-heat", text, "common practice, no source"))
    one = circuit.input
    soft = one.series_ohm if one.kind == "logic" else one.filter_ohm
    if one.filter_f and any(s.output == "dry contact" for s in circuit.sensors) and (soft is None or soft.nominal < SOFT_OHM):
        text = "The filter capacitor is discharged straight through the contact: put at least 100 Ω between them."
        found.append(Caution("capacitor-on-contact", text, "common practice, no source"))
    if circuit.supply.fuse_a is None and solved.net.has("+ line"):
        text = "No fuse or current limit is stated: plus shorted to 0 V in the cable then heats the cable."
        found.append(Caution("no-fuse", text))
    return found


def _advice(circuit: Circuit, rows: Sequence[FaultRow], net: Netlist) -> list[str]:
    advice = []
    sensor = circuit.sensors[0]
    by_diodes = [row for row in rows if row.kind in LOSSES and row.effect == "hides" and row.reads_clear == row.reads_tripped == "clear"]
    if sensor.output in THREE_WIRE and sensor.diodes and sensor.contact == "NC" and by_diodes:
        core = "brown" if sensor.feed == "minus" else "blue"
        drop = "rise" if circuit.input.kind == "logic" and sensor.feed == "minus" else "drop"
        advice.append(
            f"Test once, unpowered in between: pull the {core} wire; the input must {drop}. If it does, the sensor has no "
            "path through its own protection diodes: write protection_diodes = false."
        )
    if any(row.kind == "short" and row.effect == "hides" for row in rows):
        advice.append(
            "No input that is on or off can show cores shorted to each other or a contact that is welded: only a homing "
            "that demands to see the switch trip and release, each within its window, does."
        )
    start = _start_up(circuit)
    if start:
        advice.append(f"Wait {start + 0.2:.2g}{words.GAP}s after switching on before the first reading: the sensor is not ready before.")
    return advice
