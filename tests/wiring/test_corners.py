"""Corners: what each tolerance may do on its own, and what is left then; each case is a file.

Every figure is worked out a second time here: by hand from Ohm's law, or node by node with a bisection.
"""

from itertools import product
from pathlib import Path

import numpy as np
import pytest

from holdzero.compute.wiring import assess, assess_many, circuits_from, read_wiring
from holdzero.compute.wiring.cases import Bench, corners
from holdzero.compute.wiring.netlist import netlist
from holdzero.compute.wiring.seen import look
from holdzero.errors import InputError

CASES = Path(__file__).parents[1] / "data" / "wiring"
PIN_LEAK_A = 10e-6  # either way, that we take for a pin


def case(name):
    (circuit,) = read_wiring((CASES / f"{name}.toml").read_text(encoding="utf-8"), where=f"{name}.toml")
    return circuit


def root(function, low, high):
    """Where a falling function crosses zero, by bisection."""
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (middle, high) if function(middle) > 0 else (low, middle)
    return (low + high) / 2


class TestSchmitt:
    """A Schmitt input turns high at V_T+ and low at V_T-, wherever V_IH and V_IL may lie."""

    def test_a_level_that_is_never_reached_is_not_read(self):
        """2.5 V by hand, 2 V of V_IH, but at most 3.3 V of V_T+."""
        assessment = assess(case("schmitt_never_reached"))
        assert assessment.tripped.input_v == pytest.approx(2.5, rel=1e-3)
        assert (assessment.verdict, assessment.tripped.reads, assessment.passes) == (
            "does not work",
            "undefined",
            False,
        )
        assert "3.3\u202fV" in assessment.sentence

    def test_without_the_thresholds_v_ih_decides(self):
        entered = {**case("schmitt_never_reached").entered}
        entered["input"] = {k: v for k, v in entered["input"].items() if not k.startswith("threshold")}
        (assessment,) = assess_many(circuits_from(entered))
        assert assessment.tripped.reads == "tripped"

    def test_margins_are_to_the_most_and_the_least(self):
        """10 kohm, nothing to 0 V but the contact: 5 V less 0.1 V of leakage against 2.2 V; 1.0 V against 0 V."""
        pin = {
            "kind": "logic",
            "supply": "5 V +- 0.001 %",
            "pull_up": "10 kohm +- 0.001 %",
            "threshold_rising": "1.9 V +- 0.3 V",
            "threshold_falling": "1.3 V +- 0.3 V",
        }
        (assessment,) = assess_many(
            circuits_from({"sensor": {"output": "dry contact", "contact": "NC"}, "input": pin})
        )
        assert assessment.tripped.margin_v == pytest.approx(5 - 10e3 * PIN_LEAK_A - 2.2, abs=1e-3)
        assert assessment.clear.margin_v == pytest.approx(1.0, abs=2e-3)
        assert not any("V_I" in clause for clause in assessment.assumed)

    def test_a_bare_figure_is_named_as_assumed(self):
        pin = {"kind": "3.3 V logic", "threshold_rising": "1.9 V", "pull_up": "1 kohm"}
        (assessment,) = assess_many(
            circuits_from({"sensor": {"output": "dry contact", "contact": "NC"}, "input": pin})
        )
        assert any(clause.startswith("V_T+ 1.9 V as the most") for clause in assessment.assumed)

    def test_falling_above_rising_is_refused(self):
        pin = {"kind": "3.3 V logic", "threshold_rising": "1.2 V", "threshold_falling": "1.4 V"}
        with pytest.raises(InputError, match="threshold_falling below threshold_rising"):
            circuits_from({"sensor": {"output": "dry contact"}, "input": pin})


