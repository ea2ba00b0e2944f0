"""Store: the book, one workshop's machines, sensors, trials and readings, in a file or on a server."""

from holdzero.store.book import Book, open_book
from holdzero.store.check import Health, check
from holdzero.store.file import DiskFails, NoRoom
from holdzero.store.rescue import Rescued, rescue
from holdzero.store.restored import read_archive
from holdzero.store.same_file import Elsewhere
from holdzero.store.server import NoAnswer
from holdzero.store.sound import NotInBook, Unreadable
from holdzero.store.values import (
    Act,
    Arrival,
    ArrivalKept,
    Checked,
    Imported,
    KeptEntry,
    KeptMachine,
    KeptReading,
    KeptSensor,
    LogKept,
    NewReading,
    NoiseCount,
    Outcome,
    PowerUp,
    Result,
    Trial,
)

__all__ = [
    "Act",
    "Arrival",
    "ArrivalKept",
    "Book",
    "Checked",
    "DiskFails",
    "Elsewhere",
    "Health",
    "Imported",
    "KeptEntry",
    "KeptMachine",
    "KeptReading",
    "KeptSensor",
    "LogKept",
    "NewReading",
    "NoAnswer",
    "NoRoom",
    "NoiseCount",
    "NotInBook",
    "Outcome",
    "PowerUp",
    "Rescued",
    "Result",
    "Trial",
    "Unreadable",
    "check",
    "open_book",
    "read_archive",
    "rescue",
]
