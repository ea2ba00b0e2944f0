"""Square: rounds of measuring the gantry, what to set, and what happened in between."""

import re
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from fastapi import APIRouter, Response

from holdzero.case.squaring_log import SQUARE_SHEET
from holdzero.chart.square import method_picture, squaring_picture
from holdzero.compute.square import Event, beside, event_from, round_from, squaring
from holdzero.compute.square.keys import EVENTS, METHOD_KEYS, METHODS, NEEDED, ROUND_KEYS, SETUP_KEYS
from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY, Key, is_example
from holdzero.quantity import field_unit, plain, quoted, show
from holdzero.store import Book, NotInBook
from holdzero.tell.square import round_lengths
from holdzero.web import forms
from holdzero.web.by_field import SelfSaving, Sent, save
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.forms import Field, FormTexts, Typed
from holdzero.web.page import ThisPage
from holdzero.web.rail import DONE, OPEN, Mark, Station, flag

router = APIRouter()
NAMES = {
    "diagonals": "Two diagonals",
    "flip": "Cut and flip",
    "reversal": "Square and indicator, reversed",
    "grid": "Grid of holes by coordinates",
    "distances": "Holes by their distances",
}
LISTS = {  # what is typed as lines of numbers: name, columns, label
    "grid": (("hole", ("x", "y", "measured_x", "measured_y"), "Holes: x, y, measured x, measured y"),),
    "distances": (
        ("hole", ("x", "y"), "Holes: x, y; the first line is hole 1"),
        ("distance", ("from", "to", "length"), "Distances: from hole, to hole, measured"),
    ),
}
LABELS = {
    "a": "Side AB, along x",
    "b": "Side BC, along y",
    "ac": "Diagonal AC",
    "bd": "Diagonal BD",
    "a_opposite": "Side DC",
    "b_opposite": "Side AD",
    "rise_1": "Rise, one way up",
    "rise_2": "Rise, turned over",
    "u": "Uncertainty of one reading",
    "setting": "Offset in force",
}
COUNTS = ("from", "to")


def mark(case: OpenCase) -> Mark:
    """Done once it says to stop adjusting; flagged while there is something to set or to measure again."""
    if test := case.failed_test:
        return flag(f"a test at installing failed: {test.title}")
    if not case.basis.squaring.entries:
        return OPEN
    squared = case.squared
    if squared is None:
        known = case.gantry is not None and case.gantry.setup is not None
        return flag("not measured since the last event" if known else "the distance between the drives is missing")
    return DONE if squared.stop else flag("the gantry is to be squared")


STATION = Station("Square", router, mark)


@router.get("/machines/{machine_id}/square")
@router.get("/machines/{machine_id}/square.json")
def square(case: ThisCase, page: ThisPage, method: str = METHODS[0]) -> Response:
    """Which side moves, which way, by how much; the rounds; the next round."""
    return _shown(case, page, method=method)


