"""Trial sheet: a box for each reading, the caution first, printable anywhere."""

import pytest

from holdzero.compute.plan import trial_plan
from holdzero.inputs.machine.values import Axis
from holdzero.inputs.sensor.values import Sensor
from holdzero.report import record_html, record_pdf
from holdzero.report.trial_sheet import trial_sheet
from holdzero.tell.blocks import Boxes, Section

PLAN = trial_plan(
    minutes=90,
    minutes_per_homing=1,
    minutes_per_power_up=5,
    fewest_homings=3,
    axis=Axis.of("Y", motors=2),
    sensors=[Sensor(name="A"), Sensor(name="<B>")],
)


def boxes(section: Section) -> list[Boxes]:
    return [block for block in section.blocks if isinstance(block, Boxes)]


def test_there_is_a_box_for_each_reading_of_each_side():
    """Hand count: 11 power-ups x 3 homings x 2 candidates x 2 sides; time and temperature are boxes too."""
    days = [section for section in trial_sheet(PLAN).sections if section.heading.startswith("Day")]
    sets = [one for day in days for one in boxes(day) if one.caption.startswith("Power-up")]
    assert len(sets) == 11
    assert sum(len(one.rows) * (len(one.head) - 2 - 2) for one in sets) == 11 * 3 * 2 * 2


@pytest.mark.parametrize("homings", [11, 25])
def test_a_long_set_takes_further_rows(homings: int):
    plan = trial_plan(minutes=900, minutes_per_homing=1, minutes_per_power_up=5, fewest_homings=homings)
    (block, *_) = boxes(next(one for one in trial_sheet(plan).sections if one.heading == "Day 1"))
    assert len(block.rows) * 10 >= plan.split.homings
    assert [row[2] for row in block.rows][:2] == ["from 1", "from 11"]


def test_the_caution_comes_before_the_boxes_and_names_are_never_markup():
    page = record_html(trial_sheet(PLAN, machine="Router"))
    assert page.index("Moves by itself") < page.index('class="boxes"')
    assert "&lt;B&gt;" in page
    assert "<B>" not in page


def test_it_prints():
    assert record_pdf(trial_sheet(PLAN)).startswith(b"%PDF")
