"""Figures of standards and tables, as quoted in public files or from memory (docs/checks.md says which)."""

from math import pi

import pytest

from holdzero.compute.wiring import assess, assess_many, circuits_from
from holdzero.compute.wiring.conductor import COLOURS, OHM_PER_KM, ohm_per_km, warm
from holdzero.compute.wiring.netlist import netlist
from holdzero.compute.wiring.parts import IEC_POINTS
from holdzero.compute.wiring.seen import IEC_OFF, IEC_ON
from holdzero.compute.wiring.terminals import pin, strip, wires
from holdzero.quantity import read
from printed import printed


def states_of(**circuit):
    return assess_many(circuits_from(circuit))[0]


class TestSensorLimits:
    """IEC 60947-5-2: drop at most 8 V (2-wire), 3.5 V (3-wire); off 1.5 mA, 0.5 mA; 2-wire on from 5 mA."""

    def test_limits_are_assumed_where_nothing_is_stated(self):
        (two,) = circuits_from({"sensor": {"output": "2-wire"}, "input": {"kind": "IEC 61131-2 type 1"}})
        (three,) = circuits_from({"sensor": {"output": "PNP"}, "input": {"kind": "IEC 61131-2 type 1"}})
        assert (two.sensors[0].drop_v.high, two.sensors[0].leak_a.high, two.sensors[0].least_a.high) == (
            8.0,
            1.5e-3,
            5e-3,
        )
        assert (three.sensors[0].drop_v.high, three.sensors[0].leak_a.high) == (3.5, 0.5e-3)

    def test_a_2_wire_sensor_starved_by_a_type_3_input(self):
        """A type 3 input takes 2.6 mA at 11 V (our curve): below the 5 mA a sensor may ask for."""
        found = states_of(sensor={"output": "2-wire", "contact": "NC"}, input={"kind": "IEC 61131-2 type 3"})
        assert found.verdict == "works, but"
        assert "to hold itself on" in " ".join((found.sentence, *found.advice))


class TestNumbers:
    """Plug numbers of IEC 60947-5-2; contact numbers of IEC 60947-5-1 (EN 50013 and EN 50005, withdrawn)."""

    def test_three_wires(self):
        (circuit,) = circuits_from(
            {"sensor": {"output": "PNP", "contact": "NO"}, "input": {"kind": "IEC 61131-2 type 3"}}
        )
        ends = {
            wire.part: wire.start for wire in wires(circuit, netlist(circuit)) if wire.part in ("BN", "BU", "BK")
        }
        assert ends == {"BN": "-B1:1", "BU": "-B1:3", "BK": "-B1:4"}

    def test_break_output_is_pin_2(self):
        (circuit,) = circuits_from({"sensor": {"output": "NPN", "contact": "NC"}, "input": {"kind": "opto"}})
        assert pin(circuit.sensors[0], "bk") == "2"

    @pytest.mark.parametrize(("contact", "numbers"), [("NC", ("11", "12")), ("NO", ("13", "14"))])
    def test_contacts(self, contact, numbers):
        (circuit,) = circuits_from(
            {"sensor": {"output": "dry contact", "contact": contact}, "input": {"kind": "opto"}}
        )
        assert (pin(circuit.sensors[0], "a"), pin(circuit.sensors[0], "b")) == numbers

    def test_two_wire_make_is_1_and_4(self):
        (circuit,) = circuits_from(
            {"sensor": {"output": "2-wire", "contact": "NO"}, "input": {"kind": "IEC 61131-2 type 3"}}
        )
        assert (pin(circuit.sensors[0], "a"), pin(circuit.sensors[0], "b")) == ("1", "4")

    def test_every_core_has_a_terminal_of_its_own(self):
        (circuit,) = circuits_from(
            {"sensor": {"output": "NPN"}, "chain": {"count": 3, "join": "parallel"}, "input": {"kind": "opto"}}
        )
        assert sorted(strip(netlist(circuit)).values()) == sorted(f"-X1:{k}" for k in range(1, 10))


def test_letters_of_iec_60757():
    assert {k: COLOURS[k] for k in ("BK", "BN", "BU", "WH", "GNYE")} == {
        "BK": "black",
        "BN": "brown",
        "BU": "blue",
        "WH": "white",
        "GNYE": "green-yellow",
    }


class TestInputRegions:
    """IEC 61131-2, current-sinking 24 V inputs."""

    def test_regions(self):
        assert IEC_ON == {1: (15.0, 2e-3), 2: (11.0, 6e-3), 3: (11.0, 2e-3)}
        assert IEC_OFF == {1: (5.0, 0.5e-3), 2: (5.0, 2e-3), 3: (5.0, 1.5e-3)}

    @pytest.mark.parametrize("kind", [1, 2, 3])
    def test_our_own_curve_lies_inside_them(self, kind):
        """2 to 15 mA (type 2: 6 to 30 mA) from the on voltage up to 30 V, whatever the spread."""
        points = dict(zip(*IEC_POINTS[kind], strict=True))
        on_v, on_a = IEC_ON[kind]
        for factor in (0.87, 1.15):
            assert on_a <= factor * points[on_v] <= factor * points[30.0] <= (30e-3 if kind == 2 else 15e-3)


