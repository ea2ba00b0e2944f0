"""`holdzero plan`: how a trial is shared out, what it will show, and the papers for it."""

from pathlib import Path

import click

from holdzero.case.planned import axis_to_try, plan_of, stop_not_tested
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.drawings import pictures_too, write_pictures
from holdzero.cli.files import check_output, check_output_folder, read_text
from holdzero.cli.options import json_too, only_with, units_too
from holdzero.cli.progress import at_work
from holdzero.cli.source import holds_all, machine_of, mark_example, opened
from holdzero.compute.plan.noise import hunt
from holdzero.compute.plan.trial_plan import SEED, USUAL_FEWEST, USUAL_MOST, TrialPlan
from holdzero.errors import InputError
from holdzero.form import is_example, read_toml
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, quoted, read


@click.command()
@click.argument("source", metavar="[BOOK|MACHINE]", required=False)
@click.option(
    "--machine", metavar="FILE", help="The machine and what is asked of it (TOML); of a BOOK: which, by name."
)
@click.option("--sensors", metavar="FILE", help="The candidates (TOML).")
@click.option("--axis", help="Axis to plan for: by default the one with two motors, else the first.")
@click.option(
    "--minutes", default="90", show_default=True, help="Time for each candidate. A bare number is minutes."
)
@click.option("--per-homing", default="1", show_default=True, help="Time of one homing with its reading.")
@click.option(
    "--per-power-up", default="5", show_default=True, help="Time of one power-up: off, wait, on, warm up."
)
@click.option("--between", type=float, help="Scatter between power-ups over scatter within, where it is known.")
@click.option("--fewest", type=int, default=USUAL_FEWEST, show_default=True, help="Least homings of a power-up.")
@click.option("--most", type=int, default=USUAL_MOST, show_default=True, help="Most homings of a power-up.")
@click.option("--display", metavar="LENGTH", help="Step of the display: by default taken as negligible.")
@click.option(
    "--run", type=int, default=100, show_default=True, help="Homings of the long run that is weighed; 0: none."
)
@click.option("--per-run-homing", default="15 s", show_default=True, help="Time of one homing of the long run.")
@click.option("--confirm", metavar="SENSOR", help="Plan the confirming trial of the one chosen, once more, alone.")
@click.option(
    "--seed", type=click.IntRange(min=0), default=SEED, show_default=True, help="Of the order and places."
)
@click.option("--sheet", metavar="FILE", help="Write the sheet to print: a name that ends in .pdf or .html.")
@click.option(
    "--motion",
    metavar="FILE",
    help="Write programs (RS-274), one a power-up: set.nc makes set-01.nc, set-02.nc, ...",
)
@click.option("--stop-tested", is_flag=True, help="The emergency stop was tested today; --motion asks for it.")
@click.option("--reach", metavar="RANGE", help='Stated travel in machine coordinates, e.g. "0 mm to 1290 mm".')
@click.option("--home-at", default="0", metavar="PLACE", help="What the controller shows after homing (0).")
@click.option(
    "--nearest", default="20 mm", show_default=True, help="Nearest start, from home: clear of the switch."
)
@click.option("--farthest", metavar="LENGTH", help="Farthest start, from home: by default 200 mm.")
@click.option("--feed", metavar="SPEED", help="Speed of the way out: by default 20 mm/s.")
@click.option("--height", metavar="PLACE", help="Dry-run height of Z in machine coordinates; needs --z-reach.")
@click.option("--z-reach", metavar="RANGE", help='Stated travel of Z, e.g. "-80 mm to 0 mm".')
@click.option(
    "--noise",
    metavar="COUNT",
    multiple=True,
    help='A count of a noise hunt, as "as it runs: 9 in 1 h". Repeat it for each condition; no plan is made then.',
)
@units_too
@pictures_too
@depth_too
@json_too
def command(
    source: str | None,
    machine: str | None,
    sensors: str | None,
    axis: str | None,
    minutes: str,
    per_homing: str,
    per_power_up: str,
    between: float | None,
    fewest: int,
    most: int,
    display: str | None,
    run: int,
    per_run_homing: str,
    confirm: str | None,
    seed: int,
    sheet: str | None,
    motion: str | None,
    stop_tested: bool,
    reach: str | None,
    home_at: str,
    nearest: str,
    farthest: str | None,
    feed: str | None,
    height: str | None,
    z_reach: str | None,
    noise: tuple[str, ...],
    units: str,
    pictures: str | None,
    json_wanted: bool,
) -> int:
    """How many homings over how many power-ups, in which order, and what that will show.

    From a book, or from MACHINE (a TOML file): then it says how good a candidate has to be. Without a machine the
    plan is reckoned in shares of the spread. --motion moves the machine by itself when it is run: its header says
    what to do first.
    """
    only_with(
        "--motion", motion, "stop_tested", "reach", "home_at", "nearest", "farthest", "feed", "height", "z_reach"
    )
    only_with("--machine", source or machine or motion, "axis")
    only_with("--sensors", source or sensors, "confirm")
    if sheet:
        _check_sheet(sheet)
    if motion:
        _check_motion(motion, stop_tested)
    if pictures is not None:
        check_output_folder(pictures, option="--pictures")
    if noise:
        return _hunted(noise, json_wanted)
    system: System = "inch" if units == "inch" else "metric"
    asked, candidates = _read(source, machine, sensors)
    with at_work("Planning the trial", quiet=json_wanted):
        plan = plan_of(
            asked,
            candidates,
            axis=axis,
            minutes=_minutes(minutes, "--minutes"),
            minutes_per_homing=_minutes(per_homing, "--per-homing"),
            minutes_per_power_up=_minutes(per_power_up, "--per-power-up"),
            between_ratio=between,
            fewest_homings=fewest,
            most_homings=most,
            display_mm=_display_mm(display, units),
            long_run=run,
            minutes_per_run_homing=_minutes(per_run_homing, "--per-run-homing"),
            confirm=confirm,
            seed=seed,
            where="--axis",
        )
    meant = axis_to_try(asked, axis) if asked is not None else None
    if sheet:
        with at_work("Writing the sheet", quiet=json_wanted):
            _write_sheet(sheet, plan, asked, system)
    if motion:
        places = {"reach": reach, "home_at": home_at, "nearest": nearest, "farthest": farthest, "feed": feed}
        _write_motion(motion, plan, axis, meant, places | {"height": height, "z_reach": z_reach}, system)
    if pictures is not None:
        from holdzero.chart.indicator import indicator_picture

        write_pictures(pictures, {"indicator": indicator_picture(sides=plan.sides, axis=plan.axis)})
    before = list(_before_motion(meant)) if motion else []
    if json_wanted:
        show.as_json(plan.as_json() | ({"before_motion": before} if motion else {}))
    else:
        from holdzero.tell.plan import tell_plan  # who wants JSON never waits for the wording

        print_answer(tell_plan(plan, system=system, before=before))
    return 0


