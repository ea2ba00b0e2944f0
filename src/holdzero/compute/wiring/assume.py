"""Assume: what a form leaves unsaid is filled in with what is usual, and every such clause is kept.

The figures are class-typical (common practice, no source) unless a clause is named. Where the usual
could flatter, the harder case is taken.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from holdzero.compute.wiring.conductor import CABLE_F_PER_M, CORE_AT_PIN, ohm_per_km
from holdzero.compute.wiring.keys import INPUT_KEYS
from holdzero.compute.wiring.terminals import pin
from holdzero.compute.wiring.values import (
    JOINED_OHM,
    NOTHING,
    Cable,
    Chain,
    Circuit,
    Input,
    Limits,
    Rail,
    SensorOutput,
    Supply,
    Unsaid,
)
from holdzero.compute.wiring.windows import opto_limits
from holdzero.compute.wiring.words import listed, milliamps, ohms
from holdzero.errors import InputError
from holdzero.inputs.sensor.output import CHANGEOVER, Contact, Output

MOST_SENSORS = 12  # on one input
INTERNAL_OHM = Limits(45e3, 20e3, 65e3)  # pull resistor inside a chip
LED_V = Limits(1.1, 1.0, 1.4)
SMALL_A = 10e-3  # a drop stated at no more than this holds for a logic input
V_IL = 0.8
CONTACT_A = {"": 1.0, "silver": 1.0, "gold": 1.0, "reed": 0.5}  # most of a switch in a control circuit
HOLD_SHARE = 0.9  # of the least supply on the sheet, down to which an output is taken to hold
USUAL_SERIES = (150.0, 220.0, 390.0, 470.0, 820.0, 1000.0, 1500.0, 2200.0, 2700.0, 3300.0)

Said = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class _Desk:
    """Where clauses are collected, and how a key is named in a message."""

    place: Callable[..., str]
    clauses: list[str]

    def assume(self, clause: str) -> None:
        self.clauses.append(clause)

    def refuse(self, *names: str, found: str, need: str, do: str) -> InputError:
        return InputError(where=self.place(*names), found=found, need=need, do=do)


def circuit_of(
    said: Said, *, entered: Mapping[str, Any], notes: tuple[str, ...] = (), place: Callable[..., str]
) -> Circuit | Unsaid:
    """Make a circuit of the fields that the tables of a form gave.

    Parameters
    ----------
    said : mapping
        Table to its fields, as `holdzero.compute.wiring.keys` reads them; `sensor` holds a list of these.
    entered : mapping
        What was written, kept in the circuit.
    notes : tuple of str
        About lines that were not used.
    place : callable
        Names of tables and keys -> what to call that place in a message.
    """
    desk = _Desk(place, [])
    head, supply_said, rows, input_said = said[""], said["supply"], said["sensor"], said["input"]
    input_said, more = _of_its_kind(desk, input_said)
    notes = (*notes, *more)
    missing = [place("sensor", "output") for row in rows if row.get("output", "unknown") == "unknown"]
    missing += [place("input", "kind")] if input_said.get("kind", "unknown") == "unknown" else []
    if missing:
        return Unsaid(
            name=head.get("name", ""), missing=tuple(dict.fromkeys(missing)), entered=entered, notes=notes
        )
    outputs: list[Output] = [row["output"] for row in rows]
    volt = _supply_volt(desk, supply_said, rows, input_said)
    one = _input(desk, input_said, volt, rows)
    sensors = tuple(
        _sensor(desk, row, one, volt, f"{output.letter}{number}")
        for number, (row, output) in enumerate(zip(rows, outputs, strict=True), 1)
    )
    notes = (*notes, *_not_of_this_output(desk, rows, sensors))
    sensors, chain = _chain(desk, said["chain"], sensors)
    return Circuit(
        name=head.get("name", ""),
        machine=head.get("machine", ""),
        axis=head.get("axis", ""),
        side=head.get("side", ""),
        supply=_supply(desk, supply_said, volt, one),
        sensors=sensors,
        chain=chain,
        input=one,
        cable=_cable(desk, said["cable"], sensors),
        assumed=tuple(dict.fromkeys(desk.clauses)),
        notes=notes,
        entered=entered,
    )


def _room(volt: float) -> float:
    return 0.10 if abs(volt) > 6 else 0.05


def _percent(share: float) -> str:
    return f"±{share * 100:g} %"


# supply ------------------------------------------------------------------------------------------------


def _supply_volt(desk: _Desk, said: Said, rows: Sequence[Said], input_said: Said) -> Limits:
    found: Limits | None = said.get("volt")
    if found is None:
        ranges = [(row["supply_low_v"], row["supply_high_v"]) for row in rows if "supply_low_v" in row]
        own: Limits | None = input_said.get("volt")
        likely = (24.0, *([own.nominal] if own else []), 12.0)
        fits = [volt for volt in likely if all(low <= volt <= high for low, high in ranges)]
        volt = fits[0] if fits else min(high for _, high in ranges)
        desk.assume(f"supply {volt:g} V, since none is stated")
        found = Limits.exact(volt)
    if found.low < found.high:
        return found
    room = _room(found.nominal)
    desk.assume(f"supply within {_percent(room)} of {found.nominal:g} V")
    return Limits.around(found.nominal, room)


def _supply(desk: _Desk, said: Said, volt: Limits, one: Input) -> Supply:
    shared: bool | None = said.get("shared")
    if "earthed" not in said:
        desk.assume("0 V is joined to the frame (earth)")
    if one.kind == "logic" and one.volt is not None and shared is None and one.volt.nominal == volt.nominal:
        shared = True
        desk.assume("the logic input is fed from the same supply")
    joined = said.get("joined", True)
    if one.volt is not None and not shared and "joined" not in said and "join_ohm" not in said:
        desk.assume("the 0 V of both supplies are joined")
    return Supply(
        volt=volt,
        ohm=max(said.get("ohm", 0.05), 1e-3),
        fuse_a=said.get("fuse_a"),
        earthed=said.get("earthed", True),
        joined_ohm=max(said.get("join_ohm", 0.0), JOINED_OHM) if joined else None,
        shared=bool(shared),
    )


_LOGIC = ("pull_up_ohm", "pull_down_ohm", "series_ohm", "v_il", "v_ih", "rising_v", "falling_v", "clamp")
_CURRENT = ("common", "pull_up_ohm", "pull_down_ohm", "bleed_ohm", "filter_ohm")
_OPTO = ("series_ohm", "shunt_ohm", "on_a", "off_a", "most_a", "led_v", "reverse_diode", "v_il", "v_ih")
_READ_BY = {  # fields that an input of each kind has a use for
    "logic": (*_LOGIC, "clamp_v", "clamp_a"),
    "opto": (*_CURRENT, *_OPTO, "ctr", "output_ohm", "output_v"),
    "IEC": _CURRENT,
}
_READ_BY_ALL = (
    "kind",
    "iec_type",
    "named_v",
    "name",
    "volt",
    "filter_f",
    "filter_s",
    "watched",
    "use",
    "proves_release",
)


def _of_its_kind(desk: _Desk, said: Said) -> tuple[Said, tuple[str, ...]]:
    """Leave only what this kind of input reads; a resistor in front is one, whatever it is called."""
    kind = said.get("kind", "unknown")
    if kind not in _READ_BY:
        return said, ()
    found = dict(said)
    here, there = ("series_ohm", "filter_ohm") if kind == "logic" else ("filter_ohm", "series_ohm")
    if kind != "opto" and there in found and here not in found:
        found[here] = found.pop(there)
    used = (*_READ_BY[kind], *_READ_BY_ALL)
    names = {field: key.name for key in INPUT_KEYS for field in key.fields}
    strange = [names[field] for field, value in found.items() if field not in used and value is not None]
    notes = [f"{desk.place('input', name)} is kept but not used: no {kind} input has it." for name in strange]
    return {field: value for field, value in found.items() if field in used}, tuple(dict.fromkeys(notes))


# input -------------------------------------------------------------------------------------------------


def _input(desk: _Desk, said: Said, supply: Limits, rows: Sequence[Said]) -> Input:
    kind: Literal["logic", "opto", "IEC"] = said["kind"]
    shared = {
        "name": said.get("name", ""),
        "volt": _input_volt(desk, said, supply),
        "bleed_ohm": said.get("bleed_ohm"),
        "shunt_ohm": said.get("shunt_ohm"),
        "filter_f": said.get("filter_f"),
        "filter_s": said.get("filter_s", 0.0),
        "filter_ohm": said.get("filter_ohm"),
        "watched": _watched(desk, said),
        "proves_release": said.get("proves_release"),
    }
    if kind == "logic":
        return Input(kind="logic", **shared, **_logic(desk, said, rows))
    shared |= {name: said.get(name) for name in ("pull_up_ohm", "pull_down_ohm")}
    common = _common(desk, said, rows, kind)
    if kind == "IEC":
        if said.get("iec_type") is None:
            desk.assume("an input of type 3, since its type is not stated")
        return Input(kind="IEC", iec_type=said.get("iec_type") or 3, common=common, **shared)
    own: Limits | None = shared["volt"]
    return Input(kind="opto", common=common, **shared, **_opto(desk, said, (own or supply).nominal))


def _input_volt(desk: _Desk, said: Said, supply: Limits) -> Limits | None:
    """Supply of the logic, or of an opto or IEC input where it has one of its own."""
    logic = said["kind"] == "logic"
    found: Limits | None = said.get("volt")
    if found is None and logic:
        named = said.get("named_v")
        volt = named if named is not None else supply.nominal if 0 < supply.nominal <= 5.5 else 3.3
        if named is None:
            desk.assume(f"logic supply {volt:g} V, since none is stated")
        found = Limits.exact(volt)
    if found is None or found.low < found.high:
        return found
    room = _room(found.nominal)
    desk.assume(f"{'logic' if logic else 'input'} supply within {_percent(room)} of {found.nominal:g} V")
    return Limits.around(found.nominal, room)


def _common(desk: _Desk, said: Said, rows: Sequence[Said], kind: str) -> Literal["plus", "minus"]:
    stated: Literal["plus", "minus"] | None = said.get("common")
    if stated is not None:
        return stated
    if kind == "IEC":  # the inputs of the standard sink current
        return "minus"
    sinks = any(row["output"] is Output.NPN or row.get("feed") == "minus" for row in rows)
    desk.assume(f"the opto-coupler's common is joined to {'+' if sinks else '0 V'}, which suits the sensor")
    return "plus" if sinks else "minus"


def _logic(desk: _Desk, said: Said, rows: Sequence[Said]) -> dict[str, Any]:
    found = {
        name: said.get(name)
        for name in ("pull_up_ohm", "pull_down_ohm", "series_ohm", "v_ih", "rising_v", "falling_v", "clamp")
    }
    if found["pull_up_ohm"] is None and found["pull_down_ohm"] is None:
        source = all(row["output"] is Output.PNP for row in rows)
        found["pull_down_ohm" if source else "pull_up_ohm"] = INTERNAL_OHM
        way = "pull-down" if source else "pull-up"
        desk.assume(f"the pin has only its internal {way}, 20 kΩ to 65 kΩ")
    v_il = said.get("v_il")
    if v_il is None:
        v_il = V_IL
        desk.assume("V_IL 0.8 V, the lowest of the usual logic families")
    if found["v_ih"] is None:
        desk.assume("V_IH 0.7 × the logic supply, the highest of the usual logic families")
    elif found["v_ih"] <= v_il:
        raise desk.refuse(
            "input",
            "v_ih",
            found=f"V_IH {found['v_ih']:g} V, not above V_IL {v_il:g} V",
            need="V_IH above V_IL",
            do="take both from the input's data sheet",
        )
    found |= {name: said[name] for name in ("clamp_v", "clamp_a") if said.get(name) is not None}
    if found["clamp"] is None:
        desk.assume("clamp diodes at the pin, but not to be leaned on")
    return found | {"v_il": v_il}


def _opto(desk: _Desk, said: Said, volt: float) -> dict[str, Any]:
    series: Limits | None = said.get("series_ohm")
    if series is None:
        wanted = max(abs(volt) - LED_V.nominal, 1.0) / 10e-3
        series = Limits.around(min(USUAL_SERIES, key=lambda ohm: abs(ohm - wanted)), 0.05)
        desk.assume(f"{ohms(series.nominal)} in series with the opto-coupler's LED")
    on_a, off_a = _opto_currents(desk, said)
    return {
        "series_ohm": series,
        "on_a": on_a,
        "off_a": off_a,
        "most_a": said.get("most_a", 20e-3),
        "led_v": said.get("led_v", LED_V),
        "reverse_diode": said.get("reverse_diode", False),
    }


def _opto_currents(desk: _Desk, said: Said) -> tuple[float, float]:
    """LED currents that are surely on and surely off: stated, or worked out from the coupler's output side."""
    from_output: tuple[float, float] | None = None
    if "ctr" in said and "output_ohm" in said:
        logic: Limits = said.get("output_v", Limits.around(3.3, 0.05))
        from_output = opto_limits(
            supply_low_v=logic.low,
            supply_high_v=logic.high,
            pull_up_ohm=said["output_ohm"],
            ctr_low=said["ctr"].low,
            ctr_high=said["ctr"].high,
            v_il=said.get("v_il", 0.4),
            v_ih=said.get("v_ih", 0.7 * logic.high),
        )
    elif "on_a" not in said or "off_a" not in said:
        desk.assume("the opto-coupler is on from 3 mA and off up to 1 mA of LED current")
    usual_on, usual_off = from_output or (3e-3, 1e-3)
    on_a, off_a = said.get("on_a", usual_on), said.get("off_a", usual_off)
    if off_a >= on_a:
        raise desk.refuse(
            "input",
            "i_off",
            found=f"off up to {off_a * 1e3:g} mA but on from {on_a * 1e3:g} mA",
            need="i_off below i_on",
            do="take both from the input's data sheet",
        )
    return on_a, off_a


