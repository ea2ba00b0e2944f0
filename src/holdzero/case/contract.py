"""Contract: each answer as JSON-ready values, for terminal and Python alike. Keys are added, never renamed."""

from collections.abc import Mapping, Sequence
from typing import Any

from holdzero import __version__
from holdzero.case.alone import alone_json
from holdzero.case.case import Case
from holdzero.case.standing.values import Standing, Standings
from holdzero.compute.choose import choice_as_json
from holdzero.compute.design import AxisAssessment
from holdzero.compute.travel import Start, Travel


def choice_json(case: Case) -> dict[str, Any]:
    """Return which candidate holds, what is asked before that may stand, what was decided, and the standing.

    Raises
    ------
    HoldzeroError
        No choice can be made.
    """
    decisions = [
        decision.as_json() | {"standing": decision.standing(case.basis.digests)}
        for decision in case.basis.decisions
    ]
    return (
        choice_as_json(case.asked_otherwise)
        | {"asked_before_holds": [ask.as_json() for ask in case.asks], "decisions": decisions}
        | alone_json(case.judged)
        | standing_keys(case.standings, case.standing)
    )


def standing_keys(standings: Standings, of_axis: Standing) -> dict[str, Any]:
    """Return the contract's two keys: the standing of the axis judged, and those of machine and axes."""
    return {"standing": of_axis.as_json(), "standings": standings.as_json()}


def standing_json(case: Case) -> dict[str, Any]:
    """Return the standing alone."""
    return {"version": __version__} | standing_keys(case.standings, case.standing)


def record_json(case: Case) -> dict[str, Any]:
    """Return everything a record would hold."""
    results, decision = case.as_json(), case.judged.decision
    return standing_json(case) | {
        "decision": decision and decision.as_json(),
        "digests": dict(case.basis.digests),
        "results": results,
    }


def budget_json(assessed: Sequence[AxisAssessment], notes: Sequence[str] = ()) -> dict[str, Any]:
    """Return the budget of each axis, and the sensor it is reckoned with."""
    return {
        "version": __version__,
        "sensor": next((assessment.sensor for assessment in assessed if assessment.sensor), None),
        "axes": {assessment.axis.name: assessment.as_json() for assessment in assessed},
        "notes": list(notes),
    }


def travel_json(
    rails: Mapping[str, Travel], starts: Mapping[str, Start] | None = None, notes: Sequence[str] = ()
) -> dict[str, Any]:
    """Return the checks of each axis, and which way homing goes where that was asked."""
    begun = {name: {"start": start.as_json()} for name, start in (starts or {}).items()}
    return {
        "version": __version__,
        "axes": {name: travel.as_json() | begun.get(name, {}) for name, travel in rails.items()},
        "notes": list(notes),
    }


def install_json(case: Case) -> dict[str, Any]:
    """Return the install sheet, and what came of its tests."""
    return {"version": __version__} | case.sheet.as_json() | {"checklist": case.checklist.as_json()}
