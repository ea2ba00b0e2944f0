"""Which figures are explained, by what words, and when: rows that come with what a trial holds."""

from dataclasses import replace

import numpy as np
import pytest

from holdzero.compute.findings import Study, explain, study
from holdzero.compute.findings.growth import ExpectedGrowth, growth_seen
from holdzero.compute.findings.series import without_dust
from holdzero.compute.steady import Slope
from holdzero.inputs.reading import read_readings
from trials import csv_of, found_in, rows

ALWAYS = ("Gross misses", "their share, at most", "Span read", "Plain standard deviation", "Mean")


@pytest.fixture(scope="module")
def found():
    rng = np.random.default_rng(5)
    return found_in([rng.normal(0, 0.003, 5).round(3) for _ in range(8)])


def told(findings):
    return {one.name: one for one in explain(findings)}


def noted(values, **columns):
    """Readings with further columns beside them."""
    lines = [
        ",".join([f"{value:.7f}", *map(str, cells)])
        for value, *cells in zip(values, *columns.values(), strict=True)
    ]
    return study(read_readings("\n".join([",".join(["deviation_mm", *columns]), *lines, ""]))).findings[0]


class TestRows:
    """Those that matter most first; none that says nothing."""

    def test_of_several_power_ups(self, found):
        assert [one.name for one in explain(found)] == [
            *("Spread, day to day", "within a set", "between sets", *ALWAYS, "Repeatability, ISO 230-2"),
            *("Steady", "Drift-proof spread", "Wander", "Bell curve", "Homings that stand apart"),
            *("Runs about the middle", "First set", "First homings", "Correlation with the last", "Display step"),
        ]
        kinds = [one.kind for one in explain(found)]
        assert kinds == ["interval"] * 3 + ["text", "share"] + ["length"] * 4 + ["text", "length"] + ["text"] * 8
        assert "Switching off and on is in it." in told(found)["Spread, day to day"].sentence

    def test_of_one_power_up(self):
        one = told(found_in([[0.001, 0.002, 0.004]]))
        assert list(one)[:2] == ["Spread in one set", "Gross misses"]
        assert "What switching off and on adds is not in it." in one["Spread in one set"].sentence
        assert one["Bell curve"].value == "cannot be seen"
        assert "Here: " in one["Bell curve"].sentence

    def test_a_single_homing_has_no_behaviour(self):
        assert list(told(found_in([[0.001]]))) == ["Spread in one set", *ALWAYS, "Display step"]

    def test_readings_all_alike_have_no_drift_to_speak_of(self):
        one = told(found_in([[0.01] * 5] * 4, resolution_mm=0.01))
        assert not {"Drift-proof spread", "Wander"} & set(one)
        assert (one["Display step"].kind, one["Display step"].value) == ("length", 0.01)

    def test_directions_are_named_where_there_are_two(self):
        words = told(noted(np.arange(12) % 5 / 1000, direction=["in"] * 6 + ["out"] * 6))
        assert words["Repeatability, ISO 230-2, in"].value == pytest.approx(
            4 * np.std([0, 1, 2, 3, 4, 0], ddof=1) / 1e3
        )
        assert {"the same, out", "Reversal value", "Repeatability, both directions"} <= set(words)
        one = told(noted(np.arange(12) % 5 / 1000, direction=["in"] * 12))
        assert "Repeatability, ISO 230-2" in one
        assert "Reversal value" not in one

    def test_what_is_set_aside_stays_visible(self):
        lines = rows([[0.001, 0.002, 0.004, 0.003, 0.5], [0.002, 0.001, 0.003, 0.002, 0.001]])
        text = csv_of(*lines).replace("deviation_mm\n", "deviation_mm,set_aside\n").replace("0.5\n", "0.5,slip\n")
        (findings,) = study(read_readings(text)).findings
        words = told(findings)
        assert (words["Set aside"].value, words["Set aside"].method) == ("1", "")
        assert words["spread with them"].value.middle > 10 * findings.spread.middle
        assert "Set aside" not in told(found_in([[0.001, 0.002, 0.004]]))


