"""Book: what goes in comes out, nothing is lost, nothing counts twice."""

import json
from pathlib import Path

import numpy as np
import pytest

from holdzero import demo
from holdzero.errors import BookError, InputError
from holdzero.form import EXAMPLE, read_toml
from holdzero.inputs.log import LogEntry
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.store import Book, NewReading, NotInBook, Outcome, file, open_book

MACHINE = {
    "machine": {"name": "Bench mill"},
    "requirement": {"position": "0.5 thou"},
    "axes": {"X": {"travel": "9 in"}},
}


@pytest.fixture
def book(new_book: Path | str):
    with open_book(new_book) as opened:
        yield opened


@pytest.fixture
def trial(book: Book) -> int:
    return book.add_trial(book.add_machine(MACHINE), name="First")


def reading(deviation_mm: float = 0.01, **more) -> NewReading:
    return NewReading(
        **{"sensor": "A", "axis": "Y", "side": "L", "set_label": "1"} | more, deviation_mm=deviation_mm
    )


def test_homings_that_a_trial_has_do_not_come_in_twice(book: Book, trial: int):
    """Another file with a homing that was typed in: refused as within one file, unless it is said to be meant."""
    book.add_reading(trial, reading(homing=2))
    text = "sensor,axis,side,set,homing,deviation_mm\nA,Y,L,1,1,0.1\nA,Y,L,1,2,0.2\n"
    with pytest.raises(InputError, match=r"homing 2 of set 1 \(A Y L\) a second time"):
        book.import_readings(trial, read_readings(text))
    assert len(book.rows(trial)) == 1
    assert book.import_readings(trial, read_readings(text.replace("L,1", "L,2"))).readings == 2
    assert book.import_readings(trial, read_readings(text), again=True).readings == 2


def test_what_was_taken_back_is_counted_of_a_machine(book: Book, trial: int):
    """Readings and log entries alike; not those of another machine, nor of a trial that is out of sight."""
    machine, second = 1, book.add_machine(MACHINE | {"machine": {"name": "Second"}})
    ids = [book.add_reading(trial, reading(0.001 * i)) for i in range(3)]
    entries = [LogEntry(moment_s=1.7e9 + i, time=str(i), axis="X", deviation_mm=0.001) for i in range(2)]
    book.add_log(machine, entries)
    assert book.taken_back(machine) == 0
    for reading_id in ids[:2]:
        book.undo(reading_id)
    book.undo_logged(1)
    assert (book.taken_back(machine), book.taken_back(second)) == (3, 0)
    book.remove_trial(trial)
    assert book.taken_back(machine) == 1


