"""Homings in the book: how readings lie in its tables, and how they come out again."""

import json
import math
from collections.abc import Mapping, Sequence
from functools import partial
from itertools import groupby
from operator import itemgetter
from typing import Any

import numpy as np
import sqlalchemy as sa
from numpy.typing import NDArray
from sqlalchemy.sql.compiler import SQLCompiler

from holdzero.errors import InputError
from holdzero.inputs.reading.allowed import MOST_HOMINGS, protocol_of, set_number
from holdzero.inputs.reading.digest import digest_of, rows_digest
from holdzero.inputs.reading.values import Homings, Protocol, Readings
from holdzero.memory import MIB, Remembered, exactly
from holdzero.store import acts
from holdzero.store.beside import read_beside, write_beside
from holdzero.store.digests import keep_rows
from holdzero.store.schema import arrival, power_up, reading, series, span, trial
from holdzero.store.sound import FIGURES, MARKS, named, refuse_reading, refuse_series
from holdzero.store.spans import spans_of_trial
from holdzero.store.trail import note_added
from holdzero.store.values import Arrival, KeptReading, NewReading

_WIDE_MM = 1e6
_read = Remembered(64 * MIB)  # each series, marked with the rows it was read from: a new homing changes one
WITH_ITS_IMPORT = ", with its import"  # behind the moment in `undone`: the whole of what came in was taken back
_STATED = ("speed_mm_s", "temperature_degc", "trip_to_index_mm")
_COLUMNS = (
    reading.c.id,
    series.c.sensor,
    series.c.axis,
    series.c.side,
    power_up.c.label.label("set_label"),
    *(
        reading.c[name]
        for name in ("homing", "deviation_mm", "entered", "speed_mm_s", "temperature_degc", "direction", "time")
    ),
    *(reading.c[name] for name in ("condition", "repeat", "set_aside", "undone", "doubt", "trip_to_index_mm")),
    *(reading.c[name] for name in MARKS),
)

_IN_SETS = reading.join(power_up, reading.c.power_up_id == power_up.c.id)
_JOINED = _IN_SETS.join(series, reading.c.series_id == series.c.id)
_OF_SERIES = (series.c.id, *(series.c[name] for name in ("sensor", "axis", "side", "resolution_mm", "protocol")))
_OF_HOMINGS = (  # what computing needs of each
    reading.c.series_id,
    reading.c.id,
    power_up.c.label.label("set_label"),
    *(
        reading.c[name]
        for name in ("homing", "deviation_mm", "speed_mm_s", "temperature_degc", "direction", "time", "condition")
    ),
    *(reading.c[name] for name in ("repeat", "set_aside", "trip_to_index_mm", *MARKS, "beside")),
)


def is_series(trial_id: int, sensor: str, axis: str, side: str) -> sa.ColumnElement[bool]:
    """Return the condition that picks one candidate, axis and side of a trial."""
    return sa.and_(
        series.c.trial_id == trial_id, series.c.sensor == sensor, series.c.axis == axis, series.c.side == side
    )


def power_up_id(
    c: sa.Connection, trial_id: int, sensor: str, axis: str, label: str, *, note: str = "", begun: str = ""
) -> int:
    """Return the id of a set, made if it is new."""
    facts = {"trial_id": trial_id, "sensor": sensor, "axis": axis, "label": label}
    return _found_or_made(c, power_up, facts, note=note, begun=begun)


def _power_up_ids(
    c: sa.Connection, trial_id: int, sensor: str, axis: str, labels: Sequence[str], *, begun: str
) -> dict[str, int]:
    """Return the ids of sets by their labels; those that are new are made in the order given."""
    whose = {"trial_id": trial_id, "sensor": sensor, "axis": axis}
    wanted = sa.select(power_up.c.label, power_up.c.id).where(
        *(power_up.c[name] == value for name, value in whose.items())
    )
    known = {label for label, _ in c.execute(wanted)}
    new = [label for label in dict.fromkeys(labels) if label not in known]
    if new:
        c.execute(power_up.insert(), [whose | {"label": label, "note": "", "begun": begun} for label in new])
    return {row.label: row.id for row in c.execute(wanted)}


