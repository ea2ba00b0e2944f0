"""Wiring: what the controller's inputs make of the switches, whole and with every single fault."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from math import ceil
from typing import Any

from fastapi import APIRouter, Response, UploadFile

from holdzero.case.circuits import SHEET, Circuits, read_file, refused
from holdzero.case.taken_off import CIRCUITS, TakenOff, mark_back, numbered, take_off, taken_off
from holdzero.chart import PRINT, Picture
from holdzero.chart.wiring import diagram
from holdzero.chart.wiring_bench import bench_tests
from holdzero.compute.choose.electrical import Tried, with_sensor
from holdzero.compute.wiring import Assessment
from holdzero.compute.wiring.presets import PRESETS
from holdzero.compute.wiring.taken import taken
from holdzero.compute.wiring.terminals import Wire, wires
from holdzero.compute.wiring.unknown import TEST_OHM, Identified, identify
from holdzero.compute.wiring.words import LAYOUT, SAFETY, ohms
from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY, is_example, read_toml, write_toml
from holdzero.inputs.machine.values import Machine
from holdzero.quantity import quoted, read
from holdzero.store import NotInBook
from holdzero.tell.blocks import Answer, Facts, Table
from holdzero.tell.wiring import contact_facts, delay_of, fault_table, tell_wiring, terminal_table, wiring_headline
from holdzero.tell.words import side_of
from holdzero.web import forms
from holdzero.web.by_field import SelfSaving, Sent, save
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.circuit_form import SHOWN_AS, CircuitForm, circuit_form, with_circuit_texts
from holdzero.web.forms import Field, FormTexts, Typed, chosen
from holdzero.web.page import ThisPage, Undo
from holdzero.web.rail import DONE, OPEN, Mark, Station, Subpage, flag

router = APIRouter()
Entered = Mapping[str, Any]

PASTED, INSTEAD = "pasted text", "instead"
PLACES = (("beside", "beside those that are here"), (INSTEAD, "in place of those that are here"))
COPY = "copy-"  # before the number of the circuit that a new one begins as
MEASURED = {
    "supply": "Supply, brown to blue",
    "minus_away": "Resistor to 0 V, flag away",
    "minus_near": "Resistor to 0 V, flag at it",
    "plus_away": "Resistor to plus, flag away",
    "plus_near": "Resistor to plus, flag at it",
}


@dataclass(frozen=True)
class Wired:
    """One circuit of a machine as a page shows it."""

    number: int
    entered: Entered
    assessment: Assessment
    count: int = 1  # circuits of the machine
    machine: str = ""

    @property
    def name(self) -> str:
        """What it is called."""
        return str(self.entered.get("name") or f"Circuit {self.number}")

    @property
    def headline(self) -> str:
        """What comes of it, as in the terminal and in the record."""
        return wiring_headline((self.assessment,))

    @cached_property
    def picture(self) -> Picture | None:
        """The diagram; None while it is not said what is joined to what."""
        if self.assessment.circuit is None:
            return None
        sheet = f"{self.number} of {self.count}"
        return diagram(self.assessment, machine=self.machine, sheet=sheet, day=date.today().isoformat())

    @cached_property
    def wires(self) -> tuple[Wire, ...]:
        """The terminal list."""
        assessment = self.assessment
        return wires(assessment.circuit, assessment.netlist) if assessment.circuit and assessment.netlist else ()

    @cached_property
    def answer(self) -> Answer:
        """What is said of it, but for its drawing."""
        return tell_wiring((self.assessment,))

    @property
    def faults(self) -> Table:
        """What each single fault does, those that matter first."""
        return fault_table(self.assessment)

    @property
    def terminals(self) -> Table:
        """Where each wire starts and ends."""
        return terminal_table(self.name, self.wires)

    @property
    def contact(self) -> Facts | None:
        """What the contact switches, beside what its material needs; None without one."""
        return contact_facts(self.assessment)

    @property
    def delay(self) -> str:
        """What cable and filter do to the edges; empty where it is nothing."""
        return delay_of(self.assessment)

    def as_json(self) -> dict[str, Any]:
        """As `holdzero wiring --json` has it."""
        return self.assessment.as_json() | {
            "terminals": [wire.as_json() for wire in self.wires],
            "layout": list(LAYOUT),
        }


def mark(case: OpenCase) -> Mark:
    """Done when every circuit reads right and no lost wire hides; flagged with the first that does not."""
    assessments = case.circuits.solved
    if not assessments:
        return OPEN
    bad = next((wired for wired in _wired(case.circuits) if not wired.assessment.passes), None)
    if bad is None:
        return DONE
    verdict = bad.assessment.verdict
    return flag(f"{bad.name}: {'a lost wire or supply hides' if verdict.startswith('works') else verdict}")


STATION = Station("Wiring", router, mark)
BESIDE = (Subpage("wiring_terminals"), Subpage("wiring_unknown"))


@router.get("/machines/{machine_id}/wiring")
@router.get("/machines/{machine_id}/wiring.json")
def wiring(case: ThisCase, page: ThisPage, circuit: int = 1) -> Response:
    """One circuit: verdict, diagram, states, faults, terminals, and what it was made from."""
    return _shown(case, page, circuit)


@router.get("/machines/{machine_id}/wiring.toml")
def as_file(case: ThisCase) -> Response:
    """Every circuit as a wiring file."""
    text = write_toml(({EXAMPLE_KEY: True} if case.invented else {}) | case.circuits.document())
    return Response(text, media_type="application/toml", headers=_download(f"wiring-{case.id}.toml"))


@router.get("/machines/{machine_id}/wiring/{number}.svg")
def as_drawing(case: ThisCase, number: int) -> Response:
    """The diagram of one circuit."""
    picture = _at(case, number).picture
    if picture is None:
        raise NotInBook(
            where=f"circuit {number}",
            found="no diagram",
            need="output of the sensor and kind of input",
            do="give both",
        )
    drawn, name = picture.marked(case.invented).svg(PRINT), f"wiring-{case.id}-{number}.svg"
    return Response(drawn, media_type="image/svg+xml", headers=_download(name))


@router.get("/machines/{machine_id}/wiring/terminals")
def terminals(case: ThisCase, page: ThisPage) -> Response:
    """Every wire, to print and take to the machine."""
    return page(
        "wiring_terminals.html",
        case,
        circuits=_wired(case.circuits, case.machine.name),
        layout_checks=LAYOUT,
        before=_before(),
        today=date.today().isoformat(),
    )


@router.get("/machines/{machine_id}/wiring/unknown")
@router.get("/machines/{machine_id}/wiring/unknown.json")
def unknown(case: ThisCase, page: ThisPage, circuit: int = 1) -> Response:
    """Holding an unknown sensor: how to find out what it is, and what four voltages say."""
    texts = {name: text for name in MEASURED if (text := page.request.query_params.get(name, "").strip())}
    fields, known_v = _measured(texts)
    identified = _identified(known_v) if len(known_v) == len(MEASURED) else None
    return page(
        "wiring_unknown.html",
        case,
        data=lambda: (
            {"output": identified.output, "contact": identified.contact, "says": identified.text}
            if identified
            else {}
        ),
        status=422 if any(field.error for field in fields) else 200,
        picture=bench_tests(),
        fields=fields,
        identified=identified,
        pull=f"{identified.pull_ohm:.2g}" if identified and identified.pull_ohm else "",
        circuit=circuit if 1 <= circuit <= len(case.circuits.entered) else 0,
        test_resistor=ohms(TEST_OHM),
    )


@router.post("/machines/{machine_id}/wiring/circuits")
def add(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Add a circuit: one of ours, or another one again."""
    begins = texts.get("start", "")
    if begins.startswith(COPY) and begins.removeprefix(COPY).isdecimal():
        first = dict(_at(case, int(begins.removeprefix(COPY))).entered)
    else:
        first = {**(PRESETS.get(begins) or next(iter(PRESETS.values())))[1]}
        supply = case.kept.document.get("machine", {}).get("supply")
        if supply and "shared" not in first["supply"]:
            first["supply"] = {**first["supply"], "voltage": supply}
    axis, side = texts.get("axis", ""), texts.get("side", "")
    fields = [chosen(field.with_(value=texts.get(field.name, ""))) for field in _new(case.circuits, case.machine)]
    if wrong := next((field for field in fields if field.error and field.value), None):
        raise InputError(
            where=wrong.name, found=quoted(wrong.value), need="one of the list", do="choose one on the page"
        )
    head = {
        "name": texts.get("name") or _called(axis, side),
        "machine": case.machine.name,
        "axis": axis,
        "side": side,
    }
    made = {name: text for name, text in head.items() if text}
    made |= {name: value for name, value in first.items() if name not in head}
    if error := refused(made):
        raise error
    _keep(book, case, (*case.circuits.entered, made))
    return page.to(_href(case, len(case.circuits.entered) + 1))


