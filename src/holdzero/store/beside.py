"""Beside: what stood beside a reading in columns of its file that are kept but not used."""

import json
from collections.abc import Mapping, Sequence

import numpy as np

from holdzero.errors import InputError
from holdzero.inputs.reading.values import Homings, Words
from holdzero.quantity import quoted


def write_beside(group: Homings) -> list[str]:
    """Return what stood beside each reading as JSON; empty where nothing did."""
    return beside_rows(group.extra, group.homing.size)


def beside_rows(extra: Mapping[str, Words], n: int) -> list[str]:
    """Return the cells of so many rows as JSON; empty where nothing stood.

    Parameters
    ----------
    extra : mapping of str to ndarray of str, shape (n,)
        By heading.
    n : int
        Rows.
    """
    if not extra:
        return [""] * n
    columns = {heading: words.tolist() for heading, words in extra.items()}
    rows = ({name: cells[i] for name, cells in columns.items() if cells[i]} for i in range(n))
    return [json.dumps(row, ensure_ascii=False) if row else "" for row in rows]


def read_beside(texts: Sequence[str]) -> dict[str, Words]:
    """Return the columns that `write_beside` wrote. Each of shape (n,), empty where nothing stood."""
    rows = [cells_beside(text) for text in texts]
    headings = dict.fromkeys(heading for row in rows for heading in row)
    return {heading: np.array([row.get(heading, "") for row in rows], dtype=np.str_) for heading in headings}


def cells_beside(text: str) -> dict[str, str]:
    """Return what stood beside one reading, by heading.

    Raises
    ------
    InputError
        The text is not what `write_beside` wrote.
    """
    try:
        cells = json.loads(text) if text else {}
    except (ValueError, RecursionError):
        cells = None
    if isinstance(cells, dict) and all(isinstance(cell, str) for cell in cells.values()):
        return cells
    raise InputError(
        where="beside",
        found=quoted(text),
        need="cells by their headings, as JSON",
        do="go back to a backup, or empty it",
    )
