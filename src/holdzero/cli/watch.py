"""`holdzero watch`: does the machine still home where it did?"""

from contextlib import nullcontext
from dataclasses import replace

import click

from holdzero.case.standing.due import due_tests
from holdzero.case.watch import WatchAsked, watch_log
from holdzero.case.watch.contract import as_json
from holdzero.case.watch.of_case import watched_case
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.files import read_text
from holdzero.cli.options import json_too, not_with, read_length, units_too
from holdzero.cli.source import holds_all, mark_example, opened
from holdzero.errors import InputError
from holdzero.inputs.log import read_log
from holdzero.inputs.log.entry import moment_of
from holdzero.quantity import System, quoted, read
from holdzero.tell.watch import NOTHING_LOGGED, tell_watch

NOTHING: dict[str, object] = {"machines": [], "notes": [NOTHING_LOGGED]}


@click.command()
@click.argument("sources", metavar="BOOK|LOG...", nargs=-1, required=True)
@click.option(
    "--baseline",
    type=click.IntRange(8),
    help="Power-ups that make a baseline, from the start or last event on; by default 30, or as the book says.",
)
@click.option(
    "--nuisance",
    metavar="SHARE",
    help="False alarms that a machine may have, per homing; by default 1 in 500, or as the book says.",
)
@click.option(
    "--machine",
    metavar="FILE",
    help="What is asked of it: a machine file (TOML) or a book; of a BOOK: which machine, by name.",
)
@click.option("--resolution", metavar="LENGTH", help="Step of the display, where the log does not say.")
@click.option("--life", metavar="COUNT", help="Cycles a switch is rated for, e.g. 5e6.")
@click.option(
    "--now", metavar="TIME", help="When it is asked (ISO 8601); by default the last entry, of a BOOK the clock."
)
@units_too
@depth_too
@json_too
def command(
    sources: tuple[str, ...],
    baseline: int | None,
    nuisance: str | None,
    machine: str | None,
    resolution: str | None,
    life: str | None,
    now: str | None,
    units: System,
    json_wanted: bool,
) -> int:
    """Whether the machine still homes where it did.

    BOOK holds a log that pages, programs and holdzero log keep. LOG is a CSV file of check homings, or - for
    standard input; several are read as one. Exit status 1 when an alarm is open, what is asked is surely not kept
    or may be lost within 30 days, or a test is due.
    """
    share = None if nuisance is None else read(nuisance, "share", where="--nuisance")
    if share is not None and share <= 0:
        raise InputError(where="--nuisance", found=quoted(nuisance), need="a share above 0", do="write 1 in 500")
    now_s = None if now is None else moment_of(now, where="--now")
    in_books = [holds_all(source) for source in sources]
    if any(in_books):
        not_with("BOOK", True, "resolution", "life")
        if len(sources) > 1:
            raise InputError(
                where=sources[0],
                found=f"{len(sources)} sources",
                need="one book, or logs",
                do="name one book alone",
            )
        return _of_book(
            sources[0],
            machine,
            baseline=baseline,
            share=share,
            now_s=now_s,
            units=units,
            json_wanted=json_wanted,
        )
    log = read_log([read_text(source) for source in sources])
    mark_example(log.example)
    with opened(machine, {"units": units}, main="machine") if machine else nullcontext() as of:
        watched = watch_log(
            log,
            asked=WatchAsked(of.case) if of is not None else None,
            baseline=baseline or 30,
            nuisance_homings=1 / (share or 1 / 500),
            now_s=now_s,
            resolution_mm=read_length(resolution, "--resolution", zero=True),
            life_cycles=None if life is None else read(life, "count", where="--life"),
        )
        if json_wanted:
            show.as_json(as_json(watched, system=units))
        else:
            print_answer(tell_watch(watched, system=units))
    return int(watched.needs_look)


def _of_book(
    path: str,
    machine: str | None,
    *,
    baseline: int | None,
    share: float | None,
    now_s: float | None,
    units: System,
    json_wanted: bool,
) -> int:
    with opened(path, {"units": units, "machine": machine}) as of:
        case = of.case
        kept = case.basis.watching
        settings = replace(kept, baseline=baseline or kept.baseline, nuisance=share or kept.nuisance)
        watched = watched_case(case, case.basis.today, settings=settings, now_s=now_s)
        due = due_tests(case, today=case.basis.today)
        needs_look = bool(due) or (watched is not None and watched.needs_look)
        if json_wanted:
            rows = as_json(watched, system=case.system) if watched else NOTHING
            tests = {"tests_due": [test.as_json() for test in due]}
            show.as_json(rows | tests | {"needs_look": needs_look})
        else:
            print_answer(tell_watch(watched, due=due, system=case.system))
    return int(needs_look)
