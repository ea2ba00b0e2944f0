"""Capture: a page of the Trial station. The tap is checked, a file brought in and read by its channels."""

from collections.abc import AsyncIterator, Mapping
from typing import Any
from urllib.parse import urlencode

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from holdzero.case.in_book import CAPTURE
from holdzero.case.tapped import JOINED, Tapping, tapped
from holdzero.chart.waveform import Window, waveform, window_of
from holdzero.compute.capture import CAPTURE_KEYS, CaptureFindings, capture_as_json, readings_csv, trip_rows
from holdzero.compute.capture.debounce import MISS_RATES
from holdzero.compute.capture.measured import measured_keys
from holdzero.compute.capture.roles import ROLES, guessed_roles, map_of, roles_in
from holdzero.compute.plan.long_run import CONDITIONS, HOMINGS
from holdzero.compute.wiring import TAP_KEYS
from holdzero.compute.wiring.tap import SAFETY
from holdzero.errors import HoldzeroError, InputError
from holdzero.form import write_toml
from holdzero.inputs.reading import read_readings
from holdzero.quantity import quoted
from holdzero.tell.capture import LISTED, debounce_answer, events_table, tell_capture, tell_tap
from holdzero.tell.words import key_in_words
from holdzero.trial.long_run_asked import life_used, refuse_unless_it_stops
from holdzero.trial.long_run_kept import keep_long_run
from holdzero.web import forms, held
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.contained import worked_out
from holdzero.web.forms import Field, FormTexts, Typed
from holdzero.web.held import HeldCapture
from holdzero.web.page import ThisPage
from holdzero.web.rail import Subpage

router = APIRouter()
PAGE = Subpage("capture", router)
READ = Subpage("capture_read")
BLOCK = 1 << 20  # bytes taken at a time from an upload
ASKED = ("count", "inward", "debounce", "approach_speed", "quiet")  # keys of the map that a page asks as fields
WAVE = "wave"  # our own script asks for the picture alone


@router.get("/machines/{machine_id}/capture")
@router.get("/machines/{machine_id}/capture.json")
def capture(case: ThisCase, page: ThisPage) -> Response:
    """Whether the analyser may be connected, a place for the file, and what a long run asks for."""
    return _landing(case, page)


