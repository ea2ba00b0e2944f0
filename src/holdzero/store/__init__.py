"""Store: the book, one workshop's machines, sensors, trials and readings in one file."""

from holdzero.store.book import Book, NotInBook, open_book
from holdzero.store.values import (
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
    "Book",
    "Imported",
    "KeptMachine",
    "KeptReading",
    "KeptSensor",
    "NewReading",
    "NotInBook",
    "PowerUp",
    "Result",
    "Trial",
    "open_book",
]
