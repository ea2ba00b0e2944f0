"""Install: what to set on each axis, the tests before it is trusted, and what came of each."""

from collections.abc import Iterator
from hashlib import sha256
from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from holdzero import __version__
from holdzero.compute.install import OUTCOMES, Test
from holdzero.errors import InputError
from holdzero.inputs.machine import write_machine
from holdzero.quantity import quoted, with_unit
from holdzero.report import RecordContent, record_html
from holdzero.report.answered import answer_section
from holdzero.report.printed import printed
from holdzero.store import Book, NotInBook, Outcome
from holdzero.tell.install import checklist_section, install_headline, install_section
from holdzero.tell.square import tell_square
from holdzero.tell.wiring import terminal_table
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.download import download
from holdzero.web.forms import Field, FormTexts, Typed
from holdzero.web.page import ThisPage
from holdzero.web.rail import Subpage

router = APIRouter()
PAGE = Subpage("install", router)
LONGEST = 2000  # characters of a note


@router.get("/machines/{machine_id}/install")
@router.get("/machines/{machine_id}/install.json")
def install(case: ThisCase, page: ThisPage) -> Response:
    """How many tests are done and what failed, what to set, and each test with a place to write down what came."""
    stamp = case.book.stamp()  # before anything is read: what comes later is heard of
    sheet, written = case.sheet, case.checklist
    return page(
        "install.html",
        case,
        data=lambda: sheet.as_json() | {"checklist": written.as_json()},
        stamp=stamp,
        sheet=sheet,
        terminals=terminal_table,
        headline=install_headline(case.sheet),
        **test_values(case),
    )


def test_values(case: OpenCase) -> dict[str, Any]:
    """Return what the list of tests shows: each with a place to write down what came, and what was written."""
    sheet, written = case.sheet, case.checklist
    return {
        "checked": written,
        "stages": [
            (stage, [(number, test, written.of(test)) for number, test in tests])
            for stage, tests in sheet.stages.items()
        ],
        "blanks": {test.key: _blanks(test) for test in sheet.tests},
        "by": next((entry.by for entry in reversed(written.entries) if entry.by), ""),
    }


@router.post("/machines/{machine_id}/install/checks")
def write_down(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep what came of a test; what was written down before stays."""
    key = keep_check(book, case, texts)
    return page.to(f"{case.href('install')}#t-{key}")


def keep_check(book: Book, case: OpenCase, texts: FormTexts, *, written_at: str = "") -> str:
    """Keep what a form says came of a test; returns the key of the test.

    Parameters
    ----------
    book : Book
        Where it goes.
    case : OpenCase
        The machine that was tested.
    texts : mapping
        The form. Sent again under its ticket it counts once.
    written_at : str
        When, in UTC, where it was written earlier and could not be sent.

    Raises
    ------
    HoldzeroError
        No such test, or none of the outcomes.
    """
    test = next((test for test in case.sheet.tests if test.key == texts.get("item")), None)
    if test is None:
        raise NotInBook(
            where="test", found=quoted(texts.get("item", "")), need="one of this machine's tests", do="go back"
        )
    outcome = texts.get("outcome")
    if outcome not in OUTCOMES:
        raise InputError(
            where="outcome",
            found=quoted(outcome) if outcome else "nothing",
            need=f"one of {', '.join(OUTCOMES)}",
            do="press one of the buttons below the test",
        )
    book.add_check(
        case.id,
        item=test.key,
        outcome=Outcome(outcome),
        measured="; ".join(_measured(test, texts)),
        note=texts.get("note", "")[:LONGEST],
        checked_by=texts.get("by", "")[:LONGEST],
        rests_on=case.tests_rest_on(test.axis),
        added=written_at,
        ticket=texts.get("ticket", ""),
    )
    return test.key


@router.get("/machines/{machine_id}/install.pdf")
def as_pdf(case: ThisCase) -> Response:
    """The install sheet with its tests, to print and fill in."""
    return download(printed(_document(case), "pdf"), f"install-{case.id}")


@router.get("/machines/{machine_id}/install.html")
def as_html(case: ThisCase) -> Response:
    """The install sheet as one page that needs nothing else."""
    return HTMLResponse(record_html(_document(case)))


def _document(case: OpenCase) -> RecordContent:
    squared, sheet, written = case.squared, case.sheet, case.checklist
    square = (answer_section("Squareness", tell_square(squared, system=case.system)),) if squared else ()
    return RecordContent(
        title="Install sheet",
        subject=case.machine.name,
        verdict=sheet.verdict,
        reason=f"Set in this order, then test in this order; write down what was measured. {written.verdict}",
        sections=(install_section(sheet, terminals=True), *square, checklist_section(sheet, written.entries)),
        version=__version__,
        digests=(("machine", sha256(write_machine(case.machine).encode()).hexdigest()),),
        invented=case.invented,
    )


def _blanks(test: Test) -> list[Field]:
    """Fields for what is to be measured; a bare number takes the unit the blank names."""
    return [
        Field(name=f"measured-{number}", label=name[:1].upper() + name[1:], unit=unit)
        for number, (name, unit) in enumerate(test.blanks)
    ]


def _measured(test: Test, texts: FormTexts) -> Iterator[str]:
    blanks = _blanks(test)
    for blank in blanks:
        if text := texts.get(blank.name):
            named = f"{blank.label[:1].lower()}{blank.label[1:]} " if len(blanks) > 1 else ""
            yield f"{named}{with_unit(text[:LONGEST], blank.unit)}"
