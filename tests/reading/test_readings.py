"""The readings file: every heading, every way people write numbers, every slip with its place."""

import hashlib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdzero.errors import InputError
from holdzero.form.bounds import MOST_COLUMNS, MOST_SERIES
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.inputs.reading.order import code_of
from holdzero.memory import weight

FILE = """\
sensor,axis,side,set,homing,deviation_mm,speed_mm_s,temperature_degc,direction,time,resolution_mm,set_aside,repeat,condition,protocol
A,Y,L,1,1,0.000,2,20.5,+,2026-03-07T09:01,0.001,,,spindle off,first
A,Y,R,1,1,-0.001,2,20.5,+,2026-03-07T09:01,0.001,,,spindle off,first
A,Y,L,1,2,0.003,2,,+,,0.001,bumped the stand,,spindle off,first
A,Y,L,1,2,0.004,2,,+,,0.001,,,spindle off,first
A,Y,L,1,2,0.004,2,,+,,0.001,,yes,spindle off,first
B,Y,L,1,1,1.5e-3,2,,+,,,,,,
"""


def one(text, **options):
    (group,) = read_readings(text, **options).groups
    return group


def test_every_heading():
    readings = read_readings(FILE, where="trial.csv")
    a_left, a_right, b_left = readings.groups
    assert [(g.sensor, g.axis, g.side) for g in readings.groups] == [
        ("A", "Y", "L"),
        ("A", "Y", "R"),
        ("B", "Y", "L"),
    ]
    assert a_left.deviation_mm.tolist() == [0, 0.003, 0.004, 0.004]
    assert a_left.set_label.tolist() == ["1"] * 4
    assert a_left.homing.tolist() == [1, 2, 2, 2]
    assert a_left.set_aside.tolist() == ["", "bumped the stand", "", ""]
    assert a_left.repeat.tolist() == [False, False, False, True]
    assert a_left.counted.tolist() == [True, False, True, False]
    assert a_left.speed_mm_s.tolist() == [2] * 4
    np.testing.assert_equal(a_left.temperature_degc, [20.5, np.nan, np.nan, np.nan])
    assert a_left.time.tolist() == ["2026-03-07T09:01", "", "", ""]
    assert a_left.direction.tolist() == ["+"] * 4
    assert a_left.condition.tolist() == ["spindle off"] * 4
    assert a_left.line.tolist() == [2, 4, 5, 6]
    assert (a_right.protocol, a_right.resolution_mm) == (Protocol.FIRST, 0.001)
    assert (b_left.protocol, b_left.resolution_mm) == (Protocol.OUTSIDE, None)
    assert readings.notes == ()
    assert readings.digest == hashlib.sha256(FILE.encode()).hexdigest()


def test_deviations_alone():
    group = one("deviation_mm\n0.003\n\n-0.001\n   \n+.5\n")
    assert group.deviation_mm.tolist() == [0.003, -0.001, 0.5]
    assert (group.set_label.tolist(), group.homing.tolist()) == (["1"] * 3, [1, 2, 3])
    assert group.line.tolist() == [2, 4, 6]
    assert (group.sensor, group.axis, group.side, group.resolution_mm) == ("", "", "", None)


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("deviation_mm", ["0.0127", "-0.0254"]),
        ("deviation_um", ["12.7", "-25.4"]),
        ("deviation_in", ["0.0005", "-0.001"]),
        ("deviation_thou", ["0.5", "−1"]),  # minus sign, U+2212
        ("Deviation (µm)", ["1.27e1", "-25.4"]),
        ("Deviation [mm]", ["12.7 um", " -1 thou "]),  # a cell may bring its own unit
    ],
)
def test_units_of_the_heading(heading, cells):
    assert one("\n".join([heading, *cells])).deviation_mm == pytest.approx([0.0127, -0.0254], rel=1e-12)


def test_microns_and_millimetres_are_the_same_float():
    microns = one("deviation_um\n" + "\n".join(str(n) for n in range(1000))).deviation_mm
    assert microns.tolist() == [float(f"{n / 1000:.3f}") for n in range(1000)]


def test_speeds_and_temperatures_in_other_units():
    group = one("deviation_mm,speed_mm_min,temperature_degf\n0,120,68\n")
    assert (group.speed_mm_s.tolist(), group.temperature_degc.tolist()) == ([2], [20])


