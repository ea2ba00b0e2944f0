"""`holdzero tally`: a long run without an analyser, from a counter board on a serial port."""

import csv
import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TextIO

import click

from holdzero.errors import InputError
from holdzero.instrument import (
    Accepted,
    Event,
    LineFormat,
    ListeningSettings,
    LongRun,
    Noticed,
    RunEnd,
    RunLimits,
    Shown,
    listen,
)
from holdzero.instrument.settle import Settling
from holdzero.quantity import read, show

COLUMNS = (
    *("sensor", "axis", "side", "set", "homing", "deviation_mm", "time", "resolution_mm", "protocol", "kind"),
    "after_gap",
)
BEFORE = (
    "A long run is never left alone: spindle and coolant off and locked out, no tool, axis clear for its whole "
    "way, the controller's own time-out and the limit armed, at or below the speed that the stop test was passed "
    "at, someone in sight and within reach of the stop. It uses up the life of a contact."
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
@click.option("--baud", default=9600, show_default=True, type=click.IntRange(50, 4_000_000))
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
@click.option("--sensor", default="")
@click.option("--axis", default="")
@click.option("--side", default="", type=click.Choice(["", "L", "R"]))
@click.option("--set", "set_label", default="", help="The power-up; by default that of the last reading, or 1.")
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
) -> int:
    """A long run without an analyser, from a counter board on PORT that sends the place of each trip.

    Every trip is on disk before it is told, and every line as it came in the file beside it that ends in .log. The
    run ends by itself, with exit status 1, at the first trip that is missed, early or late. After unplugging, or
    when started again, it goes on where it was.
    """
    count_mm = 1.0 if count is None else read(count, "length", unit="mm", where="--count")
    how = ListeningSettings(
        line=LineFormat(pattern, unit="mm" if count else unit), settling=Settling(still_s=0, button_s=0), baud=baud
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
    click.echo(BEFORE, err=True)
    limits = RunLimits(
        reach_mm=read(reach, "length", unit="mm", where="--reach"),
        inward=1 if inward == "+" else -1,
        least_s=least,
    )
    whose = {"sensor": sensor, "axis": axis, "side": side}
    with _kept(Path(readings), whose, set_label, count_mm if count else None) as kept:
        run = LongRun(limits, kept.places_mm)
        if run.count:
            click.echo(f"{run.count} trips of power-up {kept.set_label} are there: it goes on.", err=True)
        end = _followed(run, kept, _with_watch(port, how, run), most=most, count_mm=count_mm)
    click.echo(f"{run.count} trips in {readings}, {run.unread} lines not read.")
    if end is None:
        return 0
    click.echo(f"{end.fault.upper()}. {end.text} Stop the machine and look before going on.")
    return 1


@dataclass(slots=True)
class _Kept:
    """The readings file and the log beside it."""

    file: TextIO
    log: TextIO
    row: dict[str, str]
    set_label: str
    places_mm: list[float] = field(default_factory=list)

    def keep(self, homing: int, place_mm: float, *, after_gap: bool) -> None:
        now = datetime.now(UTC).isoformat(timespec="milliseconds")
        row = self.row | {"homing": str(homing), "deviation_mm": repr(round(place_mm, 9)), "time": now}
        csv.DictWriter(self.file, COLUMNS, lineterminator="\n").writerow(
            row | {"after_gap": "yes" if after_gap else ""}
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


def _with_watch(port: str, how: ListeningSettings, run: LongRun) -> Iterator[Event | RunEnd]:
    """Listen, and end where a trip is missed: a thread watches the time while nothing comes."""
    stop, end = threading.Event(), list[RunEnd]()

    def watch() -> None:
        while not stop.wait(0.05):
            missed = run.overdue(time.monotonic())
            if missed is not None:
                end.append(missed)
                stop.set()

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield from listen(port, how, stop=stop)
        yield from end
    finally:
        stop.set()
        watcher.join()


def _followed(
    run: LongRun, kept: _Kept, events: Iterator[Event | RunEnd], *, most: int | None, count_mm: float
) -> RunEnd | None:
    """Keep each trip and tell of it; return why the run ended, None where it was stopped."""
    try:
        for event in events:
            if isinstance(event, RunEnd):
                kept.note(event.text)
                return event
            if isinstance(event, Noticed):
                kept.note(event.text)
                click.echo(event.text, err=True)
                if event.code == "lost":
                    run.interrupted()
            elif isinstance(event, Shown):
                kept.note(f"line {event.line.text!r}")
                if event.line.reading is None:
                    run.not_read()
            elif isinstance(event, Accepted):
                trip, end = run.tripped(event.time_s, event.reading.value_mm * count_mm)
                kept.keep(trip.number, trip.place_mm, after_gap=trip.after_gap)
                if end is not None:
                    kept.note(end.text)
                    return end
                if trip.number % EVERY_SENTENCE == 0:
                    click.echo(
                        f"{trip.number} trips; the last at {show(trip.place_mm, 'length', digits=4)}", err=True
                    )
                if trip.number == most:
                    return None
    except KeyboardInterrupt:
        kept.note("stopped by hand")
    return None
