"""A book of a mill whose X is known to stop by tests made on it, and one candidate: a long run may start there."""

from pathlib import Path

from holdzero.case import Case
from holdzero.case.in_book import InBook
from holdzero.store import Book, open_book
from holdzero.store.values import Outcome

X = {
    "travel": "400 mm",
    "motors": 1,
    "lead": "5 mm",
    "top_speed": "60 mm/s",
    "approach_speed": "20 mm/s",
    "creep_speed": "2 mm/s",
    "acceleration": "500 mm/s2",
    "delay": "5 ms",
    "home_trip": "20 mm",
    "limit_switch": "none",
    "flag_home": "25 mm",
    "differential_travel": "0.3 mm",
    "back_off": "4 mm",
    "back_off_from": "rest",
    "moving_mass": "20 kg",
    "friction": "50 N",
    "thrust": "300 N",
    "bumper_stroke": "8 mm",
    "rotor_inertia": "1e-4 kg m2",
    "gravity": "level",
}
CIRCUIT = {
    "name": "X home",
    "supply": {"voltage": "24 V"},
    "sensor": {"output": "dry contact", "contact": "NC"},
    "input": {"kind": "IEC 61131-2 type 3"},
}


def keep(book: Book) -> int:
    """Put it into a book."""
    machine = {"machine": {"name": "Mill"}, "requirement": {"position": "0.05 mm"}, "axes": {"X": X}}
    key = book.add_machine(machine)
    sensor = {"output": "dry contact", "contact": "NC", "life": "5e6 cycles"}
    book.add_sensor(key, "A", {"kind": "lever", **sensor})
    book.add_sheet(key, "wiring", {"circuit": [CIRCUIT | {"axis": "X"}]})
    case = Case(InBook(book, book.machine(key)))
    for test in case.sheet.tests:
        if test.proves:
            rests_on = case.tests_rest_on(test.axis)
            book.add_check(key, item=test.key, outcome=Outcome.DONE, rests_on=rests_on)
    return key


def make(path: Path) -> Path:
    """Make a book that holds it."""
    with open_book(path) as book:
        keep(book)
    return path
