"""Whole: the record of a machine from everything known of it."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Literal

from holdzero import __version__
from holdzero.case import Case
from holdzero.case.standing.values import Standing
from holdzero.compute.design import AxisAssessment
from holdzero.compute.square import Event
from holdzero.report.answered import answer_section
from holdzero.report.content import RecordContent
from holdzero.report.in_use import in_use_section
from holdzero.report.left import events_section, left_section
from holdzero.report.page import record_html
from holdzero.report.pdf import record_pdf
from holdzero.report.record import last_day, record_content
from holdzero.report.stored import stored_of
from holdzero.tell.blocks import Answer, Section
from holdzero.tell.budget import tell_budget
from holdzero.tell.install import checklist_section, install_section
from holdzero.tell.square import tell_square
from holdzero.tell.travel import made, tell_travel
from holdzero.tell.wiring import tell_wiring

Ending = Literal["pdf", "html"]


@dataclass(frozen=True, slots=True)
class RecordPart:
    """A part of the record beyond the trial.

    Parameters
    ----------
    name, station : str
        What it is called, and the station it comes from.
    missing : str
        What to do where it is not there.
    applies : callable
        Whether there is anything to say.
    section : callable
        Makes it.
    proves : bool
        Whether it is a part of the proof, not of the annex.
    """

    name: str
    station: str
    missing: str
    applies: Callable[[Case], bool]
    section: Callable[[Case], Section | None]
    proves: bool = False


PARTS = (
    RecordPart(
        "Wiring",
        "wiring",
        "describe the circuit",
        lambda of: bool(of.all_circuits),
        lambda of: (
            answer_section(
                "Wiring: what the controller sees",
                tell_wiring(of.all_circuits, machine=of.machine.name, day=_iso(_day(of))),
            )
            if of.all_circuits
            else None
        ),
    ),
    RecordPart(
        "Travel",
        "travel",
        "give places, speeds and the delay of the axis",
        lambda of: any(map(made, of.travels)),
        lambda of: (
            answer_section(
                "Travel: does it stop where there is room?",
                tell_travel(of.travels, system=of.system, fits=False),
                overview=False,
            )
            if any(map(made, of.travels))
            else None
        ),
    ),
    RecordPart(
        "Error budget",
        "travel",
        "try a candidate, or give its data sheet",
        lambda of: bool(_counted(of)),
        lambda of: (
            answer_section(
                "Error budget: what home position is made of", _budget(of), overview=False, explained=False
            )
            if _counted(of)
            else None
        ),
        proves=True,
    ),
    RecordPart(
        "What the figures of the budget mean",
        "travel",
        "try a candidate, or give its data sheet",
        lambda of: bool(_counted(of)),
        lambda of: (
            Section("What the figures of the budget mean", (), _budget(of).explained) if _counted(of) else None
        ),
    ),
    RecordPart(
        "Squareness before and after",
        "square",
        "measure the gantry",
        lambda of: of.squared is not None,
        lambda of: answer_section("Squareness", tell_square(of.squared, system=of.system)) if of.squared else None,
    ),
    RecordPart(
        "Install sheet",
        "machine",
        "describe the axes",
        lambda of: bool(of.sheet.axes),
        lambda of: install_section(of.sheet),
    ),
    RecordPart(
        "Commissioning checklist",
        "machine",
        "describe the axes",
        lambda of: bool(of.sheet.tests),
        lambda of: checklist_section(of.sheet, of.basis.checks),
    ),
    RecordPart(
        "As found, as left",
        "square",
        "measure the gantry",
        lambda of: True,
        lambda of: left_section(of.squared, of.sheet, system=of.system),
    ),
    RecordPart(
        "Event log",
        "square",
        "note what happens to the machine",
        lambda of: any(isinstance(entry, Event) or entry.event for entry in of.basis.squaring.history),
        lambda of: events_section(of.basis.squaring.history, of.made_old),
    ),
    RecordPart(
        "In use",
        "watch",
        "log check homings",
        lambda of: of.watched_on(_day(of)) is not None,
        lambda of: _in_use(of),
    ),
)


def _in_use(case: Case) -> Section | None:
    watched = case.watched_on(_day(case))
    return None if watched is None else in_use_section(watched, case.basis.log, system=case.system)


def record_of(case: Case) -> RecordContent:
    """Put the record together: the trial first, then every part there is something to say about.

    Parameters
    ----------
    case : Case
        Everything known of the machine.

    Raises
    ------
    HoldzeroError
        What an input says cannot be read, or no choice can be made of it.
    """
    how = case.basis.how
    sections = [(part.proves, part.section(case)) for part in PARTS]
    return record_content(
        case.machine,
        case.study,
        case.asked_otherwise,
        digests=case.basis.digests,
        version=__version__,
        invented=case.invented,
        day=_day(case),
        system=how.system,
        asks=case.asks,
        decisions=case.basis.decisions,
        meant=case.judged.sensor_reckoned,
        budget=[section for proves, section in sections if proves and section is not None],
        more=[section for proves, section in sections if not proves and section is not None],
        attached=stored_of(case).attached(),
        standing=_standing(case),
        rests_on=" ".join(filter(None, (case.judged.reservation, case.rests_on))) if case.readings.groups else "",
    )


def _budget(case: Case) -> Answer:
    return tell_budget(_counted(case), system=case.system, other_ways=False)


def _counted(case: Case) -> list[AxisAssessment]:
    """Return the budgets in which anything was counted."""
    return [assessment for assessment in case.budgets if assessment.budget.rows]


def _standing(case: Case) -> Standing | None:
    """How the axis of the record stood on its day."""
    name = case.judged.name
    return next((axis for axis in case.standings_on(_day(case)).axes if axis.axis == name), None)


def _day(case: Case) -> date | None:
    days = (last_day(case.study), case.basis.last_logged)
    return case.basis.how.day or max(filter(None, days), default=None)


def _iso(day: date | None) -> str:
    return day.isoformat() if day else ""


def set_in(ending: Ending, content: RecordContent) -> bytes:
    """Set a document as PDF or as a page. The same document gives the same bytes."""
    return record_pdf(content) if ending == "pdf" else record_html(content).encode()
