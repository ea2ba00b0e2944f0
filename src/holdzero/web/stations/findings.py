"""Findings: what the homings of each candidate say."""

from typing import Annotated, Any

from fastapi import APIRouter, Form, Response

from holdzero.chart.distribution import distribution_picture
from holdzero.chart.probability import probability_picture
from holdzero.chart.readings import readings_picture
from holdzero.compute.findings import study_as_json
from holdzero.compute.findings.values import Findings
from holdzero.store import KeptReading
from holdzero.tell.findings import tell_findings
from holdzero.tell.one_side import one_side, part_of
from holdzero.tell.side_by_side import side_by_side
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
    """What the homings say: all candidates beside each other, or one side of one of them."""
    all_found = case.study.findings
    picked = _picked(case, sensor, axis, side) if sensor or len(all_found) == 1 else None

    def data() -> dict[str, Any]:
        return study_as_json(case.study) | {"noise": case.noise.as_json()} | _baseline(case)

    if picked is None:
        return page("findings.html", case, data=data, **_beside(case))
    return page("findings.html", case, data=data, **_one_side(case, picked))


def _beside(case: OpenCase) -> dict[str, Any]:
    """Every candidate that was tried, on the axis that is looked at where there are several."""
    several = len(case.to_judge) > 1
    on_axis = next((on_axis for on_axis in case.to_judge if case.shows(on_axis)), None) if several else None
    study = on_axis.study if on_axis else case.study
    chosen = on_axis.choice if on_axis else case.choice
    lines, unit = side_by_side(study.findings, chosen.candidates if chosen else (), system=case.system)
    missing = on_axis.missing if on_axis else case.missing
    return {
        "series": None,
        "axis": on_axis.name if on_axis else "",
        "answer": tell_findings(study, system=case.system),
        "lines": lines,
        "unit": unit,
        "chosen": chosen.choice if chosen else None,
        "missing": missing if lines else None,
    }


def _one_side(case: OpenCase, series: Findings) -> dict[str, Any]:
    """One series in full: what matters, then everything else."""
    on_axis = next((axis for axis in case.axes if axis.name == series.axis), None)
    chosen = case.choice if on_axis is None else on_axis.choice
    allowed = chosen.allowed if chosen else None
    candidates = chosen.candidates if chosen else ()
    judged = next((candidate for candidate in candidates if candidate.sensor.name == series.sensor), None)
    shapes = (
        distribution_picture(series, allowed=allowed, system=case.system) if series.counted.any() else None,
        probability_picture(series, system=case.system),
    )
    return {
        "series": series,
        "judged": judged,
        "picture": readings_picture(series, allowed=allowed, system=case.system),
        "shapes": [picture for picture in shapes if picture],
        "answer": one_side(series, part_of(judged, series), system=case.system),
        "sides": [
            side for side in case.study.findings if (side.sensor, side.axis) == (series.sensor, series.axis)
        ],
        "alone": len(case.study.findings) == 1,
        "rows": [row for row in _rows(case, series) if series.side in (row.side, "difference")],
    }


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
    return page.to(back, f"Set aside: {reason}. It stays in the book." if reason else "It counts again.")


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
