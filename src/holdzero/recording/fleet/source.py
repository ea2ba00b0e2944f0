"""Source: the files or the database that a person names."""

from collections.abc import Sequence
from pathlib import Path

from holdzero.errors import InputError
from holdzero.files import BOOK, irregular
from holdzero.form.address import is_database
from holdzero.recording.fleet.database import FleetDatabase, book_not_logs
from holdzero.recording.fleet.files import FleetFiles
from holdzero.recording.fleet.part import FleetSource


def fleet_source(paths: Sequence[str], *, table: str) -> FleetSource:
    """Open where the logs of many machines are.

    Parameters
    ----------
    paths : sequence of str
        Files and folders, or the address of one database.
    table : str
        Of a database: where the logs are.

    Raises
    ------
    InputError
        A database among other things, a book, or what cannot be read.
    """
    databases = [path for path in paths if is_database(path)]
    if databases and len(paths) > 1:
        raise InputError(
            where=f"{len(paths)} PATHs",
            found="a database among them",
            need="one database, or files",
            do="name the database alone",
        )
    for path in paths if not databases else ():
        if _is_file_of_book(Path(path)):
            raise book_not_logs(path)
    return FleetDatabase(databases[0], table) if databases else FleetFiles(paths)


def _is_file_of_book(path: Path) -> bool:
    if irregular(path) or not path.is_file():
        return False
    with path.open("rb") as file:
        return file.read(len(BOOK)) == BOOK