def next_label(c: sa.Connection, trial_id: int, sensor: str, axis: str) -> str:
    """Return the number after the highest that labels a set of one candidate."""
    wanted = sa.select(power_up.c.label).where(
        power_up.c.trial_id == trial_id, power_up.c.sensor == sensor, power_up.c.axis == axis
    )
    return str(1 + max((number for label in c.scalars(wanted) if (number := set_number(label))), default=0))


def add(c: sa.Connection, trial_id: int, new: NewReading, *, now: str) -> int:
    """Keep one reading and return its id; a ticket that came before adds nothing."""
    if new.ticket:
        known = c.execute(sa.select(reading).where(reading.c.ticket == new.ticket)).one_or_none()
        if known is not None:
            return _sent_again(known, new)
    of_series = _series_id(c, trial_id, new.sensor, new.axis, new.side, new.resolution_mm, new.protocol)
    of_power_up = power_up_id(c, trial_id, new.sensor, new.axis, new.set_label, begun=now)
    homing = new.homing
    if homing is None:
        taken = sa.select(sa.func.max(reading.c.homing)).where(
            reading.c.series_id == of_series, reading.c.power_up_id == of_power_up, reading.c.undone == ""
        )
        last = c.scalar(taken) or 0
        homing = last if new.repeat and last else last + 1
    row = {
        "series_id": of_series,
        "power_up_id": of_power_up,
        "homing": homing,
        "time": new.time or now,
        "ticket": new.ticket or None,
    }
    kept_as_given = ("deviation_mm", "entered", "speed_mm_s", "temperature_degc", "direction")
    row |= {name: getattr(new, name) for name in (*kept_as_given, "condition", "repeat", "set_aside", "doubt")}
    row |= {"kind": new.kind, "event": new.event}
    row["trip_to_index_mm"] = new.trip_to_index_mm
    done = c.execute(reading.insert().values(row))
    assert done.inserted_primary_key is not None
    return int(done.inserted_primary_key[0])


def _sent_again(known: sa.Row[Any], new: NewReading) -> int:
    if known.deviation_mm != new.deviation_mm:  # typed while the one before was still on its way
        raise InputError(
            where="deviation",
            found=f"{new.entered or new.deviation_mm} sent in the place of {known.entered or known.deviation_mm}",
            need="one reading at a time",
            do="look at the next step above, then enter it once more",
        )
    return int(known.id)


def add_all(c: sa.Connection, trial_id: int, readings: Readings, *, now: str) -> int:
    """Keep the readings of a file in its order and return how many they are."""
    if not readings.groups:
        return 0
    parts = []
    for group in readings.groups:
        of_series = _series_id(
            c, trial_id, group.sensor, group.axis, group.side, group.resolution_mm, group.protocol
        )
        _read_alike(c, of_series, group)
        labels = group.set_label.tolist()
        sets, n = _power_up_ids(c, trial_id, group.sensor, group.axis, labels, begun=now), len(labels)
        of_group = {"series_id": np.full(n, of_series), "power_up_id": np.array([sets[label] for label in labels])}
        of_group |= {name: _column(getattr(group, name), n) for name in _IMPORTED}
        of_group["trip_to_index_mm"] = _column(group.trip_to_index_mm, n, empty=np.nan)
        parts.append(of_group | {"beside": np.array(write_beside(group), dtype=object)})
    columns = {name: np.concatenate([of_group[name] for of_group in parts]) for name in parts[0]}
    # the order they were taken in, where the file has another
    line = np.concatenate([np.sort(group.line) for group in readings.groups])
    _insert(c, columns, np.argsort(line, kind="stable"))
    return int(line.size)