class TestWords:
    """Each by what it is said of."""

    def test_coarse_is_what_shows_an_upper_limit_only(self, found):
        assert not found.coarse
        assert not found_in([[0.001]]).coarse
        assert found_in([[0.0] * 9] * 3, resolution_mm=0.01).coarse

    def test_misses_are_counted_or_none(self, found):
        assert told(found)["Gross misses"].value == "none in 40"
        more = replace(found, misses=replace(found.misses, count=2))
        assert told(more)["Gross misses"].value == "2 in 40"

    def test_a_minus_is_a_minus(self, found):
        """Not a hyphen, and two digits."""
        assert told(replace(found, lag1=-0.254))["Correlation with the last"].value == "\u22120.25"
        assert "Correlation with the last" not in told(replace(found, lag1=None))

    def test_steady_or_not_yet(self, found):
        drifting = found_in([[f"{0.01 * i:.3f}" for i in range(k, k + 6)] for k in (0, 6, 12)])
        assert (told(found)["Steady"].value, told(drifting)["Steady"].value) == ("no drift seen", "not yet")

    def test_bell_curve_fits_or_does_not(self, found):
        curved = told(found)["Bell curve"]
        assert curved.value == "fits"
        normality = found.behaviour.scatter.normality
        assert f"Statistic {normality.adjusted:.2f}, limit {normality.limit}" in curved.sentence
        rng = np.random.default_rng(2)
        odd = found_in([(0.001 * rng.standard_t(1.2, 10)).round(5) for _ in range(8)])
        assert told(odd)["Bell curve"].value == "does not fit"
        assert (
            told(odd)["Homings that stand apart"].value == str(len(odd.behaviour.scatter.outliers.places)) != "0"
        )
        assert told(found)["Homings that stand apart"].value == "none"

    def test_a_moment_differs_or_not(self, found):
        first = np.random.default_rng(5).normal(0, 0.003, 5) + 0.1
        rng = np.random.default_rng(6)
        moved = found_in([first.round(4), *(rng.normal(0, 0.003, 5).round(4) for _ in range(7))])
        assert (told(found)["First set"].value, told(moved)["First set"].value) == ("no different", "differs")

    def test_temperature_within_sets_beside_the_number_of_the_homing(self):
        """One set in which it rises by the homing, or goes up and down; the range is said."""
        rng = np.random.default_rng(3)
        noise = 0.001 * rng.standard_normal(20)
        rising = told(noted(noise, temperature_degc=[f"{18 + 0.2 * i:.1f}" for i in range(20)]))[
            "With temperature"
        ]
        assert rising.value == "cannot be told apart"
        assert "rose with the number of the homing" in rising.sentence
        turning = [f"{18 + 4 * (i % 2):.1f}" for i in range(20)]
        shown = told(noted(0.002 * (np.arange(20) % 2) + noise, temperature_degc=turning))["With temperature"]
        assert "µm/K" in shown.value
        assert "Noted at 18 to 22\u202f°C; a verdict is about these." in shown.sentence


EXPECTED = ExpectedGrowth(per_degc_mm=1e-3, half_width_mm=2e-4, length_mm=100.0, signed=True, source="book")