def _watched(desk: _Desk, said: Said) -> bool:
    use = said.get("use")
    if use is None:
        desk.assume("the controller watches the input all the time, as for a limit, and not only while homing")
    elif use == "home" and "proves_release" not in said:
        desk.assume(
            "not known whether homing demands to see the switch release: a false trip then counts as hidden"
        )
    return bool(use != "home")


# sensors -----------------------------------------------------------------------------------------------


def _sensor(desk: _Desk, said: Said, one: Input, supply: Limits, name: str) -> SensorOutput:
    output: Output = said["output"]
    two_wire, three_wire = output is Output.TWO_WIRE, output.three_wire
    drop, ohm, unknown = _drop(desk, said, one)
    leak, usual_leak, most_leak = said.get("leak_a"), *((0.8e-3, 1.5e-3) if two_wire else (0.1e-3, 0.5e-3))
    if leak is None and output.electronic:
        desk.assume(
            f"{usual_leak * 1e3:g} mA through the output when off, at most {most_leak * 1e3:g} mA (IEC 60947-5-2)"
        )
    if three_wire and "own_a" not in said:
        desk.assume("10 mA for the sensor itself, 1 mA to 20 mA")
    if two_wire and "least_a" not in said:
        desk.assume("a 2-wire sensor needs 5 mA at most to hold itself on (IEC 60947-5-2)")
    if three_wire and "diodes" not in said:
        desk.assume("protection diodes inside the sensor, until the test with one wire pulled shows otherwise")
    rating: float | None = said.get("rating_a")
    usual_a = 0.1 if two_wire else 0.2 if three_wire else CONTACT_A[said.get("material", "")]
    limit = said.get("limit_a") or max(rating or 0.0, usual_a)
    if rating is None:
        desk.assume(f"the {output.stage} carries {milliamps(limit)} at most")
    least = Limits.exact(said["least_a"]) if "least_a" in said else Limits(5e-3, 0.0, 5e-3)
    contact = _contact(desk, said)
    low: float | None = said.get("supply_low_v")
    high: float | None = said.get("supply_high_v")
    if low == high:  # one figure: what it is made for
        low, high = (None, None) if low is None else (0.9 * low, 1.1 * low)
    return SensorOutput(
        name=said.get("name", name),
        output=output,
        contact=contact,
        feed=_feed(said, one),
        side=said.get("side", ""),
        drop_v=drop,
        ohm=ohm,
        leak_a=Limits(usual_leak, 0.0, most_leak) if leak is None else Limits(leak, 0.0, leak, stated=True),
        own_a=said.get("own_a", Limits(10e-3, 1e-3, 20e-3)),
        limit_a=limit,
        rating_a=rating or limit,
        least_a=least if two_wire else NOTHING,
        contact_ohm=said.get("contact_ohm", Limits(0.2, 0.2, 1.0)),
        material=said.get("material", ""),
        direct_opening=_opens_directly(output, contact) and said.get("direct_opening", False),
        plug=said.get("plug", "") if output.electronic else "",
        supply_low_v=low,
        supply_high_v=high,
        hold_v=HOLD_SHARE * low if low is not None else min(8.0, 0.8 * abs(supply.nominal)),
        drop_unknown=unknown,
        diodes=said.get("diodes", True),
        pull_up_ohm=said.get("pull_up_ohm"),
        pull_down_ohm=said.get("pull_down_ohm"),
    )