class TestCornersOfTheirOwn:
    """Resistors that pull against each other, or against a drop, lie off independently."""

    def test_top_and_bottom_resistor(self):
        """3.3 V x 2.3275/(2.3275 + 1.05) = 2.274 V: 36 mV too little; a pin leakage takes 7 mV more."""
        top, bottom = 1050.0, 2450 * 0.95
        by_hand = 3.3 * bottom / (top + bottom)
        assert by_hand == pytest.approx(2.274, abs=5e-4)
        circuit = case("divided_pull_up")
        net = netlist(circuit)
        seen = look(Bench(net, [circuit], corners(1, net), stated_only=True))
        tripped = seen.input_v[0].reshape(2, -1)[1]
        assert tripped.min() == pytest.approx(by_hand, abs=1e-3)
        assert tripped.min() - 2.31 == pytest.approx(-0.036, abs=1e-3)
        leak_v = PIN_LEAK_A * top * bottom / (top + bottom)
        assessment = assess_many([circuit])[0]
        assert assessment.tripped.margin_v == pytest.approx(by_hand - leak_v - 2.31, abs=1e-3)
        assert (assessment.verdict, assessment.passes) == ("does not work", False)

    def test_a_built_in_pull_up_and_the_drop_of_its_output(self):
        """Every corner of the node equation, each factor by itself: the least high and the most low."""
        assessment = assess_many([case("built_in_pull_up")])[0]
        highs, lows = [], []
        for supply, outer, inner, knee, leak, pin in product(
            (4.95, 5.05), (9500, 10500), (4700 * 0.7, 4700 * 1.3), (0.2, 0.4), (0.0, 0.4e-3), (-10e-6, 10e-6)
        ):
            feed = 1 / outer + 1 / inner
            volt = supply - (leak + pin) / feed
            highs.append(volt - 3.5)
            lows.append(0.8 - root(lambda v, s=supply, f=feed, k=knee, p=pin: (s - v) * f - p - on(v, k), 0, 5))
        assert assessment.tripped.margin_v == pytest.approx(min(highs), abs=3e-3)
        assert assessment.clear.margin_v == pytest.approx(min(lows), abs=3e-3)

    def test_least_volts_and_least_current_are_each_the_least(self):
        """20 V over 83.85 ohm: volts are least where the input takes 1.15 times, current where it takes 0.87."""
        assessment = assess_many([case("least_of_each")])[0]
        row = 2 * 0.138 * 300 + 1.0 + 0.05

        def at(scale):
            volt = root(lambda v: (20 - v) / row - scale * type_3(v), 0, 20)
            return volt, scale * type_3(volt)

        assert assessment.clear.margin_v == pytest.approx(at(1.15)[0] - 11, abs=2e-3)
        assert assessment.clear.margin_a == pytest.approx(at(0.87)[1] - 2e-3, abs=2e-6)


def on(volt, knee):
    """An output that is on: 10 uA up to its knee, 5 ohm after it."""
    return 1e-5 * volt / knee if volt < knee else 1e-5 + (volt - knee) / 5


def type_3(volt):
    return float(np.interp(volt, (0, 5, 11, 30), (0, 1.8e-3, 2.6e-3, 3e-3)))


