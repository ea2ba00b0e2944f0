"""A kept plan beside the readings: which comes next, whatever was taken, skipped or taken back."""

from dataclasses import replace

import pytest

from holdzero.case.planned import plan_of
from holdzero.errors import InputError
from holdzero.inputs.machine import machine_from
from holdzero.inputs.sensor.values import Sensor
from holdzero.store import KeptReading
from holdzero.tell.followed import tell_candidate, tell_now, tell_progress
from holdzero.trial.followed import followed, plan_sheet, sheet_of, with_step, without_step
from holdzero.trial.next_homing import next_step

NAMES = ("A", "B", "C")
MACHINE = machine_from({"requirement": {"position": "0.05 mm"}, "axes": {"Y": {"motors": 2}}})
PLAN = plan_of(MACHINE, [Sensor(name=name) for name in NAMES])
SHEET = plan_sheet(PLAN, 1)


def reading(number: int, step) -> KeptReading:
    return KeptReading(
        id=number,
        sensor=step.sensor,
        axis=step.axis,
        side=step.side,
        set_label=step.set_label,
        homing=step.homing,
        deviation_mm=0.001 * number,
        entered="",
        speed_mm_s=None,
        temperature_degc=None,
        direction="",
        time="",
        condition="",
        repeat=bool(step.again),
        set_aside="",
        undone="",
    )


def stands(sheet, rows, known=NAMES):
    return followed(sheet, rows, (), known=known)


def asked_next(plan, rows):
    now = plan.now
    return next_step(
        rows,
        (),
        sensor=now.candidate,
        axis=plan.axis,
        sides=plan.sides,
        set_label=now.set_label,
        again=now.kind == "repeat",
        homings=now.readings,
    )


def walk(sheet, rows, most: int | None = None):
    """Take what is asked, reading by reading, as a person would; the steps in the order they came."""
    came = []
    while (plan := stands(sheet, rows)).now is not None and (most is None or most > 0):
        if not came or came[-1] != plan.now.number:
            came.append(plan.now.number)
        rows.append(reading(len(rows) + 1, asked_next(plan, rows)))
        most = None if most is None else most - 1
    return came


def test_taking_what_is_asked_takes_the_plan_in_its_order_and_nothing_more():
    rows: list[KeptReading] = []
    assert walk(SHEET, rows) == list(range(1, len(PLAN.steps) + 1))
    assert len(rows) == sum(step.readings for step in PLAN.steps) * 2  # both sides
    sets = {(row.sensor, row.set_label) for row in rows}
    assert len(sets) == len(NAMES) * PLAN.split.power_ups + len(NAMES) * PLAN.speeds.matter
    assert tell_progress(stands(SHEET, rows)).startswith("The plan is done")


def test_what_is_taken_out_of_order_fills_its_place():
    """All of one candidate first: by the count alone, its places are done and the others' wait."""
    rows: list[KeptReading] = []
    own = {**SHEET, "steps": [entry for entry in SHEET["steps"] if entry["sensor"] == "B"]}
    walk(own, rows)
    plan = stands(SHEET, rows)
    assert all(step.done for step in plan.of("B"))
    assert not any(step.done for step in (*plan.of("A"), *plan.of("C")))
    assert plan.now.candidate == next(step.candidate for step in PLAN.steps if step.candidate != "B")


def test_a_reading_taken_back_or_set_aside_is_asked_for_again():
    rows: list[KeptReading] = []
    walk(SHEET, rows, most=len(NAMES) * 20 + 4)
    before = stands(SHEET, rows)
    first = next(at for at, row in enumerate(rows) if not row.repeat)
    assert before.steps[len(NAMES)].taken == 2
    for mark in ({"undone": "now"}, {"set_aside": "bumped"}):
        marked = [*rows[:first], rows[first]._replace(**mark), *rows[first + 1 :]]
        assert stands(SHEET, marked).steps[len(NAMES)].taken == 1
        assert stands(SHEET, marked).now == replace(before.now, taken=1)


@pytest.mark.parametrize("begun", [0, 3], ids=["nothing read", "half read"])
def test_a_skipped_step_is_passed_over_and_can_be_taken_up_again(begun: int):
    rows: list[KeptReading] = []
    walk(SHEET, rows, most=len(NAMES) * 20 + begun)  # the readings without homing, then some of the first set
    now = stands(SHEET, rows).now
    assert now.kind == "set"
    sheet = without_step(SHEET, now, "the stand fell over")
    plan = stands(sheet, rows)
    assert plan.now.number == now.number + 1
    assert plan.steps[now.number - 1].skipped == "the stand fell over"
    assert "1 skipped" in tell_progress(plan)
    walk(sheet, rows)
    taken = [row for row in rows if row.sensor == now.candidate and not row.repeat]
    assert len({row.set_label for row in taken}) == PLAN.split.power_ups - (begun == 0) + PLAN.speeds.matter
    again = stands(with_step(sheet, now.number), rows)
    assert again.now is not None
    assert again.now.candidate == now.candidate
    with pytest.raises(InputError, match="1 to"):
        with_step(sheet, len(PLAN.steps) + 1)


def test_of_a_candidate_taken_out_nothing_is_asked_and_nothing_is_lost():
    rows: list[KeptReading] = []
    walk(SHEET, rows, most=len(NAMES) * 20 + 60)
    plan = stands(SHEET, rows, known=("A", "B"))
    assert all(step.done or step.skipped for step in plan.of("C"))
    done = [step.number for step in stands(SHEET, rows).steps if step.done]
    assert [step.number for step in plan.steps if step.done] == done


def test_words_name_power_up_candidate_and_sides():
    rows: list[KeptReading] = []
    walk(SHEET, rows, most=len(NAMES) * 20)
    plan = stands(SHEET, rows)
    first = PLAN.blocks[0].candidates[0]
    assert tell_now(plan, plan.now, asked_next(plan, rows)) == (
        f"Power-up 1 of {PLAN.split.power_ups}, now {first}: switch off, wait, switch on, "
        f"home it {PLAN.split.homings} times, left then right"
    )
    rows.append(reading(len(rows) + 1, asked_next(plan, rows)))
    plan = stands(SHEET, rows)
    assert tell_now(plan, plan.now, asked_next(plan, rows)) == "Same homing: now read the right side"
    words, needless = tell_candidate(plan, first, None)
    assert words.startswith(f"0 of {PLAN.split.power_ups} power-ups. ")
    assert not needless


def test_the_newest_sheet_of_the_trial_counts():
    of_another, stopped = {**SHEET, "trial": 2}, {**SHEET, "stopped": True}
    assert sheet_of((of_another, SHEET), 1) is SHEET
    assert sheet_of((stopped, SHEET), 1) is None
    assert sheet_of((SHEET, stopped), 1) is SHEET
    assert sheet_of((of_another,), 1) is None
