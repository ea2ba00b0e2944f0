"""Sensors: the candidates, their data sheets and prices."""

from typing import Any

from fastapi import APIRouter, Response

from holdzero.errors import InputError
from holdzero.inputs.sensor import KEYS
from holdzero.store import KeptSensor, NotInBook
from holdzero.tell.words import count_of
from holdzero.web import forms
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.forms import Field, FormTexts, Typed
from holdzero.web.page import ThisPage, Undo
from holdzero.web.rail import DONE, OPEN, Mark, Station, flag

router = APIRouter()
IN_FRONT = ("name", "kind", "price")  # of a candidate; what else its data sheet says is folded
NEW = 0  # stands for the candidate to be added, among the ids


def mark(case: OpenCase) -> Mark:
    """Flagged while a price is missing: the cheapest that holds cannot be told."""
    if not case.candidates:
        return OPEN
    without = [kept.sensor.name for kept in case.candidates if kept.sensor.price is None]
    return flag(f"no price for {', '.join(without)}") if without else DONE


STATION = Station("Sensors", router, mark)


@router.get("/machines/{machine_id}/sensors")
@router.get("/machines/{machine_id}/sensors.json")
def sensors(case: ThisCase, page: ThisPage) -> Response:
    """The candidates of a machine."""
    return _shown(case, page)


@router.post("/machines/{machine_id}/sensors")
def add(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Add a candidate."""
    name = texts.get("name", "")
    before = next((hidden for hidden in case.book.hidden_sensors(case.id) if hidden.name == name), None)
    if before is not None and not any(field.error for field in _fields(case, None, texts)):
        return _back(case, page, before.id, texts)
    n = book.homings_of(case.id, name)
    has = f" It has {count_of(n, 'homing')} under this name already." if n else ""
    return _kept(case, page, texts, NEW) or page.to(case.href("sensors"), f"{name} added.{has}")


@router.post("/machines/{machine_id}/sensors/{sensor_id}")
def change(texts: Typed, case: ThisCase, page: ThisPage, sensor_id: int) -> Response:
    """Keep what a candidate is now."""
    _refuse_stranger(case, all(kept.id != sensor_id for kept in case.candidates), sensor_id)
    return _kept(case, page, texts, sensor_id) or page.to(case.href("sensors"), f"{texts['name']}: kept.")


@router.post("/machines/{machine_id}/sensors/{sensor_id}/remove")
def remove(book: OpenBook, case: ThisCase, page: ThisPage, sensor_id: int) -> Response:
    """Take a candidate out of the choice."""
    _refuse_stranger(case, book.sensor_text(sensor_id)[2] != case.id, sensor_id)
    name = next((kept.sensor.name for kept in case.candidates if kept.id == sensor_id), "The candidate")
    book.remove_sensor(sensor_id)
    n = book.homings_of(case.id, name)
    sentence = f"{name} is out of the choice. Its data sheet and {count_of(n, 'homing')} stay in the book."
    return page.to(
        case.href("sensors"), sentence, undo=Undo("Put it back", f"/machines/{case.id}/sensors/{sensor_id}/back")
    )


@router.post("/machines/{machine_id}/sensors/{sensor_id}/back")
def put_back(case: ThisCase, page: ThisPage, sensor_id: int) -> Response:
    """Put a candidate back into the choice."""
    _refuse_stranger(case, case.book.sensor_text(sensor_id)[2] != case.id, sensor_id)
    return _back(case, page, sensor_id)


def _refuse_stranger(case: OpenCase, strange: bool, sensor_id: int) -> None:
    """Refuse what is no candidate of this machine."""
    if strange:
        raise NotInBook(
            where=case.machine.name,
            found=f"no candidate {sensor_id}",
            need="a candidate of this machine",
            do="go back",
        )


def _back(case: OpenCase, page: ThisPage, sensor_id: int, texts: FormTexts | None = None) -> Response:
    """Put a candidate back as it was, but for what is typed of it now."""
    case.book.show_sensor(sensor_id)
    kept = case.book.sensor(sensor_id)
    if texts is not None:
        typed = {key: text for key, text in texts.items() if text}
        document = dict(kept.document) | forms.kept(KEYS, typed, system=case.system)
        case.book.change_sensor(sensor_id, kept.sensor.name, document)
    n = case.book.homings_of(case.id, kept.sensor.name)
    sentence = f"{kept.sensor.name} is in the choice again, with its data sheet and {count_of(n, 'homing')}."
    return page.to(case.href("sensors"), sentence)


def _kept(case: OpenCase, page: ThisPage, texts: FormTexts, sensor_id: int) -> Response | None:
    """Keep a candidate, or return the page that says at each field what is wrong."""
    fields = _fields(case, None, texts)
    if not any(field.error for field in fields):
        before = next((kept.document for kept in case.candidates if kept.id == sensor_id), {})
        document = forms.merged(before, KEYS, forms.kept(KEYS, texts, system=case.system))
        try:
            if sensor_id == NEW:
                case.book.add_sensor(case.id, texts["name"], document)
            else:
                case.book.change_sensor(sensor_id, texts["name"], document)
        except InputError as error:
            fields[0] = fields[0].with_(error=forms.needed(error))
        else:
            return None
    return _shown(case, page, {sensor_id: fields}, status=422)


def _shown(
    case: OpenCase, page: ThisPage, wrong: dict[int, list[Field]] | None = None, *, status: int = 200
) -> Response:
    wrong = wrong or {}
    return page(
        "sensors.html",
        case,
        data=lambda: {"sensors": {kept.sensor.name: dict(kept.document) for kept in case.candidates}},
        status=status,
        rows=[(kept, wrong.get(kept.id) or _fields(case, kept), kept.id in wrong) for kept in case.candidates],
        new_fields=wrong.get(NEW) or _fields(case, None),
        new_wrong=NEW in wrong,
        IN_FRONT=IN_FRONT,
        supplies=_supplies(case),
        hidden=[(away, case.book.homings_of(case.id, away.name)) for away in case.book.hidden_sensors(case.id)],
        read={kept.id: case.book.homings_of(case.id, kept.sensor.name) for kept in case.candidates},
    )


def _fields(case: OpenCase, kept: KeptSensor | None, texts: FormTexts | None = None) -> list[Field]:
    name = texts.get("name", "") if texts is not None else kept.sensor.name if kept else ""
    error = "a candidate needs a name, as in the readings" if texts is not None and not name else ""
    first = Field(name="name", label="Name", value=name, hint="As the readings call it", example="A", error=error)
    entered = kept.document if kept else {}
    return [first, *forms.fields(KEYS, entered, system=case.system, texts=texts)]


def _supplies(case: OpenCase) -> dict[str, Any]:
    """Return the supply of each candidate as a stretch of a common scale from 0 V."""
    most = max([kept.sensor.supply_high_v or 0.0 for kept in case.candidates], default=0.0) or 1.0
    return {
        "most_v": most,
        "of": {
            kept.id: (
                100 * (kept.sensor.supply_low_v or 0.0) / most,
                100 * (kept.sensor.supply_high_v or 0.0) / most,
            )
            for kept in case.candidates
            if kept.sensor.supply_high_v is not None
        },
    }