def _insert(c: sa.Connection, columns: Mapping[str, NDArray[Any]], order: NDArray[np.intp]) -> None:
    """Write rows of columns into the book in this order, as rows of values: a million need no names each."""
    insert = reading.insert().compile(dialect=c.dialect, column_keys=list(columns))
    assert isinstance(insert, SQLCompiler)
    names = insert.positiontup or list(columns)
    full = [name for name, column in columns.items() if _says_something(column)]
    for start in range(0, order.size, _AT_A_TIME):
        at = order[start : start + _AT_A_TIME]
        rows = zip(*(_cells(columns[name][at]) for name in names), strict=True)
        block = list(rows) if insert.positional else [dict(zip(names, row, strict=True)) for row in rows]
        c.exec_driver_sql(str(insert), block)
        keep_rows(c, reading, {name: _cells(columns[name][at]) for name in full})
    note_added(c, reading, int(order.size))


def _column(column: NDArray[Any] | None, n: int, *, empty: str | float = "") -> NDArray[Any]:
    """Return a column of a group; one that no row has anything in where there is none. shape (n,)"""
    return np.full(n, empty) if column is None else column


def _says_something(column: NDArray[Any]) -> bool:
    return not np.isnan(column).all() if column.dtype.kind == "f" else column.dtype.kind == "i" or any(column)


def _cells(column: NDArray[Any]) -> list[Any]:
    cells = column.tolist()
    return _none_for_nan(cells) if column.dtype.kind == "f" else cells


_AT_A_TIME = 10_000  # rows that stand as Python values in memory
_IMPORTED = (
    "homing",
    "deviation_mm",
    "speed_mm_s",
    "temperature_degc",
    "direction",
    "time",
    "condition",
    "repeat",
    "set_aside",
    *MARKS,
)


def rows(
    c: sa.Connection, trial_id: int, *, sensor: str | None, axis: str | None, undone: bool, newest: int | None
) -> tuple[KeptReading, ...]:
    """Return readings in the order taken."""
    wanted = sa.select(reading.c.id).join(series).where(series.c.trial_id == trial_id)
    for column, value in ((series.c.sensor, sensor), (series.c.axis, axis)):
        if value is not None:
            wanted = wanted.where(column == value)
    if not undone:
        wanted = wanted.where(reading.c.undone == "")
    if newest is not None:  # found among the ids alone: a long trial is not sorted with all its columns
        wanted = wanted.order_by(reading.c.id.desc()).limit(newest)
    whole = sa.select(*_COLUMNS).select_from(_JOINED).where(reading.c.id.in_(wanted)).order_by(reading.c.id)
    kept = map(KeptReading._make, c.execute(whole).all())
    return tuple(row for row in kept if _numbers(row))


def row(c: sa.Connection, reading_id: int) -> tuple[KeptReading, int]:
    """Return one reading, and the id of its trial; a figure of it that no machine has is refused by name."""
    wanted = sa.select(series.c.trial_id, *_COLUMNS).select_from(_JOINED).where(reading.c.id == reading_id)
    trial_id, *values = c.execute(wanted).one()
    kept = KeptReading(*values)
    with named("reading", kept.id):
        refuse_reading({name: getattr(kept, name) for name in FIGURES})
    return kept, trial_id


def _numbers(row: KeptReading) -> bool:
    """Tell whether a reading has numbers where they belong; refuse it by name unless it was taken back."""
    deviation: object = row.deviation_mm  # SQLite keeps words, too, in a column of numbers
    if isinstance(deviation, float) and type(row.homing) is int:
        return True
    if not row.undone:
        with named("reading", row.id):
            refuse_reading({name: getattr(row, name) for name in FIGURES})
    return False


def readings(c: sa.Connection, trial_id: int) -> Readings:
    """Return readings in the shape a file gives: one group a series, in the order the series began."""
    # Series by series, as the index has them: all rows of a trial are not put in order first.
    of_series = reading.c.series_id.in_(sa.select(series.c.id).where(series.c.trial_id == trial_id))
    wanted = sa.select(*_OF_HOMINGS).select_from(_IN_SETS).where(reading.c.undone == "", of_series)
    kept = map(tuple, c.execute(wanted.order_by(reading.c.series_id, reading.c.id)).all())
    members_by_series = {key: list(rows) for key, rows in groupby(kept, itemgetter(0))}
    facts = {row.id: tuple(row) for row in c.execute(sa.select(*_OF_SERIES).where(series.c.trial_id == trial_id))}
    book = str(c.engine.url)
    groups = tuple(
        _read((book, key), partial(_group, facts[key], members), mark=exactly((facts[key], members)))
        for key, members in sorted(members_by_series.items(), key=lambda group: group[1][0][1])
    )
    spans = spans_of_trial(c, trial_id)
    return Readings(groups, digest=digest_of(groups, spans), spans=spans)