def _opens_directly(output: Output, contact: Contact) -> bool:
    return not output.electronic and contact.rests_closed


def _not_of_this_output(desk: _Desk, rows: Sequence[Said], sensors: Sequence[SensorOutput]) -> Iterator[str]:
    """Lines that mean nothing for the output of their sensor."""
    for row, sensor in zip(rows, sensors, strict=True):
        if row.get("direct_opening") and not sensor.direct_opening:
            yield f"{desk.place('sensor', 'direct_opening')} is kept but not used: only an NC contact has it."
        if row.get("plug") and not sensor.plug:
            yield f"{desk.place('sensor', 'plug')} is kept but not used: the pins of a contact are not standard."


def _contact(desk: _Desk, said: Said) -> Contact:
    contact = said.get("contact", "unknown")
    if contact == CHANGEOVER:
        if "wired" not in said:
            desk.assume("of the changeover contact the break contact (NC) is wired")
        wired: Contact = said.get("wired", Contact.NC)
        return wired
    if contact == "unknown":
        desk.assume("NO, the harder case, since it is not stated whether the output is NO or NC")
        return Contact.NO
    stated: Contact = contact
    return stated


def _feed(said: Said, one: Input) -> Rail:
    output: Output = said["output"]
    if output.three_wire:
        return "plus" if output.sources else "minus"
    stated: Rail | None = said.get("feed")
    if stated is not None:
        return "plus" if stated == "logic" and one.kind != "logic" else stated
    if one.kind != "logic":
        return "minus" if one.common == "plus" else "plus"
    if one.pull_up_ohm is None:
        return "plus" if output.electronic else "logic"
    return "minus"


