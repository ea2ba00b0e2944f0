"""`holdzero log`: check homings of a machine in use, into its book."""

import time
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import click

from holdzero.case.in_book import machine_named
from holdzero.case.watch.kept_log import keep_log
from holdzero.cli import show
from holdzero.cli.book_name import BookName, Named
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.files import read_text
from holdzero.cli.options import json_too, not_with, only_with
from holdzero.cli.source import mark_machine
from holdzero.errors import BookError, HoldzeroError, InputError
from holdzero.inputs.log import Log, entry_from, read_log
from holdzero.inputs.log.single import NAMES
from holdzero.inputs.log.writing import COLUMNS
from holdzero.quantity import quoted
from holdzero.store import Book, KeptEntry, LogKept, open_book
from holdzero.tell import acts
from holdzero.tell.watch import NEWEST, tell_log

Stamp = tuple[int, int]  # when a file was changed, and its size


@click.command()
@click.argument("book", type=BookName())
@click.argument("files", metavar="[FILE]...", nargs=-1)
@click.option("--machine", metavar="NAME", help="Machine of the book; needed where it has several.")
@click.option("--deviation", metavar="LENGTH", help="What the indicator shows. A bare number is mm.")
@click.option("--left", metavar="LENGTH", help="On a gantry: the left side.")
@click.option("--right", metavar="LENGTH", help="On a gantry: the right side.")
@click.option("--axis", metavar="NAME", help="By default the only one, else the one on two motors.")
@click.option("--side", type=click.Choice(["L", "R"]), help="Of --deviation, where only one side was read.")
@click.option("--time", "time", metavar="TIME", help="When (ISO 8601); by default now.")
@click.option("--set", "set", metavar="LABEL", help="The power-up; by default each entry is one.")
@click.option("--homing", metavar="N", help="Its number in the set.")
@click.option("--temperature", metavar="T", help="A bare number is degC.")
@click.option("--condition", metavar="TEXT", help="E.g. spindle on.")
@click.option("--event", metavar="TEXT", help="What happened before it: a new baseline begins here.")
@click.option("--cycles", metavar="COUNT", help="Reading of a counter of cycles.")
@click.option("--false-trips", "false_trips", metavar="COUNT", help="Trips without the flag ...")
@click.option("--hours", metavar="HOURS", help="... in so many hours.")
@click.option("--failed", metavar="TEXT", help="Which switch failed and was changed.")
@click.option("--acknowledged", metavar="NOTE", help="Closes the alarms so far: what was looked at.")
@click.option("--note", metavar="TEXT")
@click.option("--zone", metavar="ZONE", help="Of times that name none, e.g. +01:00; by default this computer's.")
@click.option("--folder", type=click.Path(path_type=Path), help="Keep what comes into this folder, until Ctrl-C.")
@click.option("--once", is_flag=True, help="With --folder: look once and end.")
@click.option(
    "--look",
    type=click.FloatRange(0.1),
    default=5.0,
    show_default=True,
    help="With --folder: every so many seconds.",
)
@click.option("--take-back", "take_back", type=int, metavar="N", help="Take entry N back; it stays in the book.")
@click.option("--again", type=int, metavar="N", help="Let entry N count again that was taken back.")
@depth_too
@json_too
def command(book: Named, files: tuple[str, ...], json_wanted: bool, **options: Any) -> None:
    """Keep check homings, events and notes in BOOK; without any, list the newest.

    FILE is a CSV file of a log (or -). Or one entry by its options. An entry that is there already is not kept
    twice, so a file that grows, or a folder, can be brought in again and again.
    """
    typed = {name: str(options[name]) for name in NAMES if options[name] is not None}
    not_with("a file", files, *typed, "folder", "take_back", "again")
    not_with("--folder", options["folder"], *typed, "take_back", "again")
    not_with("--take-back", options["take_back"], *typed, "again")
    not_with("--again", options["again"], *typed)
    only_with("--folder", options["folder"], "once", "look")
    zone = _zone(options["zone"])
    with open_book(book, create=False) as opened:
        if options["folder"]:
            _folder(opened, options["folder"], options, zone)
            return
        of = machine_named(opened, options["machine"])
        mark_machine(of)
        if options["take_back"]:
            _take_back(opened, of.id, options["take_back"])
        elif options["again"]:
            _count_again(opened, of.id, options["again"])
        elif files:
            log = read_log([read_text(path) for path in files], zone=zone)
            kept = keep_log(opened, log, machine_id=of.id, source=", ".join(map(str, files)))
            _tell(kept, json_wanted)
        elif typed:
            entries = entry_from(typed, now=datetime.now(zone or UTC).astimezone(zone))
            kept = keep_log(opened, Log(entries), machine_id=of.id, source="terminal")
            _tell(kept, json_wanted)
        else:
            _list(opened.log(of.id), json_wanted)


