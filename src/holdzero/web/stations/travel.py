"""Travel: whether each axis stops where there is still room."""

from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Response

from holdzero.case import OnAxis
from holdzero.chart.travel import travel_picture
from holdzero.compute.travel import (
    Check,
    Missing,
    Start,
    Travel,
    TravelCase,
    on_the_rail,
    start_from,
    window_closes_s,
)
from holdzero.compute.travel.side_by_side import gantry
from holdzero.errors import HoldzeroError, InputError
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import System, field_unit, fixed, plain, read
from holdzero.tell.travel import failing, verdict_of
from holdzero.web import forms
from holdzero.web.axis_form import (
    AxisForm,
    anchor,
    axis_form,
    axis_named,
    axis_of_form,
    self_saving,
    typed_axis,
    words_of,
)
from holdzero.web.by_field import Sent, merge, save
from holdzero.web.case import OpenCase, ThisCase
from holdzero.web.forms import Field, FormTexts
from holdzero.web.page import ThisPage
from holdzero.web.rail import DONE, OPEN, Mark, Station, flag

router = APIRouter()
GROUPS = (
    "Axis",
    "Places",
    "Speeds",
    "From trip to reaction",
    "What moves",
    "Two sides",
    "Drive",
    "The flag as a target",
    "Index pulse",
)
NO_LEFT = "give the place of this side too"


@dataclass(frozen=True)
class OnRail:
    """One axis with its checks; `refusal` where its lengths contradict each other and nothing can be checked."""

    on_axis: OnAxis

    @property
    def axis(self) -> Axis:
        """The axis, with the delay of its wiring."""
        return self.on_axis.axis

    @property
    def system(self) -> System:
        """Units shown."""
        return self.on_axis.case.system

    @property
    def travel(self) -> Travel | None:
        """All checks."""
        return self.on_axis.travel

    @property
    def refusal(self) -> HoldzeroError | None:
        """What contradicts what."""
        return self.on_axis.travel_missing

    @property
    def fails(self) -> tuple[Check, ...]:
        """Checks that do not fit."""
        return failing(self.travel) if self.travel is not None else ()

    @property
    def fits(self) -> tuple[Check, ...]:
        """Checks that fit."""
        return tuple(check for check in self._checks if check.ok)

    @property
    def not_judged(self) -> tuple[Check, ...]:
        """Checks that lack something, then those that do not apply."""
        return tuple(
            sorted((check for check in self._checks if check.ok is None), key=lambda unjudged: not unjudged.needs)
        )

    @property
    def verdict(self) -> str:
        """One sentence."""
        if self.travel is not None:
            return verdict_of(self.travel)
        contradiction = self.refusal.found if self.refusal is not None else ""
        return f"Axis {self.axis.name} contradicts itself: {contradiction}".replace("_", " ")

    @property
    def standing(self) -> str:
        """A few words for a list of axes."""
        if self.refusal is not None:
            return "contradicts itself"
        if self.fails:
            return f"{len(self.fails)} of {len(self.fails) + len(self.fits)} fail"
        if not self.fits:
            return "nothing to check yet"
        return f"{len(self.fits)} fit"

    @property
    def cautions(self) -> list[str]:
        """What the checks say beside their verdicts, each once."""
        return list(dict.fromkeys(caution.text for check in self._checks for caution in check.cautions))

    @property
    def together(self) -> list[tuple[str, float, str]]:
        """Figures of two motors that home one gantry: words, value, kind."""
        rail, axis = TravelCase(self.axis, self.system), self.axis
        if self.travel is None or axis.motors != 2:
            return []
        skew = self.travel["skew"]
        rows = [] if skew.uses_mm is None else [("The sides may part by, all in all", skew.uses_mm, "length")]
        window = axis.sides.abort_window_mm
        if window is None:
            return rows
        rows.append(("the controller gives up at", window, "length"))
        if axis.speeds.approach_speed_mm_s:
            after_s = window_closes_s(window_mm=window, speed_mm_s=axis.speeds.approach_speed_mm_s)
            rows.append(("a dead switch is noticed after", after_s, "time"))
        try:
            racks = gantry(rail)
        except Missing:
            return rows
        angle, force = racks.largest(window)
        rows.append(("the gantry then stands out of square by up to", angle, "angle"))
        return rows if force is None else [*rows, ("with a force in each drive of up to", force, "force")]

    def as_json(self) -> dict[str, Any]:
        """Return the contract's shape; where nothing could be checked, why."""
        if self.travel is None:
            return {"checks": [], "error": str(self.refusal)}
        return self.travel.as_json()

    @property
    def _checks(self) -> tuple[Check, ...]:
        return () if self.travel is None else self.travel.checks


def mark(case: OpenCase) -> Mark:
    """Flagged where a check fails or lengths contradict each other; open while nothing can be checked."""
    rails = [OnRail(on_axis) for on_axis in case.axes]
    for rail in rails:
        if rail.refusal is not None or rail.fails:
            fails = "one check fails" if len(rail.fails) == 1 else f"{len(rail.fails)} checks fail"
            problem = fails if rail.refusal is None else "lengths contradict each other"
            return flag(f"on {rail.axis.name} {problem}")
    return DONE if any(rail.fits for rail in rails) else OPEN


STATION = Station("Travel", router, mark)


