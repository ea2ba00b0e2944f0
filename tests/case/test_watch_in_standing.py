"""Watch in the standing: what the log of a machine in use says of the question of zero, and of tests."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from case.books import BOOKS, make
from holdzero.case import Case, How, Texts
from holdzero.case.in_book import InBook
from holdzero.case.standing.due import due_tests
from holdzero.case.watch.of_case import proposed_baselines
from holdzero.inputs.log import LogEntry
from holdzero.store import Book, Outcome, open_book

START = datetime(2026, 6, 1, 7, tzinfo=UTC)


def entry(day: float, **more) -> LogEntry:
    time = START + timedelta(days=day)
    return LogEntry(moment_s=time.timestamp(), time=time.isoformat(), **more)


def homings(days, *, shift_mm=0.0, seed=1, axis="X"):
    draw = np.random.default_rng(seed)
    return [entry(day, axis=axis, deviation_mm=round(draw.normal(shift_mm, 0.002), 4)) for day in days]


@pytest.fixture
def book(tmp_path: Path):
    name = "one motor, a circuit of another axis fails"
    make(tmp_path / "shed.holdzero", BOOKS[name])
    with open_book(tmp_path / "shed.holdzero") as opened:
        opened.add_sheet(1, "watch", {"sensor": "K"})
        yield opened


def case_of(book: Book, *, day: float = 60.0) -> Case:
    return Case(InBook(book, book.machine(1)).with_how(How(day=(START + timedelta(days=day)).date())))


def part_of(case: Case, name: str = "watch"):
    (axis,) = [axis for axis in case.standings.axes if axis.axis == "X"]
    return next((part for part in axis.parts if part.part == name), None), axis


class TestPart:
    """The part `watch`, and the answer it leads to."""

    def test_none_before_the_first_homing(self, book):
        assert part_of(case_of(book))[0] is None

    def test_good_in_limits(self, book):
        book.add_log(1, homings(range(61)))
        part, axis = part_of(case_of(book))
        assert (part.answer, part.sentence) == ("good", "In limits over 61 check homings.")
        assert axis.answer == part_of(case_of(book, day=-1))[1].answer  # as without the watch

    def test_a_gap_is_cannot_say(self, book):
        book.add_log(1, homings(range(50)))
        part, axis = part_of(case_of(book))
        assert part.answer == "not known"
        assert axis.answer == "cannot say"
        assert "check homing" in part.next

    def test_an_open_alarm_is_cannot_say_and_next(self, book):
        book.add_log(1, [*homings(range(55)), *homings(range(55, 61), shift_mm=0.012, seed=2)])
        part, axis = part_of(case_of(book))
        assert part.answer == "not good"
        assert axis.answer == "cannot say"
        assert "open" in part.sentence
        assert axis.station == "watch"

    def test_more_outside_than_allowed_for_sure_does_not_hold(self, book):
        book.add_log(1, [*homings(range(45)), *homings(range(45, 61), shift_mm=0.035, seed=2)])
        part, axis = part_of(case_of(book))
        assert part.answer == "not good"
        assert axis.answer == "does not hold"  # 0.035 of the 0.03 mm allowed

    def test_learning_is_not_known(self, book):
        book.add_log(1, homings(range(54, 61)))
        part, axis = part_of(case_of(book))
        assert part.answer == "not known"
        assert axis.answer == "holds so far"

    def test_the_same_from_the_files_of_the_book(self, book):
        book.add_log(1, [*homings(range(50)), entry(50.5, event="bracket touched"), *homings(range(51, 61))])
        here = case_of(book)
        there = Case(Texts(files=here.basis.texts, how=here.basis.how))
        assert there.standings.as_json() == here.standings.as_json()
        assert there.as_json() == here.as_json()
        assert there.basis.digests == here.basis.digests


class TestEvidence:
    """Watched homings of steady stretches add to the count of gross misses of the switch that is built in."""

    def misses(self, book):
        return case_of(book).study.of("K", "X", "").misses

    def test_adds_to_the_trial(self, book):
        before = self.misses(book)
        book.add_log(1, homings(range(61)))
        now = self.misses(book)
        assert now.n == before.n + 61
        assert now.count == before.count
        assert now.high_95 < before.high_95

    def test_adds_to_a_choice_that_was_made_before(self, book):
        before = case_of(book).on("X").judged("K").misses
        book.add_log(1, homings(range(61)))
        assert case_of(book).on("X").judged("K").misses.n == before.n + 61

    def test_not_after_an_event_until_a_note_closes_it(self, book):
        before = self.misses(book).n
        book.add_log(1, [*homings(range(40)), entry(39.5, event="flag touched"), *homings(range(41, 61))])
        assert self.misses(book).n == before + 40
        book.add_log(1, [entry(60.5, acknowledged="looked at, in place")])
        assert self.misses(book).n == before + 60

    def test_a_stray_counts_once_it_is_looked_at(self, book):
        stray = entry(50.5, axis="X", deviation_mm=0.2)
        book.add_log(1, [*homings(range(50)), stray, *homings(range(51, 61))])
        before = self.misses(book)
        assert before.count == 0
        book.add_log(1, [entry(60.5, acknowledged="a chip")])
        now = self.misses(book)
        assert (now.count, now.n) == (1, before.n + 11)
        assert now.outside == 1

    def test_none_of_a_switch_that_is_not_said_to_be_built_in(self, book):
        before = self.misses(book).n
        book.add_sheet(1, "watch", {})
        book.add_log(1, homings(range(61)))
        assert self.misses(book).n == before


class TestTests:
    """An event in the log is an event for the tests too."""

    def test_an_event_in_the_log_makes_a_test_due(self, book):
        case = case_of(book)
        stop = next(test for test in case.sheet.tests if test.proves == "stop")
        book._clock = lambda: START
        rests_on = case.tests_rest_on(stop.axis)
        book.add_check(1, item=stop.key, outcome=Outcome.DONE, rests_on=rests_on)
        assert due_tests(case_of(book), today=None) == ()
        book.add_log(1, [entry(3, event="crash")])
        (due,) = due_tests(case_of(book), today=None)
        assert due.title == stop.title
        assert "crash" in due.why


class TestBaselineOfTheTrial:
    """A person may confirm the trial's power-ups as the baseline, until the next event."""

    def test_confirmed_it_is_watched_from_the_first_homing(self, book):
        book.add_sheet(1, "watch", {"sensor": "K", "baseline_from": "trial", "confirmed": "2026-06-01"})
        book.add_log(1, homings(range(58, 61)))
        (row,) = [row for row in case_of(book).watched.rows if row.logged.axis == "X"]
        assert row.watched.state == "in limits"
        assert row.watched.baseline.of_trial
        assert row.watched.baseline.n == 8
        trial = case_of(book).study.of("K", "X", "")
        assert row.watched.baseline.mean_mm == pytest.approx(trial.mean_mm, abs=1e-9)
        assert trial.spread.low < row.watched.baseline.sd_mm < trial.spread.high

    def test_an_event_ends_it(self, book):
        book.add_sheet(1, "watch", {"sensor": "K", "baseline_from": "trial", "confirmed": "2026-06-01"})
        book.add_log(1, [*homings(range(50, 58)), entry(57.5, event="switch changed"), *homings(range(58, 61))])
        (row,) = [row for row in case_of(book).watched.rows if row.logged.axis == "X"]
        assert row.watched.state == "learning"


