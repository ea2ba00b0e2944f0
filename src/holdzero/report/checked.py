"""Checked: what was written down about the tests of a machine, out of a book."""

from holdzero.compute.install import Entry
from holdzero.store import Book


def entries_of(book: Book, machine_id: int) -> tuple[Entry, ...]:
    """Return every entry about a machine's tests, oldest first."""
    return tuple(
        Entry(
            item=one.item,
            outcome=one.outcome.value,
            measured=one.measured,
            note=one.note,
            by=one.checked_by,
            day=one.added[:10],
        )
        for one in book.checks(machine_id)
    )
