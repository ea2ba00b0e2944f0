"""Figures as they are told, in sentences and in JSON, and which sensor of several they are of: by hand."""

import pytest

from holdzero.compute.wiring import (
    AnalyserChannel,
    Divider,
    TapOpto,
    assess,
    assess_many,
    circuits_from,
    tap,
)
from holdzero.compute.wiring.results import FaultRow
from holdzero.compute.wiring.sentences import unnoticed
from holdzero.compute.wiring.taken import taken
from holdzero.compute.wiring.windows import e24
from holdzero.errors import InputError
from holdzero.quantity import plain

IEC = {"kind": "IEC 61131-2 type 3"}
NC = {"output": "dry contact", "contact": "NC"}


def judged(sensor, one, **more):
    return assess_many(circuits_from({"sensor": sensor, "input": one, **more}))[0]


@pytest.mark.parametrize(
    ("volt", "ohm"),
    [
        (2.6, 150),
        (3.3, 220),
        (5, 390),
        (5.8, 470),
        (9.3, 820),
        (12, 1000),
        (16, 1500),
        (24, 2200),
        (28, 2700),
        (34, 3300),
    ],
)
def test_usual_resistor_of_a_coupler_gives_about_10_ma(volt, ohm):
    """(V - 1.1 V)/10 mA, to the nearest that modules have."""
    (circuit,) = circuits_from(
        {"supply": {"voltage": f"{volt} V"}, "sensor": {"output": "NPN"}, "input": {"kind": "opto"}}
    )
    assert circuit.input.series_ohm.nominal == ohm
    assert (volt - 1.1) / ohm == pytest.approx(10e-3, rel=0.1)


class TestSeveralSensors:
    """Drops of a series add, leakages of sensors side by side add."""

    def test_two_drops_in_series(self):
        """(21.6 - 2 x 3 - 1.4) V at 3 mA and what the 1.8 kohm take that 1.5 mA of leakage ask for."""
        chain = {"join": "series", "count": 2}
        sensor = {"output": "2-wire", "contact": "NC", "drop": "3 V"}
        circuit = {"sensor": sensor, "chain": chain, "input": {"kind": "opto", "series_resistor": "10 kohm"}}
        (series,) = (r for r in assess(circuits_from(circuit)[0]).remedies if r.kind == "series")
        assert series.high_ohm == pytest.approx(14.2 / (3e-3 + 1.4 / 1800))
        assert series.ohm == 2700.0  # the nearest of the series to 0.7 of it

    def test_three_leakages_side_by_side(self):
        """1 V over 3 x 0.5 mA - 0.5 mA; the LED takes 1.4 V at most, and 3 mA and the shunt's share flow."""
        circuit = {
            "sensor": {"output": "NPN", "leakage": "0.5 mA"},
            "chain": {"join": "parallel", "count": 3},
            "input": {"kind": "opto", "common": "plus", "series_resistor": "2.2 kohm", "i_off": "0.5 mA"},
        }
        found = {r.kind: r for r in assess(circuits_from(circuit)[0]).remedies}
        assert (found["shunt"].high_ohm, found["shunt"].ohm) == (pytest.approx(1000.0), 910.0)

    @pytest.mark.parametrize("supply", ["24 V", "24 V +- 10 %"])
    @pytest.mark.parametrize("turned", [False, True])
    def test_the_contact_that_has_least_of_what_it_needs(self, supply, turned):
        """The same 2.9 mA: enough for gold, not for silver."""
        sensors = [{**NC, "name": "S1", "material": "gold"}, {**NC, "name": "S2", "material": "silver"}]
        found = judged(sensors[::-1] if turned else sensors, IEC, supply={"voltage": supply})
        assert (found.wetting.material, found.wetting.wets) == ("silver", False)
        as_json = found.wetting.as_json()
        assert (as_json["need_v"], as_json["need_ma"], as_json["wets"]) == (5.0, 10.0, False)
        assert as_json["ma"] == pytest.approx(2.87, abs=0.02)

    @pytest.mark.parametrize("turned", [False, True])
    def test_the_least_of_two_that_are_both_wetted(self, turned):
        """Gold needs 1 mA and reed 0.1 mA: gold has the least room, at 21.6 V and 2.31 kohm."""
        sensors = [{**NC, "name": "S1", "material": "gold"}, {**NC, "name": "S2", "material": "reed"}]
        one = {"kind": "opto", "common": "minus", "series_resistor": "2.2 kohm +- 5 %", "led_voltage": "1.1 V"}
        found = judged(sensors[::-1] if turned else sensors, one, supply={"voltage": "24 V +- 10 %"})
        assert (found.wetting.material, found.wetting.wets, found.wetting.assumed) == ("gold", True, False)
        assert found.wetting.amp == pytest.approx((21.6 - 1.1) / (2310 + 15), rel=5e-3)
        assert found.wetting.volt == pytest.approx(21.6, rel=5e-3)


