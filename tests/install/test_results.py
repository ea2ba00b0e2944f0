"""What came of the tests: nothing a person entered is ever lost."""

import pytest

from holdzero.compute.install import Checklist, ResultEntry, Test, read_entries, write_entries
from holdzero.errors import InputError

STOP, LIMIT, DAY = (
    Test(stage="", axis=axis, name=name, do="", expect="")
    for axis, name in (("", "Emergency stop"), ("Y", "Limit, slowly"), ("", "The next day"))
)
TESTS = (STOP, LIMIT, DAY)


def entry(test, outcome, **said):
    return ResultEntry(item=test.key, outcome=outcome, **said)


class TestStanding:
    """The newest entry counts; the older ones stay."""

    def test_the_newest_counts_and_the_older_stay(self):
        failed, done = entry(LIMIT, "failed", note="too late"), entry(LIMIT, "done", measured="4.1 mm")
        found = Checklist(TESTS, (failed, done))
        assert found.outcome(LIMIT) == "done"
        assert found.of(LIMIT) == (done, failed)
        assert found.outcome(STOP) == "open"

    def test_taken_back_is_open_again_and_still_there(self):
        found = Checklist(TESTS, (entry(STOP, "done"), entry(STOP, "open")))
        assert found.standing("open") == TESTS
        assert len(found.of(STOP)) == 2

    def test_what_is_not_asked_any_more_is_kept(self):
        """An axis that got another name, a switch that was rewired."""
        old = ResultEntry(item="z-limit-slowly", outcome="failed", note="was loose")
        found = Checklist(TESTS, (old,))
        assert found.elsewhere == (old,)
        assert found.as_json()["elsewhere"] == [old.as_json()]


class TestVerdict:
    """One sentence, what failed before what is next."""

    @pytest.mark.parametrize(
        ("outcomes", "says"),
        [
            ((), "None of the tests is done yet: begin with “Emergency stop”."),
            (("done",), "1 of 3 tests done; next is “Limit, slowly (Y)”."),
            (("done", "failed"), "1 of 3 tests done; “Limit, slowly (Y)” failed: put that right first."),
            (
                ("failed", "failed", "done"),
                "1 of 3 tests done; “Emergency stop” and 1 more failed: put that right first.",
            ),
            (("done", "not applicable"), "1 of 2 tests done; next is “The next day”. One does not apply."),
            (
                ("done", "not applicable", "done"),
                "All tests done, and all came out as they have to. One does not apply.",
            ),
        ],
    )
    def test_sentence(self, outcomes, says):
        entries = tuple(entry(test, outcome) for test, outcome in zip(TESTS, outcomes, strict=False))
        assert Checklist(TESTS, entries).verdict == says

    def test_passed_only_when_none_is_open_or_failed(self):
        done = tuple(entry(test, "done") for test in TESTS)
        assert Checklist(TESTS, done).passed
        assert not Checklist(TESTS, done[:2]).passed
        assert not Checklist(TESTS, (*done, entry(LIMIT, "failed"))).passed


class TestFile:
    """As a record carries it."""

    def test_written_and_read_back(self):
        entries = (
            entry(STOP, "done", measured='0,3 s "sharp"', note="twice\nno drift", by="Ada", day="2026-11-25"),
            entry(LIMIT, "not applicable"),
        )
        assert read_entries(write_entries(entries)) == entries
        assert write_entries(()) == ""
        assert read_entries("") == ()

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ('[[check]]\nitem = "a"\noutcome = "fine"\n', "check 1.*outcome.*fine.*one of done, failed"),
            ('[[check]]\nitem = "a"\n', "outcome: found nothing"),
            ("check = 3\n", r"tables \[\[check\]\]"),
        ],
    )
    def test_refusals_say_what_is_needed(self, text, says):
        with pytest.raises(InputError, match=says):
            read_entries(text, where="checklist.toml")