@router.post("/machines/{machine_id}/wiring/import")
def bring_in(
    texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, file: UploadFile | None = None
) -> Response:
    """Take the circuits of a wiring file, beside those that are there or in their place."""
    name, text = PASTED, texts.get("text", "")
    try:
        if file is not None and file.filename:
            name, text = file.filename, _text_of(file)
        elif not text:
            raise InputError(found="nothing", need="a wiring file", do="choose one, or paste it")
        came = read_file(text, name)
    except InputError as error:
        return _shown(case, page, 1, brought=texts, brought_error=str(error), status=422)
    before = () if texts.get("place") == INSTEAD else case.circuits.entered
    _keep(book, case, (*before, *came), example=is_example(read_toml(text)))
    count = f"{len(came)} circuits are" if len(came) > 1 else "1 circuit is"
    return page.to(_href(case, len(before) + 1), f"{count} in.")


@router.post("/machines/{machine_id}/wiring/{number}")
def change(sent: Sent, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Keep what was changed of a circuit."""
    saved = save(case, sent, _self_saving(number, sent.get(SHOWN_AS)))
    if saved.answered is None:
        return page.kept(_href(case, number), saved.notice)
    entered = _at(saved.case, number).entered
    form = circuit_form(entered, case.machine, saved.case.system, saved.answered, saved.refusal)
    return _shown(saved.case, page, number, form=form, status=saved.status)


@router.post("/machines/{machine_id}/wiring/{number}/remedy")
def take_over(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Put what mends a circuit into it."""
    wired = _at(case, number)
    remedy = next((offered for offered in wired.assessment.remedies if offered.text == texts.get("text")), None)
    if remedy is None or wired.assessment.circuit is None:
        return page.to(_href(case, number), "The circuit has changed since: nothing was taken over.")
    made = taken(wired.entered, wired.assessment.circuit, remedy.circuit)
    return _changed(book, case, page, number, made, f"Taken over: {remedy.text}.")


@router.post("/machines/{machine_id}/wiring/{number}/candidate")
def put_in(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Put what the sheet of a candidate says into a circuit."""
    kept = next((candidate for candidate in case.candidates if candidate.sensor.name == texts.get("sensor")), None)
    if kept is None:
        raise NotInBook(where="candidate", found="none of that name", need="one of the candidates", do="go back")
    made = with_sensor(_at(case, number).entered, kept.sensor)
    return _changed(book, case, page, number, made, f"{kept.sensor.name} is in, as its sheet says.")


@router.post("/machines/{machine_id}/wiring/{number}/identified")
def put_in_identified(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Put what the bench test found into a circuit."""
    entered = _at(case, number).entered
    names = ("output", "contact", "pull_up", "pull_down")
    measured = {name: text for name in names if (text := texts.get(name))}
    rows = entered.get("sensor", {})
    first = rows if isinstance(rows, Mapping) else rows[0]
    left = {name: value for name, value in first.items() if name not in names}
    made = {**entered, "sensor": left | measured}
    return _changed(book, case, page, number, made, "The sensor is in as it was measured.")


@router.post("/machines/{machine_id}/wiring/{number}/delay")
def hand_on(book: OpenBook, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Write the longest delay of an axis's circuits into the axis, for its travel and its budget."""
    axis = str(_at(case, number).entered.get("axis", ""))
    text, axes = _edge_delay(case.circuits, axis), case.kept.document["axes"]
    if not text or axis not in axes:
        return page.to(_href(case, number), "There is no delay to hand on.")
    book.change_machine(
        case.id, {**case.kept.document, "axes": {**axes, axis: {**axes[axis], "edge_delay": text}}}
    )
    return page.to(_href(case, number), f"Axis {axis} has it: its travel and its budget count it.")


@router.post("/machines/{machine_id}/wiring/{number}/remove")
def remove(book: OpenBook, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Take a circuit out; it can be put back."""
    name, entered = _at(case, number).name, list(case.circuits.entered)
    document = dict(entered.pop(number - 1))
    with book.together():
        off = take_off(book, case.id, CIRCUITS, name=name, place=number - 1, document=document)
        _keep(book, case, tuple(entered))
    undo = Undo("Put it back", _back(case, off))
    return page.to(case.href("wiring"), f"{name} is out. Its figures stay in the book.", undo=undo)


@router.post("/machines/{machine_id}/wiring/back/{number}")
def put_back(book: OpenBook, case: ThisCase, page: ThisPage, number: int) -> Response:
    """Put a circuit back that was taken out, where it stood."""
    off, entered = numbered(book, case.id, CIRCUITS, number), list(case.circuits.entered)
    entered.insert(off.place, off.document)
    with book.together():
        _keep(book, case, tuple(entered))
        mark_back(book, case.id, CIRCUITS, number)
    return page.to(_href(case, min(off.place + 1, len(entered))), f"{off.name} is back.")


def _back(case: OpenCase, off: TakenOff) -> str:
    return f"/machines/{case.id}/wiring/back/{off.number}"


def _self_saving(number: int, shown_as: str) -> SelfSaving:
    """Return how the form of one circuit saves itself; a field that was not shown is not emptied."""

    def fields(case: OpenCase, texts: FormTexts | None) -> list[Field]:
        entered = _at(case, number).entered
        return circuit_form(entered, case.machine, case.system, texts, shown_as=shown_as).fields

    def keep(case: OpenCase, typed: FormTexts) -> None:
        before = _at(case, number).entered
        made = with_circuit_texts(before, typed, case.system)
        if error := refused(made):
            raise error
        if made != before:
            entered = case.circuits.entered
            _keep(case.book, case, (*entered[: number - 1], made, *entered[number:]))

    return SelfSaving(fields=fields, keep=keep)


def _text_of(file: UploadFile) -> str:
    try:
        return file.file.read().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            where=file.filename or "",
            found="a file that is no text",
            need="a wiring file (TOML)",
            do="choose that one",
        ) from error


def _shown(
    case: OpenCase,
    page: ThisPage,
    number: int,
    *,
    form: CircuitForm | None = None,
    brought: FormTexts | None = None,
    brought_error: str = "",
    status: int = 200,
) -> Response:
    circuits = _wired(case.circuits, case.machine.name)
    wired = circuits[min(max(number, 1), len(circuits)) - 1] if circuits else None
    axis = wired.assessment.circuit.axis if wired and wired.assessment.circuit else ""
    delay = _edge_delay(case.circuits, axis) if axis in case.kept.document["axes"] else ""
    return page(
        "wiring.html",
        case,
        data=lambda: {"circuits": [circuit.as_json() for circuit in circuits]},
        status=status,
        circuits=circuits,
        wired=wired,
        layout_checks=LAYOUT,
        before=_before(),
        tried=_tried(case.circuits, wired.number) if wired else [],
        form_of=form or (circuit_form(wired.entered, case.machine, case.system) if wired else None),
        delay=delay,
        delay_axis=axis,
        delay_known=bool(delay) and case.kept.document["axes"][axis].get("edge_delay") == delay,
        new_fields=_new(case.circuits, case.machine),
        places=PLACES if circuits else (),
        brought={"text": "", "place": ""} | (brought or {}),
        brought_error=brought_error,
        off=[(off, _back(case, off)) for off in taken_off(case.book, case.id, CIRCUITS)],
    )


def _changed(
    book: OpenBook, case: OpenCase, page: ThisPage, number: int, made: Entered, notice: str = ""
) -> Response:
    """Keep a circuit in place of the one of that number, unless it contradicts itself."""
    if error := refused(made):
        raise error
    entered = case.circuits.entered
    if made != entered[number - 1]:
        _keep(book, case, (*entered[: number - 1], made, *entered[number:]))
    return page.to(_href(case, number), notice)


def _keep(book: OpenBook, case: OpenCase, entered: tuple[Entered, ...], *, example: bool = False) -> None:
    """Keep circuits in the place of those the case has, unless others are kept by now."""
    with book.together():
        if case.again().circuits.entered != case.circuits.entered:
            raise InputError(
                where="wiring",
                found="circuits that somebody else changed at this moment",
                need="your change of them as they are now",
                do="look at them, then do it once more: nothing of theirs is lost, and nothing of yours is kept",
            )
        _add(book, case, entered, example=example)


def _add(book: OpenBook, case: OpenCase, entered: tuple[Entered, ...], *, example: bool) -> None:
    mark = {EXAMPLE_KEY: True} if entered and (example or case.basis.circuits_example) else {}
    book.add_sheet(case.id, SHEET, mark | Circuits(entered).document())


def _wired(circuits: Circuits, machine: str = "") -> list[Wired]:
    pairs = zip(circuits.entered, circuits.solved, strict=True)
    return [Wired(number, *pair, len(circuits.entered), machine) for number, pair in enumerate(pairs, 1)]


def _at(case: OpenCase, number: int) -> Wired:
    wired = next(
        (circuit for circuit in _wired(case.circuits, case.machine.name) if circuit.number == number), None
    )
    if wired is None:
        raise NotInBook(
            where=case.machine.name, found=f"no circuit {number}", need="a circuit of this machine", do="go back"
        )
    return wired


def _tried(circuits: Circuits, number: int) -> list[tuple[str, str, Tried]]:
    """Each candidate in one circuit: name, kind, and what comes of it."""
    kinds = {sensor.name: sensor.kind for sensor in circuits.sensors}
    return [(name, kinds[name], ways[number - 1]) for name, ways in circuits.tried.items()]


def _href(case: OpenCase, number: int) -> str:
    return case.href("wiring", circuit=str(number) if number > 1 else "")


def _download(name: str) -> dict[str, str]:
    return {"content-disposition": f'attachment; filename="{name}"'}


def _before() -> str:
    return next(caution.text for caution in SAFETY if caution.code == "before-wiring")


def _called(axis: str, side: str) -> str:
    return " ".join(part for part in (axis, side_of(side), "home") if part).capitalize()


def _new(circuits: Circuits, machine: Machine) -> list[Field]:
    """Fields of the next circuit: the first end of an axis that has none yet, wired like the last one."""
    ends = [(axis.name, side) for axis in machine.axes for side in ("LR" if axis.motors == 2 else [""])]
    have = {(str(circuit.get("axis", "")), str(circuit.get("side", ""))) for circuit in circuits.entered}
    axis, side = next((end for end in ends if end not in have), ("", ""))
    copies = [(f"{COPY}{wired.number}", f"As {wired.name}") for wired in reversed(_wired(circuits))]
    starts = [*copies, *((key, words) for key, (words, _) in PRESETS.items())]
    sides = [(side, side_of(side)) for side in ("", "L", "R")]
    axes = [("", ""), *((axis.name, axis.name) for axis in machine.axes)]
    return [
        Field(name="start", label="Begin with", value=starts[0][0], choices=starts),
        Field(name="axis", label="Axis", value=axis, choices=axes),
        Field(
            name="side",
            label="Side, of two motors",
            value=side,
            choices=sides,
        ),
        Field(name="name", label="Name", hint="Left empty: made of axis and side"),
    ]


def _edge_delay(circuits: Circuits, axis: str) -> str:
    """Say the longest delay of an axis's circuits, rounded up; nothing where there is none worth it."""
    longest_s = circuits.edge_delay_s(axis)
    return f"{ceil(longest_s * 1e7) / 10:g} us" if longest_s is not None and longest_s >= 1e-6 else ""


def _measured(texts: FormTexts) -> tuple[list[Field], dict[str, float]]:
    """Return the fields of the bench test, and the voltages that can be read. [V]"""
    fields, known_v = [], {}
    for name, label in MEASURED.items():
        text, error = texts.get(name, "24" if name == "supply" else ""), ""
        try:
            if text:
                known_v[name] = read(text, "voltage", unit="V", where=name)
        except InputError as wrong:
            error = forms.needed(wrong)
        fields.append(Field(name=name, label=label, value=text, unit="V", hint="Measured", error=error))
    return fields, known_v


def _identified(known_v: Mapping[str, float]) -> Identified:
    return identify(**{f"{name}_v": volt for name, volt in known_v.items()})
