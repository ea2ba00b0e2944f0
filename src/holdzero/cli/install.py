"""`holdzero install`: what to set on each axis, in order of doing, and what to test."""

import click

from holdzero.cli import show
from holdzero.cli.files import read_text
from holdzero.cli.options import how_read, json_too, not_with, only_with, read_file_of_readings
from holdzero.compute.install import (
    Checklist,
    Entry,
    InstallSheet,
    Outcome,
    Setting,
    Test,
    install_sheet,
    read_entries,
)
from holdzero.compute.install.vocabulary import SOURCE
from holdzero.compute.square import Squaring, read_square, squaring
from holdzero.compute.wiring import Assessment, TerminalList
from holdzero.errors import InputError
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System
from holdzero.report.install import written

BOXES: dict[Outcome, str] = {"done": "[✓]", "failed": "[✕]", "not applicable": "[–]", "open": "[ ]"}


@click.command()
@click.argument("machine")
@click.argument("readings", required=False)
@click.option("--sensors", metavar="FILE", help="The candidates (TOML).")
@click.option("--sensor", metavar="NAME", help="The one to install; by default the choice from READINGS.")
@click.option("--axis", help="Axis it is for: by default the one with two motors, else all.")
@click.option("--wiring", metavar="FILE", help="How its input is wired (TOML).")
@click.option("--square", metavar="FILE", help="How square the gantry was measured (TOML).")
@click.option("--checklist", metavar="FILE", help="What came of the tests (TOML, as a record carries it).")
@click.option("--units", type=click.Choice(["metric", "inch"]), default="metric", show_default=True)
@how_read
@json_too
def command(
    machine: str,
    readings: str | None,
    sensors: str | None,
    sensor: str | None,
    axis: str | None,
    wiring: str | None,
    square: str | None,
    checklist: str | None,
    units: str,
    resolution: str | None,
    step: str | None,
    protocol: str | None,
    json_wanted: bool,
) -> int:
    """What to set on each axis, in order of doing, and what to test before it is trusted.

    MACHINE is a TOML file; READINGS, a CSV file, lets the sensor be chosen.
    """
    only_with("READINGS", readings, "resolution", "step", "protocol")
    not_with("READINGS", readings, "sensor")
    system: System = "inch" if units == "inch" else "metric"
    text, where = read_text(machine)
    asked = read_machine(text, where=where)
    how = {"resolution": resolution, "step": step, "protocol": protocol}
    chosen, for_axis = _chosen(asked, sensors, sensor, axis, readings, how)
    sheet = install_sheet(
        asked,
        sensor=chosen,
        axis=for_axis,
        circuits=_circuits(wiring),
        squared=_squared(square, system),
        system=system,
    )
    checked = Checklist(sheet.tests, _entries(checklist))
    if json_wanted:
        show.as_json(sheet.as_json() | {"checklist": checked.as_json()})
    else:
        show.page(*blocks(sheet, checked))
    return 0


def blocks(sheet: InstallSheet, checked: Checklist) -> list[show.Block]:
    """What a person sees: what does not fit, what to know first, the settings, the wires, then the tests."""
    said: list[show.Block] = [
        f"{sheet.machine}: {sheet.verdict}",
        checked.verdict if checked.entries else "",
        show.Points("Before anything else", [caution.text for caution in sheet.cautions]),
        show.Points("Order of homing", [f"{', then '.join(sheet.order)}.", sheet.order_note]),
    ]
    for axis in sheet.axes:
        for group, settings in axis.groups.items():
            rows = [_line(setting, sheet.system) for setting in settings]
            said.append(show.Table((f"{axis.axis}: {group}", "set to", "", "from"), rows, left=(0, 1, 2, 3)))
            notes = [f"{one.name}: {one.note}" for one in settings if one.note]
            said.append(show.Points("What to mind", notes))
        said += [_wires(one) for one in axis.wired]
    words = dict.fromkeys(f"{one.name}: {one.word}" for axis in sheet.axes for one in axis.settings if one.word)
    said.append(show.Points(f"In the words of {SOURCE}", list(words)))
    for stage, tests in sheet.stages.items():
        said.append(show.Points(f"Tests: {stage}", [_test(number, one, checked) for number, one in tests]))
    gone = [f"{one.item}: {written(one)}" for one in checked.elsewhere]
    said.append(show.Points("Written down for tests that are not asked for any more", gone))
    return said


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
        blanks = "".join(f" {written(one)}." for one in entries)
    guard = f" △ {test.guard}" if test.guard else ""
    axis = f"{test.axis}, " if test.axis else ""
    return f"{BOXES[checked.outcome(test)]} {number}. {axis}{test.short}.{guard} {test.do} {test.expect}{blanks}"


def _chosen(
    asked: Machine,
    sensors: str | None,
    name: str | None,
    axis: str | None,
    readings: str | None,
    how: dict[str, str | None],
) -> tuple[Sensor | None, str]:
    """The sensor to install, and the axis it is for."""
    two = [one.name for one in asked.axes if one.motors == 2]
    for_axis = axis or (two[0] if two else "")
    if sensors is None:
        if name or readings:
            raise InputError(
                where="--sensors",
                found="nothing",
                need="the file of candidates",
                do="add --sensors FILE",
            )
        return None, for_axis
    from holdzero.inputs.sensor import read_sensors

    text, where = read_text(sensors)
    candidates = read_sensors(text, where=where)
    if name is None and readings is not None:
        from holdzero.compute.choose import choose
        from holdzero.compute.findings import study

        choice = choose(asked, candidates, study(read_file_of_readings(readings, **how)), axis=axis)
        name, for_axis = choice.choice, choice.allowed.axis
        if name is None:
            return None, for_axis
    found = {one.name: one for one in candidates}
    if name not in found:
        raise InputError(
            where="--sensor",
            found="nothing" if name is None else name,
            need=f"one of {', '.join(found)}",
            do="name the one to install, or give the readings to choose by",
        )
    return found[name], for_axis


def _circuits(path: str | None) -> list[Assessment]:
    if path is None:
        return []
    from holdzero.compute.wiring import assess_all, read_wiring

    text, where = read_text(path)
    return assess_all(read_wiring(text, where=where))


def _entries(path: str | None) -> tuple[Entry, ...]:
    if path is None:
        return ()
    text, where = read_text(path)
    return read_entries(text, where=where)


def _squared(path: str | None, system: System) -> Squaring | None:
    if path is None:
        return None
    text, where = read_text(path)
    measured = read_square(text, where=where)
    return squaring(measured.setup, measured.rounds, system=system)
