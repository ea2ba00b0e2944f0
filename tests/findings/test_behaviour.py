"""What time, speed, warmth and direction do, gathered for one candidate.

The parts are tested where they are made: tests/steady, tests/shape, tests/signature.
"""

from typing import Any

import numpy as np
import pytest
from scipy.stats import theilslopes

from holdzero.compute.findings import Study, explain, study, study_as_json
from holdzero.compute.shape import runs
from holdzero.compute.steady import slope_within
from holdzero.inputs.reading import read_readings
from trials import found_in, rows, study_of


def noted(values: Any, **columns: list[Any]) -> Study:
    """Readings with further columns beside them."""
    head = ",".join(["deviation_mm", *columns])
    lines = [
        ",".join([f"{value:.7f}", *map(str, cells)])
        for value, *cells in zip(values, *columns.values(), strict=True)
    ]
    return study(read_readings("\n".join([head, *lines, ""])))


class TestIso230:
    """ISO 230-2 by hand: forward 2.1 1.8 2.4 2.0 1.7, reverse 0.3 0.6 0.1 0.4 0.6 um."""

    FORWARD, REVERSE = [2.1, 1.8, 2.4, 2.0, 1.7], [0.3, 0.6, 0.1, 0.4, 0.6]

    def test_both_directions(self):
        """4 s = 1.0954, 0.8485; means 2.0 and 0.4; 2 s + 2 s + 1.6 = 2.5720."""
        values = np.array(self.FORWARD + self.REVERSE) / 1000
        (found,) = study_as_json(noted(values, direction=["in"] * 5 + ["out"] * 5))["sensors"]
        assert found["iso_230_2"]["directions"] == ["in", "out"]
        wanted = {
            "unidirectional_mm": 1.0954e-3,
            "unidirectional_reverse_mm": 0.8485e-3,
            "reversal_value_mm": 1.6e-3,
            "bidirectional_mm": 2.5720e-3,
        }
        assert {key: found["iso_230_2"][key] for key in wanted} == pytest.approx(wanted, rel=1e-4)

    def test_one_direction_has_no_reversal_value(self):
        iso = found_in([self.FORWARD]).behaviour.iso230
        assert iso.forward == pytest.approx(4 * np.std(self.FORWARD, ddof=1))
        assert iso.reversal is None


def test_speed_and_temperature_give_delay_jitter_and_slope():
    """Planted: 3 ms of delay, 2 um per degC; the intervals hold them."""
    rng = np.random.default_rng(8)
    speed, warmth = np.tile([1.0, 2.0, 4.0, 8.0], 12), rng.normal(20, 2, 48).round(1)
    values = 0.003 * speed + 0.002 * warmth + rng.normal(0, 0.001, 48)
    result = noted(values, speed_mm_s=speed.tolist(), temperature_degc=warmth.tolist())
    (found,) = study_as_json(result)["sensors"]
    assert found["latency_s"]["low"] < 0.003 < found["latency_s"]["high"]
    assert found["latency_jitter_s"]["low"] == 0
    assert found["temperature_mm_per_degc"]["low"] < 0.002 < found["temperature_mm_per_degc"]["high"]
    codes = [signature["code"] for signature in found["signatures"]]
    assert {"delay", "follows-temperature"} <= set(codes)
    names = [one.name for one in explain(result.findings[0])]
    assert {"Delay", "Jitter of the delay", "With temperature"} <= set(names)


def test_drift_proof_spread_and_its_ratio():
    """By hand: readings 1 to 8 differ by 1, so s_d = 1/sqrt 2; s = sqrt 6; ratio sqrt 12."""
    (found,) = study_as_json(study_of(*rows([range(1, 9)])))["sensors"]
    assert found["successive_sd_mm"] == pytest.approx(0.5**0.5)
    assert found["within_to_successive"] == pytest.approx(12**0.5)
    assert found["wander_mm_per_homing"]["slope"] == pytest.approx(1)
    assert found["mann_kendall"]["s"] == 28


@pytest.mark.parametrize(("step", "told"), [(0.0049, True), (0.0051, False), (None, True)])
def test_a_median_of_slopes_where_ties_leave_it_alone(step, told):
    """Standard deviation 0.01 mm: half of it is the coarsest step. Slope by SciPy's Theil-Sen."""
    rng = np.random.default_rng(4)
    values = rng.normal(0, 1, 30)
    values = 0.01 * (values - values.mean()) / values.std(ddof=1)
    found = found_in([[f"{value:.7f}" for value in values]], resolution_mm=step)
    slope = found.behaviour.median_slope
    assert (slope is not None) is told
    if told:
        assert slope.slope == pytest.approx(theilslopes(values)[0], rel=1e-3)


def test_figures_agree_with_their_own_functions():
    rng = np.random.default_rng(4)
    sets = [rng.normal(0, 1, 6).round(4) for _ in range(5)]
    found = found_in(sets)
    label = np.repeat(np.arange(5), 6)
    away = np.concatenate([one - one.mean() for one in sets])
    assert found.behaviour.runs == runs(away)
    by_place = slope_within(np.tile(np.arange(6.0), 5), np.concatenate(sets), label)
    assert found.behaviour.per_homing.slope == pytest.approx(by_place.slope)
    assert found.behaviour.rises is None  # several sets start anew
    assert found.behaviour.scatter.sorted_away.size == 30


@pytest.mark.parametrize("protocol", ["previous-reset"])
def test_a_walk_has_no_behaviour(protocol: str):
    lines = rows([["0.001", "-0.002", "0.001", "0.003", "-0.001"]])
    result = study(
        read_readings("\n".join(["sensor,axis,side,set,homing,deviation_mm", *lines, ""]), protocol=protocol)
    )
    assert result.findings[0].behaviour is None
    assert "iso_230_2" not in study_as_json(result)["sensors"][0]


def test_every_figure_is_explained_with_its_source():
    """Each has a sentence; each but the count set aside a method and a source."""
    rng = np.random.default_rng(5)
    found = found_in([rng.normal(0, 0.003, 5).round(3) for _ in range(8)])
    for one in explain(found):
        assert len(one.sentence) > 20, one.name
        assert one.method, one.name
        assert one.source, one.name
