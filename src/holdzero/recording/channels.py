"""Channels: what a capture file has on offer, before anyone has said which channel is which."""

import csv
from dataclasses import dataclass
from itertools import islice
from pathlib import Path

from holdzero.recording.definitions import Variable, read_definitions
from holdzero.recording.source import Source
from holdzero.recording.table import first_line, roles_of_columns

MOST = 200  # channels that are listed
_LOOKED_AT = 16  # blocks of a list of changes in which its channels are sought
_WIDEST = 64  # bits of a bus whose bits are listed
_NO_LEVEL = frozenset({"real", "realtime", "string", "parameter", "event"})


@dataclass(frozen=True, slots=True)
class ChannelsSeen:
    """Channels of a file by the names a map may use.

    Parameters
    ----------
    kind : str
        "VCD" or "CSV".
    names : tuple of str
        In the order of the file, at most `MOST`; of several names of one wire the first.
    timed : bool
        Whether the file says when each change was; without, the map needs a rate.
    """

    kind: str
    names: tuple[str, ...]
    timed: bool


def channels_of(path: Path, *, where: str = "") -> ChannelsSeen:
    """Return the channels of a capture file; only its head is read.

    Parameters
    ----------
    path : Path
        VCD or CSV, packed with gzip or not.
    where : str, default ""
        What to call the file in messages.

    Raises
    ------
    InputError
        No such file, or none that holds a capture; names byte and line.
    """
    source = Source(path, where=where)
    if source.is_vcd:
        definitions = read_definitions(source)
        return ChannelsSeen("VCD", _of_dump(definitions.variables), definitions.tick_s is not None)
    return _of_table(source)


def _of_dump(variables: tuple[Variable, ...]) -> tuple[str, ...]:
    codes_of: dict[str, set[bytes]] = {}
    for variable in variables:
        codes_of.setdefault(variable.name, set()).add(variable.code)
    names: list[str] = []
    known: set[bytes] = set()
    for variable in variables:
        if variable.kind in _NO_LEVEL or variable.code in known or len(names) >= MOST:
            continue
        known.add(variable.code)
        name = variable.name if len(codes_of[variable.name]) == 1 else variable.whole
        if variable.size == 1:
            names.append(name)
        elif variable.size <= _WIDEST:
            step = 1 if variable.right >= variable.left else -1
            names += [f"{name}[{bit}]" for bit in range(variable.left, variable.right + step, step)]
    return tuple(names[:MOST])


def _of_table(source: Source) -> ChannelsSeen:
    line, begins, _, start = first_line(source)
    delimiter = max((b",", b";", b"\t"), key=line.count)
    words = line.decode("utf-8", "replace").rstrip("\r")
    try:
        names = [name.strip() for name in next(csv.reader([words], delimiter=delimiter.decode()), [])]
    except csv.Error:  # a line end inside a heading, or a heading without end
        raise source.wrong(
            byte=begins,
            at_fault="headings that cannot be read",
            need="one line of headings",
            do="write the table anew",
        ) from None
    columns = roles_of_columns(names)
    if columns.channel < 0 or columns.level < 0:
        levels = tuple(name for i, name in enumerate(names) if i != columns.clock and name)
        return ChannelsSeen("CSV", levels[:MOST], columns.timed)
    seen: dict[str, None] = {}
    text = b"".join(islice(source.blocks(), _LOOKED_AT))[start:]
    for row in text[: text.rfind(b"\n") + 1].split(b"\n"):
        cells = row.split(delimiter)
        if len(cells) == len(names):
            seen.setdefault(cells[columns.channel].decode("utf-8", "replace").strip(' "\r'))
    return ChannelsSeen("CSV", tuple(filter(None, seen))[:MOST], columns.timed)
