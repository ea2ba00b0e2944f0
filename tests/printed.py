"""`printed("0.0032")`: equal to half a unit in the last digit that a book prints."""

from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True)
class printed:  # noqa: N801 - reads as a word in an assertion
    """A figure as a book prints it; a number equals it when it rounds to it (or is cut to it).

    Parameters
    ----------
    text : str
        The figure, digits and all.
    units_in_last_place : float
        0.5 for a rounded figure; 1 where the book is known to cut (docs/checks.md).
    """

    text: str
    units_in_last_place: float = 0.5

    def __eq__(self, other: object) -> bool:
        """Tell whether a number agrees with the printed figure."""
        step = float(Decimal(1).scaleb(int(Decimal(self.text).as_tuple().exponent)))
        return abs(float(other) - float(self.text)) <= self.units_in_last_place * step * (1 + 1e-9)  # type: ignore[arg-type]

    def __hash__(self) -> int:
        """Hash by the text."""
        return hash(self.text)