def _drop(desk: _Desk, said: Said, one: Input) -> tuple[Limits, float, bool]:
    """Knee and slope of an output that is on, and whether its drop at a small current is not known."""
    output: Output = said["output"]
    stated: Limits | None = said.get("drop_v")
    if not output.electronic:
        return NOTHING, 0.0, False
    if not output.three_wire:
        if stated is None:
            desk.assume("5 V across a 2-wire sensor that is on, at most 8 V (IEC 60947-5-2)")
            return Limits(5.0, 2.5, 8.0), said.get("ohm", 10.0), False
        # The sheet's figure is the whole drop at rated current: nothing comes on top.
        return Limits(stated.nominal, min(2.5, stated.low), stated.high, stated=True), said.get("ohm", 0.1), False
    ohm: float = said.get("ohm", 5.0)
    at_small = one.kind == "logic" and output.sinks
    if stated is None:
        desk.assume("0.7 V and 5 Ω across an output that is on, at most 3.5 V (IEC 60947-5-2)")
        return Limits(0.7, 0.3, 3.5), ohm, at_small
    low = min(0.3, stated.low)
    if at_small and stated.high > (one.v_il or V_IL) and said.get("drop_at_a", 1.0) > SMALL_A:
        desk.assume(
            "the drop stated is the one at rated current; about 0.7 V at the small current of a logic input"
        )
        return Limits(min(0.7, stated.nominal), low, stated.high), ohm, True
    return Limits(stated.nominal, low, stated.high, stated=True), ohm, False


