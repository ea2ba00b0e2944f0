"""`holdzero square`: which side of a gantry moves, which way, by how much, and when to stop."""

import click

from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.drawings import pictures_too, write_pictures
from holdzero.cli.files import check_output_folder
from holdzero.cli.options import json_too, machine_of_book, units_too
from holdzero.cli.source import squared
from holdzero.quantity import System


@click.command()
@click.argument("source", metavar="BOOK|MEASURED")
@machine_of_book
@units_too
@pictures_too
@depth_too
@json_too
def command(source: str, machine: str | None, units: System, pictures: str | None, json_wanted: bool) -> int:
    """Which side of a gantry moves, which way, by how much, and when to stop.

    From a book, or from MEASURED (a TOML file, or - for standard input): two diagonals, a flip, a square reversed,
    or a grid of holes; one round or several.
    """
    if pictures is not None:
        check_output_folder(pictures, option="--pictures")
    squaring, notes, system = squared(source, machine, units)
    if pictures is not None:
        from holdzero.chart.square import squaring_picture

        write_pictures(pictures, {"gantry": squaring_picture(squaring, system=system)})
    if json_wanted:
        show.as_json(squaring.as_json() | {"notes": list(notes)})
    else:
        from holdzero.tell.square import tell_square  # who wants JSON never waits for the picture

        print_answer(tell_square(squaring, notes=notes, system=system))
    return 0
