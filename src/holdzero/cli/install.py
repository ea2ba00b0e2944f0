"""`holdzero install`: what to set on each axis, in order of doing, and what to test."""

from typing import Any

import click

from holdzero.case.contract import install_json
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.options import how_read, json_too, not_with, only_with, units_too
from holdzero.cli.source import holds_all, opened
from holdzero.errors import InputError
from holdzero.tell.install import tell_install


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
@depth_too
@json_too
def command(source: str, json_wanted: bool, **options: Any) -> int:
    """What to set on each axis, in order of doing, and what to test before it is trusted.

    From a book, or from MACHINE (a TOML file); READINGS, a CSV file, lets the sensor be chosen.
    """
    only_with("READINGS", options["readings"], "resolution", "step", "protocol")
    not_with("READINGS", options["readings"], "sensor")
    if (options["sensor"] or options["readings"]) and not options["sensors"] and not holds_all(source):
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
            print_answer(tell_install(sheet, checked))
    return 0
