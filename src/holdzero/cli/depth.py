"""Depth: a command answers short, all of it under `--full`, what the figures mean under `--explain`."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from holdzero.cli.layout import LINES, WIDTH, full, meaning, short, width_of
from holdzero.cli.show import mark_of_example, text
from holdzero.tell.blocks import Answer

F = TypeVar("F", bound=Callable[..., Any])
FULL, EXPLAIN = "holdzero.full", "holdzero.explain"  # in the context of a command


def depth_too(command: F) -> F:
    """Add `--full` and `--explain`."""

    def kept(context: click.Context, parameter: click.Parameter, wanted: bool) -> None:
        context.meta[f"holdzero.{parameter.name}"] = wanted

    for name, about in (
        ("explain", "Also what the figures mean and how they were worked out."),
        ("full", "Everything there is to say, not only the answer."),
    ):
        command = click.option(f"--{name}", is_flag=True, expose_value=False, callback=kept, help=about)(command)
    return command


def print_answer(answer: Answer) -> None:
    """Print what a station answers, as deep as it was asked for: at most 24 lines of 80 columns, or everything."""
    meta = click.get_current_context().meta
    width = width_of()
    if meta.get(FULL):
        lines = full(answer, width=width)
    else:
        lines = short(
            answer, width=min(width, WIDTH), lines=LINES - len(mark_of_example()), explains=not meta.get(EXPLAIN)
        )
    if meta.get(EXPLAIN):
        lines += ["", *meaning(answer, width=width)]
    text(lines)
