"""Conditions: the findings split, and the answer to "did that change help?"."""

import numpy as np

from holdzero.compute.findings import find, study, study_as_json
from holdzero.compute.findings.conditions import FEWEST
from holdzero.inputs.reading import read_readings


def result(after_sd: float, n: int = 5):
    rng = np.random.default_rng(7)
    lines = ["set,homing,deviation_mm,condition"]
    for number in range(1, 9):
        word, sd = ("spindle off", 0.002) if number % 2 else ("spindle on", after_sd)
        lines += [f"{number},{homing},{rng.normal(0, sd):.6f},{word}" for homing in range(1, n + 1)]
    return study(read_readings("\n".join([*lines, ""])))


def test_each_condition_has_figures_of_its_own():
    (found,) = study_as_json(result(0.010))["sensors"]
    off, on = found["conditions"]
    assert (off["condition"], on["condition"]) == ("spindle off", "spindle on")
    assert (off["n"], on["n"]) == (20, 20)
    assert off["spread_low_mm"] < 0.002 < off["spread_high_mm"]
    assert on["spread_low_mm"] < 0.010 < on["spread_high_mm"]
    assert off["misses"]["n"] == 20


def test_worse_better_and_not_to_be_told():
    """The spindle makes it five times worse; half as wide is seen; the same is not called a change."""
    answers = [result(sd).findings[0].effects[0] for sd in (0.010, 0.0005, 0.002)]
    assert [answer.helped for answer in answers] == [False, True, None]
    assert "made it worse" in answers[0].sentence
    assert "helped" in answers[1].sentence


def test_one_condition_or_too_few_homings_are_not_compared():
    assert result(0.002, n=1).findings[0].effects != ()  # four homings of each
    rng = np.random.default_rng(1)
    lines = ["deviation_mm,condition"] + [f"{rng.normal():.4f},off" for _ in range(9)] + ["0.1,on"] * (FEWEST - 1)
    found = find(read_readings("\n".join([*lines, ""])).groups[0])
    assert found.effects == ()
    assert [one.n for one in found.conditions] == [9, FEWEST - 1]


def test_three_homings_are_compared():
    rng = np.random.default_rng(1)
    lines = (
        ["deviation_mm,condition"] + [f"{rng.normal():.4f},off" for _ in range(9)] + ["0.1,on", "0.3,on", "0,on"]
    )
    (effect,) = find(read_readings("\n".join([*lines, ""])).groups[0]).effects
    assert (effect.before, effect.after) == ("off", "on")


def test_blank_is_no_condition():
    lines = ["deviation_mm,condition", "0.1,off", "0.2,", "0.3,off", "0.25,"]
    assert find(read_readings("\n".join([*lines, ""])).groups[0]).conditions == ()


def test_inch_sentences():
    rng = np.random.default_rng(7)
    lines = ["set,deviation_mm,condition"]
    lines += [f"{number},{rng.normal(0, 0.01):.6f},{word}" for number in range(4) for word in ("off", "on") * 3]
    found = find(read_readings("\n".join([*lines, ""])).groups[0], system="inch")
    assert "thou" in found.effects[0].sentence
