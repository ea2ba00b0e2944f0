"""Assume: what a form leaves unsaid is filled in with what is usual, and every such clause is kept.

The figures are class-typical (common practice, no source) unless a clause is named. Where the usual
could flatter, the harder case is taken.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

from holdzero.compute.wiring.conductor import CABLE_F_PER_M, CORE_AT_PIN, core_ohm
from holdzero.compute.wiring.keys import INPUT_KEYS
from holdzero.compute.wiring.terminals import pin
from holdzero.compute.wiring.values import (
    JOINED_OHM,
    NOTHING,
    USUAL_DROP,
    USUAL_LEAK,
    USUAL_OHM,
    USUAL_OWN,
    USUAL_RATED_A,
    V_IL,
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
LED_V = Limits(1.1, 1.0, 1.4)  # infrared, at some mA; common practice, no source
SMALL_A = 10e-3  # a drop stated at no more than this holds for a logic input
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

    def refuse(self, *names: str, fault: str, need: str, do: str) -> InputError:
        return InputError(where=self.place(*names), found=fault, need=need, do=do)


def circuit_of(
    stated: Said, *, entered: Mapping[str, Any], notes: tuple[str, ...] = (), place: Callable[..., str]
) -> Circuit | Unsaid:
    """Make a circuit of the fields that the tables of a form gave.

    Parameters
    ----------
    stated : mapping
        Table to its fields, as `holdzero.compute.wiring.keys` reads them; `sensor` holds a list of these.
    entered : mapping
        What was written, kept in the circuit.
    notes : tuple of str
        About lines that were not used.
    place : callable
        Names of tables and keys -> what to call that place in a message.
    """
    desk = _Desk(place, [])
    head, supply_said, rows, input_said = stated[""], stated["supply"], stated["sensor"], stated["input"]
    input_said, more = _of_its_kind(desk, input_said)
    notes = (*notes, *more)
    missing = [place("sensor", "output") for row in rows if row.get("output", "unknown") == "unknown"]
    missing += [place("input", "kind")] if input_said.get("kind", "unknown") == "unknown" else []
    if missing:
        return Unsaid(
            name=head.get("name", ""), missing=tuple(dict.fromkeys(missing)), entered=entered, notes=notes
        )
    volt = _supply_volt(desk, supply_said, rows, input_said)
    controller_input = _input(desk, input_said, volt, rows)
    sensors = tuple(
        _sensor(desk, row, controller_input, volt, f"B{number}")  # IEC 81346-2: what turns a place into a signal
        for number, row in enumerate(rows, 1)
    )
    notes = (*notes, *_not_of_this_output(desk, rows, sensors))
    sensors, chain = _chain(desk, stated["chain"], sensors)
    return Circuit(
        name=head.get("name", ""),
        machine=head.get("machine", ""),
        axis=head.get("axis", ""),
        side=head.get("side", ""),
        supply=_supply(desk, supply_said, volt, controller_input),
        sensors=sensors,
        chain=chain,
        input=controller_input,
        cable=_cable(desk, stated["cable"], sensors),
        assumed=tuple(dict.fromkeys(desk.clauses)),
        notes=notes,
        entered=entered,
    )


def _room(volt: float) -> float:
    return 0.10 if abs(volt) > 6 else 0.05


def _percent(share: float) -> str:
    return f"±{share * 100:g} %"


# supply ------------------------------------------------------------------------------------------------


def _supply_volt(desk: _Desk, stated: Said, rows: Sequence[Said], input_said: Said) -> Limits:
    limits: Limits | None = stated.get("volt")
    if limits is None:
        ranges = [(row["supply_low_v"], row["supply_high_v"]) for row in rows if "supply_low_v" in row]
        own: Limits | None = input_said.get("volt")
        likely = (24.0, *([own.nominal] if own else []), 12.0)
        fits = [volt for volt in likely if all(low <= volt <= high for low, high in ranges)]
        volt = fits[0] if fits else min(high for _, high in ranges)
        desk.assume(f"supply {volt:g} V, since none is stated")
        limits = Limits.exact(volt)
    if limits.low < limits.high:
        return limits
    room = _room(limits.nominal)
    desk.assume(f"supply within {_percent(room)} of {limits.nominal:g} V")
    return Limits.around(limits.nominal, room)


def _supply(desk: _Desk, stated: Said, volt: Limits, controller_input: Input) -> Supply:
    shared: bool | None = stated.get("shared")
    if "earthed" not in stated:
        desk.assume("0 V is joined to the frame (earth)")
    if (
        controller_input.kind == "logic"
        and controller_input.volt is not None
        and shared is None
        and controller_input.volt.nominal == volt.nominal
    ):
        shared = True
        desk.assume("the logic input is fed from the same supply")
    joined = stated.get("joined", True)
    if controller_input.volt is not None and not shared and "joined" not in stated and "join_ohm" not in stated:
        desk.assume("the 0 V of both supplies are joined")
    return Supply(
        volt=volt,
        ohm=max(stated.get("ohm", 0.05), 1e-3),
        fuse_a=stated.get("fuse_a"),
        earthed=stated.get("earthed", True),
        joined_ohm=max(stated.get("join_ohm", 0.0), JOINED_OHM) if joined else None,
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


def _of_its_kind(desk: _Desk, stated: Said) -> tuple[Said, tuple[str, ...]]:
    """Leave only what this kind of input reads; a resistor in front is one, whatever it is called."""
    kind = stated.get("kind", "unknown")
    if kind not in _READ_BY:
        return stated, ()
    values = dict(stated)
    own_names, rival_names = ("series_ohm", "filter_ohm") if kind == "logic" else ("filter_ohm", "series_ohm")
    if kind != "opto" and rival_names in values and own_names not in values:
        values[own_names] = values.pop(rival_names)
    used = (*_READ_BY[kind], *_READ_BY_ALL)
    names = {field: key.name for key in INPUT_KEYS for field in key.fields}
    strange = [names[field] for field, value in values.items() if field not in used and value is not None]
    notes = [f"{desk.place('input', name)} is kept but not used: no {kind} input has it." for name in strange]
    return {field: value for field, value in values.items() if field in used}, tuple(dict.fromkeys(notes))


# input -------------------------------------------------------------------------------------------------


def _input(desk: _Desk, stated: Said, supply: Limits, rows: Sequence[Said]) -> Input:
    kind: Literal["logic", "opto", "IEC"] = stated["kind"]
    shared = {
        "name": stated.get("name", ""),
        "volt": _input_volt(desk, stated, supply),
        "bleed_ohm": stated.get("bleed_ohm"),
        "shunt_ohm": stated.get("shunt_ohm"),
        "filter_f": stated.get("filter_f"),
        "filter_s": stated.get("filter_s", 0.0),
        "filter_ohm": stated.get("filter_ohm"),
        "watched": _watched(desk, stated),
        "proves_release": stated.get("proves_release"),
    }
    if kind == "logic":
        return Input(kind="logic", **shared, **_logic(desk, stated, rows))
    shared |= {name: stated.get(name) for name in ("pull_up_ohm", "pull_down_ohm")}
    common = _common(desk, stated, rows, kind)
    if kind == "IEC":
        if stated.get("iec_type") is None:
            desk.assume("an input of type 3, since its type is not stated")
        return Input(kind="IEC", iec_type=stated.get("iec_type") or 3, common=common, **shared)
    own: Limits | None = shared["volt"]
    return Input(kind="opto", common=common, **shared, **_opto(desk, stated, (own or supply).nominal))


def _input_volt(desk: _Desk, stated: Said, supply: Limits) -> Limits | None:
    """Supply of the logic, or of an opto or IEC input where it has one of its own."""
    logic = stated["kind"] == "logic"
    limits: Limits | None = stated.get("volt")
    if limits is None and logic:
        named = stated.get("named_v")
        volt = named if named is not None else supply.nominal if 0 < supply.nominal <= 5.5 else 3.3
        if named is None:
            desk.assume(f"logic supply {volt:g} V, since none is stated")
        limits = Limits.exact(volt)
    if limits is None or limits.low < limits.high:
        return limits
    room = _room(limits.nominal)
    desk.assume(f"{'logic' if logic else 'input'} supply within {_percent(room)} of {limits.nominal:g} V")
    return Limits.around(limits.nominal, room)


def _common(desk: _Desk, input_stated: Said, rows: Sequence[Said], kind: str) -> Literal["plus", "minus"]:
    stated: Literal["plus", "minus"] | None = input_stated.get("common")
    if stated is not None:
        return stated
    if kind == "IEC":  # the inputs of the standard sink current
        return "minus"
    sinks = any(row["output"] is Output.NPN or row.get("feed") == "minus" for row in rows)
    desk.assume(f"the opto-coupler's common is joined to {'+' if sinks else '0 V'}, which suits the sensor")
    return "plus" if sinks else "minus"


def _logic(desk: _Desk, stated: Said, rows: Sequence[Said]) -> dict[str, Any]:
    ohms = {
        name: stated.get(name)
        for name in ("pull_up_ohm", "pull_down_ohm", "series_ohm", "v_ih", "rising_v", "falling_v", "clamp")
    }
    if ohms["pull_up_ohm"] is None and ohms["pull_down_ohm"] is None:
        source = all(row["output"] is Output.PNP for row in rows)
        ohms["pull_down_ohm" if source else "pull_up_ohm"] = INTERNAL_OHM
        way = "pull-down" if source else "pull-up"
        desk.assume(f"the pin has only its internal {way}, 20 kΩ to 65 kΩ")
    v_il = stated.get("v_il")
    rising, falling = ohms["rising_v"], stated.get("falling_v")
    _thresholds(desk, rising, falling)
    if v_il is None:
        v_il = V_IL
        if falling is None:
            desk.assume("V_IL 0.8 V, the lowest of the usual logic families")
    if ohms["v_ih"] is None:
        if rising is None:
            desk.assume("V_IH 0.7 × the logic supply, the highest of the usual logic families")
    elif ohms["v_ih"] <= v_il:
        raise desk.refuse(
            "input",
            "v_ih",
            fault=f"V_IH {ohms['v_ih']:g} V, not above V_IL {v_il:g} V",
            need="V_IH above V_IL",
            do="take both from the input's data sheet",
        )
    ohms |= {name: stated[name] for name in ("clamp_v", "clamp_a") if stated.get(name) is not None}
    if ohms["clamp"] is None:
        desk.assume("clamp diodes at the pin, but not to be leaned on")
    return ohms | {"v_il": v_il}


def _thresholds(desk: _Desk, rising: Limits | None, falling: Limits | None) -> None:
    """What is said of a Schmitt input: it turns high above where it turns low."""
    if rising is not None and falling is not None and falling.nominal >= rising.nominal:
        raise desk.refuse(
            "input",
            "threshold_falling",
            fault=f"turns low at {falling.nominal:g} V, not below {rising.nominal:g} V where it turns high",
            need="threshold_falling below threshold_rising",
            do="take both from the input's data sheet",
        )
    for name, threshold in (("V_T+", rising), ("V_T-", falling)):
        if threshold is not None and not threshold.stated:
            most = "most" if threshold is rising else "least"
            desk.assume(f"{name} {threshold.nominal:g} V as the {most} of the sheet, since no spread is stated")


def _opto(desk: _Desk, stated: Said, volt: float) -> dict[str, Any]:
    series: Limits | None = stated.get("series_ohm")
    if series is None:
        wanted = max(abs(volt) - LED_V.nominal, 1.0) / 10e-3
        series = Limits.around(min(USUAL_SERIES, key=lambda ohm: abs(ohm - wanted)), 0.05)
        desk.assume(f"{ohms(series.nominal)} in series with the opto-coupler's LED")
    on_a, off_a = _opto_currents(desk, stated)
    return {
        "series_ohm": series,
        "on_a": on_a,
        "off_a": off_a,
        "most_a": stated.get("most_a", 20e-3),
        "led_v": stated.get("led_v", LED_V),
        "reverse_diode": stated.get("reverse_diode", False),
    }


def _opto_currents(desk: _Desk, stated: Said) -> tuple[float, float]:
    """LED currents that are surely on and surely off: stated, or worked out from the coupler's output side."""
    from_output: tuple[float, float] | None = None
    if "ctr" in stated and "output_ohm" in stated:
        logic: Limits = stated.get("output_v", Limits.around(3.3, 0.05))
        from_output = opto_limits(
            supply_low_v=logic.low,
            supply_high_v=logic.high,
            pull_up_ohm=stated["output_ohm"],
            ctr_low=stated["ctr"].low,
            ctr_high=stated["ctr"].high,
            v_il=stated.get("v_il", 0.4),
            v_ih=stated.get("v_ih", 0.7 * logic.high),
        )
    elif "on_a" not in stated or "off_a" not in stated:
        desk.assume("the opto-coupler is on from 3 mA and off up to 1 mA of LED current")
    usual_on, usual_off = from_output or (3e-3, 1e-3)
    on_a, off_a = stated.get("on_a", usual_on), stated.get("off_a", usual_off)
    if off_a >= on_a:
        raise desk.refuse(
            "input",
            "i_off",
            fault=f"off up to {off_a * 1e3:g} mA but on from {on_a * 1e3:g} mA",
            need="i_off below i_on",
            do="take both from the input's data sheet",
        )
    return on_a, off_a


