"""Cautions that the trial itself calls for."""

import numpy as np
import pytest

from holdzero.compute.findings import study, study_as_json
from holdzero.inputs.reading import read_readings
from trials import found_in


def codes(text: str, **options: float) -> list[str]:
    (found,) = study(read_readings(text, **options)).findings
    return [caution.code for caution in found.cautions]


def test_visible_steps_without_a_resolution():
    """Steps wider than half the scatter matter; nothing is assumed silently."""
    shown = np.round(np.random.default_rng(20260101).normal(0, 0.01, 30), 2)
    assert "grid-visible" in codes("deviation_mm\n" + "\n".join(f"{v:.2f}" for v in shown))
    assert "grid-visible" not in codes("deviation_mm\n" + "\n".join(f"{v:.2f}" for v in shown), resolution_mm=0.01)


def test_fine_steps_do_not_matter():
    shown = np.random.default_rng(20260101).normal(0, 0.01, 30)
    assert "grid-visible" not in codes("deviation_mm\n" + "\n".join(f"{v:.4f}" for v in shown))


@pytest.mark.parametrize(
    ("head", "cells", "code"),
    [
        ("condition", ("spindle off", "spindle on"), "conditions-mixed"),
        ("direction", ("up", "down"), "directions-mixed"),
        ("speed_mm_s", ("2", "8"), "speeds-mixed"),
    ],
)
def test_mixed_trials_are_named(head: str, cells: tuple[str, str], code: str):
    lines = [f"0.00{i},{cells[i % 2]}" for i in range(9)]
    assert code in codes("\n".join([f"deviation_mm,{head}", *lines, ""]))
    alike = [f"0.00{i},{cells[0]}" for i in range(9)]
    assert code not in codes("\n".join([f"deviation_mm,{head}", *alike, ""]))


def test_few_homings_are_said_to_be_few():
    assert "few-readings" in [c.code for c in found_in([["0.001", "0.002", "0.004"]]).cautions]
    assert "few-readings" not in [c.code for c in found_in([[f"0.00{i}" for i in range(9)]]).cautions]


def test_no_caution_is_said_twice():
    found = found_in([["0.01", "0.02", "0.01"]], resolution_mm=0.01)
    said = [c.code for c in found.cautions]
    assert len(said) == len(set(said))


def test_the_step_that_shows_is_offered_and_not_taken():
    """A display of 0.0005 in, drawn in this test: its step is named, the figures stay as without it."""
    shown = np.round(np.random.default_rng(20261128).normal(0, 0.0006, 24) / 0.0005) * 0.0005
    text = "deviation_in\n" + "\n".join(f"{v:.4f}" for v in shown)
    (findings,) = study_as_json(study(read_readings(text), system="inch"))["sensors"]
    assert findings["grid_mm"] == pytest.approx(0.0127, rel=1e-6)
    assert findings["resolution_mm"] is None
    (offer,) = [c["text"] for c in findings["cautions"] if c["code"] == "grid-visible"]
    assert '--resolution "0.5 thou"' in offer
    (told,) = study_as_json(study(read_readings(text, resolution_mm=0.0127)))["sensors"]
    assert told["grid_mm"] is None
    assert told["spread_mm"] != findings["spread_mm"]