class TestMachinesAndSensors:
    """What was typed is kept as typed, and read by the reader of the files."""

    def test_a_machine_comes_back_as_it_was_typed_and_as_it_is_read(self, book: Book):
        kept = book.machine(book.add_machine(MACHINE, remark="on the bench"))
        assert kept.document == MACHINE
        assert kept.remark == "on the bench"
        assert kept.machine.requirement.position_mm == pytest.approx(0.0127)  # 0.5 x 25.4 / 1000

    def test_a_demo_of_before_says_itself_that_it_is_invented(self, tmp_path: Path):
        """Its remark alone said so up to tables 7; a text that cannot be read is left as it is."""
        path = tmp_path / "old.holdzero"
        engine = file.made(path, schema=7)
        with engine.connect().execution_options(writes=True) as c, c.begin():
            for text in (json.dumps(MACHINE), "{"):
                c.exec_driver_sql("insert into machine (document, remark) values (?, ?)", (text, demo.INVENTED))
        engine.dispose()
        with open_book(path) as book:
            assert book.machine(1).machine.example
            assert book.machine(1).invented == demo.INVENTED
            assert book.machine_text(2) == "{"

    def test_invented_is_a_field_and_not_a_remark(self, book: Book):
        noted = book.machine(book.add_machine(MACHINE, remark="its own entry was lost"))
        marked = MACHINE | {"machine": MACHINE["machine"] | {"example": True}}
        assert (noted.remark, noted.invented) == ("its own entry was lost", "")
        assert book.machine(book.add_machine(marked)).invented == EXAMPLE

    def test_what_the_reader_refuses_does_not_come_in(self, book: Book):
        with pytest.raises(InputError, match="position"):
            book.add_machine(MACHINE | {"requirement": {"position": "a hair"}})
        assert book.machines() == ()

    def test_a_machine_taken_out_is_still_in_the_file(self, book: Book):
        key = book.add_machine(MACHINE)
        book.remove_machine(key)
        assert book.machines() == ()
        assert book.machine(key).machine.name == "Bench mill"

    def test_what_is_not_in_the_book_says_so(self, book: Book):
        with pytest.raises(NotInBook, match="no machine 7"):
            book.machine(7)
        with pytest.raises(NotInBook, match="no reading 7"):
            book.undo(7)

    def test_a_name_belongs_to_one_candidate_of_a_machine(self, book: Book):
        first, second = book.add_machine(MACHINE), book.add_machine(MACHINE)
        book.add_sensor(first, "A", {"kind": "lever"})
        book.add_sensor(second, "A", {"kind": "plunger"})
        with pytest.raises(InputError, match="a second sensor 'A'"):
            book.add_sensor(first, "A", {})

    def test_homings_follow_a_candidate_to_its_new_name(self, book: Book, trial: int):
        machine_id = book.trial(trial).machine_id
        key = book.add_sensor(machine_id, "A", {})
        book.add_reading(trial, reading())
        other = book.add_trial(book.add_machine(MACHINE), name="Elsewhere")
        book.add_reading(other, reading())
        book.change_sensor(key, "B", {"price": "3"})
        assert [group.sensor for group in book.readings(trial).groups] == ["B"]
        assert [group.sensor for group in book.readings(other).groups] == ["A"]
        assert book.begin_power_up(trial, sensor="B", axis="Y") == "2"