def _group(facts: tuple[Any, ...], members: Sequence[tuple[Any, ...]]) -> Homings:
    names = [column.name for column in _OF_HOMINGS]
    columns = dict(zip(names, zip(*members, strict=True), strict=True))
    first = dict(zip((column.name for column in _OF_SERIES), facts, strict=True))
    with named("series", first["id"]):
        refuse_series(first)
    if not _plain(columns):
        for row in members:
            reading_row = dict(zip(names, row, strict=True))
            with named("reading", reading_row["id"]):
                refuse_reading(reading_row)

    def column(name: str, kind: type[np.generic]) -> Any:
        return np.array(columns[name], dtype=kind)  # None becomes nan

    return Homings(
        sensor=first["sensor"],
        axis=first["axis"],
        side=first["side"],
        deviation_mm=column("deviation_mm", np.float64),
        set_label=column("set_label", np.str_),
        homing=column("homing", np.int64),
        speed_mm_s=column("speed_mm_s", np.float64),
        temperature_degc=column("temperature_degc", np.float64),
        direction=column("direction", np.str_),
        time=column("time", np.str_),
        condition=column("condition", np.str_),
        set_aside=column("set_aside", np.str_),
        repeat=column("repeat", np.bool_),
        resolution_mm=first["resolution_mm"],
        protocol=protocol_of(first["protocol"]) or Protocol.OUTSIDE,
        line=np.zeros(len(members), dtype=np.int64),
        trip_to_index_mm=None
        if all(way is None for way in columns["trip_to_index_mm"])
        else column("trip_to_index_mm", np.float64),
        extra=read_beside(columns["beside"]) if any(columns["beside"]) else {},
        **{name: column(name, np.str_) if any(columns[name]) else None for name in MARKS},
    )


def _plain(columns: Mapping[str, Sequence[Any]]) -> bool:
    """Tell whether readings are as nearly all are, so that they need not be looked at one by one."""
    return (
        all(type(homing) is int and 0 <= homing <= MOST_HOMINGS for homing in columns["homing"])
        and all(isinstance(value, float) and abs(value) < _WIDE_MM for value in columns["deviation_mm"])
        and not any(value is not None for name in _STATED for value in columns[name])
        and not any(columns["kind"])
        and not any(columns["beside"])
    )


def came_before(c: sa.Connection, trial_id: int, readings: Readings) -> Arrival | None:
    """Return the last time the same file, or the same readings, came in for the machine of a trial."""
    machine = sa.select(trial.c.machine_id).where(trial.c.id == trial_id).scalar_subquery()
    wanted = sa.select(arrival).join(trial).where(trial.c.machine_id == machine, trial.c.removed == "")
    # the same trial first: only there would they count twice
    rows = c.execute(wanted.order_by(arrival.c.trial_id != trial_id, arrival.c.id.desc())).all()
    if not rows:
        return None  # and nothing is computed of the readings
    of_rows = rows_digest(readings.groups, readings.spans)
    alike = (row for row in rows if row.digest == readings.digest or row.rows_digest == of_rows)
    return next((Arrival(**row._mapping) for row in alike if not taken_back(c, row.id)[0]), None)


def gone_with_import() -> sa.ColumnElement[bool]:
    """Tell of a power-up whether it was there only for an import that was taken back."""
    with_import = reading.c.undone.endswith(WITH_ITS_IMPORT)
    of_it = sa.select(reading.c.id).where(reading.c.power_up_id == power_up.c.id)
    return of_it.where(with_import).exists() & ~of_it.where(~with_import).exists()


