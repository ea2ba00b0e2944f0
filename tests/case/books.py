"""Books of nine invented machines that differ in what has to be decided, their homings drawn with seeds."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from holdzero.case import Case
from holdzero.case.decide import decide
from holdzero.case.in_book import InBook
from holdzero.inputs.reading import read_readings
from holdzero.store import open_book

WORKS = {
    "supply": {"voltage": "24 V"},
    "sensor": {"output": "PNP", "contact": "NC", "supply": "10 V to 30 V"},
    "input": {"kind": "IEC 61131-2 type 3"},
}
FAILS = WORKS | {"sensor": {"output": "NPN", "contact": "NO", "supply": "10 V to 30 V"}}
SENSORS = {
    "K": {"kind": "inductive", "price": 18.0, "output": "PNP", "contact": "NC", "supply": "10 V to 30 V"},
    "M": {"kind": "gauge contact", "price": 71.0, "output": "PNP", "contact": "NC", "supply": "10 V to 30 V"},
    "P": {"kind": "reed and magnet", "price": 4.5, "output": "dry contact", "contact": "NC"},
}
SPREADS_MM = {"K": 0.0022, "M": 0.0016, "P": 0.06}


def one_motor(name: str = "Mill") -> dict[str, Any]:
    """A machine of axes with one motor each."""
    axis = {"travel": "400 mm", "motors": 1, "lead": "5 mm", "full_steps": 200, "microsteps": 8}
    return {
        "machine": {"name": name, "example": True},
        "requirement": {"position": "0.03 mm", "risk": "1 in 1000"},
        "axes": {"X": axis | {"creep_speed": "2 mm/s"}, "Z": axis | {"creep_speed": "1 mm/s"}},
    }


def on_an_index() -> dict[str, Any]:
    """A machine whose switch now and then picks the index pulse beside the right one."""
    machine = one_motor()
    index = {"index_pitch": "5 mm", "index_phase": "0.012", "index_search": "on", "switch_spread": "25 um"}
    machine["axes"]["X"] = machine["axes"]["X"] | index
    return machine


def gantry(*names: str) -> dict[str, Any]:
    """A machine whose axes of these names run on two motors."""
    axis = {
        "travel": "1100 mm",
        "motors": 2,
        "drive_distance": "840 mm",
        "lead": "10 mm",
        "full_steps": 200,
        "microsteps": 8,
        "creep_speed": "2 mm/s",
    }
    return {
        "machine": {"name": "Router", "example": True},
        "requirement": {"squareness": "0.12 mm over 500 mm", "position": "0.08 mm", "risk": "1 in 1000"},
        "axes": {name: dict(axis) for name in names} | {"X": axis | {"motors": 1}},
    }


@dataclass(frozen=True, kw_only=True)
class Trialled:
    """One trial of a book."""

    axis: str
    sides: str = ""
    sensors: tuple[str, ...] = ("K", "P")
    seed: int = 1
    shift_mm: float = 0.0
    marks: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class Told:
    """What a book holds."""

    machine: dict[str, Any]
    trials: tuple[Trialled, ...] = ()
    circuits: tuple[dict[str, Any], ...] = ()
    squaring: tuple[dict[str, Any], ...] = ()
    taken: str = ""
    system: str = "metric"
    axis: str = ""


SETUP = {"setup": {"screw_pitch": "0.8 mm", "homing_end": "low", "clockwise": "back"}}
ROUND = {
    "round": {"method": "flip", "length": "500 mm", "gap": "0.05 mm", "u": "0.02 mm", "day": "2026-05-03"},
}
EVENT = {"event": {"what": "crash", "day": "2026-05-09", "note": ""}}
FLAG = {"event": "a flag was touched"}

BOOKS = {
    "one motor, a circuit of another axis fails": Told(
        machine=one_motor(),
        trials=(Trialled(axis="X"),),
        circuits=(FAILS | {"name": "Z home", "axis": "Z"},),
    ),
    "an index pulse near the switch": Told(machine=on_an_index(), trials=(Trialled(axis="X"),)),
    "two motors": Told(
        machine=gantry("Y"),
        trials=(Trialled(axis="Y", sides="LR"),),
        circuits=(
            WORKS | {"name": "Y left", "axis": "Y", "side": "L"},
            WORKS | {"name": "Y right", "axis": "Y", "side": "R"},
        ),
        squaring=(SETUP, ROUND),
    ),
    "two axes on two motors": Told(
        machine=gantry("Y", "A"),
        trials=(Trialled(axis="A", sides="LR"), Trialled(axis="Y", sides="L", seed=5)),
        axis="A",
    ),
    "decided against the recommendation": Told(
        machine=gantry("Y"),
        trials=(Trialled(axis="Y", sides="LR", sensors=("K", "M")),),
        squaring=(SETUP, ROUND),
        taken="M",
    ),
    "wiring that fails": Told(
        machine=one_motor(),
        trials=(Trialled(axis="X"),),
        circuits=(FAILS | {"name": "X home", "axis": "X"},),
    ),
    "an event after squaring": Told(
        machine=gantry("Y"), trials=(Trialled(axis="Y", sides="LR"),), squaring=(SETUP, ROUND, EVENT)
    ),
    "two trials, one begins a new level": Told(
        machine=one_motor(),
        trials=(Trialled(axis="X"), Trialled(axis="X", seed=7, shift_mm=0.4, marks=FLAG)),
    ),
    "inch": Told(machine=gantry("Y"), trials=(Trialled(axis="Y", sides="LR"),), system="inch"),
}


def readings_csv(trial: Trialled, *, power_ups: int = 8, homings: int = 4) -> str:
    """Draw homings: a level of each power-up, scatter within it, rounded to 1 µm."""
    draw = np.random.default_rng(trial.seed)
    lines = ["sensor,axis,side,set,homing,deviation_mm,resolution_mm,temperature_degc,time"]
    for sensor in trial.sensors:
        spread_mm = SPREADS_MM[sensor]
        for power_up in range(1, power_ups + 1):
            levels = {side: draw.normal(0, spread_mm / 2) for side in trial.sides or " "}
            for homing in range(1, homings + 1):
                for side in trial.sides or " ":
                    mm = trial.shift_mm + levels[side] + draw.normal(0, spread_mm)
                    time = f"2026-{trial.seed + 3:02d}-{power_up:02d}T{8 + homing:02d}:00"
                    degc = 17 + power_up % 4
                    lines.append(
                        f"{sensor},{trial.axis},{side.strip()},{power_up},{homing},{mm:.3f},0.001,{degc},{time}"
                    )
    return "\n".join(lines) + "\n"


def make(path: Path, told: Told) -> int:
    """Write a book; return the id of its machine."""
    with open_book(path) as book:
        book.keep_setting("system", told.system)
        machine_id = book.add_machine(told.machine)
        for name in dict.fromkeys(name for trial in told.trials for name in trial.sensors):
            book.add_sensor(machine_id, name, SENSORS[name])
        for number, trial in enumerate(told.trials, 1):
            trial_id = book.add_trial(machine_id, name=f"Trial {number}", axis=trial.axis)
            book.import_readings(trial_id, read_readings(readings_csv(trial)))
            if trial.marks:
                book.label_trial(trial_id, **trial.marks)
        if told.circuits:
            book.add_sheet(machine_id, "wiring", {"circuit": list(told.circuits)})
        for sheet in told.squaring:
            book.add_sheet(machine_id, "square", sheet)
        if told.taken:
            case = Case(InBook(book, book.machine(machine_id)))
            decide(book, machine_id, case, sensor=told.taken, reason="fewer spare parts", by="the keeper")
    return machine_id
