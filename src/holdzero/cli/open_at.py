"""Open at: the port where each book was open before, on this computer.

A browser keeps what is typed and not yet sent under the address of the page. A book that comes up at another
port the next time would hide it without a word.
"""

import json
import os
from pathlib import Path

from holdzero.cli.book_name import Named
from holdzero.cli.kept import settings_file
from holdzero.form.address import is_database

FILE = "open-at.json"  # beside the settings


def port_before(book: Named) -> int | None:
    """Return the port a book was open at the last time; None where that is not known.

    Parameters
    ----------
    book : Path or str
        The file of the book, or the address of its database.
    """
    port = _ports().get(_key(book))
    return port if isinstance(port, int) and 0 < port < 2**16 else None


def keep_port(book: Named, port: int) -> None:
    """Keep the port a book is open at; where settings cannot be written it is not kept.

    Parameters
    ----------
    book : Path or str
        The file of the book, or the address of its database.
    port : int
        Where it is open.
    """
    path = _file()
    ports = {name: at for name, at in _ports().items() if is_database(name) or Path(name).exists()}
    ports[_key(book)] = port
    if path is None:
        return
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f"{path.name}.{os.getpid()}")
        part.write_text(json.dumps(ports, indent=1), encoding="utf-8")
        part.replace(path)
    except OSError:  # the book opens all the same: at the usual port, if that is free
        return


def _key(book: Named) -> str:
    return str(book.resolve()) if isinstance(book, Path) else book


def _file() -> Path | None:
    settings = settings_file()
    return None if str(settings) == os.devnull else settings.with_name(FILE)


def _ports() -> dict[str, int]:
    path = _file()
    try:
        ports = json.loads(path.read_text(encoding="utf-8")) if path else {}
    except (OSError, ValueError):
        return {}
    return ports if isinstance(ports, dict) else {}