@router.post("/machines/{machine_id}/capture/tap")
def check_tap(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep what a channel bears and how it is connected, and solve the circuits with it."""
    sheet = dict(_sheet(case))
    tap = {key.name: texts[f"tap-{key.name}"] for key in TAP_KEYS if texts.get(f"tap-{key.name}")}
    sheet |= {"tap": tap, "signals": texts.get("signals", ""), "joined": texts.get("joined", "")}
    if isinstance(_tapping(case, sheet), HoldzeroError):
        return _landing(case, page, texts, status=422)
    book.add_sheet(case.id, CAPTURE, sheet)
    return page.to(f"{case.href('capture')}#tap")


@router.post("/machines/{machine_id}/capture/file", max_body_size=held.MOST_BYTES)
async def bring(case: ThisCase, page: ThisPage, request: Request, name: str = "") -> Response:
    """Take a capture file in, block by block; refused before a byte is read while the tap is not sure."""
    refuse_untapped(case)
    if not request.headers.get("content-type", "").startswith("multipart/"):
        incoming = held.Incoming(case.id, name)
        await _take(incoming, request.stream())
    else:  # without our script
        async with request.form() as form:
            file = form.get("file")
            if not isinstance(file, UploadFile) or not file.filename:
                raise InputError(where="file", found="no file", need="a capture, VCD or CSV", do="choose one")
            incoming = held.Incoming(case.id, file.filename)
            await _take(incoming, _blocks(file))
    capture = await run_in_threadpool(incoming.done)
    return page.to(_href(case, capture))


async def _take(incoming: held.Incoming, blocks: AsyncIterator[bytes]) -> None:
    """Write blocks as they come; one that never comes takes all of it away again."""
    try:
        async for block in blocks:
            incoming.take(block)
    except BaseException:
        incoming.drop()
        raise


async def _blocks(file: UploadFile) -> AsyncIterator[bytes]:
    while block := await file.read(BLOCK):
        yield block


@router.get("/machines/{machine_id}/capture/{token}/state.json")
def state(case: ThisCase, token: str) -> dict[str, Any]:
    """How much of a capture is read."""
    capture = held.held(case.id, token)
    return {"reading": capture.reading, "percent": capture.percent}


@router.get("/machines/{machine_id}/capture/{token}/map.toml")
def as_map(case: ThisCase, token: str) -> Response:
    """The map as a file, for the next capture and for the terminal."""
    capture, tap = held.held(case.id, token), _sheet(case).get("tap")
    text = write_toml({**capture.entered, **({"tap": tap} if tap else {})})
    return Response(text, media_type="application/toml", headers=_to_save("map.toml"))


@router.get("/machines/{machine_id}/capture/{token}/readings.csv")
def as_readings(case: ThisCase, token: str) -> Response:
    """The trips as a readings file."""
    capture = held.held(case.id, token)
    written = readings_csv(trip_rows(_read(capture)), sensor="", axis="", side="", digest=capture.digest)
    return Response(written, media_type="text/csv", headers=_to_save("readings.csv"))


@router.get("/machines/{machine_id}/capture/{token}")
@router.get("/machines/{machine_id}/capture/{token}.json")
def look(case: ThisCase, page: ThisPage, token: str, request: Request) -> Response:
    """What a capture says, and its channels."""
    return _shown(case, page, held.held(case.id, token.removesuffix(".json")), dict(request.query_params))


@router.post("/machines/{machine_id}/capture/{token}")
def read(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, token: str) -> Response:
    """Keep which channel is which, and read the file with that."""
    capture = held.held(case.id, token)
    refuse_untapped(case)
    try:
        entered = {"capture": _entered(capture, texts, case)}
        book.add_sheet(case.id, CAPTURE, {**_sheet(case), **entered})
        capture.read(entered)
    except InputError as error:
        return _shown(case, page, capture, {}, texts=texts, error=str(error), status=422)
    return page.to(_href(case, capture))


@router.post("/machines/{machine_id}/capture/{token}/keep")
def keep(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, token: str) -> Response:
    """Make the trips a trial of the kind long run, with the digest of the capture."""
    capture = held.held(case.id, token)
    rows = trip_rows(_read(capture), all_speeds="all_speeds" in texts)
    whose = {name: texts.get(name, "") for name in ("sensor", "axis", "side")}
    written = readings_csv(rows, **whose, digest=capture.digest)
    done = keep_long_run(
        book,
        case.kept,
        read_readings(written, where=capture.name),
        name=f"Long run, capture {capture.digest[:8]}",
        note=f"SHA-256 of the capture: {capture.digest}",
    )
    return page.to(case.href("findings", sensor=whose["sensor"], axis=whose["axis"]), done.sentence)


@router.post("/machines/{machine_id}/capture/{token}/measured")
def into_machine(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, token: str) -> Response:
    """Write what was measured of an axis into its keys, so that travel and budget rest on it."""
    measured = measured_keys(_read(held.held(case.id, token)))
    axis, axes = texts.get("axis", ""), dict(case.kept.document.get("axes", {}))
    if axis not in axes or not measured:
        raise InputError(
            where="axis",
            found=quoted(axis) if measured else "a capture that measures neither",
            need=f"one of {', '.join(axes)}, and a capture with trips at two speeds",
            do="choose the axis, or capture at two speeds",
        )
    book.change_machine(case.id, {**case.kept.document, "axes": {**axes, axis: {**axes[axis], **measured}}})
    written = ", ".join(f"{key_in_words(name)} {text}" for name, text in measured.items())
    return page.to(case.href("travel"), f"{axis}: {written}, as measured.")


def refuse_untapped(case: OpenCase) -> None:
    """Refuse to read anything while it is not known that the analyser may be connected.

    Raises
    ------
    InputError
        What is not known, or which input may not be tapped as it is.
    """
    tapping = _tapping(case, _sheet(case))
    if isinstance(tapping, HoldzeroError):
        raise tapping
    if tapping is None:
        raise InputError(
            where="the analyser's channels",
            found="nothing said of what a channel bears",
            need="its rating, before anything is read",
            do="enter it from the analyser's manual, and how the channels are connected",
        )
    if tapping.refused:
        raise tapping.refused


def _landing(case: OpenCase, page: ThisPage, texts: FormTexts | None = None, *, status: int = 200) -> Response:
    sheet = _sheet(case)
    if texts is not None:
        tap = {key.name: texts.get(f"tap-{key.name}", "") for key in TAP_KEYS}
        sheet = {**sheet, "tap": tap, "signals": texts.get("signals", ""), "joined": texts.get("joined", "")}
    tapping = _tapping(case, sheet)
    answer = None if not isinstance(tapping, Tapping) or not tapping.seen else tell_tap(tapping.seen)
    captures = held.held_of(case.id)
    return page(
        "capture.html",
        case,
        data=lambda: {
            "taps": [seen.as_json() for seen in tapping.seen] if isinstance(tapping, Tapping) else [],
            "refused": _refused(tapping),
            "captures": [{"name": capture.name, "digest": capture.digest} for capture in captures],
        },
        status=status,
        refused=_refused(tapping),
        unsolved=tapping.unsolved if isinstance(tapping, Tapping) else (),
        answer=answer,
        tap_fields=_tap_fields(case, sheet, texts),
        captures=[(capture, _href(case, capture)) for capture in captures],
        run=_long_run(case),
        conditions=CONDITIONS,
        tap_safety=SAFETY.text,
    )


def _shown(
    case: OpenCase,
    page: ThisPage,
    capture: HeldCapture,
    query: Mapping[str, str],
    *,
    texts: FormTexts | None = None,
    error: str = "",
    status: int = 200,
) -> Response:
    findings = capture.findings
    wave = _wave(case, capture, query) if findings else None
    if query.get("part") == WAVE and wave:
        return page("capture_wave.html", case, wave=wave, rail=())
    rates = [(f"{rate:g}", f"1 in {1 / rate:.0f}") for rate in MISS_RATES]
    rate = query.get("missed", "0.001")
    return page(
        "capture_read.html",
        case,
        data=lambda: capture_as_json(_read(capture)) | {"digest": capture.digest},
        status=status,
        capture=capture,
        at_capture=_href(case, capture),
        answer=tell_capture(findings, system=case.system) if findings else None,
        debounce=[debounce_answer(switch, float(rate), system=case.system) for switch in findings.switches]
        if findings and rate in dict(rates)
        else [],
        missed=Field(name="missed", label="Trips that may be missed", value=rate, choices=rates),
        wave=wave,
        events=_events(findings, query, case) if findings else (),
        listed="rows" in query,
        error=error or capture.trouble,
        channels=_channel_rows(case, capture, texts),
        roles=list(ROLES.items()),
        fields=_map_fields(case, capture, texts),
        keep_fields=_keep_fields(case, findings) if findings else (),
        kept_before=_kept_before(case, capture),
        measured={key_in_words(name): text for name, text in measured_keys(findings).items()} if findings else {},
        axes=[axis.name for axis in case.machine.axes],
    )


def _wave(case: OpenCase, capture: HeldCapture, query: Mapping[str, str]) -> dict[str, Any] | None:
    """Return the picture around one trip or release, and where the buttons below it lead."""
    findings = _read(capture)
    number_of = _whole(query.get("switch"), len(findings.switches) - 1)
    switch = findings.switches[number_of]
    many = switch.events.first.size
    if not many:
        return None
    number = _whole(query.get("event"), many - 1)
    usual, last = window_of(findings, switch, number), findings.recorded.last_tick
    start, end = query.get("from", ""), query.get("to", "")
    asked = _tick(start) is not None and _tick(end) is not None and (_tick(end) or 0) > (_tick(start) or 0)
    seen = Window(_tick(start) or 0, _tick(end) or 0, usual.origin).inside(last) if asked else usual

    def to(window: Window | None = None, *, at: int = number, of: int = number_of) -> str:
        place = {} if window is None else {"from": str(window.start), "to": str(window.end)}
        return _href(case, capture, switch=str(of), event=str(at), **place) + "#wave"

    whole = Window(0, last, usual.origin)
    ways = {
        "Trip before": to(at=max(number - 1, 0)) if number else "",
        "Next trip": to(at=number + 1) if number + 1 < many else "",
        "Earlier": to(seen.moved(-0.5).inside(last)) if seen.start > 0 else "",
        "Later": to(seen.moved(0.5).inside(last)) if seen.end < last else "",
        "Closer": to(seen.closer(2.0).inside(last)) if seen.ticks > 4 else "",
        "Wider": to(seen.closer(0.5).inside(last)) if seen.ticks < last else "",
        "This trip": to() if asked else "",
        "The whole file": to(whole) if seen.ticks < last else "",
    }
    return {
        "picture": waveform(findings, switch, number, seen, system=case.system),
        "ways": ways,
        "start": seen.start,
        "end": seen.end,
        "last": last,
        "tick_s": findings.recorded.tick_s,
        "origin": usual.origin,
        "event": number,
        "events": many,
        "switch": number_of,
        "switches": [(of, known.switch.name, to(at=0, of=of)) for of, known in enumerate(findings.switches)],
    }


def _whole(text: str | None, most: int) -> int:
    """Return a whole number of an address from 0 to `most`; what is none is 0."""
    return min(int(text), most) if text and text.isdecimal() and len(text) < 18 else 0


def _tick(text: str) -> int | None:
    bare = text.removeprefix("-")
    return int(text) if bare.isdecimal() and len(bare) < 18 else None


def _events(findings: CaptureFindings, query: Mapping[str, str], case: OpenCase) -> tuple[Any, ...]:
    """Return for each switch the table of a part of its events, and the numbers the parts begin at."""
    first = _whole(query.get("rows"), 10**9) // LISTED * LISTED
    tick_s = findings.recorded.tick_s
    return tuple(
        (
            events_table(switch, case.system, tick_s=tick_s, first=min(first, switch.events.first.size)),
            [
                (number, number == first, f"{number + 1} to {min(number + LISTED, switch.events.first.size)}")
                for number in range(0, switch.events.first.size, LISTED)
            ],
        )
        for switch in findings.switches
    )


def _channel_rows(case: OpenCase, capture: HeldCapture, texts: FormTexts | None) -> list[tuple[str, str, bool]]:
    """Return name and role of each channel, and whether it reads 0 when tripped: as typed, kept, or guessed."""
    names = capture.channels.names
    if texts is not None:
        return [
            (name, texts.get(f"role-{number}", ""), f"low-{number}" in texts) for number, name in enumerate(names)
        ]
    entered = capture.entered.get("capture") or _sheet(case).get("capture", {})
    kept = {name: role for name, role in roles_in(entered).items() if name in names}
    roles = kept if kept else guessed_roles(names)
    low = entered.get("active_low", ()) if kept else ()
    return [(name, roles.get(name, ""), name in low) for name in names]


def _map_fields(case: OpenCase, capture: HeldCapture, texts: FormTexts | None) -> list[Field]:
    asked = [key for key in CAPTURE_KEYS if key.name in _asked(capture)]
    entered = dict(capture.entered.get("capture") or _sheet(case).get("capture", {}))
    entered.setdefault("approach_speed", _approach(case))
    fields = forms.fields(asked, entered, system=case.system, texts=texts)
    hints = {"debounce": "Empty: both are told. " + next(k.meaning for k in asked if k.name == "debounce")}
    return [field.with_(hint=hints.get(field.name, field.hint)) for field in fields]


def _asked(capture: HeldCapture) -> tuple[str, ...]:
    return ASKED if capture.channels.timed else (*ASKED, "rate")


def _approach(case: OpenCase) -> str:
    """Return the approach speed that the machine states for the axis that is meant; empty: none."""
    axis = worked_out("the axis", lambda: case.judged.name)
    if isinstance(axis, HoldzeroError):
        return ""
    return str(case.kept.document.get("axes", {}).get(axis, {}).get("approach_speed", ""))


def _entered(capture: HeldCapture, texts: FormTexts, case: OpenCase) -> dict[str, Any]:
    """Return the map as its file writes it.

    Raises
    ------
    InputError
        A role that two channels have and only one may have, or one that there is not.
    """
    roles: dict[str, str] = {}
    for number, name in enumerate(capture.channels.names):
        role = texts.get(f"role-{number}", "")
        if role not in ROLES:
            raise InputError(
                where=name, found=quoted(role), need=f"one of {', '.join(ROLES.values())}", do="choose one of them"
            )
        if role and role != "switch" and role in roles.values():
            raise InputError(
                where=name,
                found=f"a second {ROLES[role]}",
                need="one channel for it",
                do="choose “not used” for the other",
            )
        roles[name] = role
    low = [name for number, name in enumerate(capture.channels.names) if f"low-{number}" in texts and roles[name]]
    keys = [key for key in CAPTURE_KEYS if key.name in _asked(capture)]
    return {
        **forms.kept(keys, texts, system=case.system),
        **map_of(roles),
        **({"active_low": [name for name in low if roles[name].startswith("switch")]} if low else {}),
    }


def _keep_fields(case: OpenCase, findings: CaptureFindings) -> list[Field]:
    sensors = [(sensor.name, sensor.name) for sensor in case.sensors]
    axes = [(axis.name, axis.name) for axis in case.machine.axes]
    fields = [
        Field(name="sensor", label="Candidate", value=sensors[0][0] if sensors else "", choices=sensors),
        Field(name="axis", label="Axis", value=axes[0][0] if axes else "", choices=axes),
    ]
    if not any(switch.switch.side for switch in findings.switches):
        sides = [("", "no side"), ("L", "left"), ("R", "right")]
        fields.append(Field(name="side", label="Side", choices=sides))
    return fields


def _kept_before(case: OpenCase, capture: HeldCapture) -> str:
    """Return the name of the trial that this capture was made before; empty: none."""
    return next((trial.name for trial in case.trials if capture.digest in trial.note), "")


def _tap_fields(case: OpenCase, sheet: Mapping[str, Any], texts: FormTexts | None) -> list[Field]:
    again = None if texts is None else dict(texts)
    fields = forms.fields(TAP_KEYS, sheet.get("tap", {}), system=case.system, prefix="tap-", texts=again)
    names = {
        "tap-rating": "A channel bears",
        "tap-low": "Reads 0 up to",
        "tap-high": "Reads 1 from",
        "tap-load": "Its load",
    }
    fields = [field.with_(label=names[field.name]) for field in fields]
    fields.append(
        Field(
            name="signals",
            label="Supply of the encoder or step signals",
            value=str(sheet.get("signals", "")),
            example="5 V",
            hint="if they are tapped too",
        )
    )
    fields.append(
        Field(
            name="joined",
            label="The channels are connected",
            value=str(sheet.get("joined", "")),
            choices=list(JOINED.items()),
        )
    )
    return fields


def _long_run(case: OpenCase) -> dict[str, Any]:
    """Say on which axes a long run is offered, why not on others, and what it takes of the switch."""
    axes = [(axis.name, _why_no_run(case, axis.name)) for axis in case.machine.axes]
    sensor = case.sensors[0] if len(case.sensors) == 1 else None
    return {
        "offered": [name for name, why in axes if not why],
        "refused": [(name, why) for name, why in axes if why],
        "life": life_used(sensor, HOMINGS if sensor else None),
    }


def _why_no_run(case: OpenCase, axis: str) -> str:
    """Say why no long run is offered on an axis; empty: it is."""

    def refuse() -> None:
        refuse_unless_it_stops(case.on(axis))

    refused = worked_out(f"whether a long run is offered on {axis}", refuse)
    return str(refused) if isinstance(refused, HoldzeroError) else ""


def _tapping(case: OpenCase, sheet: Mapping[str, Any]) -> Tapping | HoldzeroError | None:
    return worked_out(
        "the tap of the analyser",
        lambda: tapped(
            case.all_circuits,
            sheet.get("tap", {}),
            signals=sheet.get("signals", ""),
            joined=sheet.get("joined", ""),
        ),
    )


def _refused(tapping: Tapping | HoldzeroError | None) -> str:
    if isinstance(tapping, HoldzeroError):
        return str(tapping)
    if tapping is None:
        return "Not said yet what a channel of the analyser bears."
    return str(tapping.refused) if tapping.refused else ""


def _sheet(case: OpenCase) -> Mapping[str, Any]:
    return next(iter(case.book.sheets(case.id, CAPTURE)), {})


def _read(capture: HeldCapture) -> CaptureFindings:
    if capture.findings is None:
        raise InputError(
            where=capture.name,
            found=capture.trouble or "a capture that is not read yet",
            need="one that is read",
            do="say which channel is which, and read it",
        )
    return capture.findings


def _href(case: OpenCase, capture: HeldCapture, **query: str) -> str:
    asked = f"?{urlencode(query)}" if query else ""
    return f"/machines/{case.id}/capture/{capture.token}{asked}"


def _to_save(name: str) -> dict[str, str]:
    return {"content-disposition": f'attachment; filename="{name}"', "cache-control": "no-store"}
