"""Results: what came of the tests, as the person at the machine wrote it down.

Nothing is taken away: of a test the newest entry counts, and the older ones stay to be seen.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

from holdzero.compute.install.values import Test
from holdzero.errors import InputError
from holdzero.form import dotted, read_toml, write_toml
from holdzero.quantity import quoted

Outcome = Literal["done", "failed", "not applicable", "open"]
OUTCOMES: tuple[Outcome, ...] = get_args(Outcome)


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultEntry:
    """What was written down once about a test.

    Parameters
    ----------
    item : str
        Key of the test.
    outcome : {"done", "failed", "not applicable", "open"}
        "done": what had to happen did; "open": it was taken back.
    measured, note, by : str
        As written.
    day : str
        YYYY-MM-DD.
    rests_on : str
        SHA-256 of what it was done on: machine, circuits and sensor; empty: not kept.
    """

    item: str
    outcome: Outcome
    measured: str = ""
    note: str = ""
    by: str = ""
    day: str = ""
    rests_on: str = ""

    @property
    def remark(self) -> str:
        """Everything but the outcome, as one clause."""
        return "; ".join(filter(None, (self.measured, self.note, self.by and f"by {self.by}")))

    def as_json(self) -> dict[str, Any]:
        """Return the entry as JSON-ready values; what is empty is left out."""
        names = ("item", "outcome", "measured", "note", "by", "day", "rests_on")
        return {name: text for name in names if (text := getattr(self, name))}


@dataclass(frozen=True, slots=True)
class Checklist:
    """The tests of a machine and what came of them; entries oldest first."""

    tests: tuple[Test, ...]
    entries: tuple[ResultEntry, ...] = ()

    def of(self, test: Test) -> tuple[ResultEntry, ...]:
        """Everything written down about a test, newest first."""
        return tuple(entry for entry in reversed(self.entries) if entry.item == test.key)

    def outcome(self, test: Test) -> Outcome:
        """How a test stands."""
        written = self.of(test)
        return written[0].outcome if written else "open"

    def standing(self, outcome: Outcome) -> tuple[Test, ...]:
        """Tests that stand so, in order of doing."""
        return tuple(test for test in self.tests if self.outcome(test) == outcome)

    @property
    def next(self) -> Test | None:
        """The first test still to be done."""
        return next(iter(self.standing("open")), None)

    @property
    def elsewhere(self) -> tuple[ResultEntry, ...]:
        """What was written down about tests that this machine no longer asks for, newest first."""
        asked = {test.key for test in self.tests}
        return tuple(entry for entry in reversed(self.entries) if entry.item not in asked)

    @property
    def passed(self) -> bool:
        """Whether every test that applies was done and came out as it has to."""
        return not self.standing("open") and not self.standing("failed")

    @property
    def verdict(self) -> str:
        """One sentence: how many are done, and what failed.

        >>> stop = Test(stage="", name="Emergency stop", do="", expect="")
        >>> Checklist((stop,)).verdict
        'None of the tests is done yet: begin with “Emergency stop”.'
        >>> Checklist((stop,), (ResultEntry(item=stop.key, outcome="done"),)).verdict
        'All tests done, and all came out as they have to.'
        """
        done, failed, away = (self.standing(outcome) for outcome in OUTCOMES[:3])
        upcoming = self.next
        if upcoming and not (done or failed or away):
            return f"None of the tests is done yet: begin with “{upcoming.title}”."
        beside = f" {_tests(len(away))} not apply." if away else ""
        if self.passed:
            return f"All tests done, and all came out as they have to.{beside}"
        text = f"{len(done)} of {len(self.tests) - len(away)} tests done"
        if failed:
            more = f" and {len(failed) - 1} more" if len(failed) > 1 else ""
            return f"{text}; “{failed[0].title}”{more} failed: put that right first.{beside}"
        return f"{text}; next is “{upcoming.title}”.{beside}" if upcoming else f"{text}.{beside}"

    def as_json(self) -> dict[str, Any]:
        """Return every test with how it stands and all that was written down."""
        return {
            "verdict": self.verdict,
            "passed": self.passed,
            "counts": {outcome: len(self.standing(outcome)) for outcome in OUTCOMES},
            "tests": [
                {"item": test.key, "test": test.title, "outcome": self.outcome(test)}
                | {"entries": [entry.as_json() for entry in self.of(test)]}
                for test in self.tests
            ],
            "elsewhere": [entry.as_json() for entry in self.elsewhere],
        }


def write_entries(entries: tuple[ResultEntry, ...]) -> str:
    """Write entries as a file (TOML), oldest first; nothing for none."""
    return write_toml({"check": [entry.as_json() for entry in entries]}) if entries else ""


def read_entries(text: str, *, where: str = "") -> tuple[ResultEntry, ...]:
    r"""Read what `write_entries` wrote.

    Raises
    ------
    InputError
        Not TOML, an entry that is no table, or an outcome that is none.

    Examples
    --------
    >>> read_entries('[[check]]\nitem = "emergency-stop"\noutcome = "done"\nmeasured = "0.3 s"')[0].measured
    '0.3 s'
    """
    written = read_toml(text, where=where, kind="checklist").get("check", [])
    if not isinstance(written, list) or not all(isinstance(entry, Mapping) for entry in written):
        raise InputError(
            where=dotted(where, "check"),
            found=quoted(written),
            need="tables [[check]]",
            do="begin each entry with a line [[check]]",
        )
    return tuple(_entry(entry, dotted(where, f"check {number}")) for number, entry in enumerate(written, 1))


def _entry(written: Mapping[str, Any], where: str) -> ResultEntry:
    row = {name: str(written.get(name, "")) for name in ("item", "measured", "note", "by", "day", "rests_on")}
    outcome = next((outcome for outcome in OUTCOMES if outcome == written.get("outcome")), None)
    if outcome is None:
        raise InputError(
            where=dotted(where, "outcome"),
            found=quoted(written["outcome"]) if "outcome" in written else "nothing",
            need=f"one of {', '.join(OUTCOMES)}",
            do="say what came of the test",
        )
    return ResultEntry(outcome=outcome, **row)


def _tests(count: int) -> str:
    return "One does" if count == 1 else f"{count} do"
