"""Caution: a doubt that travels with the figure it belongs to.

A warning in a log is lost; a caution in a result object reaches the page, the terminal and the
printed record alike.
"""

from dataclasses import dataclass

HOMING_MOVES = (
    "Homing moves the axis by itself: emergency stop tested, clear of fixtures, no tool, a hand on the stop. "
    "Wires, flags and screws are touched only with the machine switched off and unplugged."
)
"""The line that stands where a person is told to home and no longer list of cautions does."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One thing to know before trusting a figure.

    Parameters
    ----------
    code : str
        Short name that does not change, e.g. ``"one-power-up"``: for tests and for JSON readers.
    text : str
        One or two plain sentences for the person at the machine.
    source : str
        Clause, paper or "common practice, no source"; empty for plain arithmetic.
    """

    code: str
    text: str
    source: str = ""

    def as_json(self) -> dict[str, str]:
        """Return the caution as JSON-ready values; `source` only where there is one."""
        return {"code": self.code, "text": self.text} | ({"source": self.source} if self.source else {})
