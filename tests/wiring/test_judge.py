"""Verdicts, damage, wetting and cautions: what a circuit is told, and why."""

from dataclasses import replace
from itertools import product

import pytest

from holdzero.compute.wiring import Remedy, State, assess, assess_many, circuits_from
from holdzero.compute.wiring.sentences import marginal, starved
from holdzero.compute.wiring.words import SAFETY
from holdzero.quantity import plain

IEC = {"kind": "IEC 61131-2 type 3"}
DRY = {"output": "dry contact", "contact": "NC"}
SHORT = ("good", "marginal")  # what is not at its limit


def judged(**circuit):
    return assess_many(circuits_from(circuit))[0]


class TestVerdicts:
    """The five words, and what brings each about."""

    def test_works(self):
        """Recommended: a NC contact from +24 V into a 24 V input, 0 V at the frame."""
        found = judged(sensor=DRY, input=IEC)
        assert (found.verdict, found.passes) == ("works", True)
        assert found.sentence == "Works, and a broken wire stops the machine."
        assert found.setting == "Set the controller so that on means clear and off means tripped."

    def test_works_but_a_broken_wire_hides(self):
        found = judged(sensor={**DRY, "contact": "NO"}, input=IEC)
        assert (found.verdict, found.passes) == ("works, but", False)
        assert "a broken wire" in found.sentence

    def test_works_but_only_at_nominal_where_the_tolerance_is_ours(self):
        """24 V less 10 %, less 8 V: 13.6 V where type 1 needs 15 V; we assumed the 10 %, so it is a doubt."""
        two = {"output": "2-wire", "contact": "NC", "drop": "8 V", "leakage": "0.4 mA", "least_current": "2 mA"}
        found = judged(supply={"voltage": "24 V"}, sensor=two, input={"kind": "IEC 61131-2 type 1"})
        assert found.verdict == "works, but"
        assert found.clear.grade == "marginal"
        assert "21.6\u202fV of supply" in found.sentence

    def test_does_not_work_at_the_ends_of_what_is_stated(self):
        two = {"output": "2-wire", "contact": "NC", "drop": "8 V"}
        found = judged(supply={"voltage": "24 V +- 10 %"}, sensor=two, input={"kind": "IEC 61131-2 type 1"})
        assert found.verdict == "does not work"
        assert "stated tolerances" in found.sentence
        assert not found.passes
        assert not found.misreads

    def test_cannot_say_where_the_sheet_is_silent(self):
        """An unknown low-current drop makes a logic input `cannot say: measure it`, not wrong."""
        found = judged(
            sensor={"output": "NPN", "contact": "NC"},
            input={"kind": "logic", "supply": "3.3 V", "pull_up": "1 kohm"},
        )
        assert found.verdict == "cannot say"
        assert (found.clear.reads, found.tripped.reads) == ("clear", "tripped")
        assert "Measure it" in found.sentence

    def test_cannot_say_what_is_not_known(self):
        found = judged(sensor={"output": "unknown"}, input=IEC)
        assert (found.verdict, found.clear, found.passes) == ("cannot say", None, False)
        assert found.as_json()["states"]["clear"] == {"input_v": None, "input_ma": None, "reads": "undefined"}

    def test_a_push_pull_output_reads_with_either_common(self):
        for common, on in (("minus", True), ("plus", False)):
            found = judged(
                sensor={"output": "push-pull", "contact": "NC"}, input={"kind": "opto", "common": common}
            )
            assert not found.misreads
            assert found.clear_is_on is on


