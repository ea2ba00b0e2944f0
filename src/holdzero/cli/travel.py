"""`holdzero travel`: does each axis stop where there is still room?"""

from typing import Any

import click

from holdzero.case import OnAxis
from holdzero.case.contract import travel_json
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.drawings import drawings_too, write_drawings
from holdzero.cli.files import check_output_folder
from holdzero.cli.options import json_too, units_too
from holdzero.cli.source import opened
from holdzero.compute.travel import Missing, Start, Travel, TravelCase, on_the_rail, start_from
from holdzero.errors import InputError
from holdzero.inputs.machine import Axis
from holdzero.quantity import System, field_unit, plain, read


@click.command()
@click.argument("source", metavar="BOOK|MACHINE")
@click.option("--machine", metavar="NAME", help="Of a book: which machine, by name.")
@click.option("--wiring", metavar="FILE", help="Of files: the circuits (TOML), whose delay then counts.")
@click.option("--axis", help="Only this axis.")
@click.option(
    "--from",
    "places",
    multiple=True,
    metavar="LENGTH",
    help="Where the axis stands now, from the hard stop at the homing end; twice for a gantry's left and right "
    "end. Says which way homing goes.",
)
@drawings_too
@units_too
@depth_too
@json_too
def command(
    source: str, axis: str | None, places: tuple[str, ...], drawings: str | None, json_wanted: bool, **options: Any
) -> int:
    """Whether each axis stops where there is still room.

    From a book, or from MACHINE, a TOML file, or - for standard input. Exit status 1 when a check fails.
    """
    if drawings is not None:
        check_output_folder(drawings, option="--drawings")
    if len(places) > 2:
        raise InputError(
            where="--from",
            found=f"{len(places)} places",
            need="one, or two for left and right",
            do="leave the rest out",
        )
    with opened(source, options, main="machine") as of:
        asked, units = of.case.machine, of.case.system
        travels = {on_axis.name: _checked(on_axis) for on_axis in of.case.axes if axis in (None, on_axis.name)}
    axes = [rail.axis for rail in travels.values()]
    if not axes:
        raise InputError(
            where="--axis",
            found=f'"{axis}"',
            need=f"one of {', '.join(axis.name for axis in asked.axes)}",
            do="name an axis of the machine",
        )
    if places and len(axes) > 1:
        raise InputError(
            where="--from",
            found=f"{len(axes)} axes",
            need="the one axis that stands there",
            do=f"name it with --axis: {', '.join(axis.name for axis in axes)}",
        )
    starts = {axis.name: _start(axis, places, units) for axis in axes} if places else {}
    if drawings is not None:
        from holdzero.chart.machine import machine_picture
        from holdzero.chart.travel import travel_picture

        pictures = {f"travel-{name}": travel_picture(travel, system=units) for name, travel in travels.items()}
        write_drawings(drawings, {"machine": machine_picture(asked, system=units)} | pictures)
    if json_wanted:
        show.as_json(travel_json(travels, starts, asked.notes))
    else:
        from holdzero.tell.travel import tell_travel  # who wants JSON never waits for the pictures

        print_answer(tell_travel(tuple(travels.values()), system=units, starts=starts, notes=asked.notes))
    return 0 if all(travel.ok for travel in travels.values()) else 1


def _checked(on_axis: OnAxis) -> Travel:
    if on_axis.travel is None:
        assert on_axis.travel_missing is not None  # one or the other
        raise on_axis.travel_missing
    return on_axis.travel


def _start(axis: Axis, places: tuple[str, ...], units: System) -> Start:
    case = TravelCase(axis, units)
    unit = plain(field_unit("length", system=units))
    left, *right = (
        on_the_rail(case, read(place, "length", unit=unit, where="--from"), where="--from") for place in places[:2]
    )
    try:
        return start_from(case, left_mm=left, right_mm=right[0] if right else None)
    except Missing as missing:
        raise InputError(
            where=f"axes.{axis.name}",
            found=f"no {' and no '.join(missing.keys)}",
            need=f"{' and '.join(missing.keys)} to say where homing goes from here",
            do="add it to the machine file",
        ) from missing
