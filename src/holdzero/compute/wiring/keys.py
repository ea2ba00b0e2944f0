"""Keys: what a wiring form may say, table by table.

The one place from which files are read and pages and manuals are made. Volts, ohms and square
millimetres mean the same on every page, so a bare number counts as one of these; elsewhere a figure
needs its unit.
"""

import re
from dataclasses import replace
from typing import Any

from holdzero import quantity
from holdzero.compute.wiring.conductor import COLOURS
from holdzero.compute.wiring.values import Limits
from holdzero.errors import InputError
from holdzero.form import ABOVE_ZERO, ANY, NOT_NEGATIVE, Key, choice, text, whole, yes_or_no
from holdzero.inputs.sensor.output import CHANGEOVER_WAYS, CONTACT_WAYS, OUTPUT_WAYS
from holdzero.quantity import plain, quoted

BARE = {"voltage": "V", "resistance": "ohm", "section": "mm2"}
EXTENT = {  # least and most, 0 aside, that home-switch wiring can mean: beyond it a unit has slipped
    "voltage": (1e-3, 120.0),  # the most: extra-low voltage, direct current, IEC 61140
    "current": (1e-9, 20.0),
    "resistance": (1e-3, 1e9),
    "capacitance": (1e-13, 0.1),
    "capacitance per length": (1e-16, 1e-10),
    "length": (1.0, 1e7),
    "section": (0.01, 100.0),
    "temperature": (-100.0, 200.0),
    "time": (1e-9, 60.0),
    "number": (1e-3, 100.0),
}
RESISTOR_SHARE = 0.05  # of a resistor whose tolerance is not stated
FILTER_SHARE = 0.10  # of a capacitor
_YES_OR_NO = yes_or_no("clamp", "clamp", "")
_RANGE = re.compile(r" to |\.\.|–")


def read_limits(entered: Any, kind: str, where: str, *, share: float = 0.0) -> Limits:
    """Read a figure and how far it may lie off.

    Parameters
    ----------
    entered : str or float
        ``"24 V"``, ``"24 V +- 5 %"``, ``"20.4 V to 28.8 V"``.
    kind : str
        One of `holdzero.quantity.KINDS`.
    where : str
        For messages.
    share : float
        Room to either side where none is stated; it then counts as ours. [-]

    Examples
    --------
    >>> read_limits("24 V +- 5 %", "voltage", "")
    Limits(nominal=24.0, low=22.8, high=25.2, stated=True)
    """
    unit = BARE.get(kind, "")
    if isinstance(entered, str) and _RANGE.search(entered):
        low, high = quantity.read_range(entered, kind, unit=unit, where=where)
        return Limits((low + high) / 2, low, high, stated=True)
    value, half = quantity.read_tolerance(entered, kind, unit=unit, where=where)
    return Limits(value, value - half, value + half, stated=True) if half else Limits.around(value, share)


def _refuse(entered: Any, name: str, where: str) -> InputError:
    return InputError(
        where=where, found=quoted(entered), need=f"{name} above zero", do="leave the line out where there is none"
    )


def _within(kind: str, *values: float, entered: Any, name: str, where: str) -> None:
    """Refuse what no home switch is wired with."""
    least, most = EXTENT[kind]
    size = values if least < 0 else [abs(value) for value in values]
    if all(value == 0 or least <= value <= most for value in size):
        return
    mains = kind == "voltage" and max(size) > most
    raise InputError(
        where=where,
        found=quoted(entered),
        need=f"{name} from {plain(quantity.show(least, kind))} to {plain(quantity.show(most, kind))}",
        do="check the unit" + ("; mains work: a licensed person" if mains else ""),
    )


def limits(
    name: str, kind: str, fills: str, example: str, meaning: str, *, share: float = 0.0, any_sign: bool = False
) -> Key:
    """Return a key that holds a figure, perhaps with a tolerance or as a range."""

    def read(entered: Any, where: str) -> tuple[Limits]:
        read_value = read_limits(entered, kind, where, share=share)
        if read_value.low <= 0 and not (any_sign and read_value.high < 0):
            raise _refuse(entered, name, where)
        _within(kind, *read_value.as_stated.ends, entered=entered, name=name, where=where)
        return (read_value,)

    return Key(name, (fills,), meaning, example, read, kind, sign=ANY if any_sign else ABOVE_ZERO)


def figure(name: str, kind: str, fills: str, example: str, meaning: str, *, zero: bool = False) -> Key:
    """Return a key that holds one figure above zero, or from zero up."""

    def read(entered: Any, where: str) -> tuple[float]:
        read_value = quantity.read(entered, kind, unit=BARE.get(kind, ""), where=where)
        if read_value < 0 or (read_value == 0 and not zero):
            raise _refuse(entered, name, where)
        _within(kind, read_value, entered=entered, name=name, where=where)
        return (read_value,)

    return Key(name, (fills,), meaning, example, read, kind, sign=NOT_NEGATIVE if zero else ABOVE_ZERO)


