"""Entry: a readings file becomes homings, one group a sensor, axis and side."""

import hashlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from holdzero.errors import InputError
from holdzero.form import name_of, remark_of
from holdzero.form.bounds import refuse_many_series
from holdzero.inputs.reading.allowed import kind_of, one_of, protocol_of, side_of
from holdzero.inputs.reading.cells import Cells, Codes, Column, read_cells, rows_of
from holdzero.inputs.reading.columns import ColumnLayout, layout, plain, word_column
from holdzero.inputs.reading.joined import of_trials, together
from holdzero.inputs.reading.numbers import deviations, numbers
from holdzero.inputs.reading.order import code_of, homings, in_order, labels, refuse_twice
from holdzero.inputs.reading.pairs import side_by_side
from holdzero.inputs.reading.plausible import directions, refuse_standing, times
from holdzero.inputs.reading.spans import holds_spans, spans_of
from holdzero.inputs.reading.values import Homings, Protocol, Readings

T = TypeVar("T")

YES_OR_NO = {"yes": True, "true": True, "y": True, "x": True, "1": True} | dict.fromkeys(
    ("", "no", "false", "n", "0"), False
)


def read_readings(
    text: str | Iterable[str],
    *,
    where: str = "",
    resolution_mm: float | None = None,
    protocol: Protocol | None = None,
    step_mm: float | None = None,
) -> Readings:
    r"""Read a readings file.

    Parameters
    ----------
    text : str or iterable of str
        The whole file, or its lines: a header row, then one row a reading. See `holdzero.inputs.reading.columns`
        for the headings.
    where : str, default ""
        Name of the file, for messages.
    resolution_mm : float, optional
        Step of the display, where the file does not say. [mm]
    protocol : Protocol, optional
        How the readings were taken, where the file does not say; else `Protocol.OUTSIDE`.
    step_mm : float, optional
        Way of one step, for ``deviation_steps`` without a column ``step_mm``. [mm]

    Returns
    -------
    Readings
        Groups in the order they first appear (of a file of spans: `Readings.spans`, see `spans_of`); within a
        group sets and homings by their times and numbers, and only where nothing says it in the order of the
        file. Without a column ``set`` a group is one set; without ``homing`` its readings are counted in order.
        Notes name what was left unused and where the file contradicts itself.

    Raises
    ------
    InputError
        Names file, line and column: a cell that is not what its heading says, one homing twice, two
        resolutions or protocols in one group (of one trial; those of several trials are put together as a book
        puts them).

    Notes
    -----
    Where cells are separated by semicolons or tabs a comma is a decimal comma. Two readings of the same
    homing are refused unless one is marked as ``repeat`` or set aside: a file pasted twice would halve
    the doubt. They may differ in direction, condition or speed, though.

    Examples
    --------
    >>> readings = read_readings("side,set,deviation_mm\nL,1,0.003\nR,1,-0.001\nL,2,0.004\n")
    >>> [(group.side, group.deviation_mm.tolist()) for group in readings.groups]
    [('L', [0.003, 0.004]), ('R', [-0.001])]
    """
    if not isinstance(text, str):
        text = "".join(line if line.endswith("\n") else line + "\n" for line in text)
    return readings_of(
        read_cells(text, where=where),
        resolution_mm=resolution_mm,
        protocol=protocol,
        step_mm=step_mm,
        digest=hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest(),
    )


def read_trials(text: str, *, where: str = "") -> tuple[tuple[str, Readings], ...]:
    r"""Read a readings file, each trial that its column ``trial`` names by itself.

    Parameters
    ----------
    text : str
        The whole file, as for `read_readings`.
    where : str, default ""
        Name of the file, for messages.

    Returns
    -------
    tuple of (str, Readings)
        Label of each trial, in the order of the file, and its readings without that label. One with an empty label
        and all that is in the file where it names fewer than two trials, or leaves out the trial of a row.

    Raises
    ------
    InputError
        As `read_readings`.

    Examples
    --------
    >>> [(label, r.groups[0].homing.size) for label, r in read_trials("trial,deviation_mm\nA,0.1\nB,0\nB,0.2\n")]
    [('A', 1), ('B', 2)]
    """
    cells = read_cells(text, where=where)
    column = next((column for column in cells.columns if plain(column.heading) == "trial"), None)
    if column is None or len(column.words) < 2 or "" in column.words:
        return (("", read_readings(text, where=where)),)
    unlabelled = replace(cells, columns=tuple(left for left in cells.columns if left is not column))
    _, first = np.unique(column.codes, return_index=True)
    trials = []
    for code in column.codes[np.sort(first)].tolist():
        label = column.words[code]
        digest = hashlib.sha256(f"{label}\n{text}".encode("utf-8", "surrogatepass")).hexdigest()
        trials.append((label, readings_of(_rows_of(unlabelled, column.codes == code), digest=digest)))
    return tuple(trials)


