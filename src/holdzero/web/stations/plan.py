"""Plan: a page of the Trial station. How the time of a trial is shared out, and the papers for it."""

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import HTMLResponse

from holdzero.case.planned import stop_not_tested
from holdzero.chart.indicator import indicator_picture
from holdzero.compute.plan import TrialPlan, asked_before_holds, trial_plan
from holdzero.compute.plan.cycles import motion_set
from holdzero.compute.plan.trial_plan import SEED
from holdzero.compute.plan.words import what_it_shows
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import read
from holdzero.report import record_html
from holdzero.report.printed import printed
from holdzero.report.trial_sheet import HOW_TO_READ, trial_sheet
from holdzero.tell.motion_program import MOVES_BY_ITSELF, motion_program, notes_for
from holdzero.tell.safety import NOT_A_SAFETY_FUNCTION
from holdzero.web.case import OpenCase, ThisCase
from holdzero.web.download import download
from holdzero.web.forms import Field, FormTexts, needed
from holdzero.web.page import ThisPage
from holdzero.web.rail import Subpage

if TYPE_CHECKING:
    from holdzero.compute.choose import AllowedSpread

router = APIRouter()
PAGE = Subpage("plan", router)
USUAL = {"minutes": "90", "per_homing": "1", "per_power_up": "5", "between": "", "fewest": "2", "seed": str(SEED)}


def _asked(request: Request) -> FormTexts:
    return {name: text for name, value in request.query_params.items() if (text := value.strip())}


Asked = Annotated[FormTexts, Depends(_asked)]


@router.get("/machines/{machine_id}/plan")
@router.get("/machines/{machine_id}/plan.json")
def plan(case: ThisCase, page: ThisPage, request: Request, asked: Asked) -> Response:
    """How many homings over how many power-ups, in which order, and what that will show."""
    fields, error = _fields(case, asked), ""
    try:
        made = _plan(case, asked)
    except InputError as wrong:
        if request.url.path.endswith(".json"):
            raise
        made, error = _plan(case, {}), f"{wrong.where}: {needed(wrong)}"
    return page(
        "plan.html",
        case,
        data=made.as_json,
        status=422 if error else 200,
        plan=made,
        shows=what_it_shows(made, case.system),
        asks=asked_before_holds(case.readings.groups),
        picture=indicator_picture(sides=made.sides, axis=made.axis),
        how_to_read=HOW_TO_READ,
        fields=fields,
        error=error,
        sent={name: asked[name] for name in (*USUAL, "axis") if name in asked},
        moves=(*MOVES_BY_ITSELF, *notes_for(_axis(case, asked)), NOT_A_SAFETY_FUNCTION),
        motion_fields=_motion_fields(case, made),
    )


@router.get("/machines/{machine_id}/plan/sheet.pdf")
def sheet_pdf(case: ThisCase, asked: Asked) -> Response:
    """The sheet to print."""
    return download(printed(_sheet(case, asked), "pdf"), f"trial-sheet-{case.id}")


@router.get("/machines/{machine_id}/plan/sheet.html")
def sheet_html(case: ThisCase, asked: Asked) -> Response:
    """The sheet as one page that needs nothing else."""
    return HTMLResponse(record_html(_sheet(case, asked)))


@router.get("/machines/{machine_id}/plan/motion.nc")
def motion(case: ThisCase, asked: Asked) -> Response:
    """The cycles of one power-up as a program."""
    if not asked.get("stop_tested"):
        raise stop_not_tested("motion program", do="test the stop, tick the box, ask again")
    made = _plan(case, asked)
    number = round(_figure(asked.get("set", "1"), "count", "power-up"))
    unit = "mm" if case.system == "metric" else "in"
    cycles = motion_set(
        axis=made.axis, homings=made.split.homings, set_number=number, seed=made.seed, stated=asked, unit=unit
    )
    notes = (*filter(None, [case.kept.invented]), *notes_for(_axis(case, asked)))
    text = motion_program(cycles, system=case.system, notes=notes)
    name = f'attachment; filename="home-{made.axis}-{number:02d}.nc"'
    return Response(text, media_type="text/plain; charset=us-ascii", headers={"content-disposition": name})


