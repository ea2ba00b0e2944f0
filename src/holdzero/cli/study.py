"""`holdzero study`: what the homings of each candidate say."""

from typing import TYPE_CHECKING

import click

from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.drawings import pictures_too, write_pictures
from holdzero.cli.files import check_output_folder
from holdzero.cli.options import (
    counted_elsewhere,
    how_read,
    json_too,
    misses_too,
    read_file_of_readings,
    units_too,
)
from holdzero.cli.progress import at_work
from holdzero.cli.source import holds_all, machine_of, mark_example, opened
from holdzero.compute.findings import study, study_as_json
from holdzero.quantity import System

if TYPE_CHECKING:  # the keys of a machine take time to read, and most studies know none
    from holdzero.inputs.machine.values import Axis


@click.command()
@click.argument("source", metavar="BOOK|READINGS")
@click.option(
    "--machine",
    metavar="FILE",
    help="The machine (TOML): its steps are looked for in the readings; of a book: which machine, by name.",
)
@misses_too
@how_read
@units_too
@pictures_too
@depth_too
@json_too
def command(
    source: str,
    machine: str | None,
    misses: tuple[str, ...],
    resolution: str | None,
    step: str | None,
    protocol: str | None,
    units: System,
    pictures: str | None,
    json_wanted: bool,
) -> int:
    """What the homings of each candidate say.

    From a book, or from READINGS: a CSV file, a workbook (XLSX), or - for standard input: a row a reading, or a
    row a power-up with least_mm, greatest_mm and n where no readings were kept.
    """
    if pictures is not None:
        check_output_folder(pictures, option="--pictures")
    how = {"resolution": resolution, "step": step, "protocol": protocol}
    with at_work("Studying the homings", quiet=json_wanted):
        if holds_all(source):
            with opened(source, how | {"machine": machine, "misses": misses, "units": units}) as of:
                result, units = of.case.study, of.case.system
        else:
            taken = read_file_of_readings(source, **how)
            mark_example(taken.example)
            result = study(taken, axes=_axes(machine), more_misses=counted_elsewhere(misses), system=units)
    if pictures is not None:
        from holdzero.door.studied import pictures_of_study

        write_pictures(pictures, pictures_of_study(result, units))
    if json_wanted:
        show.as_json(study_as_json(result))
    else:
        from holdzero.tell.findings import tell_findings  # who wants JSON never waits for it

        print_answer(tell_findings(result, system=units))
    return 0


def _axes(machine: str | None) -> "tuple[Axis, ...]":
    if machine is None:
        return ()
    return machine_of(machine).axes
