"""From the homings of both sides to what is common and what is each side's own."""

from math import hypot, sqrt

import numpy as np
import pytest

from holdzero.compute.findings import study
from holdzero.compute.findings.trial import trial_of
from holdzero.inputs.reading import read_readings

COMMON, OWN = 0.010, 0.004


def readings(sides, *, resolution="", sets=40, homings=5, seed=20260501):
    """Homings whose two sides share a part, another one at every power-up and homing alike."""
    rng = np.random.default_rng(seed)
    lines = ["sensor,axis,side,set,homing,deviation_mm,speed_mm_s" + (",resolution_mm" if resolution else "")]
    for k in range(sets):
        for n in range(homings):
            shared = rng.normal(0, COMMON)
            for side in sides:
                place = shared + rng.normal(0, OWN)
                if resolution:
                    place = round(place / float(resolution)) * float(resolution)
                lines.append(f"A,Y,{side},{k},{n + 1},{place:.6f},2" + (f",{resolution}" if resolution else ""))
    return study(read_readings("\n".join(lines)))


def test_difference_gives_each_sides_own_part():
    found = trial_of(readings("LR"), sensor="A", axis="Y")
    assert found.own_mm == pytest.approx(OWN, rel=4 / sqrt(2 * 199))
    assert found.common_mm == pytest.approx(COMMON, rel=4 / sqrt(2 * 199) * 1.3)
    assert (found.homings, found.power_ups, found.speed_mm_s) == (200, 40, 2.0)
    assert not found.upper_limit


def test_degrees_of_freedom_are_about_those_of_the_homings():
    """No scatter between power-ups: between those of the power-ups (39) and of the homings (199)."""
    assert 39 < trial_of(readings("LR"), sensor="A", axis="Y").own_dof < 199


def test_one_side_counts_as_its_own():
    found = trial_of(readings("L"), sensor="A", axis="Y")
    assert found.common_mm is None
    assert found.own_mm == pytest.approx(hypot(COMMON, OWN), rel=4 / sqrt(2 * 199))


def test_coarse_display_gives_its_upper_limit():
    found = trial_of(readings("LR", resolution="0.2", sets=8), sensor="A", axis="Y")
    assert found.upper_limit
    assert found.own_mm > OWN


@pytest.mark.parametrize(("sensor", "axis"), [("B", "Y"), ("A", "X")])
def test_no_such_readings(sensor, axis):
    assert trial_of(readings("LR", sets=3), sensor=sensor, axis=axis) is None
