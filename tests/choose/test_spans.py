"""Spans in the choice: at most `too close to call`, and what is missing is said."""

import numpy as np
import pytest
from scipy.stats import norm

from holdzero.compute.choose import Candidate, Choice, Verdict, choose
from holdzero.compute.choose.contract import choice_as_json
from holdzero.compute.choose.spans import beside_readings
from holdzero.compute.findings import study
from holdzero.inputs.machine import Axis, Machine, Requirement
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor
from holdzero.quantity import plain

LATHE = Machine(name="m", requirement=Requirement(position_mm=0.05), axes=(Axis.of("X", motors=1),))
GANTRY = Machine(
    name="g",
    requirement=Requirement(squareness_mm=0.05, squareness_over_mm=600.0, position_mm=0.1, datum_homings=8),
    axes=(Axis.of("Y", motors=2, drive_distance_mm=980.0),),
)


def chosen(text: str, machine: Machine = LATHE, *names: str) -> Choice:
    sensors = tuple(Sensor(name=name) for name in names or ("A",))
    return choose(machine, sensors, study(read_readings(text)))


def spans(sd_mm: float, *, between_mm: float = 0.0, k: int = 10, side: str = "", seed: int = 5) -> str:
    rng = np.random.default_rng(seed)
    values = between_mm * rng.standard_normal((k, 1)) + sd_mm * rng.standard_normal((k, 6))
    lines = [f"A,{side},{i},{one.min():.5f},{one.max():.5f},6" for i, one in enumerate(values, 1)]
    return "\n".join(["sensor,side,set,least_mm,greatest_mm,n", *lines]) + "\n"


def only(choice: Choice) -> Candidate:
    (candidate,) = choice.candidates
    return candidate


def test_never_holds():
    """A hundredth of the spread allowed: sure by regular scatter, and still not `holds`."""
    candidate = only(chosen(spans(0.00015)))
    assert candidate.verdict == Verdict.TOO_CLOSE
    assert candidate.chance_holds > 0.999
    assert candidate.chance_holds_wide is None
    assert candidate.lacks[0].code == "readings"
    assert candidate.to_settle.homings_each == 0
    assert candidate.rests_on == "spans alone: the readings are missing"


@pytest.mark.parametrize(("sd", "between"), [(0.06, 0.0), (0.003, 0.06)])
def test_does_not_hold(sd, between):
    """Four times the spread allowed (0.05 / 3.2905 = 0.0152), within or between power-ups."""
    candidate = only(chosen(spans(sd, between_mm=between)))
    assert candidate.verdict == Verdict.DOES_NOT_HOLD
    assert candidate.share_outside > 0.1


def test_one_outlier_is_no_reason_to_condemn():
    """One span that an outlier made: the others would do."""
    text = spans(0.002) + "A,,99,-0.9,0.9,6\n"
    candidate = only(chosen(text))
    assert candidate.chance_holds < 0.025
    assert candidate.verdict == Verdict.TOO_CLOSE
    assert any("differ too much" in reason for reason in candidate.reasons)
    right = text.split("\n", 1)[1].replace("A,,", "A,R,")
    two = only(chosen(spans(0.002, side="L", seed=8) + right, GANTRY))  # nor is one of two sides
    assert (two.verdict, two.chance_holds < 0.025) == (Verdict.TOO_CLOSE, True)


def test_one_power_up():
    candidate = only(chosen(spans(0.001, k=1)))
    assert (candidate.verdict, candidate.chance_holds) == (Verdict.TOO_CLOSE, None)
    assert [lack.code for lack in candidate.lacks] == ["readings", "power-ups"]


def test_two_power_ups_are_the_fewest_that_show_what_power_ups_do():
    """One shows the scatter within alone: no chance that it holds, no share outside, and that is said."""
    for k, seen in ((1, False), (2, True)):
        candidate = only(chosen(spans(0.004, k=k)))
        assert (candidate.chance_holds is not None, candidate.share_outside is not None) == (seen, seen)
        assert ("within one power-up" in candidate.reasons[0]) is not seen


def test_where_the_display_hides_the_scatter_an_upper_limit_is_told():
    """docs/methods.md 2: 8 power-ups hide .495 steps, here of 10 um; 0.05 mm over 3.2905 is 15 um."""
    head = "sensor,side,set,least_mm,greatest_mm,n\n"
    text = head + "".join(f"A,,{k},0.00,0.00,6\n" for k in range(8))
    found = study(read_readings(text, resolution_mm=0.01))
    (series,) = found.spans
    assert series.spread.middle is None
    (candidate,) = choose(LATHE, (Sensor(name="A"),), found).candidates
    assert plain(candidate.reasons[0]) == "The spread, by spans alone, is at most 5 um; 15 um is allowed."


