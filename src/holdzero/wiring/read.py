"""Read circuits: the tables of a wiring file, or of a form, become values; what is not said is assumed aloud."""

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal, TypeVar, cast

from holdzero.caution import Caution
from holdzero.errors import InputError
from holdzero.quantity import plain, read, read_range, read_tolerance, show
from holdzero.wiring.conductor import CABLE_F_PER_M, COLOURS, ohm_per_km
from holdzero.wiring.values import (
    NOTHING,
    THREE_WIRE,
    Cable,
    Chain,
    Circuit,
    Contact,
    Input,
    Limits,
    Output,
    Rail,
    SensorOutput,
    Supply,
    Unsaid,
)
from holdzero.wiring.windows import opto_limits

Word = TypeVar("Word", bound=str)

MOST_SENSORS = 12  # on one input
_TABLES = ("supply", "sensor", "chain", "input", "cable")
_PLAIN_KEYS = ("name", "machine", "axis", "side")
_UNITS = {"voltage": "V", "resistance": "ohm", "current": "mA", "section": "mm2", "length": "m"}
_OUTPUTS: dict[str, Output] = {
    "drycontact": "dry contact",
    "dry": "dry contact",
    "contact": "dry contact",
    "switch": "dry contact",
    "microswitch": "dry contact",
    "reed": "dry contact",
    "npn": "NPN",
    "npnopencollector": "NPN",
    "opencollector": "NPN",
    "pnp": "PNP",
    "pnpopencollector": "PNP",
    "pushpull": "push-pull",
    "2wire": "2-wire",
    "2wiredc": "2-wire",
    "twowire": "2-wire",
    "twowiredc": "2-wire",
}
_CONTACTS: dict[str, Contact] = {
    "no": "NO",
    "normallyopen": "NO",
    "make": "NO",
    "nc": "NC",
    "normallyclosed": "NC",
    "break": "NC",
}
_FEEDS: dict[str, Rail] = {
    "plus": "plus",
    "+": "plus",
    "minus": "minus",
    "": "minus",  # what is left of "-"
    "0v": "minus",
    "ground": "minus",
    "gnd": "minus",
    "logic": "logic",
    "logicplus": "logic",
}
_UNKNOWN = ("unknown", "?", "not known", "")


def read_circuits(data: Mapping[str, Any], *, where: str = "") -> tuple[Circuit | Unsaid, ...]:
    """Read the circuits of a wiring file.

    Parameters
    ----------
    data : mapping
        What a TOML parser gives: tables `supply`, `sensor`, `chain`, `input`, `cable`, or a list `circuit`
        of these; a table above the list serves all circuits that have none of their own.
    where : str
        File or form, for messages.

    Returns
    -------
    tuple of Circuit or Unsaid
        `Unsaid` where the kind of sensor output or of input is not said.

    Raises
    ------
    InputError
        A value that cannot be read, a word that is not known, or no table at all.

    Examples
    --------
    >>> (circuit,) = read_circuits({"sensor": {"output": "dry contact", "contact": "NC"},
    ...                             "input": {"kind": "IEC 61131-2 type 3"}})
    >>> circuit.sensors[0].feed, circuit.assumed[0]
    ('plus', 'supply 24 V, since none is stated')
    """
    if not any(key in data for key in (*_TABLES, "circuit")):
        raise InputError(
            where=where,
            found="no table of a circuit",
            need="the tables [sensor] and [input]",
            do='start with [sensor] output = "NPN" and [input] kind = "IEC 61131-2 type 3"',
        )
    several = data.get("circuit")
    if several is None:
        return (_circuit(data, where),)
    if not isinstance(several, Sequence) or not all(isinstance(c, Mapping) for c in several) or not several:
        raise InputError(
            where=where, found="circuit that is not a list of tables", need="[[circuit]]", do="write [[circuit]]"
        )
    common = {key: value for key, value in data.items() if key != "circuit"}
    head = f"{where}, " if where else ""
    return tuple(
        _circuit({**common, **one}, f"{head}circuit {one.get('name', number)}")
        for number, one in enumerate(several, 1)
    )


