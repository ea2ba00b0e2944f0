"""`holdzero watch`: does the machine still home where it did?"""

import textwrap
from contextlib import nullcontext
from datetime import datetime

import click

from holdzero.case.watch import LogWatched, SideWatched, WatchAsked, watch_log
from holdzero.case.watch.contract import as_json
from holdzero.case.watch.words import headline, sentence
from holdzero.cli import show
from holdzero.cli.files import read_text
from holdzero.cli.options import json_too, read_length, units_too
from holdzero.cli.source import is_book, opened
from holdzero.errors import InputError
from holdzero.inputs.log import read_log
from holdzero.quantity import System, quoted, read, show_share, show_signed

WIDTH = 80
MOST_ROWS = 9
MOST_NOTES = 2


@click.command()
@click.argument("sources", metavar="LOG...", nargs=-1, required=True)
@click.option(
    "--baseline",
    type=click.IntRange(8),
    default=30,
    show_default=True,
    help="Power-ups that make a baseline, from the start or the last event on.",
)
@click.option(
    "--nuisance",
    metavar="SHARE",
    default="1 in 500",
    show_default=True,
    help="False alarms that a machine may have, per homing.",
)
@click.option("--machine", metavar="FILE", help="What is asked of it: a machine file (TOML) or a book.")
@click.option("--resolution", metavar="LENGTH", help="Step of the display, where the log does not say.")
@click.option("--life", metavar="COUNT", help="Cycles a switch is rated for, e.g. 5e6.")
@click.option("--now", metavar="TIME", help="When it is asked (ISO 8601); by default at the last entry.")
@units_too
@json_too
def command(
    sources: tuple[str, ...],
    baseline: int,
    nuisance: str,
    machine: str | None,
    resolution: str | None,
    life: str | None,
    now: str | None,
    units: System,
    json_wanted: bool,
) -> int:
    """Whether the machine still homes where it did.

    LOG is a CSV file of check homings, or - for standard input; several are read as one. Exit status 1 when an
    alarm is open, or what is asked may be lost within 30 days.
    """
    for source in sources:
        if is_book(source):
            raise InputError(
                where=source, found="a book", need="a log of check homings (CSV)", do="name the file of the log"
            )
    log = read_log([read_text(source) for source in sources])
    share = read(nuisance, "share", where="--nuisance")
    if share <= 0:
        raise InputError(where="--nuisance", found=quoted(nuisance), need="a share above 0", do="write 1 in 500")
    with opened(machine, {"units": units}, main="machine") if machine else nullcontext() as of:
        watched = watch_log(
            log,
            asked=WatchAsked(of.case) if of is not None else None,
            baseline=baseline,
            nuisance_homings=1 / share,
            now_s=None if now is None else _moment_s(now),
            resolution_mm=read_length(resolution, "--resolution", zero=True),
            life_cycles=None if life is None else read(life, "count", where="--life"),
        )
        if json_wanted:
            show.as_json(as_json(watched, system=units))
        else:
            show.page(*blocks(watched, system=units))
    return int(watched.needs_look)


def _moment_s(word: str) -> float:
    try:
        return datetime.fromisoformat(word).timestamp()
    except ValueError:
        raise InputError(
            where="--now", found=quoted(word), need="a time as in ISO 8601", do="write it like 2026-03-07T09:01"
        ) from None


def blocks(watched: LogWatched, *, system: System = "metric") -> list[show.Block]:
    """What a person sees: the answer, one table, where the open alarms began, then notes on the log."""
    head = ("machine", "axis", "side", "n", "state", "off by", "outside", "lost on")
    rows = [_line(row, system) for row in watched.rows[:MOST_ROWS]]
    left_out = len(watched.rows) - len(rows)
    more = f"{left_out} more rows: --json has them all." if left_out else ""
    return [
        textwrap.fill(headline(watched), WIDTH),
        show.Table(head, rows, left=(0, 1, 2, 4, 7)),
        more,
        _alarm(watched, system),
        show.Points(
            "Notes on the log", [textwrap.shorten(note, WIDTH - 2) for note in watched.notes[:MOST_NOTES]]
        ),
    ]


def _line(row: SideWatched, system: System) -> tuple[str, ...]:
    own, lost = row.watched, row.lost_on
    return (
        _cut(row.logged.machine, 9),
        _cut(row.logged.axis, 4),
        "R − L" if row.logged.side == "difference" else row.logged.side or "-",
        str(own.n),
        own.state,
        "–" if own.level_mm is None else show_signed(own.level_mm, "length", system=system, digits=2),
        "–" if row.share_outside is None else show_share(row.share_outside),
        "–" if lost is None or lost[0] is None else f"{lost[0]}",
    )


def _cut(name: str, most: int) -> str:
    return name if 0 < len(name) <= most else f"{name[: most - 1]}…" if name else "-"


def _alarm(watched: LogWatched, system: System) -> str:
    for row in watched.rows:
        alarms = [alarm for alarm in row.watched.alarms if alarm.open]
        if alarms:
            return textwrap.fill(sentence(row, alarms[0], system=system), WIDTH)
    return ""
