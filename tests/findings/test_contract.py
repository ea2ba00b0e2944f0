"""The JSON of `study`: the shape promised to scripts. Keys are added, never renamed."""

import json

import pytest

from holdzero import __version__, demo
from holdzero.compute.findings import study, study_as_json
from holdzero.inputs.reading import read_readings
from trials import found_in, rows, study_of

KEYS = {
    "sensor",
    "axis",
    "side",
    "n",
    "sets",
    "protocol",
    "resolution_mm",
    "mean_mm",
    "span_mm",
    "sd_mm",
    "within_sd_mm",
    "lag1",
    "spread_mm",
    "spread_low_mm",
    "spread_high_mm",
    "within_mm",
    "between_mm",
    "signatures",
    "cautions",
}


@pytest.fixture(scope="module")
def answer():
    return study_as_json(study(read_readings(demo.readings_csv())))


def test_has_every_key_of_the_contract(answer):
    assert answer["version"] == __version__
    assert len(answer["sensors"]) == 18
    for sensor in answer["sensors"]:
        assert set(sensor) >= KEYS
        assert sensor["side"] in ("L", "R", "difference")


def test_is_strict_json(answer):
    assert json.loads(json.dumps(answer, allow_nan=False)) == answer


def test_spread_lies_in_its_interval(answer):
    for sensor in answer["sensors"]:
        if sensor["spread_mm"] is not None:
            assert sensor["spread_low_mm"] <= sensor["spread_mm"] <= sensor["spread_high_mm"]


def test_all_alike_has_a_limit_and_no_spread():
    """0.01 mm steps, 8 power-ups all alike; bound 0.495 r (docs/methods.md 2, n = 8)."""
    taken = read_readings("set,deviation_mm\n" + "".join(f"{i},0.00\n" * 5 for i in range(8)), resolution_mm=0.01)
    (left,) = study_as_json(study(taken))["sensors"]
    assert left["spread_mm"] is None
    assert left["spread_low_mm"] == 0
    assert left["spread_high_mm"] == pytest.approx(0.00495, abs=5e-6)


@pytest.mark.parametrize(
    "readings",
    [["0.01"], ["0.01", "0.01"], ["0.01", "0.02"], ["0.01"] * 12],
    ids=["one", "two alike", "two", "alike without resolution"],
)
def test_few_readings_give_null_and_never_nan(readings: list[str]):
    answer = study_as_json(study_of(*rows([readings])))
    json.dumps(answer, allow_nan=False)
    (sensor,) = answer["sensors"]
    assert set(sensor) >= KEYS
    if len(set(readings)) == 1:
        assert sensor["spread_mm"] is None
        assert sensor["spread_high_mm"] is None


def test_one_set_has_the_within_figure_and_says_so():
    found = found_in([["0.001", "0.004", "0.002", "0.003", "0.000"]])
    (sensor,) = study_as_json(study_of(*rows([["0.001", "0.004", "0.002", "0.003", "0.000"]])))["sensors"]
    assert sensor["spread_mm"] == sensor["within_mm"] == pytest.approx(found.within.middle)
    assert sensor["between_mm"] is None
    assert "one-power-up" in [c["code"] for c in sensor["cautions"]]


def test_a_pattern_keeps_what_else_it_shows_as():
    """Homings that take turns also land in two places: the evidence of that stays in the answer."""
    found = study_of(*rows([[f"{0.01 * (j % 2):.3f}" for j in range(12)]] * 3), resolution_mm=0.001)
    (turns,) = study_as_json(found)["sensors"][0]["signatures"]
    assert turns["code"] == "alternation"
    assert {"code", "sentence", "statistic", "threshold"} <= set(turns["explains"][0])
    assert turns["explains"][0]["code"] == "two-places"
