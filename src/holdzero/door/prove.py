"""Prove: how the machine stands, and the record to print, sign and keep with it."""

import warnings
from datetime import date
from pathlib import Path
from typing import Any

from holdzero.case import Case
from holdzero.case.contract import record_json, standing_json
from holdzero.chart import Picture
from holdzero.chart.machine import machine_picture
from holdzero.chart.of_choice import choice_pictures
from holdzero.door import tables
from holdzero.door.case_of import book_path, case_of
from holdzero.door.reply import Reply
from holdzero.errors import InputError
from holdzero.quantity import System
from holdzero.report.content import RecordContent
from holdzero.report.printed import write_printed
from holdzero.report.whole import record_of


def standing(
    machine: Any,
    *,
    readings: Any = None,
    sensors: Any = None,
    sensor: str | None = None,
    axis: str | None = None,
    wiring: Any = None,
    square: Any = None,
    checklist: Any = None,
    resolution: str | float | None = None,
    step: str | float | None = None,
    protocol: str | None = None,
    units: System | None = None,
    name: str | None = None,
) -> Reply:
    """Say whether the machine holds zero, whether it stops in time, and what is next.

    Two questions, never mixed; what was not looked at is not known. A home or limit switch is not, by itself, a
    safety function.

    Parameters
    ----------
    machine : path, str, dict, what `holdzero.machine` returns, or a book
        A book needs nothing else, or `name` where it has several machines.
    readings, sensors : optional
        The trial and the candidates, as for `holdzero.choose`.
    sensor, axis : str, optional
        The candidate and the axis meant, by name.
    wiring, square, checklist : path, str or dict, optional
        The circuits, how square the gantry was measured, and what came of the tests.
    resolution, step, protocol, units
        As for `holdzero.study`.
    name : str, optional
        Of a book: which machine.

    Returns
    -------
    Reply
        A row a part and axis, each "good", "not good" or "not known", with its sentence.
    """
    beside = {
        "readings": readings,
        "sensors": sensors,
        "sensor": sensor,
        "axis": axis,
        "wiring": wiring,
        "square": square,
        "checklist": checklist,
        "resolution": resolution,
        "step": step,
        "protocol": protocol,
        "units": units,
        "machine": name,
    }
    with case_of(machine, beside=beside) as case:
        whole, of_machine, system = case.standings.machine, case.machine, case.system
        return Reply(
            whole.headline,
            document=standing_json(case),
            tables=tables.STANDING,
            result=case.standings,
            pictures=lambda: {"machine": machine_picture(of_machine, system=system)},
            invented=case.invented,
            to_do=whole.next,
        )


class RecordReply(Reply):
    """An answer that can be printed and signed."""

    def __init__(self, content: RecordContent, case: Case) -> None:
        chosen, studied, known, system = case.chosen, case.study, case.machine, case.system

        def pictures() -> dict[str, Picture]:
            return choice_pictures(chosen, studied, known, system=system)

        whole = case.standings.machine
        super().__init__(
            whole.headline,
            document=record_json(case),
            tables=tables.RECORD,
            result=content,
            pictures=pictures,
            invented=case.invented,
            to_do=whole.next,
        )

    def write(self, path: str | Path) -> Path:
        """Write the record; the same inputs give the same bytes. Returns its path.

        Where the PDF part is not installed a page with the same name is written, and a warning says so.

        Parameters
        ----------
        path : str or Path
            A name that ends in .pdf or .html.

        Raises
        ------
        InputError
            Another ending, or the file cannot be written.
        """
        if Path(path).suffix.lower() not in (".pdf", ".html"):
            raise InputError(
                where="path",
                found=str(path),
                need="a name that ends in .pdf or .html",
                do="give the file such a name",
            )
        target, note = write_printed(path, self.result)
        if note:
            warnings.warn(note, stacklevel=2)
        return target


def record(
    readings: Any,
    *,
    machine: Any = None,
    sensors: Any = None,
    axis: str | None = None,
    wiring: Any = None,
    square: Any = None,
    checklist: Any = None,
    day: date | None = None,
    resolution: str | float | None = None,
    step: str | float | None = None,
    protocol: str | None = None,
    units: System | None = None,
) -> RecordReply:
    """Put the record of a machine together: everything known of it. Nothing is written or kept before `write`.

    Parameters
    ----------
    readings : path, str, mapping, frame or book
        As for `holdzero.choose`; a book needs nothing else.
    machine, sensors, axis, wiring
        As for `holdzero.choose`.
    square, checklist : path, str or dict, optional
        How square the gantry was measured, and what came of the tests.
    day : date, optional
        Of the record; by default that of the last reading, if the readings have times.
    resolution, step, protocol, units
        As for `holdzero.study`.
    """
    beside = {
        "machine": machine,
        "sensors": sensors,
        "axis": axis,
        "wiring": wiring,
        "square": square,
        "checklist": checklist,
        "day": day,
        "resolution": resolution,
        "step": step,
        "protocol": protocol,
        "units": units,
    }
    if book_path(readings) is None and (machine is None or sensors is None):
        lacks = "machine" if machine is None else "sensors"
        raise InputError(
            where=lacks,
            found="nothing, and readings that are no book",
            need=lacks,
            do=f"add {lacks}=..., or give a book",
        )
    with case_of(readings, main="readings", beside=beside) as case:
        return RecordReply(record_of(case), case)
