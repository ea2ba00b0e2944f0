"""Later: whether the machine still homes where it did, and hundreds of homings from a logic analyser's file."""

from contextlib import nullcontext
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import Any

from holdzero.case.watch import WatchAsked, contract, watch_log
from holdzero.case.watch.words import headline, sentence
from holdzero.compute.capture import (
    CaptureFindings,
    capture_as_json,
    capture_findings,
    read_capture_map,
    readings_csv,
    trip_rows,
)
from holdzero.door import tables, words
from holdzero.door.brought import Brought, length_mm, toml_of
from holdzero.door.case_of import book_path, case_of, system_of
from holdzero.door.readings import readings_of
from holdzero.door.reply import Reply
from holdzero.errors import InputError
from holdzero.inputs.log import read_log
from holdzero.quantity import System, quoted, read
from holdzero.recording import digest, read_recording


def watch(
    *logs: Any,
    machine: Any = None,
    baseline: int = 30,
    nuisance: str = "1 in 500",
    resolution: str | float | None = None,
    life: str | None = None,
    now: datetime | str | None = None,
    units: System | None = None,
    name: str | None = None,
) -> Reply:
    """Say whether the machine still homes where it did.

    Parameters
    ----------
    logs : path, str, mapping or frame
        Logs of check homings, as files, texts or named columns (`time`, `deviation_mm`, ...); several are one log.
    machine : path, str, dict, what `holdzero.machine` returns, or a book, optional
        What is asked of it; without it no share outside and no day on which it is lost.
    baseline : int
        Power-ups that make a baseline: at least 8.
    nuisance : str
        False alarms that a machine may have, per homing.
    resolution : str, optional
        Step of the display, where the log does not say, with its unit.
    life : str, optional
        Cycles a switch is rated for.
    now : datetime or str, optional
        When it is asked; by default at the last entry.
    units : {"metric", "inch"}, optional
        Units in sentences.
    name : str, optional
        Of a book: which machine.

    Returns
    -------
    Reply
        A row a machine, axis and side, worst first; table "alarms".
    """
    if not logs:
        raise InputError(
            where="watch", found="no log", need="a log of check homings", do="give its path or columns"
        )
    if baseline < 8:
        raise InputError(where="baseline", found=str(baseline), need="at least 8 power-ups", do="write 30")
    for log in logs:
        if book_path(log) is not None:
            raise InputError(
                where="watch",
                found="a book",
                need="a log of check homings",
                do="give the log, and the book as machine",
            )
    brought = [readings_of(log, may_lack=True) for log in logs]
    share = nuisance_of(nuisance)
    system = system_of(units)
    of_machine = nullcontext() if machine is None else case_of(machine, beside={"machine": name, "units": units})
    with of_machine as case:
        watched = watch_log(
            read_log([(part.text, part.where) for part in brought]),
            asked=None if case is None else WatchAsked(case),
            baseline=baseline,
            nuisance_homings=1 / share,
            now_s=None if now is None else moment_s_of(now),
            resolution_mm=length_mm(resolution, "resolution", zero=True),
            life_cycles=None if life is None else read(life, "count", where="life"),
        )
        first = next(
            (
                sentence(row, alarm, system=system)
                for row in watched.rows
                for alarm in row.watched.alarms
                if alarm.open
            ),
            "",
        )
        return Reply(
            headline(watched),
            document=contract.as_json(watched, system=system),
            tables=tables.WATCH,
            result=watched,
            invented="" if case is None else case.invented,
            to_do=first,
            notes=watched.notes,
        )


def nuisance_of(nuisance: str) -> float:
    """Read how many false alarms there may be, per homing. [-]"""
    share = read(nuisance, "share", where="nuisance")
    if share <= 0:
        raise InputError(where="nuisance", found=quoted(nuisance), need="a share above 0", do="write 1 in 500")
    return share


def moment_s_of(now: datetime | str) -> float:
    """Seconds since 1970-01-01T00:00Z of a time that is given. [s]"""
    if isinstance(now, datetime):
        return now.timestamp()
    try:
        return datetime.fromisoformat(now).timestamp()
    except ValueError:
        raise InputError(
            where="now", found=quoted(now), need="a time as in ISO 8601", do="write it like 2026-03-07T09:01"
        ) from None


class CaptureReply(Reply):
    """An answer whose trips can be taken on as readings."""

    def __init__(self, findings: CaptureFindings, file: Path, system: System) -> None:
        self._findings, self._file = findings, file
        super().__init__(
            words.of_capture(findings, system=system),
            document=capture_as_json(findings),
            tables=tables.CAPTURE,
            result=findings,
            notes=findings.recorded.notes,
        )

    def readings(self, *, sensor: str = "", axis: str = "", side: str = "", all_speeds: bool = False) -> Brought:
        """Return the trips as readings of one power-up, to hand to `holdzero.study` or `holdzero.choose`."""
        rows = trip_rows(self._findings, all_speeds=all_speeds)
        text = readings_csv(rows, sensor=sensor, axis=axis, side=side, digest=digest(self._file))
        return Brought(text, f"trips of {self._file.name}")


def capture(file: str | PathLike[str], *, channels: Any, units: System | None = None) -> CaptureReply:
    """Read hundreds of homings from a logic analyser's file.

    Parameters
    ----------
    file : path
        VCD or CSV, packed with gzip or not.
    channels : path, str or dict
        Which channel is which.
    units : {"metric", "inch"}, optional
        Units in sentences.

    Returns
    -------
    CaptureReply
        A row a switch; tables "events" and "speeds". Places are counted from the start of the file, plus towards
        the switch. [mm]
    """
    brought, path = toml_of(channels, "capture map"), Path(file)
    mapped = read_capture_map(brought.text, where=brought.where)
    return CaptureReply(
        capture_findings(read_recording(path, mapped, where=str(path)), mapped), path, system_of(units)
    )
