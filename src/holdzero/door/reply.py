"""Reply: what Python gets for a question: the headline and one table printed, everything else by name."""

import json
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from holdzero.chart import PRINT, Picture
from holdzero.errors import InputError, MissingExtra
from holdzero.form import did_you_mean
from holdzero.form.document import marked

if TYPE_CHECKING:
    from pandas import DataFrame

MOST_LINES = 12
MOST_ROWS_ON_A_PAGE = 20
WIDTH = 100
_WORD = 34  # characters of a cell that are printed

Row = dict[str, Any]
Tables = Mapping[str, tuple[Callable[[Mapping[str, Any]], Iterable[Row]], tuple[str, ...]]]


class Svg(str):
    """A picture as SVG text, which a notebook shows."""

    __slots__ = ()

    def _repr_svg_(self) -> str:
        return str(self)

    def save(self, path: str | Path) -> Path:
        """Write it to a file; returns its path."""
        target = Path(path)
        target.write_text(self, encoding="utf-8")
        return target


class Reply:
    """An answer.

    Parameters
    ----------
    headline : str
        The answer in a sentence or two.
    document : mapping
        Everything, in the shape of the contract: what the command of the same name prints with `--json`.
    tables : mapping
        By name, the first is the main one: the function that takes its rows out of the document, and the
        columns that are printed.
    result : object
        The values it was made from.
    pictures : callable
        Makes the pictures by name, the first is the main one.
    invented : str
        What to say of figures that are made up; empty: they are a machine's own.
    to_do : str
        The one thing to do next; may be empty.
    notes : sequence of str
        What was taken for granted on the way.
    """

    def __init__(
        self,
        headline: str,
        *,
        document: Mapping[str, Any],
        tables: Tables,
        result: Any,
        pictures: Callable[[], Mapping[str, Picture]] = dict,
        invented: str = "",
        to_do: str = "",
        notes: Sequence[str] = (),
    ) -> None:
        self.headline, self.next, self.result, self.invented = headline, to_do, result, invented
        self.notes = tuple(notes)
        self._text = json.dumps(marked(document, invented=bool(invented)), ensure_ascii=False, allow_nan=False)
        self._tables, self._make_pictures = tables, pictures

    # what it holds

    def to_dict(self) -> dict[str, Any]:
        """Return everything, in the shape of the contract: as the command prints it with --json."""
        document: dict[str, Any] = json.loads(self._text)
        return document

    @cached_property
    def cautions(self) -> tuple[str, ...]:
        """What to know before trusting the figures, each once."""
        return tuple(dict.fromkeys(_cautions(self.to_dict())))

    @property
    def tables(self) -> tuple[str, ...]:
        """Names of its tables; the first is the one printed."""
        return tuple(self._tables)

    def rows(self, table: str = "") -> list[Row]:
        """Return one table as a list of rows; each name carries its unit.

        Raises
        ------
        InputError
            It has no table of that name.
        """
        take, _ = self._tables[_known(table or self.tables[0], self.tables, "table")]
        return [dict(_flat(row)) for row in take(self.to_dict())]

    def of(self, name: str, **beside: str) -> Row:
        """Return one row of the main table, by the name of its candidate, axis, circuit or machine.

        Parameters
        ----------
        name : str
            In the first column.
        beside : str
            Further columns that tell it apart, e.g. side="L".

        Raises
        ------
        InputError
            No such row, or several.
        """
        rows = self.rows()
        first = next(iter(rows[0])) if rows else "name"
        _known(name, list(dict.fromkeys(str(row[first]) for row in rows)), first)
        fitting = [
            row
            for row in rows
            if row[first] == name and all(str(row.get(key)) == str(value) for key, value in beside.items())
        ]
        if len(fitting) != 1:
            words = [key for key, value in rows[0].items() if isinstance(value, str) and key != first][:3]
            raise InputError(
                where=name,
                found=f"{len(fitting)} rows" if fitting else "no row that fits",
                need="one",
                do=f"say more of it, by {' or '.join(words)}",
            )
        return fitting[0]

    def to_frame(self, table: str = "") -> "DataFrame":
        """Return one table, by default the main one, as a pandas frame.

        Raises
        ------
        MissingExtra
            pandas is not installed.
        """
        try:
            import pandas  # only who asks for a frame waits for it
        except ImportError as missing:
            raise MissingExtra(
                where="to_frame", extra="notebook", package="pandas", instead="take rows(), a list of dicts"
            ) from missing
        return pandas.DataFrame(self.rows(table))

    @cached_property
    def _pictures(self) -> Mapping[str, Picture]:
        return self._make_pictures()

    @property
    def pictures(self) -> tuple[str, ...]:
        """Names of its pictures; the first is the one a notebook shows."""
        return tuple(self._pictures)

    def picture(self, name: str = "") -> Svg:
        """Return a picture, by default the main one, as SVG.

        Raises
        ------
        InputError
            There is none, or none of that name.
        """
        if not self._pictures:
            raise InputError(
                where="picture", found="no picture", need="an answer that has one", do="see rows() or to_dict()"
            )
        return Svg(self._pictures[_known(name or self.pictures[0], self.pictures, "picture")].svg(PRINT))

    # how it is shown

    def __repr__(self) -> str:
        head = textwrap.wrap(self.headline, WIDTH, max_lines=3, placeholder=" …")
        if self.next:
            head.append(textwrap.shorten(f"Next: {self.next}", WIDTH, placeholder=" …"))
        if self.invented:
            head.append(textwrap.shorten(self.invented, WIDTH, placeholder=" …"))
        count = len(self.cautions)
        foot = [f"{count} caution{'' if count == 1 else 's'}: .cautions"] if count else []
        columns, rows = self._shown()
        room = MOST_LINES - len(head) - len(foot) - 1
        if len(rows) > room:
            foot.insert(0, f"… {len(rows) - room + 1} more rows: .rows(), .to_frame()")
            rows = rows[: room - 1]
        return "\n".join([*head, *_aligned(columns, rows), *foot])

    def _repr_html_(self) -> str:
        columns, rows = self._shown()
        cells = "".join(
            f"<tr>{''.join(f'<td>{escape(cell)}</td>' for cell in row)}</tr>" for row in rows[:MOST_ROWS_ON_A_PAGE]
        )
        left_out = len(rows) - MOST_ROWS_ON_A_PAGE
        more = f"<p>{left_out} more rows: .to_frame()</p>" if left_out > 0 else ""
        headings = "".join(f"<th>{escape(column)}</th>" for column in columns)
        table = f"<table><thead><tr>{headings}</tr></thead><tbody>{cells}</tbody></table>" if rows else ""
        paragraphs = [f"<p><b>{escape(self.headline)}</b></p>"]
        paragraphs += [f"<p>Next: {escape(self.next)}</p>"] if self.next else []
        paragraphs += [f"<p>{escape(self.invented)}</p>"] if self.invented else []
        picture = f'<div style="max-width:45rem">{self.picture()}</div>' if self._pictures else ""
        about = "".join(f"<li>{escape(caution)}</li>" for caution in self.cautions)
        cautions = f"<details><summary>Before trusting it</summary><ul>{about}</ul></details>" if about else ""
        return f"<div>{''.join(paragraphs)}{table}{more}{picture}{cautions}</div>"

    def _shown(self) -> tuple[list[str], list[list[str]]]:
        """Headings and cells of the main table that are printed; columns without anything are left out."""
        _, columns = self._tables[self.tables[0]]
        rows = self.rows()
        full = [column for column in columns if any(row.get(column) not in (None, "") for row in rows)]
        return full, [[_printed(row.get(column)) for column in full] for row in rows]


def _known(name: str, names: Sequence[str], part: str) -> str:
    if name not in names:
        raise InputError(
            where=part,
            found=f"{name!r}{did_you_mean(name, names)}",
            need=f"one of {', '.join(names) or 'none'}",
            do=f"name a {part} it has",
        )
    return name


def _cautions(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, inner in value.items():
            if key == "cautions" and isinstance(inner, list):
                yield from (caution["text"] for caution in inner if isinstance(caution, dict))
            else:
                yield from _cautions(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _cautions(inner)


def _flat(row: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """Yield the figures and words of a row; those of a table inside it with its name before theirs."""
    for name, value in row.items():
        if isinstance(value, dict) and not before:
            yield from _flat(value, f"{name}_")
        elif not isinstance(value, dict | list):
            yield f"{before}{name}", value


def _printed(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4g}"
    return textwrap.shorten(str(value), _WORD, placeholder="…") if isinstance(value, str) else str(value)


def _aligned(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    if not rows:
        return []
    lines = [columns, *rows]
    widths = [max(len(line[place]) for line in lines) for place in range(len(columns))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip() for line in lines
    ]
