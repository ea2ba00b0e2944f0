"""Due: tests of stop, limit and broken wire that were done here once and count no more."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from holdzero.case.standing.stops import not_proved

if TYPE_CHECKING:
    from holdzero.case.case import Case


@dataclass(frozen=True, slots=True)
class DueTest:
    """A test to do again: of which axis (empty: of the machine), what it is called, and why."""

    axis: str
    title: str
    why: str

    def as_json(self) -> dict[str, str]:
        """Return it in the shape of the contract."""
        return {"axis": self.axis, "test": self.title, "why": self.why}

    @property
    def sentence(self) -> str:
        """What is to be done again, and why."""
        return f"Do “{self.title}” again: it {self.why}."


def due_tests(case: "Case", *, today: date | None) -> tuple[DueTest, ...]:
    """Return the tests that were done and are due again: something they rest on was changed, an event, or time."""
    due: dict[str, DueTest] = {}
    for test in case.sheet.tests:
        if not test.proves or case.checklist.outcome(test) != "done":
            continue
        for on_axis in case.axes:
            if test.axis in ("", on_axis.name) and (why := not_proved(on_axis, test, today=today)):
                due.setdefault(test.key, DueTest(test.axis, test.title, why))
    return tuple(due.values())