class _Table:
    """One table of the file: reads its keys, and remembers which were used and what was assumed."""

    def __init__(self, data: Any, where: str, assumed: list[str]) -> None:
        if not isinstance(data, Mapping):
            raise InputError(where=where, found=repr(data), need="a table", do="write its keys below its name")
        self.data, self.where, self.assumed = data, where, assumed
        self.used: set[str] = set()

    def __contains__(self, key: str) -> bool:
        return key in self.data

    def at(self, key: str) -> str:
        return f"{self.where}.{key}" if self.where else key

    def raw(self, key: str) -> Any:
        self.used.add(key)
        return self.data.get(key)

    def assume(self, clause: str) -> None:
        self.assumed.append(clause)

    def value(self, key: str, kind: str) -> float | None:
        """One plain figure, or None."""
        text = self.raw(key)
        return None if text is None else read(text, kind, unit=_UNITS.get(kind, ""), where=self.at(key))

    def limits(self, key: str, kind: str, *, share: float = 0.0) -> Limits | None:
        """One figure with its tolerance; without one, `share` to either side, as ours."""
        text = self.raw(key)
        if text is None:
            return None
        unit = _UNITS.get(kind, "")
        if isinstance(text, str) and not re.search(r"\+/?-|±", text) and re.search(r" to |\.\.", text):
            low, high = read_range(text, kind, unit=unit, where=self.at(key))
            return Limits((low + high) / 2, low, high, stated=True)
        value, half = read_tolerance(text, kind, unit=unit, where=self.at(key))
        return Limits(value, value - half, value + half, stated=True) if half else Limits.around(value, share)

    def ohms(self, key: str) -> Limits | None:
        """A resistor, above 0; within 5 % where no tolerance is stated."""
        found = self.limits(key, "resistance", share=0.05)
        if found is not None and found.low <= 0:
            raise InputError(
                where=self.at(key),
                found=f'"{self.data[key]}"',
                need="a resistance above 0 ohm",
                do="leave the key out where there is no resistor",
            )
        return found

    def word(self, key: str, words: Mapping[str, Word]) -> Word | None:
        """One word out of a list, or None."""
        text = self.raw(key)
        if text is None:
            return None
        plain_text = re.sub(r"[\s_-]+", "", str(text)).lower()
        plain_text = re.sub(r"^\+\d+v$", "+", plain_text)
        if plain_text in words:
            return words[plain_text]
        known = list(dict.fromkeys(words.values()))
        near = difflib.get_close_matches(plain_text, words, n=1)
        raise InputError(
            where=self.at(key),
            found=f'"{text}"',
            need="one of " + ", ".join(known),
            do=f'did you mean "{words[near[0]]}"' if near else f'write for example "{known[0]}"',
        )

    def flag(self, key: str) -> bool | None:
        """Read true or false, or None."""
        found = self.raw(key)
        if found is None or isinstance(found, bool):
            return found
        answers = {"yes": True, "true": True, "no": False, "false": False, "none": False}
        if str(found).lower() in answers:
            return answers[str(found).lower()]
        raise InputError(where=self.at(key), found=repr(found), need="true or false", do="write true or false")

    def unused(self) -> Iterable[Caution]:
        """Say which keys were not used, each with what may have been meant."""
        for key in self.data.keys() - self.used:
            near = difflib.get_close_matches(key, self.used, n=1)
            meant = f"; did you mean {near[0]}?" if near else ""
            yield Caution("key-not-used", f"The key {self.at(key)} is not used{meant}")


