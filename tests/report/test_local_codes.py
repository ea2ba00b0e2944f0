"""Local codes and licensed work: named once in each document that goes to the machine alone."""

import re

import pytest

from holdzero import demo
from holdzero.chart.wiring import diagram
from holdzero.compute.install import install_sheet
from holdzero.compute.plan import StatedTravel, away_and_back, trial_plan
from holdzero.compute.wiring import assess_all, read_wiring
from holdzero.inputs.machine import read_machine
from holdzero.report import record_html
from holdzero.report.trial_sheet import trial_sheet
from holdzero.tell.motion_program import motion_program

PLAN = trial_plan(minutes=90, minutes_per_homing=1, minutes_per_power_up=5)


def program() -> str:
    text = motion_program(away_and_back(reach=StatedTravel(axis="Y", low_mm=0, high_mm=1290), homings=2, seed=1))
    return text.replace(")\n(", " ")


def install() -> str:
    sheet = install_sheet(read_machine(demo.machine_toml()))
    return " ".join(caution.text for caution in sheet.cautions)


DOCUMENTS = {
    "motion program": program,
    "trial sheet": lambda: record_html(trial_sheet(PLAN)),
    "install sheet": install,
    "wiring diagram": lambda: diagram(assess_all(read_wiring(demo.wiring_toml()))[0]).svg(),
}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_named_once(name: str):
    text = " ".join(re.sub("<[^>]*>", " ", DOCUMENTS[name]()).lower().split())
    assert text.count("local codes") == text.count("licensed person") == 1
