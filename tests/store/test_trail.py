"""Trail: every write says who, what and when; values of what is listed alone, so nothing secret."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
import sqlalchemy as sa

from holdzero.errors import BookError
from holdzero.inputs.reading import read_readings
from holdzero.store import Book, NewReading, Outcome, open_book
from holdzero.store.schema import metadata
from holdzero.store.trail import MOST_TOLD
from holdzero.store.who import acting, user_of_computer

MACHINE = {"machine": {"name": "Club router"}, "axes": {"Y": {"motors": 2, "travel": "900 mm"}}}


@pytest.fixture
def book(new_book: Path | str) -> Iterator[Book]:
    with open_book(new_book) as opened:
        opened._clock = lambda: datetime(2026, 11, 29, 9, 30, tzinfo=UTC)
        yield opened


def told(book: Book) -> list[tuple]:
    """The trail, oldest first."""
    return [(c.about, c.row_id, c.field, c.before, c.after) for c in reversed(book.trail())]


def test_a_field_of_a_machine_before_and_after_and_who(book: Book):
    with acting("Ann"):
        machine = book.add_machine(MACHINE)
    with acting("Ben"):
        book.change_machine(machine, MACHINE | {"axes": {"Y": {"motors": 2, "travel": "1200 mm", "lead": "5 mm"}}})
    assert told(book) == [
        ("machine", machine, "", "", ""),
        ("machine", machine, "axes.Y.travel", "900 mm", "1200 mm"),
        ("machine", machine, "axes.Y.lead", "", "5 mm"),
    ]
    newest, _, first = book.trail()
    assert (newest.actor, newest.did, newest.added) == ("Ben", "changed", "2026-11-29T09:30:00Z")
    assert (first.actor, first.did) == ("Ann", "added")
    assert [change.id for change in book.trail(most=1, before=newest.id)] == [newest.id - 1]


def test_without_signing_in_it_is_the_user_of_the_computer_or_the_database(book: Book):
    book.add_machine(MACHINE)
    assert book.trail()[0].actor == (user_of_computer() if book.path else "holdzero_test")


def test_every_way_of_writing_leaves_a_trace(book: Book):
    machine = book.add_machine(MACHINE)
    trial = book.add_trial(machine, name="Saturday", axis="Y")
    reading = book.add_reading(trial, NewReading(sensor="A", axis="Y", side="L", set_label="1", deviation_mm=0.01))
    book.set_aside(reading, "the stand was touched")
    book.undo(reading)
    book.label_trial(trial, left_out="loose")
    book.add_sheet(machine, "wiring", {"password": "s3cret"})
    book.add_check(machine, item="stop", outcome=Outcome.DONE)
    book.keep_setting("system", "inch")
    book.keep_setting("system", "metric")
    book.keep_setting("watch token", "s3cret")
    book.keep_setting("watch token", "s3cret too")
    assert told(book)[2:] == [
        ("series", 1, "", "", ""),
        ("power_up", 1, "", "", ""),
        ("reading", reading, "", "", ""),
        ("reading", reading, "set_aside", "", "the stand was touched"),
        ("reading", reading, "undone", "", "2026-11-29T09:30:00Z"),
        ("trial", trial, "left_out", "", "loose"),
        ("sheet", 1, "", "", ""),
        ("checklist", 1, "", "", ""),
        ("setting", 0, "system", "", "inch"),
        ("setting", 0, "system", "inch", "metric"),
        ("setting", 0, "watch token", "", ""),
        ("setting", 0, "watch token", "", ""),
    ]


def test_many_rows_at_once_are_one_line(book: Book):
    trial = book.add_trial(book.add_machine(MACHINE), name="Saturday", axis="Y")
    rows = "".join(f"A,Y,L,1,{i},0.00{i % 9}\n" for i in range(1, MOST_TOLD + 11))
    book.import_readings(trial, read_readings(f"sensor,axis,side,set,homing,deviation_mm\n{rows}"))
    n = MOST_TOLD + 10
    assert [(c.row_id, c.n) for c in book.trail() if c.about == "reading"] == [(n, n)]
    book.take_back(book.came_in(1)[0].arrival.id)
    assert next((c.field, c.n, c.row_id) for c in book.trail() if c.about == "reading") == ("undone", n, n)


def test_what_was_refused_leaves_none(book: Book):
    def half() -> None:
        with book.together():
            book.add_machine(MACHINE)
            book.machine(99)

    with pytest.raises(BookError):
        half()
    assert book.trail() == []


def test_a_table_that_is_not_listed_tells_no_value(book: Book):
    """As one of people and their secrets would be, whoever adds it."""
    people = sa.Table(
        "people", sa.MetaData(), sa.Column("id", sa.Integer, primary_key=True), sa.Column("secret", sa.Text)
    )
    assert people.name not in metadata.tables
    with book._writing() as c:
        people.create(c)
        c.execute(people.insert().values(secret="s3cret"))
        c.execute(people.update().values(secret="s3cret too"))
    assert told(book) == [("people", 1, "", "", ""), ("people", 1, "", "", "")]
    assert [change.did for change in book.trail()] == ["changed", "added"]
