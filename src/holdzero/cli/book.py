"""`holdzero book`: the file itself: whole, copied, saved from damage, taken elsewhere."""

from datetime import datetime
from pathlib import Path

import click

BOOK = click.argument("book", type=click.Path(path_type=Path))


@click.group("book")
def command() -> None:
    """Check, back up, rescue, export or import a book."""


@command.command("check")
@BOOK
def check_book(book: Path) -> int:
    """Read every page and every row of BOOK; nothing is changed. Ends with 1 if something is wrong."""
    from holdzero.store import check
    from holdzero.store.place import cautions

    health = check(book)
    for sentence in (*health.wrong, *(caution.text for caution in cautions(book))):
        click.echo(sentence)
    if not health.wrong:
        click.echo(f"{book.name} is whole: {_counted(health.rows)}.")
    return 1 if health.wrong else 0


@command.command("backup")
@BOOK
@click.argument("to", type=click.Path(path_type=Path), required=False)
def back_up_book(book: Path, to: Path | None) -> None:
    """Copy BOOK to a new file; it may be open meanwhile. Without TO: beside it, with the date in its name."""
    from holdzero.store import check
    from holdzero.store.file import back_up

    to = to or book.with_name(f"{book.stem}-{datetime.now():%Y-%m-%d-%H%M%S}{book.suffix}")
    if to.is_dir():
        to = to / book.name
    back_up(book, to)
    click.echo(f"Written: {to} ({_counted(check(to).rows)})")


@command.command("rescue")
@BOOK
@click.argument("to", type=click.Path(path_type=Path))
def rescue_book(book: Path, to: Path) -> int:
    """Save what can still be read of a damaged BOOK into the new book TO. Ends with 1 if something was lost."""
    from holdzero.store import rescue

    rescued = rescue(book, to)
    for sentence in rescued.lost:
        click.echo(sentence)
    click.echo(f"Saved: {to} ({_counted(rescued.rows)}). {book} is left as it is.")
    return 1 if rescued.lost else 0


@command.command("export")
@BOOK
@click.argument("to", type=click.Path(path_type=Path))
def export_book(book: Path, to: Path) -> None:
    """Write all of BOOK into one open archive TO: a ZIP of JSON and CSV."""
    from holdzero.store import open_book

    with open_book(book, create=False) as opened:
        click.echo(f"Written: {to} ({_counted(opened.export(to))})")


@command.command("import")
@click.argument("archive", type=click.Path(path_type=Path))
@click.argument("book", type=click.Path(path_type=Path))
def import_book(archive: Path, book: Path) -> None:
    """Make the new book BOOK from an archive that `export` wrote."""
    from holdzero.store import read_archive

    click.echo(f"Made: {book} ({_counted(read_archive(archive, book))})")


def _counted(rows: dict[str, int]) -> str:
    named = {"machine": "machines", "sensor": "sensors", "trial": "trials", "reading": "readings"}
    return ", ".join(
        f"{rows.get(table, 0)} {words if rows.get(table, 0) != 1 else table}" for table, words in named.items()
    )
