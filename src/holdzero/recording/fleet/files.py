"""Files: check homings of many machines, read in place from Parquet and CSV files by DuckDB."""

import csv
from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from io import StringIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from holdzero.errors import InputError, MissingExtra
from holdzero.files import irregular
from holdzero.inputs.log import Log, LogEntry, read_log
from holdzero.inputs.log.columns import SIDES, VALUES, LogColumns, TimesWritten, in_every_row, moments_s, once
from holdzero.inputs.log.entry import moment_of
from holdzero.inputs.reading.allowed import side_of
from holdzero.recording.fleet.part import FleetPart, PartsReader, parts_of
from holdzero.recording.fleet.shelves import IN_MEMORY, put_down
from holdzero.recording.fleet.stream import whole
from holdzero.recording.fleet.table import NO_TIME, FleetTable, is_plain, name_in_sql, table_of

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection, DuckDBPyRelation

ENDINGS = (".parquet", ".csv")
PART_ROWS = 500_000  # whose columns fit into the memory that is near a core
ENTRY_BY_ENTRY_ROWS = 200_000
OFFLINE = {  # nothing is fetched, nothing is loaded that did not come with it
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}
MEMORY = "800MB"
MOST_LOOKED_THROUGH = 1.6  # rows looked at for one that is read, or they are put down by machine first
FIGURES = ("temperature", "resolution", "cycles")
LABELS = ("set", "homing")
OTHER_WORDS = ("condition", "event", "failed", "acknowledged", "note")
OTHER_FIGURES = ("false_trips", "hours")
NOT_A_NUMBER, NOTHING = "'nan'::double", "''"
_NAMES = ("machine", "axis", "side")
_FEW = 2**16 - 1  # names that have a number of two bytes


@dataclass(frozen=True, slots=True)
class FleetSurvey:
    """What there is in the files: names in order, rows of each machine, the newest entry. [s]"""

    counts: tuple[tuple[str, int], ...]
    axes: tuple[str, ...]
    sides: tuple[str, ...]
    last_s: float
    trimmed: bool  # a name has spaces around it somewhere