@router.post("/machines/{machine_id}/square/rounds")
def add_round(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep one measurement."""
    method = _method_in(texts)
    wrong = _wrong_round(case, page, method, texts)
    if wrong is not None:
        return wrong
    _keep(book, case, {"round": _round_document(case, method, texts)})
    return page.to(case.href("square", method=method))


@router.post("/machines/{machine_id}/square/setup")
def change_setup(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """Keep what was changed of what is known of the gantry."""
    saved = save(case, sent, SelfSaving(fields=_setup_fields, keep=_keep_setup))
    if saved.answered is None:
        return page.kept(case.href("square"), saved.notice)
    fields = _setup_fields(saved.case, saved.answered)
    return _shown(saved.case, page, setup_fields=fields, setup_why=saved.why, status=saved.status)


@router.post("/machines/{machine_id}/square/events")
def add_event(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep what happened to the machine: a new baseline begins."""
    event = {name: texts.get(name, usual) for name, usual in (("what", EVENTS[0]), ("day", ""), ("note", ""))}
    event_from(event)
    _keep(book, case, {"event": event})
    return page.to(case.href("square"), "A new baseline begins: measure again, as found.")


@router.post("/machines/{machine_id}/square/take-back/{number}")
def take_back(book: OpenBook, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Take a round or an event back; it stays in the file."""
    if number not in range(len(book.sheets(case.id, SQUARE_SHEET))):
        raise NotInBook(where="square", found=f"no entry {number}", need="one of this machine's", do="go back")
    _keep(book, case, {"take back": number})
    return page.to(case.href("square"), "Taken back. It stays in the book.")


def _setup_fields(case: OpenCase, texts: FormTexts | None = None) -> list[Field]:
    return forms.fields(SETUP_KEYS, _entered(case), system=case.system, texts=texts)


def _keep_setup(case: OpenCase, texts: FormTexts) -> None:
    known = _known(case)  # stays with the machine and its trial, and follows them
    typed = forms.kept(SETUP_KEYS, texts, system=case.system)
    setup = {name: text for name, text in typed.items() if text != known.get(name)}
    mark = {EXAMPLE_KEY: True} if is_example(case.basis.squaring.typed) else {}
    _keep(case.book, case, {"setup": mark | setup})


def _method_in(texts: FormTexts) -> str:
    method = texts.get("method", METHODS[0])
    if method not in METHODS:
        raise InputError(
            where="method",
            found=quoted(method),
            need=f"one of {', '.join(METHODS)}",
            do="choose how it was measured on the page",
        )
    return method


def _keep(book: Book, case: OpenCase, sheet: Mapping[str, Any]) -> None:
    book.add_sheet(case.id, SQUARE_SHEET, sheet)


def _shown(
    case: OpenCase,
    page: ThisPage,
    *,
    method: str = METHODS[0],
    round_fields: Sequence[Field] | None = None,
    lists: Sequence[Field] | None = None,
    setup_fields: Sequence[Field] | None = None,
    setup_why: str = "",
    status: int = 200,
) -> Response:
    method = method if method in METHODS else METHODS[0]
    log, squared = case.basis.squaring, case.squared
    lengths = round_lengths(squared.rounds, system=case.system) if squared else ()
    taken = {
        id(entry.round): (entry, texts)
        for entry, texts in zip(squared.rounds if squared else (), lengths, strict=True)
    }
    return page(
        "square.html",
        case,
        data=lambda: squared.as_json() if squared else {},
        status=status,
        squared=squared,
        log=log,
        setup=case.gantry.setup if case.gantry else None,
        of_machine=_known(case),
        two_motors=any(axis.motors == 2 for axis in case.machine.axes),
        rows=[
            (entry, *taken.get(id(entry.content), (None, None)), isinstance(entry.content, Event))
            for entry in reversed(log.entries)
        ],
        also=beside(squared.counted[-1].measured, system=case.system) if squared else (),
        picture=squaring_picture(squared, system=case.system) if squared else None,
        how=method_picture(method),
        method=method,
        methods=NAMES,
        round_fields=round_fields or _round_fields(case, method),
        lists=lists or _lists(case, method),
        setup_fields=setup_fields or _setup_fields(case),
        setup_why=setup_why,
        setup_wrong=setup_fields is not None,
        events=EVENTS,
        today=date.today().isoformat(),
    )


def _known(case: OpenCase) -> Mapping[str, Any]:
    """The gantry's keys that machine and trial know already."""
    return case.gantry.gantry_known if case.gantry else {}


def _entered(case: OpenCase) -> Mapping[str, Any]:
    return case.gantry.gantry if case.gantry else case.basis.squaring.typed


def _round_keys(method: str) -> tuple[Key, ...]:
    return (*METHOD_KEYS[method], *(key for key in ROUND_KEYS if key.name != "event"))


def _round_fields(case: OpenCase, method: str, texts: FormTexts | None = None) -> list[Field]:
    """Fields of the next round: what was measured with and set at the last one stands there already."""
    before: dict[str, Any] = {"day": date.today().isoformat()}
    if case.squared is not None:
        before["setting"] = plain(show(case.squared.to_set_mm, "length", system=case.system, digits=4))
    fields = forms.fields(_round_keys(method), before, system=case.system, texts=texts)
    return [field.with_(label=LABELS.get(field.name, field.label)) for field in fields]


def _lists(case: OpenCase, method: str, texts: FormTexts | None = None) -> list[Field]:
    unit = field_unit("length", system=case.system)
    return [
        Field(
            name=name, label=label, value=(texts or {}).get(name, ""), unit=unit, hint="One a line, numbers only"
        )
        for name, _, label in LISTS.get(method, ())
    ]


def _wrong_round(case: OpenCase, page: ThisPage, method: str, texts: FormTexts) -> Response | None:
    """Return the page that says at each field what is wrong with a round, or None."""
    fields = _round_fields(case, method, texts)
    fields = [
        field.with_(error=f"needed is {field.hint[0].lower()}{field.hint[1:]}")
        if field.name in NEEDED.get(method, ()) and not field.value and not field.error
        else field
        for field in fields
    ]
    lists = _lists(case, method, texts)
    for place, field in enumerate(lists):
        try:
            if not field.value:
                raise InputError(found="nothing", need="one a line", do="type or paste the lines")
            _rows(method, field.name, field.value, field.unit)
        except InputError as error:
            lists[place] = field.with_(error=forms.needed(error))
    if not any(field.error for field in (*fields, *lists)):
        try:
            document = _round_document(case, method, texts)
            history = [*case.basis.squaring.history, round_from(document)]
            setup = case.gantry.setup if case.gantry else None
            if setup is not None:
                squaring(setup, history)
            else:
                history[-1].method.measured(None)  # type: ignore[union-attr]
        except InputError as error:
            if lists:
                lists[-1] = lists[-1].with_(error=forms.needed(error))
            else:
                fields[0] = fields[0].with_(error=forms.needed(error))
        else:
            return None
    return _shown(case, page, method=method, round_fields=fields, lists=lists, status=422)


def _round_document(case: OpenCase, method: str, texts: FormTexts) -> dict[str, Any]:
    """Return a round as the file has it."""
    kept: dict[str, Any] = {"method": method, **forms.kept(_round_keys(method), texts, system=case.system)}
    for field in _lists(case, method, texts):
        kept[field.name] = _rows(method, field.name, field.value, field.unit)
    return kept


def _rows(method: str, name: str, text: str, unit: str) -> list[dict[str, Any]]:
    """Read lines of numbers into tables; a decimal comma is fine where something else parts the numbers."""
    columns = next(columns for list_name, columns, _ in LISTS[method] if list_name == name)
    rows = []
    for number, line in enumerate(text.splitlines(), 1):
        parts = [part for part in re.split(r"[;\t]|\s+", line.strip()) if part]
        if not parts:
            continue
        if len(parts) != len(columns):
            raise InputError(
                where=f"line {number}",
                found=f"{len(parts)} number{'' if len(parts) == 1 else 's'} in line {number}",
                need=f"{len(columns)}: {', '.join(column.replace('_', ' ') for column in columns)}",
                do="put spaces between them",
            )
        rows.append(
            {
                column: int(part) if column in COUNTS and part.isdigit() else f"{part} {unit}"
                for column, part in zip(columns, parts, strict=True)
            }
        )
    return rows