def taken_back(c: sa.Connection, arrival_id: int) -> tuple[str, dict[str, Any]]:
    """Return since when an arrival is taken back, and what went with it; empty where it counts."""
    kept = [act for act in acts.acts(c, "arrival", arrival_id) if act.mark == "taken back"]
    return (kept[-1].added, json.loads(kept[-1].after)) if kept and kept[-1].after else ("", {})


def add_arrival(c: sa.Connection, trial_id: int, readings: Readings, *, name: str, now: str) -> None:
    """Keep that a file or paste came in."""
    digests = {"digest": readings.digest, "rows_digest": rows_digest(readings.groups, readings.spans)}
    n = sum(group.homing.size for group in readings.groups)
    add_arrival_of(c, trial_id, name=name, **digests, n=n, now=now, spans=sum(g.n.size for g in readings.spans))


def add_arrival_of(
    c: sa.Connection,
    trial_id: int,
    *,
    name: str,
    digest: str,
    rows_digest: str,
    n: int,
    now: str,
    spans: int = 0,
) -> None:
    """Keep that the newest n readings, and spans, of a trial came in together, and which those are."""
    facts = {"trial_id": trial_id, "name": name, "added": now, "readings": n + spans}
    done = c.execute(arrival.insert().values(**facts, digest=digest, rows_digest=rows_digest))
    assert done.inserted_primary_key is not None
    of_trial = sa.select(reading.c.id).join(series, reading.c.series_id == series.c.id)
    newest = of_trial.where(series.c.trial_id == trial_id).order_by(reading.c.id.desc()).limit(n)
    newest_spans = sa.select(span.c.id).where(span.c.trial_id == trial_id).order_by(span.c.id.desc()).limit(spans)
    rows = {"readings": _ends(c, newest), "spans": _ends(c, newest_spans)}
    if rows["readings"] or rows["spans"]:
        key = int(done.inserted_primary_key[0])
        acts.add(c, "arrival", key, "rows", before="", after=json.dumps(rows), now=now)


def _ends(c: sa.Connection, ids: sa.Select[Any]) -> list[int] | None:
    """Return the least and the greatest of some ids; None where there are none."""
    column = ids.subquery().c.id
    least, greatest = c.execute(sa.select(sa.func.min(column), sa.func.max(column))).one()
    return None if least is None else [least, greatest]


def _series_id(
    c: sa.Connection,
    trial_id: int,
    sensor: str,
    axis: str,
    side: str,
    resolution_mm: float | None,
    protocol: Protocol,
) -> int:
    facts = {"trial_id": trial_id, "sensor": sensor, "axis": axis, "side": side}
    return _found_or_made(c, series, facts, resolution_mm=resolution_mm, protocol=protocol.value)


def _read_alike(c: sa.Connection, of_series: int, group: Homings) -> None:
    wanted = sa.select(series.c.resolution_mm, series.c.protocol).where(series.c.id == of_series)
    kept = c.execute(wanted).one()
    if (kept.resolution_mm, kept.protocol) != (group.resolution_mm, group.protocol.value):
        raise InputError(
            where=" ".join(filter(None, ("sensor", group.sensor, group.axis, group.side))),
            found=f"readings taken in another way (resolution {group.resolution_mm}, protocol {group.protocol})",
            need=f"one way in one trial (here resolution {kept.resolution_mm}, protocol {kept.protocol})",
            do="begin a new trial for them",
        )


def _found_or_made(c: sa.Connection, table: sa.Table, facts: dict[str, Any], **more: Any) -> int:
    known = c.scalar(sa.select(table.c.id).where(*(table.c[name] == value for name, value in facts.items())))
    if known is not None:
        return int(known)
    done = c.execute(table.insert().values(facts | more))
    assert done.inserted_primary_key is not None
    return int(done.inserted_primary_key[0])


def _none_for_nan(values: Sequence[float]) -> list[float | None]:
    return [None if math.isnan(value) else value for value in values]