@router.get("/machines/{machine_id}/travel")
@router.get("/machines/{machine_id}/travel.json")
def travel(case: ThisCase, page: ThisPage, axis: str = "", left: str = "", right: str = "") -> Response:
    """Every check of one axis, and what a homing does from where it stands."""
    return _shown(case, page, axis_named(case, axis), {"left": left, "right": right})


@router.post("/machines/{machine_id}/travel")
def change(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """Keep what was changed of one axis."""
    name = axis_of_form(case, sent.get("axis")).name
    saved = save(case, sent, self_saving(name, GROUPS))
    axis, texts = axis_named(saved.case, name), dict(sent.texts)
    if saved.answered is None:
        return page.kept(case.href("travel", **_asked(axis, texts)), saved.notice)
    form = axis_form(saved.case, axis, GROUPS, needs=_needs(saved.case, axis), texts=saved.answered)
    why = saved.why
    return _shown(saved.case, page, axis, texts, form=form, error=why, status=saved.status)


@router.post("/machines/{machine_id}/travel/typed")
def typed(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """What the page would say with what is typed so far; nothing is kept."""
    axis = axis_of_form(case, sent.get("axis"))
    texts = merge(sent, axis_form(case, axis, GROUPS).fields).typed
    made = typed_axis(case, axis, GROUPS, texts)
    return _shown(made, page, made.machine.axis(axis.name), texts)


def _asked(axis: Axis, texts: FormTexts) -> FormTexts:
    return {"axis": axis.name} | {side: texts[side] for side in ("left", "right") if texts.get(side)}


def _needs(case: OpenCase, axis: Axis) -> tuple[str, ...]:
    travel = case.on(axis.name).travel
    return () if travel is None else travel.needs


def _shown(
    case: OpenCase,
    page: ThisPage,
    axis: Axis,
    texts: FormTexts,
    *,
    form: AxisForm | None = None,
    error: str = "",
    status: int = 200,
) -> Response:
    rails = [OnRail(on_axis) for on_axis in case.axes]
    rail = next(on_rail for on_rail in rails if on_rail.axis.name == axis.name)
    fields = _places(TravelCase(rail.axis, case.system), texts)
    start, start_needs = _start(rail, fields)
    return page(
        "travel.html",
        case,
        data=lambda: {
            "axes": {on_rail.axis.name: on_rail.as_json() for on_rail in rails}
            if start is None
            else _with(rails, rail, start),
            "notes": list(case.machine.notes),
        },
        status=422 if any(field.error for field in fields) else status,
        names=[(on_rail.axis.name, on_rail.standing) for on_rail in rails],
        rail_of=rail,
        picture=travel_picture(rail.travel, system=case.system) if rail.travel else None,
        href_of=lambda key: f"#{anchor(axis.name, key)}",
        fields=form or axis_form(case, rail.axis, GROUPS, needs=_needs(case, rail.axis)),
        error=error,
        places=fields,
        start=start,
        start_needs=start_needs,
        sent=_asked(rail.axis, texts),
        words_of=words_of,
        unit=field_unit("length", system=case.system),
        speed_unit=field_unit("speed", system=case.system),
        in_unit=lambda value, kind="length": _in_unit(value, kind, case.system),
    )


def _in_unit(value: float | None, kind: str, system: System) -> str:
    """Word a figure of a column: in the unit of its head, with as many decimals as can be measured."""
    decimals = {"mm": 2, "in": 3}.get(unit := field_unit(kind, system=system), 1)
    return fixed(value, kind, unit=unit, decimals=decimals)[0]


def _with(rails: list[OnRail], rail: OnRail, start: Start) -> dict[str, Any]:
    shapes = {on_rail.axis.name: on_rail.as_json() for on_rail in rails}
    shapes[rail.axis.name]["start"] = start.as_json()
    return shapes


def _places(rail: TravelCase, sent: FormTexts) -> list[Field]:
    """Return the fields of where an axis stands now: one, or one for each side."""
    unit = plain(field_unit("length", system=rail.system))
    sides = {"left": "The left side stands at", "right": "The right side stands at"}
    if rail.axis.motors != 2:
        sides = {"left": "It stands at"}
    texts = {name: sent.get(name, "").strip() for name in sides}
    return [
        Field(
            name=name,
            label=label,
            value=texts[name],
            unit=unit,
            hint="From the hard stop at the homing end",
            error=_place_refused(rail, texts[name], unit)
            or (NO_LEFT if name == "left" and _only_right(texts) else ""),
        )
        for name, label in sides.items()
    ]


def _place_refused(rail: TravelCase, text: str, unit: str) -> str:
    try:
        if text:
            on_the_rail(rail, read(text, "length", unit=unit))
    except InputError as wrong:
        return forms.needed(wrong)
    return ""


def _only_right(texts: FormTexts) -> bool:
    return bool(texts.get("right")) and not texts["left"]


def _start(rail: OnRail, fields: list[Field]) -> tuple[Start | None, tuple[str, ...]]:
    """Return what a homing does from there, or the keys it lacks."""
    texts = [field for field in fields if field.value and not field.error]
    if rail.travel is None or not texts or texts[0].name != "left":
        return None, ()
    left, *right = (read(field.value, "length", unit=field.unit) for field in texts)
    try:
        start = start_from(TravelCase(rail.axis, rail.system), left_mm=left, right_mm=right[0] if right else None)
    except Missing as missing:
        return None, missing.keys
    return start, ()
