"""Units: what each kind of quantity may be written in, and what it is shown in.

Everything is a table. A factor turns one of the unit into the canonical unit of its kind; spellings
are those of `holdzero.quantity.glyphs.unit_key`. Quotients of canonical units are canonical: resistance
per length is ohm/mm, because lengths are mm. Torque is N m, energy J, inertia kg m2.

Factors: exact by definition (SI Brochure, 9th edition, and NIST SP 811 appendix B for in, lb, lbf, oz),
except the degree, which is pi/180.
"""

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from types import MappingProxyType

Factors = Mapping[str, Fraction]
_PREFIX = {
    "p": Fraction(1, 10**12),
    "n": Fraction(1, 10**9),
    "u": Fraction(1, 10**6),
    "m": Fraction(1, 1000),
    "": Fraction(1),
    "k": Fraction(1000),
    "M": Fraction(10**6),
    "G": Fraction(10**9),
}
_INCH = Fraction("25.4")
_POUND = Fraction("0.45359237")
_GRAVITY = Fraction("9.80665")


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity.

    Parameters
    ----------
    name : str
        What the person calls it, with its article: "a length".
    example : str
        How to write one, for messages.
    build : callable
        Gives `factors`; called when the kind is first used, so that a start pays for what it needs.
    metric, inch : tuple of (float, str)
        Units to show it in: from this size (in canonical units) upwards, this one. The first is
        for everything smaller; `home` says which stands for zero and for a form's field.
    home : tuple of (str, str)
        Unit of a form's field, metric and inch.
    zeros : mapping
        Where zero of a unit lies, in canonical units, if not at zero (degF).
    low, high : float
        What nature, or any workshop, allows, in canonical units.
    whole : bool
        Only whole numbers make sense.
    """

    name: str
    example: str
    build: Callable[[], Factors]
    metric: tuple[tuple[float, str], ...]
    inch: tuple[tuple[float, str], ...]
    home: tuple[str, str]
    zeros: Factors
    low: float
    high: float
    whole: bool

    @property
    def factors(self) -> Factors:
        """Spelling of a unit to its size in the canonical unit."""
        return _built(self.build)

    @property
    def bare(self) -> bool:
        """Whether a number alone says everything."""
        return "" in self.factors


@cache
def _built(build: Callable[[], Factors]) -> Factors:
    return MappingProxyType(dict(build()))


def _si(symbol: str, prefixes: str, size: Fraction | int = 1) -> dict[str, Fraction]:
    return {prefix + symbol: _PREFIX[prefix] * size for prefix in [*prefixes, ""]}


def _same(size: Fraction | int | float, *spellings: str) -> dict[str, Fraction]:
    return dict.fromkeys(spellings, Fraction(size))


def _join(first: Factors, sign: str, second: Factors) -> dict[str, Fraction]:
    """Combine two tables with "/" or " " (a product, also written without the space)."""
    joined: dict[str, Fraction] = {}
    for a, size_a in first.items():
        for b, size_b in second.items():
            size = size_a / size_b if sign == "/" else size_a * size_b
            joined[a + sign + b] = joined[a + sign.strip() + b] = size
    return joined


def _only(table: Factors, *spellings: str) -> dict[str, Fraction]:
    return {spelling: table[spelling] for spelling in spellings}


def _scaled(table: Factors, factor: Fraction) -> dict[str, Fraction]:
    return {spelling: size * factor for spelling, size in table.items()}


def _power(table: Factors, exponent: int) -> dict[str, Fraction]:
    return {f"{spelling}{exponent}": size**exponent for spelling, size in table.items()}


_LENGTH = {
    **_same(1, "mm", "millimetre", "millimetres", "millimeter", "millimeters"),
    **_same(
        Fraction(1, 1000), "um", "micron", "microns", "micrometre", "micrometres", "micrometer", "micrometers"
    ),
    **_same(Fraction(1, 10**6), "nm"),
    **_same(10, "cm"),
    **_same(1000, "m", "metre", "metres", "meter", "meters"),
    **_same(10**6, "km"),
    **_same(_INCH, "in", "in.", "inch", "inches", '"'),
    **_same(_INCH / 1000, "thou", "mil", "mils"),
    **_same(_INCH * 12, "ft", "ft.", "foot", "feet", "'"),
}
_SECOND = _same(1, "s", "sec", "second", "seconds")
_TIME = {
    **_SECOND,
    **_si("s", "num"),
    **_same(60, "min", "minute", "minutes"),
    **_same(3600, "h", "hr", "hour", "hours"),
    **_same(86400, "d", "day", "days"),
    **_same(7 * 86400, "week", "weeks"),
}
_MASS = {
    **_same(1, "kg"),
    **_same(Fraction(1, 1000), "g"),
    **_same(Fraction(1, 10**6), "mg"),
    **_same(1000, "t"),
    **_same(_POUND, "lb", "lbs"),
    **_same(_POUND / 16, "oz"),
}
_FORCE = {
    **_si("N", "mk"),
    **_same(_GRAVITY, "kgf"),
    **_same(_GRAVITY / 1000, "gf"),
    **_same(_POUND * _GRAVITY, "lbf"),
    **_same(_POUND * _GRAVITY / 16, "ozf"),
}
_SHORT = _only(_LENGTH, "mm", "um", "cm", "m", "in", "ft")
_ANGLE = {
    **_si("rad", "um"),
    **_same(math.pi / 180, "deg", "°", "degree", "degrees"),
    **_same(math.pi / 180 / 60, "arcmin"),
    **_same(math.pi / 180 / 3600, "arcsec"),
    **_join(_only(_LENGTH, "mm", "um"), "/", _same(1000, "m")),  # as a slope; the small angle is meant
}
_KELVIN = _same(1, "K", "degC", "°C")
_PER_KELVIN = {**_KELVIN, **_same(Fraction(5, 9), "degF", "°F")}
_VOLT = _si("V", "umk")
_OHM = {**_si("ohm", "mkM"), **_same(1, "R", "ohms"), **_same(1000, "k", "K", "kR"), **_same(10**6, "M")}
_CYCLES = ("cycles", "cycle", "operations", "operation", "actuations", "ops")


def _kind(
    name: str,
    example: str,
    build: Callable[[], Factors],
    metric: str,
    inch: str = "",
    *,
    home: str = "",
    zeros: Factors | None = None,
    low: float = -math.inf,
    high: float = math.inf,
    whole: bool = False,
) -> Kind:
    """Make a row; a ladder reads "µm, 0.1 mm, 10000 m": µm, from 0.1 mm on mm, from 10 000 m on m."""
    ladder = _ladder(metric)
    inch_ladder = _ladder(inch) if inch else ladder
    metric_home, _, inch_home = (home or ladder[0][1]).partition("|")
    return Kind(
        name=name,
        example=example,
        build=build,
        metric=ladder,
        inch=inch_ladder,
        home=(metric_home, inch_home or (metric_home if not inch else inch_ladder[0][1])),
        zeros=MappingProxyType(dict(zeros or {})),
        low=low,
        high=high,
        whole=whole,
    )


def _ladder(text: str) -> tuple[tuple[float, str], ...]:
    steps: Iterable[str] = text.split(", ") if text else [""]
    split = [step.split(" ", 1) if step[:1].isdigit() else ["0", step] for step in steps]
    return tuple((float(start), label) for start, label in split)


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "length": _kind(
            "a length",
            "0.5 mm, 13 um, 0.0005 in or 1/32 in",
            lambda: _LENGTH,
            "µm, 0.1 mm, 10000 m",
            "thou, 2.54 in",
            home="mm|in",
        ),
        "speed": _kind(
            "a speed",
            "20 mm/s, 800 mm/min or 30 in/min",
            lambda: {**_join(_LENGTH, "/", _TIME), **_same(_INCH / 60, "ipm")},
            "mm/s",
            "in/min",
        ),
        "acceleration": _kind(
            "an acceleration",
            "800 mm/s2 or 0.1 g",
            lambda: {
                **_join(_LENGTH, "/", {**_power(_SECOND, 2), **_same(1, "s/s")}),
                **_same(_GRAVITY * 1000, "g"),
            },
            "mm/s²",
            "in/s²",
        ),
        "jerk": _kind("a jerk", "8000 mm/s3", lambda: _join(_LENGTH, "/", _power(_SECOND, 3)), "mm/s³", "in/s³"),
        "voltage": _kind(
            "a voltage",
            "24 V",
            lambda: {**_VOLT, **_same(1, "V DC", "VDC", "Vdc", "V dc", "volt", "volts")},
            "mV, 1 V",
            home="V",
        ),
        "current": _kind(
            "a current",
            "8 mA",
            lambda: {**_si("A", "num"), **_same(1, "amp", "amps")},
            "µA, 1e-3 mA, 1 A",
            home="mA",
        ),
        "resistance": _kind(
            "a resistance", "2.2 kohm, 4k7 or 470 ohm", lambda: _OHM, "mΩ, 1 Ω, 1000 kΩ, 1e6 MΩ", home="Ω", low=0
        ),
        "capacitance": _kind(
            "a capacitance",
            "100 nF",
            lambda: {
                **_si("F", "pnum"),
                **_same(_PREFIX["p"], "p"),
                **_same(_PREFIX["n"], "n"),
                **_same(_PREFIX["u"], "u"),
            },
            "pF, 1e-9 nF, 1e-6 µF, 1e-3 mF",
            home="nF",
            low=0,
        ),
        "temperature": _kind(
            "a temperature",
            "20 degC, 68 degF or 293.15 K",
            lambda: {
                **_same(1, "degC", "°C", "C", "deg C", "celsius", "K", "kelvin"),
                **_same(Fraction(5, 9), "degF", "°F", "F", "deg F", "fahrenheit"),
            },
            "°C",
            "°F",
            zeros={
                **_same(Fraction("-273.15"), "K", "kelvin"),
                **_same(Fraction(-160, 9), "degF", "°F", "F", "deg F", "fahrenheit"),
            },
            low=-273.15,
            high=1000,
        ),
        "temperature difference": _kind(
            "a temperature difference",
            "5 K or 9 degF",
            lambda: {**_PER_KELVIN, **_same(1, "C", "deg C", "kelvin"), **_same(Fraction(5, 9), "F", "deg F")},
            "K",
            "°F",
        ),
        "mass": _kind(
            "a mass", "28 kg or 60 lb", lambda: _MASS, "g, 1 kg", "oz, 0.45359237 lb", home="kg|lb", low=0
        ),
        "time": _kind("a time", "12 ms or 0.5 s", lambda: _TIME, "µs, 1e-3 ms, 1 s, 600 min, 36000 h", home="s"),
        "cycles": _kind(
            "a number of cycles",
            "5e6 cycles",
            lambda: {
                **_same(1, "", *_CYCLES),
                **_same(10**6, "million", *(f"million {word}" for word in _CYCLES)),
            },
            "cycles",
            low=0,
        ),
        "force": _kind("a force", "600 N or 130 lbf", lambda: _FORCE, "mN, 1 N, 10000 kN", "lbf", home="N"),
        "torque": _kind(
            "a torque", "1.2 N m", lambda: _join(_FORCE, " ", _scaled(_SHORT, Fraction(1, 1000))), "N m", "lbf in"
        ),
        "energy": _kind("an energy", "0.68 J", lambda: _si("J", "umk"), "mJ, 0.1 J, 10000 kJ", home="J"),
        "power": _kind("a power", "0.25 W", lambda: _si("W", "umk"), "mW, 0.1 W, 10000 kW", home="W"),
        "inertia": _kind(
            "a moment of inertia",
            "1.2e-4 kg m2 or 1.2 kg cm2",
            lambda: _join(_MASS, " ", _scaled(_power(_SHORT, 2), Fraction(1, 10**6))),
            "kg cm²",
            "lb in²",
            low=0,
        ),
        "stiffness": _kind(
            "a stiffness",
            "2000 N/mm",
            lambda: {**_join(_FORCE, "/", _SHORT), **_same(_POUND * _GRAVITY / _INCH, "lb/in", "lbs/in")},
            "N/mm, 10000 kN/mm",
            "lbf/in",
        ),
        "racking stiffness": _kind(
            "a racking stiffness",
            "2e8 N mm/rad or 200 N m/mrad",
            lambda: _join(_join(_FORCE, " ", _SHORT), "/", _only(_ANGLE, "rad", "mrad", "deg")),
            "N m/mrad",
            "lbf in/mrad",
        ),
        "angle": _kind(
            "an angle", "0.3 mrad, 0.1 mm/m or 0.02 deg", lambda: _ANGLE, "µrad, 1e-4 mrad, 0.1 °", home="mrad"
        ),
        "frequency": _kind(
            "a frequency",
            "1 kHz",
            lambda: {**_si("Hz", "mkMG"), **_same(1, "1/s"), **_same(Fraction(1, 60), "rpm", "1/min")},
            "mHz, 1 Hz, 1000 kHz, 1e6 MHz",
            home="Hz",
        ),
        "share": _kind(
            "a share",
            "1 in 1000, 0.1 % or 0.001",
            lambda: {
                **_same(1, ""),
                **_same(Fraction(1, 100), "%", "percent", "per cent"),
                **_same(Fraction(1, 1000), "‰"),
                **_same(_PREFIX["u"], "ppm"),
            },
            "",
            low=0,
            high=1,
        ),
        "resistance per length": _kind(
            "a resistance per length", "79 ohm/km", lambda: _join(_si("ohm", "mk"), "/", _LENGTH), "Ω/km", low=0
        ),
        "capacitance per length": _kind(
            "a capacitance per length", "100 pF/m", lambda: _join(_si("F", "pnu"), "/", _LENGTH), "pF/m", low=0
        ),
        "section": _kind("a cross-section", "0.25 mm2 or 24 AWG", lambda: _power(_LENGTH, 2), "mm²", low=0),
        "expansion": _kind(
            "an expansion coefficient",
            "11.5e-6/K or 11.5 um/m/K",
            lambda: {
                **_join(_same(1, "", "1"), "/", _PER_KELVIN),
                **_join(_same(_PREFIX["u"], "ppm", "um/m"), "/", _PER_KELVIN),
                **_same(_PREFIX["u"], "um/(m K)"),
            },
            "µm/m/K",
        ),
        "drift": _kind(
            "a drift with temperature",
            "1 um/K",
            lambda: _join(_LENGTH, "/", _PER_KELVIN),
            "µm/K, 0.1 mm/K",
            "thou/°F, 4.572 in/°F",
        ),
        "supply drift": _kind(
            "a drift with the supply",
            "0.5 um/V",
            lambda: _join(_LENGTH, "/", _VOLT),
            "µm/V, 0.1 mm/V",
            "thou/V, 2.54 in/V",
        ),
        "price": _kind("a price", "24.50", lambda: _same(1, ""), "", low=0),
        "count": _kind("a whole number", "200", lambda: _same(1, ""), "", low=0, whole=True),
        "number": _kind("a number", "0.25", lambda: _same(1, ""), ""),
    }
)
