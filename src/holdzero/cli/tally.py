"""`holdzero tally`: a long run without an analyser, from a counter board on a serial port."""

import csv
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from holdzero import quantity
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.options import machine_of_book, only_with, units_too
from holdzero.errors import InputError
from holdzero.files import refuse_irregular
from holdzero.instrument import (
    Accepted,
    Event,
    LineFormat,
    ListeningSettings,
    LongRun,
    Noticed,
    RunLimits,
    RunTrip,
    Shown,
    checked_baud,
    listen,
)
from holdzero.instrument.settle import Settling
from holdzero.quantity import System
from holdzero.trial.long_run_asked import (
    BEFORE,
    COUNTS_ONLY,
    EVERY,
    life_used,
    refuse_unless_it_stops,
    still_to_answer,
)
from holdzero.trial.tallying import STOPPED, standing_of, tallied, watched

if TYPE_CHECKING:  # who keeps no book waits for none
    from holdzero.case import Case
    from holdzero.store import Book, KeptMachine

COLUMNS = (
    *("sensor", "axis", "side", "set", "homing", "deviation_mm", "time", "resolution_mm", "protocol", "kind"),
    "after_gap",
)
EVERY_SENTENCE = 50  # trips


@click.command("tally")
@click.argument("port")
@click.option(
    "--readings", required=True, metavar="CSV", help="Kept here, each before it is told; goes on if it is there."
)
@click.option("--pattern", default="", help="The line as the board sends it, with {value}, and * for anything.")
@click.option("--unit", default="mm", show_default=True, help="Of a place without one.")
@click.option("--count", metavar="LENGTH", help="The board sends whole counts; way of one.")
@click.option("--baud", default=9600, show_default=True, type=int)
@click.option(
    "--reach", default="0.5 mm", show_default=True, help="Further from the usual place a trip is early or late."
)
@click.option(
    "--inward",
    default="+",
    show_default=True,
    type=click.Choice(["+", "-"]),
    help="Whether places rise on the way in.",
)
@click.option(
    "--least",
    default=2.0,
    show_default=True,
    type=click.FloatRange(0.1),
    help="Seconds before a trip counts as missed, at least.",
)
@click.option("-n", "most", type=click.IntRange(1), help="Stop after so many trips.")
@click.option("--try", "only_try", is_flag=True, help="Show each line and what is read in it; keep nothing.")
@click.option("--sensor", default="", help="Which candidate is mounted.")
@click.option("--axis", default="", help="Which axis is homed.")
@click.option("--side", default="", type=click.Choice(["", "L", "R"]), help="On a gantry: which side is read.")
@click.option("--set", "set_label", default="", help="The power-up; by default that of the last reading, or 1.")
@click.option(
    "--checked",
    multiple=True,
    type=click.Choice([question.code for question in EVERY]),
    help="What was made sure of: once for each question, of which a terminal asks those that are left.",
)
@click.option("--into", metavar="BOOK", help="Keep the run in a book too; it must know that the axis stops.")
@machine_of_book
@depth_too
@units_too
def command(
    port: str,
    readings: str,
    pattern: str,
    unit: str,
    count: str | None,
    baud: int,
    reach: str,
    inward: str,
    least: float,
    most: int | None,
    only_try: bool,
    sensor: str,
    axis: str,
    side: str,
    set_label: str,
    checked: tuple[str, ...],
    into: str | None,
    machine: str | None,
    units: System,
) -> int:
    """A long run without an analyser, from a counter board on PORT that sends the place of each trip.

    Every trip is on disk before it is told, and every line as it came in the file beside it that ends in .log. The
    run ends by itself, with exit status 1, at the first trip that is missed, early or late. After unplugging, or
    when started again, it goes on where it was.

    It starts only after every question was answered with yes: whether the machine was seen to stop (with --into
    the book says so), spindle, tool, way, speed, time-out and limit, and who stays at the stop.
    """
    only_with("--into", into, "machine")
    count_mm = 1.0 if count is None else quantity.read(count, "length", unit="mm", where="--count")
    how = ListeningSettings(
        line=LineFormat(pattern, unit="mm" if count else unit),
        settling=Settling(still_s=0, button_s=0),
        baud=checked_baud(baud, where="--baud"),
    )
    if only_try:
        for event in listen(port, how):
            if isinstance(event, Shown):
                place = event.line.reading
                click.echo(
                    f"{event.line.text!r}: "
                    + (f"{place.value_mm * count_mm:+.4f} mm" if place else event.line.why)
                )
        return 0
    click.echo(f"{BEFORE} {COUNTS_ONLY}", err=True)
    with _book(into, machine) as book:
        used = _may_it_start(book, axis, sensor, most)
        click.echo(used, err=True)
        _answered(checked, stops_known=book is not None)
    limits = RunLimits(
        reach_mm=quantity.read(reach, "length", unit="mm", where="--reach"),
        inward=1 if inward == "+" else -1,
        least_s=least,
    )
    whose = {"sensor": sensor, "axis": axis, "side": side}
    with _kept(Path(readings), whose, set_label, count_mm if count else None) as kept:
        run = LongRun(limits, kept.places_mm)
        if run.count:
            click.echo(f"{run.count} trips of power-up {kept.set_label} are there: it goes on.", err=True)
        try:
            run_tallied = tallied(
                run, kept, watched(port, how, run), count_mm=count_mm, most=most, on_event=partial(_say_event, run)
            )
        except KeyboardInterrupt:
            kept.note(STOPPED)
            run_tallied = standing_of(run)
    from holdzero.tell.tally import tell_tally  # who tries a pattern never waits for it

    print_answer(tell_tally(run_tallied, kept_in=readings, system=units))
    with _book(into, machine) as book:
        if book is not None:
            _keep(book, Path(readings), whose, kept.set_label)
    return 0 if run_tallied.end is None else 1


