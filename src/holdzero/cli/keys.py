"""`holdzero keys`: what a file or a form may say."""

import click

from holdzero import __version__
from holdzero.cli import show
from holdzero.cli.options import json_too
from holdzero.report.key_reference import HEAD, key_groups
from holdzero.tell.blocks import Block, Table


@click.command()
@click.argument("word", required=False, default="")
@json_too
def command(word: str, json_wanted: bool) -> int:
    """Every key of machine, sensors, wiring and squaring files and capture maps: unit, sign, meaning, example.

    With a WORD only the keys that have it in their name or meaning, or all below a heading that has it, e.g.
    holdzero keys delay
    """
    groups = key_groups(word)
    if json_wanted:
        show.as_json({"version": __version__, "groups": [group.as_json() for group in groups]})
        return 0
    blocks: list[Block] = []
    for group in groups:
        caption = f"{group.file}, {group.title}{f', below {group.table}' if group.table else ''}"
        rows = tuple(row.cells for row in group.rows)
        blocks.append(Table(caption, HEAD, rows, align="w" * len(HEAD)))
    show.page(*blocks)
    return 0
