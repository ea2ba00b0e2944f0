"""`holdzero install`: what to set on each axis, in order of doing, and what to test."""

from typing import Any

import click

from holdzero.case.contract import install_json
from holdzero.cli import show
from holdzero.cli.options import how_read, json_too, not_with, only_with, units_too
from holdzero.cli.source import is_book, opened
from holdzero.compute.install import Checklist, InstallSheet, Outcome, Setting, Test
from holdzero.compute.install.vocabulary import SOURCE
from holdzero.compute.wiring import TerminalList
from holdzero.errors import InputError
from holdzero.quantity import System
from holdzero.report.install import written

BOXES: dict[Outcome, str] = {"done": "[✓]", "failed": "[✕]", "not applicable": "[–]", "open": "[ ]"}


@click.command()
@click.argument("source", metavar="BOOK|MACHINE")
@click.argument("readings", required=False)
@click.option("--sensors", metavar="FILE", help="The candidates (TOML).")
@click.option("--sensor", metavar="NAME", help="The one to install; by default the one taken, else the choice.")
@click.option("--axis", help="Axis it is for: by default the one with two motors, else the only one tried.")
@click.option("--wiring", metavar="FILE", help="How its input is wired (TOML).")
@click.option("--square", metavar="FILE", help="How square the gantry was measured (TOML).")
@click.option("--checklist", metavar="FILE", help="What came of the tests (TOML, as a record carries it).")
@click.option("--machine", metavar="NAME", help="Of a book: which machine, by name.")
@units_too
@how_read
@json_too
def command(source: str, json_wanted: bool, **options: Any) -> int:
    """What to set on each axis, in order of doing, and what to test before it is trusted.

    From a book, or from MACHINE (a TOML file); READINGS, a CSV file, lets the sensor be chosen.
    """
    only_with("READINGS", options["readings"], "resolution", "step", "protocol")
    not_with("READINGS", options["readings"], "sensor")
    if (options["sensor"] or options["readings"]) and not options["sensors"] and not is_book(source):
        raise InputError(
            where="--sensors", found="nothing", need="the file of candidates", do="add --sensors FILE"
        )
    with opened(source, options, main="machine") as of:
        known = [sensor.name for sensor in of.case.sensors]
        if options["sensor"] and options["sensor"] not in known:
            raise InputError(
                where="--sensor",
                found=options["sensor"],
                need=f"one of {', '.join(known)}",
                do="name the one to install, or give the readings to choose by",
            )
        sheet, checked = of.case.sheet, of.case.checklist
        if json_wanted:
            show.as_json(install_json(of.case))
        else:
            show.page(*blocks(sheet, checked))
    return 0


def blocks(sheet: InstallSheet, checked: Checklist) -> list[show.Block]:
    """What a person sees: what does not fit, what to know first, the settings, the wires, then the tests."""
    shown: list[show.Block] = [
        f"{sheet.machine}: {sheet.verdict}",
        checked.verdict if checked.entries else "",
        show.Points("Before anything else", [caution.text for caution in sheet.cautions]),
        show.Points("Order of homing", [f"{', then '.join(sheet.order)}.", sheet.order_note]),
    ]
    for axis in sheet.axes:
        for group, settings in axis.groups.items():
            rows = [_line(setting, sheet.system) for setting in settings]
            shown.append(show.Table((f"{axis.axis}: {group}", "set to", "", "from"), rows, left=(0, 1, 2, 3)))
            notes = [f"{setting.name}: {setting.note}" for setting in settings if setting.note]
            shown.append(show.Points("What to mind", notes))
        shown += [_wires(terminal_list) for terminal_list in axis.wired]
    words = dict.fromkeys(
        f"{setting.name}: {setting.word}" for axis in sheet.axes for setting in axis.settings if setting.word
    )
    shown.append(show.Points(f"In the words of {SOURCE}", list(words)))
    for stage, tests in sheet.stages.items():
        shown.append(show.Points(f"Tests: {stage}", [_test(number, test, checked) for number, test in tests]))
    gone = [f"{result_entry.item}: {written(result_entry)}" for result_entry in checked.elsewhere]
    shown.append(show.Points("Written down for tests that are not asked for any more", gone))
    return shown


def _line(setting: Setting, system: System) -> tuple[str, ...]:
    fits = {True: "✓ fits", False: "✗ does not fit", None: ""}[setting.ok]
    return setting.name, setting.say(system) or "__________", fits, setting.origin


def _wires(listed: TerminalList) -> show.Block:
    head = (f"{listed.name}: {', '.join(listed.switches)}", "to", "colour", "length")
    rows = [
        (wire.start, wire.end, wire.colour or "any", f"{wire.length_m:g} m" if wire.length_m else "–")
        for wire in listed.wires
    ]
    return show.Table(head, rows, left=(0, 1, 2))


def _test(number: int, test: Test, checked: Checklist) -> str:
    blanks = "".join(f"  {blank}: ________" for blank in test.blanks)
    if entries := checked.of(test):
        blanks = "".join(f" {written(entry)}." for entry in entries)
    guard = f" △ {test.guard}" if test.guard else ""
    axis = f"{test.axis}, " if test.axis else ""
    return f"{BOXES[checked.outcome(test)]} {number}. {axis}{test.short}.{guard} {test.do} {test.expect}{blanks}"
