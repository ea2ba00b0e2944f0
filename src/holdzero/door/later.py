"""Later: whether the machine still homes where it did, and hundreds of homings from a logic analyser's file."""

from contextlib import nullcontext
from dataclasses import replace
from datetime import datetime
from os import PathLike
from pathlib import Path
from typing import Any

from holdzero.case.watch import LogWatched, WatchAsked, contract, watch_log
from holdzero.case.watch.of_case import watched_case
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
    baseline: int | None = None,
    nuisance: str | None = None,
    resolution: str | float | None = None,
    life: str | None = None,
    now: datetime | str | None = None,
    units: System | None = None,
    name: str | None = None,
) -> Reply:
    """Say whether the machine still homes where it did: by the log in a book, or by logs as files and columns.

    Parameters
    ----------
    logs : path, str, mapping or frame
        One book; or logs of check homings, as files, texts or named columns (`time`, `deviation_mm`, ...); several
        are one log.
    machine : path, str, dict, what `holdzero.machine` returns, or a book, optional
        What is asked of it; without it no share outside and no day on which it is lost. A book has it.
    baseline : int, optional
        Power-ups that make a baseline: at least 8; by default 30, or as the book says.
    nuisance : str, optional
        False alarms that a machine may have, per homing; by default 1 in 500, or as the book says.
    resolution : str, optional
        Step of the display, where the log does not say, with its unit.
    life : str, optional
        Cycles a switch is rated for.
    now : datetime or str, optional
        When it is asked; by default at the last entry, of a book by the clock.
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
    if baseline is not None and baseline < 8:
        raise InputError(where="baseline", found=str(baseline), need="at least 8 power-ups", do="write 30")
    share = None if nuisance is None else nuisance_of(nuisance)
    now_s = None if now is None else moment_s_of(now)
    if any(book_path(log) is not None for log in logs):
        beside = {"machine": machine, "resolution": resolution, "life": life}
        in_the_way = [key for key, value in beside.items() if value is not None]
        if len(logs) > 1 or in_the_way:
            raise InputError(
                where="watch",
                found=f"a book beside {in_the_way[0] if in_the_way else 'another source'}",
                need="one book alone: it has its log and its machine",
                do="leave the rest out; name= picks one of its machines",
            )
        return _of_book(logs[0], name, baseline=baseline, share=share, now_s=now_s, units=units)
    brought = [readings_of(log, may_lack=True) for log in logs]
    system = system_of(units)
    of_machine = nullcontext() if machine is None else case_of(machine, beside={"machine": name, "units": units})
    with of_machine as case:
        watched = watch_log(
            read_log([(part.text, part.where) for part in brought]),
            asked=None if case is None else WatchAsked(case),
            baseline=baseline or 30,
            nuisance_homings=1 / (share or 1 / 500),
            now_s=now_s,
            resolution_mm=length_mm(resolution, "resolution", zero=True),
            life_cycles=None if life is None else read(life, "count", where="life"),
        )
        return _reply(watched, system=system, invented="" if case is None else case.invented)


def _of_book(
    book: Any,
    name: str | None,
    *,
    baseline: int | None,
    share: float | None,
    now_s: float | None,
    units: System | None,
) -> Reply:
    with case_of(book, beside={"machine": name, "units": units}) as case:
        kept = case.basis.watching
        settings = replace(kept, baseline=baseline or kept.baseline, nuisance=share or kept.nuisance)
        watched = watched_case(case, case.basis.today, settings=settings, now_s=now_s)
        if watched is None:
            raise InputError(
                where=str(book_path(book)),
                found="no check homing in its log",
                need="a log of check homings",
                do="log one: holdzero log, or the page Watch",
            )
        return _reply(watched, system=case.system, invented=case.invented)


def _reply(watched: LogWatched, *, system: System, invented: str) -> Reply:
    alarms = ((row, alarm) for row in watched.rows for alarm in row.watched.alarms if alarm.open)
    return Reply(
        headline(watched),
        document=contract.as_json(watched, system=system),
        tables=tables.WATCH,
        result=watched,
        invented=invented,
        to_do=next((sentence(row, alarm, system=system) for row, alarm in alarms), ""),
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
