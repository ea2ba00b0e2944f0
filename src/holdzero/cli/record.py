"""`holdzero record`: the record to print, sign and keep with the machine."""

from datetime import date
from hashlib import sha256
from pathlib import Path

import click

from holdzero import __version__
from holdzero.choose import choose
from holdzero.cli.files import read_text
from holdzero.cli.options import how_read, read_file_of_readings
from holdzero.errors import InputError
from holdzero.findings import study
from holdzero.machine import read_machine
from holdzero.sensor import read_sensors

MADE_UP = "Invented data, to show what the figures look like."


@click.command()
@click.option("--machine", required=True, metavar="FILE", help="The machine and what is asked of it (TOML).")
@click.option("--sensors", required=True, metavar="FILE", help="The candidates (TOML).")
@click.option("--axis", help="Axis to judge: by default the one with two motors, else the only one with readings.")
@click.option(
    "-o", "--output", required=True, metavar="FILE", help="What to write: a name that ends in .pdf or .html."
)
@click.option("--units", type=click.Choice(["metric", "inch"]), default="metric", show_default=True)
@click.option(
    "--day",
    metavar="YYYY-MM-DD",
    help="Day of the record: by default that of the last reading, if the file has times.",
)
@click.option("--invented", is_flag=True, help="Say on every page that the data are made up.")
@click.argument("readings")
@how_read
def command(
    machine: str,
    sensors: str,
    axis: str | None,
    output: str,
    units: str,
    day: str | None,
    invented: bool,
    readings: str,
    resolution: str | None,
    step: str | None,
    protocol: str | None,
) -> int:
    """Write the record: verdict, machine, choice, findings with pictures, method, cautions, digests.

    READINGS is a CSV file, or - for standard input. The same inputs give the same bytes.
    """
    from holdzero.report import record_content, record_html, record_pdf  # typesetting only where it is asked for
    from holdzero.report.record import last_day

    ending = Path(output).suffix.lower()
    if ending not in (".pdf", ".html"):
        raise InputError(
            where="--output",
            found=output,
            need="a name that ends in .pdf or .html",
            do="give the file such a name",
        )
    machine_text, machine_file = read_text(machine)
    sensors_text, sensors_file = read_text(sensors)
    asked = read_machine(machine_text, where=machine_file)
    candidates = read_sensors(sensors_text, where=sensors_file)
    taken = read_file_of_readings(readings, resolution=resolution, step=step, protocol=protocol)
    found = study(taken)
    content = record_content(
        asked,
        candidates,
        found,
        choose(asked, candidates, found, axis=axis),
        digests={
            "machine": sha256(machine_text.encode()).hexdigest(),
            "sensors": sha256(sensors_text.encode()).hexdigest(),
            "readings": taken.digest,
        },
        version=__version__,
        invented=MADE_UP if invented else "",
        day=_day(day) or last_day(found),
        system="inch" if units == "inch" else "metric",
    )
    made = record_pdf(content) if ending == ".pdf" else record_html(content).encode()
    try:
        Path(output).write_bytes(made)
    except OSError as error:
        raise InputError(
            where=output,
            found=(error.strerror or str(error)).lower(),
            need="a place that can be written to",
            do="check the folder",
        ) from error
    click.echo(f"{content.verdict} Written: {output}")
    return 0


def _day(entered: str | None) -> date | None:
    try:
        return None if entered is None else date.fromisoformat(entered)
    except ValueError as error:
        raise InputError(
            where="--day", found=entered or "", need="a day as YYYY-MM-DD", do="write it like 2026-03-07"
        ) from error
