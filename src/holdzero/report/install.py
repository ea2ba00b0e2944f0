"""Install: the install sheet and the squaring as sections of a document."""

from holdzero.chart.square import squaring_picture
from holdzero.install import InstallSheet, Setting, Test
from holdzero.quantity import System, show
from holdzero.report.content import Block, Note, Points, Section, Table
from holdzero.square import Squaring, Taken

BOX, BLANK = "☐", "…………"
FITS = {True: "fits", False: "does not fit", None: ""}


def install_section(sheet: InstallSheet) -> Section:
    """Return the settings of every axis, in order of doing, with blanks for what is not known yet."""
    head = ("Set", "To", "Check", "Word of CiA 402")
    axes = tuple(
        Section(
            f"Axis {axis.axis}",
            tuple(
                Table(group, head, tuple(_row(one, sheet.system) for one in settings), align="llll")
                for group, settings in axis.groups.items()
            )
            + _notes(axis.settings),
        )
        for axis in sheet.axes
    )
    before = tuple(Note(caution.text, strong=True) for caution in sheet.cautions[:2])
    order = f"Order of homing: {', then '.join(sheet.order)}. {sheet.order_note}"
    return Section("What to set, in order of doing", (sheet.verdict, *before, order), axes)


def checklist_section(sheet: InstallSheet) -> Section:
    """Return the commissioning tests, each with a box and blanks for what is measured."""
    head = ("Done", "No.", "Axis", "Test")
    first = (
        "In this order: each test makes the next one safe. Tick what happened as it has to; write down what was "
        "measured."
    )
    tables = tuple(
        Table(stage, head, tuple(_test(*numbered) for numbered in tests), align="llll")
        for stage, tests in sheet.stages.items()
    )
    return Section("Tests before it is trusted", (first, *tables))


def square_section(found: Squaring, *, system: System = "metric") -> Section:
    """Return squareness as found and as left, with every round."""
    blocks: list[Block] = [found.verdict, squaring_picture(found, system=system)]
    if found.steps:
        blocks.append(Points((*found.steps, *((found.expected,) if found.expected else ()))))
    head = ("Round", "Day", "Method", "Set then", "To bring back", "Uncertainty", "Remark")
    rows = tuple(_round(number, taken, found, system) for number, taken in enumerate(found.rounds, 1))
    blocks.append(Table("Squareness, every round; plus: right side back", head, rows, align="lllrrrl"))
    if found.stops:
        blocks.append(found.stops.sentence)
    blocks += [Note(caution.text) for caution in found.cautions]
    return Section("Squareness", tuple(blocks))


def _row(setting: Setting, system: System) -> tuple[str, ...]:
    return setting.name, setting.say(system) or BLANK, FITS[setting.ok], setting.word


def _notes(settings: tuple[Setting, ...]) -> tuple[Block, ...]:
    notes = tuple(f"{one.name}: {one.note}" for one in settings if one.note)
    return (Points(notes),) if notes else ()


def _test(number: int, test: Test) -> tuple[str, ...]:
    says = (f"{test.name}.", test.guard, test.do, f"Has to happen: {test.expect[0].lower()}{test.expect[1:]}")
    blanks = "".join(f"  {blank}: {BLANK}" for blank in test.blanks)
    return BOX, str(number), test.axis, " ".join(filter(None, says)) + blanks


def _round(number: int, taken: Taken, found: Squaring, system: System) -> tuple[str, ...]:
    said = [taken.round.note]
    if taken is found.as_found:
        said.insert(0, "as found")
    elif taken is found.as_left:
        said.insert(0, "as left")
    if taken.round.event:
        said.insert(0, f"after: {taken.round.event}")
    if not taken.counts:
        said.append("before the last event, does not count")
    u = taken.offset_u_mm
    return (
        str(number),
        taken.round.day or "–",
        taken.round.name,
        show(taken.round.setting_mm, "length", system=system),
        show(taken.offset_mm, "length", system=system, uncertainty=u),
        "–" if u is None else show(u, "length", system=system, digits=2),
        "; ".join(filter(None, said)),
    )
