"""Remembered: figures that were computed before, found again by the digest of what they came from."""

from collections.abc import Callable, Hashable, Mapping, Sequence
from functools import partial
from typing import TypeVar

from holdzero.compute.budget import TrialSpread
from holdzero.compute.choose import choose
from holdzero.compute.choose.more import MINUTES
from holdzero.compute.choose.values import HOLDS, Choice
from holdzero.compute.design import AxisAssessment, assess
from holdzero.compute.findings import drive_steps, study
from holdzero.compute.findings.growth import expected_growth
from holdzero.compute.findings.spans import study_spans
from holdzero.compute.findings.values import Findings, MissesElsewhere, Study
from holdzero.errors import HoldzeroError
from holdzero.form.bounds import refuse_many_series
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.reading.digest import digest_of
from holdzero.inputs.reading.values import Homings, Readings, Spans
from holdzero.inputs.sensor.values import Sensor
from holdzero.memory import MIB, Remembered, Same
from holdzero.quantity import System, in_system

T = TypeVar("T")
_answers = Remembered(24 * MIB)
_digests = Remembered(2 * MIB)  # of the very groups that were read


def _shown(key: tuple[Hashable, ...], make: Callable[[], T], system: System) -> T:
    """Return what `make` gives with both systems side by side, in the units of one: worked out once for both."""
    if system == "both":
        return _answers(key, make)
    try:
        return _answers((*key, system), lambda: in_system(_answers(key, make), system), weighs_as=key)
    except HoldzeroError as refusal:
        raise in_system(refusal, system) from None


def remembered_study(
    readings: Readings,
    machine: Machine,
    system: System = "metric",
    *,
    elsewhere: Sequence[MissesElsewhere] = (),
) -> Study:
    """Return what the homings say; only candidates with new readings are worked out again."""
    refuse_many_series(len(readings.groups) + len(readings.spans), where="trials")
    steps = repr([(axis.name, drive_steps(axis), expected_growth(axis)) for axis in machine.axes])
    by_candidate: dict[tuple[str, str], list[Homings]] = {}
    for group in readings.groups:
        by_candidate.setdefault((group.sensor, group.axis), []).append(group)
    findings: list[Findings] = []

    def worked_out(part: Readings) -> Study:
        return study(part, axes=machine.axes, more_misses=elsewhere, system="both")

    for groups in by_candidate.values():
        digest = _digest(groups)
        part = Readings(tuple(groups), digest=digest)
        key = ("study", digest, steps, repr(elsewhere))
        findings += _shown(key, partial(worked_out, part), system).findings
    spans = study_spans(readings.spans, system=system)
    digest = _digest(readings.groups, readings.spans)
    return Study(tuple(findings), notes=readings.notes, digest=digest, spans=spans)


def _digest(groups: Sequence[Homings], spans: Sequence[Spans] = ()) -> str:
    key = (tuple(map(Same, groups)), tuple(map(Same, spans)))
    return _digests(key, lambda: digest_of(groups, spans))


def choice(
    machine: Machine,
    sensors: tuple[Sensor, ...],
    studied: Study,
    *,
    worked_out: Callable[[], Study],
    axis: str,
    system: System = "metric",
    elsewhere: Sequence[MissesElsewhere] = (),
    electrical: Mapping[str, tuple[str, str]] | None = None,
    confidence: float | None = None,
    minutes: tuple[float, float] | None = None,
    what_if: bool = False,
) -> Choice:
    """Return which candidate holds on an axis, with the verdicts of wiring where there are any.

    `studied`, of that axis alone, rests on its homings, on the machine and on the misses `elsewhere`; `worked_out`
    gives the same study with its lengths in both systems.
    """
    settings = (repr(electrical), confidence, minutes, what_if)
    homings, spans = [series.homings for series in studied.findings], [series.entered for series in studied.spans]
    rests_on = (_digest(homings, spans), studied.notes, repr(elsewhere))
    key = ("choice", repr(machine), repr(sensors), rests_on, axis, *settings)
    return _shown(
        key,
        lambda: choose(
            machine,
            sensors,
            worked_out(),
            axis=axis,
            electrical=electrical,
            what_if=what_if,
            system="both",
            confidence=HOLDS if confidence is None else confidence,
            minutes=MINUTES if minutes is None else minutes,
        ),
        system,
    )


def assessment(
    machine: Machine,
    axis: Axis,
    *,
    sensor: Sensor | None,
    trial: TrialSpread | None,
    seed: int,
    digits: int,
    workers: int,
    system: System,
) -> AxisAssessment:
    """Return the budget of an axis with a candidate."""
    key = ("budget", repr(machine), repr(axis), repr(sensor), repr(trial), seed, digits)
    return _shown(
        key,
        lambda: assess(
            machine,
            axis,
            sensor=sensor,
            trial=trial,
            seed=seed,
            digits=digits,
            workers=workers,
            system="both",
        ),
        system,
    )