class FleetFiles:
    """The logs of many machines, in files.

    Parameters
    ----------
    paths : sequence of str
        Parquet or CSV files, and folders of them; headings as in a log file. The machine of a file without a
        column of that name is the name of the file.

    Raises
    ------
    InputError
        DuckDB is not installed; no file, or one that cannot be read.
    """

    def __init__(self, paths: Sequence[str]) -> None:
        self.files = tuple(_files(paths))
        self.tables = tuple(self._tables())

    def __getstate__(self) -> dict[str, Any]:
        """Leave the connection behind: another process opens its own."""
        return {"files": self.files, "tables": self.tables, "survey": self.survey}

    @cached_property
    def survey(self) -> FleetSurvey:
        """What there is, from one look at the names and times."""
        counts: dict[str, int] = defaultdict(int)
        axes, sides = set[str](), set[str]()
        last_s, trimmed = float("-inf"), False
        for table in self.tables:
            if table.plain:
                form, newest = table.of("form"), table.of("newest") or f"max({table.of('time')})"
                asked = f"select {form}, {newest} from {table.source} {'group by all' * (table.one_form is None)}"
                rows = [row for row in self._db.execute(asked).fetchall() if row[1] not in (NO_TIME, None)]
                timed = np.array(rows, dtype=np.int64).reshape(-1, 2)
                last_s = max(last_s, *moments_s(timed[:, 1], timed[:, 0]).tolist(), float("-inf"))
                named = f"select list(distinct {table.axis}), list(distinct {table.side}) from {table.source}"
                for words in self._db.execute(named).fetchall():
                    axes.update(words[0] or ())
                    sides.update(words[1] or ())
            else:
                distinct = f"select distinct cast({table.time_cell} as varchar) from {table.source}"
                times = self._db.execute(distinct).fetchall() if table.time_cell else []
                last_s = max(last_s, float("-inf"), *(moment_of(word) for (word,) in times if word))
            counted = f"select {table.machine}, count(*) from {table.source} group by all"
            for machine, count in self._db.execute(counted).fetchall():
                counts[machine.strip(" ")] += count
                trimmed |= machine != machine.strip(" ")
        names = (tuple(sorted(axes)), tuple(sorted(sides)))
        return FleetSurvey(tuple(sorted(counts.items())), *names, last_s, trimmed)

    def _machine(self, table: FleetTable) -> str:
        return f"trim({table.machine})" if self.survey.trimmed else table.machine

    def _of_part(self, table: FleetTable, part: FleetPart) -> str:
        """Whether a row is of a machine of a part; on the column itself: what lies elsewhere is not read."""
        written = "" if self.survey.trimmed or not part.first else table.of("machine_cell")
        return f"{written or self._machine(table)} between {_text(part.first)} and {_text(part.last)}"

    @property
    def machines(self) -> tuple[str, ...]:
        """Their names, in order."""
        return tuple(name for name, _ in self.survey.counts)

    @property
    def names(self) -> tuple[str, ...]:
        """The names that numbers of machines stand for: none first."""
        return _with_none(self.machines)

    @property
    def last_s(self) -> float:
        """The moment of the newest entry of all. [s]"""
        return self.survey.last_s

    @property
    def plain(self) -> bool:
        """Whether all columns can be taken as they stand."""
        return all(table.plain for table in self.tables)

    def parts(self, *, rows: int | None = None) -> list[FleetPart]:
        """Some machines at a time, of about so many rows, half a million at most; whatever the order of the rows.

        Parameters
        ----------
        rows : int, optional
            One machine is never divided. What names no machine is read with every part.
        """
        most = PART_ROWS if self.plain else ENTRY_BY_ENTRY_ROWS
        return parts_of(self.survey.counts, rows=min(rows or most, most))

    @contextmanager
    def gathered(
        self, parts: Sequence[FleetPart], *, shared: bool, done: Callable[[int], object] = lambda _: None
    ) -> Iterator[PartsReader]:
        """The same; rows of machines that are mixed are put down part by part first.

        Parameters
        ----------
        parts : sequence of FleetPart
            That are going to be read: neighbours, in order.
        shared : bool
            Whether other processes read them: then all rows are put down in temporary files.
        done : callable
            Told how many rows were read.
        """
        if not self.plain or len(parts) < 2 or self._by_machine(parts):
            yield self
            return
        with TemporaryDirectory(prefix="holdzero-") as folder:
            yield put_down(self, parts, Path(folder), in_memory=0 if shared else IN_MEMORY, done=done) or self

    def _by_machine(self, parts: Sequence[FleetPart]) -> bool:
        """Whether the rows of a machine stand together, so that a part is read without a look at all rows."""
        looked_through = 0
        for table in self.tables:
            heading = table.not_told[1:]
            if not heading or "read_parquet" not in table.source:
                return False
            files = table.source[table.source.index("[") : table.source.rindex("]") + 1]
            groups = self._db.execute(
                "select row_group_num_rows, stats_min_value, stats_max_value "
                f"from parquet_metadata({files}) where path_in_schema = {_text(heading[0])}"
            ).fetchall()
            for count, low, high in groups:
                known = low is not None and high is not None
                looked_through += count * sum(
                    not known or (part.first <= high and low <= part.last) for part in parts
                )
        return looked_through <= MOST_LOOKED_THROUGH * sum(part.rows for part in parts)

    def read(self, part: FleetPart) -> LogColumns | Log:
        """Read the logs of some machines.

        Parameters
        ----------
        part : FleetPart

        Returns
        -------
        LogColumns or Log
            Entry by entry where a cell is not plain: that knows every way to write one, and names one it refuses.

        Raises
        ------
        InputError
            Names the cell.
        """
        columns = self._columns(part) if self.plain else None
        return self._entry_by_entry(part) if columns is None else columns

    @cached_property
    def _db(self) -> "DuckDBPyConnection":
        return _connected()

    @cached_property
    def _listed(self) -> "DuckDBPyConnection":
        """The connection, with the names in tables, each with the number that stands for it."""
        for name, words in self._words_of.items():
            listed = ", ".join(_text(word) for word in _with_none(words))
            kind = "usmallint" if len(words) < _FEW else "uinteger"
            numbers = f'cast(unnest(range({len(_with_none(words))})) as {kind}) as " number"'
            self._db.execute(f'create table fleet_{name} as select unnest([{listed}]) as " name", {numbers}')
        return self._db

    @property
    def _words_of(self) -> dict[str, tuple[str, ...]]:
        return dict(zip(_NAMES, (self.machines, self.survey.axes, self.survey.sides), strict=True))

    @cached_property
    def _headings(self) -> set[str]:
        return {name for table in self.tables for name, _ in table.columns}

    @property
    def _figures(self) -> list[str]:
        return [name for name in (*VALUES, *FIGURES) if name in self._headings]

    @property
    def _labels(self) -> list[str]:
        marked = ["other"] if self._headings & {*OTHER_WORDS, *OTHER_FIGURES} else []
        return [*(name for name in LABELS if name in self._headings), *marked]

    def asked_of(self, table: FleetTable, part: FleetPart | None) -> tuple["DuckDBPyRelation", dict[str, int]]:
        """Columns of a table in numbers, of some machines or of all, and what is the same in every row."""
        same: dict[str, int] = {}
        cells, joined = [f"{table.of('time')} as time"], ""
        for name, word in zip(_NAMES, (self._machine(table), table.axis, table.side), strict=True):
            if len(self._words_of[name]) > 1:
                cells.append(f'fleet_{name}." number" as {name}')
                joined += f' join fleet_{name} on fleet_{name}." name" = {word}'
            else:  # what is the same in every row is not read
                same[name] = int(self._words_of[name] != ("",))
        if table.one_form is not None:
            same["form"] = table.one_form
        else:
            cells.append(f"cast({table.of('form')} as integer) as form")
        cells += [f"{table.of(name) or NOT_A_NUMBER} as {name}" for name in self._figures]
        for name in self._labels:
            mark = _mark(_told_besides(table)) if name == "other" else _label(table.of(name))
            cells.append(f"{mark} as mark_{name}")
        wanted = f"where {self._of_part(table, part)}" if part else ""
        return self._listed.sql(f"select {', '.join(cells)} from {table.source}{joined} {wanted}"), same

    def may_say_nothing(self, rows: Mapping[str, NDArray[Any]]) -> bool:
        """Whether a row has no reading."""
        empty = [np.isnan(rows[name]) for name in self._figures if name in VALUES]
        return all(column.any() for column in empty) and bool(np.logical_and.reduce(empty).any())

    def says_nothing(self, table: FleetTable, part: FleetPart | None) -> bool:
        """Whether a row has a time and nothing else."""
        also = f" and {self._of_part(table, part)}" if part else ""
        count = self._db.execute(f"select count(*) from {table.source} where {table.nothing}{also}").fetchone()
        return bool(count and count[0])

    def _columns(self, part: FleetPart) -> LogColumns | None:
        texts: list[tuple[str, str]] = []
        parts: list[dict[str, NDArray[Any]]] = []
        for table in self.tables:
            answer, same = self.asked_of(table, part)
            rows = whole(answer)
            rows |= {name: in_every_row(value, rows["time"].size) for name, value in same.items()}
            if not is_plain(rows) or (self.may_say_nothing(rows) and self.says_nothing(table, part)):
                return None
            parts.append(rows)
            if table.anything_said:
                about = f"({self._of_part(table, part)} or {self._machine(table)} = '')"
                texts += self._texts(table, f"{about} and ({table.anything_said})")
        together = (
            {name: np.concatenate([rows[name] for rows in parts]) for name in parts[0]} if parts[1:] else parts[0]
        )
        return self.log_of(together, read_log(texts).entries if texts else ())

    def spoken(self) -> tuple[LogEntry, ...]:
        """Entries that say something besides a reading, of all machines."""
        tables = [table for table in self.tables if table.anything_said]
        texts = [text for table in tables for text in self._texts(table, f"({table.anything_said})")]
        return read_log(texts).entries if texts else ()

    def log_of(self, rows: Mapping[str, NDArray[Any]], entries: tuple[LogEntry, ...]) -> LogColumns | None:
        """Rows in columns as a log in order; None where a side is none."""
        try:
            side = np.array([SIDES.index(side_of(word)) for word in _with_none(self.survey.sides)], dtype=np.int8)
        except InputError:
            return None  # read entry by entry it is refused with its place
        times = TimesWritten(rows["time"], rows["form"])
        notes = [note for table in self.tables for note in table.notes]
        if (once(times.form) // 64 == 0).any():
            notes.append("Times without a zone are taken in this computer's zone.")
        columns = LogColumns(
            machines=_with_none(self.machines),
            axes=_with_none(self.survey.axes),
            machine=rows["machine"],
            axis=rows["axis"],
            side=np.broadcast_to(side[once(rows["side"])], rows["side"].shape),
            times=times,
            moment_s=moments_s(times.written_us, times.form),
            value_mm={name: rows[name] for name in VALUES if name in rows},
            figures={name: rows[name] for name in FIGURES if name in rows},
            words={name: rows[f"mark_{name}"] for name in self._labels},
            entries=entries,
            notes=tuple(dict.fromkeys(notes)),
        )
        return columns.in_order()

    def _entry_by_entry(self, part: FleetPart) -> Log:
        texts = []
        for table in self.tables:
            texts += self._texts(table, f"({self._of_part(table, part)} or {self._machine(table)} = '')")
        log = read_log(texts)
        if part.first:  # a reading that names no machine belongs to the part of the name that is none
            log = replace(log, entries=tuple(e for e in log.entries if e.machine or e.deviation_mm is None))
        return log

    def _texts(self, table: FleetTable, condition: str) -> list[tuple[str, str]]:
        """Some rows of a table as the text of a log file, in an order of their own."""
        headings = sorted(heading for heading, _ in table.kinds if heading not in table.not_told)
        cells = [
            f"{self._machine(table)} as machine",
            *(f"cast({name_in_sql(own)} as varchar)" for own in headings),
        ]
        first = f"cast({table.time_cell} as varchar), " if table.time_cell else ""
        places = ", ".join(str(place + 1) for place in range(len(cells)))
        wanted = f"select {', '.join(cells)} from {table.source} where {condition} order by {first}{places}"
        rows = self._db.execute(wanted).fetchall()
        if not rows:
            return []
        out = StringIO()
        writer = csv.writer(out)
        writer.writerow(("machine", *headings))
        writer.writerows(rows)
        return [(out.getvalue(), "")]

    def _tables(self) -> Iterator[FleetTable]:
        by_kinds: dict[tuple[tuple[str, str], ...], list[Path]] = {}
        for path in self.files:
            described = self._asked(f"describe select * from {_source([path])}", path)
            kinds = tuple((str(row[0]), str(row[1])) for row in described)
            by_kinds.setdefault((("ending", path.suffix), *kinds), []).append(path)
        for kinds, paths in sorted(by_kinds.items()):
            yield table_of(_source(paths), kinds[1:], where=str(paths[0]))

    def _asked(self, query: str, path: Path) -> list[tuple[object, ...]]:
        connection = self._db
        import duckdb

        try:
            return connection.execute(query).fetchall()
        except duckdb.Error as error:
            raise InputError(
                where=str(path),
                found=f"what is no table ({str(error).splitlines()[0]})",
                need="a Parquet or CSV file with headings",
                do="take it out, or put it right",
            ) from None


def _mark(words: Sequence[str]) -> str:
    """A number that stands for what some cells say together; 0 for nothing."""
    together = f"concat_ws(chr(31), {', '.join(words)})" if words[1:] else words[0]
    nothing = " and ".join(f"{word} = ''" for word in words)
    return f"case when {nothing} then 0::ubigint else hash({together}) end"


def _label(word: str | None) -> str:
    """The mark of a label; that of a plain number keeps its order."""
    if word is None:
        return "0::ubigint"
    number = f"try_cast({word} as uinteger)"
    return (
        f"case when {word} = '' then 0::ubigint when cast({number} as varchar) = {word} "
        f"then cast({number} as ubigint) + 1 else hash({word}) | (1::ubigint << 63) end"
    )


def _told_besides(table: FleetTable) -> list[str]:
    words = [table.of(name) or NOTHING for name in OTHER_WORDS]
    figures = [table.of(name) or NOT_A_NUMBER for name in OTHER_FIGURES]
    return [
        *words,
        *(f"case when isnan({figure}) then '' else cast({figure} as varchar) end" for figure in figures),
    ]


def _with_none(names: Sequence[str]) -> tuple[str, ...]:
    """Names, the empty one first."""
    return ("", *(name for name in names if name))


def _connected() -> "DuckDBPyConnection":
    try:
        import duckdb
    except ImportError as missing:
        raise MissingExtra(
            where="fleet", extra="fleet", package="DuckDB", instead="ask holdzero watch of a few logs"
        ) from missing
    own = {"threads": "1"}  # more would mix the rows, which are then to be put in order again
    return duckdb.connect(":memory:", config={**OFFLINE, "memory_limit": MEMORY, **own})


def _files(paths: Sequence[str]) -> Iterator[Path]:
    for name in paths:
        path = Path(name)
        inside = sorted(file for file in path.rglob("*") if file.suffix in ENDINGS) if path.is_dir() else [path]
        if not inside or not all(file.is_file() for file in inside):
            raise InputError(
                where=name,
                found="no log in it" if path.is_dir() else irregular(path) or "no such file",
                need="Parquet or CSV files, or a folder of them",
                do="check the name",
            )
        yield from inside


def _source(paths: Sequence[Path]) -> str:
    """What DuckDB reads of files of one kind."""
    names = ", ".join(_text(path) for path in paths)
    if paths[0].suffix == ".parquet":
        return f"read_parquet([{names}], filename = true)"
    return f"read_csv([{names}], all_varchar = true, header = true, comment = '#', filename = true)"


def _text(word: object) -> str:
    quotes = str(word).replace("'", "''")
    return f"'{quotes}'"
