"""`holdzero listen`: an indicator on a serial port, from the terminal."""

import secrets
import sys
from collections.abc import Iterator
from dataclasses import replace

import click

from holdzero.caution import HOMING_MOVES
from holdzero.cli import show
from holdzero.cli.book_name import BookName, Named
from holdzero.cli.options import not_with, only_with
from holdzero.cli.source import mark_machine
from holdzero.errors import InputError
from holdzero.inputs.reading import Protocol
from holdzero.instrument import (
    Accepted,
    Event,
    LineFormat,
    ListeningSettings,
    Noticed,
    Shown,
    checked_baud,
    listen,
    ports,
)
from holdzero.instrument.settle import Settling
from holdzero.quantity import read
from holdzero.store import Book, NewReading, Trial, open_book
from holdzero.trial.slip import NEWEST_OF_SET, doubt


@click.command("listen")
@click.argument("port", required=False)
@click.option(
    "--pattern",
    default="",
    help="The line as it is sent, with {value}, perhaps {unit} and {index} (trip to index), * for anything.",
)
@click.option("--unit", default="mm", show_default=True, help="Of a value without one.")
@click.option("--ask", default="", help=r"What makes it send a value, e.g. ?\r ; without it it sends by itself.")
@click.option("--baud", default=9600, show_default=True, type=int)
@click.option(
    "--still",
    default=1.0,
    show_default=True,
    type=click.FloatRange(0),
    help="Seconds it has to stand still; 0: each line counts, as from a button.",
)
@click.option(
    "--within",
    default="0.001 mm",
    show_default=True,
    help="What still is standing still: one step of the display.",
)
@click.option("--away", default="0.1 mm", show_default=True, help="How far it has to go between two readings.")
@click.option(
    "--reach", default="1 mm", show_default=True, help="Further than this from the first reading is no homing."
)
@click.option("--try", "only_try", is_flag=True, help="Show each line and what is read in it; keep nothing.")
@click.option("-n", "most", type=click.IntRange(1), help="Stop after so many readings.")
@click.option("--book", type=BookName(), help="Keep the readings in this book.")
@click.option(
    "--trial", type=int, help="Number of the trial in the book; by default the newest of the first machine."
)
@click.option("--sensor", default="", help="Which candidate is mounted.")
@click.option("--axis", default="", help="Which axis is homed.")
@click.option("--side", default="", type=click.Choice(["", "L", "R"]), help="On a gantry: which side is read.")
@click.option("--set", "set_label", default="", help="The power-up; by default a new one.")
def command(
    port: str | None,
    pattern: str,
    unit: str,
    ask: str,
    baud: int,
    still: float,
    within: str,
    away: str,
    reach: str,
    only_try: bool,
    most: int | None,
    book: Named | None,
    trial: int | None,
    sensor: str,
    axis: str,
    side: str,
    set_label: str,
) -> int:
    r"""Read an indicator on PORT until Ctrl-C; without PORT, list the ports.

    A reading counts when the indicator has stood still after a move. Begin with the machine at home. The
    readings are printed as CSV, so that a file or another command can take them, and kept in a book if one
    is named.
    """
    of_book = ("trial", "sensor", "axis", "side", "set_label")
    how_to_listen = (
        "pattern",
        "unit",
        "ask",
        "baud",
        "still",
        "within",
        "away",
        "reach",
        "only_try",
        "most",
        "book",
    )
    only_with("PORT", port, *how_to_listen, *of_book)
    not_with("--try", only_try, "book")
    only_with("--book", book, *of_book)
    if port is None:
        click.echo("\n".join(ports()) or "No serial port found.")
        return 0
    settling = Settling(
        still_s=still,
        within_mm=read(within, "length", unit="mm", where="--within"),
        away_mm=read(away, "length", unit="mm", where="--away"),
        reach_mm=read(reach, "length", unit="mm", where="--reach"),
    )
    how = ListeningSettings(
        line=LineFormat(pattern, unit=unit),
        settling=settling,
        ask=ask.encode("latin-1", "backslashreplace").decode("unicode_escape").encode("latin-1"),
        baud=checked_baud(baud, where="--baud"),
    )
    if only_try:
        _try(listen(port, how), most)
        return 0
    click.echo(HOMING_MOVES, err=True)
    readings = _accepted(listen(port, how), most)
    if book is None:
        click.echo("deviation_mm" + ",trip_to_index_mm" * how.line.logs_index)
        for reading in readings:
            to_index_mm = reading.reading.trip_to_index_mm
            click.echo(f"{reading.reading.value_mm!r}" + ("" if to_index_mm is None else f",{to_index_mm!r}"))
        return 0
    session = secrets.token_hex(8)
    with open_book(book, create=False) as opened:
        into = opened.trial(trial) if trial else _newest(opened)
        trial_id, axis = into.id, axis or into.axis
        mark_machine(opened.machine(into.machine_id))
        if show.invented():
            click.echo(show.invented())
        resolution_mm = read(into.resolution, "length", unit=into.unit) if into.resolution else None
        set_label = set_label or opened.begin_power_up(trial_id, sensor=sensor, axis=axis)
        for accepted in readings:
            new = NewReading(
                sensor=sensor,
                axis=axis,
                side=side,
                set_label=set_label,
                deviation_mm=accepted.reading.value_mm,
                entered=accepted.reading.sent,
                trip_to_index_mm=accepted.reading.trip_to_index_mm,
                resolution_mm=resolution_mm,
                protocol=Protocol(into.protocol),
                ticket=f"{session}-{accepted.number}",
            )
            rows = opened.rows(trial_id, sensor=sensor, axis=axis, newest=NEWEST_OF_SET)
            odd = doubt(new, rows, system=opened.system)
            opened.add_reading(trial_id, replace(new, doubt=odd))
            to_index_mm = accepted.reading.trip_to_index_mm
            logged = "" if to_index_mm is None else f"  to index {to_index_mm:.4f} mm"
            click.echo(f"{accepted.number}  {accepted.reading.value_mm:+.4f} mm{logged}  set {set_label}")
            if odd:
                click.echo(f"   Is that right? {odd} It is kept; the page of the trial asks about it.", err=True)
    return 0


def _newest(book: Book) -> Trial:
    for machine in book.machines():
        for trial in book.trials(machine.id):
            return trial
    raise InputError(
        where=book.address,
        found="no trial",
        need="a trial the readings can go to",
        do="begin one: holdzero open",
    )


def _accepted(events: Iterator[Event], most: int | None) -> Iterator[Accepted]:
    """Pass on the readings that count; what is to be told goes to standard error, with a sound on acceptance."""
    for event in events:
        if isinstance(event, Noticed):
            click.echo(event.text, err=True)
        elif isinstance(event, Accepted):
            if sys.stderr.isatty():
                click.echo("\a", nl=False, err=True)
            yield event
            if event.number == most:
                return


def _try(events: Iterator[Event], most: int | None) -> None:
    lines = 0
    for event in events:
        if isinstance(event, Shown):
            reading = event.line.reading
            click.echo(f"{event.line.text!r}: " + (f"{reading.value_mm:+.4f} mm" if reading else event.line.why))
            lines += 1
        elif isinstance(event, Noticed):
            click.echo(event.text)
        if lines == most:
            return