@pytest.mark.parametrize(
    ("material", "says"), [("silver", "1\u202fA"), ("gold", "1\u202fA"), ("reed", "500\u202fmA")]
)
def test_what_a_contact_carries(material, says):
    (circuit,) = circuits_from({"sensor": {**NC, "material": material}, "input": IEC})
    assert f"the contact carries {says} at most" in circuit.assumed


class TestInJson:
    """Milliamperes and volts outside, amperes and volts inside."""

    def test_currents_over_a_limit(self):
        """25.3 V and more through 1 kohm: over the 20 mA of a LED."""
        found = judged(NC, {"kind": "opto", "common": "minus", "series_resistor": "1 kohm +- 1 %"})
        (damage,) = found.as_json()["damage"]
        assert (damage["what"], damage["unit"], damage["limit"]) == ("LED current", "mA", pytest.approx(20.0))
        assert damage["figure"] == pytest.approx(1e3 * (26.4 - 1.0) / (990 + 15), rel=2e-3)

    def test_volts_of_a_fault_to_a_tenth_of_a_microvolt(self):
        """Below that, what is left of a supply is rounding of the processor."""
        row = FaultRow("BN open", "open", "", "clear", "clear", "hides", 1.23456789, 4.4e-8).as_json()
        assert (row["input_v_clear"], row["input_v_tripped"]) == (1.2345679, 0.0)

    @pytest.mark.parametrize(("output", "part"), [("2-wire", "B1 switch"), ("PNP", "B1")])
    def test_volts_the_wrong_way_round(self, output, part):
        """All of 24 V and 10 %, where no more than 1 V are taken for a slip."""
        found = judged({"output": output, "contact": "NC"}, IEC, supply={"voltage": "-24 V"})
        (damage,) = found.as_json()["damage"]
        assert (damage["what"], damage["unit"], damage["limit"]) == (f"{part} reversed", "V", pytest.approx(1.0))
        assert damage["figure"] == pytest.approx(26.4, rel=0.01)

    def test_volts_over_a_limit(self):
        (damage,) = judged(NC, IEC, supply={"voltage": "32 V +- 1 V"}).as_json()["damage"]
        assert (damage["what"], damage["unit"], damage["limit"]) == ("input voltage", "V", 30.0)
        assert damage["figure"] == pytest.approx(33.0, abs=0.01)

    def test_a_pin_without_diodes_at_a_lost_zero(self):
        """NPN without its blue wire: the 10 mA it takes itself leave through its diode and 1 kohm to 3.3 V."""
        pin = {"kind": "logic", "supply": "3.3 V", "pull_up": "1 kohm", "clamp": "no", "v_ih": "2 V"}
        found = judged({"output": "NPN", "contact": "NC", "drop": "0.3 V", "drop_at": "5 mA"}, pin)
        (damage,) = [one for one in found.damage if one.harm == "BU open"]
        assert damage.figure == pytest.approx(3.3 + 10e-3 * 1e3, abs=0.01)
        row = next(row for row in found.faults if row.fault == "BU open")
        assert damage.figure == max(row.clear_v, row.tripped_v)


