"""Growth: what the temperature does to home, held against what the machine's material and length would do."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from holdzero.compute.material import MATERIALS, has_sign, material_that_grows
from holdzero.compute.steady import Slope
from holdzero.quantity import System, column, show, show_signed, show_temperatures

if TYPE_CHECKING:  # the keys of a machine take time to read, and most studies know none
    from holdzero.inputs.machine.values import Axis

_NAMED = ("steel", "aluminium")  # of which an equal length is told where the machine's is not known


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedGrowth:
    """What material and length between sensor and datum would do.

    Parameters
    ----------
    per_degc_mm, half_width_mm : float
        Way of home per degree, and half the width it may lie in. [mm per degC]
    length_mm : float
        Length that grows. [mm]
    signed : bool
        Whether the machine says which way.
    source : str
        Of the coefficient.
    """

    per_degc_mm: float
    half_width_mm: float
    length_mm: float
    signed: bool
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GrowthSeen:
    """The slope of the power-up means on temperature, and what it comes to.

    Parameters
    ----------
    slope : Slope
        Of the means. [mm per degC]
    expected : ExpectedGrowth or None
        None where the machine does not say what grows.
    code : str
        "as-expected", "more", "less", "other-way", "not-shown" (it may be nothing), or "not-compared".
    equal_length_mm : mapping of str to float
        Length of each of a few materials that would do as much, where a slope shows. [mm]
    low_degc, high_degc : float
        Temperatures it was seen at. [degC]
    sentence : str
        The answer in words.
    """

    slope: Slope
    expected: ExpectedGrowth | None
    code: str
    equal_length_mm: Mapping[str, float]
    low_degc: float
    high_degc: float
    sentence: str

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON-ready values."""
        expected = self.expected
        low, high = self.slope.interval()
        return {
            "code": self.code,
            "slope_mm_per_degc": self.slope.slope,
            "slope_low_mm_per_degc": low,
            "slope_high_mm_per_degc": high,
            "expected_mm_per_degc": expected and expected.per_degc_mm,
            "expected_half_width_mm_per_degc": expected and expected.half_width_mm,
            "length_mm": expected and expected.length_mm,
            "source": expected and expected.source,
            "equal_length_mm": dict(self.equal_length_mm),
            "range_degc": [self.low_degc, self.high_degc],
            "sentence": self.sentence,
        }


def expected_growth(axis: "Axis") -> ExpectedGrowth | None:
    """Return what the material and length of an axis would do; None where either is not said.

    Parameters
    ----------
    axis : Axis
        With ``growth_length`` and ``growth_material`` or ``growth_coefficient``.
    """
    metal, length = material_that_grows(axis), axis.influences.growth_length_mm
    if metal is None or not length:
        return None
    return ExpectedGrowth(
        per_degc_mm=metal.per_k * length,
        half_width_mm=metal.half_width_per_k * abs(length),
        length_mm=length,
        signed=has_sign(axis.entered, "growth_length"),
        source=metal.source,
    )


def growth_seen(
    slope: Slope,
    expected: ExpectedGrowth | None,
    *,
    low_degc: float,
    high_degc: float,
    system: System = "metric",
) -> GrowthSeen:
    """Hold a slope of power-up means against what is expected.

    Parameters
    ----------
    slope : Slope
        [mm per degC]
    expected : ExpectedGrowth, optional
        None where the machine does not say.
    low_degc, high_degc : float
        Least and greatest temperature noted. [degC]
    system : {"metric", "inch"}
        Units of the sentence.

    Notes
    -----
    By 95 % intervals, Student's for the slope and the whole width of the coefficient: they meet, or the slope is
    more, less, or the other way. Without a sign only the sizes are compared. A slope whose interval holds 0 shows
    nothing; whether it may be what is expected is said.
    """
    low, high = slope.interval()
    shows = low > 0 or high < 0
    equal = {name: abs(slope.slope) / MATERIALS[name].per_k for name in _NAMED} if shows else {}
    code = _code(low, high, expected)
    sentence = _sentence(slope, expected, code, equal, system)
    return GrowthSeen(
        slope=slope,
        expected=expected,
        code=code,
        equal_length_mm=equal,
        low_degc=low_degc,
        high_degc=high_degc,
        sentence=f"{sentence} Seen at {show_temperatures(low_degc, high_degc, system=system)}.",
    )


def _code(low: float, high: float, expected: ExpectedGrowth | None) -> str:
    if low <= 0 <= high:
        return "not-shown"
    if expected is None:
        return "not-compared"
    seen, half = expected.per_degc_mm, expected.half_width_mm
    if not expected.signed:
        low, high, seen = min(abs(low), abs(high)), max(abs(low), abs(high)), abs(seen)
    elif seen < 0:  # as if it went up
        low, high, seen = -high, -low, -seen
    if high < 0:
        return "other-way"
    if low > seen + half:
        return "more"
    return "less" if high < seen - half else "as-expected"


def _sentence(
    slope: Slope, expected: ExpectedGrowth | None, code: str, equal: Mapping[str, float], system: System
) -> str:
    low, high = slope.interval()
    (seen, least, most), unit = column((slope.slope, low, high), "drift", system=system, digits=2)
    moves = f"From power-up to power-up home moves by {seen} {unit} (95 %: {least} to {most})"
    if expected is None:
        if code == "not-shown":
            return f"{moves}, which may be nothing."
        lengths = " or ".join(
            f"{show(length, 'length', system=system, digits=2)} of {name}" for name, length in equal.items()
        )
        return f"{moves}, as {lengths} would do. Say what grows between sensor and datum, and it is compared."
    length = show(abs(expected.length_mm), "length", system=system, digits=3)
    way = (
        show_signed(expected.per_degc_mm, "drift", system=system, digits=2)
        if expected.signed
        else show(abs(expected.per_degc_mm), "drift", system=system, digits=2)
    )
    does = f"{length} of the material said would do {way}"
    match code:
        case "not-shown":
            ways = (1,) if expected.signed else (1, -1)
            least_way, most_way = low - expected.half_width_mm, high + expected.half_width_mm
            inside = any(least_way <= sign * expected.per_degc_mm <= most_way for sign in ways)
            rather = "which these power-ups do not rule out" if inside else "which these power-ups rule out"
            return f"{moves}, which may be nothing; {does}, {rather}."
        case "as-expected":
            return f"{moves}; {does}, so growth explains it."
        case "more":
            return f"{moves}; {does}. Something else follows the temperature too: sensor, bracket or drive."
        case "less":
            return f"{moves}; {does}. Less of it grows than said, or something moves against it."
        case _:
            return f"{moves}; {does}, the other way. Check the sign of the length, then sensor and bracket."
