"""Restored: a new book, in a file or on a server, from an archive."""

from pathlib import Path

from holdzero.errors import BookError
from holdzero.form.address import database_address, is_database
from holdzero.store.archive import file_from, fill, opened
from holdzero.store.migrate import migrate
from holdzero.store.server import EMPTY, being_made, connected, engine_of, in_words_of, number_on, tables_in


def read_archive(archive: Path, to: Path | str) -> dict[str, int]:
    """Make a new book from an archive.

    Parameters
    ----------
    archive : Path
        As `export` wrote it, by this version or an older one.
    to : Path or str
        The new book: a file that is not there, or the address of an empty database.

    Returns
    -------
    dict
        How many rows of each table.

    Raises
    ------
    BookError
        `to` is taken; not an archive of a book, damaged, or of a newer version.
    """
    if not is_database(str(to)):
        return file_from(archive, Path(to))
    address = database_address(str(to), where="BOOK")
    engine = engine_of(address)
    try:
        with (
            opened(archive) as unpacked,
            in_words_of(address),
            connected(engine, address) as connection,
            connection.begin(),
            being_made(connection),
        ):
            if tables_in(connection) != EMPTY:
                raise BookError(
                    where=address, found="a book", need="an empty database", do="make one for it (createdb)"
                )
            migrate(connection, to=unpacked.schema)
            counts = fill(connection, unpacked)
            number_on(connection)
            migrate(connection)
    finally:
        engine.dispose()
    return counts