class TestSentences:
    """The figure a kind of input reads, and what it needs."""

    @pytest.mark.parametrize(
        ("one", "words"),
        [
            (
                {"kind": "opto", "common": "minus", "series_resistor": "10 kohm"},
                "tripped reads undefined, 2.29\u202fmA, where opto-coupled, common minus needs 3\u202fmA or more",
            ),
            (
                {
                    "kind": "logic",
                    "supply": "5 V",
                    "pull_down": "1 kohm",
                    "series_resistor": "9 kohm",
                    "v_ih": "3 V",
                },
                "tripped reads undefined, 2.4\u202fV, where logic needs a high from 3\u202fV",
            ),
            (
                {"kind": "logic", "supply": "5 V", "pull_down": "1 kohm", "series_resistor": "9 kohm"},
                "tripped reads undefined, 2.4\u202fV, where logic needs a high from 3.5\u202fV",
            ),
        ],
    )
    def test_what_is_missing(self, one, words):
        """(24 - 1.1) V over 10.015 kohm; a tenth of 24 V."""
        found = judged({"output": "dry contact", "contact": "NO", "feed": "plus"}, one)
        assert words in found.sentence

    @pytest.mark.parametrize(
        ("sensor", "one", "volt", "words"),
        [
            (
                {"output": "dry contact", "feed": "plus"},
                {"kind": "IEC 61131-2 type 1"},
                "13 V",
                "tripped reads undefined, 13 V and 3.47 mA, where IEC 61131-2 type 1 needs 15 V and 2 mA or more",
            ),
            (
                {"output": "2-wire", "leakage": "1.5 mA"},
                {"kind": "IEC 61131-2 type 1"},
                "24 V",
                "clear reads undefined, 5.63 V and 1.5 mA, where IEC 61131-2 type 1 needs at most 5 V or 0.5 mA",
            ),
            (
                {"output": "2-wire", "leakage": "1.5 mA"},
                {"kind": "opto", "common": "minus"},
                "24 V",
                "clear reads undefined, 1.5 mA, where opto-coupled, common minus needs at most 1 mA",
            ),
            (
                {"output": "dry contact", "contact_resistance": "3 kohm"},
                {"kind": "logic", "supply": "5 V", "pull_up": "10 kohm"},
                "24 V",
                "tripped reads undefined, 1.15 V, where logic needs a low up to 0.8 V",
            ),
        ],
    )
    def test_what_an_input_needs_for_on_and_for_off(self, sensor, one, volt, words):
        """IEC 61131-2: 15 V and 2 mA, 5 V or 0.5 mA, on a line of 4 mA at 15 V; 3 of 13 kohm are left of 5 V."""
        assert words in plain(judged({**sensor, "contact": "NO"}, one, supply={"voltage": volt}).sentence)

    @pytest.mark.parametrize(
        ("output", "common", "why"),
        [
            (
                "NPN",
                "minus",
                "an NPN output can only take current to 0 V, and this input needs current fed into it.",
            ),
            ("PNP", "plus", "a PNP output can only feed current in, and this input needs it taken to 0 V."),
        ],
    )
    def test_why_an_output_on_the_wrong_common_does_not_work(self, output, common, why):
        found = judged({"output": output, "contact": "NC"}, {**IEC, "common": common})
        assert found.sentence.endswith(f" both read tripped, since {why}")

    def test_an_output_over_what_it_may_carry(self):
        """Type 3 and 15 % more, at 26.4 V less 0.3 V: 3.36 mA, where the sheet allows 2 mA."""
        (damage,) = judged({"output": "PNP", "contact": "NC", "output_current": "2 mA"}, IEC).damage
        assert damage.figure * 1e3 == pytest.approx(1.15 * (2.6 + 0.4 * (26.1 - 11) / 19), abs=0.01)
        assert damage.text.endswith("through the output of B1, which may carry 2\u202fmA")

    @pytest.mark.parametrize(("stated", "taken_as"), [({}, True), ({"material": "silver"}, False)])
    def test_a_material_is_told_as_taken_only_where_none_is_stated(self, stated, taken_as):
        pin = {"kind": "logic", "supply": "3.3 V", "pull_up": "10 kohm"}
        (text,) = [c.text for c in judged({**NC, **stated}, pin).cautions if c.code == "contact-not-wetted"]
        assert "0.33\u202fmA at 3.3\u202fV does not wet a silver contact" in text
        assert ("taken as silver, since the material is not stated" in text) is taken_as

    @pytest.mark.parametrize(
        ("join", "contact", "volt", "why"),
        [
            ("series", "NO", "24 V", ", since NO outputs in series need all to trip at once."),
            ("parallel", "NC", "24 V", ", since NC outputs in parallel hide each other: all would have to trip."),
            ("series", "NC", "4 V", " both read tripped."),
            ("parallel", "NO", "4 V", " both read clear."),
        ],
    )
    def test_why_a_chain_does_not_work(self, join, contact, volt, why):
        chain = {"join": join, "count": 2}
        found = judged({**NC, "contact": contact}, IEC, chain=chain, supply={"voltage": volt})
        assert found.sentence.endswith(why)

    @pytest.mark.parametrize(
        ("cores", "hidden", "words"),
        [
            (("BN", "BK", "BU"), ("BN", "BK", "BU"), "a broken wire goes"),
            (("BN", "BK", "BU"), ("BN", "BU"), "a broken BN or BU goes"),
            (("BN", "BK", "BU"), ("BK",), "a broken BK goes"),
            (("BN",), ("BN",), "a broken BN goes"),
            (("BK", "BU"), ("BK", "BU"), "a broken wire goes"),
            (("1", "2", "3", "4", "5"), ("1", "2", "3"), "a broken 1 or 2 or 3 goes"),
            (("1", "2", "3", "4", "5"), ("1", "2", "3", "4"), "a broken wire in one of several places goes"),
        ],
    )
    def test_broken_wires_as_one_speaks(self, cores, hidden, words):
        rows = [
            FaultRow(
                f"{core} open", "open", "", "clear", "clear", "hides" if core in hidden else "stops", 0.0, 0.0
            )
            for core in cores
        ]
        assert list(unnoticed(rows)) == [f"{words} unnoticed"]


