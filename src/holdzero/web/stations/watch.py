"""Watch: does the machine still home where it did? The morning's check homing, and what the log says."""

import hashlib
import hmac
import json
import secrets
from collections.abc import Iterable
from datetime import UTC, datetime

from fastapi import APIRouter, Request, Response, UploadFile
from fastapi.responses import JSONResponse

from holdzero.case.in_book import WATCH
from holdzero.case.standing.due import due_tests
from holdzero.case.watch.contract import as_json
from holdzero.case.watch.kept_log import keep_log
from holdzero.case.watch.log_watched import LogWatched
from holdzero.case.watch.of_case import proposed_baselines, sensor_in_use
from holdzero.case.watch.words import OF_SIDE, headline
from holdzero.chart.watch import moving_range_picture, watch_picture
from holdzero.compute.square.keys import EVENTS
from holdzero.errors import InputError
from holdzero.inputs.log import SETTING_KEYS, Log, LogEntry, entry_from, read_log, settings_from, write_log
from holdzero.inputs.log.single import NAMES
from holdzero.quantity import field_unit, plain
from holdzero.store import Book, KeptEntry, LogKept, NotInBook
from holdzero.tell import acts
from holdzero.tell.watch import NOTHING_LOGGED, asked_of_log, watch_details, watch_table, written_beside
from holdzero.web import forms
from holdzero.web.by_field import SelfSaving, Sent, save
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.contained import worked_out
from holdzero.web.forms import Field, FormTexts, Typed, needed
from holdzero.web.page import ThisPage, Undo
from holdzero.web.rail import DONE, OPEN, Mark, Station, flag

router = APIRouter()
NEWEST = 60  # entries listed
TOKEN = "log_token_sha256"  # setting of the book: what a program that logs has to know
BEARER = "bearer "
SIDES = (("left", "left"), ("right", "right"))
ALONE = (("deviation", ""),)
ALONE_TOLD = ("event", "acknowledged", "failed", "cycles", "false_trips", "hours")  # an entry of their own
OF_BASELINE = ("baseline_from", "confirmed")  # keys with a button of their own
ON_PAGE = tuple(key for key in SETTING_KEYS if key.name not in OF_BASELINE)


def mark(case: OpenCase) -> Mark:
    """Flagged while someone has to look; done once a baseline is watched."""
    watched = case.watched
    if watched is None:
        return OPEN
    if watched.needs_look or due_tests(case, today=case.basis.today):
        return flag("someone has to look" if watched.needs_look else "a test is due")
    unsure = [row for row in watched.rows if row.logged.charted and row.watched.state == "not known"]
    return flag("no check homing for too long") if unsure else DONE


STATION = Station("Watch", router, mark)


@router.get("/machines/{machine_id}/watch")
@router.get("/machines/{machine_id}/watch.json")
def watch(case: ThisCase, page: ThisPage) -> Response:
    """What the log says, what to do, and the next check homing."""
    return _shown(case, page)