class TestReadings:
    """Undo marks, nothing is deleted; a reading set aside stays with its reason."""

    def test_homings_are_counted_within_their_set_and_side(self, book: Book, trial: int):
        for side, label in (("L", "1"), ("R", "1"), ("L", "1"), ("L", "2")):
            book.add_reading(trial, reading(side=side, set_label=label))
        left, right = book.readings(trial).groups
        assert (left.set_label.tolist(), left.homing.tolist()) == (["1", "1", "2"], [1, 2, 1])
        assert right.homing.tolist() == [1]

    def test_a_reading_again_has_the_number_of_its_homing(self, book: Book, trial: int):
        book.add_reading(trial, reading())
        book.add_reading(trial, reading(repeat=True))
        (group,) = book.readings(trial).groups
        assert (group.homing.tolist(), group.repeat.tolist()) == ([1, 1], [False, True])

    def test_taking_back_marks_and_frees_the_number(self, book: Book, trial: int):
        slip = book.add_reading(trial, reading(9.9))
        book.undo(slip)
        second = book.add_reading(trial, reading(0.01))
        (group,) = book.readings(trial).groups
        assert group.deviation_mm.tolist() == [0.01]
        assert [(row.homing, bool(row.undone)) for row in book.rows(trial, undone=True)] == [(1, True), (1, False)]
        with pytest.raises(InputError, match=r"another reading of homing 1 that counts: 0\.01"):
            book.redo(slip)
        book.undo(second)
        book.redo(slip)
        assert book.readings(trial).groups[0].deviation_mm.tolist() == [9.9]

    def test_set_aside_stays_visible_with_its_reason(self, book: Book, trial: int):
        key = book.add_reading(trial, reading())
        book.set_aside(key, " knocked the stand ")
        assert book.readings(trial).groups[0].set_aside.tolist() == ["knocked the stand"]
        book.set_aside(key, "")
        assert book.readings(trial).groups[0].counted.all()

    def test_the_same_ticket_counts_once(self, book: Book, trial: int):
        first = book.add_reading(trial, reading(ticket="t1"))
        assert book.add_reading(trial, reading(ticket="t1")) == first
        with pytest.raises(InputError, match="one reading at a time"):
            book.add_reading(trial, reading(0.5, ticket="t1"))
        assert len(book.rows(trial)) == 1

    def test_how_they_were_taken_can_be_put_right(self, book: Book, trial: int):
        book.add_reading(trial, reading())
        how = {"sensor": "A", "axis": "Y", "side": "L"}
        book.read_as(trial, **how, resolution_mm=0.01, protocol=Protocol.FIRST)
        (group,) = book.readings(trial).groups
        assert (group.resolution_mm, group.protocol) == (0.01, Protocol.FIRST)

    def test_the_digest_is_of_all_a_figure_depends_on(self, book: Book, trial: int):
        key = book.add_reading(trial, reading())
        before = book.readings(trial).digest
        assert book.readings(trial).digest == before
        book.set_aside(key, "slip")
        assert book.readings(trial).digest != before

    def test_the_newest_come_in_the_order_taken(self, book: Book, trial: int):
        for deviation_mm in (0.1, 0.2, 0.3):
            book.add_reading(trial, reading(deviation_mm))
        assert [row.deviation_mm for row in book.rows(trial, newest=2)] == [0.2, 0.3]

    def test_series_come_in_the_order_they_began_and_homings_in_the_order_taken(self, book: Book, trial: int):
        """A series began with the first of its homings that counts, whatever came in first."""
        taken_back = book.add_reading(trial, reading(0.9))
        for deviation_mm, sensor in ((0.1, "B"), (0.3, "A"), (0.2, "B"), (0.1, "A")):
            book.add_reading(trial, reading(deviation_mm, sensor=sensor))
        assert [group.sensor for group in book.readings(trial).groups] == ["A", "B"]
        book.undo(taken_back)
        groups = book.readings(trial).groups
        assert [group.sensor for group in groups] == ["B", "A"]
        assert [group.deviation_mm.tolist() for group in groups] == [[0.1, 0.2], [0.3, 0.1]]

    def test_a_doubt_stands_until_someone_answers(self, book: Book, trial: int):
        """Far out is asked about, never refused: the reading counts from the first moment."""
        key = book.add_reading(trial, reading(1.03, doubt="0.93 mm away from the others."))
        (row,) = book.rows(trial)
        assert row.asked
        assert row.remarks == ("far out, not confirmed",)
        assert book.readings(trial).groups[0].deviation_mm.tolist() == [1.03]
        book.confirm(key)
        assert not book.rows(trial)[0].asked

    def test_a_reading_taken_back_is_not_asked_about(self, book: Book, trial: int):
        book.undo(book.add_reading(trial, reading(1.03, doubt="far")))
        assert not book.rows(trial, undone=True)[0].asked

    def test_sets_of_one_candidate_and_the_newest_alone(self, book: Book, trial: int):
        for sensor in "AB":
            for _ in range(3):
                book.begin_power_up(trial, sensor=sensor, axis="Y")
        assert [one.label for one in book.power_ups(trial, sensor="A", axis="Y")] == ["1", "2", "3"]
        assert [(one.sensor, one.label) for one in book.power_ups(trial, newest=2)] == [("B", "2"), ("B", "3")]

    def test_all_readings_are_counted(self, book: Book, trial: int):
        assert book.count(trial) == 0
        book.undo(book.add_reading(trial, reading()))
        book.add_reading(trial, reading(side="R"))
        assert book.count(trial) == 2


