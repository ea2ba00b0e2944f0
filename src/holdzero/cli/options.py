"""Options: what several commands ask for in the same words."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from holdzero.cli.files import read_text
from holdzero.quantity import read
from holdzero.reading import Protocol, Readings, read_readings

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


def units_too(command: F) -> F:
    """Add `--units`."""
    return click.option("--units", type=click.Choice(["metric", "inch"]), default="metric", show_default=True)(
        command
    )


def read_file_of_readings(
    path: str, *, resolution: str | None, step: str | None, protocol: str | None
) -> Readings:
    """Read a readings file, or standard input for `-`, with what the options say of it."""
    text, where = read_text(path)
    return read_readings(
        text,
        where=where,
        resolution_mm=_length(resolution, "--resolution"),
        protocol=Protocol(protocol) if protocol else None,
        step_mm=_length(step, "--step"),
    )


def _length(entered: str | None, option: str) -> float | None:
    return None if entered is None else read(entered, "length", unit="mm", where=option)