class TestDamage:
    """Refused loudly, with the figure and its limit."""

    @pytest.mark.parametrize(
        ("circuit", "what"),
        [
            (
                {"sensor": {"output": "PNP"}, "input": {"kind": "logic", "supply": "3.3 V", "clamp": False}},
                "pin over supply",
            ),
            (
                {"sensor": {"output": "PNP"}, "input": {"kind": "logic", "supply": "3.3 V", "clamp": True}},
                "clamp current",
            ),
            (
                {"sensor": DRY, "input": {"kind": "opto", "common": "minus", "series_resistor": "1 kohm"}},
                "LED current",
            ),
            (
                {"supply": {"voltage": "-24 V"}, "sensor": DRY, "input": {"kind": "opto", "common": "minus"}},
                "LED reversed",
            ),
            ({"supply": {"voltage": "32 V"}, "sensor": DRY, "input": IEC}, "input voltage"),
            ({"supply": {"voltage": "-24 V"}, "sensor": {"output": "PNP"}, "input": IEC}, "B1 reversed"),
            (
                {
                    "supply": {"voltage": "24 V"},
                    "sensor": {"output": "PNP", "supply": "5 V to 18 V"},
                    "input": IEC,
                },
                "B1 supply",
            ),
            (
                {
                    "sensor": {"output": "PNP", "output_current": "20 mA"},
                    "input": {"kind": "opto", "i_max": "60 mA", "series_resistor": "680 ohm"},
                },
                "B1 high current",
            ),
        ],
    )
    def test_refused(self, circuit, what):
        found = judged(**circuit)
        assert (found.verdict, found.passes) == ("damage", False)
        assert what in [d.harm for d in found.damage]
        hurt = next(d for d in found.damage if d.harm == what)
        assert hurt.figure > hurt.limit
        assert found.sentence.startswith("Damage: ")
        assert "Do not switch this on" in found.sentence

    @pytest.mark.parametrize(
        ("sensor", "more", "figure_a", "limit_a", "words"),
        [
            (
                {"output": "2-wire"},
                {"kind": "opto", "series_resistor": "1 ohm", "i_max": "1 A"},
                0.1,
                0.1,
                "mA through the output of B1, which is its limit;",
            ),
            (
                {"output": "PNP"},
                {"kind": "IEC 61131-2 type 3", "bleed": "1 ohm"},
                0.2,
                0.2,
                "200\u202fmA through the output of B1, which is its limit;",
            ),
            # 26.4 V over 0.95 ohm, contact 0.2 ohm, supply 0.05 ohm and 4 mohm of wires
            (
                {"output": "dry contact"},
                {"kind": "IEC 61131-2 type 3", "bleed": "1 ohm"},
                26.4 / (0.95 + 0.2 + 0.05 + 0.004),
                1.0,
                "A through the contact of B1, which may carry 1\u202fA;",
            ),
        ],
    )
    def test_straight_across_the_supply(self, sensor, more, figure_a, limit_a, words):
        """No load in series, so that only the output itself stands in the way."""
        found = judged(supply={"voltage": "24 V"}, sensor={**sensor, "contact": "NO"}, input=more)
        assert found.verdict == "damage"
        assert found.sentence.startswith("Damage: nothing limits the current: ")
        assert found.damage[0].figure == pytest.approx(figure_a, rel=0.03)
        assert found.damage[0].limit == pytest.approx(limit_a)
        assert words in found.damage[0].text

    @pytest.mark.parametrize(("diode", "reversed_v"), [(False, 26.4), (True, None)])
    def test_a_led_the_wrong_way_round(self, diode, reversed_v):
        """26.4 V the wrong way, of which a diode beside the LED leaves 0.7 V."""
        one = {"kind": "opto", "common": "minus", "series_resistor": "2.2 kohm", "reverse_diode": diode}
        found = judged(supply={"voltage": "-24 V"}, sensor=DRY, input=one)
        hurt = [damage.figure for damage in found.damage if damage.harm == "LED reversed"]
        assert hurt == ([] if reversed_v is None else [pytest.approx(reversed_v, abs=0.01)])

    def test_an_overload_with_a_load_in_series_is_no_more_than_that(self):
        """24 V over 100 ohm is 240 mA: the output holds it at 200 mA, the load still takes 20 V."""
        found = judged(sensor={"output": "PNP"}, input={"kind": "IEC 61131-2 type 3", "bleed": "100 ohm"})
        assert found.verdict == "damage"
        assert "nothing limits" not in found.sentence

    def test_a_supply_that_may_rise_by_our_guess_is_a_caution(self):
        """A sensor for 5 V to 25 V on 24 V: the +10 % is ours."""
        found = judged(sensor={"output": "PNP", "contact": "NC", "supply": "5 V to 25 V"}, input=IEC)
        assert found.verdict != "damage"
        assert "supply-near-limit" in [c.code for c in found.cautions]

    @pytest.mark.parametrize(
        ("volt", "most", "said"),
        [
            (
                "27.31 V",
                "30 V",
                "for 30 V at most: measure the supply at the sensor, which may see 30.04 V at times",
            ),
            ("28 V", "30.04 V", "for 30.04 V at most: measure the supply at the sensor, which may see 30.8 V"),
        ],
    )
    def test_two_voltages_close_together_are_told_apart(self, volt, most, said):
        """27.31 V and 10 % are 30.041 V: not "made for 30 V at most ... may see 30 V"."""
        found = judged(supply={"voltage": volt}, sensor={"output": "PNP", "supply": f"5 V to {most}"}, input=IEC)
        assert any(said in plain(caution.text) for caution in found.cautions)

    @pytest.mark.parametrize(("most", "verdict"), [("23.5 V", "damage"), ("24.5 V", "works, but")])
    def test_too_much_as_it_stands_is_damage_however_little(self, most, verdict):
        """24 V on a sensor for 23.5 V; on one for 24.5 V it is too much only where our 10 % come on top."""
        sensor = {"output": "PNP", "contact": "NC", "supply": f"10 V to {most}"}
        assert judged(supply={"voltage": "24 V"}, sensor=sensor, input=IEC).verdict == verdict

    def test_a_supply_that_is_stated_to_rise_is_damage(self):
        stated = judged(
            supply={"voltage": "24 V +- 10 %"}, sensor={"output": "PNP", "supply": "5 V to 24 V"}, input=IEC
        )
        assert stated.verdict == "damage"

    def test_a_sensor_for_5_v_and_up_on_5_v(self):
        """The cable takes a few millivolts: no reason to refuse it, but to say so."""
        found = judged(
            supply={"voltage": "5 V"},
            sensor={"output": "NPN", "contact": "NC", "supply": "5 V to 24 V", "drop": "0.3 V", "drop_at": "5 mA"},
            input={"kind": "logic", "supply": "5 V", "pull_up": "1 kohm"},
            cable={"length": "10 m"},
        )
        assert not found.misreads
        assert found.verdict in ("works", "works, but")
        assert any("5\u202fV at least" in c.text for c in found.cautions)

    @pytest.mark.parametrize(
        ("clamp", "verdict"), [("20 mA", "works"), ("1 mA", "damage"), ("yes", "damage"), ("0.3 V", "damage")]
    )
    def test_what_the_clamp_bears(self, clamp, verdict):
        """12 V through 4.7 kohm into a 5 V pin: 1.3 mA through the clamp."""
        found = judged(
            supply={"voltage": "12 V"},
            sensor={"output": "PNP", "protection_diodes": False, "leakage": "0.01 mA"},
            input={
                "kind": "logic",
                "supply": "5 V",
                "series_resistor": "4.7 kohm",
                "pull_down": "47 kohm",
                "clamp": clamp,
            },
        )
        assert found.verdict.startswith(verdict)

    def test_what_nothing_limits_comes_first_but_after_a_pin(self):
        """Two push-pull outputs against each other: 30 mA of LED current are told after it, a pin before it."""
        sensor, chain = {"output": "push-pull", "contact": "NO"}, {"join": "parallel", "count": 2}
        coupler = {"kind": "opto", "common": "minus", "series_resistor": "100 ohm"}
        led = [damage.harm for damage in judged(sensor=sensor, chain=chain, input=coupler).damage]
        assert (led[-1], {harm.partition(" ")[0] for harm in led[:-1]}) == ("LED current", {"B1", "B2"})
        pin = judged(sensor=sensor, chain=chain, input={"kind": "logic", "supply": "3.3 V", "clamp": "yes"}).damage
        assert [damage.harm == "clamp current" for damage in pin] == [True, False, False, False, False]
        assert all("nothing limits" in damage.text for damage in pin[1:])

    def test_a_pin_without_diodes_is_told_the_volts_that_hurt_it(self):
        """Of two sensors the other one still lifts it to 24 V, whichever of them has a broken wire."""
        found = judged(
            supply={"voltage": "24 V"},
            sensor={"output": "push-pull", "contact": "NO"},
            chain={"join": "parallel", "count": 2},
            input={"kind": "logic", "supply": "3.3 V", "clamp": "no"},
        )
        told = [damage for damage in found.damage if "no clamp diodes" in damage.text]
        assert len(told) == 9
        for damage in told:
            assert damage.figure == pytest.approx(23.3, abs=0.1)
            assert damage.text.startswith("23.")

    def test_limits_flip_the_verdict(self):
        """20 mA of LED current is allowed, a hair more is not: 25.4 V/20 mA less the 15 ohm of the LED."""
        for ohm, verdict in (("1256 ohm", "works"), ("1253 ohm", "damage")):
            found = judged(
                supply={"voltage": "24 V +- 10 %"},
                sensor=DRY,
                input={
                    "kind": "opto",
                    "common": "minus",
                    "series_resistor": f"{ohm} +- 0.01 %",
                    "led_voltage": "1.0 V",
                },
            )
            assert found.verdict == verdict


