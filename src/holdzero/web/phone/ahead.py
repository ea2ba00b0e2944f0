"""Ahead: the readings a phone may be asked for while it cannot reach the computer, in words and as its form."""

import json

from holdzero.store import Trial
from holdzero.tell.followed import tell_now, tell_place
from holdzero.trial.coming import ComingReading, coming_by_plan, coming_freely
from holdzero.trial.followed import SHEET, sheet_of
from holdzero.web.case import OpenCase
from holdzero.web.contained import worked_out
from holdzero.web.forms import FormTexts
from holdzero.web.stations import follow, trial

SIDES = {"L": "left side", "R": "right side"}


def ahead(case: OpenCase, kept: Trial, texts: FormTexts) -> str:
    """Return the readings that come, as JSON: what is said of each, and the hidden fields of its form.

    Parameters
    ----------
    case : OpenCase
        The machine.
    kept : Trial
        The trial that takes what is entered.
    texts : mapping
        What was chosen on the page.
    """
    readings = worked_out("the readings that come", lambda: _readings(case, kept, texts))
    return json.dumps([_shown(reading) for reading in readings] if isinstance(readings, tuple) else [])


def _readings(case: OpenCase, kept: Trial, texts: FormTexts) -> tuple[ComingReading, ...]:
    step, rows, power_ups, plan = trial.standing_at(case, kept, texts)
    sheet = sheet_of(case.book.sheets(case.id, SHEET), kept.id)
    if sheet is not None and follow.led_by(plan, texts):
        known = [candidate.sensor.name for candidate in case.candidates]
        return coming_by_plan(sheet, case.book.rows(kept.id), case.book.power_ups(kept.id), known=known)
    return coming_freely(step, rows, power_ups)


def _shown(reading: ComingReading) -> dict[str, object]:
    step, plan, planned = reading.step, reading.plan, reading.planned
    fields = {
        "sensor": step.sensor,
        "axis": step.axis,
        "sides": step.sides,
        "set": step.set_label,
        "side": step.side,
        "homing": str(step.homing),
    }
    return {
        "says": tell_now(plan, planned, step) if plan and planned else step.sentence,
        "place": tell_place(plan, planned, step) if plan and planned else step.without_side,
        "side": SIDES.get(step.side, ""),
        "at": json.dumps([*fields.values(), step.again]),
        "again": step.again > 0,
        "planned": planned is not None,
        "fields": fields,
    }
