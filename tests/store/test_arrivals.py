"""What came in is taken back whole and put back whole: exactly what counted before, and nothing is lost."""

from pathlib import Path

import pytest

from holdzero.errors import InputError
from holdzero.inputs.reading import read_readings
from holdzero.store import Book, NewReading, open_book

FIRST = "sensor,axis,side,set,homing,deviation_mm\nA,Y,L,1,1,0.01\nA,Y,L,1,2,0.02\n"
SECOND = "sensor,axis,side,set,homing,deviation_mm\nA,Y,R,1,1,0.03\nA,Y,R,1,2,0.05\nB,Y,L,1,1,0.07\n"


@pytest.fixture
def book(new_book: Path | str):
    with open_book(new_book) as opened:
        yield opened


@pytest.fixture
def trial(book: Book) -> int:
    machine = book.add_machine({"machine": {"name": "Router"}, "axes": {"Y": {"motors": 2}}})
    book.add_sensor(machine, "A", {})
    trial = book.add_trial(machine, name="Saturday", axis="Y")
    book.import_readings(trial, read_readings(FIRST), name="first.csv")
    return trial


def digest(book: Book, trial: int) -> str:
    return book.readings(trial).digest


def test_back_and_again_is_exactly_what_it_was(book: Book, trial: int):
    before = digest(book, trial)
    book.import_readings(trial, read_readings(SECOND), name="second.csv")
    after = digest(book, trial)
    kept = book.came_in(1)[0]
    assert (kept.arrival.name, kept.whole, kept.taken_back) == ("second.csv", True, "")
    assert book.take_back(kept.arrival.id) == 3
    assert digest(book, trial) == before != after
    assert book.came_in(1)[0].taken_back
    assert len(book.rows(trial, undone=True)) == 5
    assert book.put_back(kept.arrival.id) == 3
    assert digest(book, trial) == after
    assert not book.came_in(1)[0].taken_back


def test_a_reading_taken_back_by_hand_stays_so(book: Book, trial: int):
    """Put back is what counted when the whole went, no more and no less."""
    book.import_readings(trial, read_readings(SECOND), name="second.csv")
    row = book.rows(trial)[-1]
    book.undo(row.id)
    before = digest(book, trial)
    kept = book.came_in(1)[0].arrival.id
    assert book.take_back(kept) == 2
    assert book.put_back(kept) == 2
    assert digest(book, trial) == before


def test_it_can_come_in_again_after_it_went(book: Book, trial: int):
    first = book.came_in(1)[0].arrival.id
    book.take_back(first)
    done = book.import_readings(trial, read_readings(FIRST), name="first.csv")
    assert (done.readings, done.before) == (2, None)
    with pytest.raises(InputError, match="that counts by now"):
        book.put_back(first)


def test_a_trial_and_a_candidate_begun_for_it_go_and_come_with_it(book: Book, trial: int):
    new = book.add_trial(1, name="second.csv", axis="Y")
    book.import_readings(new, read_readings(SECOND), name="second.csv")
    sensor = book.add_sensor(1, "B", {})
    kept = book.came_in(1)[0].arrival.id
    book.came_with(kept, trial_id=new, sensor_ids=[sensor])
    book.take_back(kept)
    assert [row.id for row in book.trials(1)] == [trial]
    assert [row.sensor.name for row in book.sensors(1)] == ["A"]
    book.put_back(kept)
    assert [row.id for row in book.trials(1)] == [new, trial]
    assert [row.sensor.name for row in book.sensors(1)] == ["A", "B"]


def test_what_was_begun_for_it_and_used_since_stays(book: Book, trial: int):
    new = book.add_trial(1, name="second.csv", axis="Y")
    book.import_readings(new, read_readings(SECOND), name="second.csv")
    sensor = book.add_sensor(1, "B", {})
    kept = book.came_in(1)[0].arrival.id
    book.came_with(kept, trial_id=new, sensor_ids=[sensor])
    book.change_sensor(sensor, "B", {"price": "4"})
    book.add_reading(new, NewReading(sensor="A", axis="Y", side="L", set_label="1", deviation_mm=0.01))
    book.take_back(kept)
    assert len(book.trials(1)) == 2
    assert [row.sensor.name for row in book.sensors(1)] == ["A", "B"]


