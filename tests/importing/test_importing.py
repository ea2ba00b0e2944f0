"""Importing: tables as people have them; what each column is, what was left out and why."""

import csv
import io
from dataclasses import replace
from datetime import datetime

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdzero.errors import InputError
from holdzero.inputs.importing import preview, read_grid, take
from holdzero.inputs.reading import Protocol


def workbook(rows, title="Trial", **more) -> bytes:
    book = openpyxl.Workbook()
    book.active.title = title
    for row in rows:
        book.active.append(row)
    for name, sheet in more.items():
        other = book.create_sheet(name)
        for row in sheet:
            other.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def taken(content, **change):
    seen = preview(read_grid(content, name="shed"))
    return take(seen.grid, replace(seen.choice, **change))


def seems(content) -> list[tuple[str, str]]:
    return [(column.seems, column.unit) for column in preview(read_grid(content)).columns]


class TestDelimiters:
    """CSV, TSV, semicolon and decimal comma, pasted columns."""

    @pytest.mark.parametrize(
        "text",
        [
            "set,deviation_mm\n1,0.012\n1,-0.003\n",
            "set;deviation_mm\n1;0,012\n1;-0,003\n",
            "set\tdeviation_mm\n1\t0,012\n1\t-0.003\n",
            "0.012\n-0.003\n",
            "0,012\n-0,003\n",
            "home 1: 0.012 mm\nhome 2: -0.003 mm ok.\n",
            "1\t0.012\n2\t−0,003\n",
        ],
    )
    def test_the_same_two_readings(self, text: str):
        (group,) = taken(text).readings.groups
        assert group.deviation_mm.tolist() == [0.012, -0.003]

    def test_every_coding_a_spreadsheet_writes(self):
        for coding in ("utf-8", "utf-8-sig", "utf-16", "cp1252"):
            assert seems("Dial [µm]\n12\n-3\n".encode(coding)) == [("deviation", "um")]

    def test_a_comma_may_be_told_to_stand_between_cells(self):
        grid = read_grid("1,5\n2,7\n", delimiter=",")
        assert take(grid, preview(grid).choice).readings.groups[0].deviation_mm.tolist() == [5, 7]

    @pytest.mark.parametrize(
        ("content", "said"),
        [
            (b"\xd0\xcf\x11\xe0old", "old kind"),
            (b"PK\x03\x04cut short", "whole XLSX"),
            (b"\x81\x00\x01", "no text"),
            (b"  \n", "nothing"),
            (b"sensor;note\nA;first\n", "no column of readings"),
            (b"deviation_mm\nx\n", "no number"),
        ],
    )
    def test_what_cannot_be_read_is_told(self, content: bytes, said: str):
        with pytest.raises(InputError, match=said):
            taken(content)


class TestColumns:
    """What each column seems to be, and in which unit."""

    def test_headings_people_write(self):
        assert seems("Power-up;Run no.;Side;Dial (thou);Temp [degF];Remarks;Operator\n1;1;L;0,5;68;;x\n") == [
            ("set", ""),
            ("homing", ""),
            ("side", ""),
            ("deviation", "thou"),
            ("temperature", "degF"),
            ("condition", ""),
            ("", ""),
        ]

    def test_without_headings(self):
        assert seems("1;L;0,012\n2;R;0,010\n3;L;-0,004\n") == [("homing", ""), ("side", ""), ("deviation", "mm")]

    def test_units_are_converted(self):
        """0.5 thou = 0.0127 mm; 68 degF = 20 degC."""
        (group,) = taken("Dial (thou);Temp [degF]\n0,5;68\n").readings.groups
        assert (group.deviation_mm.tolist(), group.temperature_degc.tolist()) == ([0.0127], [20])

    def test_the_unit_of_a_cell_counts_before_that_of_its_column(self):
        (group,) = taken("Dial (mm)\n0.01\n0.5 thou\n").readings.groups
        assert group.deviation_mm.tolist() == [0.01, 0.0127]

    def test_steps_take_their_size_as_the_resolution(self):
        (group,) = taken("reading [steps]\n3\n-1\n", step_mm=0.0125).readings.groups
        assert (group.deviation_mm.tolist(), group.resolution_mm) == (pytest.approx([0.0375, -0.0125]), 0.0125)
        with pytest.raises(InputError, match="size of a step"):
            taken("reading [steps]\n3\n-1\n")

    def test_sides_in_columns(self):
        left, right = taken("Set;L;R\n1;0,01;0,02\n1;0,03;0,04\n").readings.groups
        assert (left.side, left.deviation_mm.tolist(), right.deviation_mm.tolist()) == (
            "L",
            [0.01, 0.03],
            [0.02, 0.04],
        )

    def test_sets_in_columns(self):
        (group,) = taken("Set 1\tSet 2\n0.01\t0.02\n0.03\t0.04\n0.05\t\n").readings.groups
        assert group.set_label.tolist() == ["1", "1", "1", "2", "2"]
        assert group.deviation_mm.tolist() == [0.01, 0.03, 0.05, 0.02, 0.04]

    def test_the_choice_says_the_rest(self):
        (group,) = taken(
            "0.1\n", sensor="A", axis="Y", side="L", protocol=Protocol.FIRST, resolution_mm=0.01
        ).readings.groups
        assert (group.sensor, group.axis, group.side, group.protocol) == ("A", "Y", "L", Protocol.FIRST)


