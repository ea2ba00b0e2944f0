"""Same file: is a book that stays open still where it was opened, and still itself?

On most systems a file that was removed, renamed or replaced goes on under the program that has it open: what is
written then is on no disk that anyone finds again. So the place is looked at before and after each writing; and
so are the two files that SQLite keeps beside the book: what was kept last lies in the first of them alone.
"""

import os
import sqlite3
import time
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from holdzero.errors import BookError

APPENDED = {
    "machine": "added",
    "trial": "added",
    "reading": "deviation_mm",
    "sheet": "added",
    "logged": "moment_s",
}
BESIDE = ("-wal", "-shm")  # SQLite's own, there as long as the book is open
_TRIES, _AGAIN_S = 5, 0.05  # another program may be writing to the file at this moment


class Elsewhere(BookError):
    """The book is no longer in its place. `whole`: what was open can still be written to a new file."""

    def __init__(self, path: Path, *, seen: str, whole: bool) -> None:
        self.whole = whole
        rescue = (
            "write what is open here to a new file, then open that"
            if whole
            else "leave the file as it is, open the newest copy of the book, and enter again what is on this page"
        )
        super().__init__(
            where=str(path),
            found=seen,
            need="the book in the place where it was opened: nothing more is taken, so that nothing is lost",
            do=rescue,
        )


class SameFile:
    """The place of a book, as it was when the book was opened, and what lies there now.

    Parameters
    ----------
    path : Path
        The file, which is there.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._at, self._seen, self._real = _place(os.stat(path)), _NEVER, os.path.realpath(path)
        self._rows: dict[str, tuple[int, object]] = {}
        self._beside: dict[str, os.stat_result] = {}
        self.check()

    def let_go(self) -> None:
        """Forget what lies beside the book: nobody here has it open, and SQLite may take it away."""
        self._beside.clear()

    def check(self, whole: Callable[[], bool] | None = None) -> None:
        """Look whether the book is still there.

        Parameters
        ----------
        whole : callable, optional
            Asked where the file was written since it was looked at last: whether it fits what lies beside it.

        Raises
        ------
        Elsewhere
            It was removed, renamed, replaced, or another file was copied over it; or what lies beside it was.
        """
        try:
            now = os.stat(self._path)
        except FileNotFoundError as gone:
            away = "no file there any more: it was removed, renamed or its drive is gone"
            raise Elsewhere(self._path, seen=away, whole=True) from gone
        if _place(now) != self._at or os.path.realpath(self._path) != self._real:
            raise Elsewhere(self._path, seen="another file in the place of the open book", whole=True)
        seen = (now.st_size, now.st_mtime_ns)
        self._check_beside(seen)
        if seen == self._seen:
            return
        for _ in range(_TRIES):
            rows = _newest_rows(self._path, self._rows)
            if rows is not None and (whole is None or self._seen == _NEVER or whole()):
                self._rows, self._seen = rows, seen
                return
            time.sleep(_AGAIN_S)
        raise Elsewhere(self._path, seen="another file copied over the open book", whole=False)

    def _check_beside(self, seen: tuple[int, int]) -> None:
        """Look whether SQLite's own files are still those that were there when the book was opened."""
        for ending in BESIDE:
            try:
                now = os.stat(self._real + ending)
            except FileNotFoundError:
                now = None
            before = self._beside.get(ending)
            if before is not None and (now is None or _place(now) != _place(before)):
                gone = (
                    f"{self._path.name}{ending}, where the newest entries of the open book are, moved or removed"
                )
                raise Elsewhere(self._path, seen=gone, whole=True)
            if before is not None and now is not None and seen == self._seen and _cut(before, now, seen[1]):
                cut = f"{self._path.name}{ending}, where the newest entries of the open book are, cut short"
                raise Elsewhere(self._path, seen=cut, whole=False)
            if now is not None:
                self._beside[ending] = now

    def saved_beside(self, engine_connection: sqlite3.Connection) -> Path:
        """Write what a connection made before still sees to a new file.

        Parameters
        ----------
        engine_connection : sqlite3.Connection
            Made while the book was in its place.

        Returns
        -------
        Path
            The new file, beside the old place or, where that folder is gone, in the home folder.
        """
        folder = self._path.absolute().parent
        folder = folder if folder.is_dir() else Path.home()
        stamp = datetime.now(UTC).strftime("%Y-%m-%d-%H%M%S")
        names = (f"{self._path.stem}-saved-{stamp}{again}{self._path.suffix}" for again in ("", *_TIMES))
        to = next(folder / name for name in names if not (folder / name).exists())
        os.close(os.open(to, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        with closing(sqlite3.connect(to)) as copy:
            engine_connection.backup(copy)
            copy.execute("pragma journal_mode = delete")
        return to


_NEVER = (-1, -1)
_TIMES = [f"-{number}" for number in range(2, 1000)]  # in one second


def _place(seen: os.stat_result) -> tuple[int, int]:
    return seen.st_dev, seen.st_ino


def _cut(before: os.stat_result, now: os.stat_result, merged_ns: int) -> bool:
    """Tell whether a log lost what was not merged into the book: that was written last before the log was."""
    return now.st_size < before.st_size and before.st_mtime_ns > merged_ns


def _newest_rows(path: Path, known: dict[str, tuple[int, object]]) -> dict[str, tuple[int, object]] | None:
    """Return key and stamp of the newest row of each table that only grows, as the file alone has them.

    None where rows that were there are not, or are others; or where the file cannot be read at this moment.
    """
    address = f"{path.absolute().as_uri()}?immutable=1"  # without the log beside it, and without locks
    rows: dict[str, tuple[int, object]] = {}
    try:
        with closing(sqlite3.connect(address, uri=True)) as alone:
            for table, stamp in APPENDED.items():
                stamped = f'select id, "{stamp}" from "{table}"'
                before = known.get(table)
                if before and alone.execute(f"{stamped} where id = ?", before[:1]).fetchone() != before:
                    return None
                newest = alone.execute(f"{stamped} order by id desc limit 1").fetchone()
                if newest is not None:
                    rows[table] = newest
    except sqlite3.Error:
        return None if known else {}  # a book just made may stand in the log beside the file alone
    return rows
