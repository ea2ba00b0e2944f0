"""Options: what several commands ask for in the same words."""

import re
from collections.abc import Callable, Iterator
from typing import Any, TypeVar

import click

from holdzero.cli import kept
from holdzero.cli.show import beside
from holdzero.compute.findings.values import MissesElsewhere
from holdzero.errors import InputError
from holdzero.files import read_readings_text
from holdzero.inputs.reading import Protocol, Readings, read_readings
from holdzero.quantity import quoted, read

F = TypeVar("F", bound=Callable[..., Any])


def how_read(command: F) -> F:
    """Add what a readings file may leave unsaid: resolution, step and protocol."""
    for option in (
        click.option(
            "--protocol",
            type=click.Choice([str(way) for way in Protocol]),
            help="How the readings were taken, where the file does not say (outside if neither does).",
        ),
        click.option(
            "--step", metavar="LENGTH", help="Way of one step, for deviation_steps without a column step_mm."
        ),
        click.option(
            "--resolution",
            metavar="LENGTH",
            help="Step of the display, where the file does not say; e.g. 0.001 mm, 0.5 thou. A bare number is mm.",
        ),
    ):
        command = option(command)
    return command


def json_too(command: F) -> F:
    """Add `--json`."""
    return click.option("--json", "json_wanted", is_flag=True, help="Print the figures as JSON.")(command)


def only_with(partner: str, value: object, *names: str) -> None:
    """Refuse options (named as parameters) that do nothing without another, which is `value` or not."""
    for option in _options_on_the_line(names) if not value else ():
        raise InputError(
            where=option,
            found=f"no {partner}",
            need=f"{partner} beside it",
            do=f"add {partner}, or leave {option} out",
        )


def not_with(partner: str, value: object, *names: str) -> None:
    """Refuse options (named as parameters) that do nothing beside another, which is `value` or not."""
    for option in _options_on_the_line(names) if value else ():
        raise InputError(
            where=option, found=f"{partner} beside it", need="one of the two", do="leave one of them out"
        )


def _options_on_the_line(names: tuple[str, ...]) -> Iterator[str]:
    context = click.get_current_context()
    for parameter in context.command.params:
        source = context.get_parameter_source(parameter.name or "")
        if parameter.name in names and source is click.core.ParameterSource.COMMANDLINE:
            yield max(parameter.opts, key=len)


def misses_too(command: F) -> F:
    """Add `--misses`."""
    return click.option(
        "--misses",
        multiple=True,
        metavar="TEXT",
        help='Gross misses counted elsewhere, e.g. "K: 1 in 700 watch log"; once for each count.',
    )(command)


_COUNTED = re.compile(r"(?P<sensor>.+?)\s*:\s*(?P<count>\d+)\s*(?:in|of|/)\s*(?P<n>\d+)\b[\s,]*(?P<source>.*)")


def counted_elsewhere(entered: tuple[str, ...]) -> tuple[MissesElsewhere, ...]:
    """Read what `--misses` says."""
    misses_elsewhere = []
    for text in entered:
        match = _COUNTED.fullmatch(text.strip())
        if match is None or int(match["count"]) > int(match["n"]):
            raise InputError(
                where="--misses",
                found=repr(text),
                need="a sensor and how many of how many homings",
                do='write for instance "K: 1 in 700 watch log"',
            )
        misses_elsewhere.append(
            MissesElsewhere(
                sensor=match["sensor"],
                count=int(match["count"]),
                n=int(match["n"]),
                source=match["source"].strip(),
            )
        )
    return tuple(misses_elsewhere)


def machine_of_book(command: F) -> F:
    """Add `--machine` for a command that needs no machine file."""
    return click.option("--machine", metavar="NAME", help="Of a book: which machine, by name.")(command)


def units_too(command: F) -> F:
    """Add `--units`."""
    return click.option(
        "--units",
        type=click.Choice(kept.UNITS),
        default=kept.units,
        show_default="metric, or what holdzero where says",
    )(command)


def read_file_of_readings(
    path: str, *, resolution: str | None, step: str | None, protocol: str | None
) -> Readings:
    """Read a readings file, a workbook, or standard input for `-`, with what the options say of it."""
    text, where, notes = read_readings_text(path)
    beside(notes)
    return read_readings(
        text,
        where=where,
        resolution_mm=read_length(resolution, "--resolution", zero=True),
        protocol=Protocol(protocol) if protocol else None,
        step_mm=read_length(step, "--step", zero=False),
    )


def read_length(entered: str | None, option: str, *, zero: bool) -> float | None:
    """Read an option that holds a length above zero, or `zero`; a bare number is mm. [mm]"""
    if entered is None:
        return None
    value = read(entered, "length", unit="mm", where=option)
    if value < 0 or not (value or zero):
        need = "a length of zero or more" if zero else "a length above zero"
        raise InputError(
            where=option, found=quoted(entered), need=need, do="write it without a sign, like 0.01 mm"
        )
    return value
