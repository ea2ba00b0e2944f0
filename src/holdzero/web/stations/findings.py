"""Findings: what the homings of each candidate say."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Response

from holdzero.chart.distribution import distribution_picture
from holdzero.chart.probability import probability_picture
from holdzero.chart.readings import readings_picture
from holdzero.compute.findings import explain, study_as_json
from holdzero.compute.findings.values import Findings
from holdzero.store import KeptReading
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.page import ThisPage
from holdzero.web.rail import DONE, OPEN, Mark, Station, flag

router = APIRouter()


def mark(case: OpenCase) -> Mark:
    """Flagged where the readings themselves raise a doubt."""
    if not case.study.findings:
        return OPEN
    if case.made_old:
        return flag("homings were read before the last event")
    doubtful = {series.sensor for series in case.study.findings if series.signatures}
    return flag(f"the readings of {_listed(sorted(doubtful))} show a pattern") if doubtful else DONE


STATION = Station("Findings", router, mark)


@router.get("/machines/{machine_id}/findings")
@router.get("/machines/{machine_id}/findings.json")
def findings(case: ThisCase, page: ThisPage, sensor: str = "", axis: str = "", side: str = "") -> Response:
    """What the homings of each candidate say, and one of them in full."""
    series = _picked(case, sensor, axis, side)
    on_axis = None if series is None else next((axis for axis in case.axes if axis.name == series.axis), None)
    chosen = case.choice if on_axis is None else on_axis.choice
    allowed = chosen.allowed if chosen else None
    candidates = chosen.candidates if chosen else ()
    judged = next(
        (candidate for candidate in candidates if series and candidate.sensor.name == series.sensor), None
    )
    pictures = series and (
        readings_picture(series, allowed=allowed, system=case.system),
        distribution_picture(series, allowed=allowed, system=case.system) if series.counted.any() else None,
        probability_picture(series, system=case.system),
    )
    rows = [] if series is None else _rows(case, series)
    return page(
        "findings.html",
        case,
        data=lambda: study_as_json(case.study) | {"noise": case.noise.as_json()} | _baseline(case),
        series=series,
        judged=judged,
        pictures=[picture for picture in pictures or () if picture],
        explained=explain(series, system=case.system) if series else (),
        rows=[row for row in rows if series and row.side == series.side],
    )


@router.post("/readings/{reading_id}/set-aside")
def set_aside(
    book: OpenBook,
    page: ThisPage,
    reading_id: int,
    back: Annotated[str, Form()],
    reason: Annotated[str, Form()] = "",
) -> Response:
    """Set a reading aside with a reason, or let it count again."""
    book.set_aside(reading_id, reason)
    return page.to(back)


def _rows(case: OpenCase, series: Findings) -> list[KeptReading]:
    """Every reading of one candidate and side, oldest trial first."""
    return [
        row
        for trial in reversed(case.trials)
        for row in case.book.rows(trial.id, sensor=series.sensor, axis=series.axis)
    ]


def _baseline(case: OpenCase) -> dict[str, Any]:
    old = case.made_old
    return {"baseline": old.as_json() if old else None}


def _picked(case: OpenCase, sensor: str, axis: str, side: str) -> Findings | None:
    """Return the findings named; else those of the choice, else the first."""
    all_found = case.study.findings
    named = [series for series in all_found if series.sensor == sensor and axis in ("", series.axis)]
    for series in named:
        if series.side == side:
            return series
    looked_at = [series for series in all_found if case.looked_at in ("", series.axis)] or list(all_found)
    chosen = [series for series in looked_at if case.choice and series.sensor == case.choice.choice]
    return next(iter([*named, *chosen, *looked_at]), None)


def _listed(names: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))
