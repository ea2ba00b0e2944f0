"""Inner pages: where the rows of a damaged table lie, written anew from the pages that hold the rows.

A table is a tree of pages: inner ones say on which pages its rows lie, leaves hold them. One torn inner page hides
every row below it, though all that it says stands on the leaves too: which rows they hold. Leaves that no table
knows of belong to the one whose inner pages are damaged.
Source of the places: SQLite documentation, "Database File Format", sections 1.5 and 1.6.
"""

import sqlite3
from bisect import bisect
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from holdzero.store.head import HEAD_BYTES, PAGE_BYTES, mend_head

_INNER, _LEAF = 5, 13  # kinds of page of a table
_FREE = 32  # where the number of the first page of free ones stands
_MOST_BELOW = 400  # pages that one inner page names, in at most 9 bytes each
_LIST = {"sqlite_master": (1, 5)}  # the list of tables: its page and columns


@dataclass(frozen=True, slots=True)
class _Leaf:
    """A page of rows: numbers of the first and the last of them, how many columns they have."""

    page: int
    first: int
    last: int
    columns: int = 0


def mend_inner_pages(copy: Path) -> tuple[str, ...]:
    """Write the inner pages of damaged tables anew.

    Parameters
    ----------
    copy : Path
        A copy of a book whose head was mended; changed in place, and its log goes into it.

    Returns
    -------
    tuple of str
        Tables that were mended: what is missing of their rows is no longer told by SQLite.
    """
    with closing(sqlite3.connect(copy)) as damaged:  # closed by its last user, a log goes into its file
        _tables(damaged)
    mended = _mended(copy, _LIST, holds=b"CREATE ")
    with closing(sqlite3.connect(copy)) as damaged:
        tables = _tables(damaged)
    return mended + _mended(copy, tables | _LIST)


def _tables(damaged: sqlite3.Connection) -> dict[str, tuple[int, int]]:
    """Return first page and number of columns of each table, as far as they can be read."""
    tables = {}
    damaged.execute("pragma writable_schema = on")
    damaged.text_factory = lambda raw: raw.decode("utf-8", "replace")
    of = "sqlite_master m, pragma_table_info(m.name) where m.type = 'table' group by m.name"
    try:
        for name, root, columns in damaged.execute(f"select m.name, m.rootpage, count(*) from {of}"):
            tables[name] = root, columns
    except sqlite3.DatabaseError:
        pass
    return tables