def test_every_fault_of_a_contact_and_of_a_3_wire_sensor():
    """Each conductor open or badly joined, each pair shorted, water, a supply lost, unplugged, turned, stuck."""
    contact = ["BN open", "BK open", "COM open", "BN bad joint", "BK bad joint", "COM bad joint", "BN-BK short"]
    contact += [
        "water in the plug",
        "BK to frame",
        "supply lost",
        "unplugged",
        "stuck closed (welded)",
        "stuck open",
    ]
    assert [row.fault for row in judged(NC, IEC).faults] == contact
    wires = ("BN", "BK", "BU", "COM")
    sensor = [*(f"{wire} open" for wire in wires), *(f"{wire} bad joint" for wire in wires)]
    sensor += [
        "BN-BK short",
        "BK-BU short",
        "BN-BU short",
        "BK to frame",
        "water in the plug",
        "BN and BU reversed",
    ]
    sensor += ["supply lost", "0 V lost", "unplugged", "stuck on", "stuck off"]
    assert [row.fault for row in judged({"output": "PNP", "contact": "NC"}, IEC).faults] == sensor


@pytest.mark.parametrize(
    ("output", "wrong", "right", "rail"), [("NPN", "minus", "plus", "+"), ("PNP", "plus", "minus", "0 V")]
)
def test_an_output_on_the_wrong_common_is_told_the_other_rail(output, wrong, right, rail):
    circuit = {"sensor": {"output": output, "contact": "NC"}, "input": {"kind": "opto", "common": wrong}}
    (remedy,) = [r for r in assess(circuits_from(circuit)[0]).remedies if r.kind == "setting"]
    assert remedy.text == f"join the input's common to {rail} instead"
    assert remedy.circuit.input.common == right


class TestTaken:
    """What a remedy writes into what was typed."""

    def test_a_feed_is_written_where_it_changes(self):
        typed = {"sensor": {"output": "2-wire", "contact": "NO", "feed": "minus"}, "input": {**IEC}}
        (circuit,) = circuits_from(typed)
        (remedy,) = [r for r in assess(circuit).remedies if r.kind == "setting"]
        assert taken(typed, circuit, remedy.circuit)["sensor"] == {**typed["sensor"], "feed": "plus"}
        assert taken(typed, circuit, circuit)["sensor"] == typed["sensor"]


def test_which_inputs_are_offered_a_coupler():
    """From 10 V up, or with a 3-wire sensor on any supply; a contact on 5 V needs none."""
    pin = {"kind": "logic", "supply": "5 V", "pull_up": "5 kohm"}  # a worn contact of 1 kohm leaves 0.83 V

    def offered(sensor, volt):
        circuit = {"supply": {"voltage": volt}, "sensor": {"contact": "NO", **sensor}, "input": pin}
        return "opto-coupler" in [r.kind for r in assess(circuits_from(circuit)[0]).remedies]

    weak = {"output": "dry contact", "contact_resistance": "1 kohm"}
    assert offered({"output": "NPN", "leakage": "0.5 mA"}, "5 V") is False  # no window at 5 V less 3.5 V
    assert offered({"output": "NPN", "drop": "0.2 V", "leakage": "0.5 mA", "supply": "3 V to 30 V"}, "5 V")
    assert offered(weak, "24 V") is True
    assert offered(weak, "5 V") is False


