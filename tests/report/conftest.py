"""Records that many tests look at, each made once."""

from functools import cache

import numpy as np
import pytest

from holdzero import demo
from holdzero.case import Case, How, Texts
from holdzero.report.whole import record_of, set_in

INVENTED = "Invented data, to show what the figures look like."
DEMO = {
    "machine": demo.machine_toml(),
    "sensors": demo.sensors_toml(),
    "readings": demo.readings_csv(),
    "wiring": demo.wiring_toml(),
    "square": demo.square_toml(),
}
TRIED = ("machine", "sensors", "readings")
ONE_MOTOR = """[machine]
name = "Small mill"
[requirement]
position = "0.02 mm"
[axes.Z]
travel = "120 mm"
motors = 1
lead = "5 mm"
full_steps = 200
microsteps = 16
creep_speed = "1 mm/s"
approach_speed = "10 mm/s"
acceleration = "200 mm/s2"
delay = "5 ms"
limit_trip = "4 mm"
home_trip = "8 mm"
flag_home = "10 mm"
back_off = "2 mm"
"""
SENSORS = "".join(
    f'[sensors.{name}]\nkind = "inductive"\nprice = {price}\n' for name, price in (("A", 24), ("B", 3), ("C", 9))
)


def one_motor(**sd_mm):
    """Files of a mill with one motor, and a trial of eight power-ups of each candidate that scatters so."""
    rng = np.random.default_rng(20260301)
    rows = ["sensor,axis,set,homing,deviation_mm,resolution_mm"]
    for name, scatter in sd_mm.items():
        for power_up in range(1, 9):
            rows += [f"{name},Z,{power_up},{i},{rng.normal(0, scatter):.3f},0.001" for i in range(1, 5)]
    return {"machine": ONE_MOTOR, "sensors": SENSORS, "readings": "\n".join(rows) + "\n"}


@pytest.fixture(scope="session")
def demo_case():
    """The demo with wiring and squaring, marked as invented."""
    return Case(Texts(files=DEMO, how=How(invented=INVENTED)))


@pytest.fixture(scope="session")
def tried_case():
    """The demo's trial alone, marked as invented."""
    return Case(Texts(files={name: DEMO[name] for name in TRIED}, how=How(invented=INVENTED)))


@pytest.fixture(scope="session")
def demo_record(demo_case):
    """Its record."""
    return record_of(demo_case)


@pytest.fixture(scope="session")
def tried_record(tried_case):
    """Its record."""
    return record_of(tried_case)


@pytest.fixture(scope="session")
def set_record(demo_record, tried_record):
    """By machine and ending: the record, set once."""
    mills = {
        "one that holds": {"A": 0.003},
        "none that holds": {"A": 0.009, "B": 0.012, "C": 0.008},
    }

    @cache
    def content(name):
        ready = {"demo": demo_record, "trial": tried_record}
        return ready.get(name) or record_of(Case(Texts(files=one_motor(**mills[name]))))

    @cache
    def made(name, ending="pdf"):
        return set_in(ending, content(name))

    return made
