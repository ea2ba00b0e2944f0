"""Of example: what comes from an invented example stays marked wherever it goes, and what may not go there.

Candidates, wiring, squaring and readings carry a mark of their own. They may come to a machine that is no example,
to start from or to try things out: every answer then says which of its parts are made up, until they are gone. A
log, tests and decisions are what happened at a machine: those of an example are never another's, and are refused.
"""

from collections.abc import Sequence

from holdzero.case.squaring_log import SquaringLog
from holdzero.errors import InputError
from holdzero.inputs.reading.values import Readings
from holdzero.inputs.sensor.values import Sensor


def examples_in(
    sensors: Sequence[Sensor], readings: Readings, circuits_example: bool, squaring: SquaringLog
) -> tuple[str, ...]:
    """Return in words what is marked as an invented example's."""
    candidates = [sensor.name for sensor in sensors if sensor.example]
    read = [name for name in readings.examples if name]
    parts = (
        f"{'candidates' if len(candidates) > 1 else 'candidate'} {', '.join(candidates)}" if candidates else "",
        f"readings of {', '.join(read)}" if read else "readings" if readings.example else "",
        "wiring" if circuits_example else "",
        "squaring" if squaring.example else "",
    )
    return tuple(filter(None, parts))


def examples_said(parts: Sequence[str]) -> str:
    """Return the sentence about them that stands in every answer; empty where there are none.

    >>> examples_said(["candidate K", "wiring"])
    "Of an invented example: candidate K; wiring. What rests on them is not this machine's own."
    """
    return (
        f"Of an invented example: {'; '.join(parts)}. What rests on them is not this machine's own."
        if parts
        else ""
    )


def refuse_example(noun: str, *, where: str = "") -> InputError:
    """Return the refusal of an example's log, tests or decisions for a machine that is none."""
    return InputError(
        where=where,
        found=f"{noun} of an invented example",
        need=f"{noun} of this machine",
        do="leave it out, or bring all of the example in as a machine of its own; is it none, take its mark off",
    )