class TestLeftOut:
    """What is left out is said with its line and its reason; nothing vanishes."""

    def test_summaries_and_remarks(self):
        found = taken("Set;Dial (mm)\n1;0,01\n1;spindle on\n\n2;0,02\nMean;0,015\nSt.dev;0,007\n")
        assert [(one.line, one.why) for one in found.left_out] == [
            (3, "it holds no number"),
            (6, "it looks like a summary"),
            (7, "it looks like a summary"),
        ]
        assert found.n == 2

    def test_every_line_is_taken_or_left_out(self):
        text = "".join(f"{'' if i % 3 else 'home '}{i / 100 if i % 5 else 'missed'}\n" for i in range(1, 40))
        found = taken(text)
        assert found.n + len(found.left_out) == 39

    @pytest.mark.parametrize(
        ("line", "figure_mm"),
        [
            ("home 1 - 0.012", 0.012),
            ("home 1 − 0.012", 0.012),
            ("home 1: - 0.012", -0.012),
            ("- 0.012", -0.012),
            ("home 1 -0.012", -0.012),
            ("–0.012", -0.012),
        ],
    )
    def test_a_minus_with_spaces_around_it_is_a_dash_and_that_is_said(self, line: str, figure_mm: float):
        seen = preview(read_grid(f"{line}\n{line}"))
        assert taken(f"{line}\n{line}").readings.groups[0].deviation_mm.tolist() == [figure_mm] * 2
        assert any("taken as a dash" in note for note in seen.notes) == (figure_mm > 0)

    def test_a_label_above_a_block_counts_for_the_block(self):
        found = taken("Set;Dial (mm)\n1;0,01\n;0,02\n2;0,03\n;0,04\n")
        assert found.readings.groups[0].set_label.tolist() == ["1", "1", "2", "2"]
        assert "taken as the one above" in found.notes[0]

    def test_an_empty_line_is_a_power_up(self):
        assert taken("0.01\n0.02\n\n0.03\n").readings.groups[0].set_label.tolist() == ["1", "1", "2"]
        assert taken("0.01\n\n0.03\n", gaps=False).readings.groups[0].set_label.tolist() == ["1", "1"]

    def test_a_contradiction_names_the_line_of_the_file(self):
        with pytest.raises(InputError, match=r"shed, line 4: found homing 1 of its set again \(first in line 2\)"):
            taken("Set;Run;Dial (mm)\n1;1;0,01\n1;2;0,02\n1;1;0,03\n")


class TestWorkbook:
    """XLSX through openpyxl: the cells' values, not their looks."""

    ROWS = (("Set", "Dial (mm)", "When"), (1, 0.012, datetime(2026, 3, 7, 9, 30)), (None, -0.003, None))

    def test_numbers_dates_and_empty_cells(self):
        (group,) = taken(workbook(self.ROWS)).readings.groups
        assert group.deviation_mm.tolist() == [0.012, -0.003]
        assert (group.set_label.tolist(), group.time.tolist()) == (["1", "1"], ["2026-03-07T09:30:00", ""])

    def test_the_first_sheet_with_something_in_it(self):
        grid = read_grid(workbook((), Second=self.ROWS))
        assert (grid.sheets, grid.sheet) == (("Trial", "Second"), "Second")
        with pytest.raises(InputError, match=r"no sheet .Third."):
            read_grid(workbook(self.ROWS), sheet="Third")


NUMBERS = st.decimals(-50, 50, places=4)
ROW = st.tuples(st.sampled_from(["A", "B, long", 'C "x"']), st.sampled_from("12"), NUMBERS)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    rows=st.lists(ROW, min_size=1, max_size=8), form=st.sampled_from([",", ";", "\t", "xlsx"]), comma=st.booleans()
)
def test_a_table_means_the_same_in_every_form(rows, form, comma):
    """Hypothesis tests of import round trips."""
    head = ("sensor", "set", "Dial (mm)")
    if form == "xlsx":
        content = workbook([head, *((sensor, int(label), float(value)) for sensor, label, value in rows)])
    else:
        out = io.StringIO()
        spelled = [
            (s, label, str(v).replace(".", ",") if comma and form != "," else str(v)) for s, label, v in rows
        ]
        csv.writer(out, delimiter=form).writerows([head, *spelled])
        content = out.getvalue().encode()
    found = {
        (group.sensor, label, deviation_mm)
        for group in taken(content).readings.groups
        for label, deviation_mm in zip(group.set_label.tolist(), group.deviation_mm.tolist(), strict=True)
    }
    assert found == {(sensor, label, float(value)) for sensor, label, value in rows}
    assert taken(content).n == len(rows)


