"""Held: capture files that were brought to a page, kept on disk while they are looked at, and read in a thread.

A file is written block by block as it comes and read block by block: memory grows with its edges and not with its
size. The book keeps the trips and the digest; the file itself stays the person's own, and goes from here when the
program ends.
"""

import atexit
import hashlib
import secrets
import shutil
import tempfile
import threading
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from holdzero.compute.capture import CaptureFindings, CaptureMap, Recorded, capture_findings, capture_map_from
from holdzero.errors import HoldzeroError, InputError
from holdzero.memory import MIB, weight
from holdzero.quantity import quoted
from holdzero.recording import ChannelsSeen, channels_of, read_recording
from holdzero.web.contained import worked_out

MOST_BYTES = 16 * 2**30  # of one file: some days of a fast analyser
MOST_HELD = 3
MOST_READ = 256 * MIB  # of what was read of them all, in memory [bytes]; the newest is kept whatever it takes
AT_ONCE_S = 0.6  # a capture that is read in so short a time shows at once


@dataclass(slots=True)
class HeldCapture:
    """One file that was brought, and what is known of it so far.

    Parameters
    ----------
    token : str
        Names it in addresses.
    machine_id : int
    name : str
        Of the file, as it was brought.
    path : Path
        Where it lies meanwhile.
    digest : str
        SHA-256 of its bytes.
    size : int
        [bytes]
    channels : ChannelsSeen
    entered : mapping
        The map as it was typed; empty: none yet.
    """

    token: str
    machine_id: int
    name: str
    path: Path
    digest: str
    size: int
    channels: ChannelsSeen
    entered: Mapping[str, Any] = field(default_factory=dict)
    read_bytes: int = 0
    recorded: Recorded | None = None
    findings: CaptureFindings | None = None
    trouble: str = ""
    taken: int = 0  # memory of what was read of it [bytes]
    _of: tuple[str, ...] = ()  # what the recording depends on
    _thread: threading.Thread | None = None

    @property
    def reading(self) -> bool:
        """Whether it is being read."""
        return self._thread is not None and self._thread.is_alive()

    @property
    def percent(self) -> int:
        """How much of it is read."""
        return min(100 * self.read_bytes // max(self.size, 1), 100)

    def read(self, entered: Mapping[str, Any]) -> None:
        """Read it with a map; returns once it is read or goes on in a thread.

        Raises
        ------
        InputError
            The map cannot be taken, or the file is being read.
        """
        channels = capture_map_from(entered)
        if self.reading:
            raise InputError(
                where=self.name, found="a file that is being read", need="one map at a time", do="wait for it"
            )
        self.entered, self.trouble, self.findings = entered, "", None
        self._thread = threading.Thread(target=self._read, args=(channels,), name="holdzero-capture", daemon=True)
        self._thread.start()
        self._thread.join(AT_ONCE_S)

    def _read(self, channels: CaptureMap) -> None:
        made = worked_out(f"the capture {self.name}", lambda: self._findings(channels))
        if isinstance(made, HoldzeroError):
            self.trouble = str(made)
        else:
            self.findings, self.taken = made, weight(made)
            _make_room(self)

    def let_go(self) -> None:
        """Keep the file and its map alone, and say so."""
        self.recorded = self.findings = None
        self.taken = 0
        self.trouble = "What was read of it made room for a newer capture: read it again."

    def _findings(self, channels: CaptureMap) -> CaptureFindings:
        rests_on = (*channels.channels, str(channels.steps), str(channels.rate_hz))
        if self.recorded is None or rests_on != self._of:
            self.read_bytes, self.recorded = 0, None
            self.recorded = read_recording(self.path, channels, where=self.name, progress=self._progress)
            self._of = rests_on
        return capture_findings(self.recorded, channels)

    def _progress(self, read: int, size: int) -> None:
        self.read_bytes = read


class Incoming:
    """A file on its way in: written and digested block by block.

    Parameters
    ----------
    machine_id : int
        Whose capture it is.
    name : str
        Of the file.
    """

    def __init__(self, machine_id: int, name: str) -> None:
        self._machine_id, self._name = machine_id, name or "capture"
        self._token = secrets.token_hex(8)
        self._path = _folder() / self._token
        self._digest, self._size = hashlib.sha256(), 0
        self._file = self._path.open("wb")

    def take(self, block: bytes) -> None:
        """Write one block.

        Raises
        ------
        InputError
            There is no room for it.
        """
        try:
            self._file.write(block)
        except OSError as error:
            self.drop()
            raise InputError(
                where=self._name,
                found=(error.strerror or str(error)).lower(),
                need="room for the file on this computer",
                do="make room, or use holdzero capture on the terminal, which reads it where it lies",
            ) from error
        self._digest.update(block)
        self._size += len(block)

    def drop(self) -> None:
        """Give up: nothing stays."""
        self._file.close()
        self._path.unlink(missing_ok=True)

    def done(self) -> HeldCapture:
        """Return the file once it is whole.

        Raises
        ------
        InputError
            It holds no capture.
        """
        self._file.close()
        try:
            seen = channels_of(self._path, where=self._name)
        except HoldzeroError:
            self.drop()
            raise
        held = HeldCapture(
            self._token, self._machine_id, self._name, self._path, self._digest.hexdigest(), self._size, seen
        )
        with _lock:
            _held[self._token] = held
            for token in [token for token, known in _held.items() if not known.reading][:-MOST_HELD]:
                _held.pop(token).path.unlink(missing_ok=True)
        return held


def _make_room(newest: HeldCapture) -> None:
    """Let go of what was read of older captures while all of it takes too much."""
    with _lock:
        older = [known for known in _held.values() if known is not newest and not known.reading]
        taken = newest.taken + sum(known.taken for known in older)
        for known in older:
            if taken > MOST_READ and known.taken:
                taken -= known.taken
                known.let_go()


_held: dict[str, HeldCapture] = {}
_lock = threading.Lock()
_made: list[Path] = []


def held_of(machine_id: int) -> tuple[HeldCapture, ...]:
    """Return the captures of a machine that are looked at, newest first."""
    with _lock:
        return tuple(held for held in reversed(_held.values()) if held.machine_id == machine_id)


def held(machine_id: int, token: str) -> HeldCapture:
    """Return one of them.

    Raises
    ------
    InputError
        It is not here any more.
    """
    capture = next((known for known in held_of(machine_id) if known.token == token), None)
    if capture is None:
        raise InputError(
            where="capture",
            found=quoted(token),
            need="a capture that is looked at",
            do="bring the file in again: only the newest are held, and none after the program ended",
        )
    return capture


def _folder() -> Path:
    with _lock:
        if not _made:
            folder = Path(tempfile.mkdtemp(prefix="holdzero-captures-"))
            _made.append(folder)
            atexit.register(shutil.rmtree, folder, ignore_errors=True)
        return _made[0]
