"""Marks of single rows of a readings file: the same answer from the file and from the book it was brought into."""

import csv
import sqlite3
from contextlib import closing
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.testclient import TestClient

from bringing_in import bring_in
from case.books import SENSORS, Trialled, one_motor, readings_csv
from holdzero.case import Case, How, Texts
from holdzero.case.in_book import InBook
from holdzero.cli import cli
from holdzero.errors import InputError
from holdzero.form import EXAMPLE, write_toml
from holdzero.inputs.reading import Labelled, Readings, counting, joined, read_readings, write_readings
from holdzero.inputs.reading.digest import digest_of
from holdzero.inputs.reading.levels import level_of
from holdzero.store import NewReading, Unreadable, check, open_book, read_archive, rescue
from holdzero.web.app import create_app

MARKS = ("trial", "kind", "event", "left_out", "operator")  # operator: a column that is kept but not used
KEPT = {  # by set and homing: what stands beside a reading
    ("1", "2"): {"left_out": "hand on the indicator"},
    ("3", "1"): {"event": "a flag was touched", "left_out": "chip under the tip"},
    ("5", "1"): {"event": "a bracket was touched"},
    ("6", "3"): {"operator": "the keeper"},
}


def marked(*, seed: int = 1) -> str:
    """Rows of K on X: two trials, the second one confirming, with marks of single rows."""
    rows = list(csv.DictReader(StringIO(readings_csv(Trialled(axis="X", sensors=("K",), seed=seed)))))
    for row in rows:
        late = int(row["set"]) > 4
        row |= dict.fromkeys(MARKS, "") | {"trial": "Autumn" if late else "", "kind": "confirming" if late else ""}
        row |= KEPT.get((row["set"], row["homing"]), {})
        row["set"] = str(int(row["set"]) - 4) if late else row["set"]  # each trial counts its sets from 1
    text = StringIO()
    table = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    return text.getvalue()


def brought_in(path: Path, text: str, way: str) -> int:
    """Bring a readings file into a new book; return its machine."""
    with open_book(path) as book:
        machine_id = book.add_machine(one_motor())
        book.add_sensor(machine_id, "K", SENSORS["K"])
        if way == "book":
            book.import_readings(book.add_trial(machine_id, name="One"), read_readings(text))
        if way == "page":
            with TestClient(create_app(book), base_url="http://127.0.0.1") as client:
                bring_in(client, f"/machines/{machine_id}/import", files={"file": ("readings.csv", text)})
    if way == "terminal":
        path.with_suffix(".csv").write_text(text)
        done = CliRunner().invoke(cli, ["import", str(path.with_suffix(".csv")), "--book", str(path)])
        assert done.exit_code == 0, done.output
    return machine_id


def from_files(text: str, how: How) -> Case:
    sensors = write_toml({"sensors": {"K": SENSORS["K"]}})
    return Case(Texts(files={"machine": write_toml(one_motor()), "sensors": sensors, "readings": text}, how=how))


def told(readings: Readings) -> list[dict[str, list[object]]]:
    """Every column of every group, line of the file apart."""
    names = ("deviation_mm", "set_label", "homing", "set_aside", "left_out", "event", "kind", "trial")
    return [
        {name: [] if (column := getattr(group, name)) is None else column.tolist() for name in names}
        | {heading: column.tolist() for heading, column in group.extra.items()}
        for group in readings.groups
    ]


@pytest.mark.parametrize("way", ["book", "terminal", "page"])
def test_the_file_and_the_book_say_the_same(tmp_path, way):
    """Findings, choice with its verdicts, standing and digests; and the book gives the marks back."""
    machine_id = brought_in(tmp_path / "shed.holdzero", marked(), way)
    with open_book(tmp_path / "shed.holdzero") as book:
        there = Case(InBook(book, book.machine(machine_id)))
        here = from_files(marked(), there.basis.how)
        assert told(there.basis.readings) == told(here.basis.readings)
        assert there.study.digest == here.study.digest
        if way == "book":
            of_file, of_book = here.as_json(), there.as_json()
            for part in ("study", "choice"):
                assert of_file[part].pop("notes") == ["Column operator is kept but not used."]
                assert of_book[part].pop("notes") == []
            assert of_book == of_file
            assert there.judged.confirming == here.judged.confirming
            day = there.basis.today
            assert there.standings_on(day).as_json() == here.standings_on(day).as_json()
        assert there.rests_on == here.rests_on == "30 homings of 1 candidate, 2 trials; 2 left out."
        assert there.study.of("K", "X", "").n == 30
        exported = there.basis.texts["readings"]
    assert told(read_readings(exported)) == told(read_readings(marked()))
    assert write_readings(read_readings(exported)) == exported