def _tell(kept: LogKept, json_wanted: bool) -> None:
    if json_wanted:
        show.as_json({"new": kept.new, "before": kept.before, "notes": list(kept.notes)})
    else:
        show.page(acts.log_kept(kept), acts.noted(kept.notes))


def _list(entries: tuple[KeptEntry, ...], json_wanted: bool) -> None:
    if json_wanted:
        rows = [
            {"entry": kept.id, **{column: getattr(kept.entry, field) for column, field in COLUMNS.items()}}
            for kept in entries[-NEWEST:]
        ]
        show.as_json({"entries_n": len(entries), "entries": rows})
    else:
        print_answer(tell_log(entries))


def _take_back(book: Book, machine_id: int, number: int) -> None:
    entry = next((kept.entry for kept in book.log(machine_id) if kept.id == number), None)
    if entry is None:
        raise BookError(
            where=book.address,
            found=f"no entry {number} that counts",
            need="one of this machine's",
            do="list them: holdzero log BOOK",
        )
    book.undo_logged(number)
    show.page(acts.entry_taken_back(entry))


def _count_again(book: Book, machine_id: int, number: int) -> None:
    counting = {kept.id for kept in book.log(machine_id)}
    every = {kept.id: kept.entry for kept in book.log(machine_id, undone=True)}
    if number in counting or number not in every:
        raise BookError(
            where=book.address,
            found=f"no entry {number} that was taken back",
            need="the number of one",
            do="leave it as it is, or take the entry in from its file",
        )
    book.redo_logged(number)
    show.page(acts.entry_counts_again(every[number]))


def _folder(book: Book, folder: Path, options: dict[str, Any], zone: tzinfo | None) -> None:
    """Bring in every CSV file of a folder, again whenever it has changed."""
    if not folder.is_dir():
        raise InputError(
            where=str(folder),
            found="no such folder",
            need="the folder logs come into",
            do="make it, or check the name",
        )
    machine_id = machine_named(book, options["machine"]).id if options["machine"] else None
    kept_as: dict[Path, Stamp] = {}
    noticed: dict[Path, Stamp] = {}
    while True:
        stamps = dict(_stamps(folder))
        refused: HoldzeroError | None = None
        for path, stamp in stamps.items():
            stands_still = options["once"] or noticed.get(path) == stamp  # else it may still be written
            if kept_as.get(path) == stamp or not stands_still:
                continue
            kept_as[path] = stamp
            try:
                log = read_log([read_text(str(path))], zone=zone)
                kept = keep_log(book, log, machine_id=machine_id, source=path.name)
                show.page(f"{path.name}: {acts.log_kept(kept)}")
            except HoldzeroError as error:  # the other files still count; it is tried again once it has changed
                refused = error
                if not options["once"]:
                    click.echo(f"holdzero: {error}", err=True)
        if options["once"]:
            if refused is not None:
                raise refused
            return
        noticed = stamps
        time.sleep(options["look"])


def _stamps(folder: Path) -> Iterator[tuple[Path, Stamp]]:
    for path in sorted(folder.glob("*.csv")):
        try:
            at = path.stat()
        except FileNotFoundError:
            continue  # taken away meanwhile
        yield path, (at.st_mtime_ns, at.st_size)


def _zone(word: str | None) -> tzinfo | None:
    if word is None:
        return None
    try:
        offset = datetime.fromisoformat(f"2026-01-01T00:00{word}").utcoffset()
        if offset is not None:
            return timezone(offset if offset else timedelta(0))
    except ValueError:
        pass
    try:
        return ZoneInfo(word)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise InputError(
            where="--zone", found=quoted(word), need="a zone", do="write it like +01:00, or by its name"
        ) from None
