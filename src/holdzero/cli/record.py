"""`holdzero record`: the record to print, sign and keep with the machine, and whether an old one still stands."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from holdzero.case import Case
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.files import check_output
from holdzero.cli.options import how_read, json_too, only_with, units_too
from holdzero.cli.progress import at_work
from holdzero.cli.source import Opened, files_needed, holds_all, opened, unreadable
from holdzero.errors import InputError
from holdzero.files import refuse_irregular
from holdzero.tell.acts import record_kept
from holdzero.tell.blocks import Points
from holdzero.tell.record import tell_record

if TYPE_CHECKING:  # typesetting only where something is written
    from holdzero.report import RecordContent

MADE_UP = "Invented data, to show what the figures look like."
MOST_LINES = 12


@click.command()
@click.argument("source", metavar="BOOK|READINGS", required=False)
@click.option(
    "--machine",
    metavar="NAME|FILE",
    help="Of a book: which machine, by name. Of files: the machine and what is asked of it (TOML).",
)
@click.option("--sensors", metavar="FILE", help="Of files: the candidates (TOML).")
@click.option("--wiring", metavar="FILE", help="Of files: how the switches are wired (TOML).")
@click.option("--square", metavar="FILE", help="Of files: how square the gantry was measured (TOML).")
@click.option("--axis", help="Axis to judge: by default the one with two motors, else the only one with readings.")
@click.option(
    "-o",
    "--output",
    "outputs",
    multiple=True,
    metavar="FILE",
    help="What to write: a name that ends in .pdf or .html; twice for both.",
)
@click.option("--verify", metavar="FILE", help="Check a record written before, instead of writing one.")
@click.option(
    "--day",
    metavar="YYYY-MM-DD",
    help="Day of the record: by default that of the last reading, if the readings have times.",
)
@click.option("--invented", is_flag=True, help="Say on every page that the data are made up.")
@click.option("--checklist", metavar="FILE", help="Of files: what came of the tests (TOML).")
@units_too
@how_read
@depth_too
@json_too
def command(
    source: str | None, outputs: tuple[str, ...], verify: str | None, json_wanted: bool, **options: Any
) -> int:
    """Write the record of a machine, or check one that was written before.

    From a book, or from READINGS (a CSV file, or - for standard input) with --machine and --sensors. The same
    inputs give the same bytes. A record made from a book is also kept in the book.

    With --json everything in it is printed and nothing is written.

    With --verify the record is reckoned again: from the inputs it carries, or from the book or files named.
    Exit status 1 when an input, a figure or the file itself is another now. With --json what differs is a list.
    """
    if verify is not None:
        only_with("BOOK or READINGS", source, *options)  # the record brings the inputs and how they were read
        return _check(verify, source, outputs, options, json_wanted=json_wanted)
    if source is None:
        raise InputError(where="BOOK|READINGS", found="nothing", need="a book or a readings file", do="name one")
    if json_wanted:
        return _as_json(source, options)
    for output in outputs or ("",):
        _refuse_other_endings(output)
        check_output(output, option="--output")
    if not holds_all(source):
        files_needed(source, options)
    with _opened(source, options) as of:
        with at_work("Writing the record", quiet=False):
            content, written = _write(outputs, of.case)
            kept = [_keep(of, source)] if of.book is not None else []
            verdict, reason = content.verdict, content.reason
            answer = tell_record(of.case, verdict=verdict, reason=reason, written=written, kept=kept)
        print_answer(answer)
    return 0


def _as_json(source: str, options: dict[str, Any]) -> int:
    """Print everything the record would hold, and write nothing."""
    from holdzero.case.contract import record_json

    if not holds_all(source):
        files_needed(source, options)
    with _opened(source, options) as of:
        show.as_json(record_json(of.case))
    return 0


def _keep(of: Opened, source: str) -> str:
    from holdzero.report.kept import keep
    from holdzero.report.stored import stored_of

    if of.book is None or of.book.read_only:
        return f"Not kept: {of.book.read_only if of.book else 'no book'}"
    return record_kept(keep(of.book, of.machine_id, stored_of(of.case)), book=source)


def _check(
    path: str, source: str | None, outputs: tuple[str, ...], options: dict[str, Any], *, json_wanted: bool
) -> int:
    from holdzero.report.check import check
    from holdzero.report.stored import read_stored

    if outputs:
        raise InputError(
            where="--output", found=outputs[0], need="nothing with --verify", do="leave one of them out"
        )
    try:
        refuse_irregular(path, need="a record")
        raw = Path(path).read_bytes()
    except OSError as error:
        raise unreadable(path, error, "a record") from error
    stored = read_stored(raw, where=path)
    if source is None:
        with at_work("Reckoning the record again", quiet=json_wanted):
            agreement = check(stored, None, raw)
    else:
        if not holds_all(source):
            files_needed(source, options)
        with _opened(source, options) as of, at_work("Reckoning the record again", quiet=json_wanted):
            agreement = check(stored, of.case.basis, raw)
    if json_wanted:
        show.as_json(agreement.as_json())
        return 0 if agreement.same else 1
    more = len(agreement.different) - MOST_LINES
    show.page(
        " ".join(agreement.sentences),
        Points((*map(str, agreement.different[:MOST_LINES]), *([f"and {more} more"] if more > 0 else []))),
    )
    return 0 if agreement.same else 1


@contextmanager
def _opened(source: str, options: dict[str, Any]) -> Iterator[Opened]:
    """Open what is recorded, with what is said of the record beside it."""
    beside = {"day": _day(options["day"]), "invented": MADE_UP if options["invented"] else ""}
    with opened(source, options | beside) as of:
        yield of


def _refuse_other_endings(output: str) -> None:
    if Path(output).suffix.lower() not in (".pdf", ".html"):
        raise InputError(
            where="--output",
            found=output or "nothing",
            need="a name that ends in .pdf or .html",
            do="give the file such a name with -o",
        )


def _write(outputs: tuple[str, ...], case: Case) -> tuple["RecordContent", list[str]]:
    """Write the record; return it and the files."""
    from holdzero.report.printed import write_printed
    from holdzero.report.whole import record_of

    content = record_of(case)
    written = [write_printed(output, content) for output in outputs]
    show.beside([*dict.fromkeys(note for _, note in written if note)])
    return content, [*dict.fromkeys(str(path) for path, _ in written)]


def _day(entered: str | None) -> date | None:
    try:
        return None if entered is None else date.fromisoformat(entered)
    except ValueError as error:
        raise InputError(
            where="--day", found=entered or "", need="a day as YYYY-MM-DD", do="write it like 2026-03-07"
        ) from error