class TestSteps:
    """Readings in steps: 10 mm lead, 200 full steps, 16 microsteps, 3.125 um each."""

    def test_step_from_a_column_or_an_option(self):
        assert one("deviation_steps,step_mm\n2,0.003125\n").deviation_mm.tolist() == [0.00625]
        assert one("deviation_steps\n-2\n", step_mm=0.003125).deviation_mm.tolist() == [-0.00625]

    def test_one_step_is_their_resolution_and_that_is_said(self):
        readings = read_readings("deviation_steps\n2\n", step_mm=0.003125)
        assert readings.groups[0].resolution_mm == 0.003125
        assert "one step is taken as their resolution" in readings.notes[0]
        assert one("deviation_steps\n2\n", step_mm=0.003125, resolution_mm=0.0).resolution_mm == 0

    def test_without_a_step_size(self):
        with pytest.raises(InputError, match="line 2, column deviation_steps: found readings in steps without"):
            read_readings("deviation_steps\n2\n")


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_delimiters_line_ends_and_byte_order_marks(delimiter, newline, mark):
    rows = [["set", "deviation_mm", "sensor"], ["1", "0.003", "A"], ["1", "-0.002", "A"]]
    group = one(mark + newline.join(delimiter.join(row) for row in rows))
    assert (group.deviation_mm.tolist(), group.sensor) == ([0.003, -0.002], "A")


@pytest.mark.parametrize("delimiter", [";", "\t"])
def test_decimal_commas_where_commas_do_not_separate(delimiter):
    text = "set;deviation_mm;temperature_degc\n1;0,003;20,5\n1;-1,250;21\n".replace(";", delimiter)
    assert one(text).deviation_mm.tolist() == [0.003, -1.25]
    assert one("deviation_mm\n0,003\n").deviation_mm.tolist() == [0.003]


def test_quoted_cells():
    group = one('sensor,deviation_mm,condition\n"A, left",0.003,"two\nlines"\n"A, left",0.004,"say ""no"""\n')
    assert group.sensor == "A, left"
    assert group.condition.tolist() == ["two\nlines", 'say "no"']
    assert group.line.tolist() == [3, 4]


def test_lines_comments_and_trailing_delimiters():
    text = "# made up\n\nset,deviation_mm,\n1,0.003,\n1,0.004\n"
    group = one(text)
    assert (group.deviation_mm.tolist(), group.line.tolist()) == ([0.003, 0.004], [4, 5])
    by_line = read_readings(iter(text.splitlines()))
    assert by_line.digest == read_readings(text).digest


def test_sides_as_people_write_them():
    readings = read_readings("side,deviation_mm\nl,0\nRIGHT,1\nLeft,2\nR,3\n")
    assert [(g.side, g.deviation_mm.tolist()) for g in readings.groups] == [("L", [0, 2]), ("R", [1, 3])]


def test_homings_are_counted_in_order_within_each_set_and_repeats_belong_to_the_one_before():
    text = "set,side,repeat,deviation_mm\n1,L,,0\n1,R,,0\n1,L,yes,0\n1,L,,0\n2,L,,0\n1,R,,0\n2,L,x,0\n"
    left, right = read_readings(text).groups
    assert left.homing.tolist() == [1, 1, 2, 1, 1]
    assert right.homing.tolist() == [1, 2]


def test_options_say_what_the_file_does_not():
    text = "sensor,deviation_mm,resolution_mm,protocol\nA,0,0.01,first\nB,0,,\n"
    readings = read_readings(text, resolution_mm=0.001, protocol=Protocol.PREVIOUS_RESET)
    a, b = readings.groups
    assert (a.resolution_mm, a.protocol) == (0.01, Protocol.FIRST)
    assert (b.resolution_mm, b.protocol) == (0.001, Protocol.PREVIOUS_RESET)
    assert readings.notes == (
        "The file states the resolution itself: that counts, not 0.001.",
        "The file states the protocol itself: that counts, not previous-reset.",
    )


