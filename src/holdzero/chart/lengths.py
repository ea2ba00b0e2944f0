"""Lengths: one unit for a whole picture, so that its figures can be compared by eye."""

from dataclasses import dataclass
from math import floor, log10

from holdzero.quantity import System, fixed


@dataclass(frozen=True, slots=True)
class LengthUnit:
    """A unit and how many millimetres one of it is."""

    name: str
    size_mm: float

    def of(self, length_mm: float) -> float:
        """Return a length in this unit, with no more digits than a picture can show."""
        return float(f"{length_mm / self.size_mm:.6g}")

    def say(self, length_mm: float, *, digits: int = 3) -> str:
        """Return a length with this unit, in at most so many significant figures.

        Examples
        --------
        >>> from holdzero.quantity import plain
        >>> [plain(MICROMETRE.say(length_mm)) for length_mm in (0.0123456, 0.13, -0.0005)]
        ['12.3 um', '130 um', '-0.5 um']
        """
        size = abs(length_mm) / self.size_mm
        decimals = max(0, digits - 1 - floor(log10(size))) if size else 0
        figure, _ = fixed(length_mm, "length", unit=self.name, decimals=decimals)
        figure = figure.rstrip("0").rstrip(".") if "." in figure else figure
        return f"{figure}\u202f{self.name}"


MICROMETRE, MILLIMETRE = LengthUnit("µm", 0.001), LengthUnit("mm", 1.0)
THOU, INCH = LengthUnit("thou", 0.0254), LengthUnit("in", 25.4)


def length_unit(largest_mm: float, system: System) -> LengthUnit:
    """Return the unit in which lengths up to this one read best.

    Examples
    --------
    >>> length_unit(0.1, "metric").name, length_unit(0.1, "inch").name, length_unit(1300, "metric").name
    ('µm', 'thou', 'mm')
    """
    small, large = (MICROMETRE, MILLIMETRE) if system == "metric" else (THOU, INCH)
    return small if abs(largest_mm) < 1000 * small.size_mm else large
