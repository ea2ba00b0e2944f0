"""Show: what a command prints: blocks, lines, JSON, and notes beside them.

Blocks are those of `tell`; `layout` sets them. That figures were made from an example stands in each answer.
"""

import json
import sys
from collections.abc import Mapping, Sequence
from typing import Any

import click

from holdzero.cli import layout
from holdzero.form.document import marked
from holdzero.quantity import plain
from holdzero.tell.blocks import Block

INVENTED = "holdzero.invented"  # in the context of a command: what to say of figures that are made up


def made_up(sentence: str) -> None:
    """Mark every answer of the running command as made from an example, in these words; empty: it is not."""
    context = click.get_current_context(silent=True)
    if sentence and context is not None:
        context.meta[INVENTED] = sentence


def invented() -> str:
    """Return what the running command says of figures that are made up; empty where they are not."""
    context = click.get_current_context(silent=True)
    return str(context.meta.get(INVENTED, "")) if context is not None else ""


def as_json(result: Mapping[str, Any]) -> None:
    """Print a result as JSON: strict, so a stray nan is an error of ours and not a word JSON lacks."""
    whole = marked(result, invented=bool(invented()))
    _write(json.dumps(whole, indent=2, ensure_ascii=False, allow_nan=False))


def beside(notes: Sequence[str]) -> None:
    """Tell, on standard error, what the command took for granted."""
    for note in notes:
        click.echo(note, err=True)


def page(*blocks: Block) -> None:
    """Print the blocks that have something in them; that they were made from an example stands under the first."""
    text(layout.several(blocks, width=layout.width_of()))


def text(lines: Sequence[str]) -> None:
    """Print lines; that they were made from an example stands under the first block."""
    first = next((i for i, line in enumerate(lines) if not line), len(lines))
    _write("\n".join([*lines[:first], *mark_of_example(), *lines[first:]]))


def mark_of_example() -> list[str]:
    """Return the lines that say that figures are made up; none where they are not."""
    return layout.text(invented(), layout.width_of()) if invented() else []


def _write(text: str) -> None:
    """Print; a terminal that knows no narrow space or minus sign gets plain ones."""
    encoding = sys.stdout.encoding or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        text = plain(text).encode(encoding, "replace").decode(encoding)
    click.echo(text)