def test_unknown_columns_are_kept_and_named():
    readings = read_readings("deviation_mm,temprature_degc,mood\n0,20,fair\n")
    assert readings.groups[0].extra["mood"].tolist() == ["fair"]
    assert readings.notes == (
        "Column temprature_degc is kept but not used; did you mean temperature_degc.",
        "Column mood is kept but not used.",
    )


class TestOrder:
    """Homings are put in the order they were taken in, as far as their numbers and times say it."""

    HEAD = "sensor,set,homing,time,deviation_mm\n"

    @staticmethod
    def values(text: str) -> list[float]:
        return read_readings(text, where="t.csv").groups[0].deviation_mm.tolist()

    def test_by_homing_number_and_said(self):
        readings = read_readings("set,homing,deviation_mm\n1,2,0.2\n1,1,0.1\n2,1,0.3\n", where="t.csv")
        assert readings.groups[0].deviation_mm.tolist() == [0.1, 0.2, 0.3]
        assert readings.notes[0].startswith(
            "t.csv, line 2: the file is not in the order the homings were taken in"
        )

    def test_sets_by_number(self):
        assert self.values("set,deviation_mm\n10,3\n2,1\n2,2\n") == [1, 2, 3]

    def test_names_of_sets_say_no_order(self):
        assert self.values("set,deviation_mm\nnoon,3\nmorning,1\nnoon,4\n") == [3, 4, 1]

    def test_times_before_numbers_of_sets(self):
        text = self.HEAD + "A,1,1,2026-03-02T09:00,3\nA,2,1,2026-03-01T09:00,1\nA,2,2,2026-03-01T09:05,2\n"
        assert self.values(text) == [1, 2, 3]

    def test_times_within_a_set_without_numbers(self):
        text = "set,time,deviation_mm\n1,2026-03-01T09:05,2\n1,2026-03-01T09:00,1\n"
        assert self.values(text) == [1, 2]

    def test_nothing_says_it(self):
        readings = read_readings("deviation_mm\n3\n1\n2\n")
        assert readings.groups[0].deviation_mm.tolist() == [3, 1, 2]
        assert readings.notes == ()

    def test_two_directions_under_one_number_stay(self):
        text = "homing,direction,deviation_mm\n1,+,1\n2,+,2\n1,-,3\n2,-,4\n"
        assert self.values(text) == [1, 2, 3, 4]

    def test_a_repeat_stays_behind_its_homing(self):
        text = "homing,repeat,deviation_mm\n2,,3\n2,yes,4\n1,,1\n1,yes,2\n"
        assert self.values(text) == [1, 2, 3, 4]

    def test_a_file_sorted_by_deviation_changes_nothing(self):
        """The same readings, sorted as a spreadsheet may have left them."""
        rng = np.random.default_rng(3)
        rows = [f"A,{k},{i},{rng.normal(0, 0.005):.4f}" for k in range(1, 9) for i in range(1, 6)]
        head = "sensor,set,homing,deviation_mm\n"
        as_taken, by_size = (
            read_readings(head + "\n".join(lines)).groups[0]
            for lines in (rows, sorted(rows, key=lambda row: float(row.split(",")[3])))
        )
        assert by_size.deviation_mm.tolist() == as_taken.deviation_mm.tolist()
        assert by_size.set_label.tolist() == as_taken.set_label.tolist()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "^t.csv: found no header row"),
        ("\n \n", "found no header row"),
        ("deviation_mm\n", "found no row below the headings"),
        ("0.003\n0.004\n", 'headings: found the columns "0.003"; needed is one of deviation_mm'),
        ("sensor,deviation\nA,0\n", "needed is one of deviation_mm"),
        (
            "deviation_mm,deviation_um\n0,0\n",
            '"deviation_mm" and "deviation_um"; needed is one column for deviation',
        ),
        ("deviation_mm,set,set\n0,1,1\n", 'line 1: found the heading "set" twice'),
        ("deviation_mm,Set,set\n0,1,1\n", '"Set" and "set"; needed is one column for set'),
        ("deviation_mm,\n0,1\n", "line 1: found cells below an empty heading"),
        ("set,deviation_mm\n1,0\n1,0,003\n", 'line 3: found more than 2 cells.*"003".*decimal sign'),
        (
            "set,deviation_mm,speed_mm_s\n1,0,003\n",
            "line 2, column speed_mm_s: .*without leading zeros.*semicolons",
        ),
        ("set,deviation_mm\n1,0\n1,\n", "line 3, column deviation_mm: found an empty cell"),
        ("deviation_mm\n0\nabc\n", 'line 3, column deviation_mm: found "abc"; needed is a length'),
        ("deviation_mm\n1_000\n", "line 2, column deviation_mm"),
        ("deviation_mm\nnan\n", 'found "nan"'),
        ("deviation_mm\ninf\n", 'found "inf"'),
        ("deviation_mm\n5 V\n", "a voltage; needed is a length"),
        ('deviation_mm,set\n"1,300",1\n', "may mean 1.3 or 1300"),
        ("deviation_mm;set\n1.5;1\n1,5;1\n", "line 2, column deviation_mm: .*one decimal sign in a column"),
        ("deviation_mm;set\n1.300,5;1\n", "one decimal sign in a column"),
        ("deviation_mm,speed_mm_s\n0,fast\n", 'line 2, column speed_mm_s: found "fast"; needed is a speed'),
        ("deviation_mm,side\n0,middle\n", "line 2, column side: .*needed is L or R"),
        ("deviation_mm,repeat\n0,often\n", "needed is yes or no"),
        ("deviation_mm,protocol\n0,third\n", "needed is a protocol: outside, first, previous"),
        ("deviation_mm,homing\n0,1.5\n", "column homing: .*not whole"),
        ("deviation_mm,homing\n0,-1\n", "column homing: .*below 0"),
        ("deviation_mm,homing\n0,1e11\n", "column homing: .*number of a homing"),
        ("deviation_mm,homing\n0,1\n0,\n", "line 3, column homing: found an empty cell"),
        ("deviation_mm,set\n0,1\n0,\n", "line 3, column set: found an empty cell"),
        ("deviation_mm,resolution_mm\n0,-0.1\n", "column resolution_mm: found a resolution below zero"),
        ("deviation_mm,resolution_mm\n0,0.1\n0,0.01\n", "line 3: found a second resolution"),
        ("deviation_mm,protocol\n0,first\n0,outside\n", "line 3: found a second protocol"),
        ("deviation_mm,homing\n0,1\n0,2\n0,1\n", r"line 4: found homing 1 of its set again \(first in line 2\)"),
        ('deviation_mm,set\n0,"1\n0,1\n', "found cells that cannot be told apart"),
        ('deviation_mm,set\n0,"1"x\n', "line 2: found cells that cannot be told apart"),
        ("deviation_mm,set\n0,1\x00\n", "a control character"),
    ],
)
def test_slips_name_their_place(text, says):
    with pytest.raises(InputError, match=says) as caught:
        read_readings(text, where="t.csv")
    assert str(caught.value).isprintable()
    assert caught.value.where.startswith("t.csv")


