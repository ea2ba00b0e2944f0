"""Head: the first hundred bytes of a damaged book, written anew as every book has them.

A single bit there keeps SQLite from reading anything at all, and yet they say hardly anything that is not known.
Source of the places: SQLite documentation, "Database File Format", section 1.3.
"""

from pathlib import Path

from holdzero.store.migrate import APPLICATION_ID

PAGE_BYTES = 4096  # of every book: SQLite's own choice
HEAD_BYTES = 100
_KNOWN = {  # place: what stands there in every book
    0: b"SQLite format 3\0",
    16: PAGE_BYTES.to_bytes(2, "big"),
    20: b"\0\x40\x20\x20",
    44: (4).to_bytes(4, "big"),  # format of the list of tables
    52: bytes(4),
    56: (1).to_bytes(4, "big"),  # UTF-8
    64: bytes(4),
    72: bytes(20),
}
_LOGGED, _CHANGED, _PAGES, _OURS, _PAGES_KNOWN_AT = 18, 24, 28, 68, 92  # places of what differs between books


def mend_head(copy: Path) -> None:
    """Write the head of a copy of a book anew, and fill up its last pages where it was cut short.

    Parameters
    ----------
    copy : Path
        A file of a book of its own, whatever stands in it; changed in place. What is no book's is left alone.
    """
    with copy.open("r+b") as file:
        head = bytearray(file.read(HEAD_BYTES))
        if len(head) < HEAD_BYTES or not _may_be_ours(head):
            return
        for place, known in _KNOWN.items():
            head[place : place + len(known)] = known
        if not {*head[_LOGGED : _LOGGED + 2]} <= {1, 2}:
            head[_LOGGED : _LOGGED + 2] = b"\2\2"
        size = file.seek(0, 2)
        pages = -(-size // PAGE_BYTES)
        stated = int.from_bytes(head[_PAGES : _PAGES + 4], "big")
        if pages < stated <= 2 * pages:
            pages = stated
        head[_PAGES : _PAGES + 4] = pages.to_bytes(4, "big")
        head[_PAGES_KNOWN_AT : _PAGES_KNOWN_AT + 4] = head[_CHANGED : _CHANGED + 4]
        file.seek(0)
        file.write(head)
        file.truncate(pages * PAGE_BYTES)


def _may_be_ours(head: bytearray) -> bool:
    """Tell whether these are the first bytes of a book: by its mark, or by nearly all that every book has."""
    if int.from_bytes(head[_OURS : _OURS + 4], "big") == APPLICATION_ID:
        return True
    return all(head[place : place + len(known)] == known for place, known in _KNOWN.items())