def readings_of(
    cells: Cells,
    *,
    resolution_mm: float | None = None,
    protocol: Protocol | None = None,
    step_mm: float | None = None,
    digest: str = "",
) -> Readings:
    """Read columns that are told apart already; as `read_readings`. `digest`: of what they came from."""
    if holds_spans([column.heading for column in cells.columns]):
        spans, notes = spans_of(cells, resolution_mm=resolution_mm, protocol=protocol)
        return Readings((), notes, digest, spans)
    cells = side_by_side(cells)
    plan = layout(cells)
    speed, temperature, to_index = (
        numbers(cells, plan, name) for name in ("speed", "temperature", "trip_to_index")
    )
    refuse_standing(cells, plan, speed)
    deviation, resolution, in_steps = deviations(cells, plan, step_mm=step_mm, resolution_mm=resolution_mm)
    words = {name: word_column(cells, plan, name) for name in ("sensor", "axis", "condition")}
    for name, allowed in (("sensor", name_of), ("axis", name_of), ("set", name_of), ("condition", remark_of)):
        cells.read_words(word_column(cells, plan, name), allowed)
    words["time"], of_times = times(cells, plan)
    side = _parsed(cells, plan, "side", side_of)
    repeat = _parsed(cells, plan, "repeat", _yes_or_no)
    set_aside = _parsed(cells, plan, "set_aside", _reason)
    protocol_words = _parsed(cells, plan, "protocol", _protocol)
    left_out = _parsed(cells, plan, "left_out", _reason)
    kind = _parsed(cells, plan, "kind", kind_of)
    own_label = labels(cells, plan)
    label, label_code = own_label.cells, own_label.codes
    trial, event = (word_column(cells, plan, name) for name in ("trial", "event"))
    if any(trial.words):
        label, label_code = of_trials(trial.cells, label), code_of(trial.codes, label_code)
    group = code_of(words["sensor"].codes, words["axis"].codes, np.searchsorted(["", "L", "R"], side))
    refuse_many_series(int(group.max(initial=-1)) + 1, where=cells.where)
    apart = code_of(group, trial.codes)
    ways = ((resolution, ~np.isnan(resolution)), (protocol_words, protocol_words != ""))
    several = len(trial.words) > 1 and any(_several(group, *way) for way in ways)
    if several and not any(_several(apart, *way) for way in ways):
        return _of_each_trial(cells, apart, resolution_mm, protocol, step_mm, digest)
    words["direction"] = directions(cells, plan, group)
    block = code_of(group, label_code)  # one set of one group
    homing = homings(cells, plan, block, repeat)
    counted = ~repeat & (set_aside == "") & (left_out == "")
    refuse_twice(cells, block, homing, counted, words["direction"].codes, words["condition"].codes, speed)
    by_group, out_of_order = in_order(
        cells,
        group,
        block,
        homing,
        numbered="homing" in plan.words,
        own_label=own_label,
        trial=trial.codes,
        time=words["time"],
        counted=counted,
    )
    resolutions = _one_each(cells, group, resolution, ~np.isnan(resolution), "resolution")
    protocols = _one_each(cells, group, protocol_words, protocol_words != "", "protocol")
    notes = (
        *plan.notes,
        *in_steps,
        *of_times,
        *out_of_order,
        *_unneeded(resolution_mm, resolutions, "resolution"),
        *_unneeded(protocol, protocols, "protocol"),
    )
    columns = {name: column.cells for name, column in words.items()}
    trial_words, event_words = trial.cells, event.cells
    extra = {column.heading: column.cells for column in plan.unknown}
    groups = tuple(
        Homings(
            sensor=str(columns["sensor"][rows[0]]),
            axis=str(columns["axis"][rows[0]]),
            side=str(side[rows[0]]),
            deviation_mm=rows_of(deviation, rows),
            set_label=rows_of(label, rows),
            homing=rows_of(homing, rows),
            speed_mm_s=rows_of(speed, rows),
            temperature_degc=rows_of(temperature, rows),
            direction=rows_of(columns["direction"], rows),
            time=rows_of(columns["time"], rows),
            condition=rows_of(columns["condition"], rows),
            set_aside=rows_of(set_aside, rows),
            repeat=rows_of(repeat, rows),
            resolution_mm=resolution_mm if r is None else float(r),
            protocol=Protocol(str(way or protocol or Protocol.OUTSIDE)),
            line=rows_of(cells.line, rows),
            extra={heading: rows_of(column, rows) for heading, column in extra.items()},
            trial=_if_any(rows_of(trial_words, rows)),
            kind=_if_any(rows_of(kind, rows)),
            event=_if_any(rows_of(event_words, rows)),
            left_out=_if_any(rows_of(left_out, rows)),
            trip_to_index_mm=None if np.isnan(rows_of(to_index, rows)).all() else rows_of(to_index, rows),
        )
        for rows, r, way in zip(by_group, resolutions, protocols, strict=True)
    )
    return Readings(groups, notes, digest)


