"""One field says a verdict everywhere: where a cause is known, that it is to be cured first."""

import re
from pathlib import Path

import numpy as np
import pytest

import holdzero
from holdzero.compute.choose import Verdict, choice_as_json, choose
from holdzero.compute.findings import study
from holdzero.inputs.machine import Axis, Machine, Requirement
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor

MACHINE = Machine(name="m", requirement=Requirement(position_mm=0.5), axes=(Axis.of("X", motors=1),))
ROOMS = Path(holdzero.__file__).parent


def chosen(values: np.ndarray):
    lines = [f"{label},{value:.5f}" for label, homings in enumerate(values, 1) for value in homings]
    text = "\n".join(["set,deviation_mm", *lines])
    return choose(MACHINE, (Sensor(name="A"),), study(read_readings(text)))


def steady() -> np.ndarray:
    return 0.002 * np.random.default_rng(3).standard_normal((8, 6))


@pytest.mark.parametrize(
    ("moved", "cause"),
    [
        (0.02 * np.exp(-np.arange(6) / 2)[None, :], "drift after power-up"),
        (0.003 * np.arange(8)[:, None], "drift over the trial"),
        (0.1 * (np.arange(8) == 4)[:, None], "one power-up stands apart"),
        (0.03 * np.random.default_rng(1).integers(0, 2, (8, 6)), "two places"),
    ],
)
def test_a_cause_is_named_in_a_few_words(moved, cause):
    choice = chosen(steady() + moved)
    (candidate,) = choice.candidates
    assert candidate.verdict == Verdict.TOO_CLOSE  # the contract of the verdict stays
    assert candidate.shown == f"cure first: {cause}"
    (answer,) = choice_as_json(choice)["candidates"]
    assert (answer["verdict"], answer["shown"]) == ("too close to call", candidate.shown)
    assert candidate.shown in choice.reason


def test_without_a_cause_it_is_the_verdict():
    (candidate,) = chosen(steady()).candidates
    assert candidate.shown == str(candidate.verdict) == "holds"


def test_no_screen_prints_a_candidate_by_its_bare_verdict():
    """Marks and colours go by the verdict; words go by what is shown."""
    words = re.compile(
        r"\{(?:candidate|judged|c|confirming)\.verdict(?:\.value)?\}|\{\{ (?:candidate|judged)\.verdict \}\}"
    )
    rooms = [
        path for name in ("cli", "web", "report", "chart", "case", "tell") for path in (ROOMS / name).rglob("*.*")
    ]
    bare = [
        path.name for path in rooms if path.suffix in (".py", ".html") and words.search(path.read_text("utf-8"))
    ]
    assert bare == ["zero.py"]  # the standing says "cure first" in its own words before
