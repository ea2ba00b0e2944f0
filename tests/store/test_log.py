"""Log in the book: nothing typed is lost, nothing counts twice, whatever order it comes in."""

import random
from dataclasses import replace
from pathlib import Path

import pytest

from holdzero.errors import InputError
from holdzero.inputs.log import LogEntry, read_log
from holdzero.store import Book, Unreadable, check, open_book

MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}
TEXT = """\
time,axis,left_mm,right_mm,temperature_degc,event,acknowledged,cycles,note
2026-01-05T08:00Z,Y,0.001,0.003,18.5,,,1200,
2026-01-06T08:00Z,Y,0.002,,,,,,"left only, in a hurry"
2026-01-07T08:00Z,,,,,bracket touched,,,
2026-01-08T08:00Z,Y,0.004,0.005,,,looked at it,,
"""


@pytest.fixture
def book(new_book: Path | str):
    with open_book(new_book) as opened:
        opened.add_machine(MACHINE)
        yield opened


def entries(text: str = TEXT):
    return read_log([(text, "log.csv")]).entries


def kept(book: Book):
    return [replace(row.entry, place="", pair=()) for row in book.log(1)]


class TestComesBack:
    """As it went in, in order of time."""

    def test_as_it_was_read(self, book: Book):
        assert book.add_log(1, entries(), source="log.csv").new == 6
        assert kept(book) == [replace(entry, place="", pair=()) for entry in entries()]
        assert {row.source for row in book.log(1)} == {"log.csv"}

    def test_in_order_of_time_whatever_the_order_it_came_in(self, book: Book):
        shuffled = list(entries())
        random.Random(3).shuffle(shuffled)
        for entry in shuffled:
            book.add_log(1, [entry])
        moments = [row.entry.moment_s for row in book.log(1)]
        assert moments == sorted(moments)
        assert sorted(map(repr, kept(book))) == sorted(
            repr(replace(entry, place="", pair=())) for entry in entries()
        )

    def test_sides_of_a_homing_stay_together(self, book: Book):
        book.add_log(1, entries())
        left, right = [row.entry.pair for row in book.log(1)][:2]
        assert left == right


class TestOnce:
    """A homing counts once, however often it comes in."""

    def test_the_same_file_again_adds_nothing(self, book: Book):
        book.add_log(1, entries())
        again = book.add_log(1, entries())
        assert (again.new, again.before) == (0, 6)
        assert len(book.log(1)) == 6

    def test_a_file_that_grew_adds_what_is_new(self, book: Book):
        book.add_log(1, entries())
        longer = entries(TEXT + "2026-01-09T08:00Z,Y,0.002,0.002,,,,,\n")
        assert book.add_log(1, longer).new == 2

    def test_two_homings_alike_on_a_day_without_a_clock_are_two(self, book: Book):
        twice = entries("time,axis,deviation_mm\n2026-01-05,X,0.001\n2026-01-05,X,0.001\n")
        assert book.add_log(1, twice).new == 2
        assert book.add_log(1, twice).new == 0
        assert book.add_log(1, [*twice, twice[0]]).new == 1

    def test_a_ticket_counts_once(self, book: Book):
        entry = LogEntry(moment_s=1e9, time="then", axis="X", deviation_mm=0.002)
        assert book.add_log(1, [entry], ticket="t").new == 1
        assert book.add_log(1, [entry], ticket="t").new == 0
        with pytest.raises(InputError, match="ticket"):
            book.add_log(1, [replace(entry, deviation_mm=0.003)], ticket="t")
        assert book.add_log(1, [entry], ticket="another").new == 1
        assert len(book.log(1)) == 2

    def test_taken_back_it_stays_in_the_file_and_does_not_come_in_again(self, book: Book):
        book.add_log(1, entries())
        first = book.log(1)[0].id
        book.undo_logged(first)
        assert len(book.log(1)) == 5
        assert book.add_log(1, entries()).new == 0
        assert len(book.log(1, undone=True)) == 6
        book.redo_logged(first)
        assert len(book.log(1)) == 6


class TestRefused:
    """What no machine has, on the way in and on the way out."""

    @pytest.mark.parametrize(
        ("wrong", "name"),
        [
            ({"moment_s": 1e15}, "time"),
            ({"side": "left"}, "side"),
            ({"deviation_mm": float("inf")}, "deviation"),
            ({"temperature_degc": -400.0}, "temperature"),
            ({"hours": -1.0}, "hours"),
        ],
    )
    def test_what_no_machine_has_does_not_come_in_with_all_beside_it(self, book: Book, wrong, name):
        good = LogEntry(moment_s=1e9, time="then", deviation_mm=0.001)
        with pytest.raises(InputError, match=name):
            book.add_log(1, [good, replace(good, **wrong)])
        assert book.log(1) == ()

    def test_a_row_damaged_in_the_file_is_named(self, book: Book):
        if book.path is None:
            pytest.skip("PostgreSQL takes no words in a column of numbers")
        book.add_log(1, entries())
        with book._writing() as c:
            c.exec_driver_sql("update logged set moment_s = 'noon' where id = 3")
        with pytest.raises(Unreadable, match="logged 3"):
            book.log(1)
        assert any("logged 3" in sentence for sentence in check(book.address).wrong)