class TestLogicLevels:
    """Logic families, as three public tables have V_IL and V_IH; what is assumed is as strict as the strictest."""

    @pytest.mark.parametrize(("supply", "v_il", "v_ih"), [("5 V", 0.8, 3.5), ("3.3 V", 0.8, 2.0)])
    def test_assumed_levels(self, supply, v_il, v_ih):
        (circuit,) = circuits_from(
            {"sensor": {"output": "dry contact"}, "input": {"kind": "logic", "supply": supply}}
        )
        assert circuit.input.v_il <= v_il
        assert 0.7 * circuit.input.volt.nominal >= v_ih


class TestSums:
    """Sums by hand that test a compatibility rule."""

    def two_wire(self, volt, kind, **more):
        return states_of(
            supply={"voltage": volt},
            sensor={"output": "2-wire", "contact": "NO", "drop": "8 V", **more},
            input={"kind": f"IEC 61131-2 type {kind}"},
        )

    def test_24_v_type_1_passes_with_1_v_to_spare(self):
        found = self.two_wire("24 V", 1)
        assert found.tripped.reads == "tripped"
        assert found.tripped.input_v == printed("16.0")
        exact = self.two_wire("24 V +- 0.01 %", 1)
        assert exact.tripped.margin_v == pytest.approx(1.0, abs=0.02)

    def test_20_4_v_fails_type_1_and_passes_type_3(self):
        assert self.two_wire("20.4 V", 1).tripped.reads == "undefined"
        assert self.two_wire("20.4 V", 3).tripped.reads == "tripped"
        assert self.two_wire("20.4 V", 3).tripped.input_v == printed("12.4")

    def test_leakage_of_1_5_ma(self):
        """Not assured off in type 1; type 3 allows exactly that much: at the limit counts as met."""
        assert self.two_wire("24 V", 1, leakage="1.5 mA").clear.reads == "undefined"
        assert self.two_wire("24 V", 2, leakage="1.5 mA").clear.reads == "clear"
        assert self.two_wire("24 V", 3, leakage="1.5 mA").clear.reads == "clear"

    @pytest.mark.parametrize("kind", [1, 2, 3])
    def test_three_wire_at_20_4_v(self, kind):
        found = states_of(
            supply={"voltage": "20.4 V +- 0.1 %"},
            sensor={"output": "PNP", "contact": "NO", "drop": "3.5 V"},
            input={"kind": f"IEC 61131-2 type {kind}"},
        )
        assert found.tripped.input_v == printed("16.9")
        assert (found.tripped.grade, found.clear.grade) == ("good", "good")

    def test_ttl_high_into_5_v_hc_fails(self):
        """2.4 V where 3.5 V are needed: a push-pull output that stays 2.6 V below 5 V."""
        found = states_of(
            supply={"voltage": "5 V"},
            sensor={
                "output": "push-pull",
                "contact": "NO",
                "drop": "2.6 V",
                "drop_at": "1 mA",
                "supply": "4.5 V to 5.5 V",
            },
            input={"kind": "logic", "supply": "5 V", "v_il": "1.5 V", "v_ih": "3.5 V", "pull_down": "1 Mohm"},
        )
        assert found.verdict == "does not work"
        assert found.tripped.reads != "tripped"


class TestConductors:
    """IEC 60228, DIN VDE 0295 and IEC 60028: copper, its resistance and what its capacitance delays."""

    def test_largest_resistance(self):
        assert OHM_PER_KM[0.5] == 40.1
        assert {mm2: ohm_per_km(mm2) for mm2 in (0.14, 0.25, 0.34)} == {0.14: 138.0, 0.25: 79.0, 0.34: 56.0}

    @pytest.mark.parametrize(
        ("gauge", "mm2", "ohm"),
        [
            (20, "0.5176", "33.31"),
            (22, "0.3255", "52.96"),
            (24, "0.2047", "84.22"),
            (26, "0.1288", "133.91"),
            (28, "0.0810", "212.92"),
        ],
    )
    def test_wire_gauges(self, gauge, mm2, ohm):
        section_mm2 = read(f"{gauge} AWG", "section")
        assert section_mm2 == printed(mm2)
        assert section_mm2 == pytest.approx(pi / 4 * (0.127 * 92 ** ((36 - gauge) / 39)) ** 2)  # ASTM B258
        # The listed sections take the standard's limit; here the sums are those of solid copper.
        assert 1000 / 58 / section_mm2 == printed(ohm)

    def test_copper_and_temperature(self):
        assert 1 / warm(70) == printed("0.8358")

    def test_a_run_of_10_m(self):
        """Out and back at 79 ohm/km with 10 mA: 0.0158 V at 20 C, 0.018284 V at 60 C."""
        core = ohm_per_km(0.25) * 10 / 1000
        assert 2 * core * 0.010 == printed("0.0158")
        assert 2 * core * warm(60) * 0.010 == printed("0.018284")

    def test_rise_of_a_pull_up(self):
        """10 kohm, 10 m x 150 pF/m, 5 V to 3.5 V: 18.0596 us from 0 V; the contact starts 0.1 mV higher."""
        (circuit,) = circuits_from(
            {
                "sensor": {"output": "dry contact", "contact": "NC"},
                "input": {
                    "kind": "logic",
                    "supply": "5 V",
                    "pull_up": "10 kohm",
                    "v_il": "1.5 V",
                    "v_ih": "3.5 V",
                },
                "cable": {"length": "10 m", "section": "0.25 mm2", "capacitance": "150 pF/m"},
            }
        )
        assert circuit.cable.farad.nominal == pytest.approx(1.5e-9)
        assert assess(circuit).delay.trip_s * 1e6 == pytest.approx(18.0596, rel=2e-4)
