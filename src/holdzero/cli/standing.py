"""`holdzero standing`: does it hold zero, does it stop in time, and what is next."""

from collections.abc import Iterator
from typing import Any

import click

from holdzero.case.contract import standing_json
from holdzero.case.standing.values import Standings
from holdzero.cli import show
from holdzero.cli.options import how_read, json_too, only_with, units_too
from holdzero.cli.source import opened

SIGNS = {"good": "✓ good", "not good": "✗ not good", "not known": "? not known"}


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
@json_too
def command(source: str, json_wanted: bool, **options: Any) -> int:
    """Does the machine hold zero, does it stop in time, and what is next.

    From a book, or from MACHINE (a TOML file) and READINGS (a CSV file). Two questions, never mixed; what was not
    looked at is not known. A home or limit switch is not, by itself, a safety function.
    """
    only_with("READINGS", options["readings"], "resolution", "step", "protocol")
    with opened(source, options, main="machine") as of:
        standings = of.case.standings
        if json_wanted:
            show.as_json(standing_json(of.case))
        else:
            show.page(*blocks(standings))
    return 0


def blocks(standings: Standings) -> Iterator[show.Block]:
    """What a person sees: both answers, what is next, then each part of each axis."""
    machine = standings.machine
    yield machine.headline
    if machine.next:
        yield f"Next: {machine.next}"
    yield standings.since_record
    for axis in standings.axes:
        rows = [(part.part, SIGNS[part.answer], part.sentence) for part in axis.parts]
        yield show.Table((str(axis.axis), f"{axis.answer}; stops: {axis.stops}", ""), rows, left=(0, 1, 2))
        yield axis.valid_for
