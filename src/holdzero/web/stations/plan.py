"""Plan: a page of the Trial station. How the time of a trial is shared out, and the papers for it."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter, Depends, Request, Response
from fastapi.responses import HTMLResponse

from holdzero.case.planned import plan_of, stop_not_tested
from holdzero.chart.indicator import indicator_picture
from holdzero.compute.choose.asks import asked_before_holds
from holdzero.compute.plan import TrialPlan
from holdzero.compute.plan.cycles import motion_set
from holdzero.compute.plan.long_run import CONDITIONS
from holdzero.compute.plan.trial_plan import SEED, USUAL_FEWEST, USUAL_MOST
from holdzero.compute.plan.words import MOUNTED, about_the_run, what_it_shows
from holdzero.errors import HoldzeroError, InputError
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import read
from holdzero.report import record_html
from holdzero.report.printed import printed
from holdzero.report.trial_sheet import HOW_TO_READ, trial_sheet
from holdzero.tell.motion_program import MOVES_BY_ITSELF, motion_program, notes_for
from holdzero.tell.plan import plan_headline
from holdzero.tell.safety import NOT_A_SAFETY_FUNCTION
from holdzero.trial.followed import SHEET, plan_sheet
from holdzero.web.case import OpenCase, ThisCase
from holdzero.web.download import download
from holdzero.web.forms import Field, FormTexts, Typed, needed
from holdzero.web.page import ThisPage
from holdzero.web.rail import Subpage

router = APIRouter()
PAGE = Subpage("plan", router)
USUAL = {
    "minutes": "90",
    "per_homing": "1",
    "per_power_up": "5",
    "between": "",
    "fewest": str(USUAL_FEWEST),
    "most": str(USUAL_MOST),
    "display": "",
    "run": "100",
    "per_run_homing": "15 s",
    "confirm": "",
    "seed": str(SEED),
}


SAYS = {  # what is read, in an error
    "minutes": "time for each candidate",
    "per_homing": "one homing",
    "per_power_up": "one power-up",
    "per_run_homing": "one homing of the long run",
    "between": "between over within",
    "fewest": "least homings of a power-up",
    "most": "most homings of a power-up",
    "display": "step of the display",
    "run": "homings of the long run",
    "seed": "seed",
}


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
        made = _plan(case, {})
        at = next((name for name, words in SAYS.items() if words == wrong.where), "")
        fields = [field.with_(error=needed(wrong)) if field.name == at else field for field in fields]
        error = "what is typed below cannot be read" if at else f"{wrong.where}: {needed(wrong)}"
    return page(
        "plan.html",
        case,
        data=made.as_json,
        status=422 if error else 200,
        plan=made,
        headline=plan_headline(made),
        shows=what_it_shows(made, case.system),
        mounted=MOUNTED,
        about_the_run=about_the_run(made.long_run) if made.long_run else (),
        conditions=CONDITIONS,
        confirm=_to_confirm(case),
        asks=asked_before_holds(case.readings.groups),
        picture=indicator_picture(sides=made.sides, axis=made.axis),
        how_to_read=HOW_TO_READ,
        fields=fields,
        error=error,
        sent={name: asked[name] for name in (*USUAL, "axis") if name in asked},
        moves=(*MOVES_BY_ITSELF, *notes_for(_axis(case, asked)), NOT_A_SAFETY_FUNCTION),
        motion_fields=_motion_fields(case, made),
    )


@router.post("/machines/{machine_id}/plan/follow")
def follow(case: ThisCase, page: ThisPage, texts: Typed) -> Response:
    """Let this plan lead the trial; before one is begun it waits for it."""
    keep_plan(case, texts, case.trial.id if case.trial else None)
    notice = "" if case.trial else "The plan is kept: begin the trial, and it says what comes next."
    return page.to(case.href("trial"), notice)


def keep_plan(case: OpenCase, asked: FormTexts, trial_id: int | None) -> None:
    """Keep a plan that leads a trial.

    Parameters
    ----------
    case : OpenCase
        The machine.
    asked : mapping
        As the page asks for a plan; nothing: the usual one.
    trial_id : int or None
        Which trial; None: the one that is to begin.
    """
    case.book.add_sheet(case.id, SHEET, plan_sheet(_plan(case, asked), trial_id))


def usual_sheet(case: OpenCase) -> dict[str, Any]:
    """Return the usual plan of a machine as it would be kept.

    Parameters
    ----------
    case : OpenCase
        The machine.
    """
    return plan_sheet(_plan(case, {}), None)


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
    number = round(read(asked.get("set", "1"), "count", where="power-up"))
    unit = "mm" if case.system == "metric" else "in"
    cycles = motion_set(
        axis=made.axis, homings=made.split.homings, set_number=number, seed=made.seed, stated=asked, unit=unit
    )
    notes = (*filter(None, [case.invented]), *notes_for(_axis(case, asked)))
    text = motion_program(cycles, system=case.system, notes=notes)
    name = f'attachment; filename="home-{made.axis}-{number:02d}.nc"'
    return Response(text, media_type="text/plain; charset=us-ascii", headers={"content-disposition": name})


def _plan(case: OpenCase, asked: FormTexts) -> TrialPlan:
    settings = _usual(case) | asked
    axis = _axis(case, asked)
    return plan_of(
        case.machine if axis else None,
        [kept.sensor for kept in case.candidates],
        axis=axis.name if axis else None,
        minutes=_minutes(settings, "minutes"),
        minutes_per_homing=_minutes(settings, "per_homing"),
        minutes_per_power_up=_minutes(settings, "per_power_up"),
        minutes_per_run_homing=_minutes(settings, "per_run_homing"),
        between_ratio=_figure(settings, "between", "number") if settings["between"] else None,
        fewest_homings=round(_figure(settings, "fewest", "count")),
        most_homings=round(_figure(settings, "most", "count")),
        display_mm=_display_mm(settings["display"], case),
        long_run=round(_figure(settings, "run", "count")),
        stops=_stops(case, axis),
        confirm=settings["confirm"] or None,
        seed=round(_figure(settings, "seed", "count")),
    )


def _minutes(settings: FormTexts, name: str) -> float:
    return read(settings[name], "time", unit="min", where=SAYS[name]) / 60


def _figure(settings: FormTexts, name: str, kind: str) -> float:
    return read(settings[name], kind, where=SAYS[name])


def _display_mm(text: str, case: OpenCase) -> float | None:
    unit = "mm" if case.system == "metric" else "in"
    return read(text, "length", unit=unit, where=SAYS["display"]) if text else None


def _to_confirm(case: OpenCase) -> dict[str, str] | None:
    """The one chosen of several that no confirming trial was taken of, and why one should; None without one."""
    try:
        judged = case.judged
    except HoldzeroError:
        return None
    if judged.candidate is None or judged.confirming is not None or not judged.reservation:
        return None
    return {"sensor": judged.candidate.sensor.name, "why": judged.reservation}


def _usual(case: OpenCase) -> FormTexts:
    """What is taken where nothing is said: the display is that of the trial."""
    return USUAL | ({"display": case.trial.resolution} if case.trial and case.trial.resolution else {})


def _stops(case: OpenCase, axis: Axis | None) -> Literal["good", "not good", "not known"]:
    """Whether the axis was shown to stop; not known where that cannot be worked out."""
    try:
        return next(standing.stops for standing in case.standings.axes if axis and standing.axis == axis.name)
    except (HoldzeroError, StopIteration):
        return "not known"


def _axis(case: OpenCase, asked: FormTexts) -> Axis | None:
    axes = {axis.name: axis for axis in case.machine.axes}
    named = asked.get("axis") or (case.trial.axis if case.trial else "")
    two = [name for name, axis in axes.items() if axis.motors == 2]
    usual = (two + list(axes))[:1]
    return axes.get(named) or (axes[usual[0]] if usual else None)


def _sheet(case: OpenCase, asked: FormTexts) -> Any:
    return trial_sheet(_plan(case, asked), machine=case.machine.name, invented=case.invented, system=case.system)


def _fields(case: OpenCase, asked: FormTexts) -> list[Field]:
    value = _usual(case) | asked
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
            hint="with fewer than 3 a warm-up stays unseen",
        ),
        Field(name="most", label="and at most", value=value["most"]),
        Field(name="display", label="Step of the display", value=value["display"], hint="empty: negligible"),
        Field(name="run", label="Homings of a long run", value=value["run"], hint="0: none"),
        Field(
            name="per_run_homing",
            label="One of them takes",
            value=value["per_run_homing"],
            unit="min",
            hint="by counter, indicator or analyser",
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
