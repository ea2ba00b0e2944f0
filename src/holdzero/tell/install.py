"""Install: what to set on each axis, in order of doing, and what to test before it is trusted."""

from holdzero.compute.install import AxisSheet, Checklist, InstallSheet, Outcome, ResultEntry, Setting, Test
from holdzero.compute.install.vocabulary import SOURCE
from holdzero.quantity import System
from holdzero.tell.blocks import Answer, Block, Note, Points, Section, Table
from holdzero.tell.wiring import terminal_table
from holdzero.tell.words import count_of, marked

BLANK = "…………"
BOXES: dict[Outcome, str] = {"done": "☑", "failed": "☒", "not applicable": "–", "open": "☐"}
FITS = {True: "fits", False: "does not fit", None: ""}


def install_headline(sheet: InstallSheet) -> str:
    """Say whether all that can be set fits."""
    return f"{sheet.machine}: {sheet.verdict}"


def tell_install(sheet: InstallSheet, checked: Checklist) -> Answer:
    """Tell what does not fit and what is still to be tested; then every setting, wire and test.

    Parameters
    ----------
    sheet : InstallSheet
    checked : Checklist
        What came of its tests.
    """
    wrong = tuple(
        f"{axis.axis}, {setting.name}: {setting.note or 'it does not fit.'}"
        for axis in sheet.axes
        for setting in axis.settings
        if setting.ok is False
    )
    order = f"{', then '.join(sheet.order)}. {sheet.order_note}"
    words = dict.fromkeys(
        f"{setting.name}: {setting.word}" for axis in sheet.axes for setting in axis.settings if setting.word
    )
    return Answer(
        headline=install_headline(sheet),
        lead=tuple(filter(None, (checked.verdict if checked.entries else "", f"Order of homing: {order}"))),
        to_do=Points(wrong),
        table=_stages(sheet, checked),
        before=tuple(caution.text for caution in sheet.cautions[:1]),
        more=(
            *(_axis(axis, sheet.system, terminals=True) for axis in sheet.axes),
            checklist_section(sheet, checked.entries),
        ),
        explained=(
            Section("Before anything else", tuple(Note(caution.text) for caution in sheet.cautions)),
            *([Section(f"In the words of {SOURCE}", (Points(tuple(words)),))] if words else []),
        ),
    )


def install_section(sheet: InstallSheet, *, terminals: bool = False) -> Section:
    """Return the settings of every axis, in order of doing, with blanks for what is not known yet.

    Parameters
    ----------
    sheet : InstallSheet
    terminals : bool
        With the wires of each switch, where no other section of the document lists them.
    """
    before = tuple(Note(caution.text, strong=True) for caution in sheet.cautions[:2])
    order = f"Order of homing: {', then '.join(sheet.order)}. {sheet.order_note}"
    axes = tuple(_axis(axis, sheet.system, terminals=terminals) for axis in sheet.axes)
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
        Table(stage, head, tuple(_test(number, test, checked) for number, test in tests), align="lllw")
        for stage, tests in sheet.stages.items()
    )
    elsewhere = tuple(f"{result_entry.item}: {written(result_entry)}" for result_entry in checked.elsewhere)
    gone = ("Written down for tests that are not asked for any more:", Points(elsewhere)) if elsewhere else ()
    return Section("Tests before it is trusted", (checked.verdict, first, *tables, *gone))


def _stages(sheet: InstallSheet, checked: Checklist) -> Table:
    """Return a row an axis: what is set, what fits, what is left; then a row a stage of the tests."""
    rows = []
    for axis in sheet.axes:
        blank = sum(setting.say(sheet.system) == "" for setting in axis.settings)
        wrong = any(setting.ok is False for setting in axis.settings)
        state = marked("fails") if wrong else "– open" if blank else marked("fits")
        settings = count_of(len(axis.settings), "setting")
        rows.append((f"Axis {axis.axis}", f"{settings}, {blank} to be filled in", state))
    for stage, tests in sheet.stages.items():
        outcomes = [checked.outcome(test) for _, test in tests]
        done = sum(outcome in ("done", "not applicable") for outcome in outcomes)
        state = "✗ failed" if "failed" in outcomes else "✓ done" if done == len(outcomes) else "– open"
        rows.append((f"Tests: {stage}", f"{done} of {len(outcomes)} done", state))
    return Table("Settings and tests", ("What", "How many", "So it is"), tuple(rows), align="wll")


def _axis(axis: AxisSheet, system: System, *, terminals: bool) -> Section:
    wires = _terminals(axis) if terminals else ()
    return Section(f"Axis {axis.axis}", (*_settings(axis, system), *wires))


def _row(setting: Setting, system: System) -> tuple[str, ...]:
    return setting.name, setting.say(system) or BLANK, FITS[setting.ok], setting.word


def _settings(axis: AxisSheet, system: System) -> tuple[Block, ...]:
    head = ("Set", "To", "Check", "Word of CiA 402")
    tables = (
        Table(group, head, tuple(_row(setting, system) for setting in settings), align="wwlw")
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
