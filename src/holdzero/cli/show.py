"""Show: how results look on a terminal.

Rich tables where a person looks, plain aligned text where it is piped. A page is a few blocks, most
important first; a command says what is in them, this module how they are set.
"""

import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import click

from holdzero.cli.layout import INKS
from holdzero.form.document import marked
from holdzero.quantity import plain
from holdzero.tell.words import mark_of

INVENTED = "holdzero.invented"  # in the context of a command: what to say of figures that are made up


@dataclass(frozen=True, slots=True)
class Columns:
    """Rows under a head; `left` names the columns that are words, the others are figures."""

    head: tuple[str, ...]
    rows: Sequence[tuple[str, ...]]
    left: tuple[int, ...] = (0,)


@dataclass(frozen=True, slots=True)
class Titled:
    """A title with a few sentences under it."""

    title: str
    sentences: Sequence[str]


Block = str | Columns | Titled


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
    full = [block for block in blocks if not _empty(block)]
    full[1:1] = filter(None, [invented()])
    if sys.stdout.isatty():
        _rich(full)
    else:
        _write("\n\n".join(_plain(block) for block in full))


def text(lines: Sequence[str]) -> None:
    """Print lines; that they were made from an example stands under the first block."""
    sentence = invented()
    first = next((i for i, line in enumerate(lines) if not line), len(lines)) if sentence else 0
    marked = [*lines[:first], sentence, *lines[first:]] if sentence else lines
    _write("\n".join(marked))


def _empty(block: Block) -> bool:
    return not (block if isinstance(block, str) else block.rows if isinstance(block, Columns) else block.sentences)


def _write(text: str) -> None:
    """Print; a terminal that knows no narrow space or minus sign gets plain ones."""
    encoding = sys.stdout.encoding or "utf-8"
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        text = plain(text).encode(encoding, "replace").decode(encoding)
    click.echo(text)


def _plain(block: Block) -> str:
    if isinstance(block, str):
        return block
    if isinstance(block, Titled):
        return "\n".join([block.title, *(f"  {sentence}" for sentence in block.sentences)])
    lines = (block.head, *block.rows)
    widths = [max(len(line[i]) for line in lines) for i in range(len(block.head))]
    return "\n".join(
        "  ".join(
            cell.ljust(width) if i in block.left else cell.rjust(width)
            for i, (cell, width) in enumerate(zip(line, widths, strict=True))
        ).rstrip()
        for line in lines
    )


def _rich(blocks: Sequence[Block]) -> None:
    import rich.table
    from rich.console import Console
    from rich.padding import Padding
    from rich.text import Text

    console = Console(highlight=False)
    for i, block in enumerate(blocks):
        if isinstance(block, str):
            console.print(Text(block, style="bold" if i == 0 else ""))
        elif isinstance(block, Titled):
            console.print(Text(block.title, style="bold"))
            for sentence in block.sentences:
                console.print(Padding(Text(sentence), (0, 0, 0, 2)))
        elif len(_plain(block).partition("\n")[0]) > console.width:
            console.print(Text(_plain(block)), soft_wrap=True)  # a figure cut short would be another figure
        else:
            table = rich.table.Table(box=None, header_style="dim", pad_edge=False, padding=(0, 2, 0, 0))
            for column, name in enumerate(block.head):
                table.add_column(name, justify="left" if column in block.left else "right", no_wrap=True)
            for row in block.rows:
                table.add_row(*(Text(cell, style=_style(cell)) for cell in row))
            console.print(table)
        console.print()


def _style(cell: str) -> str:
    return INKS.get(mark_of(cell), "")