def _several(group: Codes, values: NDArray[Any], stated: NDArray[np.bool_]) -> bool:
    """Whether a group states several values."""
    different, codes = np.unique(values[stated], return_inverse=True)
    if different.size < 2:
        return False
    return bool(np.unique(code_of(group[stated], codes)).size > np.unique(group[stated]).size)


def _of_each_trial(
    cells: Cells,
    apart: Codes,
    resolution_mm: float | None,
    protocol: Protocol | None,
    step_mm: float | None,
    digest: str,
) -> Readings:
    """Read each trial by itself where they were read in different ways, and put them together as a book does."""
    notes: list[str] = []
    parts: dict[tuple[str, str, str], list[Homings]] = {}
    _, first = np.unique(apart, return_index=True)
    for code in apart[np.sort(first)].tolist():
        read = readings_of(
            _rows_of(cells, apart == code), resolution_mm=resolution_mm, protocol=protocol, step_mm=step_mm
        )
        notes += read.notes
        for group in read.groups:
            parts.setdefault((group.sensor, group.axis, group.side), []).append(group)
    groups = []
    for trials in parts.values():
        group, protocol_words = together(trials)
        groups.append(group)
        notes += protocol_words
    return Readings(tuple(groups), tuple(dict.fromkeys(notes)), digest)


def _rows_of(cells: Cells, rows: NDArray[np.bool_]) -> Cells:
    columns = []
    for column in cells.columns:
        used, codes = np.unique(column.codes[rows], return_inverse=True)
        columns.append(Column(column.heading, codes, tuple(column.words[i] for i in used)))
    return replace(cells, columns=tuple(columns), line=cells.line[rows])


def _parsed(cells: Cells, plan: ColumnLayout, name: str, read: Callable[[str], T]) -> NDArray[Any]:
    column = word_column(cells, plan, name)
    return column.read_as(np.array(cells.read_words(column, read)))


def _yes_or_no(word: str) -> bool:
    return one_of(word, YES_OR_NO, "yes or no")


def _if_any(words: NDArray[np.str_]) -> NDArray[np.str_] | None:
    return words if (words != "").any() else None


def _reason(word: str) -> str:
    return "" if YES_OR_NO.get(word.casefold()) is False else word


def _protocol(word: str) -> str:
    return str(protocol_of(word) or "")


def _one_each(
    cells: Cells, group: Codes, values: NDArray[Any], per_group: NDArray[np.bool_], name: str
) -> list[Any]:
    """Return the one value of each group, None where it is not given."""
    per_group_value: list[Any] = [None] * (int(group.max()) + 1)
    rows = np.flatnonzero(per_group)
    if not rows.size:
        return per_group_value
    pairs = code_of(group[rows], np.unique(values[rows], return_inverse=True)[1])
    for row in rows[np.unique(pairs, return_index=True)[1]]:
        of, value = int(group[row]), values[row].item()
        if per_group_value[of] is not None:
            raise InputError(
                where=cells.place(int(row)),
                found=f"a second {name} for the same sensor, axis and side ({value} after {per_group_value[of]})",
                need=f"one {name} for all of its readings",
                do="keep readings taken in two ways in two files",
            )
        per_group_value[of] = value
    return per_group_value


def _unneeded(option: object, of_groups: Sequence[object], name: str) -> tuple[str, ...]:
    """Say where an option gave way to what the file says."""
    if option is None or all(value is None or value == option for value in of_groups):
        return ()
    return (f"The file states the {name} itself: that counts, not {option}.",)
