"""Remembered: figures that were computed before, found again by the digest of what they came from."""

from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from functools import partial
from threading import Lock
from typing import TypeVar

from holdzero.compute.choose import choose
from holdzero.compute.choose.values import Choice
from holdzero.compute.findings import drive_steps
from holdzero.compute.findings import study as study_of
from holdzero.compute.findings.values import Findings, Study
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.reading.values import Homings, Readings
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System
from holdzero.store.homings import digest_of

T = TypeVar("T")


class Remembered:
    """The newest answers, at most so many."""

    def __init__(self, most: int) -> None:
        self._kept: OrderedDict[Hashable, object] = OrderedDict()
        self._most, self._lock = most, Lock()

    def __call__(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return the answer kept under `key`, or make it."""
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key]  # type: ignore[return-value]  # what was kept under a key is what it made
        made = make()
        with self._lock:
            self._kept[key] = made
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)
        return made

    def has(self, key: Hashable) -> bool:
        """Tell whether an answer is kept under `key`."""
        with self._lock:
            return key in self._kept


_answers = Remembered(most=256)


def study(readings: Readings, machine: Machine | None = None, system: System = "metric") -> Study:
    """Return what the homings say; only candidates with new readings are worked out again."""
    axes = machine.axes if machine else ()
    steps = repr([(axis.name, drive_steps(axis)) for axis in axes])
    by_candidate: dict[tuple[str, str], list[Homings]] = {}
    for group in readings.groups:
        by_candidate.setdefault((group.sensor, group.axis), []).append(group)
    found: list[Findings] = []

    def worked_out(part: Readings) -> Study:
        return study_of(part, axes=axes, system=system)

    for groups in by_candidate.values():
        digest = digest_of(groups)
        part = Readings(tuple(groups), digest=digest)
        found += _answers(("study", digest, steps, system), partial(worked_out, part)).findings
    return Study(tuple(found), notes=readings.notes, digest=readings.digest)


def choice(
    machine: Machine,
    sensors: tuple[Sensor, ...],
    studied: Study,
    system: System = "metric",
    electrical: Mapping[str, tuple[str, str]] | None = None,
) -> Choice:
    """Return which candidate holds, with the verdicts of wiring where there are any."""
    key = ("choice", repr(machine), repr(sensors), studied.digest, system, repr(electrical))
    return _answers(
        key, lambda: choose(machine, sensors, studied, electrical=electrical, what_if=True, system=system)
    )