@pytest.mark.parametrize(
    "text", ["Set,Least (mm),Greatest (mm),n\n1,0,0.01,5\n", "Power-up;Min;Max;Count\n1;0;0,01;5\n2;0;0,02;5\n"]
)
def test_spans_are_not_taken_for_readings(text):
    """The least reading of each power-up is no homing, and the last column of numbers is how many there were."""
    with pytest.raises(InputError, match="least_mm and greatest_mm"):
        preview(read_grid(text))


def test_marks_of_rows_and_the_way_to_the_index_come_in_with_any_table():
    """Worked by hand: a table with other headings, one reading left out, a flag touched before the third."""
    text = (
        "Power-up;Dial (mm);kind;event;left_out;trip_to_index_um\n"
        "1;0,012;;;;1200\n1;0,010;;;bumped;1190\n2;-0,003;confirming;flag;;1210\n"
    )
    (group,) = taken(text).readings.groups
    assert group.left_out.tolist() == ["", "bumped", ""]
    assert group.event.tolist() == ["", "", "flag"]
    assert group.kind.tolist() == ["", "", "confirming"]
    assert group.trip_to_index_mm.tolist() == pytest.approx([1.2, 1.19, 1.21])


class TestColumnsSideBySide:
    """Several columns of readings at once."""

    @pytest.mark.parametrize(
        "heads", ["Left;Right", "Left (mm);Right (mm)", "L [mm];R [mm]", "left_mm;right_mm", "Right;Left"]
    )
    def test_left_and_right_of_one_homing(self, heads):
        found = taken(f"Power-up;Homing;{heads}\n1;1;0,010;0,020\n1;2;0,011;0,021\n2;1;0,012;\n", sensor="A")
        by_side = {group.side: group for group in found.readings.groups}
        left, right = (by_side[side].deviation_mm.tolist() for side in "LR")
        if heads.startswith("R"):
            left, right = right, left
        assert (left, right) == ([0.010, 0.011, 0.012], [0.020, 0.021])
        assert by_side["L"].set_label.tolist()[:2] == ["1", "1"]

    def test_the_unit_of_the_headings_counts(self):
        found = taken("Set;Left (um);Right (um)\n1;10;-4\n")
        assert {group.side: group.deviation_mm.tolist() for group in found.readings.groups} == {
            "L": [0.010],
            "R": [-0.004],
        }

    def test_two_units_are_refused(self):
        with pytest.raises(InputError, match="different units"):
            preview(read_grid("Set;Left (um);Right (mm)\n1;10;-4\n"))

    def test_a_column_for_each_candidate(self):
        found = taken("Power-up;Sensor A;Sensor B\n1;0.010;0.020\n1;0.011;0.021\n")
        assert [group.sensor for group in found.readings.groups] == ["A", "B"]

    def test_the_shape_of_the_printed_trial_sheet(self):
        """A row for each candidate and side, the homings in columns 1, 2, 3; an empty line is a power-up."""
        sheet = (
            "Candidate;Side;Time;Temp. (degC);1;2;3\nA;left;10:00;18,5;0,010;0,011;0,012\n"
            "A;right;10:00;18,5;0,020;0,021;\n\nA;left;10:20;19;0,013;0,014;0,015\n"
        )
        found = taken(sheet)
        left, right = found.readings.groups
        assert (left.side, right.side) == ("L", "R")
        assert left.deviation_mm.tolist() == [0.010, 0.011, 0.012, 0.013, 0.014, 0.015]
        assert (left.set_label.tolist(), left.homing.tolist()) == (["1"] * 3 + ["2"] * 3, [1, 2, 3, 1, 2, 3])
        assert right.deviation_mm.tolist() == [0.020, 0.021]
        assert left.temperature_degc.tolist() == [18.5] * 3 + [19.0] * 3

    def test_a_column_for_each_of_many_power_ups(self):
        """Headings, cells and what is said of them: nothing grows with the square of the columns."""
        n = 5_000
        headings = ["homing", *(f"set {i}" for i in range(n - 20)), *(f"remark {i}" for i in range(19))]
        line = [*(f"0.00{i % 9}" for i in range(n - 20)), *["a"] * 19]
        seen = preview(read_grid("\n".join([";".join(headings), *(f"{h};" + ";".join(line) for h in (1, 2))])))
        taken_readings = take(seen.grid, seen.choice)
        assert taken_readings.n == 2 * (n - 20)
        (group,) = taken_readings.readings.groups
        assert group.set_label[[0, 1, -1]].tolist() == ["0", "0", str(n - 21)]
        assert seen.notes[0].startswith("Not used: remark 1, ")  # the first is taken as a condition
        assert seen.notes[0].endswith(", and 6 more columns.")
