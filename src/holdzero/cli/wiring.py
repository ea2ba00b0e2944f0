"""`holdzero wiring`: what the controller's input makes of a switch, whole and with every single fault."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import click

from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.files import check_output
from holdzero.cli.options import json_too, machine_of_book
from holdzero.cli.source import circuits_of
from holdzero.compute.wiring import Assessment
from holdzero.compute.wiring.contract import wiring_json
from holdzero.errors import InputError


@click.command()
@click.argument("source", metavar="BOOK|WIRING")
@machine_of_book
@click.option("--svg", metavar="FILE", help="Also write the diagram; of several circuits FILE-1, FILE-2 ...")
@depth_too
@json_too
def command(source: str, machine: str | None, svg: str | None, json_wanted: bool) -> int:
    """What the controller's input makes of a switch, whole and with every single fault.

    From a book, or from WIRING (a TOML file, or - for standard input). Exit status 1 when a state misreads,
    something would be damaged, or an open wire, a lost supply or an unplugged sensor goes unnoticed.
    """
    if svg is not None:
        check_output(svg, option="--svg")
    circuits = circuits_of(source, machine)
    if svg is not None:
        _write(svg, circuits)
    if json_wanted:
        show.as_json(wiring_json(circuits))
    else:
        from holdzero.tell.wiring import tell_wiring  # who wants JSON never waits for it

        print_answer(tell_wiring(circuits))
    return 0 if all(circuit.passes for circuit in circuits) else 1


def _write(path: str, circuits: Sequence[Assessment]) -> None:
    """Write the diagrams."""
    from holdzero.chart import PRINT
    from holdzero.chart.wiring import diagram

    drawn = [circuit for circuit in circuits if circuit.circuit is not None]
    target = Path(path)
    try:
        for number, circuit in enumerate(drawn, 1):
            name = target if len(drawn) == 1 else target.with_stem(f"{target.stem}-{number}")
            picture = diagram(circuit, sheet=f"{number} of {len(drawn)}", day=date.today().isoformat())
            name.write_text(picture.marked(show.invented()).svg(PRINT), encoding="utf-8")
    except OSError as error:
        raise InputError(
            where=path,
            found=(error.strerror or str(error)).lower(),
            need="a file that can be written",
            do="name another one",
        ) from error