class TestNothingLeft:
    """A margin of nothing is read, and is not good; an edge that never gets there is not read."""

    def test_at_the_limit(self):
        assessment = assess_many([case("nothing_to_spare")])[0]
        assert (assessment.tripped.reads, assessment.tripped.grade, assessment.tripped.at_limit) == (
            "tripped",
            "marginal",
            True,
        )
        assert assessment.tripped.margin_a == pytest.approx(0, abs=1e-6)
        assert (assessment.verdict, assessment.passes) == ("works, but", True)
        assert "tripped is read right at its limit" in assessment.sentence

    def test_a_little_below_it_is_good(self):
        entered = {**case("nothing_to_spare").entered}
        entered["sensor"] = {**entered["sensor"], "leakage": "0.95 mA"}
        (assessment,) = assess_many(circuits_from(entered))
        assert (assessment.tripped.grade, assessment.verdict) == ("good", "works")

    @pytest.mark.parametrize(("leak", "left_v", "grade"), [("1.565", 3.2e-3, "marginal"), ("1.55", 51e-3, "good")])
    def test_a_thousandth_of_5_v_is_nothing_left_of_an_input_that_is_off(self, leak, left_v, grade):
        """Type 3 less 13 %: 1.566 mA at 5 V, more than the 1.5 mA that are surely off, so the volts decide."""
        sensor = {"output": "2-wire", "contact": "NO", "leakage": f"{leak} mA", "drop": "3 V"}
        (assessment,) = assess_many(circuits_from({"sensor": sensor, "input": {"kind": "IEC 61131-2 type 3"}}))
        assert (assessment.clear.margin_v, assessment.clear.margin_a) == (pytest.approx(left_v, abs=1e-3), None)
        assert assessment.clear.grade == grade

    @pytest.mark.parametrize("v_ih", [{}, {"v_ih": "3.5 V"}])
    @pytest.mark.parametrize(("ohm", "left_v", "grade"), [(25056, 2.0e-3, "marginal"), (25132, 5.0e-3, "good")])
    def test_a_thousandth_of_v_ih_stated_or_not_is_nothing_left(self, v_ih, ohm, left_v, grade):
        """A thousandth of 0.7 x 5 V is 3.5 mV; the pin takes 10 uA and the open contact is 100 Mohm."""
        exact = "+- 0.001 %"
        pin = {"kind": "logic", "supply": f"5 V {exact}", "pull_up": f"10 kohm {exact}", **v_ih}
        pin["pull_down"] = f"{ohm} ohm {exact}"
        (circuit,) = circuits_from({"sensor": {"output": "dry contact", "contact": "NC"}, "input": pin})
        (assessment,) = assess_many([circuit])
        both = 1 / (1 / 10e3 + 1 / ohm + 1e-8)
        assert both * (5 / 10e3 - PIN_LEAK_A) - 3.5 == pytest.approx(left_v, abs=3e-4)
        assert assessment.tripped.margin_v == pytest.approx(both * (5 / 10e3 - PIN_LEAK_A) - 3.5, abs=2e-4)
        assert assessment.tripped.grade == grade

    @pytest.mark.parametrize(
        ("kind", "volt", "grade"),
        [(1, 15.010, "marginal"), (1, 15.020, "good"), *((k, 11.007, "marginal") for k in (2, 3))]
        + [(k, 11.015, "good") for k in (2, 3)],
    )
    def test_a_thousandth_of_15_or_11_v_is_nothing_left_of_an_input_that_is_on(self, kind, volt, grade):
        """1 mV or 2 are lost on 0.25 ohm, with 15 % over the 4, 7 or 2.6 mA that it takes there."""
        contact = {"output": "dry contact", "contact": "NC", "contact_resistance": "0.2 ohm"}
        entered = {"sensor": contact, "input": {"kind": f"IEC 61131-2 type {kind}"}}
        (assessment,) = assess_many(circuits_from(entered | {"supply": {"voltage": f"{volt} V +- 0.0001 %"}}))
        lost = 0.255 * 1.15 * {1: 4e-3, 2: 7e-3, 3: 2.6e-3}[kind]
        assert assessment.clear.margin_v == pytest.approx(volt - lost - (15 if kind == 1 else 11), abs=2e-4)
        assert assessment.clear.grade == grade

    @pytest.mark.parametrize(("ohm", "left_v", "grade"), [(1859.3, 0.4e-3, "marginal"), (1857.1, 1.2e-3, "good")])
    def test_a_thousandth_of_v_il_is_nothing_left(self, ohm, left_v, grade):
        """0.8 V less what a worn contact leaves of 5 V behind 10 kohm, and of 10 uA of the pin."""
        exact = "+- 0.0001 %"
        pin = {"kind": "logic", "supply": f"5 V {exact}", "pull_up": f"10 kohm {exact}", "v_il": "0.8 V"}
        contact = {"output": "dry contact", "contact": "NC", "contact_resistance": f"{ohm} ohm"}
        (assessment,) = assess_many(circuits_from({"sensor": contact, "input": pin}))
        assert 0.8 - (5 + 10e3 * PIN_LEAK_A) * ohm / (ohm + 10e3) == pytest.approx(left_v, abs=5e-5)
        assert assessment.clear.margin_v == pytest.approx(left_v, abs=1e-4)
        assert assessment.clear.grade == grade

    @pytest.mark.parametrize(("ohm", "left_a", "grade"), [(7614, 1.5e-6, "marginal"), (7602, 6.2e-6, "good")])
    def test_a_thousandth_of_3_ma_is_nothing_left_of_a_coupler(self, ohm, left_a, grade):
        """22.9 V over the resistor and 15.25 ohm."""
        exact = "+- 0.0001 %"
        one = {"kind": "opto", "common": "minus", "series_resistor": f"{ohm} ohm {exact}", "led_voltage": "1.1 V"}
        contact = {"output": "dry contact", "contact": "NC", "contact_resistance": "0.2 ohm"}
        entered = {"sensor": contact, "input": one, "supply": {"voltage": f"24 V {exact}"}}
        (assessment,) = assess_many(circuits_from(entered))
        assert 22.9 / (ohm + 15.25) - 3e-3 == pytest.approx(left_a, abs=2e-7)
        assert assessment.clear.margin_a == pytest.approx(left_a, abs=3e-7)
        assert assessment.clear.grade == grade

    def test_never_takes_the_verdict_down(self):
        circuit = case("never_there")
        assert assess_many([circuit])[0].verdict == "works, but"  # the level alone: at its limit
        assessment = assess(circuit)
        assert assessment.delay.trip_s is None
        assert (assessment.verdict, assessment.passes) == ("does not work", False)
        assert "never gets to tripped" in assessment.sentence