def _circuit(data: Mapping[str, Any], where: str) -> Circuit | Unsaid:
    assumed: list[str] = []
    head = _Table(data, where, assumed)
    texts = {key: str(head.raw(key) or "") for key in _PLAIN_KEYS}
    prefix = f"{where}: " if where else ""

    def table(key: str) -> _Table:
        return _Table(head.raw(key) if head.raw(key) is not None else {}, f"{prefix}{key}", assumed)

    supply_t, chain_t, input_t, cable_t = (table(key) for key in ("supply", "chain", "input", "cable"))
    found = head.raw("sensor")
    rows = found if isinstance(found, Sequence) and not isinstance(found, str) else [found or {}]
    sensor_ts = [
        _Table(row, f"{prefix}sensor" + (f" {k}" if len(rows) > 1 else ""), assumed)
        for k, row in enumerate(rows, 1)
    ]
    missing = [t.at("output") for t in sensor_ts if str(t.raw("output") or "").lower() in _UNKNOWN]
    missing += [input_t.at("kind")] if str(input_t.raw("kind") or "").lower() in _UNKNOWN else []
    if missing:
        return Unsaid(name=texts["name"], missing=tuple(missing))

    outputs = [cast(Output, t.word("output", _OUTPUTS)) for t in sensor_ts]
    kind, iec_type = _input_kind(input_t)
    supply_v = _supply_volt(supply_t, input_t, sensor_ts, kind)
    common = _common(input_t, sensor_ts, outputs, kind)
    logic = _input(input_t, kind, iec_type, common, supply_v, outputs)
    sensors = tuple(
        _sensor(t, output, logic, supply_v, f"{'S' if output == 'dry contact' else 'B'}{k}")
        for k, (t, output) in enumerate(zip(sensor_ts, outputs, strict=True), 1)
    )
    sensors, chain = _chain(chain_t, sensors)
    if len({s.name for s in sensors}) < len(sensors):
        raise InputError(
            where=chain_t.where, found="two sensors of one name", need="a name for each", do="rename one"
        )
    supply = _supply(supply_t, supply_v, logic)
    cable = _cable(cable_t)
    notes = [n for t in (head, supply_t, chain_t, input_t, cable_t, *sensor_ts) for n in t.unused()]
    return Circuit(
        **texts,
        supply=supply,
        sensors=sensors,
        chain=chain,
        input=logic,
        cable=cable,
        assumed=tuple(dict.fromkeys(assumed)),
        notes=tuple(sorted(notes, key=lambda n: n.text)),
    )


def _input_kind(t: _Table) -> tuple[Literal["logic", "opto", "IEC"], int]:
    text = str(t.raw("kind")).strip()
    low = text.lower()
    iec = re.search(r"type[ -]?([123])\b", low)
    if iec:
        return "IEC", int(iec[1])
    if low.startswith(("logic", "ttl", "cmos")):
        return "logic", 0
    if low.startswith("opto"):
        return "opto", 0
    if low.startswith("iec"):
        t.assume("input of type 3, since its type is not stated")
        return "IEC", 3
    raise InputError(
        where=t.at("kind"),
        found=f'"{text}"',
        need='"logic", "opto" or "IEC 61131-2 type 1", "type 2" or "type 3"',
        do="take it from the controller's manual",
    )


def _room(volt: float) -> float:
    """Tolerance of a supply where none is stated; common practice, no source."""
    return 0.10 if abs(volt) > 6 else 0.05


def _supply_volt(t: _Table, input_t: _Table, sensors: list[_Table], kind: str) -> Limits:
    found = t.limits("voltage", "voltage")
    if found is None:
        own = input_t.limits("supply", "voltage") if kind == "logic" else None
        ranges = [read_range(s.raw("supply"), "voltage", unit="V", where=s.at("supply")) for s in sensors if "supply" in s]
        fits = [v for v in (24.0, *([own.nominal] if own else []), 12.0) if all(a <= v <= b for a, b in ranges)]
        volt = fits[0] if fits else min(b for _, b in ranges)
        t.assume(f"supply {_v(volt)}, since none is stated")
        found = Limits.exact(volt)
    if found.stated and found.low < found.high:
        return found
    room = _room(found.nominal)
    t.assume(f"supply within ±{room:.0%} of {_v(found.nominal)}".replace("%", " %"))
    return Limits.around(found.nominal, room)


def _common(t: _Table, sensors: list[_Table], outputs: list[Output], kind: str) -> Literal["plus", "minus"]:
    stated = t.word("common", _FEEDS)
    if stated in ("plus", "minus"):
        return cast(Literal["plus", "minus"], stated)
    if kind != "opto":
        return "minus"
    feeds = {s.word("feed", _FEEDS) for s in sensors if "feed" in s}
    common: Literal["plus", "minus"] = "plus" if "NPN" in outputs or "minus" in feeds else "minus"
    t.assume(f"the opto-coupler's common is joined to {'+' if common == 'plus' else '0 V'}, which suits the sensor")
    return common