@router.post("/machines/{machine_id}/watch/entries")
def add_entry(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep one entry: a check homing, an event, a note."""
    try:
        kept = keep_entry(book, case, texts)
    except InputError as error:
        return _shown(case, page, texts=texts, entry_error=needed(error), status=422)
    return page.to(case.href("watch"), acts.log_kept(kept))


def keep_entry(book: Book, case: OpenCase, texts: FormTexts, *, source: str = "page") -> LogKept:
    """Keep what a form says of a check homing; sent again under its ticket it counts once.

    Raises
    ------
    InputError
        Something in it cannot be read.
    """
    entries = Log(_typed_entries(case, texts))
    return keep_log(book, entries, machine_id=case.id, source=source, ticket=texts.get("ticket", ""))


@router.post("/machines/{machine_id}/watch/files")
def bring_in(
    texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, file: UploadFile | None = None
) -> Response:
    """Keep what a file or a paste holds, each entry once."""
    try:
        text, name = texts.get("text", ""), "paste"
        if file is not None and file.filename:
            text, name = file.file.read().decode("utf-8-sig", "replace"), file.filename
        kept = keep_log(book, read_log([(text, name)]), machine_id=case.id, source=name)
    except InputError as error:
        return _shown(case, page, texts=texts, file_error=str(error), status=422)
    return page.to(case.href("watch"), " ".join((acts.log_kept(kept), *kept.notes[:2])))


@router.post("/machines/{machine_id}/watch/entries/{entry_id}/take-back")
def take_back(book: OpenBook, case: ThisCase, page: ThisPage, entry_id: int) -> Response:
    """Take an entry back; it stays in the file."""
    entry = _entry(case.basis.kept_log, entry_id)
    book.undo_logged(entry_id)
    undo = Undo("Count it again", f"/machines/{case.id}/watch/entries/{entry_id}/count-again")
    return page.to(case.href("watch"), acts.entry_taken_back(entry), undo=undo)


@router.post("/machines/{machine_id}/watch/entries/{entry_id}/count-again")
def count_entry_again(book: OpenBook, case: ThisCase, page: ThisPage, entry_id: int) -> Response:
    """Let an entry count again that was taken back."""
    entry = _entry(book.log(case.id, undone=True), entry_id)
    book.redo_logged(entry_id)
    return page.to(case.href("watch"), acts.entry_counts_again(entry))


def _entry(log: Iterable[KeptEntry], entry_id: int) -> LogEntry:
    for kept in log:
        if kept.id == entry_id:
            return kept.entry
    raise NotInBook(where="watch", found=f"no entry {entry_id}", need="one of this machine's", do="go back")


@router.post("/machines/{machine_id}/watch/settings")
def change_settings(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """Keep what is asked of the watch."""
    saved = save(case, sent, SelfSaving(fields=_setting_fields, keep=_keep_settings))
    if saved.answered is None:
        return page.kept(case.href("watch"), saved.notice)
    fields = _setting_fields(saved.case, saved.answered)
    return _shown(saved.case, page, settings=fields, settings_error=saved.why, status=saved.status)


@router.post("/machines/{machine_id}/watch/baseline")
def choose_baseline(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Confirm the baseline that the trial proposes, or go back to that of the log."""
    typed = {
        name: text for name, text in case.basis.watch_typed.items() if name not in ("baseline_from", "confirmed")
    }
    if texts.get("from") == "trial":
        if not proposed_baselines(case):
            raise InputError(
                where="baseline",
                found="no trial that could be one",
                need="8 power-ups of the switch built in, read from outside",
                do="log on: the first power-ups of the log make a baseline",
            )
        typed |= {"baseline_from": "trial", "confirmed": f"{datetime.now(UTC):%Y-%m-%d}"}
        typed.setdefault("sensor", next(filter(None, (sensor_in_use(case, axis.name) for axis in case.axes)), ""))
    book.add_sheet(case.id, WATCH, typed)
    sentence_kept = "The trial is the baseline now." if "confirmed" in typed else "The log makes the baseline."
    return page.to(case.href("watch"), sentence_kept)


@router.get("/machines/{machine_id}/watch/log.csv")
def as_file(case: ThisCase) -> Response:
    """The log as a file that is read as the same log."""
    name = "log.csv"
    return Response(
        write_log(case.basis.log),
        media_type="text/csv",
        headers={"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-store"},
    )


@router.post("/machines/{machine_id}/watch/token")
def make_token(book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Make the word by which a program may log; the one before counts no more. It is shown once."""
    word = secrets.token_urlsafe(24)
    book.keep_setting(TOKEN, _digest(word))
    return _shown(case.again(), page, token=word)


@router.post("/machines/{machine_id}/log.json")
async def logged_by_program(machine_id: int, request: Request, book: OpenBook) -> Response:
    """Keep entries that a program sends: CSV, or JSON with the same names, one entry or a list of them.

    The header `authorization: Bearer WORD` has to hold the word made at Watch; with an `x-ticket` what is sent
    twice counts once.
    """
    header = request.headers.get("authorization", "")
    known = book.setting(TOKEN)
    word = header[len(BEARER) :].strip() if header.lower().startswith(BEARER) else ""
    if not known or not hmac.compare_digest(_digest(word), known):
        refused = {"where": "authorization", "found": "no word, or another than the one made at Watch"}
        refused |= {"need": "authorization: Bearer WORD", "do": "make a word at Watch, and send it"}
        return JSONResponse({"error": refused}, status_code=401, headers={"www-authenticate": "Bearer"})
    text = (await request.body()).decode("utf-8-sig", "replace")
    kept = _keep_sent(book, machine_id, text, request)
    return JSONResponse({"new": kept.new, "before": kept.before, "notes": list(kept.notes)})


def _keep_sent(book: Book, machine_id: int, text: str, request: Request) -> LogKept:
    book.machine(machine_id)  # there is one
    table = _table(text) if "json" in request.headers.get("content-type", "") else text
    log = read_log([(table, "")])
    return keep_log(book, log, machine_id=machine_id, source="program", ticket=request.headers.get("x-ticket", ""))


def _table(text: str) -> str:
    """Return JSON entries as the table that a log file would be."""
    try:
        document = json.loads(text)
    except (ValueError, RecursionError):
        document = None
    rows = [document] if isinstance(document, dict) else document
    plain_rows = isinstance(rows, list) and rows and all(isinstance(row, dict) for row in rows)
    if not plain_rows or not all(
        isinstance(value, str | int | float | None) for row in rows for value in row.values()
    ):
        raise InputError(
            where="body",
            found="no entries",
            need="an object, or a list of them",
            do='send {"deviation_mm": 0.002}',
        )
    now = datetime.now(UTC).isoformat(timespec="milliseconds")
    rows = [{"time": now} | row for row in rows]
    names = list(dict.fromkeys(name for row in rows for name in row))
    cells = [[_cell(row.get(name)) for name in names] for row in rows]
    return "\n".join(",".join(line) for line in [[_cell(name) for name in names], *cells]) + "\n"


def _cell(value: object) -> str:
    text = "" if value is None else repr(value) if isinstance(value, float) else str(value)
    quotes = text.replace('"', '""')
    return f'"{quotes}"'


def _digest(word: str) -> str:
    return hashlib.sha256(word.encode()).hexdigest()


def _shown(
    case: OpenCase,
    page: ThisPage,
    *,
    texts: FormTexts | None = None,
    status: int = 200,
    settings: list[Field] | None = None,
    **more: str,
) -> Response:
    watched, day = case.watched, case.basis.today
    due = due_tests(case, today=day)
    charted = [row for row in watched.rows if row.logged.charted] if watched else []
    proposed = worked_out("the baseline of the trial", lambda: proposed_baselines(case))
    return page(
        "watch.html",
        case,
        data=lambda: {
            **(as_json(watched, system=case.system) if watched else {"machines": [], "needs_look": False}),
            "tests_due": [test.as_json() for test in due],
        },
        status=status,
        verdict=_verdict(watched),
        watched=watched,
        table=watch_table(watched, system=case.system) if watched else None,
        details=watch_details(watched, system=case.system) if watched else (),
        pictures=[watch_picture(row, system=case.system) for row in charted],
        ranges=[moving_range_picture(row, system=case.system) for row in charted if row.watched.baseline],
        asked=asked_of_log(charted, system=case.system),
        is_open=any(alarm.open for row in charted for alarm in row.watched.alarms),
        due=due,
        sides=OF_SIDE,
        fields=entry_fields(case, texts or {}),
        texts=dict.fromkeys((*NAMES, "text"), "") | (texts or {}),
        events=EVENTS,
        ticket=secrets.token_hex(8),
        log=[(kept, written_beside(kept.entry)) for kept in case.basis.kept_log[: -NEWEST - 1 : -1]],
        log_n=len(case.basis.kept_log),
        settings=settings or _setting_fields(case),
        proposed=proposed if isinstance(proposed, dict) else {},
        confirmed=case.basis.watching.confirmed if case.basis.watching.baseline_from == "trial" else "",
        has_token=bool(case.book.setting(TOKEN)),
        **{"entry_error": "", "file_error": "", "settings_error": "", "token": ""} | more,
    )


def _verdict(watched: LogWatched | None) -> str:
    return headline(watched) if watched else NOTHING_LOGGED


def _unit(case: OpenCase, kind: str) -> str:
    return plain(field_unit(kind, system=case.system))


def entry_fields(case: OpenCase, texts: FormTexts) -> list[Field]:
    """What is asked of a check homing: of each axis its reading, of a gantry both; the temperature."""
    made = []
    for axis in case.machine.axes:
        for name, words in SIDES if axis.motors == 2 else ALONE:
            field = f"{name}.{axis.name}"
            made.append(
                Field(
                    name=field,
                    label=f"{axis.name} {words}".rstrip(),
                    value=texts.get(field, ""),
                    unit=_unit(case, "length"),
                )
            )
    degrees = _unit(case, "temperature")
    made.append(Field(name="temperature", label="Temperature", value=texts.get("temperature", ""), unit=degrees))
    return made


def _typed_entries(case: OpenCase, texts: FormTexts) -> tuple[LogEntry, ...]:
    """One entry for each reading of the morning, and one for what was written beside them."""
    now = datetime.now(UTC).astimezone()
    length, degrees = _unit(case, "length"), _unit(case, "temperature")

    def read_in(typed: dict[str, str]) -> tuple[LogEntry, ...]:
        return entry_from(typed, now=now, length_unit=length, temperature_unit=degrees)

    beside = {name: texts[name] for name in ("time", "temperature", "condition", "note") if texts.get(name)}
    entries: tuple[LogEntry, ...] = ()
    for axis in case.machine.axes:
        names = [name for name, _ in (*SIDES, *ALONE) if texts.get(f"{name}.{axis.name}")]
        if names:
            readings = {name: texts[f"{name}.{axis.name}"] for name in names}
            entries += read_in(beside | readings | {"axis": axis.name})
    more = {name: texts[name] for name in ALONE_TOLD if texts.get(name)}
    if more or not entries:
        of_axis = {"axis": texts["axis"]} if texts.get("axis") else {}
        with_it = {name: text for name, text in beside.items() if not entries or name in ("time", "condition")}
        entries += read_in(with_it | more | of_axis)
    return entries


def _setting_fields(case: OpenCase, texts: FormTexts | None = None) -> list[Field]:
    return forms.fields(ON_PAGE, case.basis.watch_typed, system=case.system, texts=texts)


def _keep_settings(case: OpenCase, texts: FormTexts) -> None:
    typed = forms.merged(case.basis.watch_typed, ON_PAGE, forms.kept(ON_PAGE, texts, system=case.system))
    settings_from(typed)
    case.book.add_sheet(case.id, WATCH, typed)
