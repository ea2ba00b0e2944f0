"""Budget: what the home position of an axis is made of; a page of its own, reached from Machine and Travel."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from fastapi import APIRouter, Response

from holdzero.case import OnAxis
from holdzero.chart.index import index_picture
from holdzero.compute.budget import Combined, Contribution, TrialSpread
from holdzero.compute.budget.monte_carlo import DrawnFigures
from holdzero.compute.budget.simulate import Share
from holdzero.compute.budget.touches import APPLY_IT
from holdzero.compute.design import AxisAssessment, words
from holdzero.compute.index import IndexPlace, how_to_measure
from holdzero.errors import HoldzeroError
from holdzero.inputs.machine.values import Axis
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import show
from holdzero.tell.blocks import Table
from holdzero.tell.budget import inputs_table, verdict_of
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
from holdzero.web.forms import Field
from holdzero.web.page import ThisPage
from holdzero.web.rail import Subpage

router = APIRouter()
PAGE = Subpage("budget", router)
GROUPS = (
    "What moves the trip",
    "Speeds",
    "From trip to reaction",
    "Drive",
    "Index pulse",
    "Axis",
    "Two sides",
    "Places",
    "What moves",
)
NONE = "-"  # chosen candidate: none


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """Position or squareness, to first order and drawn."""

    name: str
    first: Combined
    drawn: DrawnFigures
    outside: Share | None

    @property
    def half_mm(self) -> float:
        """Half the drawn interval. [mm]"""
        return (self.drawn.high - self.drawn.low) / 2


@dataclass(frozen=True)
class Reckoned:
    """One axis with one candidate, as far as it can be reckoned."""

    case: OpenCase
    axis: Axis
    sensor: str
    sheet_only: bool

    @cached_property
    def trial(self) -> TrialSpread | None:
        """What the homings of the candidate say; None where there are none, or its data sheet is meant."""
        if self.sheet_only or not self.sensor:
            return None
        return self.case.on(self.axis.name).trial(self.sensor)

    @property
    def sheet(self) -> Sensor | None:
        """The candidate as entered."""
        return next((kept.sensor for kept in self.case.candidates if kept.sensor.name == self.sensor), None)

    @cached_property
    def _outcome(self) -> AxisAssessment | HoldzeroError:
        try:
            return self.case.on(self.axis.name).budget_with(self.sensor, sheet_only=self.sheet_only)
        except HoldzeroError as refusal:
            return refusal

    @property
    def assessment(self) -> AxisAssessment | None:
        """All that was reckoned."""
        return self._outcome if isinstance(self._outcome, AxisAssessment) else None

    @property
    def refusal(self) -> HoldzeroError | None:
        """Why nothing could be."""
        return self._outcome if isinstance(self._outcome, HoldzeroError) else None

    @property
    def rests_on(self) -> str:
        """Where the switch's own scatter comes from."""
        trial = self.trial
        if trial is not None:
            return (
                f"The switch counts as tried: {trial.homings} homings of {trial.sensor} over {trial.power_ups} "
                f"power-up{'' if trial.power_ups == 1 else 's'}."
            )
        if self.sheet is not None:
            return f"The switch counts as the data sheet of {self.sensor} says, as far as it says anything."
        return "No candidate is chosen: the switch counts as the machine's own figures say."

    @property
    def sides(self) -> list[Side]:
        """Position, and squareness where there is one."""
        assessment = self.assessment
        if assessment is None or not assessment.budget.rows:
            return []
        budget, drawn = assessment.budget, assessment.simulation
        name = "Position at the worse end" if self.axis.motors == 2 else "Position"
        sides = [
            Side(name=name, first=budget.position, drawn=drawn.position, outside=drawn.outside_position),
        ]
        if budget.squareness is not None and drawn.squareness is not None:
            over = show(budget.requirement.squareness_over_mm or 0.0, "length", system=self.case.system)
            sides.append(
                Side(
                    name=f"Squareness over {over}",
                    first=budget.squareness,
                    drawn=drawn.squareness,
                    outside=drawn.outside_squareness,
                )
            )
        return sides

    @property
    def verdict(self) -> str:
        """One sentence."""
        name = f"Axis {self.axis.name}{f' with {self.sensor}' if self.sensor else ''}"
        if self.refusal is not None:
            return f"{name}: {words_of(self.refusal.found)}"
        if self.assessment is None:
            return f"{name}: nothing could be counted yet"
        return verdict_of(self.assessment, self.case.system)

    @property
    def held(self) -> str:
        """What that means for what is asked."""
        return "" if self.assessment is None else words.held(self.assessment, system=self.case.system)

    @property
    def rows(self) -> list[tuple[Contribution, str, float, float, float]]:
        """Contributions, the largest first: itself, value, u at the worse end [mm], share, share in squareness."""
        if self.assessment is None:
            return []
        budget = self.assessment.budget
        rows = [
            (
                contribution,
                f"± {contribution.say_value(self.case.system)}",
                budget.at_worse_end_mm(contribution),
                share,
                square,
            )
            for contribution, share, square in zip(
                budget.used, budget.shares, budget.shares_squareness, strict=True
            )
        ]
        return sorted(rows, key=lambda row: -row[2])

    @property
    def inputs(self) -> Table | None:
        """What goes into each contribution."""
        return None if self.assessment is None else inputs_table(self.assessment, self.case.system)

    @property
    def backwards(self) -> tuple[str, ...]:
        """The sums solved backwards, in sentences."""
        return () if self.assessment is None else words.backwards(self.assessment, system=self.case.system)

    @property
    def index(self) -> IndexPlace | None:
        """Where the switch sits between two index pulses."""
        return None if self.assessment is None else self.assessment.budget.index

    @property
    def of_index(self) -> tuple[str, ...]:
        """What the index does, in sentences."""
        return () if self.assessment is None else words.of_index(self.assessment, system=self.case.system)

    @property
    def of_cycle(self) -> str:
        """What the motor's electrical cycle could do in place of an index; nothing where there is none."""
        return "" if self.assessment is None else words.of_cycle(self.assessment, system=self.case.system)

    def mm(self, length_mm: float) -> str:
        """Word a length."""
        return show(length_mm, "length", system=self.case.system, digits=3)