class TestOnlyJust:
    """What reads right on the bench and not in the shop."""

    def test_a_long_thin_cable_on_a_weak_pull_up(self):
        """3.3 V less 0.7 of it over 45 kohm: 22 uA."""
        assessment = assess_many([case("long_weak_pull_up")])[0]
        assert assessment.verdict == "works, but"
        words = " ".join((assessment.sentence, *assessment.advice))
        assert "25\u202fm of cable hang on a pull-up of 45\u202fkΩ: 22\u202fµA of interference" in words

    @pytest.mark.parametrize(
        ("ohm", "length", "enough"),
        [
            ("1 kohm", "25 m", False),
            ("10 kohm", "1 m", False),
            ("10 kohm", "25 m", True),
            ("3.3 kohm", "25 m", False),
        ],
    )
    def test_a_strong_pull_up_or_a_short_cable_is_none(self, ohm, length, enough):
        entered = {**case("long_weak_pull_up").entered, "cable": {"length": length}}
        entered["input"] = {**entered["input"], "pull_up": ohm}
        (assessment,) = assess_many(circuits_from(entered))
        assert ("of interference" in " ".join((assessment.sentence, *assessment.advice))) is enough

    def test_silver_below_its_current_at_the_end_of_what_is_stated(self):
        """21.6 V, LED 1.1 V, 2.222 kohm, 15 ohm, 1 ohm: 9.2 mA where silver needs 10."""
        assessment = assess_many([case("silver_at_low_current")])[0]
        assert assessment.wetting.amp == pytest.approx((21.6 - 1.1) / (2222 + 15 + 1.05), rel=3e-3)
        assert assessment.verdict == "works, but"
        assert "does not wet a silver contact" in assessment.sentence

    def test_where_nothing_is_stated_a_warm_cable_alone_is_a_doubt(self):
        """276 ohm at 20 degC are 319 at 60: 3.005 mA become 2.988, where 3 are on; yet no tolerance was stated."""
        entered = {
            "sensor": {"output": "dry contact", "contact": "NC"},
            "input": {"kind": "opto", "common": "minus", "series_resistor": "7.33 kohm"},
            "cable": {"length": "1 km", "section": "0.14 mm2"},
        }
        assert 22.9 / (7330 + 15.25 + 2 * 138 * (1 + 0.00393 * 40)) < 0.999 * 3e-3 < 22.9 / (7345.25 + 276)
        (assessment,) = assess_many(circuits_from(entered))
        assert (assessment.clear.reads, assessment.verdict) == ("clear", "works, but")

    def test_at_a_tolerance_that_is_ours_the_nominal_current_counts(self):
        entered = {**case("silver_at_low_current").entered, "supply": {"voltage": "24 V"}}
        entered["input"] = {**entered["input"], "series_resistor": "2.2 kohm"}
        (assessment,) = assess_many(circuits_from(entered))
        assert (assessment.wetting.wets, assessment.verdict) == (True, "works")


