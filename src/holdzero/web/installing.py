"""Installing: the install sheet of a machine of the book, and what came of its tests."""

from holdzero.compute.install import Checklist, InstallSheet, install_sheet
from holdzero.report.checked import entries_of
from holdzero.web.case import Case
from holdzero.web.squared import Log


def sheet_of(case: Case) -> InstallSheet:
    """Return the sheet, with the chosen sensor, the circuits and the squaring."""
    log = Log(case)
    chosen = case.choice.choice if case.choice else None
    return install_sheet(
        case.machine,
        sensor=next((kept.sensor for kept in case.sensors if kept.sensor.name == chosen), None),
        axis=log.axis.name if log.axis else "",
        circuits=case.wiring.found,
        squared=log.found,
        system=case.system,
    )


def checked(case: Case, sheet: InstallSheet) -> Checklist:
    """Return what was written down about the sheet's tests."""
    return Checklist(sheet.tests, entries_of(case.book, case.id))


def failed(case: Case) -> str:
    """Name the first test that failed and was not done again; empty where none did."""
    entries = entries_of(case.book, case.id)
    newest = {entry.item: entry.outcome for entry in entries}
    if "failed" not in newest.values():
        return ""  # nearly always: no sheet is made for that
    standing = Checklist(sheet_of(case).tests, entries).standing("failed")
    return standing[0].title if standing else ""
