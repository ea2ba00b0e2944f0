"""Kept: that a record was made, in the book."""

from holdzero.case.in_book import RECORD
from holdzero.report.stored import Stored
from holdzero.store import Book, Result


def keep(book: Book, machine_id: int, stored: Stored) -> bool:
    """Keep in the book that a record was made. Returns False where the newest one kept is the same."""
    document = {"digests": dict(stored.digests), "how": stored.how.as_json(), "figures": dict(stored.figures)}
    kept = book.results(machine_id, RECORD)
    if kept and same(kept[0], stored):
        return False
    book.add_result(machine_id, kind=RECORD, digest=stored.digest, version=stored.version, document=document)
    return True


def same(kept: Result, stored: Stored) -> bool:
    """Whether a record kept in the book was made of the same inputs by the same version."""
    return (kept.digest, kept.version) == (stored.digest, stored.version)
