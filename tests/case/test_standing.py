"""Standing: the rule of the answers, and tests that count only while what they rest on stays as it was."""

from typing import ClassVar

import numpy as np
import pytest

import holdzero as hz
from case.books import BOOKS, make
from holdzero.case import Case
from holdzero.case.in_book import InBook
from holdzero.case.standing import ANSWERS, StandingPart, answer_of_zero, worst
from holdzero.compute.choose import Verdict
from holdzero.quantity import plain
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


class TestBudgetOfATrialThatIsTooClose:
    """More outside than allowed, by a figure that the trial leaves open, is no more of a fact than the trial."""

    MACHINE: ClassVar = {
        "machine": {"name": "Bench mill"},
        "requirement": {"position": "0.06 mm", "risk": "1 in 100", "datum_homings": 8},
        "axes": {"X": {"travel": "600 mm", "creep_speed": "1 mm/s"}},
    }

    def told(self, sd_mm: float, **of_axis: str) -> dict:
        """Five power-ups of four homings, together as wide as said."""
        rng = np.random.default_rng(8)
        values = rng.standard_normal((5, 4))
        values *= sd_mm / values.std(ddof=1)
        rows = ["sensor,axis,set,homing,deviation_mm,resolution_mm"]
        rows += [f"S,X,{k + 1},{i + 1},{values[k, i]:.6f},0.001" for k in range(5) for i in range(4)]
        machine = self.MACHINE | {"axes": {"X": self.MACHINE["axes"]["X"] | of_axis}}
        answer = hz.standing(machine, readings="\n".join(rows), sensors={"S": {"kind": "inductive"}}, sensor="S")
        (axis,) = answer.to_dict()["standings"]["axes"]
        return axis | {part["part"]: part for part in axis["parts"]}

    def test_is_too_close_as_the_trial_is(self):
        axis = self.told(0.0215)
        assert axis["trial"]["sentence"] == "S: too close to call."
        assert (axis["answer"], axis["budget"]["answer"]) == ("too close to call", "not known")
        assert "1.0 % are allowed; the trial of S does not settle it." in plain(axis["budget"]["sentence"])
        assert axis["next"].startswith(("Even", "Take", "Read", "About"))

    def test_what_leaves_the_switch_no_room_is_a_fact(self):
        """600 mm of aluminium and 40 K are 0.55 mm."""
        axis = self.told(0.0215, growth_length="600 mm", growth_material="aluminium", temperature="0 to 40 degC")
        assert (axis["answer"], axis["budget"]["answer"]) == ("does not hold", "not good")