def span(name: str, kind: str, low: str, high: str, example: str, meaning: str) -> Key:
    """Return a key that holds a range."""

    def read(entered: Any, where: str) -> tuple[float, float]:
        ends = quantity.read_range(entered, kind, unit=BARE.get(kind, ""), where=where)
        _within(kind, *ends, entered=entered, name=name, where=where)
        return ends

    return Key(name, (low, high), meaning, example, read, kind, sign=ANY)


def few(name: str, most: int, fills: str, example: str, meaning: str) -> Key:
    """Return a key that holds a number of things from 1 up to a few."""
    key = whole(name, fills, example, meaning)

    def read(entered: Any, where: str) -> tuple[int]:
        (read_value,) = key.read(entered, where)
        if read_value > most:
            raise InputError(
                where=where, found=quoted(entered), need=f"{name} up to {most}", do="check the number"
            )
        return (read_value,)

    return replace(key, read=read)


def read_input_kind(entered: Any, where: str) -> tuple[str, int | None, float | None]:
    """Read which kind of input it is: kind, type of IEC 61131-2, volts where the words name them.

    >>> read_input_kind("IEC 61131-2 type 3", ""), read_input_kind("3.3 V logic", "")
    (('IEC', 3, None), ('logic', None, 3.3))
    """
    words = " ".join(str(entered).split()).casefold()
    iec = re.search(r"\btype[ -]?([123])\b", words)
    if iec:
        return "IEC", int(iec[1]), None
    volts = re.search(r"([0-9]+(?:[.,][0-9]+)?) ?v\b", words)
    if "logic" in words or "ttl" in words or "cmos" in words:
        return "logic", None, float(volts[1].replace(",", ".")) if volts else None
    if "opto" in words:
        return "opto", None, None
    if words.startswith("iec"):
        return "IEC", None, None
    if words in ("unknown", "?", "not known"):
        return "unknown", None, None
    raise InputError(
        where=where,
        found=quoted(entered),
        need='"logic", "opto" or "IEC 61131-2 type 1", "type 2" or "type 3"',
        do="take it from the controller's manual",
    )


def _filter(entered: Any, where: str) -> tuple[Limits | None, float]:
    """Read a filter: a capacitor, or a time that the controller filters by itself."""
    if re.search(r"(s|sec|seconds?|min)$", str(entered).strip()):
        time_s = quantity.read(entered, "time", where=where)
        if time_s < 0:
            raise _refuse(entered, "filter", where)
        _within("time", time_s, entered=entered, name="filter", where=where)
        return None, time_s
    capacitance = read_limits(entered, "capacitance", where, share=FILTER_SHARE)
    if capacitance.low <= 0:
        raise _refuse(entered, "filter", where)
    _within("capacitance", *capacitance.as_stated.ends, entered=entered, name="filter", where=where)
    return capacitance, 0.0


def _clamp(entered: Any, where: str) -> tuple[bool, float | None, float | None]:
    """Read whether a pin has clamp diodes: yes or no, or their voltage, or the current they are made for."""
    if isinstance(entered, str) and re.search(r"[0-9]", entered):
        kind = "current" if entered.rstrip().endswith("A") else "voltage"
        clamp_v = quantity.read(entered, kind, unit=BARE.get(kind, ""), where=where)
        if clamp_v <= 0:
            raise _refuse(entered, "clamp", where)
        _within(kind, clamp_v, entered=entered, name="clamp", where=where)
        return (True, None, clamp_v) if kind == "current" else (True, clamp_v, None)
    (clamped,) = _YES_OR_NO.read(entered, where)
    return clamped, None, None


def _capacitance(entered: Any, where: str) -> tuple[Limits | None, float | None]:
    """Read the capacitance of a cable: as a whole, or per metre."""
    if re.search(r"/ ?k?m$", str(entered).strip()):
        per_mm = quantity.read(entered, "capacitance per length", where=where)
        _within("capacitance per length", per_mm, entered=entered, name="capacitance", where=where)
        return None, per_mm * 1000
    capacitance = read_limits(entered, "capacitance", where)
    _within("capacitance", *capacitance.as_stated.ends, entered=entered, name="capacitance", where=where)
    return capacitance, None