def _chain(
    desk: _Desk, said: Said, sensors: tuple[SensorOutput, ...]
) -> tuple[tuple[SensorOutput, ...], Chain | None]:
    count: int | None = said.get("count")
    if count is not None and len(sensors) > 1:
        raise desk.refuse(
            "chain",
            "count",
            found=f"count and {len(sensors)} sensors",
            need="one of the two",
            do="leave count out where each sensor is described",
        )
    number = count or len(sensors)
    if number > MOST_SENSORS:
        raise desk.refuse(
            "chain",
            found=f"{number} sensors",
            need=f"at most {MOST_SENSORS} on one input",
            do="give the rest an input of their own",
        )
    if count is not None:
        letters = re.sub(r"\d+$", "", sensors[0].name) or sensors[0].name
        sensors = tuple(replace(sensors[0], name=f"{letters}{number}") for number in range(1, count + 1))
    if len({s.name for s in sensors}) < len(sensors):
        raise desk.refuse("sensor", found="two sensors of one name", need="a name for each", do="rename one")
    if len(sensors) == 1:
        return sensors, None
    kinds = dict.fromkeys(s.output for s in sensors)
    if len({s.output.three_wire for s in sensors}) > 1 or len({s.feed for s in sensors}) > 1:
        raise desk.refuse(
            "sensor",
            found=f"{listed(list(kinds))} on one input",
            need="outputs that pull the same way",
            do="give each kind an input of its own",
        )
    join: Chain | None = said.get("join")
    if join is None:
        join = "series" if all(s.contact.rests_closed and not s.output.three_wire for s in sensors) else "parallel"
        desk.assume(f"the sensors are joined in {join}")
    return sensors, join