def _input(
    t: _Table, kind: Literal["logic", "opto", "IEC"], iec_type: int, common: Literal["plus", "minus"],
    supply: Limits, outputs: list[Output],
) -> Input:  # fmt: skip
    volt = t.limits("supply", "voltage")
    if volt is None and kind == "logic":
        named = re.search(r"(\d+(?:[.,]\d+)?) ?v", str(t.raw("kind")).lower())
        near = supply.nominal if 0 < supply.nominal <= 5.5 else 3.3
        value = float(named[1].replace(",", ".")) if named else near
        volt = Limits.exact(value)
        if not named:
            t.assume(f"logic supply {_v(value)}, since none is stated")
    if volt is not None and not (volt.stated and volt.low < volt.high):
        volt = Limits.around(volt.nominal, _room(volt.nominal))
        t.assume(f"{'logic' if kind == 'logic' else 'input'} supply within ±{_room(volt.nominal):.0%}".replace("%", " %"))
    pull_up, pull_down = t.ohms("pull_up"), t.ohms("pull_down")
    series, filter_f, filter_s = t.ohms("series_resistor"), None, 0.0
    if "filter" in t:
        text = str(t.raw("filter")).strip()
        if re.search(r"(s|sec|min)$", text):
            filter_s = cast(float, t.value("filter", "time"))
        else:
            filter_f = t.limits("filter", "capacitance", share=0.10)
    on_a, off_a, most_a = (t.value(key, "current") for key in ("i_on", "i_off", "i_max"))
    v_il, v_ih = t.value("v_il", "voltage"), t.value("v_ih", "voltage")
    led = t.limits("led_voltage", "voltage")
    if kind == "logic":
        if pull_up is None and pull_down is None:
            inside = Limits(45e3, 20e3, 65e3)
            if set(outputs) == {"PNP"}:
                pull_down = inside
                t.assume("the input is set to its internal pull-down, 20 kΩ to 65 kΩ")
            else:
                pull_up = inside
                t.assume("the input has only its internal pull-up, 20 kΩ to 65 kΩ")
        v_il = _level(t, v_il, 0.8, "V_IL 0.8 V, the lowest of the usual logic families")
        if v_ih is None:
            t.assume("V_IH 0.7 x the logic supply, the highest of the usual logic families")
        elif v_ih <= v_il:
            raise InputError(
                where=t.at("v_ih"), found=f"V_IH {_v(v_ih)} not above V_IL {_v(v_il)}",
                need="V_IH above V_IL", do="take both from the input's data sheet",
            )  # fmt: skip
    if kind == "opto":
        if series is None:
            series = Limits.around(_usual_series(volt.nominal if volt else supply.nominal), 0.05)
            t.assume(f"{plain(show(series.nominal, 'resistance'))} in series with the opto-coupler's LED")
        on_a, off_a = _opto_currents(t, on_a, off_a, volt)
    return Input(
        kind=kind,
        iec_type=iec_type,
        name=str(t.raw("name") or ""),
        common=common,
        volt=volt,
        pull_up_ohm=pull_up,
        pull_down_ohm=pull_down,
        series_ohm=series,
        bleed_ohm=t.ohms("bleed"),
        shunt_ohm=t.ohms("shunt"),
        filter_f=filter_f,
        filter_ohm=t.ohms("filter_resistor"),
        filter_s=filter_s,
        v_il=v_il,
        v_ih=v_ih,
        rising_v=t.limits("threshold_rising", "voltage"),
        falling_v=t.limits("threshold_falling", "voltage"),
        clamp=t.flag("clamp"),
        led_v=led if led else Limits(1.1, 1.0, 1.4),
        on_a=3e-3 if on_a is None else on_a,
        off_a=1e-3 if off_a is None else off_a,
        most_a=20e-3 if most_a is None else most_a,
        reverse_diode=bool(t.flag("reverse_diode")),
        watched=_watched(t),
        proves_release=t.flag("proves_release"),
    )


def _level(t: _Table, found: float | None, usual: float, clause: str) -> float:
    if found is None:
        t.assume(clause)
        return usual
    return found


