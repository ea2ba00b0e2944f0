"""`holdzero fleet`: which of many machines needs a look."""

from contextlib import nullcontext

import click

from holdzero.case.watch import WatchAsked
from holdzero.case.watch.contract import as_json
from holdzero.case.watch.fleet import FleetAsked, watch_fleet
from holdzero.case.watch.workers import watched_parts
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.drawings import pictures_too, write_pictures
from holdzero.cli.files import check_output_folder
from holdzero.cli.options import json_too, not_with, read_length, units_too
from holdzero.cli.progress import stages
from holdzero.cli.source import opened
from holdzero.errors import InputError
from holdzero.freed import keep_freed
from holdzero.inputs.log.entry import moment_of
from holdzero.quantity import System, quoted, read
from holdzero.recording.fleet import fleet_source
from holdzero.tell.watch import tell_watch


@click.command()
@click.argument("paths", metavar="PATH...", nargs=-1, required=True)
@click.option(
    "--baseline", type=click.IntRange(8), default=30, show_default=True, help="Power-ups that make a baseline."
)
@click.option(
    "--nuisance",
    metavar="SHARE",
    default="1 in 500",
    show_default=True,
    help="False alarms per homing.",
)
@click.option("--machine", metavar="FILE", help="What is asked of them: a machine file or a book.")
@click.option("--resolution", metavar="LENGTH", help="Step of the display, where the logs do not say.")
@click.option("--life", metavar="COUNT", help="Cycles a switch is rated for, e.g. 5e6.")
@click.option(
    "--table", metavar="NAME", default="log", show_default=True, help="Of a database: where the logs are."
)
@click.option("--workers", type=click.IntRange(1), help="Processes; by default one, of many rows one a core.")
@click.option("--cluster", metavar="ADDRESS", help="Address of a Dask scheduler to send the machines to.")
@click.option("--now", metavar="TIME", help="When it is asked (ISO 8601); by default the newest entry of all.")
@units_too
@pictures_too
@depth_too
@json_too
def command(
    paths: tuple[str, ...],
    baseline: int,
    nuisance: str,
    machine: str | None,
    resolution: str | None,
    life: str | None,
    table: str,
    workers: int | None,
    cluster: str | None,
    now: str | None,
    units: System,
    pictures: str | None,
    json_wanted: bool,
) -> int:
    """Which of many machines needs a look, worst first.

    PATH is a Parquet or CSV file of a log, or a folder of them, or the address of a PostgreSQL database
    (postgresql://user@host/database, the password in ~/.pgpass or PGPASSWORD); read in place, some machines at a
    time, in any order and layout. The rows are those of holdzero watch, on one core, on all of them and on a
    cluster. Exit status 1 when someone has to look.
    """
    share = read(nuisance, "share", where="--nuisance")
    if share <= 0:
        raise InputError(where="--nuisance", found=quoted(nuisance), need="a share above 0", do="write 1 in 500")
    not_with("--cluster", cluster is not None, "workers")
    if pictures is not None:
        check_output_folder(pictures, option="--pictures")
    logs = fleet_source(paths, table=table)
    with stages(("Looking for machines", 1), quiet=json_wanted):
        jobs = ("Rows by machine", sum(part.rows for part in logs.parts())), ("Machines", len(logs.machines))
    with (
        opened(machine, {"units": units}, main="machine") if machine else nullcontext() as of,
        stages(*jobs, quiet=json_wanted) as (read_rows, advance),
    ):
        asked = FleetAsked(
            now_s=logs.last_s if now is None else moment_of(now, where="--now"),
            of_axes=WatchAsked(of.case).of_axes(logs.machines) if of is not None else None,
            baseline=baseline,
            nuisance_homings=1 / share,
            resolution_mm=read_length(resolution, "--resolution", zero=True),
            life_cycles=None if life is None else read(life, "count", where="--life"),
        )
        keep_freed()  # of this process, which ends with the answer
        parts = watched_parts(logs, asked, workers=workers, cluster=cluster, reading=read_rows)
        watched = watch_fleet(parts, asked, done=advance)
    if pictures is not None:
        from holdzero.chart.fleet import fleet_picture

        write_pictures(pictures, {"fleet": fleet_picture(watched, system=units)})
    if json_wanted:
        show.as_json(as_json(watched, system=units))
    else:
        print_answer(tell_watch(watched, system=units))
    return int(watched.needs_look)