class TestGrowth:
    """Intervals that just meet, or just do not: 2.306 errors reach to 95 % with 8 degrees of freedom."""

    @pytest.mark.parametrize(
        ("slope", "signed", "code"),
        [
            (1.2e-3 + 2.30e-5, True, "as-expected"),
            (1.2e-3 + 2.31e-5, True, "more"),
            (0.8e-3 - 2.30e-5, True, "as-expected"),
            (0.8e-3 - 2.31e-5, True, "less"),
            (-0.9e-3, True, "other-way"),
            (-0.9e-3, False, "as-expected"),
            (-1.3e-3, False, "more"),
            (-0.5e-3, False, "less"),
            (2.30e-5, True, "not-shown"),
            (2.32e-5, True, "less"),
        ],
    )
    @pytest.mark.parametrize("grows", [1, -1])
    def test_by_the_hundredth_of_a_micrometre(self, slope, signed, code, grows):
        """A length that grows outward turns all signs."""
        expected = replace(EXPECTED, signed=signed, per_degc_mm=grows * 1e-3, length_mm=grows * 100.0)
        seen = growth_seen(Slope(slope=grows * slope, error=1e-5, df=8), expected, low_degc=18, high_degc=25)
        assert seen.code == code

    @pytest.mark.parametrize(
        ("slope", "error", "signed", "said"),
        [
            (0.0, 1e-3, True, "which these power-ups do not rule out"),
            (0.0, 1e-5, True, "which these power-ups rule out"),
            (-1e-5, 3e-4, True, "which these power-ups rule out"),  # reaches down to -0.7 and up to 0.68 um
            (-1e-5, 3.6e-4, True, "which these power-ups do not rule out"),  # up to 0.82 um, of 0.8 to 1.2
            (-1e-4, 3.1e-4, False, "which these power-ups do not rule out"),  # down to -0.815 um
            (-1e-4, 3.1e-4, True, "which these power-ups rule out"),
        ],
    )
    def test_what_may_be_nothing_is_ruled_out_or_not(self, slope, error, signed, said):
        seen = growth_seen(
            Slope(slope=slope, error=error, df=8), replace(EXPECTED, signed=signed), low_degc=18, high_degc=25
        )
        assert seen.code == "not-shown"
        assert f"{said}. Seen at 18 to 25\u202f°C." in seen.sentence

    @pytest.mark.parametrize(
        ("slope", "code"), [(1.25e-3, "as-expected"), (1.35e-3, "more"), (0.75e-3, "as-expected")]
    )
    def test_a_length_without_a_sign_meets_by_the_nearer_end_of_either_way(self, slope, code):
        """Reach 0.115 um: 1.135 to 1.365, 1.235 to 1.465 and 0.635 to 0.865, of 0.8 to 1.2 um."""
        for way in (1, -1):
            seen = growth_seen(
                Slope(slope=way * slope, error=5e-5, df=8),
                replace(EXPECTED, signed=False),
                low_degc=18,
                high_degc=25,
            )
            assert seen.code == code

    @pytest.mark.parametrize(("signed", "said"), [(True, "+1.8 µm/K,"), (False, "1.8 µm/K,")])
    def test_what_the_material_would_do_has_two_digits(self, signed, said):
        expected = replace(EXPECTED, per_degc_mm=1.8055e-3, length_mm=157.0, signed=signed)
        seen = growth_seen(Slope(slope=1.834e-3, error=1e-5, df=8), expected, low_degc=18, high_degc=25)
        told = seen.sentence.replace("\u202f", " ").replace("\u00a0", " ")
        assert f"157 mm of the material said would do {said} so growth explains it." in told

    @pytest.mark.parametrize(("system", "unit"), [("metric", "µm"), ("inch", "thou")])
    def test_the_sentence_says_both_ways_in_the_units_asked_for(self, system, unit):
        signed, either = (
            growth_seen(
                Slope(slope=1e-3, error=1e-5, df=8),
                replace(EXPECTED, signed=signed),
                low_degc=18,
                high_degc=25,
                system=system,
            ).sentence
            for signed in (True, False)
        )
        assert unit in signed
        assert "of the material said would do +" in signed
        assert "of the material said would do +" not in either


def test_a_difference_of_decimals_has_no_dust_and_no_minus_zero():
    clean = without_dust(np.array([0.1 + 0.2 - 0.3, -0.0, -1e-14, 1.25]))
    assert [f"{value:g}" for value in clean] == ["0", "0", "0", "1.25"]


def test_spans_of_one_sensor_and_axis_are_those_of_its_sides():
    text = "sensor,axis,side,span_mm,n\n" + "".join(
        f"{sensor},{axis},{side},0.0{k},5\n"
        for sensor, axis in ("AX", "BX", "AY")
        for side in "LR"
        for k in (1, 2)
    )
    whole: Study = study(read_readings(text))
    assert [(one.sensor, one.axis, one.side) for one in whole.spans_of("A", "X")] == [
        ("A", "X", "L"),
        ("A", "X", "R"),
    ]
    assert whole.spans_of("B", "Y") == ()
    assert [(one.sensor, one.axis) for one in whole.of_axes(["Y"]).spans] == [("A", "Y")] * 2
