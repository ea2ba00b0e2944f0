"""Install: the install sheet and the squaring as sections of a document."""

from holdzero.chart.square import squaring_picture
from holdzero.compute.install import AxisSheet, Checklist, InstallSheet, Outcome, ResultEntry, Setting, Test
from holdzero.compute.square import RoundTaken, Squaring, beside
from holdzero.quantity import System, show
from holdzero.tell.blocks import Block, Note, Points, Section, Table
from holdzero.tell.wiring import terminal_table

BLANK = "…………"
BOXES: dict[Outcome, str] = {"done": "☑", "failed": "☒", "not applicable": "–", "open": "☐"}
FITS = {True: "fits", False: "does not fit", None: ""}


def install_section(sheet: InstallSheet, *, terminals: bool = False) -> Section:
    """Return the settings of every axis, in order of doing, with blanks for what is not known yet.

    `terminals`: with the wires of each switch, where no other section of the document lists them.
    """
    axes = tuple(
        Section(f"Axis {axis.axis}", (*_settings(axis, sheet.system), *(_terminals(axis) if terminals else ())))
        for axis in sheet.axes
    )
    before = tuple(Note(caution.text, strong=True) for caution in sheet.cautions[:2])
    order = f"Order of homing: {', then '.join(sheet.order)}. {sheet.order_note}"
    return Section("What to set, in order of doing", (sheet.verdict, *before, order), axes)


def checklist_section(sheet: InstallSheet, entries: tuple[ResultEntry, ...] = ()) -> Section:
    """Return the commissioning tests: what came of each, or a box and blanks for what is measured.

    Parameters
    ----------
    sheet : InstallSheet
        With the tests.
    entries : tuple of ResultEntry
        What was written down, oldest first.
    """
    checked = Checklist(sheet.tests, entries)
    head = ("Done", "No.", "Axis", "Test")
    first = (
        "In this order: each test makes the next one safe. Tick what happened as it has to; write down what was "
        "measured."
    )
    tables = tuple(
        Table(stage, head, tuple(_test(number, test, checked) for number, test in tests), align="llll")
        for stage, tests in sheet.stages.items()
    )
    elsewhere = tuple(f"{result_entry.item}: {written(result_entry)}" for result_entry in checked.elsewhere)
    gone = ("Written down for tests that are not asked for any more:", Points(elsewhere)) if elsewhere else ()
    return Section("Tests before it is trusted", (checked.verdict, first, *tables, *gone))


def square_section(squaring: Squaring, *, system: System = "metric") -> Section:
    """Return squareness as found and as left, with every round."""
    out = show(squaring.out_mm, "length", system=system, digits=2)
    stated = f"{out} over {show(squaring.over_mm, 'length', system=system)}"
    how = f"Out of square by {stated}; the corner at low x and low y is {squaring.corner}."
    blocks: list[Block] = [squaring.verdict, how, squaring_picture(squaring, system=system)]
    if squaring.steps:
        blocks.append(Points((*squaring.steps, *((squaring.expected,) if squaring.expected else ()))))
    head = ("Round", "Day", "Method", "Set then", "To bring back", "Uncertainty", "Remark")
    rows = tuple(_round(number, taken, squaring, system) for number, taken in enumerate(squaring.rounds, 1))
    blocks.append(Table("Squareness, every round; plus: right side back", head, rows, align="lllrrrl"))
    if also := beside(squaring.counted[-1].measured, system=system):
        blocks.append(Points(also))
    if squaring.stops:
        blocks.append(squaring.stops.sentence)
    blocks += [Note(caution.text) for caution in squaring.cautions]
    return Section("Squareness", tuple(blocks))


def _row(setting: Setting, system: System) -> tuple[str, ...]:
    return setting.name, setting.say(system) or BLANK, FITS[setting.ok], setting.word


def _settings(axis: AxisSheet, system: System) -> tuple[Block, ...]:
    head = ("Set", "To", "Check", "Word of CiA 402")
    tables = (
        Table(group, head, tuple(_row(setting, system) for setting in settings), align="llll")
        for group, settings in axis.groups.items()
    )
    return (*tables, *_notes(axis.settings))


def _terminals(axis: AxisSheet) -> tuple[Block, ...]:
    return tuple(
        terminal_table(f"{terminal_list.name}: {', '.join(terminal_list.switches)}", terminal_list.wires)
        for terminal_list in axis.wired
    )


def _notes(settings: tuple[Setting, ...]) -> tuple[Block, ...]:
    notes = tuple(f"{setting.name}: {setting.note}" for setting in settings if setting.note)
    return (Points(notes),) if notes else ()


def _test(number: int, test: Test, checked: Checklist) -> tuple[str, ...]:
    says = (f"{test.short}.", test.guard, test.do, f"Has to happen: {test.expect[0].lower()}{test.expect[1:]}")
    entries = checked.of(test)
    blanks = "".join(f"  {blank}: {BLANK}" for blank in test.blanks)
    after = f" {'; before that '.join(map(written, entries))}." if entries else blanks
    return BOXES[checked.outcome(test)], str(number), test.axis, " ".join(filter(None, says)) + after


def written(entry: ResultEntry) -> str:
    """One entry as a clause; what was taken back is said to be."""
    outcome = "taken back" if entry.outcome == "open" else entry.outcome
    return " ".join(filter(None, (outcome.upper(), entry.day))) + (f": {entry.remark}" if entry.remark else "")


def _round(number: int, taken: RoundTaken, squaring: Squaring, system: System) -> tuple[str, ...]:
    remarks = [taken.round.note]
    if taken is squaring.as_found:
        remarks.insert(0, "as found")
    elif taken is squaring.as_left:
        remarks.insert(0, "as left")
    if taken.round.event:
        remarks.insert(0, f"after: {taken.round.event}")
    if not taken.counts:
        remarks.append("before the last event, does not count")
    u = taken.offset_u_mm
    return (
        str(number),
        taken.round.day or "–",
        taken.round.name,
        show(taken.round.setting_mm, "length", system=system),
        show(taken.offset_mm, "length", system=system, uncertainty=u),
        "–" if u is None else show(u, "length", system=system, digits=2),
        "; ".join(filter(None, remarks)),
    )