def _colours(entered: Any, where: str) -> tuple[tuple[str, ...]]:
    parts = entered.split(",") if isinstance(entered, str) else entered
    letters = tuple(str(part).strip().upper() for part in parts) if isinstance(parts, list | tuple) else ()
    strange = [letter for letter in letters if letter not in COLOURS]
    if strange or not letters:
        raise InputError(
            where=where,
            found=quoted(strange[0] if strange else entered),
            need="letters of IEC 60757, from plus to minus",
            do='write it like "BN, BK, BU"',
        )
    return (letters,)


RAILS = {
    "plus": ("+", "positive", "+24 V", "24 V", "+12 V", "12 V", "+5 V", "5 V"),
    "minus": ("-", "negative", "0 V", "0V", "ground", "gnd"),
}
UNKNOWN = {"unknown": ("?", "not known")}

HEAD_KEYS = (
    text("name", "name", "Y left home", "What the circuit is called"),
    text("machine", "machine", "Plywood router", "For the title block"),
    text("axis", "axis", "Y", "For the title block"),
    text("side", "side", "L", "Side of a gantry with two motors, L or R"),
)
SUPPLY_KEYS = (
    limits("voltage", "voltage", "volt", "24 V +- 10 %", "Supply of the sensors", any_sign=True),
    figure("resistance", "resistance", "ohm", "0.05 ohm", "Inner resistance of the supply", zero=True),
    figure("fuse", "current", "fuse_a", "1 A", "Fuse or electronic limit in front of the sensors"),
    yes_or_no("earthed", "earthed", "0 V is joined to the frame of the machine"),
    yes_or_no("joined", "joined", "Its 0 V is joined to the 0 V of the logic, or of the input's own supply"),
    figure("join_resistance", "resistance", "join_ohm", "2 ohm", "Resistance of that joint", zero=True),
    yes_or_no("shared", "shared", "The logic input is fed from this supply too"),
)
SENSOR_KEYS = (
    text("name", "name", "B1", "What it is called on the drawing"),
    choice(
        "output",
        "output",
        {**OUTPUT_WAYS, **UNKNOWN},
        "Output stage",
    ),
    choice(
        "contact",
        "contact",
        {**CONTACT_WAYS, **CHANGEOVER_WAYS, **UNKNOWN},
        "NO: conducts with the flag at it; NC: conducts without",
    ),
    choice("wired", "wired", CONTACT_WAYS, "Of a changeover contact: the one that is wired"),
    text("side", "side", "L", "Side of a gantry with two motors, where several sensors share one input"),
    choice(
        "feed",
        "feed",
        {**RAILS, "logic": ("logic plus",)},
        "Of a contact or a 2-wire sensor: the rail that it joins to the input",
    ),
    limits("drop", "voltage", "drop_v", "3 V", "Voltage across the output when on, as the sheet gives it"),
    figure("drop_at", "current", "drop_at_a", "5 mA", "Current at which the sheet gives the drop"),
    figure("resistance", "resistance", "ohm", "5 ohm", "On top of the drop"),
    figure("leakage", "current", "leak_a", "0.1 mA", "Current through the output when off", zero=True),
    limits("own_current", "current", "own_a", "10 mA", "What the sensor takes for itself"),
    figure("output_current", "current", "rating_a", "100 mA", "Most the output may carry"),
    figure("current_limit", "current", "limit_a", "200 mA", "Where the output limits by itself"),
    figure(
        "least_current", "current", "least_a", "5 mA", "Least current of a 2-wire sensor that is on", zero=True
    ),
    span("supply", "voltage", "supply_low_v", "supply_high_v", "10 V to 30 V", "Supply the sheet allows"),
    figure(
        "supply_maximum", "voltage", "supply_most_v", "32 V", "Most that the sheet says it bears, beyond the range"
    ),
    yes_or_no("protection_diodes", "diodes", "Diodes inside from minus to output and from output to plus"),
    yes_or_no("reverse_protected", "reverse_protected", "It bears its supply the wrong way round, by its sheet"),
    figure("pull_up", "resistance", "pull_up_ohm", "10 kohm", "Built in, from output to its own plus"),
    figure("pull_down", "resistance", "pull_down_ohm", "10 kohm", "Built in, from output to its own minus"),
    yes_or_no(
        "direct_opening", "direct_opening", "An NC contact that its actuator forces open (IEC 60947-5-1, annex K)"
    ),
    choice("plug", "plug", {"M12": ("M12 A", "M12, 4 pins")}, "Plug at a sensor that is not a contact"),
    figure("cable_length", "length", "cable_mm", "14 m", "Its own cable, where that is not as long as the others"),
    Key("colours", ("colours",), "Letters of the cores of its own cable, from plus to minus", "BN, BK", _colours),
    choice("material", "material", {"silver": (), "gold": (), "reed": ()}, "Of a contact"),
    limits("contact_resistance", "resistance", "contact_ohm", "0.2 ohm", "Of a closed contact"),
)
CHAIN_KEYS = (
    choice("join", "join", {"series": (), "parallel": ()}, "How several sensors share the input"),
    whole("count", "count", "2", "How many alike sensors"),
)
INPUT_KEYS = (
    Key("kind", ("kind", "iec_type", "named_v"), "Kind of input", "IEC 61131-2 type 3", read_input_kind),
    text("name", "name", "IN3", "What the controller calls it"),
    choice("common", "common", RAILS, "Rail that the common of an opto-coupled or IEC input is joined to"),
    limits("supply", "voltage", "volt", "5 V", "Supply of the logic, or a supply of the input's own"),
    limits("pull_up", "resistance", "pull_up_ohm", "2.2 kohm", "From the terminal to plus", share=RESISTOR_SHARE),
    limits("pull_down", "resistance", "pull_down_ohm", "1.2 kohm", "From the pin to 0 V", share=RESISTOR_SHARE),
    limits(
        "series_resistor",
        "resistance",
        "series_ohm",
        "1 kohm",
        "From the terminal to the pin, or to the LED",
        share=RESISTOR_SHARE,
    ),
    limits("bleed", "resistance", "bleed_ohm", "4.7 kohm", "Across an opto or IEC input", share=RESISTOR_SHARE),
    limits("shunt", "resistance", "shunt_ohm", "1 kohm", "Across the LED of an opto input", share=RESISTOR_SHARE),
    Key(
        "filter",
        ("filter_f", "filter_s"),
        "Capacitor at the pin, or a time that the controller filters",
        "100 nF",
        _filter,
        "capacitance",
    ),
    limits(
        "filter_resistor",
        "resistance",
        "filter_ohm",
        "1 kohm",
        "From the terminal of an opto or IEC input to its filter capacitor",
        share=RESISTOR_SHARE,
    ),
    figure("v_il", "voltage", "v_il", "0.8 V", "Highest voltage that is surely low"),
    figure("v_ih", "voltage", "v_ih", "2 V", "Lowest voltage that is surely high"),
    limits("threshold_rising", "voltage", "rising_v", "1.9 V +- 0.3 V", "Where a Schmitt input turns high"),
    limits("threshold_falling", "voltage", "falling_v", "1.3 V +- 0.3 V", "Where a Schmitt input turns low"),
    Key(
        "clamp",
        ("clamp", "clamp_v", "clamp_a"),
        "The pin has diodes to its supply and to 0 V (yes or no), perhaps with their voltage or what they bear",
        "1 mA",
        _clamp,
    ),
    figure("i_on", "current", "on_a", "3 mA", "Least LED current that is surely on"),
    figure("i_off", "current", "off_a", "1 mA", "Most LED current that is surely off"),
    figure("i_max", "current", "most_a", "20 mA", "Most LED current allowed"),
    limits("led_voltage", "voltage", "led_v", "1.0 V to 1.4 V", "Across the LED when on"),
    yes_or_no("reverse_diode", "reverse_diode", "A diode the other way round across the LED"),
    limits("ctr", "number", "ctr", "0.25 to 3", "Current transfer ratio of the coupler, old to new"),
    figure("output_pull_up", "resistance", "output_ohm", "10 kohm", "Resistor on the coupler's output side"),
    limits("output_supply", "voltage", "output_v", "3.3 V", "Supply on the coupler's output side", share=0.05),
    choice(
        "use",
        "use",
        {"home": (), "limit": (), "home and limit": ("limit and home", "both")},
        "home: read while homing only; limit: watched all the time",
    ),
    yes_or_no("proves_release", "proves_release", "Homing demands to see the switch release"),
)
CABLE_KEYS = (
    figure("length", "length", "length_mm", "10 m", "From the cabinet to the sensor"),
    figure("section", "section", "section_mm2", "0.25 mm2", "Of one core"),
    Key(
        "capacitance",
        ("farad", "farad_per_m"),
        "Of the signal core against the others, per metre or as a whole",
        "100 pF/m",
        _capacitance,
        "capacitance per length",
    ),
    span("temperature", "temperature", "low_degc", "high_degc", "20 degC to 60 degC", "Of the cable"),
    yes_or_no("screened", "screened", "The cable has a screen"),
    Key("colours", ("colours",), "Letters of the cores, from plus to minus", "BN, BK, BU", _colours),
    few("shared_by", 100, "shared_by", "4", "How many sensors hang on the same two feed cores"),
)
WIRING_KEYS: dict[str, tuple[Key, ...]] = {
    "": HEAD_KEYS,
    "supply": SUPPLY_KEYS,
    "sensor": SENSOR_KEYS,
    "chain": CHAIN_KEYS,
    "input": INPUT_KEYS,
    "cable": CABLE_KEYS,
}