def _opto_currents(t: _Table, on_a: float | None, off_a: float | None, volt: Limits | None) -> tuple[float, float]:
    """LED currents that are surely on and off: stated, or from the output side of the coupler."""
    ctr = t.limits("ctr", "number")
    output_ohm = t.value("output_pull_up", "resistance")
    if ctr is not None and output_ohm is not None:
        logic = t.limits("output_supply", "voltage", share=0.05) or Limits.around(3.3, 0.05)
        v_il, v_ih = t.value("v_il", "voltage"), t.value("v_ih", "voltage")
        from_output = opto_limits(
            supply_low_v=logic.low,
            supply_high_v=logic.high,
            pull_up_ohm=output_ohm,
            ctr_low=ctr.low,
            ctr_high=ctr.high,
            v_il=0.4 if v_il is None else v_il,
            v_ih=0.7 * logic.high if v_ih is None else v_ih,
        )
        on_a, off_a = (given if given is not None else own for given, own in zip((on_a, off_a), from_output, strict=True))
    if on_a is None or off_a is None:
        t.assume("the opto-coupler is on from 3 mA and off up to 1 mA of LED current")
    on_a, off_a = (3e-3 if on_a is None else on_a), (1e-3 if off_a is None else off_a)
    if off_a >= on_a:
        raise InputError(
            where=t.at("i_off"), found=f"off up to {off_a * 1e3:g} mA but on from {on_a * 1e3:g} mA",
            need="i_off below i_on", do="take both from the input's data sheet",
        )  # fmt: skip
    return on_a, off_a


def _usual_series(volt: float) -> float:
    """LED resistor an input of this voltage usually has, for about 8 mA; common practice, no source."""
    wanted = max(abs(volt) - 1.1, 1.0) / 8e-3
    return min((150.0, 220.0, 390.0, 470.0, 820.0, 1000.0, 1500.0, 2200.0, 2700.0, 3300.0), key=lambda r: abs(r - wanted * 0.8))


def _watched(t: _Table) -> bool:
    text = t.raw("use")
    if text is None:
        t.assume("the controller watches the input all the time, as for a limit, not only while homing")
        return True
    words = {"limit": True, "home": False, "homeandlimit": True, "limitandhome": True, "both": True}
    key = re.sub(r"[^a-z]", "", str(text).lower())
    if key not in words:
        raise InputError(
            where=t.at("use"), found=f'"{text}"', need='"home", "limit" or "home and limit"',
            do='write "home" where the input is read while homing only',
        )  # fmt: skip
    if not words[key] and "proves_release" not in t:
        t.assume("not known whether homing demands to see the switch release: a fault that trips it counts as hidden")
    return words[key]


def _sensor(t: _Table, output: Output, logic: Input, supply: Limits, name: str) -> SensorOutput:
    contact = _contact(t)
    feed = _feed(t, output, logic)
    drop, ohm, unknown = _drop(t, output, logic)
    leak = t.value("leakage", "current")
    usual_leak, worst_leak = (0.8e-3, 1.5e-3) if output == "2-wire" else (0.1e-3, 0.5e-3)
    if leak is None and output != "dry contact":
        t.assume(f"leakage of the output when off {usual_leak * 1e3:g} mA, at most {worst_leak * 1e3:g} mA (IEC 60947-5-2)")
    own = t.limits("own_current", "current")
    if own is None and output in THREE_WIRE:
        t.assume("10 mA for the sensor itself, 1 mA to 20 mA")
    least = t.value("least_current", "current")
    if least is None and output == "2-wire":
        t.assume("a 2-wire sensor that is on needs 5 mA at most (IEC 60947-5-2)")
    ranges = read_range(t.raw("supply"), "voltage", unit="V", where=t.at("supply")) if "supply" in t else (None, None)
    rating = t.value("output_current", "current")
    limit = t.value("current_limit", "current") or max(rating or 0.0, 0.1 if output == "2-wire" else 0.2)
    contact_ohm = t.limits("contact_resistance", "resistance")
    diodes = t.flag("protection_diodes")
    if diodes is None and output in THREE_WIRE:
        t.assume("protection diodes inside the sensor, until the test with one wire pulled shows otherwise")
    hold = ranges[0] if ranges[0] is not None else min(8.0, 0.8 * abs(supply.nominal))
    material = t.word("material", {m: m for m in ("silver", "gold", "reed")})
    pull_up, pull_down = t.ohms("pull_up"), t.ohms("pull_down")
    return SensorOutput(
        name=str(t.raw("name") or name),
        output=output,
        contact=contact,
        feed=feed,
        side=str(t.raw("side") or ""),
        drop_v=drop,
        ohm=ohm,
        leak_a=Limits(usual_leak, 0.0, worst_leak) if leak is None else Limits(leak, 0.0, leak, stated=True),
        own_a=own or Limits(10e-3, 1e-3, 20e-3),
        limit_a=limit,
        rating_a=rating or limit,
        least_a=NOTHING if output != "2-wire" else Limits(5e-3, 0.0, 5e-3) if least is None else Limits.exact(least),
        contact_ohm=contact_ohm or Limits(0.2, 0.2, 1.0),
        material=material or "",
        supply_low_v=ranges[0],
        supply_high_v=ranges[1],
        hold_v=hold,
        drop_unknown=unknown,
        diodes=diodes if diodes is not None else True,
        pull_up_ohm=pull_up.nominal if pull_up else None,
        pull_down_ohm=pull_down.nominal if pull_down else None,
    )