def test_a_slip_far_down_still_names_its_line():
    rows = ["0.001"] * 5000
    rows[4321] = "oops"
    with pytest.raises(InputError, match="line 4323, column deviation_mm"):
        read_readings("\n".join(["deviation_mm", *rows]))


def test_one_homing_may_be_read_from_both_directions():
    group = one("homing,direction,deviation_mm\n1,+,0\n1,-,0.01\n")
    assert group.counted.all()


rows = st.lists(
    st.tuples(
        st.sampled_from(["A", "B"]),
        st.sampled_from(["L", "R"]),
        st.integers(1, 3).map(str),
        st.floats(-5, 5).map(repr),
        st.sampled_from(["", "2", "0.5"]),
        st.sampled_from(["", "coolant on"]),
    ),
    min_size=1,
    max_size=12,
)
HEADINGS = ("sensor", "side", "set", "deviation_mm", "speed_mm_s", "condition")


def as_file(headings, table, delimiter=","):
    return "\n".join(delimiter.join(row) for row in [headings, *table]) + "\n"


def same(one, other):
    assert one.notes == other.notes
    for a, b in zip(one.groups, other.groups, strict=True):
        for name in a.__slots__:
            np.testing.assert_equal(getattr(a, name), getattr(b, name), name)


@given(rows, st.permutations(range(len(HEADINGS))), st.sampled_from(",;\t"))
def test_shuffled_columns_and_other_delimiters_give_the_same_readings(table, order, delimiter):
    shuffled = as_file([HEADINGS[i] for i in order], [[row[i] for i in order] for row in table], delimiter)
    same(read_readings(as_file(HEADINGS, table)), read_readings(shuffled))


