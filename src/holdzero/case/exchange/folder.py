"""Folder: a machine in a folder of files, as a book writes it, asked like a book."""

from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from pathlib import Path

from holdzero.case.basis import FILES, How, Texts
from holdzero.demo import INVENTED
from holdzero.errors import InputError
from holdzero.files import read_text
from holdzero.form import EXAMPLE, read_toml
from holdzero.quantity import System

BOOK_FILE = "book.toml"
CAPTURE_FILE = "capture.toml"


@dataclass(frozen=True, kw_only=True)
class InFolder(Texts):
    """The files of a folder, with what only a book has.

    Parameters
    ----------
    remark : str
        What is to be said wherever the machine is.
    recorded : str
        When the newest record was kept (ISO 8601); empty: none was.
    """

    remark: str = ""
    recorded: str = field(default="", repr=False)

    @property
    def _of_demo(self) -> bool:
        return self.remark == INVENTED

    @property
    def today(self) -> date | None:
        """The day of the record, else that of the clock, as for a book."""
        return self.how.day or (self.last_logged if self._of_demo else None) or date.today()

    @property
    def clock_s(self) -> float | None:
        """By the clock, as for a book."""
        return None if self.how.day or self._of_demo else datetime.now(UTC).timestamp()

    @property
    def recorded_s(self) -> float | None:
        """When the newest record was kept."""
        return datetime.fromisoformat(self.recorded).timestamp() if self.recorded else None


def in_folder(path: Path) -> InFolder:
    """Return the machine whose files lie in a folder under the names that a book gives them.

    Raises
    ------
    InputError
        None of them is there, or one cannot be read.
    """
    texts, names = {}, {}
    for part, name in FILES.items():
        if (path / name).is_file():
            texts[part], names[part] = read_text(str(path / name))
    if not texts:
        raise InputError(
            where=str(path),
            found="a folder without a machine's files",
            need=f"files such as {FILES['machine']}, {FILES['readings']}, as holdzero book write makes them",
            do="name a file in it, a book, or another folder",
        )
    document = {}
    if (path / BOOK_FILE).is_file():
        text, where = read_text(str(path / BOOK_FILE))
        document = read_toml(text, where=where)
    system: System = "inch" if document.get("units") == "inch" else "metric"
    remark = str(document.get("remark", ""))
    how = How(system=system)
    folder = InFolder(files=texts, names=names, how=how, remark=remark, recorded=str(document.get("recorded", "")))
    if "machine" in texts and folder.machine.example:
        return replace(folder, how=How(system=system, invented=remark or EXAMPLE))
    return folder