def test_pasted_lines_are_one_arrival_and_twice_is_refused(book: Book, trial: int):
    lines = [NewReading(sensor="A", axis="Y", side="R", set_label="1", deviation_mm=value) for value in (0.1, 0.2)]
    before = digest(book, trial)
    assert book.add_lines(trial, lines, name="paste", digest="d") == 2
    with pytest.raises(InputError, match="came in before"):
        book.add_lines(trial, lines, name="paste", digest="d")
    book.take_back(book.came_in(1)[0].arrival.id)
    assert digest(book, trial) == before


def test_the_next_homing_follows_what_counts(book: Book, trial: int):
    """Power-ups that were there only for what went do not count as begun."""
    book.import_readings(trial, read_readings(FIRST.replace(",1,1,", ",7,1,").replace(",1,2,", ",7,2,")))
    assert [row.label for row in book.power_ups(trial)] == ["1", "7"]
    book.take_back(book.came_in(1)[0].arrival.id)
    assert [row.label for row in book.power_ups(trial)] == ["1"]


def test_twice_taken_back_or_unknown_is_said(book: Book, trial: int):
    kept = book.came_in(1)[0].arrival.id
    with pytest.raises(InputError, match="counts"):
        book.put_back(kept)
    book.take_back(kept)
    with pytest.raises(InputError, match="already"):
        book.take_back(kept)


def test_hidden_things_come_back_with_what_they_had(book: Book, trial: int):
    before = digest(book, trial)
    book.remove_sensor(book.sensors(1)[0].id)
    (hidden,) = book.hidden_sensors(1)
    assert hidden.name == "A"
    book.show_sensor(hidden.id)
    assert [row.sensor.name for row in book.sensors(1)] == ["A"]
    assert book.hidden_sensors(1) == ()
    book.remove_machine(1)
    assert book.machines() == ()
    book.show_machine(book.hidden_machines()[0].id)
    assert len(book.machines()) == 1
    assert digest(book, trial) == before


def test_one_added_again_has_the_homings_and_the_old_one_stays_hidden(book: Book, trial: int):
    old = book.sensors(1)[0].id
    book.remove_sensor(old)
    book.add_sensor(1, "A", {"price": "3"})
    assert book.hidden_sensors(1) == ()
    with pytest.raises(InputError, match="by now"):
        book.show_sensor(old)


def test_renaming_keeps_the_homings_and_never_mixes_two_candidates(book: Book, trial: int):
    sensor = book.sensors(1)[0].id
    book.change_sensor(sensor, "Roller", {})
    assert {group.sensor for group in book.readings(trial).groups} == {"Roller"}
    assert book.homings_of(1, "Roller") == 2
    second = book.add_sensor(1, "B", {})
    book.remove_sensor(sensor)
    with pytest.raises(InputError, match="homings of another candidate called 'Roller'"):
        book.change_sensor(second, "Roller", {})


@pytest.mark.parametrize("begun", ["span", "power-up"])
def test_a_new_name_takes_spans_along_and_is_none_that_anything_was_begun_under(
    book: Book, trial: int, begun: str
):
    sensor = book.sensors(1)[0].id
    book.import_readings(trial, read_readings("sensor,axis,side,set,span_mm,n\nA,X,,1,0.004,5\n"))
    book.change_sensor(sensor, "Roller", {})
    assert {span.sensor for span in book.spans(trial)} == {"Roller"}
    if begun == "span":
        book.import_readings(trial, read_readings("sensor,axis,side,set,span_mm,n\nB,X,,1,0.005,5\n"))
    else:
        book.begin_power_up(trial, sensor="B", axis="X", label="1")
        book.begin_power_up(trial, sensor="Roller", axis="X", label="1")
    with pytest.raises(InputError, match="homings of another candidate called 'B'"):
        book.change_sensor(sensor, "B", {})


def test_a_hidden_machine_that_cannot_be_read_has_a_name_and_does_not_stop_the_list(book: Book, trial: int):
    with book._writing() as c:
        c.exec_driver_sql("UPDATE machine SET document = '[]' WHERE id = 1")
    book.remove_machine(1)
    assert [hidden.name for hidden in book.hidden_machines()] == ["Machine 1"]


def test_spans_go_and_come_with_their_import(book: Book, trial: int):
    before = digest(book, trial)
    spans = "sensor,axis,side,set,least_mm,greatest_mm,n\nB,Y,L,1,0,0.01,5\nB,Y,L,2,0,0.02,5\n"
    book.import_readings(trial, read_readings(spans), name="spans.csv")
    after = digest(book, trial)
    kept = book.came_in(1)[0].arrival.id
    assert book.take_back(kept) == 2
    assert (digest(book, trial), book.spans(trial)) == (before, ())
    assert book.put_back(kept) == 2
    assert digest(book, trial) == after