def _contact(t: _Table) -> Contact:
    text = str(t.raw("contact") or "").strip().lower()
    if text in ("changeover", "change-over", "change over", "co"):
        wired = t.word("wired", _CONTACTS)
        if wired is None:
            t.assume("the break contact (NC) of the changeover contact is the one that is wired")
        return wired or "NC"
    if text in _UNKNOWN:
        t.assume("NO, the harder case, since it is not stated whether the output is NO or NC")
        return "NO"
    return cast(Contact, t.word("contact", _CONTACTS))


def _feed(t: _Table, output: Output, logic: Input) -> Rail:
    if output in THREE_WIRE:
        t.raw("feed")
        return "minus" if output == "NPN" else "plus"
    stated = t.word("feed", _FEEDS)
    if stated:
        return stated
    if logic.kind == "logic":
        if logic.pull_up_ohm is None:
            return "logic" if output == "dry contact" else "plus"
        return "minus"
    return "minus" if logic.common == "plus" else "plus"


def _drop(t: _Table, output: Output, logic: Input) -> tuple[Limits, float, bool]:
    """Knee and slope of an output that is on, and whether its drop at a small current is unknown."""
    stated = t.limits("drop", "voltage")
    at_a = t.value("drop_at", "current")
    ohm = t.value("resistance", "resistance")
    small = logic.kind == "logic" and output in ("NPN", "push-pull") and logic.v_il is not None
    if output == "dry contact":
        return NOTHING, 0.0, False
    if output == "2-wire":
        if stated is None:
            t.assume("2-wire sensor drops 5 V when on, at most 8 V (IEC 60947-5-2)")
            return Limits(5.0, 2.5, 8.0), 10.0 if ohm is None else ohm, False
        # The sheet's figure is the whole drop at rated current: nothing comes on top.
        return Limits(stated.nominal, min(2.5, stated.low), stated.high, stated=True), 0.1 if ohm is None else ohm, False
    ohm = 5.0 if ohm is None else ohm
    if stated is None:
        t.assume("output drops 0.7 V and 5 Ω when on, at most 3.5 V (IEC 60947-5-2)")
        return Limits(0.7, 0.3, 3.5), ohm, small
    known = Limits(stated.nominal, min(0.3, stated.low), stated.high, stated=True)
    if small and stated.high > cast(float, logic.v_il) and (at_a is None or at_a > 10e-3):
        t.assume("the drop stated is the one at rated current; at the small current of a logic input about 0.7 V")
        return Limits(min(0.7, stated.nominal), min(0.3, stated.low), stated.high), ohm, True
    return known, ohm, False