class TestTap:
    """A divider and a LED for a channel of an analyser, by hand."""

    def test_divider(self):
        """26.4 V less 0.3 V onto 0.95 of 5.5 V: the first value above, over 10 kohm beside 100 kohm."""
        (circuit,) = circuits_from({"sensor": {"output": "PNP"}, "input": IEC})
        seen = tap(circuit, AnalyserChannel(low_v=-0.5, high_v=5.5))
        below = 10e3 * 100e3 / 110e3
        least = below * (26.1 / (0.95 * 5.5) - 1)
        assert seen.remedy == Divider(min(ohm for ohm in e24() if ohm >= least), 10e3)

    @pytest.mark.parametrize(("bears_v", "upper_ohm"), [(5.0, 100.0), (4.9, 120.0)])
    def test_divider_before_a_channel_that_loads_it_is_100_ohm_at_least(self, bears_v, upper_ohm):
        """909 ohm are below it: 5.25 V onto 0.95 of 5.0 V ask for 95 ohm, onto that of 4.9 V for 116."""
        sensor, one = {"output": "dry contact", "contact": "NO"}, {"kind": "opto", "series_resistor": "390 ohm"}
        (circuit,) = circuits_from({"sensor": sensor, "input": one, "supply": {"voltage": "5 V"}})
        seen = tap(circuit, AnalyserChannel(low_v=-0.5, high_v=bears_v, load_ohm=1e3))
        assert (seen.verdict, seen.remedy) == ("refused", Divider(upper_ohm, 10e3))

    @pytest.mark.parametrize("contact", ["NO", "NC"])
    @pytest.mark.parametrize("volt", [18, 20])
    def test_led(self, contact, volt):
        """At most (18 - 1.4) V at 3 mA; at least 29 V squared over 0.25 W; from their middle on."""
        sensor = {"output": "dry contact", "contact": contact}
        circuit = {"sensor": sensor, "input": IEC, "supply": {"voltage": f"{volt} V to 30 V"}}
        seen = tap(circuits_from(circuit)[0], AnalyserChannel(low_v=-0.3, high_v=3.6, v_ih=3.5))
        low, high = 29**2 / 0.25, (volt - 1.4) / 3e-3
        middle = (low * high) ** 0.5
        assert seen.remedy == TapOpto(min(ohm for ohm in e24() if ohm >= middle))


class TestCable:
    """What is not said of a cable, and of the drop of a 2-wire sensor."""

    def test_capacitance_and_resistance_of_ten_metres(self):
        """50, 100 and 200 pF a metre; 79 ohm a kilometre of 0.25 mm2 (IEC 60228), 0.01 of what a kilometre has."""
        (circuit,) = circuits_from({"sensor": NC, "input": IEC, "cable": {"length": "10 m"}})
        farad = circuit.cable.farad
        assert (farad.low, farad.nominal, farad.high) == pytest.approx((0.5e-9, 1e-9, 2e-9))
        assert circuit.cable.section_mm2 == 0.25
        assert circuit.cable.core_ohm == pytest.approx(0.79)

    @pytest.mark.parametrize(
        ("drop", "least", "most"), [("8 V", 2.5, 8.0), ("2 V", 2.0, 2.0), ("1 V to 6 V", 1.0, 6.0)]
    )
    def test_least_drop_of_two_wires(self, drop, least, most):
        (circuit,) = circuits_from({"sensor": {"output": "2-wire", "drop": drop}, "input": IEC})
        assert (circuit.sensors[0].drop_v.low, circuit.sensors[0].drop_v.high) == (least, most)