@given(rows)
def test_groups_hold_every_row_once_sets_by_number_and_rows_as_in_the_file(table):
    groups = read_readings(as_file(HEADINGS, table)).groups
    for group in groups:
        mine = [row for row in table if (row[0], row[1]) == (group.sensor, group.side)]
        if all(row[2].isdecimal() for row in mine):
            mine.sort(key=lambda row: int(row[2]))
            assert group.deviation_mm.tolist() == [float(row[3]) for row in mine]
    assert sum(group.line.size for group in groups) == len(table)
    firsts = [group.line.min() for group in groups]
    assert firsts == sorted(firsts)


@given(rows)
def test_writing_commas_for_points_changes_nothing(table):
    table = [(*row[:3], f"{float(row[3]):.4f}", *row[4:]) for row in table]
    commas = [(*row[:3], row[3].replace(".", ","), row[4].replace(".", ","), row[5]) for row in table]
    same(read_readings(as_file(HEADINGS, table)), read_readings(as_file(HEADINGS, commas, ";")))


def test_replace_keeps_working_on_the_values():
    """Other parts make new groups of old ones."""
    group = one("deviation_mm\n0\n")
    assert replace(group, sensor="A").sensor == "A"


def test_what_a_file_does_not_say_takes_no_room():
    """A million readings bring deviation, set, homing and line: 40 bytes each, and the rest once."""
    rows = [f"{i // 250 + 1},{i % 250 + 1},{i % 7 / 1000}" for i in range(20_000)]
    (group,) = read_readings("set,homing,deviation_mm\n" + "\n".join(rows)).groups
    assert weight(group) < 45 * 20_000
    assert (group.speed_mm_s.size, group.time.size, group.set_aside.size) == (20_000,) * 3
    assert np.isnan(group.temperature_degc[[0, 19_999]]).all()


@pytest.mark.parametrize("far", [1, 10**5])
def test_combinations_are_numbered_as_they_first_appear(far):
    """Of few codes and of codes so far apart that they are sorted first."""
    rng = np.random.default_rng(5)
    first, second = rng.integers(0, 4, 500), rng.integers(0, 6, 500) * far
    seen: dict[tuple[int, int], int] = {}
    expected = [seen.setdefault(pair, len(seen)) for pair in zip(first.tolist(), second.tolist(), strict=True)]
    assert code_of(first, second).tolist() == expected


class TestVeryWide:
    """20 000 columns are read; what is said of them stays short."""

    def test_columns_that_are_not_used_are_named_up_to_twelve(self):
        unused = [f"note {i}" for i in range(MOST_COLUMNS - 1)]
        readings = read_readings(as_file(["deviation_mm", *unused], [["0.001", *["a"] * len(unused)]]))
        assert len(readings.notes) == 13
        assert readings.notes[-1] == f"{MOST_COLUMNS - 13} more columns are kept but not used."
        assert len(readings.groups[0].extra) == len(unused)

    def test_more_are_refused(self):
        headings = ["deviation_mm", *(f"note {i}" for i in range(MOST_COLUMNS))]
        with pytest.raises(InputError, match=f"more than {MOST_COLUMNS} columns"):
            read_readings(as_file(headings, [["0.001"] * len(headings)]))

    def test_a_heading_twice_among_them_is_found(self):
        headings = ["deviation_mm", *(f"note {i}" for i in range(9_000)), "note 8999"]
        with pytest.raises(InputError, match='"note 8999" twice'):
            read_readings(as_file(headings, [["0.001"] * len(headings)]))


def test_as_many_candidates_as_no_trial_has_are_refused():
    rows = [[f"S{i}", "0.001"] for i in range(MOST_SERIES + 1)]
    read_readings(as_file(["sensor", "deviation_mm"], rows[:-1]))
    with pytest.raises(InputError, match=f"{MOST_SERIES + 1} candidates, axes and sides; needed is at most 500"):
        read_readings(as_file(["sensor", "deviation_mm"], rows))