class TestRatedForTheNominalSupply:
    """A range that ends at 5 V, 12 V or 24 V, with no word about more, on that very supply."""

    def rated(self, voltage="24 V +- 5 %", **sensor):
        entered = {**case("rated_for_the_nominal_supply").entered, "supply": {"voltage": voltage}}
        entered["sensor"] = {**entered["sensor"], **sensor}
        return assess_many(circuits_from(entered))[0]

    def test_within_5_percent_it_is_to_be_asked(self):
        """24 V x 1.05 = 25.2 V; 2 % below 24 V are 23.5 V."""
        assessment = self.rated()
        assert (assessment.verdict, assessment.passes) == ("works, but", True)
        words = "the sheet of B1 does not say that it bears 25.2 V: ask, or set the supply to 23.5 V"
        assert assessment.sentence.replace("\u202f", " ") == f"Works, but {words}."

    def test_each_of_two_sensors_is_to_be_asked(self):
        entered = {**case("rated_for_the_nominal_supply").entered, "supply": {"voltage": "24 V +- 5 %"}}
        sensor = {key: value for key, value in entered["sensor"].items() if key != "name"}
        entered |= {"sensor": [{**sensor, "name": "a"}, {**sensor, "name": "b"}], "chain": {"join": "series"}}
        (assessment,) = assess_many(circuits_from(entered))
        words = " ".join((assessment.sentence, *assessment.advice))
        assert assessment.verdict == "works, but"
        assert [f"he sheet of {name} does not say" in words for name in "ab"] == [True, True]

    @pytest.mark.parametrize("voltage", ["24 V +- 5.1 %", "24 V +- 10 %", "24.1 V +- 5 %", "26 V +- 1 %"])
    def test_beyond_that_it_is_damage(self, voltage):
        assessment = self.rated(voltage)
        assert (assessment.verdict, assessment.passes) == ("damage", False)

    def test_a_stated_maximum_is_the_limit(self):
        assert self.rated(supply_maximum="24 V").verdict == "damage"
        assert self.rated(supply_maximum="25.2 V").verdict == "works"
        assert self.rated("24 V +- 20 %", supply_maximum="30 V").verdict == "works"

    def test_an_end_that_is_no_nominal_supply_is_a_limit(self):
        assert self.rated("25 V +- 5 %", supply="5 V to 25 V").verdict == "damage"

    def test_a_tolerance_that_is_ours_is_to_be_asked_too(self):
        assessment = self.rated("24 V")
        assert assessment.verdict == "works, but"
        assert "26.4\u202fV" in assessment.sentence

    @pytest.mark.parametrize(("volt", "lower"), [(5, "4.9"), (12, "11.8")])
    def test_other_nominal_supplies(self, volt, lower):
        entered = {
            "supply": {"voltage": f"{volt} V +- 5 %"},
            "sensor": {"output": "PNP", "contact": "NC", "supply": f"3 V to {volt} V", "protection_diodes": False},
            "input": {"kind": "opto", "common": "minus", "series_resistor": "330 ohm" if volt == 5 else "1 kohm"},
        }
        assessment = assess_many(circuits_from(entered))[0]
        words = " ".join((assessment.sentence, *assessment.advice))
        assert f"set the supply to {lower}\u202fV" in words
        assert assessment.verdict != "damage"

    def test_below_the_nominal_nothing_is_asked(self):
        assert self.rated("22.8 V +- 1 %").verdict == "works"
