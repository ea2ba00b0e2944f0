"""`holdzero book`: filled from files and written as files; whole, copied, saved from damage, taken elsewhere."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdzero.cli import show
from holdzero.cli.book_name import BookName, Named
from holdzero.cli.progress import at_work
from holdzero.tell.blocks import Points

if TYPE_CHECKING:
    from holdzero.store import ArrivalKept

BOOK = click.argument("book", type=BookName())


@click.group("book")
def command() -> None:
    """Bring files into a book, write it as files, see who changed what; check, back up, rescue, export it."""


@command.command("check")
@BOOK
def check_book(book: Named) -> int:
    """Read every page and every row of BOOK; nothing is changed. Ends with 1 if something is wrong.

    Each row is read by the rules of files. A typed reading is compared with the value kept of it; each set of
    readings, and each other row, with the digest kept when it was written.
    """
    from holdzero.store import check
    from holdzero.store.place import cautions

    with at_work("Reading every row", quiet=False):
        health = check(book)
    of_place = cautions(book) if isinstance(book, Path) else ()
    name = book.name if isinstance(book, Path) else book
    whole = "" if health.wrong else f"{name} is whole: {_counted(health.rows)}.{_known_since(health.since)}"
    show.page(Points((*health.wrong, *(caution.text for caution in of_place))), whole)
    return 1 if health.wrong else 0


def _known_since(since: str) -> str:
    from holdzero.store.check import NOT_YET

    if since == NOT_YET:
        return " Digests of its rows are kept from the next time it is opened on."
    return f" Digests of all its rows are kept since {since[:10]}." if since else ""


@command.command("backup")
@BOOK
@click.argument("to", type=click.Path(path_type=Path), required=False)
def back_up_book(book: Named, to: Path | None) -> int:
    """Copy BOOK to a new file; it may be open meanwhile. Without TO: beside it, with the date in its name.

    Where TO ends in .zip it is an archive, as `export` writes. Of a book on a server the copy is an ordinary book
    in a file; without TO it lies in this folder. Ends with 1 if something is wrong in the copy, as in BOOK.
    """
    from holdzero.errors import BookError, HoldzeroError
    from holdzero.store import check, open_book
    from holdzero.store.file import back_up

    dated = f"{datetime.now():%Y-%m-%d-%H%M%S}"
    if isinstance(book, Path):
        to = to or book.with_name(f"{book.stem}-{dated}{book.suffix}")
        to = to / book.name if to.is_dir() else to
        if to.suffix.casefold() == ".zip":
            with open_book(book, create=False) as opened:
                opened.export(to)
        else:
            back_up(book, to)
    else:
        to = _copied_from_server(book, to, dated)
    if to.suffix.casefold() == ".zip":
        show.page(f"Written: {to}")
        return 0
    try:
        health = check(to)
    except HoldzeroError as refusal:  # what cannot even be checked is no copy to go back to
        to.unlink()
        raise BookError(where=str(book), found=refusal.found, need=refusal.need, do=refusal.do) from None
    as_damaged = f". It is as damaged as {book}: holdzero book rescue saves what reads." if health.wrong else ""
    show.page(Points(tuple(health.wrong)), f"Written: {to} ({_counted(health.rows)}){as_damaged}")
    return 1 if health.wrong else 0


def _copied_from_server(address: str, to: Path | None, dated: str) -> Path:
    from holdzero.store import open_book

    with open_book(address, create=False) as opened:
        to = to or Path(f"{opened.title}-{dated}.holdzero")
        to = to / f"{opened.title}-{dated}.holdzero" if to.is_dir() else to
        opened.back_up(to)
    return to


@command.command("rescue")
@BOOK
@click.argument("to", type=click.Path(path_type=Path))
def rescue_book(book: Named, to: Path) -> int:
    """Save what can still be read of a damaged BOOK into the new book TO. Ends with 1 if something was lost."""
    from holdzero.errors import BookError
    from holdzero.store import rescue

    if not isinstance(book, Path):
        raise BookError(
            where=book,
            found="a book on a server, whose pages PostgreSQL looks after",
            need="a damaged file",
            do=f"write a copy of it with holdzero book backup {book}, or go back to a backup of the server",
        )
    with at_work("Saving what reads", quiet=False):
        rescued = rescue(book, to)
    show.page(Points(tuple(rescued.lost)), f"Saved: {to} ({_counted(rescued.rows)}). {book} is left as it is.")
    return 1 if rescued.lost else 0


@command.command("add")
@BOOK
@click.argument("files", metavar="FILE...", nargs=-1, required=True)
@click.option("--machine", default="", metavar="NAME", help="Machine they are of; needed where that is not plain.")
@click.option("--trial", default="", metavar="NAME", help="Trial for readings that name none.")
@click.option("--replace", is_flag=True, help="Where file and book differ, take what the file says.")
def add_to_book(book: Named, files: tuple[str, ...], machine: str, trial: str, replace: bool) -> int:
    """Bring FILEs into BOOK, made if it is not there: each is known by what stands in it.

    Machine, candidates, wiring, squaring, events, readings (CSV, XLSX), results of tests, decisions, the log of
    check homings, settings of the watch; a folder stands for the files in it. All come in, or none; what is there
    already is not doubled, and what the book says otherwise is kept. Ends with 1 if a file was none of these.
    """
    from holdzero.case.exchange import FileUnread, PartBrought, ReadFile, bring, recognised
    from holdzero.files import read_bytes
    from holdzero.store import open_book
    from holdzero.tell.exchanged import brought_line, unread_line

    known: list[ReadFile] = []
    unread: list[FileUnread] = []
    parts: Sequence[PartBrought] = ()
    for path in _files_of(files):
        file = recognised(path, read_bytes(path)[0])
        if isinstance(file, ReadFile):
            known.append(file)
        else:
            unread.append(file)
    if known:
        with at_work("Bringing the files in", quiet=False), open_book(book) as opened:
            parts = bring(opened, known, machine=machine, trial=trial, replace=replace)
    taken = [" ".join((brought_line(part, replace="--replace takes the file's"), *part.notes)) for part in parts]
    show.page(Points((*taken, *map(unread_line, unread))))
    return 1 if unread else 0


def _files_of(paths: tuple[str, ...]) -> list[str]:
    """Return the files named, and in the place of a folder those in it."""
    return [file for path in paths for file in (_files_in(Path(path)) if Path(path).is_dir() else [path])]


def _files_in(folder: Path) -> list[str]:
    from holdzero.errors import InputError

    within = sorted(inner for inner in folder.iterdir() if inner.name[0] != ".")
    files = [str(inner) for inner in within if inner.is_file()]
    if not files:
        raise InputError(
            where=str(folder),
            found=f"a folder with folders in it and no file, such as {within[0].name}"
            if within
            else "an empty folder",
            need="a folder with files in it",
            do=f"name what lies in it, such as {within[0]}" if within else "check its name",
        )
    return files


@command.command("write")
@BOOK
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--machine", metavar="NAME", help="Only this one; of several each goes into a folder of its own.")
@click.option("--replace", is_flag=True, help="Write over files there that say something else.")
def write_book(book: Named, folder: Path, machine: str | None, replace: bool) -> None:
    """Write all of BOOK as files into FOLDER, to be read, changed, asked, or added to another book.

    Every command takes the folder in the place of a book.
    """
    from holdzero.case.exchange import files_of, left_behind, write_folder
    from holdzero.case.in_book import InBook, machine_named
    from holdzero.store import open_book
    from holdzero.tell.exchanged import written_lines

    with open_book(book, create=False) as opened:
        machines = opened.machines()
        several = machine is None and len(machines) > 1
        bases = [InBook(opened, kept) for kept in (machines if several else [machine_named(opened, machine)])]
        read = [(files_of(basis), left_behind(basis)) for basis in bases]  # all of it, before anything is written
        for basis, (texts, left) in zip(bases, read, strict=True):
            to = folder / _folder_name(basis.kept.machine.name, basis.kept.id) if several else folder
            written = write_folder(texts, to, replace=replace)
            show.page(Points(tuple(written_lines(written, left, folder=str(to)))))


def _folder_name(name: str, number: int) -> str:
    letters = "".join(letter if letter.isalnum() else "-" for letter in name.casefold()).strip("-")
    return f"{letters or 'machine'}-{number}"


@command.command("export")
@BOOK
@click.argument("to", type=click.Path(path_type=Path))
def export_book(book: Named, to: Path) -> None:
    """Write all of BOOK into one open archive TO: a ZIP of JSON and CSV."""
    from holdzero.store import open_book

    with at_work("Writing the archive", quiet=False), open_book(book, create=False) as opened:
        rows = opened.export(to)
    show.page(f"Written: {to} ({_counted(rows)})")


@command.command("import")
@click.argument("archive", type=click.Path(path_type=Path))
@BOOK
def import_book(archive: Path, book: Named) -> int:
    """Make the new book BOOK, a file or in an empty database, from an archive that `export` wrote.

    Ends with 1 if something in it is no longer as it was written.
    """
    from holdzero.store import check, read_archive

    with at_work("Making the book", quiet=False):
        rows = read_archive(archive, book)
        wrong = check(book).wrong
    show.page(Points(wrong), f"Made: {book} ({_counted(rows)})")
    return 1 if wrong else 0


@command.command("homings")
@BOOK
@click.argument("to", type=click.Path(path_type=Path))
def write_homings(book: Named, to: Path) -> None:
    """Write every homing of BOOK, with its machine, trial and marks in words, to TO: .csv, .xlsx or .parquet.

    The columns are those of the view `homings` (docs/tables.md). Parquet needs the extra fleet.
    """
    from holdzero.store.written_homings import write_homings_of

    with at_work("Writing the homings", quiet=False):
        homings = write_homings_of(book, to)
    show.page(f"Written: {to} ({homings} homings)")


@command.command("trail")
@BOOK
@click.option("-n", "most", type=click.IntRange(1), default=40, show_default=True, help="How many changes.")
@click.option("--json", "as_json", is_flag=True, help="The list as JSON.")
def trail_of_book(book: Named, most: int, as_json: bool) -> None:
    """Say who changed what in BOOK and when (UTC), newest first; of a field what it was and what it is."""
    from dataclasses import asdict

    from holdzero.case.in_book import names_of_rows
    from holdzero.store import open_book
    from holdzero.tell.trail import tell_changes

    with open_book(book, create=False) as opened:
        changes = opened.trail(most=most)
        if as_json:
            show.as_json({"changes": [asdict(change) for change in changes]})
            return
        lines = tell_changes(changes, names_of_rows(opened))
    for change in lines:
        click.echo(f"{change.when}  {change.who_wrote}  {change.words}")
    if not lines:
        click.echo("Nothing was changed since the book keeps a trail.")


@command.command("imports")
@BOOK
@click.option("--machine", help="Which machine, where BOOK holds several.")
@click.option("--back", "back", type=int, metavar="NUMBER", help="Take this one back, the whole of it.")
@click.option("--again", "again", type=int, metavar="NUMBER", help="Let this one count again.")
@click.option("--json", "as_json", is_flag=True, help="The list as JSON.")
def imports_of_book(book: Named, machine: str | None, back: int | None, again: int | None, as_json: bool) -> None:
    """List what came into BOOK by file or paste; take one back whole, or let it count again. Nothing is lost."""
    from holdzero.case.in_book import machine_named
    from holdzero.store import open_book
    from holdzero.tell import acts

    with open_book(book, create=False) as opened:
        kept = machine_named(opened, machine)
        for number, act, in_words in (
            (back, opened.take_back, acts.import_taken_back),
            (again, opened.put_back, acts.import_counts_again),
        ):
            if number is not None:
                sentence = in_words(opened.arrival(number)[0].name or "Import", act(number))
                if as_json:
                    show.beside([sentence])
                else:
                    show.page(sentence)
        rows = opened.came_in(kept.id)
    if as_json:
        show.as_json({"imports": [_import_json(row) for row in rows]})
        return
    show.page(acts.imports(rows))


def _import_json(row: "ArrivalKept") -> dict[str, str | int | bool | None]:
    return {
        "number": row.arrival.id,
        "name": row.arrival.name,
        "added": row.arrival.added,
        "readings": row.arrival.readings,
        "taken_back": row.taken_back or None,
        "can_be_taken_back": row.whole,
    }


def _counted(rows: dict[str, int]) -> str:
    named = {"machine": "machines", "sensor": "sensors", "trial": "trials", "reading": "readings"}
    named |= {"span": "spans"} if rows.get("span") else {}
    return ", ".join(
        f"{rows.get(table, 0)} {words if rows.get(table, 0) != 1 else table}" for table, words in named.items()
    )
