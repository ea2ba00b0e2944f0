"""`holdzero import`: a table of readings, as people have it, into a book."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from holdzero.cli import show
from holdzero.cli.book_name import BookName, Named
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.options import json_too, only_with, read_length
from holdzero.cli.progress import at_work
from holdzero.cli.source import mark_example, mark_machine
from holdzero.errors import InputError
from holdzero.files import STDIN, read_bytes
from holdzero.inputs.importing import GridPlan, Preview, TakenReadings, preview, read_grid, take
from holdzero.inputs.importing.choice import MEANINGS
from holdzero.inputs.importing.preview import FIRST_ROWS
from holdzero.inputs.importing.readings_file import is_readings_file, is_spans_file, take_file
from holdzero.inputs.reading import Protocol
from holdzero.store import Book, KeptMachine, open_book
from holdzero.tell.acts import came_in
from holdzero.tell.importing import tell_import


@click.command("import")
@click.argument("table", type=click.Path(path_type=Path))
@click.option("--book", type=BookName(), help="Where the readings go; without it they are only shown.")
@click.option("--machine", metavar="NAME", help="Machine of the book; needed where it has several.")
@click.option(
    "--trial", metavar="NAME", help="Trial they join or begin; by default a new one named after the file."
)
@click.option("--sheet", default="", metavar="NAME", help="Sheet of a workbook.")
@click.option(
    "--column", multiple=True, metavar="N=MEANING", help=f"What column N is: {', '.join(MEANINGS)}, or none."
)
@click.option("--unit", metavar="UNIT", help="Of the readings: mm, um, in, thou or steps.")
@click.option("--resolution", metavar="LENGTH", help="Step of the display. A bare number is mm.")
@click.option("--step", metavar="LENGTH", help="Way of one step, for readings in steps.")
@click.option("--protocol", type=click.Choice([str(way) for way in Protocol]))
@click.option("--sensor", default="", help="For readings that do not say.")
@click.option("--axis", default="", help="For readings that do not say.")
@click.option("--side", default="", type=click.Choice(["", "L", "R"]), help="For readings that do not say.")
@click.option("--again", is_flag=True, help="Keep them although they came in before.")
@depth_too
@json_too
def command(
    table: Path,
    book: Named | None,
    machine: str | None,
    trial: str | None,
    sheet: str,
    column: tuple[str, ...],
    unit: str | None,
    resolution: str | None,
    step: str | None,
    protocol: str | None,
    sensor: str,
    axis: str,
    side: str,
    again: bool,
    json_wanted: bool,
) -> None:
    """Show what the columns of TABLE seem to be, and keep its readings in a book.

    TABLE is CSV, semicolons or tabs, decimal points or commas, one reading a line, or a workbook (XLSX); - is
    standard input.
    """
    only_with("--book", book, "machine", "trial", "again")
    with at_work("Reading the table", quiet=json_wanted):
        content, where = read_bytes(str(table))
        name = where if str(table) == STDIN else table.name
        spans = is_spans_file(content, name) and not (column or unit or sheet)
        named = is_readings_file(content) and not (column or unit)
        most = FIRST_ROWS if named else None
        seen = None if spans else preview(read_grid(content, name=name, sheet=sheet, most=most))
        choice = replace(
            GridPlan(columns={}) if seen is None else _chosen(seen, column, unit),
            sensor=sensor,
            axis=axis,
            side=side,
            resolution_mm=read_length(resolution, "--resolution", zero=True),
            step_mm=read_length(step, "--step", zero=False),
            protocol=Protocol(protocol) if protocol else None,
        )
        taken = take_file(content, name, choice) if named or seen is None else take(seen.grid, choice)
    mark_example(taken.readings.example)
    if book is None:
        if json_wanted:
            show.as_json(_figures(seen, choice, taken) | {"kept": None})
            return
        came = f"{taken.words}. Nothing is kept: name a book with --book."
        print_answer(tell_import(seen, choice, taken, came=came))
        return
    with open_book(book, create=False) as opened:
        of = _machine(opened, machine)
        mark_machine(of)
        wanted = trial or ("standard input" if str(table) == STDIN else table.stem)
        with at_work("Keeping the readings", quiet=json_wanted), opened.together():  # all of it, or nothing
            trial_id = next((trial.id for trial in opened.trials(of.id) if trial.name == wanted), None)
            if trial_id is None:
                trial_id = opened.add_trial(of.id, name=wanted, axis=axis)
            before = opened.came_before(trial_id, taken.readings)
            if before and not again:
                raise InputError(
                    where=name,
                    found=f"readings that came in before, on {before.added[:10]}",
                    need="readings that are new",
                    do="leave them out, or give --again to keep them all the same",
                )
            done = opened.import_readings(trial_id, taken.readings, name=name, again=again)
        if json_wanted:
            into = {
                "machine": of.machine.name,
                "trial": wanted,
                "readings_n": done.readings,
                "spans_n": done.spans,
            }
            show.as_json(_figures(seen, choice, taken) | {"kept": into})
            return
        came = came_in(done.readings, done.spans, trial=wanted)
        print_answer(tell_import(seen, choice, taken, came=came))


def _figures(seen: Preview | None, choice: GridPlan, taken: TakenReadings) -> dict[str, Any]:
    """Return what the table was taken for; `kept` comes beside it: where it went, or null."""
    return {
        "readings_n": taken.n,
        "spans_n": sum(int(group.n.size) for group in taken.readings.spans),
        "columns": [
            {
                "column": column.index + 1,
                "heading": column.heading,
                "taken_as": (meaning := choice.columns.get(column.index)),
                "unit": choice.units.get(meaning or "") or None,
                "why": column.why,
            }
            for column in (seen.columns if seen else ())
        ],
        "left_out": [{"line": row.line, "text": row.words, "why": row.why} for row in taken.left_out],
        "notes": [*(seen.notes if seen else ()), *taken.notes],
    }


def _chosen(seen: Preview, column: tuple[str, ...], unit: str | None) -> GridPlan:
    columns = dict(seen.choice.columns)
    for words in column:
        number, _, meaning = words.partition("=")
        if (
            not number.isdecimal()
            or not 1 <= int(number) <= len(seen.columns)
            or meaning not in (*MEANINGS, "none")
        ):
            raise InputError(
                where="--column",
                found=words,
                need=f"a number from 1 to {len(seen.columns)}, = and one of {', '.join(MEANINGS)}, none",
                do="write it like --column 3=deviation",
            )
        columns = {i: m for i, m in columns.items() if m != meaning and i != int(number) - 1}
        if meaning != "none":
            columns[int(number) - 1] = meaning
    units = dict(seen.choice.units) | ({"deviation": unit} if unit else {})
    return replace(seen.choice, columns=columns, units=units, across=seen.choice.across if not column else "")


def _machine(book: Book, name: str | None) -> KeptMachine:
    machines = book.machines()
    matching = [machine for machine in machines if name is None or machine.machine.name == name]
    if len(matching) == 1:
        return matching[0]
    names = ", ".join(machine.machine.name for machine in machines) or "none"
    raise InputError(
        where="--machine",
        found=name or f"{len(machines)} machines",
        need=f"one of: {names}",
        do="name it with --machine",
    )