def _watched(desk: _Desk, stated: Said) -> bool:
    use = stated.get("use")
    if use is None:
        desk.assume("the controller watches the input all the time, as for a limit, and not only while homing")
    elif use == "home" and "proves_release" not in stated:
        desk.assume(
            "not known whether homing demands to see the switch release: a false trip then counts as hidden"
        )
    return bool(use != "home")


# sensors -----------------------------------------------------------------------------------------------


def _sensor(desk: _Desk, stated: Said, controller_input: Input, supply: Limits, name: str) -> SensorOutput:
    output: Output = stated["output"]
    two_wire, three_wire = output is Output.TWO_WIRE, output.three_wire
    drop, ohm, unknown = _drop(desk, stated, controller_input)
    leak, usual_leak = stated.get("leak_a"), Limits(0.8e-3, 0.0, 1.5e-3) if two_wire else USUAL_LEAK
    if leak is None and output.electronic:
        usual_ma, most_ma = usual_leak.nominal * 1e3, usual_leak.high * 1e3
        desk.assume(f"{usual_ma:g} mA through the output when off, at most {most_ma:g} mA (IEC 60947-5-2)")
    if three_wire and "own_a" not in stated:
        desk.assume("10 mA for the sensor itself, 1 mA to 20 mA")
    if two_wire and "least_a" not in stated:
        desk.assume("a 2-wire sensor needs 5 mA at most to hold itself on (IEC 60947-5-2)")
    if three_wire and "diodes" not in stated:
        desk.assume("protection diodes inside the sensor, until the test with one wire pulled shows otherwise")
    rating: float | None = stated.get("rating_a")
    usual_a = 0.1 if two_wire else USUAL_RATED_A if three_wire else CONTACT_A[stated.get("material", "")]
    limit = stated.get("limit_a") or max(rating or 0.0, usual_a)
    if rating is None:
        desk.assume(f"the {output.stage} carries {milliamps(limit)} at most")
    least = Limits.exact(stated["least_a"]) if "least_a" in stated else Limits(5e-3, 0.0, 5e-3)
    contact = _contact(desk, stated)
    low: float | None = stated.get("supply_low_v")
    high: float | None = stated.get("supply_high_v")
    if low == high:  # one figure: what it is made for
        low, high = (None, None) if low is None else (0.9 * low, 1.1 * low)
    return SensorOutput(
        name=stated.get("name", name),
        output=output,
        contact=contact,
        feed=_feed(stated, controller_input),
        side=stated.get("side", ""),
        drop_v=drop,
        ohm=ohm,
        leak_a=usual_leak if leak is None else Limits(leak, 0.0, leak, stated=True),
        own_a=stated.get("own_a", USUAL_OWN),
        limit_a=limit,
        rating_a=rating or limit,
        least_a=least if two_wire else NOTHING,
        contact_ohm=stated.get("contact_ohm", Limits(0.2, 0.2, 1.0)),
        material=stated.get("material", ""),
        direct_opening=_opens_directly(output, contact) and stated.get("direct_opening", False),
        plug=stated.get("plug", "") if output.electronic else "",
        cable_m=stated["cable_mm"] / 1000 if "cable_mm" in stated else None,
        colours=stated.get("colours", ()),
        supply_low_v=low,
        supply_high_v=high,
        supply_most_v=stated.get("supply_most_v"),
        hold_v=HOLD_SHARE * low if low is not None else min(8.0, 0.8 * abs(supply.nominal)),
        drop_unknown=unknown,
        reverse_protected=stated.get("reverse_protected", False),
        diodes=stated.get("diodes", True),
        pull_up_ohm=stated.get("pull_up_ohm"),
        pull_down_ohm=stated.get("pull_down_ohm"),
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


def _contact(desk: _Desk, contact_stated: Said) -> Contact:
    contact = contact_stated.get("contact", "unknown")
    if contact == CHANGEOVER:
        if "wired" not in contact_stated:
            desk.assume("of the changeover contact the break contact (NC) is wired")
        wired: Contact = contact_stated.get("wired", Contact.NC)
        return wired
    if contact == "unknown":
        desk.assume("NO, the harder case, since it is not stated whether the output is NO or NC")
        return Contact.NO
    stated: Contact = contact
    return stated


def _feed(sensor_stated: Said, controller_input: Input) -> Rail:
    output: Output = sensor_stated["output"]
    if output.three_wire:
        return "plus" if output.sources else "minus"
    stated: Rail | None = sensor_stated.get("feed")
    if stated is not None:
        return "plus" if stated == "logic" and controller_input.kind != "logic" else stated
    if controller_input.kind != "logic":
        return "minus" if controller_input.common == "plus" else "plus"
    if controller_input.pull_up_ohm is None:
        return "plus" if output.electronic else "logic"
    return "minus"


def _drop(desk: _Desk, sensor_stated: Said, controller_input: Input) -> tuple[Limits, float, bool]:
    """Knee and slope of an output that is on, and whether its drop at a small current is not known."""
    output: Output = sensor_stated["output"]
    stated: Limits | None = sensor_stated.get("drop_v")
    if not output.electronic:
        return NOTHING, 0.0, False
    if not output.three_wire:
        if stated is None:
            desk.assume("5 V across a 2-wire sensor that is on, at most 8 V (IEC 60947-5-2)")
            return Limits(5.0, 2.5, 8.0), sensor_stated.get("ohm", 10.0), False
        # The sheet's figure is the whole drop at rated current: nothing comes on top.
        return (
            Limits(stated.nominal, min(2.5, stated.low), stated.high, stated=True),
            sensor_stated.get("ohm", 0.1),
            False,
        )
    ohm: float = sensor_stated.get("ohm", USUAL_OHM)
    at_small = controller_input.kind == "logic" and output.sinks
    if stated is None:
        desk.assume("0.7 V and 5 Ω across an output that is on, at most 3.5 V (IEC 60947-5-2)")
        return USUAL_DROP, ohm, at_small
    low = min(USUAL_DROP.low, stated.low)
    if at_small and stated.high > controller_input.surely_low_v and sensor_stated.get("drop_at_a", 1.0) > SMALL_A:
        desk.assume(
            "the drop stated is the one at rated current; about 0.7 V at the small current of a logic input"
        )
        return Limits(min(USUAL_DROP.nominal, stated.nominal), low, stated.high), ohm, True
    return Limits(stated.nominal, low, stated.high, stated=True), ohm, False


def _chain(
    desk: _Desk, stated: Said, sensors: tuple[SensorOutput, ...]
) -> tuple[tuple[SensorOutput, ...], Chain | None]:
    count: int | None = stated.get("count")
    if count is not None and len(sensors) > 1:
        raise desk.refuse(
            "chain",
            "count",
            fault=f"count and {len(sensors)} sensors",
            need="one of the two",
            do="leave count out where each sensor is described",
        )
    number = count or len(sensors)
    if number > MOST_SENSORS:
        raise desk.refuse(
            "chain",
            fault=f"{number} sensors",
            need=f"at most {MOST_SENSORS} on one input",
            do="give the rest an input of their own",
        )
    if count is not None:
        letters = re.sub(r"\d+$", "", sensors[0].name) or sensors[0].name
        sensors = tuple(replace(sensors[0], name=f"{letters}{number}") for number in range(1, count + 1))
    if len({s.name for s in sensors}) < len(sensors):
        raise desk.refuse("sensor", fault="two sensors of one name", need="a name for each", do="rename one")
    if len(sensors) == 1:
        return sensors, None
    kinds = dict.fromkeys(s.output for s in sensors)
    if len({s.output.three_wire for s in sensors}) > 1 or len({s.feed for s in sensors}) > 1:
        raise desk.refuse(
            "sensor",
            fault=f"{listed(list(kinds))} on one input",
            need="outputs that pull the same way",
            do="give each kind an input of its own",
        )
    join: Chain | None = stated.get("join")
    if join is None:
        join = "series" if all(s.contact.rests_closed and not s.output.three_wire for s in sensors) else "parallel"
        desk.assume(f"the sensors are joined in {join}")
    return sensors, join


# cable -------------------------------------------------------------------------------------------------


def _cable(desk: _Desk, stated: Said, sensors: Sequence[SensorOutput]) -> Cable:
    length_mm: float | None = stated.get("length_mm")
    length_m = None if length_mm is None else length_mm / 1000
    section: float = stated.get("section_mm2", 0.25)
    if length_m is None and any(sensor.cable_m is None for sensor in sensors):
        desk.assume("no cable length stated: its resistance is left out")
    elif "section_mm2" not in stated:
        desk.assume("cores of 0.25 mm²")
    return Cable(
        length_m=length_m,
        section_mm2=section,
        core_ohm=core_ohm(length_m or 0.0, section),
        farad=_farad(desk, stated, _all_along(length_m, sensors)),
        low_degc=stated.get("low_degc", 20.0),
        high_degc=stated.get("high_degc", 60.0),
        shared_by=stated.get("shared_by", 1),
        screened=stated.get("screened"),
        colours=stated.get("colours") or _of_plug(sensors),
    )


def _all_along(length_m: float | None, sensors: Sequence[SensorOutput]) -> float | None:
    """Cable that loads the input: where sensors have their own, all of it together. [m]"""
    if all(sensor.cable_m is None for sensor in sensors):
        return length_m
    return sum((length_m or 0.0) if sensor.cable_m is None else sensor.cable_m for sensor in sensors)


def _of_plug(sensors: Sequence[SensorOutput]) -> tuple[str, ...]:
    """Colours of the cores that come to the pins of a plug; none where the sensors differ."""
    plug_cores = {
        tuple(CORE_AT_PIN[pin(s, node)] for node in (("bn", "bk", "bu") if s.output.three_wire else ("a", "b")))
        for s in sensors
        if s.plug
    }
    return plug_cores.pop() if len(plug_cores) == 1 and all(s.plug for s in sensors) else ()


def _farad(desk: _Desk, stated: Said, length_m: float | None) -> Limits:
    whole: Limits | None = stated.get("farad")
    if whole is not None:
        return whole
    if length_m is None:
        return NOTHING
    if stated.get("farad_per_m") is not None:
        return Limits.exact(stated["farad_per_m"] * length_m)
    least, usual, most = (per_m * length_m for per_m in CABLE_F_PER_M)
    desk.assume("100 pF for each metre of cable, at most 200 pF")
    return Limits(usual, least, most)