@pytest.mark.parametrize("two_grades", [*product(("good", "marginal", "at its limit"), repeat=2)])
def test_which_of_two_states_is_told_to_fall_short(two_grades):
    """The tripped one, unless it is good, or at its limit while the other is not good either."""
    clear, tripped = (
        State(5.0, 0.0, reads, margin_v, None, "good" if grade == "good" else "marginal", 4.5, grade not in SHORT)
        for reads, margin_v, grade in zip(("clear", "tripped"), (-0.1, -0.2), two_grades, strict=True)
    )
    of_clear = two_grades[1] == "good" or (two_grades[1] == "at its limit" and two_grades[0] != "good")
    words = "clear falls short by 0.1 V" if of_clear else "tripped falls short by 0.2 V"
    assert plain(marginal(clear, tripped)) == f"{words} with 4.5 V of supply"


class TestContacts:
    """Least load: silver 5 V and 10 mA, gold 5 V and 1 mA, reed 5 V and 0.1 mA; common practice, no source."""

    def test_a_pull_up_does_not_wet_silver_and_24_v_do(self):
        pin = {"kind": "logic", "supply": "3.3 V", "pull_up": "10 kohm"}
        found = judged(sensor={**DRY, "material": "silver"}, input=pin)
        assert not found.wetting.wets
        assert found.verdict == "works, but"
        assert "does not wet a silver contact" in " ".join(map(str.casefold, (found.sentence, *found.advice)))
        assert judged(
            sensor={**DRY, "material": "silver"}, input={"kind": "opto", "series_resistor": "2.2 kohm"}
        ).wetting.wets

    def test_an_assumed_material_is_a_caution(self):
        found = judged(sensor=DRY, input=IEC)
        assert found.verdict == "works"
        assert "contact-not-wetted" in [c.code for c in found.cautions]

    @pytest.mark.parametrize(("material", "wets"), [("silver", False), ("gold", True), ("reed", True)])
    def test_materials_at_2_9_ma(self, material, wets):
        assert judged(sensor={**DRY, "material": material}, input=IEC).wetting.wets is wets

    @pytest.mark.parametrize(("volt", "wets"), [("4.9 V", False), ("6 V", True)])
    def test_five_volts_are_enough_for_gold(self, volt, wets):
        """1.8 mA at 5 V flow through an input of type 3, more than the 1 mA that it takes."""
        found = judged(supply={"voltage": volt}, sensor={**DRY, "material": "gold"}, input=IEC)
        assert found.wetting.amp > 1.5e-3
        assert found.wetting.wets is wets

    @pytest.mark.parametrize(("volt", "wets"), [("4.9 V", False), ("5.1 V", True)])
    @pytest.mark.parametrize("material", ["silver", "gold", "reed"])
    def test_five_volts_are_enough_for_each(self, material, volt, wets):
        """11.7 mA and more through 420 ohm, which is more than any of them takes."""
        pin = {"kind": "logic", "supply": volt, "pull_up": "420 ohm"}
        assert judged(sensor={**DRY, "material": material}, input=pin).wetting.wets is wets

    def test_a_capacitor_straight_across_a_contact(self):
        pin = {"kind": "logic", "supply": "5 V", "pull_up": "1 kohm", "filter": "100 nF"}
        assert "capacitor-on-contact" in [c.code for c in judged(sensor=DRY, input=pin).cautions]
        for ohm, told in ((99, True), (100, False), (1000, False)):  # 100 ohm is what the caution asks for
            soft = judged(sensor=DRY, input={**pin, "series_resistor": f"{ohm} ohm"})
            assert ("capacitor-on-contact" in [c.code for c in soft.cautions]) is told

    @pytest.mark.parametrize(
        ("filter_resistor", "told"),
        [({}, True), ({"filter_resistor": "99 ohm"}, True), ({"filter_resistor": "100 ohm"}, False)],
    )
    @pytest.mark.parametrize("outputs", [("dry contact",), ("2-wire",), ("2-wire", "dry contact")])
    def test_a_capacitor_at_a_coupler_is_across_any_contact(self, outputs, filter_resistor, told):
        sensors = [{"output": output, "contact": "NO", "name": output} for output in outputs]
        one = {"kind": "opto", "common": "minus", "series_resistor": "2.2 kohm", "filter": "220 nF"}
        found = judged(sensor=sensors, input=one | filter_resistor, chain={"join": "parallel"})
        across = told and "dry contact" in outputs
        assert ("capacitor-on-contact" in [c.code for c in found.cautions]) is across