def _mended(copy: Path, tables: Mapping[str, tuple[int, int]], *, holds: bytes = b"") -> tuple[str, ...]:
    """Write the inner pages of those tables anew whose inner pages are damaged. `holds`: what their leaves do."""
    raw = bytearray(copy.read_bytes())
    trees = {name: _tree(raw, root) for name, (root, _) in tables.items()}
    broken = [name for name, (_, whole) in trees.items() if not whole]
    if not broken:
        return ()
    known = {page for leaves, _ in trees.values() for page in leaves} | _free(raw)
    unclaimed = [page for page in range(2, len(raw) // PAGE_BYTES + 1) if page not in known]
    orphans = [leaf for leaf in _leaves(raw, unclaimed) if holds in _page(raw, leaf.page)]
    mended = []
    for name in broken:
        root, columns = tables[name]
        alone = len(broken) == 1  # rows of an older version have fewer columns
        new = [leaf for leaf in orphans if leaf.columns == columns or (alone and leaf.columns < columns)]
        if new:
            _write_tree(raw, root, _apart(_leaves(raw, trees[name][0]), new))
            mended.append(name)
    copy.write_bytes(raw)
    mend_head(copy)
    return tuple(mended)


def _tree(raw: bytearray, root: int) -> tuple[list[int], bool]:
    """Return the leaves below a page, and whether every inner page above them is whole."""
    leaves, whole, seen, waiting = list[int](), True, set[int](), [root]
    while waiting:
        number = waiting.pop()
        page = _page(raw, number) if number not in seen else b""
        seen.add(number)
        below = _below(page, _at(number)) if page else []
        if page[_at(number) : _at(number) + 1] == bytes([_LEAF]):
            leaves.append(number)
        whole = whole and bool(below or leaves[-1:] == [number])
        waiting += below
    return leaves, whole


def _below(page: bytes, at: int) -> list[int]:
    """Return the pages that an inner page names; none where it is no whole one."""
    if page[at] != _INNER:
        return []
    cells = [_number(page, at + 12 + 2 * i, 2) for i in range(_number(page, at + 3, 2))]
    try:
        keys = [_varint(page, cell + 4)[0] for cell in cells]
    except IndexError:
        return []
    whole = keys == sorted(set(keys))
    return [*(_number(page, cell) for cell in cells), _number(page, at + 8)] if whole else []


def _free(raw: bytearray) -> set[int]:
    """Return the pages that hold nothing any more, though it may still stand on them."""
    free, trunk = set[int](), _number(raw, _FREE)
    while (page := _page(raw, trunk)) and trunk not in free:
        free |= {trunk, *(_number(page, 8 + 4 * i) for i in range(min(_number(page, 4), PAGE_BYTES // 4 - 2)))}
        trunk = _number(page, 0)
    return free


def _leaves(raw: bytearray, numbers: Sequence[int]) -> list[_Leaf]:
    """Return what pages hold, of those that are whole pages of rows."""
    leaves = []
    for number in numbers:
        page, at = _page(raw, number), _at(number)
        if page[at] != _LEAF:
            continue
        try:
            cells = [_number(page, at + 8 + 2 * i, 2) for i in range(_number(page, at + 3, 2))]
            rows = [_varint(page, _varint(page, cell)[1]) for cell in cells]
            columns = _columns(page, rows[0][1]) if rows else 0
        except IndexError:
            continue
        keys = [row for row, _ in rows]
        if keys and keys == sorted(set(keys)):
            leaves.append(_Leaf(number, keys[0], keys[-1], columns))
    return leaves


def _apart(sure: Sequence[_Leaf], more: Sequence[_Leaf]) -> list[_Leaf]:
    """Put leaves in order; what holds rows of a number that others hold is a stale copy of theirs."""
    kept = sorted(sure, key=lambda leaf: leaf.first)
    for leaf in more:
        at = bisect(kept, leaf.first, key=lambda before: before.first)
        if (at == 0 or kept[at - 1].last < leaf.first) and (at == len(kept) or leaf.last < kept[at].first):
            kept.insert(at, leaf)
    return kept


def _write_tree(raw: bytearray, root: int, leaves: Sequence[_Leaf]) -> None:
    """Write the inner pages over leaves: new ones at the end of the file, the uppermost in its old place."""
    while len(leaves) > _MOST_BELOW:
        upper = []
        for first in range(0, len(leaves), _MOST_BELOW):
            below = leaves[first : first + _MOST_BELOW]
            raw += _inner(below, 0)
            upper.append(_Leaf(len(raw) // PAGE_BYTES, below[0].first, below[-1].last))
        leaves = upper
    start, end = (root - 1) * PAGE_BYTES + _at(root), root * PAGE_BYTES
    if len(leaves) == 1 and root > 1:  # an inner page names two at least
        raw[start:end] = _page(raw, leaves[0].page)
    else:
        raw[start:end] = _inner(leaves, _at(root))[_at(root) :]


def _inner(below: Sequence[_Leaf], at: int) -> bytes:
    """Return an inner page over others, with so many bytes left free before it."""
    page, end = bytearray(PAGE_BYTES), PAGE_BYTES
    for i, leaf in enumerate(below[:-1]):
        cell = leaf.page.to_bytes(4, "big") + _as_varint(leaf.last)
        end -= len(cell)
        page[end : end + len(cell)] = cell
        page[at + 12 + 2 * i : at + 14 + 2 * i] = end.to_bytes(2, "big")
    head = (_INNER, 0, 0, *(len(below) - 1).to_bytes(2, "big"), *end.to_bytes(2, "big"), 0)
    page[at : at + 12] = bytes(head) + below[-1].page.to_bytes(4, "big")
    return bytes(page)


def _page(raw: bytearray, number: int) -> bytes:
    """Return a page; nothing where the file ends before it does."""
    page = bytes(raw[(number - 1) * PAGE_BYTES : number * PAGE_BYTES]) if number > 0 else b""
    return page if len(page) == PAGE_BYTES else b""


def _at(number: int) -> int:
    """Return where in a page its own head begins: the first one has that of the file before."""
    return HEAD_BYTES if number == 1 else 0


def _number(page: bytes | bytearray, at: int, size: int = 4) -> int:
    return int.from_bytes(page[at : at + size], "big")


def _varint(page: bytes, at: int) -> tuple[int, int]:
    """Return a number of SQLite's variable length, and where the next begins."""
    value = 0
    for place in range(at, at + 8):
        value = value << 7 | page[place] & 0x7F
        if page[place] < 0x80:
            return value, place + 1
    return value << 8 | page[at + 8], at + 9


def _as_varint(value: int) -> bytes:
    """Return a number below 2^56 in SQLite's variable length."""
    sevens = [value & 0x7F]
    while value := value >> 7:
        sevens.insert(0, value & 0x7F | 0x80)
    return bytes(sevens)


def _columns(page: bytes, at: int) -> int:
    """Return how many columns the row has that begins there."""
    size, place = _varint(page, at)
    columns = 0
    while place < at + size:
        _, place = _varint(page, place)
        columns += 1
    return columns
