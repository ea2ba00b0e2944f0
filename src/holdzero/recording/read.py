"""Read: a capture file becomes what was recorded on the channels of a map."""

import hashlib
from pathlib import Path

from holdzero.compute.capture import CaptureMap, Counting, Recorded
from holdzero.errors import InputError
from holdzero.recording.definitions import read_definitions
from holdzero.recording.dump import Dump
from holdzero.recording.source import Progress, Source
from holdzero.recording.table import read_table


def read_recording(
    path: Path, channels: CaptureMap, *, where: str = "", progress: Progress | None = None
) -> Recorded:
    """Read a capture, VCD or CSV, packed with gzip or not.

    Parameters
    ----------
    path : Path
        The file. It is read once, in blocks; what is kept grows with the edges and not with the file.
    channels : CaptureMap
        Which channels matter.
    where : str, default ""
        What to call the file in messages.
    progress : callable, optional
        Called with the bytes read so far and those of the whole file.

    Returns
    -------
    Recorded
        `cut_off` where the file ends in the middle: then it holds what was whole.

    Raises
    ------
    InputError
        No such file or channel, or something no capture may hold; names byte and line.
    """
    source = Source(path, where=where)
    if not source.is_vcd:
        return read_table(source, channels, progress=progress)
    definitions = read_definitions(source)
    wires = definitions.wires(channels.channels, where=source.where)
    tick_s, notes = definitions.tick_s, list(channels.notes)
    if tick_s is None and channels.rate_hz is None:
        raise InputError(
            where=source.where,
            found="no $timescale in the head of the file",
            need="the length of a tick",
            do='write rate = "1 MHz" (ticks a second) in the map',
        )
    if tick_s is None and channels.rate_hz is not None:
        tick_s = 1 / channels.rate_hz
    elif channels.rate_hz is not None:
        notes.append("The rate of the map is not used: the file has a time scale of its own.")
    dump, counting = Dump(source, definitions, wires), Counting(channels)
    for tick, role, level in dump.changes(progress):
        counting.feed(tick, role, level)
    return counting.done(
        tick_s=tick_s or 1.0, last_tick=dump.last_tick, cut_off=dump.cut_off, notes=[*notes, *dump.notes]
    )


def digest(path: Path) -> str:
    """SHA-256 of the file as it lies there."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
