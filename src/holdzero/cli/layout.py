"""Layout: blocks as lines of a terminal, wrapped at words and never through a figure.

A figure and its unit stay together (they are joined by a narrow space, which is no place to break at), and no
cell is ever cut: text that does not fit goes on in the next line of its own column.
"""

import shutil
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import zip_longest
from textwrap import wrap

import click

from holdzero.chart import Picture
from holdzero.tell.blocks import Answer, Blanks, Block, Boxes, Facts, Note, Pictures, Points, Section, Table
from holdzero.tell.words import count_of, mark_of

WIDTH, LINES = 80, 24
GAP = "  "
LEAST = 9  # columns of a cell that is wrapped
INKS = {"✓": "green", "✗": "red", "■": "red", "≈": "yellow", "△": "yellow"}


def width_of() -> int:
    """Columns there are: of the terminal, at most 120; where the answer goes elsewhere, 80."""
    return min(shutil.get_terminal_size().columns, 120) if sys.stdout.isatty() else WIDTH


def short(answer: Answer, *, width: int, lines: int, explains: bool = True) -> list[str]:
    """Return the answer alone: headline, why, what to do, one table, cautions; what does not fit is counted.

    Parameters
    ----------
    answer : Answer
        What there is to say.
    width, lines : int
        Columns and lines there are.
    explains : bool
        Whether to name the way to what the figures mean.
    """
    top = [*strong(answer.headline, width)]
    for paragraph in answer.lead:
        top += text(paragraph, width)
    foot = _foot(answer, explains=explains)
    warned = [line for caution in answer.before for line in text(f"▲ {caution}", width, hanging=2)]
    shown = answer.table and replace(answer.table, rows=answer.table.rows[:lines])  # no more have room
    table = _set(shown, width) if shown else []
    blocks = [top, warned]
    steps = [text(f"– {step}", width, hanging=2) for step in answer.to_do.items[:lines]]
    room = lines - sum(len(block) + 1 for block in (top, warned, foot) if block) + 1
    if steps:
        title = strong(answer.to_do.title or "What to do", width)
        free = room - len(title) - 1
        for_table = sum(map(len, table)) + 1 if table else 0
        least = len(steps[0]) + (len(steps) > 1)
        clipped = _clipped(steps, max(free - for_table, least), "point", of=len(answer.to_do.items))
        blocks.append([*title, *clipped])
        room -= len(blocks[-1]) + 1
    if answer.table:
        head, *body = table
        room = max(room - 1 - len(head), 1)
        blocks.append([*head, *_clipped(body, room, "row", of=len(answer.table.rows))])
    blocks.append(foot)
    return _apart(blocks)


def full(answer: Answer, *, width: int) -> list[str]:
    """Return everything there is to say."""
    blocks = [[*strong(answer.headline, width), *(line for part in answer.lead for line in text(part, width))]]
    blocks.append([line for caution in answer.before for line in text(f"▲ {caution}", width, hanging=2)])
    if answer.to_do.items:
        blocks.append(
            [
                *strong(answer.to_do.title or "What to do", width),
                *(line for step in answer.to_do.items for line in text(f"– {step}", width, hanging=2)),
            ]
        )
    if answer.table:
        blocks.append(_table(answer.table, width))
    for section in answer.more:
        blocks += _section(section, width)
    return _apart(blocks)


def meaning(answer: Answer, *, width: int) -> list[str]:
    """Return what the figures mean."""
    return _apart([block for section in answer.explained for block in _section(section, width)])


def several(blocks: Sequence[Block], *, width: int) -> list[str]:
    """Return blocks one below the other, those left out that have nothing in them."""
    return _apart([_block(block, width) for block in blocks if not _empty(block)])


def _empty(block: Block) -> bool:
    if isinstance(block, Table | Facts):
        return not block.rows
    return not (block.items if isinstance(block, Points) else block)


def strong(line: str, width: int) -> list[str]:
    """Return a line that stands out where the terminal can show it."""
    return [click.style(part, bold=True) for part in text(line, width)]


def text(paragraph: str, width: int, *, hanging: int = 0) -> list[str]:
    """Return a paragraph as lines."""
    return wrap(paragraph, width, subsequent_indent=" " * hanging, break_long_words=False, break_on_hyphens=False)


