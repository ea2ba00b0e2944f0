"""Columns: rows of a log in order, by whatever way is quickest, against a plain sort of them."""

import numpy as np
import pytest

from holdzero.inputs.log.columns import LogColumns, TimesWritten, form_of, in_every_row, moments_s

MACHINES, AXES = 300, 2
UTC = form_of(19, letter_t=True, zone_min=0)


def log_of(*, machines: int, step_us: int, span_us: int, sides: bool, seed: int) -> LogColumns:
    draw, rows = np.random.default_rng(seed), 4000
    written_us = draw.integers(0, span_us // step_us, rows) * step_us
    form = in_every_row(UTC, rows)
    return LogColumns(
        machines=tuple(f"m{number:03d}" for number in range(machines)),
        axes=("X", "Y"),
        machine=draw.integers(0, machines, rows),
        axis=draw.integers(0, AXES, rows) if sides else in_every_row(1, rows),
        side=draw.integers(0, 3, rows) if sides else in_every_row(0, rows),
        times=TimesWritten(written_us, form),
        moment_s=moments_s(written_us, form),
        value_mm={"deviation": draw.integers(-5, 5, rows) / 1000},
    )


def rows_of(log: LogColumns) -> list[tuple[float, ...]]:
    columns = (log.machine, log.axis, log.side, log.moment_s, log.value_mm["deviation"], log.times.written_us)
    return list(zip(*(column.tolist() for column in columns), strict=True))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("sides", [True, False])
@pytest.mark.parametrize(
    ("step_us", "span_us"),
    [(10**6, 10**10), (1, 10**10), (1, 2**52), (1, 2**62)],  # one number holds all, but the row, but the time
    ids=["seconds", "microseconds", "years of microseconds", "ages of microseconds"],
)
@pytest.mark.parametrize("machines", [1, 20, MACHINES])
def test_by_machine_axis_side_and_time(machines, step_us, span_us, sides, seed):
    log = log_of(machines=machines, step_us=step_us, span_us=span_us, sides=sides, seed=seed)
    ordered = log.in_order()
    assert rows_of(ordered) == sorted(rows_of(log))
    assert (moments_s(ordered.times.written_us, ordered.times.form) == ordered.moment_s).all()
    assert rows_of(ordered.in_order()) == rows_of(ordered)


def test_what_is_the_same_in_every_row_is_stored_once():
    log = log_of(machines=20, step_us=10**6, span_us=10**10, sides=False, seed=1).in_order()
    assert {column.strides for column in (log.axis, log.side, log.times.form)} == {(0,)}
