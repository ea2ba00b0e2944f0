"""Readings files, written from lists of homings."""

from collections.abc import Iterable, Sequence

from holdzero.compute.findings import Findings, Study, study
from holdzero.inputs.reading import read_readings


def text_of(values: Iterable[float]) -> list[str]:
    """Return values as a person writes them down: no more digits than they have."""
    return [f"{value:.10g}" for value in values]


def rows(sets: Sequence[Iterable[object]], sensor: str = "A", axis: str = "Y", side: str = "") -> list[str]:
    """Return one row a reading: sensor, axis, side, set, homing, deviation."""
    return [
        f"{sensor},{axis},{side},{number},{homing},{reading}"
        for number, one in enumerate(sets, 1)
        for homing, reading in enumerate(one, 1)
    ]


def csv_of(*lines: str, unit: str = "mm") -> str:
    """Return a readings file from rows."""
    return "\n".join([f"sensor,axis,side,set,homing,deviation_{unit}", *lines, ""])


def found_in(sets: Sequence[Iterable[object]], **options: object) -> Findings:
    """Return the findings of one series of sets."""
    return study(read_readings(csv_of(*rows(sets)), **options)).findings[0]  # type: ignore[arg-type]


def study_of(*lines: str, **options: object) -> Study:
    """Return the study of a file with these rows."""
    return study(read_readings(csv_of(*lines), **options))  # type: ignore[arg-type]
