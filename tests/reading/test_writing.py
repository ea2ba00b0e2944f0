"""Readings written as a file read back as they were."""

import csv
from io import StringIO

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from holdzero import demo
from holdzero.inputs.reading import Protocol, read_readings, write_readings

ODD = (
    "sensor,axis,side,set,homing,deviation_um,speed_mm_s,temperature_degc,direction,condition,set_aside,repeat,operator\n"
    'A,Y,L,1,1,0.1,2,,in,"wet, cold",,,K\n'
    "A,Y,L,1,1,0.3,2,20.5,in,,,yes,K\n"
    "B,Y,,cold,2,1e-7,,,,,slip,,\n"
)


@pytest.mark.parametrize(
    "read",
    [
        read_readings(demo.readings_csv()),
        read_readings(ODD, resolution_mm=1e-4, protocol=Protocol.ENCODER),
    ],
    ids=["the demo", "every column"],
)
def test_round_trip(read):
    again = read_readings(write_readings(read))
    assert len(again.groups) == len(read.groups)
    for was, now in zip(read.groups, again.groups, strict=True):
        assert (was.sensor, was.axis, was.side, was.resolution_mm, was.protocol) == (
            now.sensor,
            now.axis,
            now.side,
            now.resolution_mm,
            now.protocol,
        )
        for name in ("deviation_mm", "speed_mm_s", "temperature_degc", "homing", "repeat"):
            np.testing.assert_array_equal(getattr(now, name), getattr(was, name))
        for name in ("set_label", "direction", "time", "condition", "set_aside"):
            assert getattr(now, name).tolist() == getattr(was, name).tolist()
        assert {key: column.tolist() for key, column in now.extra.items()} == {
            key: column.tolist() for key, column in was.extra.items()
        }


WORD = st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=8).map(str.strip)


@settings(deadline=None)
@example([("A", "wet\rcold"), ("A", 'a "b"\r\nc'), ("", "x\n\ny;\t,")])
@given(st.lists(st.tuples(WORD, WORD), min_size=1, max_size=4))
def test_words_come_back_whatever_is_in_them(rows):
    """Line ends of either kind, quotes, delimiters: as another program's CSV holds them, and as ours does."""
    out = StringIO(newline="")
    numbered = ((i, *row) for i, row in enumerate(rows))
    csv.writer(out).writerows([("deviation_mm", "sensor", "condition"), *numbered])
    read = read_readings(out.getvalue())
    for readings in (read, read_readings(write_readings(read))):
        found = {
            int(number): (group.sensor, word)
            for group in readings.groups
            for number, word in zip(group.deviation_mm, group.condition.tolist(), strict=True)
        }
        assert [found[i] for i in range(len(rows))] == rows