def _say_event(run: LongRun, event: Event) -> None:
    """Tell of what happened, and now and then how many trips there are."""
    if isinstance(event, Noticed):
        click.echo(event.text, err=True)
    elif isinstance(event, Accepted) and run.count % EVERY_SENTENCE == 0:
        place = quantity.show(run.places_mm[-1], "length", digits=4)
        click.echo(f"{run.count} trips; the last at {place}", err=True)


@contextmanager
def _book(into: str | None, machine: str | None) -> "Iterator[_Of | None]":
    """Open the book that the run goes into; None without one."""
    if into is None:
        yield None
        return
    from holdzero.case import Case
    from holdzero.case.in_book import InBook, machine_named
    from holdzero.cli.source import mark_machine
    from holdzero.store import open_book

    with open_book(into, create=False) as book:
        owner = machine_named(book, machine)
        mark_machine(owner)
        yield _Of(book, owner, Case(InBook(book, owner)))


@dataclass(frozen=True, slots=True)
class _Of:
    """The book that a run goes into, whose run it is, and what follows from it so far."""

    book: "Book"
    owner: "KeptMachine"
    case: "Case"


def _may_it_start(into: "_Of | None", axis: str, sensor: str, most: int | None) -> str:
    """Refuse an axis that is not known to stop; say what the run takes of the life of its switch."""
    if into is None:
        return life_used(None, most)
    refuse_unless_it_stops(into.case.on(axis))
    candidate = next((known for known in into.case.sensors if known.name == sensor), None)
    if candidate is None:
        raise InputError(
            where="--sensor",
            found=sensor or "nothing",
            need=f"one of {', '.join(known.name for known in into.case.sensors)}",
            do="name the sensor that is tried",
        )
    if show.invented():
        click.echo(show.invented(), err=True)
    return life_used(candidate, most)