# cable -------------------------------------------------------------------------------------------------


def _cable(desk: _Desk, said: Said, sensors: Sequence[SensorOutput]) -> Cable:
    length_mm: float | None = said.get("length_mm")
    length_m = None if length_mm is None else length_mm / 1000
    section: float = said.get("section_mm2", 0.25)
    if length_m is None:
        desk.assume("no cable length stated: its resistance is left out")
    elif "section_mm2" not in said:
        desk.assume("cores of 0.25 mm²")
    return Cable(
        length_m=length_m,
        section_mm2=section,
        core_ohm=max((length_m or 0.0) * ohm_per_km(section) / 1000, 1e-3),
        farad=_farad(desk, said, length_m),
        low_degc=said.get("low_degc", 20.0),
        high_degc=said.get("high_degc", 60.0),
        shared_by=said.get("shared_by", 1),
        screened=said.get("screened"),
        colours=said.get("colours") or _of_plug(sensors),
    )


def _of_plug(sensors: Sequence[SensorOutput]) -> tuple[str, ...]:
    """Colours of the cores that come to the pins of a plug; none where the sensors differ."""
    found = {
        tuple(CORE_AT_PIN[pin(s, node)] for node in (("bn", "bk", "bu") if s.output.three_wire else ("a", "b")))
        for s in sensors
        if s.plug
    }
    return found.pop() if len(found) == 1 and all(s.plug for s in sensors) else ()


def _farad(desk: _Desk, said: Said, length_m: float | None) -> Limits:
    whole: Limits | None = said.get("farad")
    if whole is not None:
        return whole
    if length_m is None:
        return NOTHING
    if said.get("farad_per_m") is not None:
        return Limits.exact(said["farad_per_m"] * length_m)
    least, usual, most = (per_m * length_m for per_m in CABLE_F_PER_M)
    desk.assume("100 pF for each metre of cable, at most 200 pF")
    return Limits(usual, least, most)
