"""Table: files with the same headings, and what is asked of them in SQL."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.inputs.log.columns import form_of
from holdzero.inputs.log.entry import NUMBERS, WORDS
from holdzero.inputs.reading.cells import Cells, Column
from holdzero.inputs.reading.columns import ColumnLayout, layout
from holdzero.quantity import KINDS, LARGEST

SAID = ("event", "acknowledged", "failed")  # words that make a row an entry of its own
NUMERIC = ("DOUBLE", "DECIMAL", "TINYINT", "SMALLINT", "INTEGER", "BIGINT", "HUGEINT", "UINTEGER", "UBIGINT")
NO_TIME = -(2**63)
_KINDS = {name: kind for name, (kind, _) in NUMBERS.items()}
_LENGTHS = (10, 16, 19, 23, 26)


@dataclass(frozen=True, slots=True)
class FleetTable:
    """Files with the same headings of the same types.

    Parameters
    ----------
    source : str
        Where DuckDB reads them.
    kinds : tuple of (str, str)
        Heading and type of each column.
    plain : bool
        Whether each column can be taken as it stands, in the unit of its heading.
    machine : str
        The name of the machine of a row, as it is written, empty where it names none; by default that of its file.
    columns : tuple of (str, str)
        What a column is, and how it is had in canonical units; empty where one has to be read cell by cell.
    time_cell : str
        The column of times as it stands; empty where there is none.
    not_told : tuple of str
        Headings beside the machine, which is told first.
    notes : tuple of str
    """

    source: str
    kinds: tuple[tuple[str, str], ...]
    plain: bool
    columns: tuple[tuple[str, str], ...]
    machine: str
    time_cell: str
    not_told: tuple[str, ...]
    notes: tuple[str, ...]

    def of(self, name: str) -> str | None:
        """How a column is had; None where there is none."""
        return dict(self.columns).get(name)

    @property
    def anything_said(self) -> str:
        """Whether a row is an entry besides its reading; empty where none can be."""
        words = [f"{column} <> ''" for name in SAID if (column := self.of(name))]
        trips, hours, cycles = self.of("false_trips"), self.of("hours"), self.of("cycles")
        if trips and hours:
            words.append(f"({hours} > 0 and not isnan({trips}))")
        if cycles:
            words.append(
                f"(not isnan({cycles}) and {self.no_reading} and ({self.machine} = '' or {self.axis} = ''))"
            )
        return " or ".join(words)

    @property
    def axis(self) -> str:
        """The name of the axis of a row."""
        return self.of("axis") or "''"

    @property
    def side(self) -> str:
        """The side of a row, as it is written."""
        return self.of("side") or "''"

    @property
    def one_form(self) -> int | None:
        """The form of all times, where their type says it."""
        form = self.of("form") or ""
        return int(form) if form.isdigit() else None

    @property
    def no_reading(self) -> str:
        """Whether a row has no reading."""
        return " and ".join(
            f"isnan({column})" for name in ("deviation", "left", "right") if (column := self.of(name))
        )

    @property
    def nothing(self) -> str:
        """Whether a row has a time and nothing else."""
        words = [f"{column} = ''" for name in (*SAID, "note", "condition") if (column := self.of(name))]
        counts = ("cycles", "false_trips", "hours", "temperature")
        words += [f"isnan({column})" for name in counts if (column := self.of(name))]
        return " and ".join([self.no_reading, *words])


def table_of(source: str, kinds: Sequence[tuple[str, str]], *, where: str) -> FleetTable:
    """Say what the columns of files are.

    Parameters
    ----------
    source : str
        What DuckDB reads.
    kinds : sequence of (str, str)
        Heading and type of each.
    where : str
        Name of the first file, for messages.

    Raises
    ------
    InputError
        No column of readings, or one quantity in two columns.
    """
    nothing = np.zeros(0, dtype=np.int64)
    headings = tuple(Column(heading, nothing, ()) for heading, _ in kinds if heading != "filename")
    plan = layout(
        Cells(headings, nothing, ",", where), numbers=NUMBERS, words=WORDS, needed=("deviation", "left", "right")
    )
    own = plan.words.get("machine")
    machine = (
        "parse_filename(filename, true)" if own is None else f"coalesce({_word(own.heading, dict(kinds))}, '')"
    )
    columns = _columns(plan, dict(kinds))
    if own is not None and columns and dict(kinds)[own.heading] == "VARCHAR":
        columns["machine_cell"] = name_in_sql(own.heading)
    mixed = "deviation" in plan.numbers and ("left" in plan.numbers or "right" in plan.numbers)
    return FleetTable(
        source,
        tuple(kinds),
        bool(columns) and "time" in plan.words and not mixed,
        tuple((columns or {}).items()),
        machine,
        name_in_sql(plan.words["time"].heading) if "time" in plan.words else "",
        ("filename", *((own.heading,) if own is not None else ())),
        plan.notes,
    )


def _columns(plan: ColumnLayout, kinds: dict[str, str]) -> dict[str, str] | None:
    """How each column is had, in canonical units; None where one has to be read cell by cell."""
    columns: dict[str, str] = {}
    for name, column in plan.words.items():
        if name == "time":
            times = _time(name_in_sql(column.heading), kinds[column.heading])
            if times is None:
                return None
            columns |= times
        elif name != "machine":
            columns[name] = f"coalesce(trim({_word(column.heading, kinds)}), '')"
    for name, (column, kind, unit) in plan.numbers.items():
        number = _number(name_in_sql(column.heading), kinds[column.heading])
        if number is None or KINDS[kind].zeros.get(unit):
            return None
        scale = KINDS[kind].factors.get(unit, Fraction(1))
        scaled = f"{number} / {scale.denominator}.0" if scale.numerator == 1 else f"{number} * {float(scale)!r}"
        columns[name] = f"({number if scale == 1 else scaled} + 0.0)"
    return columns


def _word(heading: str, kinds: dict[str, str]) -> str:
    cell = name_in_sql(heading)
    return cell if kinds[heading] == "VARCHAR" else f"cast({cell} as varchar)"


def _number(cell: str, kind: str) -> str | None:
    """A number; nan where a cell is empty, infinity where it is no number."""
    if kind == "VARCHAR":
        empty = f"coalesce(trim({cell}), '') = ''"
        return f"coalesce(try_cast({cell} as double), case when {empty} then 'nan' else 'inf' end::double)"
    if kind == "FLOAT":  # the number that was meant, not the nearest one of its few digits
        return f"coalesce(cast(cast({cell} as varchar) as double), 'nan'::double)"
    if kind.startswith(NUMERIC):
        return f"coalesce(cast({cell} as double), 'nan'::double)"
    return None


def _time(cell: str, kind: str) -> dict[str, str] | None:
    """Microseconds on the clock that wrote a time, and the form it was written in."""
    if kind == "TIMESTAMP WITH TIME ZONE":
        form = form_of(19, letter_t=True, zone_min=0)
        newest = f"coalesce(epoch_us(max({cell})), {NO_TIME})"
        return {"time": f"coalesce(epoch_us({cell}), {NO_TIME})", "form": str(form), "newest": newest}
    if kind.startswith("TIMESTAMP") or kind == "DATE":
        form = form_of(10 if kind == "DATE" else 19, letter_t=True, zone_min=None)
        time, newest = (f"coalesce(epoch_us(cast({of} as timestamp)), {NO_TIME})" for of in (cell, f"max({cell})"))
        return {"time": time, "form": str(form), "newest": newest}
    if kind != "VARCHAR":
        return None
    word = f"trim({cell})"
    zone = f"regexp_extract({word}, '(Z|[+-][0-9][0-9]:[0-9][0-9])$')"
    clock = f"left({word}, length({word}) - length({zone}))"
    sure = f"length({clock}) in {_LENGTHS}"
    minutes = f"cast(substr({zone}, 2, 2) as integer) * 60 + cast(substr({zone}, 5, 2) as integer)"
    east = f"case when {zone} = '' then 0 when {zone} = 'Z' then 1 else 1442 + ({minutes}) * "
    east += f"case when left({zone}, 1) = '-' then -1 else 1 end end"
    letter = f"case when substr({word}, 11, 1) = 'T' then 32 else 0 end"
    return {
        "time": f"coalesce(case when {sure} then epoch_us(try_cast({clock} as timestamp)) end, {NO_TIME})",
        "form": f"coalesce(length({clock}) + {letter} + 64 * ({east}), 0)",
    }


def name_in_sql(heading: str) -> str:
    """Return a heading as SQL names a column."""
    quotes = heading.replace('"', '""')
    return f'"{quotes}"'


def is_plain(rows: Mapping[str, NDArray[Any]]) -> bool:
    """Whether every cell is what its heading says, as far as can be told."""
    if (rows["time"] == NO_TIME).any():
        return False
    for name, kind in _KINDS.items():
        if name in rows:
            low, high = max(KINDS[kind].low, -LARGEST), min(KINDS[kind].high, LARGEST)
            if (rows[name] < low).any() or (rows[name] > high).any():
                return False
    return True