def _answered(checked: tuple[str, ...], *, stops_known: bool) -> None:
    """Ask at a terminal what is left to answer; refuse where nobody can, or where it is no."""
    for question in still_to_answer(checked, stops_known=stops_known):
        if not (sys.stdin.isatty() and click.confirm(question.text, err=True)):
            raise InputError(
                where="a long run",
                found=f"no yes to: {question.text}",
                need="every question answered with yes first",
                do=f"see to it, then say --checked {question.code}",
            )


def _keep(into: "_Of", path: Path, whose: dict[str, str], label: str) -> None:
    """Keep in the book what of a power-up it does not have yet."""
    from holdzero.inputs.reading import read_readings
    from holdzero.trial.long_run_kept import KIND, keep_long_run

    name = f"Long run, {path.name}"
    known = [trial.id for trial in into.book.trials(into.owner.id) if trial.name == name and trial.kind == KIND]
    before = {(row.set_label, row.homing) for trial_id in known for row in into.book.rows(trial_id)}
    head, *lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    rows = [
        line
        for line, row in zip(lines, csv.DictReader([head, *lines]), strict=True)
        if row["set"] == label
        and all(row[column] == value for column, value in whose.items())
        and (row["set"], int(row["homing"])) not in before
    ]
    if rows:
        readings = read_readings("".join([head, *rows]), where=str(path))
        show.page(keep_long_run(into.book, into.owner, readings, name=name).sentence)


@dataclass(slots=True)
class _Kept:
    """The readings file and the log beside it."""

    file: TextIO
    log: TextIO
    row: dict[str, str]
    set_label: str
    places_mm: list[float] = field(default_factory=list)

    def keep(self, trip: RunTrip) -> None:
        now = datetime.now(UTC).isoformat(timespec="milliseconds")
        row = self.row | {"homing": str(trip.number), "deviation_mm": repr(round(trip.place_mm, 9)), "time": now}
        csv.DictWriter(self.file, COLUMNS, lineterminator="\n").writerow(
            row | {"after_gap": "yes" if trip.after_gap else ""}
        )
        self.file.flush()
        os.fsync(self.file.fileno())

    def note(self, text: str) -> None:
        self.log.write(f"{datetime.now(UTC).isoformat(timespec='milliseconds')} {text}\n")
        self.log.flush()


@contextmanager
def _kept(path: Path, whose: dict[str, str], set_label: str, count_mm: float | None) -> Iterator[_Kept]:
    """Open the readings file to go on in it; what a crash tore off at its end goes to the log."""
    before, torn = [], ""
    refuse_irregular(path)
    if path.exists():
        text = path.read_text(encoding="utf-8")
        whole = text[: text.rfind("\n") + 1]
        torn = text[len(whole) :]
        rows = list(csv.DictReader(whole.splitlines()))
        if whole and whole.splitlines()[0].split(",") != list(COLUMNS):
            raise InputError(
                where=str(path),
                found="another file",
                need="a new file, or one that tally wrote",
                do="name another",
            )
        before = [row for row in rows if all(row[name] == value for name, value in whose.items())]
        if torn:
            with path.open("r+", encoding="utf-8") as file:
                file.truncate(len(whole.encode()))
    label = set_label or (before[-1]["set"] if before else "1")
    row = whose | {
        "set": label,
        "resolution_mm": "" if count_mm is None else repr(count_mm),
        "protocol": "encoder",
        "kind": "long run",
    }
    try:
        with (
            path.open("a", encoding="utf-8", newline="") as file,
            Path(f"{path}.log").open("a", encoding="utf-8") as log,
        ):
            if file.tell() == 0:
                file.write(",".join(COLUMNS) + "\n")
            kept = _Kept(
                file, log, row, label, [float(row["deviation_mm"]) for row in before if row["set"] == label]
            )
            if torn:
                kept.note(f"torn off at the end of the readings: {torn!r}")
            yield kept
    except OSError as error:
        raise InputError(
            where=str(path),
            found=(error.strerror or str(error)).lower(),
            need="a file of your own",
            do="name another",
        ) from error