def _hunted(counts: tuple[str, ...], json_wanted: bool) -> int:
    """Say what the counts of a noise hunt tell."""
    noise_hunt = hunt(map(_counted, counts))
    if json_wanted:
        show.as_json(noise_hunt.as_json())
        return 0
    from holdzero.tell.plan import tell_hunt

    print_answer(tell_hunt(noise_hunt))
    return 0


def _counted(text: str) -> tuple[str, int, float]:
    condition, _, counted = text.rpartition(":")
    trips, _, watched = counted.partition(" in ")
    if not (condition.strip() and watched):
        raise InputError(
            where="--noise",
            found=quoted(text),
            need='a condition, the trips and the time, as "as it runs: 9 in 1 h"',
            do="write it like that",
        )
    where = f"--noise {condition.strip()}"
    hours = read(watched, "time", unit="h", where=where) / 3600
    return condition.strip(), round(read(trips, "count", where=where)), hours


def _read(
    source: str | None, machine: str | None, sensors: str | None
) -> tuple[Machine | None, tuple[Sensor, ...]]:
    whole = next((path for path in (source, machine) if path is not None and holds_all(path)), None)
    if whole is not None:
        name = {"machine": machine} if whole == source else {}
        with opened(whole, {"sensors": sensors} | name) as of:
            return of.case.machine, of.case.sensors
    if source and machine:
        raise InputError(
            where="--machine",
            found=f"{machine} beside {source}, which is not a book",
            need="one machine",
            do="leave one of them out",
        )
    machine = machine or source
    candidates: tuple[Sensor, ...] = ()
    if sensors is not None:
        from holdzero.inputs.sensor import read_sensors

        text, where = read_text(sensors)
        candidates = read_sensors(text, where=where)
        mark_example(is_example(read_toml(text, where=where)))
    return None if machine is None else machine_of(machine), candidates


def _minutes(text: str, option: str) -> float:
    return read(text, "time", unit="min", where=option) / 60


def _display_mm(text: str | None, units: str) -> float | None:
    unit = "in" if units == "inch" else "mm"
    return None if text is None else read(text, "length", unit=unit, where="--display")


def _check_sheet(path: str) -> None:
    if Path(path).suffix.lower() not in (".pdf", ".html"):
        raise InputError(
            where="--sheet", found=path, need="a name that ends in .pdf or .html", do="give the file such a name"
        )
    check_output(path, option="--sheet")


def _check_motion(path: str, stop_tested: bool) -> None:
    if not stop_tested:
        raise stop_not_tested("--motion", do="test the stop, then ask again with --stop-tested")
    check_output(_numbered(path, 1), option="--motion")


def _write_sheet(path: str, plan: TrialPlan, asked: Machine | None, system: System) -> None:
    from holdzero.report.printed import write_printed
    from holdzero.report.trial_sheet import trial_sheet

    content = trial_sheet(
        plan,
        machine=asked.name if asked else "",
        invented=show.invented(),
        system=system,
    )
    written, note = write_printed(path, content)
    show.beside([*filter(None, [note]), f"Written: {written}"])


def _write_motion(
    path: str,
    plan: TrialPlan,
    axis: str | None,
    chosen_axis: Axis | None,
    stated: dict[str, str | None],
    system: System,
) -> None:
    from holdzero.compute.plan.cycles import motion_set
    from holdzero.tell.motion_program import motion_program, notes_for

    programs = [
        motion_set(
            axis=axis or plan.axis, homings=plan.split.homings, set_number=number, seed=plan.seed, stated=stated
        )
        for number in range(1, plan.split.power_ups + 1)
    ]
    for cycles in programs:
        notes = (*filter(None, [show.invented()]), *notes_for(chosen_axis))
        text = motion_program(cycles, system=system, notes=notes)
        _write(_numbered(path, cycles.set_number), text.encode())


def _before_motion(axis: Axis | None) -> tuple[str, ...]:
    from holdzero.tell.motion_program import MOVES_BY_ITSELF, notes_for

    return (*MOVES_BY_ITSELF, *notes_for(axis))


def _numbered(path: str, number: int) -> str:
    name = Path(path)
    return f"{name.with_suffix('')}-{number:02d}{name.suffix}"


def _write(path: str, made: bytes) -> None:
    try:
        Path(path).write_bytes(made)
    except OSError as error:
        raise InputError(
            where=path,
            found=(error.strerror or str(error)).lower(),
            need="a place that can be written to",
            do="check the folder",
        ) from error
    click.echo(f"Written: {path}", err=True)
