"""`holdzero budget`: what home position is made of, and which part matters."""

from typing import Any

import click

from holdzero.case.contract import budget_json
from holdzero.case.sensor_meant import refuse_to_guess
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.drawings import drawings_too, write_drawings
from holdzero.cli.files import check_output_folder
from holdzero.cli.options import how_read, json_too, only_with, units_too
from holdzero.cli.progress import progress
from holdzero.cli.source import opened
from holdzero.compute.budget.simulate import SEED


@click.command()
@click.argument("source", metavar="BOOK|MACHINE")
@click.argument("readings", required=False)
@click.option(
    "--sensors", metavar="FILE", help="The candidates (TOML): their data sheets serve where no trial does."
)
@click.option("--sensor", help="Which candidate: by default the one taken, else the one recommended.")
@click.option("--machine", metavar="NAME", help="Of a book: which machine, by name.")
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=SEED,
    show_default=True,
    help="Of the simulation: same seed, same answer.",
)
@click.option(
    "--digits", type=click.IntRange(1, 4), default=2, show_default=True, help="Digits that must stand still."
)
@drawings_too
@how_read
@units_too
@depth_too
@json_too
def command(source: str, seed: int, digits: int, drawings: str | None, json_wanted: bool, **options: Any) -> int:
    """What home position is made of, and which part matters.

    From a book, or from MACHINE (a TOML file) and READINGS (a CSV file with a trial of the candidate, or - for
    standard input).
    """
    only_with("READINGS", options["readings"], "resolution", "step", "protocol")
    if drawings is not None:
        check_output_folder(drawings, option="--drawings")
    with opened(source, options, main="machine") as of:
        refuse_to_guess(of.case, options["sensor"], where="--sensor")
        assessed = []
        with progress(len(of.case.axes), "Axes", quiet=json_wanted) as advance:
            for axis in of.case.axes:
                assessed.append(axis.budget_with(axis.sensor_reckoned, seed=seed, digits=digits))
                advance(1)
        machine, units = of.case.machine, of.case.system
    if drawings is not None:
        from holdzero.chart.index import index_picture

        places = {assessment.axis.name: assessment.budget.index for assessment in assessed}
        write_drawings(
            drawings,
            {
                f"index-{name}": index_picture(place, system=units)
                for name, place in places.items()
                if place is not None
            },
        )
    if json_wanted:
        show.as_json(budget_json(assessed, machine.notes))
    else:
        from holdzero.tell.budget import tell_budget  # who wants JSON never waits for the pictures

        print_answer(tell_budget(assessed, system=units, notes=machine.notes))
    return 0