class TestWhatGoesWithIt:
    """Cautions, and truths that need no number."""

    def test_safety_travels_with_every_result(self):
        """The safety wording, in the result and in JSON."""
        for found in (judged(sensor=DRY, input=IEC), judged(sensor={"output": "unknown"}, input=IEC)):
            texts = [c["text"] for c in found.as_json()["cautions"]]
            assert [c.text for c in SAFETY] == texts[: len(SAFETY)]
            assert any("Switch off, unplug" in text for text in texts)

    @pytest.mark.parametrize(("ohm", "told"), [(4160, True), (4180, False)])
    def test_a_resistor_of_a_quarter_watt_is_loaded_by_half(self, ohm, told):
        """22.9 V over R and 15.25 ohm: 125.1 mW and 124.6 mW."""
        exact = "+- 0.001 %"
        one = {"kind": "opto", "common": "minus", "series_resistor": f"{ohm} ohm {exact}", "led_voltage": "1.1 V"}
        assert (22.9 / (ohm + 15.25)) ** 2 * ohm == pytest.approx(0.125, abs=5e-4)
        found = judged(supply={"voltage": f"24 V {exact}"}, sensor=DRY, input=one)
        assert ("resistor-heat" in [c.code for c in found.cautions]) is told

    def test_heat_in_a_resistor(self):
        """24 V through 2.2 kohm: 0.3 W at 26.4 V."""
        found = judged(sensor=DRY, input={"kind": "opto", "series_resistor": "2.2 kohm"})
        assert "resistor-heat" in [c.code for c in found.cautions]

    def test_no_fuse(self):
        """Where there is none to draw, as with a contact from a pin to 0 V, nothing is said of it."""
        pin = {"kind": "logic", "supply": "5 V", "pull_up": "1 kohm"}
        assert "no-fuse" not in [c.code for c in judged(sensor=DRY, input=pin).cautions]
        assert "no-fuse" in [c.code for c in judged(sensor=DRY, input=IEC).cautions]
        assert "no-fuse" not in [
            c.code for c in judged(supply={"voltage": "24 V", "fuse": "1 A"}, sensor=DRY, input=IEC).cautions
        ]

    @pytest.mark.parametrize("chain", [{}, {"count": 2, "join": "series"}])
    def test_more_sensors_on_the_same_feed_cores(self, chain):
        """0 V rises by the sum of currents times the common core, which is that of the first sensor of several."""
        circuit = {
            "sensor": {"output": "NPN", "contact": "NC", "drop": "0.4 V", "drop_at": "5 mA"},
            "input": {"kind": "logic", "supply": "5 V", "pull_up": "1 kohm"},
        }
        cable = {"length": "20 m", "section": "0.25 mm2"}
        alone, many = (judged(**circuit, chain=chain, cable={**cable, "shared_by": n}) for n in (1, 8))
        rise = many.clear.input_v - alone.clear.input_v
        assert rise == pytest.approx(7 * 0.010 * 20 * 0.079, rel=0.02)

    def test_swapping_the_order_of_circuits_swaps_the_answers(self):
        a, b = circuits_from(
            {"circuit": [{"sensor": DRY, "input": IEC}, {"sensor": {"output": "NPN"}, "input": IEC}]}
        )
        assert [f.sentence for f in assess_many([a, b])] == [f.sentence for f in assess_many([b, a])][::-1]

    @pytest.mark.parametrize(
        ("amp", "words"),
        [
            ((4.99e-3, 0.0), ["only 4.99 mA flows through a, which needs 5 mA to hold itself on"]),
            ((4.996e-3, 0.0), []),  # a thousandth is forgiven
            ((1.0, 1.0), []),
        ],
    )
    def test_only_a_2_wire_sensor_needs_current(self, amp, words):
        sensors = [
            {"output": "2-wire", "name": "a", "least_current": "5 mA"},
            {"output": "dry contact", "name": "b"},
        ]
        (circuit,) = circuits_from({"sensor": sensors, "input": IEC, "chain": {"join": "parallel"}})
        assert [plain(text) for text in starved(circuit, amp)] == words

    def test_the_corner_that_gives_a_2_wire_sensor_least_is_told(self):
        """5.9 mA as it stands, where 5 are needed; (21.6 - 5 - 1.4) V over 3.15 kohm and 15 ohm are 4.8 mA."""
        sensor = {"output": "2-wire", "contact": "NC", "drop": "5 V", "leakage": "0.4 mA", "least_current": "5 mA"}
        found = judged(sensor=sensor, input={"kind": "opto", "common": "minus", "series_resistor": "3 kohm"})
        assert found.clear.input_a == pytest.approx(17.9 / 3015, rel=2e-3)
        assert plain(found.sentence).startswith("Works, but only 4.8 mA flows through B1, which needs 5 mA")

    def test_a_circuit_that_works_is_told_its_edges_and_no_remedy(self):
        """1 nF down from 24 V to 5 V takes longer than up; the 3 ms of the controller's own come on top."""
        (circuit,) = circuits_from(
            {"sensor": DRY, "input": IEC | {"filter": "3 ms"}, "cable": {"length": "10 m", "capacitance": "1 nF"}}
        )
        found = assess(circuit)
        assert (found.verdict, found.remedies) == ("works", ())
        assert 3e-3 < found.delay.release_s <= found.delay.release_longest_s < found.delay.trip_s
        assert found.delay.trip_s < found.delay.trip_longest_s < 3.02e-3
        assert not found.clear.at_limit
        assert not found.tripped.at_limit

    def test_four_remedies_are_told_those_that_mend_all_of_it_first(self):
        """Of six, of which the last two work, the first two of the others too; all stand in the result."""
        (circuit,) = circuits_from({"sensor": DRY, "input": IEC})
        (found,) = assess_many([circuit])
        verdicts = ("works, but",) * 4 + ("works",) * 2
        six = tuple(
            Remedy(kind="setting", text=f"way {k}.", verdict=verdict, sentence="Works.", circuit=circuit)
            for k, verdict in enumerate(verdicts, 1)
        )
        told = replace(found, remedies=six)
        assert told.mending == tuple(f"Way {k}. Solved again: works." for k in (5, 6, 1, 2))
        assert len(told.as_json()["remedies"]) == 6

    def test_assess_gives_delay_and_remedies_that_many_leave_out(self):
        (circuit,) = circuits_from({"sensor": {**DRY, "contact": "NO"}, "input": IEC, "cable": {"length": "10 m"}})
        assert assess_many([circuit])[0].delay is None
        found = assess(circuit)
        assert found.delay.trip_s is not None
        assert found.remedies[0].kind == "contact"