class TestWhichState:
    """Which state is told, of which sensor, and by how much it falls short."""

    @pytest.mark.parametrize(("contact", "state"), [("NC", "clear"), ("NO", "tripped")])
    @pytest.mark.parametrize("volt", ["24 V", "24 V +- 10 %"])
    def test_the_conducting_one_falls_short(self, contact, state, volt):
        """21.6 V less 8 V, where type 1 needs 15 V: 1.4 V short."""
        sensor = {
            "output": "2-wire",
            "contact": contact,
            "drop": "8 V",
            "leakage": "0.4 mA",
            "least_current": "2 mA",
        }
        found = judged(sensor, {"kind": "IEC 61131-2 type 1"}, supply={"voltage": volt})
        assert f"{state} falls short by 1.4\u202fV with 21.6\u202fV of supply" in found.sentence

    @pytest.mark.parametrize("turned", [False, True])
    def test_of_two_contacts_the_worse_one_is_told(self, turned):
        """1.5 kohm under 10 kohm leave 0.43 V of 3.3 V."""
        sensors = [{**NC, "contact": "NO", "name": "a"}, {**NC, "contact": "NO", "name": "b"}]
        sensors[turned]["contact_resistance"] = "1.5 kohm"
        pin = {"kind": "logic", "supply": "3.3 V", "pull_up": "10 kohm"}
        found = judged(sensors, pin, chain={"join": "parallel"})
        assert found.tripped.input_v == pytest.approx(3.3 * 1.5 / 11.5, rel=1e-3)

    @pytest.mark.parametrize(("sides", "told"), [("LR", True), ("LL", False), (("", "L"), False)])
    def test_both_sides_on_one_input(self, sides, told):
        sensors = [{**NC, "name": f"S{k}", "side": side} for k, side in enumerate(sides)]
        found = judged(sensors, IEC, chain={"join": "series"})
        said = (found.sentence, *found.advice)
        assert any("both sides of the gantry share one input" in words.casefold() for words in said) is told


@pytest.mark.parametrize(
    ("sensor", "chain", "wait_s"),
    [
        (NC, {}, 0.0),
        ({"output": "2-wire", "contact": "NC"}, {}, 0.3),
        ({"output": "PNP", "contact": "NC"}, {}, 0.3),
        ({"output": "NPN", "contact": "NO"}, {"join": "parallel", "count": 3}, 0.3),
        ({"output": "PNP", "contact": "NC"}, {"join": "series", "count": 3}, 0.9),
    ],
)
def test_how_long_until_the_first_reading_counts(sensor, chain, wait_s):
    """0.3 s a sensor that has to start (IEC 60947-5-2); in a series each waits for the one before."""
    found = judged(sensor, {"kind": "opto"}, chain=chain)
    assert found.start_up_s == pytest.approx(wait_s)
    waits = [words for words in found.advice if words.startswith("Wait ")]
    assert waits == (
        [] if not wait_s else [words for words in waits if f"Wait {wait_s + 0.2:.2g}\u202fs" in words]
    )
    assert len(waits) == (wait_s > 0)


class TestOneSupply:
    """Logic on the same volts as the sensors is taken to hang on the same supply, unless it is said."""

    SAME = "the logic input is fed from the same supply"

    @pytest.mark.parametrize(
        ("supply", "logic", "shared", "clause"),
        [
            ({"voltage": "5 V"}, "5 V", True, True),
            ({"voltage": "5 V"}, "3.3 V", False, False),
            ({"voltage": "5 V", "shared": "no"}, "5 V", False, False),
            ({"voltage": "5 V", "shared": "yes"}, "5 V", True, False),
        ],
    )
    def test_taken(self, supply, logic, shared, clause):
        pin = {"kind": "logic", "supply": logic}
        (circuit,) = circuits_from({"supply": supply, "sensor": {"output": "NPN"}, "input": pin})
        assert (circuit.supply.shared, self.SAME in circuit.assumed) == (shared, clause)
        assert ("the 0 V of both supplies are joined" in circuit.assumed) is not shared

    def test_an_opto_coupler_parts_them_in_what_is_typed(self):
        typed = {
            "supply": {"voltage": "12 V", "shared": "yes", "joined": "yes"},
            "sensor": {"output": "NPN", "contact": "NC", "leakage": "0.5 mA"},
            "input": {"kind": "logic"},
        }
        (circuit,) = circuits_from(typed)
        (remedy,) = [r for r in assess(circuit).remedies if r.kind == "opto-coupler"]
        assert taken(typed, circuit, remedy.circuit)["supply"] == {"voltage": "12 V", "shared": "no"}
        apart = {**typed, "supply": {"voltage": "12 V", "joined": "no"}}
        (circuit,) = circuits_from(apart)
        (remedy,) = [r for r in assess(circuit).remedies if r.kind == "opto-coupler"]
        assert taken(apart, circuit, remedy.circuit)["supply"] == {"voltage": "12 V"}


def test_a_list_of_sensors_holds_tables_only():
    for sensors in ([NC, 5], [], "NPN"):
        with pytest.raises(InputError, match=r"a list of tables \[\[sensor\]\]"):
            circuits_from({"sensor": sensors, "input": IEC})
