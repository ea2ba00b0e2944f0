"""Standing: the rule of the answers, and tests that count only while what they rest on stays as it was."""

import pytest

from case.books import BOOKS, make
from holdzero.case import Case
from holdzero.case.in_book import InBook
from holdzero.case.standing import ANSWERS, StandingPart, answer_of_zero, worst
from holdzero.compute.choose import Verdict
from holdzero.store import Outcome, open_book


def parts(**answers):
    return [
        StandingPart(part=name.replace("_", "-"), answer=answer, sentence="") for name, answer in answers.items()
    ]


GOOD = {"trial": "good", "set_up": "good", "budget": "good", "squaring": "good"}


@pytest.mark.parametrize(
    ("verdict", "changed", "told", "answer"),
    [
        (Verdict.HOLDS, {}, {}, "holds"),
        (Verdict.HOLDS, {}, {"asks_open": True}, "holds so far"),
        (Verdict.HOLDS, {"budget": "not known"}, {}, "holds so far"),
        (Verdict.HOLDS, {"budget": "not good"}, {}, "does not hold"),
        (Verdict.HOLDS, {"index": "not good"}, {}, "does not hold"),
        (Verdict.HOLDS, {"squaring": "not good"}, {}, "cure first"),
        (Verdict.TOO_CLOSE, {}, {"cure": True}, "cure first"),
        (Verdict.TOO_CLOSE, {}, {}, "too close to call"),
        (Verdict.HOLDS, {"set_up": "not good"}, {}, "too close to call"),
        (Verdict.DOES_NOT_HOLD, {"squaring": "not good"}, {}, "does not hold"),
        (Verdict.CANNOT_SAY, {}, {}, "cannot say"),
        (None, {}, {}, "cannot say"),
        (Verdict.HOLDS, {"watch": "not good"}, {"watch_outside": True}, "does not hold"),
        (Verdict.HOLDS, {"watch": "not good"}, {}, "cannot say"),
        (Verdict.HOLDS, {"watch": "not known"}, {"watch_gap": True}, "cannot say"),
        (Verdict.HOLDS, {"watch": "not known"}, {}, "holds so far"),
    ],
)
def test_the_first_answer_that_fits(verdict, changed, told, answer):
    said = answer_of_zero(verdict, parts(**GOOD | changed), **{"cure": False, "asks_open": False} | told)
    assert said == answer


def test_a_machine_is_the_worst_of_its_axes():
    assert worst(["holds", "too close to call", "holds so far"], ANSWERS) == "too close to call"


class TestInstall:
    """Good on paper is not known; done is good until something it rests on changes."""

    @pytest.fixture
    def book(self, tmp_path):
        self.id = make(tmp_path / "shed.holdzero", BOOKS["two motors"])
        with open_book(tmp_path / "shed.holdzero") as opened:
            yield opened

    def case(self, book):
        return Case(InBook(book, book.machine(self.id)))

    def answer(self, book):
        standing = self.case(book).standing
        return next(part for part in standing.parts if part.part == "install")

    def all_done(self, book):
        case = self.case(book)
        for test in case.sheet.tests:
            if test.proves:
                rests_on = case.tests_rest_on(test.axis)
                book.add_check(self.id, item=test.key, outcome=Outcome.DONE, rests_on=rests_on)

    def test_not_tried_is_not_known(self, book):
        part = self.answer(book)
        assert part.answer == "not known"
        assert part.sentence.startswith("Good on paper, not tried")

    def test_done_is_good(self, book):
        self.all_done(book)
        assert self.answer(book).answer == "good"

    def test_a_test_without_what_it_was_made_on_is_asked_for_again(self, book):
        for test in self.case(book).sheet.tests:
            book.add_check(self.id, item=test.key, outcome=Outcome.DONE)
        assert "but on what was not kept" in self.answer(book).sentence

    def test_failed_is_not_good(self, book):
        self.all_done(book)
        book.add_check(self.id, item="emergency-stop", outcome=Outcome.FAILED)
        assert self.answer(book).answer == "not good"
        assert self.case(book).standing.stops == "not good"

    def test_a_figure_that_changes_makes_it_not_known(self, book):
        self.all_done(book)
        document = dict(book.machine(self.id).document)
        axes = {name: dict(keys) for name, keys in document["axes"].items()}
        axes["Y"]["creep_speed"] = "3 mm/s"
        book.change_machine(self.id, document | {"axes": axes})
        assert "before something it rests on was changed" in self.answer(book).sentence

    def test_an_event_makes_it_not_known(self, book):
        self.all_done(book)
        day = self.case(book).basis.checks[-1].day
        book.add_sheet(self.id, "square", {"event": {"what": "crash", "day": day, "note": ""}})
        assert "before the last event (crash)" in self.answer(book).sentence
