"""Files: check homings of many machines, read in place from Parquet and CSV files by DuckDB."""

import csv
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from io import StringIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from holdzero.errors import InputError, MissingExtra
from holdzero.files import irregular
from holdzero.inputs.log import Log, read_log
from holdzero.inputs.log.columns import SIDES, VALUES, LogColumns, TimesWritten, moments_s
from holdzero.inputs.log.entry import NUMBERS, moment_of
from holdzero.inputs.reading.allowed import side_of
from holdzero.quantity import KINDS, LARGEST
from holdzero.recording.fleet.part import PART_ROWS, FleetPart, parts_of
from holdzero.recording.fleet.table import NO_TIME, FleetTable, name_in_sql, table_of

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

ENDINGS = (".parquet", ".csv")
ENTRY_BY_ENTRY_ROWS = 200_000
OFFLINE = {  # nothing is fetched, nothing is loaded that did not come with it
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}
MEMORY = "800MB"
FIGURES = ("temperature", "resolution", "cycles")
LABELS = ("set", "homing")
OTHER_WORDS = ("condition", "event", "failed", "acknowledged", "note")
OTHER_FIGURES = ("false_trips", "hours")
NOT_A_NUMBER, NOTHING = "'nan'::double", "''"
_NAMES = ("machine", "axis", "side")
_KINDS = {name: kind for name, (kind, _) in NUMBERS.items()}


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
    threads : int, optional
        Of DuckDB; by default as many as there are cores.

    Raises
    ------
    InputError
        DuckDB is not installed; no file, or one that cannot be read.
    """

    def __init__(self, paths: Sequence[str], *, threads: int | None = None) -> None:
        self.files = tuple(_files(paths))
        self.threads = threads
        self.tables = tuple(self._tables())

    def __getstate__(self) -> dict[str, Any]:
        """Leave the connection behind: another process opens its own, of one thread."""
        kept = {"files": self.files, "tables": self.tables, "survey": self.survey}
        return {**kept, "threads": 1}

    @cached_property
    def survey(self) -> FleetSurvey:
        """What there is, from one look at the names and times."""
        counts: dict[str, int] = defaultdict(int)
        axes, sides, last_s, trimmed = set(), set(), float("-inf"), False
        for table in self.tables:
            if table.plain:
                by = f"{table.machine}, {table.axis}, {table.side}, {table.of('form')}"
                newest = f"max({table.of('time')})"
                rows = self._db.execute(
                    f"select {by}, count(*), {newest} from {table.source} group by all"
                ).fetchall()
                timed = np.array([(row[5], row[3]) for row in rows if row[5] != NO_TIME], dtype=np.int64).reshape(
                    -1, 2
                )
                last_s = max(last_s, *moments_s(timed[:, 0], timed[:, 1]).tolist(), float("-inf"))
                for machine, axis, side, _, count, _ in rows:
                    counts[machine.strip(" ")] += count
                    trimmed |= machine != machine.strip(" ")
                    axes.add(axis)
                    sides.add(side)
            else:
                counted = f"select {table.machine}, count(*) from {table.source} group by all"
                for machine, count in self._db.execute(counted).fetchall():
                    counts[machine.strip(" ")] += count
                    trimmed |= machine != machine.strip(" ")
                distinct = f"select distinct cast({table.time_cell} as varchar) from {table.source}"
                words = (
                    [word for (word,) in self._db.execute(distinct).fetchall() if word] if table.time_cell else []
                )
                last_s = max(last_s, float("-inf"), *(moment_of(word) for word in words))
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
    def last_s(self) -> float:
        """The moment of the newest entry of all. [s]"""
        return self.survey.last_s

    @property
    def plain(self) -> bool:
        """Whether all columns can be taken as they stand."""
        return all(table.plain for table in self.tables)

    def parts(self, *, rows: int = PART_ROWS) -> list[FleetPart]:
        """Some machines at a time, of about so many rows; whatever the order of the rows.

        Parameters
        ----------
        rows : int
            One machine is never divided. What names no machine is read with every part.
        """
        return parts_of(self.survey.counts, rows=rows if self.plain else min(rows, ENTRY_BY_ENTRY_ROWS))

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
        return _connected(self.threads)

    @cached_property
    def _listed(self) -> "DuckDBPyConnection":
        """The connection, with the names as lists whose places stand for them."""
        for name, words in zip(_NAMES, (self.machines, self.survey.axes, self.survey.sides), strict=True):
            listed = ", ".join(_text(word) for word in _with_none(words))
            self._db.execute(f"create type fleet_{name} as enum ({listed})")
        return self._db

    def _columns(self, part: FleetPart) -> LogColumns | None:
        texts: list[tuple[str, str]] = []
        parts: list[dict[str, NDArray[Any]]] = []
        headings = {name for table in self.tables for name, _ in table.columns}
        names = [name for name in (*VALUES, *FIGURES) if name in headings]
        labels = [name for name in LABELS if name in headings]
        marked = ["other"] if headings & {*OTHER_WORDS, *OTHER_FIGURES} else []
        words_of = dict(zip(_NAMES, (self.machines, self.survey.axes, self.survey.sides), strict=True))
        for table in self.tables:
            named = zip(_NAMES, (self._machine(table), table.axis, table.side), strict=True)
            same: dict[str, int] = {}
            cells = [f"{table.of('time')} as time"]
            for name, word in named:
                if len(words_of[name]) > 1:
                    cells.append(f"enum_code(cast({word} as fleet_{name})) as {name}")
                else:  # what is the same in every row is not read
                    same[name] = int(words_of[name] != ("",))
            if (table.of("form") or "").isdigit():
                same["form"] = int(table.of("form") or "")
            else:
                cells.append(f"cast({table.of('form')} as integer) as form")
            cells += [f"{table.of(name) or NOT_A_NUMBER} as {name}" for name in names]
            cells += [f"{_label(table.of(name))} as mark_{name}" for name in labels]
            cells += [f"{_mark(_told_besides(table))} as mark_other" for _ in marked]
            chosen = f"from {table.source} where {self._of_part(table, part)}"
            rows = self._listed.execute(f"select {', '.join(cells)} {chosen}").fetchnumpy()
            rows |= {name: np.full(rows["time"].size, value, dtype=np.int32) for name, value in same.items()}
            if not _is_plain(rows):
                return None
            empty = [np.isnan(rows[name]) for name in names if name in VALUES]
            if all(column.any() for column in empty) and np.logical_and.reduce(empty).any():
                nothing = self._db.execute(f"select count(*) {chosen} and {table.nothing}").fetchone()
                if nothing and nothing[0]:
                    return None
            parts.append(rows)
            if table.anything_said:
                about = f"({self._of_part(table, part)} or {self._machine(table)} = '')"
                texts += self._texts(table, f"{about} and ({table.anything_said})")
        whole = (
            {name: np.concatenate([rows[name] for rows in parts]) for name in parts[0]} if parts[1:] else parts[0]
        )
        return self._log(whole, [*labels, *marked], texts)

    def _log(
        self, rows: dict[str, NDArray[Any]], labels: list[str], texts: list[tuple[str, str]]
    ) -> LogColumns | None:
        try:
            side = np.array([SIDES.index(side_of(word)) for word in _with_none(self.survey.sides)], dtype=np.int8)
        except InputError:
            return None  # read entry by entry it is refused with its place
        times = TimesWritten(rows["time"], rows["form"])
        entries = read_log(texts) if texts else Log(())
        notes = [note for table in self.tables for note in table.notes]
        if (times.form // 64 == 0).any():
            notes.append("Times without a zone are taken in this computer's zone.")
        columns = LogColumns(
            machines=_with_none(self.machines),
            axes=_with_none(self.survey.axes),
            machine=rows["machine"],
            axis=rows["axis"],
            side=side[rows["side"]],
            times=times,
            moment_s=moments_s(times.written_us, times.form),
            value_mm={name: rows[name] for name in VALUES if name in rows},
            figures={name: rows[name] for name in FIGURES if name in rows},
            words={name: rows[f"mark_{name}"] for name in labels},
            entries=entries.entries,
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


def _is_plain(rows: dict[str, NDArray[Any]]) -> bool:
    """Whether every cell is what its heading says, as far as can be told."""
    if (rows["time"] == NO_TIME).any():
        return False
    for name, kind in _KINDS.items():
        if name in rows:
            low, high = max(KINDS[kind].low, -LARGEST), min(KINDS[kind].high, LARGEST)
            if (rows[name] < low).any() or (rows[name] > high).any():
                return False
    return True


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


def _connected(threads: int | None) -> "DuckDBPyConnection":
    try:
        import duckdb
    except ImportError as missing:
        raise MissingExtra(
            where="fleet", extra="fleet", package="DuckDB", instead="ask holdzero watch of a few logs"
        ) from missing
    own = {} if threads is None else {"threads": str(threads)}
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