def test_what_a_mark_is_for_counts_in_the_book(tmp_path):
    """Not only kept: the book without the marks says something else."""
    plain = brought_in(tmp_path / "plain.holdzero", readings_csv(Trialled(axis="X", sensors=("K",))), "book")
    machine_id = brought_in(tmp_path / "marked.holdzero", marked(), "book")
    with open_book(tmp_path / "plain.holdzero") as without, open_book(tmp_path / "marked.holdzero") as with_marks:
        unmarked = Case(InBook(without, without.machine(plain)))
        case = Case(InBook(with_marks, with_marks.machine(machine_id)))
        assert unmarked.study.of("K", "X", "").spread != case.study.of("K", "X", "").spread
        assert (unmarked.judged.confirming, case.judged.confirming.sensor.name) == (None, "K")
        (group,) = case.readings.groups
        assert level_of(group.set_label, group.event).max() == 2  # flag and bracket: three levels


ROWS = st.lists(
    st.tuples(
        st.sampled_from(["", "Spring", "Autumn: late"]),
        st.sampled_from(["1", "2"]),
        st.sampled_from(["", "trial", "long run", "confirming"]),
        st.sampled_from(["", "flag", 'the "old" bracket, twice']),
        st.sampled_from(["", "bumped"]),
        st.sampled_from(["", "K", "ä\n;"]),
    ),
    min_size=1,
    max_size=12,
)


@pytest.fixture(scope="module")
def one_book(tmp_path_factory):
    with open_book(tmp_path_factory.mktemp("marks") / "all.holdzero") as book:
        yield book, book.add_machine(one_motor())


@settings(max_examples=25)
@given(ROWS)
def test_whatever_is_marked_comes_back(one_book, rows):
    book, machine_id = one_book
    text = StringIO(newline="")
    headings = ("trial", "set", "kind", "event", "left_out", "operator", "deviation_mm", "condition")
    csv.writer(text).writerows([headings, *((*row, i / 1000, str(i)) for i, row in enumerate(rows))])
    read = read_readings(text.getvalue())
    trial_id = book.add_trial(machine_id, name="Any")
    book.import_readings(trial_id, read)
    kept = joined([Labelled("Any", book.readings(trial_id))])
    assert digest_of(kept.groups) == digest_of(read.groups)
    assert [{h: c.tolist() for h, c in group.extra.items() if c.any()} for group in kept.groups] == [
        {h: c.tolist() for h, c in group.extra.items() if c.any()} for group in read.groups
    ]


def test_archive_and_rescue_carry_the_marks(tmp_path):
    path = tmp_path / "shed.holdzero"
    machine_id = brought_in(path, marked(), "book")
    with open_book(path) as book:
        readings = book.readings(1)
        book.leave_out(book.rows(1)[0].id, "bumped")
        book.leave_out(book.rows(1)[0].id, "")
        book.export(tmp_path / "shed.zip")
    read_archive(tmp_path / "shed.zip", tmp_path / "again.holdzero")
    assert rescue(path, tmp_path / "rescued.holdzero").lost == ()
    for name in ("again", "rescued"):
        with open_book(tmp_path / f"{name}.holdzero") as book:
            assert told(book.readings(1)) == told(readings)
            assert [(act.before, act.after) for act in book.acts("readings", 1)] == [
                ("", "bumped"),
                ("bumped", ""),
            ]
            assert (book.machine(machine_id).machine.name, book.machine(machine_id).invented) == ("Mill", EXAMPLE)