def _foot(answer: Answer, *, explains: bool) -> list[str]:
    more = ["everything else: --full"] if answer.more else []
    more += ["what the figures mean: --explain"] if answer.explained and explains else []
    hint = "; ".join(more)
    return [click.style(hint[:1].upper() + hint[1:] + ".", dim=True)] if more else []


def _clipped(steps: Sequence[list[str]], room: int, thing: str, *, of: int) -> list[str]:
    """As many of so many as there is room for; the others are counted."""
    kept: list[str] = []
    for number, step in enumerate(steps):
        left = of - number - 1
        if len(kept) + len(step) + (left > 0) > room and number:
            return [*kept, f"  … {count_of(left + 1, f'more {thing}')}: --full"]
        kept += step
    return kept


def _apart(blocks: Sequence[Sequence[str]]) -> list[str]:
    """Set blocks with a line between them."""
    lines: list[str] = []
    for block in filter(None, blocks):
        lines += ["", *block] if lines else block
    return lines


def _section(section: Section, width: int) -> Iterator[list[str]]:
    yield strong(section.heading, width)
    for block in section.blocks:
        yield _block(block, width)
    for below in section.sections:
        yield from _section(below, width)


def _block(block: Block, width: int) -> list[str]:
    match block:
        case str():
            return text(block, width)
        case Note():
            return text(f"▲ {block.text}", width, hanging=2)
        case Points():
            title = strong(block.title, width) if block.title else []
            return title + [line for item in block.items for line in text(f"– {item}", width, hanging=2)]
        case Facts():
            return [line for row in _set(Table("", ("", ""), block.rows, align="lw"), width)[1:] for line in row]
        case Table():
            return _table(block, width)
        case Boxes() | Blanks() | Picture() | Pictures():  # for paper and pages
            return []


def _table(table: Table, width: int) -> list[str]:
    return [*text(table.caption, width), *(line for row in _set(table, width) for line in row)]


def _set(table: Table, width: int) -> list[list[str]]:
    """Return the lines of each row, the head first."""
    widths = _widths(table, width)
    rows = []
    for number, cells in enumerate((table.head, *table.rows)):
        columns = [text(cell, size) or [""] for cell, size in zip(cells, widths, strict=True)]
        lines = []
        for parts in zip_longest(*columns, fillvalue=""):
            set_cells = [
                part.rjust(size) if letter == "r" else part.ljust(size)
                for part, size, letter in zip(parts, widths, table.columns, strict=True)
            ]
            plain = GAP.join(set_cells).rstrip()
            lines.append(click.style(plain, dim=True) if number == 0 else _inked(plain, cells))
        rows.append(lines)
    return rows


def _widths(table: Table, width: int) -> list[int]:
    """Share the columns out: words give way to figures, the widest first."""
    lines = (table.head, *table.rows)
    count = len(table.head)
    widths = [max(len(line[i]) for line in lines) for i in range(count)]
    longest = [max((len(word) for line in lines for word in line[i].split(" ")), default=0) for i in range(count)]
    figures = [max((len(row[i]) for row in table.rows), default=0) for i in range(count)]
    heads = list(widths)  # first the heads of figures are wrapped, then words, at last the figures at a space
    for i in range(count):
        if table.columns[i] == "r":
            heads[i] = min(widths[i], max(figures[i], *map(len, table.head[i].split(" "))))
    words = [heads[i] if table.columns[i] == "r" else min(widths[i], max(longest[i], LEAST)) for i in range(count)]
    for floor in (heads, words, longest):
        while sum(widths) + len(GAP) * (count - 1) > width:
            slack = [(widths[i], i) for i in range(count) if widths[i] > floor[i]]
            if not slack:
                break
            widths[max(slack)[1]] -= 1
    return widths


def _inked(line: str, cells: Sequence[str]) -> str:
    """Colour a row by the mark in it; the word beside the mark says the same."""
    ink = next((INKS[mark] for mark in map(mark_of, cells) if mark in INKS), None)
    return click.style(line, fg=ink) if ink else line
