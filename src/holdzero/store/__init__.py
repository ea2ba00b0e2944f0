"""Store: the book, one workshop's machines, sensors, trials and readings in one file."""

from holdzero.store.archive import read_archive
from holdzero.store.book import Book, NotInBook, open_book
from holdzero.store.check import Health, check
from holdzero.store.rescue import Rescued, rescue
from holdzero.store.values import (
    Arrival,
    Imported,
    KeptMachine,
    KeptReading,
    KeptSensor,
    NewReading,
    PowerUp,
    Result,
    Trial,
)

__all__ = [
    "Arrival",
    "Book",
    "Health",
    "Imported",
    "KeptMachine",
    "KeptReading",
    "KeptSensor",
    "NewReading",
    "NotInBook",
    "PowerUp",
    "Rescued",
    "Result",
    "Trial",
    "check",
    "open_book",
    "read_archive",
    "rescue",
]