@pytest.mark.parametrize(
    ("column", "value", "complaint"), [("kind", "a long one", "one of trial, long run"), ("beside", "{1}", "JSON")]
)
def test_a_mark_that_no_file_could_hold_is_named(tmp_path, column, value, complaint):
    path = tmp_path / "shed.holdzero"
    brought_in(path, marked(), "book")
    assert check(path).wrong == ()
    with closing(sqlite3.connect(path)) as sqlite, sqlite:
        sqlite.execute(f"update reading set {column} = ? where id = 7", [value])
    wrong, *_ = check(path).wrong  # behind it: that its digest is another
    assert wrong.startswith("reading 7")
    assert complaint in wrong
    with open_book(path) as book, pytest.raises(Unreadable, match="reading 7"):
        book.readings(1)


def test_a_book_of_the_tables_before_has_no_marks(tmp_path):
    from holdzero.store import file

    path = tmp_path / "old.holdzero"
    file.made(path, schema=5).dispose()
    with open_book(path) as book:
        trial_id = book.add_trial(book.add_machine(one_motor()), name="One")
        book.add_reading(trial_id, NewReading(sensor="K", axis="X", side="", set_label="1", deviation_mm=0.1))
        (group,) = book.readings(trial_id).groups
        assert (group.trial, group.kind, group.event, group.left_out) == (None,) * 4


class TestSingleReadings:
    """Left out, counted again and begun anew by a kept act."""

    def test_each_act_stays(self, tmp_path):
        brought_in(tmp_path / "shed.holdzero", marked(), "book")
        with open_book(tmp_path / "shed.holdzero") as book:
            first = book.rows(1)[0]
            book.leave_out(first.id, " bumped ")
            assert book.rows(1)[0].left_out == "bumped"
            book.begin_level(first.id, "flag")
            book.leave_out(first.id, "")
            book.set_aside(first.id, "misread")
            book.label_trial(1, left_out="the stand was loose")
            book.label_trial(1, left_out="")
            assert [(act.mark, act.before, act.after) for act in book.acts("reading", first.id)] == [
                ("left_out", "", "bumped"),
                ("event", "", "flag"),
                ("left_out", "bumped", ""),
                ("set_aside", "", "misread"),
            ]
            assert [(act.before, act.after) for act in book.acts("trial", 1)] == [
                ("", "the stand was loose"),
                ("the stand was loose", ""),
            ]

    def test_a_trial_left_out_keeps_the_reasons_of_its_readings(self):
        (group,) = joined([Labelled("One", read_readings(marked()), left_out="loose")]).groups
        assert set(group.left_out.tolist()) == {"loose", "hand on the indicator", "chip under the tip"}

    def test_a_kind_that_there_is_not_is_refused(self, tmp_path):
        brought_in(tmp_path / "shed.holdzero", marked(), "book")
        with open_book(tmp_path / "shed.holdzero") as book, pytest.raises(InputError, match="one of trial"):
            book.label_trial(1, kind="a long one")


def test_what_happened_before_a_reading_left_out_happened_all_the_same():
    """By hand: set 3 begins a level; its first reading, or all of it, is left out."""
    rows = [f"{number},{0.001 * number},{{}}" for number in (1, 1, 2, 2, 3, 3, 4, 4)]
    for left in ((4,), (4, 5)):
        marks = ["flag," if i == 4 else "," for i in range(8)]
        marks = [mark + ("bumped" if i in left else "") for i, mark in enumerate(marks)]
        text = "set,deviation_mm,event,left_out\n" + "\n".join(map(str.format, rows, marks)) + "\n"
        (group,) = counting(read_readings(text)).groups
        levels = level_of(group.set_label, group.event)
        np.testing.assert_array_equal(levels, (group.set_label.astype(int) >= 3).astype(int))


def test_two_trials_of_one_name_read_back_from_their_file():
    """Sets of both are called 1 to 8: sixteen power-ups, in the book's order, from the file as well."""
    trials = [Labelled("Again", read_readings(readings_csv(Trialled(axis="X", seed=seed)))) for seed in (1, 2)]
    together = joined(trials)
    (k, _) = together.groups
    assert len(set(k.set_label.tolist())) == 16
    assert told(read_readings(write_readings(together))) == told(together)