class TestImport:
    """`book.readings` gives what a file gives."""

    def test_a_file_comes_out_of_the_book_as_it_went_in(self, book: Book, trial: int):
        """The invented demo: every column of every group equal."""
        given = read_readings(demo.readings_csv(), where="demo")
        assert book.import_readings(trial, given).readings == sum(group.homing.size for group in given.groups)
        found = book.readings(trial)
        for before, after in zip(given.groups, found.groups, strict=True):
            assert after.extra.keys() == before.extra.keys()
            for heading in before.extra:
                np.testing.assert_array_equal(after.extra[heading], before.extra[heading], err_msg=heading)
            for name in (name for name in before.__slots__ if name not in ("line", "extra")):
                np.testing.assert_array_equal(getattr(after, name), getattr(before, name), err_msg=name)

    def test_a_file_joins_what_was_typed(self, book: Book, trial: int):
        book.add_reading(trial, reading(set_label="1"))
        csv = "sensor,axis,side,set,deviation_mm\nA,Y,L,2,0.004\n"
        book.import_readings(trial, read_readings(csv))
        assert book.readings(trial).groups[0].set_label.tolist() == ["1", "2"]

    def test_readings_taken_in_another_way_need_a_trial_of_their_own(self, book: Book, trial: int):
        book.add_reading(trial, reading(resolution_mm=0.01))
        with pytest.raises(InputError, match="begin a new trial"):
            book.import_readings(trial, read_readings("sensor,axis,side,deviation_mm\nA,Y,L,0.004\n"))
        assert len(book.rows(trial)) == 1


class TestOtherSheets:
    """Results with digest and version; settings of the book."""

    def test_the_newest_sheet_comes_first_and_older_ones_stay(self, book: Book):
        machine_id = book.add_machine(MACHINE)
        for turn in (1, 2):
            book.add_sheet(machine_id, "square", {"round": turn})
        assert book.sheets(machine_id, "square") == ({"round": 2}, {"round": 1})
        assert book.sheets(machine_id, "wiring") == ()

    def test_a_result_keeps_what_it_came_from(self, book: Book):
        machine_id = book.add_machine(MACHINE)
        book.add_result(machine_id, kind="record", digest="abc", version="0.1.0", document={"choice": None})
        (kept,) = book.results(machine_id, "record")
        assert (kept.digest, kept.version, kept.document) == ("abc", "0.1.0", {"choice": None})

    def test_a_noise_count_stays_and_can_be_taken_back(self, book: Book, trial: int):
        first = book.add_noise_count(trial, condition="as it runs", trips=9, watched_s=3600, note="damp day")
        book.add_noise_count(trial, condition="all quiet", trips=0, watched_s=1800)
        kept = book.noise_counts(trial)
        assert [(one.condition, one.trips, one.watched_s) for one in kept] == [
            ("as it runs", 9, 3600.0),
            ("all quiet", 0, 1800.0),
        ]
        assert kept[0].note == "damp day"
        book.undo_noise_count(first)
        assert [one.condition for one in book.noise_counts(trial)] == ["all quiet"]

    def test_of_a_checked_item_the_last_counts_and_the_older_stay(self, book: Book):
        machine_id = book.add_machine(MACHINE)
        book.add_check(machine_id, item="stop", outcome=Outcome.FAILED, measured="0.9 s", note="relay sticks")
        book.add_check(
            machine_id, item="stop", outcome=Outcome.DONE, measured="0.2 s", checked_by="the second one"
        )
        found = book.checks(machine_id)
        assert [(one.outcome, one.measured) for one in found] == [
            (Outcome.FAILED, "0.9 s"),
            (Outcome.DONE, "0.2 s"),
        ]
        assert {one.item: one.checked_by for one in found} == {"stop": "the second one"}

    def test_the_system_of_lengths_belongs_to_the_book(self, book: Book):
        assert book.system == "metric"
        book.keep_setting("system", "inch")
        assert book.system == "inch"


def test_a_trial_of_another_machine_is_not_shown(book: Book):
    first, second = book.add_machine(read_toml(demo.machine_toml())), book.add_machine(MACHINE)
    book.add_trial(first, name="Y")
    assert book.trials(second) == ()


