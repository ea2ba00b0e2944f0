"""Many: which of many machines needs a look."""

from contextlib import nullcontext
from datetime import datetime
from os import PathLike, fspath
from typing import Any

from holdzero.case.watch import WatchAsked, contract
from holdzero.case.watch.fleet import FleetAsked, watch_fleet
from holdzero.case.watch.words import headline, to_do
from holdzero.case.watch.workers import watched_parts
from holdzero.chart.fleet import fleet_picture
from holdzero.door import tables
from holdzero.door.brought import length_mm
from holdzero.door.case_of import case_of, system_of
from holdzero.door.later import moment_s_of, nuisance_of
from holdzero.door.reply import Reply
from holdzero.errors import InputError
from holdzero.quantity import System, read
from holdzero.recording.fleet import fleet_source


def fleet(
    *paths: str | PathLike[str],
    machine: Any = None,
    table: str = "log",
    baseline: int = 30,
    nuisance: str = "1 in 500",
    resolution: str | float | None = None,
    life: str | None = None,
    now: datetime | str | None = None,
    workers: int = 1,
    cluster: str | None = None,
    units: System | None = None,
    name: str | None = None,
) -> Reply:
    """Say which of many machines needs a look.

    Parameters
    ----------
    paths : path or str
        Logs as Parquet or CSV files, or folders of them; or the address of one PostgreSQL database, without its
        password.
    machine : path, str, dict, what `holdzero.machine` returns, or a book, optional
        What is asked of them; without it no share outside and no day on which it is lost.
    table : str
        Of a database: where the logs are.
    baseline : int
        Power-ups that make a baseline: at least 8.
    nuisance : str
        False alarms that a machine may have, per homing.
    resolution : str, optional
        Step of the display, where the logs do not say, with its unit.
    life : str, optional
        Cycles a switch is rated for.
    now : datetime or str, optional
        When it is asked; by default at the newest entry of all.
    workers : int
        Processes; more than one only in a program whose start stands under ``if __name__ == "__main__":``.
    cluster : str, optional
        Address of a Dask scheduler to send the machines to.
    units : {"metric", "inch"}, optional
        Units in sentences.
    name : str, optional
        Of a book: which machine.

    Returns
    -------
    Reply
        A row a machine, axis and side, worst first; table "alarms"; picture "fleet", a small chart a machine.
    """
    if not paths:
        raise InputError(where="fleet", found="no log", need="logs of many machines", do="give files or a folder")
    if baseline < 8:
        raise InputError(where="baseline", found=str(baseline), need="at least 8 power-ups", do="write 30")
    system = system_of(units)
    source = fleet_source([str(fspath(path)) for path in paths], table=table)
    of_machine = nullcontext() if machine is None else case_of(machine, beside={"machine": name, "units": units})
    with of_machine as case:
        asked = FleetAsked(
            now_s=source.last_s if now is None else moment_s_of(now),
            of_axes=None if case is None else WatchAsked(case).of_axes(source.machines),
            baseline=baseline,
            nuisance_homings=1 / nuisance_of(nuisance),
            resolution_mm=length_mm(resolution, "resolution", zero=True),
            life_cycles=None if life is None else read(life, "count", where="life"),
        )
        watched = watch_fleet(watched_parts(source, asked, workers=workers, cluster=cluster), asked)
        charted = (row for row in watched.rows if row.logged.charted)
        return Reply(
            headline(watched),
            document=contract.as_json(watched, system=system),
            tables=tables.WATCH,
            result=watched,
            pictures=lambda: {"fleet": fleet_picture(watched, system=system)},
            invented="" if case is None else case.invented,
            to_do=next((text for row in charted for text in to_do(row, system=system)), ""),
            notes=watched.notes,
        )
