"""Noise: a page of the Trial station. False trips are counted under one condition after another, and kept."""

from fastapi import APIRouter, Response

from holdzero.compute.plan.noise import HUNT_GUARD, NoiseHunt
from holdzero.errors import InputError
from holdzero.quantity import read
from holdzero.store.sound import refuse_noise
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.forms import Field, FormTexts, Typed, chosen, needed
from holdzero.web.page import ThisPage
from holdzero.web.rail import Subpage

router = APIRouter()
PAGE = Subpage("noise", router)
OWN = "own"  # a condition that is not in the order


@router.get("/machines/{machine_id}/noise")
@router.get("/machines/{machine_id}/noise.json")
def noise(case: ThisCase, page: ThisPage) -> Response:
    """How the hunt stands, what to count next, and what was counted so far."""
    return _shown(case, page, _fields(case.noise))


@router.post("/machines/{machine_id}/noise")
def count(texts: Typed, book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep one count; a machine without a trial begins one for its hunt."""
    fields = _fields(case.noise, texts)
    if any(field.error for field in fields):
        return _shown(case, page, fields, status=422)
    trial_id = case.trial.id if case.trial else book.add_trial(case.id, name="Noise hunt")
    condition = texts["condition"]
    book.add_noise_count(
        trial_id,
        condition=texts["own"] if condition == OWN else condition,
        trips=_trips(texts),
        watched_s=_watched_s(texts),
        note=texts.get("note", ""),
    )
    return page.to(OpenCase(book, case.id, trial_id).href("noise"))


@router.post("/noise/{count_id}/undo")
def undo(texts: Typed, book: OpenBook, count_id: int, page: ThisPage) -> Response:
    """Take a count back; it stays in the book, marked."""
    book.undo_noise_count(count_id)
    return page.to(texts.get("back", "/"))


def _shown(case: OpenCase, page: ThisPage, fields: list[Field], *, status: int = 200) -> Response:
    return page(
        "noise.html",
        case,
        data=case.noise.as_json,
        status=status,
        hunt=case.noise,
        counts=case.book.noise_counts(case.trial.id)[::-1] if case.trial else (),
        fields=fields,
        guard=HUNT_GUARD,
    )


def _fields(hunt: NoiseHunt, texts: FormTexts | None = None) -> list[Field]:
    typed = texts or {}
    names = [line.condition.name for line in hunt.lines]
    usual = hunt.next.name if hunt.next else names[0]
    made = [
        Field(
            name="condition",
            label="Condition",
            value=typed.get("condition", usual),
            choices=[*((name, name) for name in names), (OWN, "another change, named beside")],
        ),
        Field(
            name="own",
            label="Another change",
            value=typed.get("own", ""),
            example="new cable",
            hint="one that is not in the list",
        ),
        Field(
            name="hours",
            label="Watched for",
            value=typed.get("hours", ""),
            unit="h",
            example="1 h",
            hint="also where nothing tripped",
        ),
        Field(name="trips", label="False trips", value=typed.get("trips", ""), example="0", hint="none is 0"),
        Field(name="note", label="Note", value=typed.get("note", ""), hint="e.g. damp day, other spindle speed"),
    ]
    return made if texts is None else [_checked(field, texts) for field in made]


def _checked(field: Field, texts: FormTexts) -> Field:
    error = _wrong(field.name, texts)
    return field.with_(error=error) if error else chosen(field)


def _wrong(name: str, texts: FormTexts) -> str:
    try:
        if name == "hours":
            _watched_s(texts)
        if name == "trips":
            _trips(texts)
    except InputError as error:
        return needed(error)
    if name == "condition" and not texts.get("condition"):
        return "choose what was counted under"
    if name == "own" and texts.get("condition") == OWN and not texts.get("own"):
        return "name the change that was made"
    return ""


def _watched_s(texts: FormTexts) -> float:
    watched_s = read(texts.get("hours", ""), "time", unit="h", where="hours")
    refuse_noise({"trips": 0, "watched_s": watched_s})
    return watched_s


def _trips(texts: FormTexts) -> int:
    trips = round(read(texts.get("trips", ""), "count", where="trips"))
    refuse_noise({"trips": trips, "watched_s": 1.0})
    return trips