@router.get("/machines/{machine_id}/budget")
@router.get("/machines/{machine_id}/budget.json")
def budget(case: ThisCase, page: ThisPage, axis: str = "", sensor: str = "", of: str = "") -> Response:
    """What the home position of one axis is made of, and which part matters."""
    meant = axis_named(case, axis)
    return _shown(case, page, meant, _sensor(case, case.on(meant.name), sensor), of)


@router.post("/machines/{machine_id}/budget")
def change(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """Keep what was changed of one axis."""
    name, of = axis_of_form(case, sent.get("axis")).name, sent.get("of")
    sensor = _sensor(case, case.on(name), sent.get("sensor"))
    saved = save(case, sent, self_saving(name, GROUPS))
    if saved.answered is None:
        return page.kept(case.href("budget", axis=name, of=of, sensor=sensor or NONE), saved.notice)
    axis = axis_named(saved.case, name)
    needs = _needs(Reckoned(saved.case, axis, sensor, of == "sheet"))
    form = axis_form(saved.case, axis, GROUPS, needs=needs, texts=saved.answered)
    why = saved.why
    return _shown(saved.case, page, axis, sensor, of, form=form, error=why, status=saved.status)


@router.post("/machines/{machine_id}/budget/typed")
def typed(sent: Sent, case: ThisCase, page: ThisPage) -> Response:
    """What the page would say with what is typed so far; nothing is kept."""
    axis = axis_of_form(case, sent.get("axis"))
    texts = merge(sent, axis_form(case, axis, GROUPS).fields).typed
    made = typed_axis(case, axis, GROUPS, texts)
    sensor = _sensor(case, case.on(axis.name), texts.get("sensor", ""))
    return _shown(made, page, made.machine.axis(axis.name), sensor, texts.get("of", ""))


def _sensor(case: OpenCase, axis: OnAxis, name: str) -> str:
    """Return the candidate named; else the one this axis is reckoned with, else the first entered."""
    known = _candidates(case)
    if name == NONE or name in known:
        return name.removeprefix(NONE)
    return axis.sensor_reckoned or next(iter(known), "")


def _candidates(case: OpenCase) -> list[str]:
    """Return all candidates, those with readings first."""
    tried = [findings.sensor for findings in case.study.findings if findings.sensor]
    return list(dict.fromkeys([*tried, *(kept.sensor.name for kept in case.candidates)]))


def _needs(reckoned: Reckoned) -> tuple[str, ...]:
    """Return the keys that would let more be counted: of what is not counted, the index and the homing time."""
    if reckoned.assessment is None:
        return ()
    budget, axis = reckoned.assessment.budget, reckoned.axis
    of_index = ("index_phase",) if axis.index.index_pitch_mm is not None and axis.index.index_phase is None else ()
    keys = (
        *(key for missing in budget.not_counted for key in missing.keys),
        *of_index,
        *reckoned.assessment.homing_needs,
    )
    return tuple(dict.fromkeys(keys))


def _shown(
    case: OpenCase,
    page: ThisPage,
    axis: Axis,
    sensor: str,
    of: str,
    *,
    form: AxisForm | None = None,
    error: str = "",
    status: int = 200,
) -> Response:
    reckoned = Reckoned(case, axis, sensor, of == "sheet")
    place = reckoned.index
    return page(
        "budget.html",
        case,
        data=lambda: _as_json(case, axis, sensor, of),
        status=status,
        reckoned=reckoned,
        assessment=reckoned.assessment,
        picture=None if place is None else index_picture(place, system=case.system),
        fields=form or axis_form(case, axis, GROUPS, needs=_needs(reckoned)),
        error=error,
        names=[(axis.name, "") for axis in case.machine.axes],
        chooser=_chooser(case, reckoned, of),
        sent={"axis": axis.name, "sensor": sensor or NONE, "of": of},
        href_of=lambda key: f"#{anchor(axis.name, key)}",
        words_of=words_of,
        how_to_measure=how_to_measure(axis.index.index_search),
        apply_it=APPLY_IT,
    )


def _chooser(case: OpenCase, reckoned: Reckoned, of: str) -> list[Field]:
    """Return the fields that choose candidate and source."""
    known = _candidates(case)
    if not known:
        return []
    tried = case.on(reckoned.axis.name).trial(reckoned.sensor) if reckoned.sensor else None
    fields = [
        Field(
            name="sensor",
            label="Candidate",
            value=reckoned.sensor or NONE,
            choices=[*((name, name) for name in known), (NONE, "none: the machine's own figures")],
        )
    ]
    if tried is not None and reckoned.sheet is not None:
        ways = [("", f"its trial, {tried.homings} homings"), ("sheet", "its data sheet")]
        fields.append(Field(name="of", label="Taken from", value=of, choices=ways))
    return fields


def _as_json(case: OpenCase, shown: Axis, sensor: str, of: str) -> dict[str, Any]:
    """Every axis with the sensor it is reckoned with; the one shown with what was chosen for it."""
    axes = {}
    for axis in case.machine.axes:
        own = sensor if axis.name == shown.name else _sensor(case, case.on(axis.name), "")
        reckoned = Reckoned(case, axis, own, of == "sheet" and axis.name == shown.name)
        axes[axis.name] = (
            {"error": str(reckoned.refusal)} if reckoned.assessment is None else reckoned.assessment.as_json()
        )
    return {"sensor": sensor or None, "axes": axes, "notes": list(case.machine.notes)}
