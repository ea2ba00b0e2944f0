"""Sweep: many variants of one axis, each reckoned through, in the order they were asked for.

All variants draw the same random numbers, so that they differ by what was varied and not by luck, and
each is reckoned by itself, so that cores, workers and clusters cannot change a digit.
"""

import os
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from dataclasses import dataclass
from itertools import product
from typing import Any

from holdzero.compute.budget.simulate import SEED
from holdzero.compute.design.assessment import assess
from holdzero.errors import InputError
from holdzero.form import did_you_mean, dotted, read_toml, table
from holdzero.inputs.machine import AXIS_KEYS, Machine, machine_from
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System

MOST = 100_000  # variants: more is a slip in the file
SENSOR = "sensor"
KEYS = (SENSOR, *(key.name for key in AXIS_KEYS))
OWN_KEYS = ("machine", "sensors", "axis", "seed", "digits", "vary", "variant")


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """What is varied.

    Parameters
    ----------
    machine_file, sensors_file : str
        Beside the file of variants; `sensors_file` empty where there is none.
    axis : str
        Axis that is varied; empty: the machine's only one.
    variants : tuple of mapping
        Key to what it is set to, as it would stand in the machine file; `sensor` names a candidate.
    seed, digits : int
        Of the simulation.
    """

    machine_file: str
    sensors_file: str
    axis: str
    variants: tuple[Mapping[str, Any], ...]
    seed: int
    digits: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One variant reckoned through. Lengths are standard deviations. [mm]"""

    variant: Mapping[str, Any]
    position_mm: float | None = None
    squareness_mm: float | None = None
    simulated_position_mm: float | None = None
    simulated_squareness_mm: float | None = None
    share_outside: float | None = None  # counted; None where nothing is asked or too few were outside
    share_outside_high: float | None = None  # its upper 95 % limit
    own_mm: float | None = None
    own_allowed_mm: float | None = None
    homing_s: float | None = None
    checks: int = 0  # travel checks that could be made
    fails: tuple[str, ...] = ()  # those of them that fail
    homings: int = 0
    refused: str = ""  # why it cannot be built, where it cannot

    def as_json(self) -> dict[str, Any]:
        """Return the row with its units in the keys."""
        return {
            "variant": dict(self.variant),
            "position_mm": self.position_mm,
            "squareness_mm": self.squareness_mm,
            "simulated_position_mm": self.simulated_position_mm,
            "simulated_squareness_mm": self.simulated_squareness_mm,
            "share_outside": self.share_outside,
            "share_outside_high": self.share_outside_high,
            "own_mm": self.own_mm,
            "own_allowed_mm": self.own_allowed_mm,
            "homing_s": self.homing_s,
            "travel_checks": self.checks,
            "travel_fails": list(self.fails),
            "homings": self.homings,
            "refused": self.refused or None,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """One variant with all it needs, to be sent to wherever it is reckoned."""

    machine: Mapping[str, Any]
    axis: str
    variant: Mapping[str, Any]
    sensor: Sensor | None
    seed: int
    digits: int
    system: System = "metric"  # that sentences are worded in


def read_sweep(text: str, *, where: str = "") -> Sweep:
    """Read a file of variants.

    Parameters
    ----------
    text : str
        TOML: ``machine``, perhaps ``sensors`` and ``axis``; ``[vary]`` with a list of values a key, of which
        every combination is made, or ``[[variant]]`` tables one by one.
    where : str
        Name of the file, for messages.

    Raises
    ------
    InputError
        No machine, nothing to vary, or a key that an axis does not have.
    """
    entered = read_toml(text, where=where, kind="variants")
    for name in entered:
        if name not in OWN_KEYS:
            raise InputError(
                where=dotted(where, name),
                found="a key that a file of variants does not have",
                need=f"one of {', '.join(OWN_KEYS)}",
                do=f"correct it{did_you_mean(name, OWN_KEYS)}",
            )
    if not isinstance(entered.get("machine"), str):
        raise InputError(
            where=dotted(where, "machine"),
            found="no machine file",
            need="the name of the machine file to vary",
            do='begin with a line such as machine = "router.toml"',
        )
    varied = table(entered, "vary", where=where)
    listed = entered.get("variant", [])
    variants = (
        [dict(zip(varied, values, strict=True)) for values in product(*_lists(varied, where))] if varied else []
    )
    variants += [dict(entry) for entry in listed]
    if not 1 <= len(variants) <= MOST:
        raise InputError(
            where=where,
            found=f"{len(variants)} variants",
            need=f"between 1 and {MOST}",
            do="list values under [vary], or add [[variant]] tables",
        )
    for variant in variants:
        _known(variant, where)
    return Sweep(
        machine_file=entered["machine"],
        sensors_file=str(entered.get("sensors", "")),
        axis=str(entered.get("axis", "")),
        variants=tuple(variants),
        seed=int(entered.get("seed", SEED)),
        digits=int(entered.get("digits", 2)),
    )


def _lists(varied: Mapping[str, Any], where: str) -> list[list[Any]]:
    for name, values in varied.items():
        if not isinstance(values, list) or not values:
            raise InputError(
                where=dotted(where, "vary", name),
                found=repr(values),
                need="a list of values",
                do='write it like creep_speed = ["1 mm/s", "2 mm/s"]',
            )
    return list(varied.values())


def _known(variant: Mapping[str, Any], where: str) -> None:
    for name in variant:
        if name not in KEYS:
            raise InputError(
                where=dotted(where, "vary", name),
                found="a key that an axis does not have",
                need="a key of the machine file's axis, or sensor",
                do=f"correct it{did_you_mean(name, KEYS)}",
            )


def tasks(
    sweep: Sweep, machine: Machine, sensors: Sequence[Sensor], *, where: str = "", system: System = "metric"
) -> tuple[Task, ...]:
    """Return the variants as tasks, each complete in itself.

    Raises
    ------
    InputError
        An axis or a sensor that is not there, or a value that its key cannot take.
    """
    names = [axis.name for axis in machine.axes]
    axis = sweep.axis or (names[0] if len(names) == 1 else "")
    if axis not in names:
        raise InputError(
            where=dotted(where, "axis"),
            found=f'"{axis}"' if axis else "no axis named",
            need=f"one of {', '.join(names)}",
            do="name the axis to vary",
        )
    by_name = {sensor.name: sensor for sensor in sensors}
    made = []
    for variant in sweep.variants:
        wanted = variant.get(SENSOR)
        if wanted is not None and wanted not in by_name:
            raise InputError(
                where=dotted(where, "vary", SENSOR),
                found=f'"{wanted}"',
                need=f"one of {', '.join(by_name) or 'a sensors file'}",
                do="name a candidate of the sensors file",
            )
        entered = deepcopy(dict(machine.entered))
        entered["axes"][axis] |= {key: value for key, value in variant.items() if key != SENSOR}
        machine_from(entered, where=where)  # refuse a slip before anything is reckoned
        alone = next(iter(by_name.values())) if len(by_name) == 1 else None
        made.append(
            Task(
                machine=entered,
                axis=axis,
                variant=variant,
                sensor=by_name[wanted] if wanted is not None else alone,
                seed=sweep.seed,
                digits=sweep.digits,
                system=system,
            )
        )
    return tuple(made)


def reckon(task: Task) -> Row:
    """Reckon one variant through; one that contradicts itself becomes a row that says so."""
    machine = machine_from(task.machine)
    try:
        assessment = assess(
            machine,
            machine.axis(task.axis),
            sensor=task.sensor,
            seed=task.seed,
            digits=task.digits,
            system=task.system,
        )
    except InputError as error:
        return Row(variant=task.variant, refused=str(error))
    drawn, allowed = assessment.simulation, assessment.budget.allowed
    square = assessment.budget.squareness
    outside = drawn.outside
    return Row(
        variant=task.variant,
        position_mm=assessment.budget.position.u_mm,
        squareness_mm=None if square is None else square.u_mm,
        simulated_position_mm=drawn.position.sd,
        simulated_squareness_mm=None if drawn.squareness is None else drawn.squareness.sd,
        share_outside=None if outside is None else outside.value,
        share_outside_high=None if outside is None else outside.high,
        own_mm=assessment.budget.own_mm,
        own_allowed_mm=None if allowed is None else allowed.own_mm,
        homing_s=None if assessment.homing is None else assessment.homing.time_s,
        checks=sum(check.ok is not None for check in assessment.travel.checks),
        fails=tuple(check.check for check in assessment.travel.checks if check.ok is False),
        homings=drawn.n,
    )


def run(made: Sequence[Task], *, workers: int | None = None) -> Iterator[Row]:
    """Reckon all variants on this computer; rows come in the order asked for, each as soon as it can.

    Parameters
    ----------
    made : sequence of Task
        As `tasks` gives them.
    workers : int or None
        Threads; None: as many as there are cores.
    """
    with ThreadPoolExecutor(workers or os.cpu_count() or 1) as pool:
        yield from pool.map(reckon, made)