def _chain(t: _Table, sensors: tuple[SensorOutput, ...]) -> tuple[tuple[SensorOutput, ...], Chain | None]:
    join = t.word("join", cast(Mapping[str, Chain], {"series": "series", "parallel": "parallel"}))
    count = t.raw("count")
    if count is not None:
        if not isinstance(count, int) or isinstance(count, bool) or not 1 <= count <= MOST_SENSORS or len(sensors) > 1:
            raise InputError(
                where=t.at("count"), found=repr(count), need=f"1 to {MOST_SENSORS} alike sensors, described once",
                do="write [[sensor]] for each where they differ",
            )  # fmt: skip
        letter = sensors[0].name.rstrip("0123456789") or sensors[0].name
        sensors = tuple(_renamed(sensors[0], f"{letter}{k}") for k in range(1, count + 1))
    if len(sensors) > MOST_SENSORS:
        raise InputError(
            where=t.where, found=f"{len(sensors)} sensors", need=f"at most {MOST_SENSORS} on one input",
            do="give the rest an input of their own",
        )  # fmt: skip
    if len(sensors) == 1:
        return sensors, None
    if len({s.output in THREE_WIRE for s in sensors}) > 1 or len({s.feed for s in sensors}) > 1:
        raise InputError(
            where=t.where, found=" and ".join(dict.fromkeys(s.output for s in sensors)) + " on one input",
            need="outputs of one kind", do="give each kind an input of its own",
        )  # fmt: skip
    if join is None:
        join = "series" if all(s.contact == "NC" and s.output not in THREE_WIRE for s in sensors) else "parallel"
        t.assume(f"the sensors are joined in {join}")
    return sensors, join


def _renamed(sensor: SensorOutput, name: str) -> SensorOutput:
    return replace(sensor, name=name)


def _supply(t: _Table, volt: Limits, logic: Input) -> Supply:
    fuse = t.value("fuse", "current")
    limit = t.value("current_limit", "current")
    ohm = t.value("resistance", "resistance")
    earthed, joined, shared = t.flag("earthed"), t.flag("joined"), t.flag("shared")
    join_ohm = t.value("join_resistance", "resistance")
    if earthed is None:
        t.assume("0 V joined to the frame (earth)")
    if logic.volt is not None and shared is None and logic.kind == "logic" and logic.volt.nominal == volt.nominal:
        shared = True
        t.assume("the logic input is fed from the same supply")
    if logic.volt is not None and not shared and joined is None and join_ohm is None:
        t.assume("the 0 V of both supplies are joined")
    return Supply(
        volt=volt,
        ohm=max(ohm, 1e-3) if ohm is not None else 0.05,
        fuse_a=fuse if fuse is not None else limit,
        earthed=earthed is not False,
        joined_ohm=None if joined is False else max(join_ohm or 0.0, 1e-3),
        shared=bool(shared),
    )


def _cable(t: _Table) -> Cable:
    length_mm, section, bare = t.value("length", "length"), t.value("section", "section"), t.raw("capacitance")
    room = read_range(t.raw("temperature"), "temperature", unit="degC", where=t.at("temperature")) if "temperature" in t else (20.0, 60.0)
    screened = t.flag("screened")
    shared_by = t.raw("shared_by")
    colours = tuple(str(c).upper() for c in t.raw("colours") or ())
    for colour in colours:
        if colour not in COLOURS:
            raise InputError(
                where=t.at("colours"), found=f'"{colour}"', need="letters of IEC 60757",
                do="write for example BN, BU, BK or WH",
            )  # fmt: skip
    if shared_by is not None and (not isinstance(shared_by, int) or shared_by < 1):
        raise InputError(where=t.at("shared_by"), found=repr(shared_by), need="a number of sensors", do="write 4")
    if length_mm is None:
        t.assume("no cable stated: its resistance and capacitance are left out")
        length_m, core_ohm = None, 1e-3
    else:
        if section is None:
            t.assume("cores of 0.25 mm²")
        length_m = length_mm / 1000
        core_ohm = max(length_m * ohm_per_km(section or 0.25) / 1000, 1e-3)
    per_m = bare is not None and re.search(r"F ?/ ?m\b", str(bare)) is not None
    if per_m:
        each = read(bare, "capacitance per length", where=t.at("capacitance"))
        farad = Limits.exact(each * 1000 * (length_m or 0.0))
    elif bare is not None:
        farad = t.limits("capacitance", "capacitance") or NOTHING
    elif length_m:
        t.assume("100 pF/m of cable, at most 200 pF/m")
        least, usual, most = (f * length_m for f in CABLE_F_PER_M)
        farad = Limits(usual, least, most)
    else:
        farad = NOTHING
    return Cable(
        length_m=length_m,
        section_mm2=section or 0.25,
        core_ohm=core_ohm,
        farad=farad,
        low_degc=room[0],
        high_degc=room[1],
        shared_by=shared_by or 1,
        screened=screened,
        colours=colours,
    )


def _v(volt: float) -> str:
    return f"{volt:g} V"
