"""Own: a person says that the figures of a machine are no example's any more."""

from holdzero.case.circuits import SHEET
from holdzero.case.in_book import InBook
from holdzero.case.squaring_log import SQUARE_SHEET
from holdzero.form import EXAMPLE_KEY, is_example


def has_marked_figures(basis: InBook) -> bool:
    """Whether figures that a person enters, not what was read, carry the mark of an example."""
    return (
        basis.machine.example
        or any(sensor.example for sensor in basis.sensors)
        or basis.circuits_example
        or is_example(basis.squaring.typed)
    )


def call_own(basis: InBook) -> None:
    """Take the mark of an example off the machine, its candidates, its wiring and what the gantry is.

    Readings, rounds of squaring and a log that came from an example stay an example's: nobody can have measured
    them on this machine.
    """
    book, kept = basis.book, basis.kept
    with book.together():
        about = {key: value for key, value in kept.document["machine"].items() if key != EXAMPLE_KEY}
        book.call_own(kept.id, {**kept.document, "machine": about})
        for candidate in basis.candidates:
            if candidate.sensor.example:
                document = {key: value for key, value in candidate.document.items() if key != EXAMPLE_KEY}
                book.change_sensor(candidate.id, candidate.sensor.name, document)
        for sheet in book.sheets(kept.id, SHEET)[:1]:
            if is_example(sheet):
                own = {key: value for key, value in sheet.items() if key != EXAMPLE_KEY}
                book.add_sheet(kept.id, SHEET, own)
        if is_example(basis.squaring.typed):
            own = {key: value for key, value in basis.squaring.typed.items() if key != EXAMPLE_KEY}
            book.add_sheet(kept.id, SQUARE_SHEET, {"setup": own})
