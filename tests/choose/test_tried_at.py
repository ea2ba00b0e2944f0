"""Tried at: what a trial has not seen of the temperatures an axis has to hold at."""

import numpy as np
import pytest

import holdzero as hz
from holdzero.quantity import plain


def cautions(asked: str | None, *, per_k_mm: float = 0.0, position: str = "0.5 mm", units: str = "metric"):
    """Eight power-ups at 12 to 26 degC of five homings each, 2 um apart; what is said of temperatures."""
    rng = np.random.default_rng(2)
    rows = ["sensor,axis,set,homing,deviation_mm,temperature_degc,resolution_mm"]
    for k in range(8):
        means = 2 * k * per_k_mm + rng.normal(0, 0.0005)
        rows += [f"S,X,{k + 1},{i + 1},{means + rng.normal(0, 0.002):.4f},{12 + 2 * k},0.0001" for i in range(5)]
    axis = {"travel": "600 mm"} | ({"temperature": asked} if asked else {})
    machine = {"machine": {"name": "M"}, "requirement": {"position": position}, "axes": {"X": axis}}
    answer = hz.choose(
        "\n".join(rows), machine=machine, sensors={"S": {"kind": "inductive"}}, units=units
    ).to_dict()
    (candidate,) = answer["candidates"]
    return [plain(c["text"]) for c in candidate["cautions"] if c["code"] == "temperature-not-seen"]


@pytest.mark.parametrize("asked", [None, "12 to 26 degC", "15 to 20 degC", "10 to 28 degC"])
def test_nothing_is_said_where_all_was_seen_or_nothing_is_asked(asked):
    """Within 2 K of what was seen."""
    assert cautions(asked) == []


@pytest.mark.parametrize("asked", ["9.9 to 20 degC", "15 to 28.1 degC", "-10 to 45 degC"])
def test_what_was_not_seen_is_said(asked):
    (said,) = cautions(asked)
    assert said.startswith("Tried at 12 to 26 degC, and asked to hold at ")
    assert said.endswith("what the rest does was not seen.")


@pytest.mark.parametrize(("asked", "moves"), [("0 to 30 degC", 24), ("10 to 40 degC", 28)])
def test_with_a_slope_how_far_home_would_move_is_told(asked, moves):
    """2 um/K over the 12 K below, or the 14 K above."""
    (said,) = cautions(asked, per_k_mm=0.002)
    assert "It follows the temperature by 2.0 um/K" in said
    assert f"home would move by {moves} um" in said


def test_in_inches_at_degrees_fahrenheit():
    (said,) = cautions("-10 to 45 degC", units="inch")
    assert said.startswith("Tried at 53.6 to 78.8 degF, and asked to hold at 14 to 113 degF")


def test_of_what_does_not_hold_at_any_temperature_nothing_is_said():
    assert cautions("-10 to 45 degC", per_k_mm=0.002, position="0.001 mm") == []
