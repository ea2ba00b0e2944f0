"""Squared: what was typed at the station Square, what follows from it, and what an event makes old."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from holdzero.caution import Caution
from holdzero.compute.findings.baseline import read_before
from holdzero.compute.square import Event, Round, Setup, Squaring, round_from, setup_from, squaring
from holdzero.inputs.machine.values import Axis
from holdzero.web.case import Case

SHEET = "square"
FROM_MACHINE = ("drive_distance", "drive_stiffness", "racking_stiffness", "natural_angle", "thrust")


@dataclass(frozen=True, slots=True)
class Entry:
    """One sheet of the history: where it lies among the machine's sheets, and what it says."""

    number: int
    what: Round | Event


class Log:
    """What was typed at this station, and what follows from it."""

    def __init__(self, case: Case) -> None:
        self.case = case
        self._sheets = tuple(reversed(case.book.sheets(case.id, SHEET)))

    @cached_property
    def axis(self) -> Axis | None:
        """The axis with two motors."""
        return next((axis for axis in self.case.machine.axes if axis.motors == 2), None)

    @cached_property
    def entered(self) -> dict[str, Any]:
        """The gantry's keys: the machine's own, then what was typed here."""
        typed: Mapping[str, Any] = next(
            (sheet["setup"] for sheet in reversed(self._sheets) if "setup" in sheet), {}
        )
        return self.of_machine | dict(typed)

    @cached_property
    def of_machine(self) -> dict[str, Any]:
        """Keys that the machine and its trial know already."""
        known: dict[str, Any] = {}
        if self.axis is not None:
            known = {name: self.axis.entered[name] for name in FROM_MACHINE if name in self.axis.entered}
            if (spread_mm := self._trial_spread_mm(self.axis)) is not None:
                known["spread"] = f"{spread_mm:.3g} mm"
        asked = self.case.kept.document.get("requirement", {}).get("squareness")
        return known | ({"squareness": asked} if asked else {})

    @cached_property
    def setup(self) -> Setup | None:
        """The gantry; None while the distance between its drives is not known."""
        return setup_from(self.entered) if self.entered.get("drive_distance") else None

    @cached_property
    def entries(self) -> tuple[Entry, ...]:
        """Rounds and events that were not taken back, oldest first."""
        back = {sheet["take back"] for sheet in self._sheets if "take back" in sheet}
        return tuple(
            Entry(number, round_from(sheet["round"]) if "round" in sheet else Event(**sheet["event"]))
            for number, sheet in enumerate(self._sheets)
            if ("round" in sheet or "event" in sheet) and number not in back
        )

    @cached_property
    def found(self) -> Squaring | None:
        """What to do; None while nothing counts."""
        history = [entry.what for entry in self.entries]
        if self.setup is None or not history or isinstance(history[-1], Event):
            return None
        return squaring(self.setup, history, system=self.case.system)

    def _trial_spread_mm(self, axis: Axis) -> float | None:
        """Spread of one side of the chosen sensor: of the difference over root two."""
        choice = self.case.choice
        if choice is None or choice.choice is None:
            return None
        apart = self.case.study.of(choice.choice, axis.name, "difference")
        if apart is None or apart.spread.middle is None:
            return None
        return float(apart.spread.middle / 2**0.5)


def made_old(case: Case) -> Caution | None:
    """Say which homings were read before the last event; None where none were."""
    return read_before(case.readings, [entry.what for entry in Log(case).entries])
