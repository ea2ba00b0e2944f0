"""What an install sheet holds: settings in order of doing, and tests with a box and a blank."""

import re
from dataclasses import dataclass
from typing import Any, NamedTuple

from holdzero.caution import Caution
from holdzero.compute.wiring import TerminalList
from holdzero.quantity import System, show


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One line of the sheet: something to put in place or to set.

    Parameters
    ----------
    group, name : str
        Which part of the job, and what.
    value : float or None
        In the canonical unit of `kind`; None: `text` says it, or it is not known yet.
    kind : str
        Kind of quantity.
    text : str
        What is no quantity.
    word : str
        The open standard's word for it, with its object, where there is one.
    origin : str
        Where the value is from.
    note : str
        How to do it, or what it must do.
    ok : bool or None
        Whether the check behind it fits; None: no check, or not made.
    """

    group: str
    name: str
    value: float | None = None
    kind: str = ""
    text: str = ""
    word: str = ""
    origin: str = ""
    note: str = ""
    ok: bool | None = None

    @property
    def known(self) -> bool:
        """Whether there is something to set it to."""
        return self.value is not None or bool(self.text)

    def say(self, system: System = "metric") -> str:
        """Return the value as a person reads it; empty where it is still to be filled in."""
        if self.value is None:
            return self.text
        shown = show(self.value, self.kind, system=system)
        return f"{shown} {self.text}".strip()

    def as_json(self) -> dict[str, Any]:
        """Return the line as JSON-ready values."""
        return {
            "group": self.group,
            "name": self.name,
            "value": self.value,
            "kind": self.kind or None,
            "text": self.text,
            "word": self.word or None,
            "origin": self.origin,
            "note": self.note,
            "ok": self.ok,
        }


class Blank(NamedTuple):
    """What is measured at a test and written down, and the unit of a bare number; "" where it is a count."""

    name: str
    unit: str = ""

    def __str__(self) -> str:
        return f"{self.name}, {self.unit}" if self.unit else self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Test:
    """One test before the machine is trusted.

    Parameters
    ----------
    stage : str
        Which part of the job.
    axis : str
        Which axis; empty for the whole machine.
    name, do, expect : str
        What is tested, what to do, what has to happen. What came of a test is kept under axis and name (`key`):
        a new name is a new test.
    blanks : tuple of Blank
        What to measure and write down, each with its unit.
    guard : str
        What to mind first, where it could hurt someone.
    proves : str
        "stop", "limit" or "wire": of that without which nothing stops in time; empty: of something else.
    """

    __test__ = False  # not one of pytest's

    stage: str
    axis: str = ""
    name: str
    do: str
    expect: str
    blanks: tuple[Blank, ...] = ()
    guard: str = ""
    proves: str = ""
    below: str = ""

    @property
    def key(self) -> str:
        """What results are kept under.

        >>> Test(stage="", axis="Y", name="Limit, slowly", do="", expect="").key
        'y-limit-slowly'
        """
        return re.sub(r"[^a-z0-9]+", "-", f"{self.axis} {self.name}".casefold()).strip("-")

    @property
    def short(self) -> str:
        """Name as it stands below its stage.

        >>> Test(stage="Wire break: Y left", name="Wire break, Y left, plug", do="", expect="", below="plug").short
        'plug'
        """
        return self.below or self.name

    @property
    def title(self) -> str:
        """Name with its axis, as in a sentence."""
        return self.name if not self.axis or self.axis in self.name.split() else f"{self.name} ({self.axis})"

    def as_json(self) -> dict[str, Any]:
        """Return the test as JSON-ready values."""
        return {
            "item": self.key,
            "stage": self.stage,
            "axis": self.axis,
            "name": self.name,
            "do": self.do,
            "expect": self.expect,
            "blanks": [str(blank) for blank in self.blanks],
            "guard": self.guard,
            "proves": self.proves or None,
        }


@dataclass(frozen=True, slots=True)
class AxisSheet:
    """The settings of one axis, in order of doing, and where each wire of its switches goes."""

    axis: str
    settings: tuple[Setting, ...]
    wired: tuple[TerminalList, ...] = ()

    @property
    def groups(self) -> dict[str, tuple[Setting, ...]]:
        """Settings by part of the job, in order."""
        names = dict.fromkeys(setting.group for setting in self.settings)
        return {name: tuple(setting for setting in self.settings if setting.group == name) for name in names}

    @property
    def failing(self) -> tuple[Setting, ...]:
        """Settings whose check does not fit."""
        return tuple(setting for setting in self.settings if setting.ok is False)

    @property
    def unknown(self) -> tuple[Setting, ...]:
        """Settings still to be filled in."""
        return tuple(setting for setting in self.settings if not setting.known)


@dataclass(frozen=True, slots=True, kw_only=True)
class InstallSheet:
    """A machine's install sheet.

    Parameters
    ----------
    machine : str
        Its name.
    order : tuple of str
        Axes in the order they home.
    order_note : str
        Why in that order.
    axes : tuple of AxisSheet
        In the order of the machine.
    tests : tuple of Test
        In order of doing.
    cautions : tuple of Caution
        What to know first.
    system : {"metric", "inch"}
        Units that the sentences are worded in.
    """

    machine: str
    order: tuple[str, ...]
    order_note: str
    axes: tuple[AxisSheet, ...]
    tests: tuple[Test, ...]
    cautions: tuple[Caution, ...]
    system: System = "metric"

    @property
    def stages(self) -> dict[str, tuple[tuple[int, Test], ...]]:
        """Tests with their numbers from 1, by part of the job, in order."""
        numbered = list(enumerate(self.tests, 1))
        names = dict.fromkeys(test.stage for test in self.tests)
        return {name: tuple(pair for pair in numbered if pair[1].stage == name) for name in names}

    @property
    def verdict(self) -> str:
        """One sentence: whether all of it fits and is known."""
        failing = sum(len(axis.failing) for axis in self.axes)
        unknown = sum(len(axis.unknown) for axis in self.axes)
        checked = any(setting.ok is not None for axis in self.axes for setting in axis.settings)
        if failing:
            return (
                f"{failing} setting{'s do' if failing > 1 else ' does'} not fit: put "
                f"{'them' if failing > 1 else 'it'} right before power."
            )
        if unknown:
            settings = f"{unknown} setting{'s are' if unknown > 1 else ' is'} still to be filled in"
            fit = "of the others, what could be checked fits" if checked else "no other could be checked"
            return f"{settings}; {fit}."
        return "Every setting that could be checked fits." if checked else "No setting could be checked."

    def as_json(self) -> dict[str, Any]:
        """Return the sheet as JSON-ready values; figures in canonical units."""
        return {
            "machine": self.machine,
            "verdict": self.verdict,
            "order": list(self.order),
            "order_note": self.order_note,
            "axes": {sheet.axis: [setting.as_json() for setting in sheet.settings] for sheet in self.axes},
            "wiring": {
                sheet.axis: [terminal_list.as_json() for terminal_list in sheet.wired] for sheet in self.axes
            },
            "tests": [test.as_json() for test in self.tests],
            "cautions": [caution.as_json() for caution in self.cautions],
        }
