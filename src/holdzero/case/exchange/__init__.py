"""Exchange: a machine's files into a book, and a book back into files."""

from holdzero.case.exchange.bring import bring
from holdzero.case.exchange.folder import InFolder, in_folder
from holdzero.case.exchange.kinds import FileUnread, ReadFile, recognised
from holdzero.case.exchange.values import PartBrought
from holdzero.case.exchange.written import LeftBehind, files_of, left_behind, write_folder

__all__ = [
    "FileUnread",
    "InFolder",
    "LeftBehind",
    "PartBrought",
    "ReadFile",
    "bring",
    "files_of",
    "in_folder",
    "left_behind",
    "recognised",
    "write_folder",
]