def test_a_gantry_is_proposed_both_sides_their_difference_and_their_mean(tmp_path: Path):
    """Against the spreads that the findings of the trial have, by another method (posterior medians)."""
    make(tmp_path / "shed.holdzero", BOOKS["two motors"])
    with open_book(tmp_path / "shed.holdzero") as opened:
        opened.add_sheet(1, "watch", {"sensor": "K"})
        case = case_of(opened)
        proposed = proposed_baselines(case)
        assert proposed.keys() == {("Y", side) for side in ("L", "R", "difference", "mean")}
        for side in ("L", "R", "difference"):
            spread = case.study.of("K", "Y", side).spread
            assert spread.low < proposed["Y", side].sd_mm < spread.high
        left, right, apart, mean = (proposed["Y", side].mean_mm for side in ("L", "R", "difference", "mean"))
        assert apart == pytest.approx(right - left)
        assert mean == pytest.approx((right + left) / 2)


class TestSinceTheRecord:
    """A record keeps its own answer; the standing says what came since."""

    def test_without_a_record_nothing(self, book):
        assert case_of(book).standings.as_json()["since_record"] is None

    def test_what_came_after_it(self, book):
        book._clock = lambda: START + timedelta(days=20.2)
        book.add_result(1, kind="record", digest="d", version="1", document={})
        book.add_log(1, [*homings(range(40)), entry(30.5, event="flag touched")])
        said = case_of(book).standings.since_record
        assert said == "Since the record of 2026-06-21: 19 check homings, 1 event, no alarms."