def _plan(case: OpenCase, asked: FormTexts) -> TrialPlan:
    settings = USUAL | asked
    allowed = case.choice.allowed if case.choice else _allowed(case, asked)
    return trial_plan(
        minutes=read(settings["minutes"], "time", unit="min", where="time for each candidate") / 60,
        minutes_per_homing=read(settings["per_homing"], "time", unit="min", where="one homing") / 60,
        minutes_per_power_up=read(settings["per_power_up"], "time", unit="min", where="one power-up") / 60,
        between_ratio=_figure(settings["between"], "number", "between over within")
        if settings["between"]
        else None,
        fewest_homings=round(_figure(settings["fewest"], "count", "least homings of a power-up")),
        axis=_axis(case, asked),
        sensors=[kept.sensor for kept in case.candidates],
        spread_allowed_mm=allowed.spread_allowed_mm if allowed else None,
        both_sides_mm=allowed.both_sides_mm if allowed else (None, None),
        risk=case.machine.requirement.risk,
        seed=round(_figure(settings["seed"], "count", "seed")),
    )


def _figure(text: str, kind: str, where: str) -> float:
    return read(text, kind, where=where)


def _allowed(case: OpenCase, asked: FormTexts) -> "AllowedSpread | None":
    """What the requirement allows; None where it is not asked yet, which is no error of a plan."""
    from holdzero.compute.choose import allowed_spread

    axis = _axis(case, asked)
    try:
        return allowed_spread(axis, case.machine.requirement) if axis else None
    except InputError:
        return None


def _axis(case: OpenCase, asked: FormTexts) -> Axis | None:
    axes = {axis.name: axis for axis in case.machine.axes}
    named = asked.get("axis") or (case.trial.axis if case.trial else "")
    two = [name for name, axis in axes.items() if axis.motors == 2]
    usual = (two + list(axes))[:1]
    return axes.get(named) or (axes[usual[0]] if usual else None)


def _sheet(case: OpenCase, asked: FormTexts) -> Any:
    return trial_sheet(
        _plan(case, asked), machine=case.machine.name, invented=case.kept.invented, system=case.system
    )


def _fields(case: OpenCase, asked: FormTexts) -> list[Field]:
    value = USUAL | asked
    made = [
        Field(
            name="minutes", label="Time for each candidate", value=value["minutes"], unit="min", hint="all in all"
        ),
        Field(
            name="per_homing", label="One homing", value=value["per_homing"], unit="min", hint="with its reading"
        ),
        Field(
            name="per_power_up",
            label="One power-up",
            value=value["per_power_up"],
            unit="min",
            hint="off, wait, on, warm up",
        ),
        Field(
            name="fewest",
            label="Homings a power-up, at least",
            value=value["fewest"],
            hint="3 or more where drift or steps are feared",
        ),
        Field(
            name="between",
            label="Between over within",
            value=value["between"],
            hint="scatter between power-ups over that within, where it is known",
        ),
        Field(name="seed", label="Seed", value=value["seed"], hint="the same seed gives the same order"),
    ]
    if len(case.machine.axes) > 1:
        axis = _axis(case, asked)
        choices = [(axis.name, axis.name) for axis in case.machine.axes]
        made.insert(0, Field(name="axis", label="Axis", value=axis.name if axis else "", choices=choices))
    return made


def _motion_fields(case: OpenCase, made: TrialPlan) -> list[Field]:
    unit = "mm" if case.system == "metric" else "in"
    hints = (
        ("reach", "Stated travel", "", "from and to, as the controller shows it after homing", "0 to 1290"),
        ("home_at", "Home", "0", "what the controller shows after homing", ""),
        ("nearest", "Nearest start", "20 mm", "from home, clear of switch and back-off", ""),
        ("farthest", "Farthest start", "", "from home; 200 mm where left empty", ""),
        ("feed", "Speed of the way out", "20 mm/s", "", ""),
        ("height", "Dry-run height of Z", "", "machine coordinates; empty: raised by hand", ""),
        ("z_reach", "Travel of Z", "", "from and to, machine coordinates", ""),
    )
    fields = [
        Field(name=name, label=label, value=value, hint=hint, example=example, unit=unit if hint else "")
        for name, label, value, hint, example in hints
        if made.axis != "Z" or name not in ("height", "z_reach")
    ]
    number = Field(
        name="set", label="Power-up", value="1", hint=f"1 to {made.split.power_ups}: each has its starts"
    )
    return [number, *fields]
