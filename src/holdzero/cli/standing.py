"""`holdzero standing`: does it hold zero, does it stop in time, and what is next."""

from typing import Any

import click

from holdzero.case.contract import standing_json
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.options import how_read, json_too, only_with, units_too
from holdzero.cli.progress import at_work
from holdzero.cli.source import opened
from holdzero.tell.standing import tell_standing


@click.command()
@click.argument("source", metavar="BOOK|MACHINE")
@click.argument("readings", required=False)
@click.option("--machine", metavar="NAME", help="Of a book: which machine, by name.")
@click.option("--sensors", metavar="FILE", help="Of files: the candidates (TOML).")
@click.option("--sensor", metavar="NAME", help="The candidate meant; by default the one taken, else the choice.")
@click.option("--wiring", metavar="FILE", help="Of files: how the switches are wired (TOML).")
@click.option("--square", metavar="FILE", help="Of files: how square the gantry was measured (TOML).")
@click.option("--checklist", metavar="FILE", help="Of files: what came of the tests (TOML).")
@click.option("--axis", help="Axis meant: by default the one with two motors, else the only one with readings.")
@how_read
@units_too
@depth_too
@json_too
def command(source: str, json_wanted: bool, **options: Any) -> int:
    """Does the machine hold zero, does it stop in time, and what is next.

    From a book, or from MACHINE (a TOML file) and READINGS (a CSV file). Two questions, never mixed; what was not
    looked at is not known. A home or limit switch is not, by itself, a safety function.
    """
    only_with("READINGS", options["readings"], "resolution", "step", "protocol")
    with opened(source, options, main="machine") as of:
        with at_work("Looking at every part", quiet=json_wanted):
            standings = of.case.standings
        if json_wanted:
            show.as_json(standing_json(of.case))
        else:
            print_answer(tell_standing(standings, system=of.case.system))
    return 0