@pytest.mark.parametrize(
    ("text", "verdict", "times"),
    [
        (spans(0.004), Verdict.TOO_CLOSE, 1),
        ("sensor,span_mm,n\nA,0,5\n", Verdict.CANNOT_SAY, 1),
        (spans(0.06), Verdict.DOES_NOT_HOLD, 0),
    ],
)
def test_that_readings_are_missing_is_said_once(text: str, verdict: Verdict, times: int):
    candidate = only(chosen(text))
    assert candidate.verdict == verdict
    assert sum("take a trial and keep every reading" in reason for reason in candidate.reasons) == times


def test_spans_beside_readings_are_said_to_be_unused():
    """Only where there are any."""
    (series,) = study(read_readings(spans(0.004))).spans
    assert [caution.code for caution in beside_readings([series])] == ["spans-beside"]
    assert beside_readings([]) == ()


def test_nothing_known():
    assert only(chosen("sensor,span_mm,n\nA,0,5\n")).verdict == Verdict.CANNOT_SAY


def test_the_worse_side_counts():
    left, right = spans(0.0005, side="L"), spans(0.05, side="R", seed=6)
    candidate = only(chosen(left + right.split("\n", 1)[1], GANTRY))
    assert candidate.verdict == Verdict.DOES_NOT_HOLD
    assert len(candidate.spans) == 2
    assert "both-sides" in {lack.code for lack in candidate.lacks}


@pytest.mark.parametrize("worse", ["L", "R"])
def test_figures_of_the_worse_side(worse: str):
    """Chance and mean share by SciPy's normal law over what is believed of the wider side, at two ends."""
    sd = {"L": 0.016, "R": 0.016} | {worse: 0.024}
    place = Machine(name="g", requirement=Requirement(position_mm=0.1), axes=GANTRY.axes)
    text = spans(sd["L"], side="L") + spans(sd["R"], side="R", seed=7).split("\n", 1)[1]
    candidate = only(chosen(text, place))
    belief = next(series.posterior for series in candidate.spans if series.side == worse)
    beyond = 2 * norm.sf(0.1 / belief.value)  # of one side; both alike and independent
    assert candidate.share_outside == pytest.approx(belief.weight @ (1 - (1 - beyond) ** 2), rel=1e-3)
    rng = np.random.default_rng(1)
    allowed = 0.1 / norm.isf((1 - 0.999**0.5) / 2)
    draws = belief.quantiles(rng.random(100_000))
    assert candidate.chance_holds == pytest.approx(np.mean(draws <= allowed), abs=0.006)
    assert 0.025 < candidate.chance_holds < 0.999


@pytest.mark.parametrize(
    ("text", "machine", "says", "missing"),
    [
        (spans(0.006), LATHE, ["The spread, by spans alone, is 6 um (95 %: 5 to 8); 15 um is allowed."], []),
        (
            spans(0.006, k=1),
            LATHE,
            ["The spread, by spans alone, is 6 um within one power-up (95 %: 3 to 14); 15 um is allowed."],
            ["1 power-up can be read from these spans, 4 are needed."],
        ),
        (
            spans(0.006, side="L", k=3) + spans(0.004, side="R", seed=7).split("\n", 1)[1],
            GANTRY,
            [
                "Left side: the spread, by spans alone, is ",
                "Right side: the spread, by spans alone, is 4 um (95 %: 3 ",
            ],
            [
                "3 power-ups can be read from these spans, 4 are needed.",
                "Squareness needs both sides of the same homing, which spans do not keep.",
            ],
        ),
        (spans(0.06), LATHE, ["The spread, by spans alone, is 60 um (95 %: 49 to 79); 15 um is allowed."], []),
    ],
    ids=["ten power-ups", "one power-up", "two sides", "does not hold"],
)
def test_what_is_said_and_what_is_missing(text: str, machine: Machine, says: list[str], missing: list[str]):
    candidate = only(chosen(text, machine))
    told = [plain(reason) for reason in candidate.reasons]
    for reason, begins in zip(told, says, strict=False):
        assert reason.startswith(begins)
    assert [reason for reason in told if "needed" in reason or "needs" in reason] == missing
    readings = any("take a trial and keep every reading" in reason for reason in told)
    assert readings is (candidate.verdict == Verdict.TOO_CLOSE)
    assert [lack.sentence for lack in candidate.lacks[1:]] == missing
    assert all(lack.need == 4 for lack in candidate.lacks if lack.code == "power-ups")


def test_contract():
    answer = choice_as_json(chosen(spans(0.001), LATHE, "A", "B"))
    by_spans, untried = answer["candidates"]
    assert (by_spans["verdict"], untried["verdict"]) == ("too close to call", "cannot say")
    assert by_spans["spans"][0]["power_ups"] == 10
    assert untried["spans"] == []
    assert answer["choice"] is None
