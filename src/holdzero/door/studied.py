"""Studied: homings studied as the terminal studies them, and what Python gets of it."""

from collections.abc import Sequence
from functools import partial

from holdzero.chart import Picture
from holdzero.chart.distribution import distribution_picture
from holdzero.chart.probability import probability_picture
from holdzero.chart.readings import readings_picture
from holdzero.compute.findings import study, study_as_json
from holdzero.compute.findings.values import Findings, MissesElsewhere, Study
from holdzero.door import tables
from holdzero.door.reply import Reply
from holdzero.inputs.machine.values import Machine
from holdzero.inputs.reading import Readings
from holdzero.quantity import System
from holdzero.tell.findings import headline


def findings_of(
    readings: Readings, machine: Machine | None, *, misses: Sequence[MissesElsewhere], system: System
) -> Study:
    """Return what the homings say; a machine's steps are looked for in them."""
    return study(readings, axes=machine.axes if machine else (), more_misses=misses, system=system)


def answer_of_study(result: Study, *, system: System, invented: str, notes: Sequence[str] = ()) -> Reply:
    """Return what a study says, with the pictures of each series."""
    return Reply(
        headline(result, system=system),
        document=study_as_json(result),
        tables=tables.STUDY,
        result=result,
        pictures=partial(pictures_of_study, result, system),
        invented=invented,
        notes=(*notes, *result.notes),
    )


def pictures_of_study(result: Study, system: System) -> dict[str, Picture]:
    """Return by name the pictures of every series: its readings, how they lie, and the shape of their scatter."""
    pictures: dict[str, Picture] = {}
    for findings in result.findings:
        name = " ".join(filter(None, (findings.sensor, findings.axis, findings.side)))
        pictures |= {f"{kind} {name}".strip(): picture for kind, picture in _of_series(findings, system).items()}
    return pictures


def _of_series(findings: Findings, system: System) -> dict[str, Picture]:
    pictures = {"readings": readings_picture(findings, system=system)}
    if findings.counted.any():
        pictures["distribution"] = distribution_picture(findings, system=system)
    if probability := probability_picture(findings, system=system):
        pictures["probability"] = probability
    return pictures