def test_a_book_open_for_reading_only_says_why(book: Book, trial: int):
    book.shelf.read_only = "It is a copy."
    with pytest.raises(BookError, match="It is a copy"):
        book.add_reading(trial, reading())
    assert book.trial(trial).name == "First"


class TestImportedTwice:
    """Import twice is noticed, whatever form it comes in."""

    CSV = "sensor,axis,side,set,deviation_mm\nA,Y,L,1,0.004\nA,Y,L,1,0.002\n"
    OTHER_FORM = "sensor;axis;side;set;deviation_um\nA;Y;L;1;4\nA;Y;L;1;2\n"

    @pytest.mark.parametrize("text", [CSV, OTHER_FORM])
    def test_into_the_same_trial_it_is_refused(self, book: Book, trial: int, text: str):
        book.import_readings(trial, read_readings(self.CSV), name="monday.csv")
        with pytest.raises(InputError, match=r"came in before, on 20.* as monday.csv.*begin a new trial"):
            book.import_readings(trial, read_readings(text))
        assert len(book.rows(trial)) == 2

    def test_unless_it_is_meant(self, book: Book, trial: int):
        for again in (False, True):
            book.import_readings(trial, read_readings(self.CSV), again=again)
        assert len(book.rows(trial)) == 4

    def test_into_another_trial_it_is_said(self, book: Book, trial: int):
        first = book.import_readings(trial, read_readings(self.CSV))
        second = book.add_trial(book.trial(trial).machine_id, name="Second")
        done = book.import_readings(second, read_readings(self.CSV))
        assert (first.before, done.before and done.before.trial_id) == (None, trial)
        assert "into another trial" in done.notes[-1]

    def test_a_trial_taken_out_does_not_count(self, book: Book, trial: int):
        book.import_readings(trial, read_readings(self.CSV))
        second = book.add_trial(book.trial(trial).machine_id, name="Second")
        book.remove_trial(trial)
        assert book.came_before(second, read_readings(self.CSV)) is None

    def test_other_readings_are_no_repetition(self, book: Book, trial: int):
        book.import_readings(trial, read_readings(self.CSV))
        other = read_readings(self.CSV.replace("0.002", "0.003").replace(",1,", ",2,"))
        assert book.import_readings(trial, other).before is None
        assert [one.readings for one in book.arrivals(trial)] == [2, 2]


class TestWayToTheIndex:
    """Logged beside the readings, kept with them."""

    TEXT = "sensor,axis,set,deviation_mm,trip_to_index_mm\nA,X,1,0.001,1.52\nA,X,1,0.002,\nA,X,2,0.003,1.48\n"

    def test_it_comes_out_again(self, book: Book, trial: int):
        given = read_readings(self.TEXT)
        book.import_readings(trial, given, name="ways.csv")
        (kept,) = book.readings(trial).groups
        assert kept.trip_to_index_mm is not None
        assert np.array_equal(kept.trip_to_index_mm, given.groups[0].trip_to_index_mm, equal_nan=True)

    def test_without_one_there_is_none(self, book: Book, trial: int):
        book.add_reading(trial, reading())
        assert book.readings(trial).groups[0].trip_to_index_mm is None


@pytest.mark.parametrize("more", [0, 30])
def test_several_candidates_come_in_together_or_not_at_all(tmp_path, more):
    with open_book(tmp_path / "shed.holdzero") as book:
        machine = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
        book.add_sensor(machine, "A", {})
        new = {f"S{i}": {"price": "3"} for i in range(more)}
        for names in ({"B": {}, "A": {}}, {"B": {}, " B": {}}, {"B": {}, "C": {"price": "5 kg"}}):
            with pytest.raises(InputError):
                book.add_sensors(machine, new | names)
        assert [kept.sensor.name for kept in book.sensors(machine)] == ["A"]
        book.add_sensors(machine, new | {"B": {"price": "4"}})
        kept = {kept.sensor.name: kept.document for kept in book.sensors(machine)}
        assert kept == {"A": {}, **new, "B": {"price": "4"}}
