"""The windows of each remedy, by hand from Ohm's law, and what is proposed from them solved again."""

import pytest

from holdzero.compute.wiring import assess, assess_all, circuits_from
from holdzero.compute.wiring.windows import (
    bleed_most_ohm,
    divider_window,
    e24,
    opto_limits,
    opto_series_window,
    pull_up_window,
    shunt_most_ohm,
)
from printed import printed

LOGIC_33 = {"supply_low_v": 3.135, "supply_high_v": 3.465, "pin_a": 1e-5, "out_a": 0.1}
LOGIC_5 = {"supply_low_v": 4.75, "supply_high_v": 5.25, "out_a": 0.1}


class TestPullUp:
    """Low enough for the output, high enough above the leakage: two divisions each, by hand."""

    def test_cmos_3_3_v(self):
        low, high = pull_up_window(**LOGIC_33, v_il=0.8, v_ih=2.4255, leak_a=1e-4, knee_v=0.3, ohm=10)
        assert (low, high) == (printed("53"), pytest.approx(6450, rel=1e-3))

    def test_lvttl_with_leakage(self):
        _, high = pull_up_window(**LOGIC_33, v_il=0.8, v_ih=2.0, leak_a=5e-4, knee_v=0.3, ohm=10)
        assert high / 1000 == printed("2.23")

    def test_the_output_carries_no_more_than_its_limit(self):
        """5 mA at most of 3.465 V less 0.3 V: 633 ohm, where pulling low enough would let 53 do."""
        weak = LOGIC_33 | {"out_a": 5e-3}
        low, _ = pull_up_window(**weak, v_il=0.8, v_ih=2.4255, leak_a=1e-4, knee_v=0.3, ohm=10)
        assert low == printed("633")

    def test_a_knee_above_v_il_has_no_window(self):
        low, high = pull_up_window(**LOGIC_33, v_il=0.8, v_ih=2.0, leak_a=1e-4, knee_v=0.9, ohm=10)
        assert low > high

    def test_5_v_hc(self):
        _, high = pull_up_window(**LOGIC_5, v_il=1.35, v_ih=3.5, leak_a=5e-4, pin_a=1e-5, knee_v=0.7, ohm=10)
        assert high == pytest.approx(2450, rel=2e-3)

    def test_wetting_a_silver_contact(self):
        _, high = pull_up_window(
            **LOGIC_5, v_il=1.35, v_ih=3.5, leak_a=0, pin_a=1e-6, knee_v=0, ohm=0.2, wet_a=10e-3
        )
        assert high == printed("475")


def test_series_resistor_and_its_heat():
    low, high = opto_series_window(
        supply_low_v=21.6, supply_high_v=26.4, drop_v=3.5, led_low_v=1.0, led_high_v=1.4, on_a=3e-3, most_a=20e-3
    )
    assert (low, high) == (printed("1270"), printed("5567"))
    assert printed("0.29") == 25.4**2 / 2200
    assert printed("0.20") == 25.4**2 / 3300


def test_divider():
    common = {
        "supply_low_v": 21.6,
        "supply_high_v": 26.4,
        "drop_v": 3.5,
        "v_il": 0.8,
        "logic_low_v": 3.135,
        "leak_a": 5e-4,
    }
    low, high, most = divider_window(**common, v_ih=2.4255)
    assert (low, high) == (printed("0.134"), printed("0.130"))
    assert low > high
    low, high, most = divider_window(**common, v_ih=2.0)
    assert (low, high, most) == (printed("0.1105"), printed("0.1301"), printed("1600"))
    assert divider_window(**common | {"supply_high_v": 30.0}, v_ih=2.0)[1] == printed("0.1145")


def test_bleed_output_side_and_shunt():
    assert bleed_most_ohm(leak_a=1.5e-3, off_a=0.5e-3) == printed("5000")
    assert printed("0.18") == 28.8**2 / 4700
    on_a, off_a = opto_limits(
        supply_low_v=3.135,
        supply_high_v=3.465,
        pull_up_ohm=10e3,
        ctr_low=0.25,
        ctr_high=3.0,
        v_il=0.4,
        v_ih=2.4255,
    )
    assert (on_a * 1e3, off_a * 1e3) == (printed("1.23"), printed("0.024"))
    assert shunt_most_ohm(led_low_v=1.0, leak_a=1.5e-3, off_a=0.5e-3) == printed("1000")
    assert shunt_most_ohm(led_low_v=1.0, leak_a=0.5e-3, off_a=0.024e-3) == pytest.approx(2100, rel=2e-3)


def test_output_side_from_a_file():
    (circuit,) = circuits_from(
        {
            "sensor": {"output": "NPN"},
            "input": {
                "kind": "opto",
                "ctr": "0.25 to 3",
                "output_pull_up": "10 kohm",
                "output_supply": "3.3 V",
                "v_il": "0.4 V",
                "v_ih": "2.4255 V",
            },
        }
    )
    assert (circuit.input.on_a * 1e3, circuit.input.off_a * 1e3) == (printed("1.23"), printed("0.024"))


def test_e24_series():
    assert len(e24(1000, 9999)) == 24
    assert e24(1000, 1300) == [1000.0, 1100.0, 1200.0, 1300.0]


BROKEN = {
    "weak pull-up": (
        {"sensor": {"output": "NPN", "drop": "0.3 V"}, "input": {"kind": "logic", "supply": "3.3 V"}},
        "pull-up",
    ),
    "leaking 2-wire": (
        {
            "sensor": {"output": "2-wire", "leakage": "1.5 mA", "drop": "5 V"},
            "input": {"kind": "IEC 61131-2 type 1"},
        },
        "bleed",
    ),
    "leaking into a LED": (
        {
            "sensor": {"output": "NPN", "leakage": "1.5 mA"},
            "input": {
                "kind": "opto",
                "common": "plus",
                "series_resistor": "2.2 kohm",
                "i_on": "3 mA",
                "i_off": "0.5 mA",
            },
        },
        "shunt",
    ),
    "LED starved": (
        {"sensor": {"output": "PNP"}, "input": {"kind": "opto", "common": "minus", "series_resistor": "10 kohm"}},
        "series",
    ),
    "NPN into a sinking input": (
        {"sensor": {"output": "NPN"}, "input": {"kind": "IEC 61131-2 type 3"}},
        "pull-up",
    ),
    "PNP into a pin": (
        {
            "sensor": {"output": "PNP", "leakage": "0.1 mA", "drop": "1 V"},
            "input": {"kind": "logic", "supply": "3.3 V", "v_ih": "2 V"},
        },
        "divider",
    ),
}


class TestRemediesAreSolvedAgain:
    """Each remedy names a window, lies in it, and works at every corner."""

    @pytest.mark.parametrize("name", BROKEN)
    def test_resistor(self, name):
        circuit, kind = BROKEN[name]
        found = assess(circuits_from(circuit)[0])
        assert found.verdict in ("does not work", "damage")
        remedy = next(r for r in found.remedies if r.kind == kind)
        assert remedy.ohm in e24()
        assert (remedy.low_ohm or 0) <= remedy.ohm
        assert kind == "divider" or remedy.ohm <= remedy.high_ohm
        assert remedy.verdict in ("works", "works, but")
        mended = assess(remedy.circuit)
        assert (mended.verdict, mended.sentence) == (remedy.verdict, remedy.sentence)
        assert not mended.misreads
        assert any(remedy.text[1:] in words for words in found.mending)

    def test_npn_into_a_sinking_input_is_told_what_to_do(self):
        (found,) = assess_all(
            circuits_from({"sensor": {"output": "NPN"}, "input": {"kind": "IEC 61131-2 type 3"}})
        )
        assert "NPN output can only take current to 0 V" in found.sentence
        assert {"output type", "pull-up"} <= {r.kind for r in found.remedies}

    def test_a_built_in_pull_up_is_told_to_use_a_coupler(self):
        """24 V appear on the input when the sensor is off."""
        (found,) = assess_all(
            circuits_from(
                {
                    "sensor": {"output": "NPN", "pull_up": "10 kohm", "drop": "0.4 V"},
                    "input": {"kind": "logic", "supply": "5 V", "pull_up": "2.2 kohm"},
                }
            )
        )
        assert found.verdict == "damage"
        assert "opto-coupler" in {r.kind for r in found.remedies}

    def test_no_is_told_to_become_nc(self):
        (found,) = assess_all(
            circuits_from(
                {"sensor": {"output": "dry contact", "contact": "NO"}, "input": {"kind": "IEC 61131-2 type 3"}}
            )
        )
        remedy = next(r for r in found.remedies if r.kind == "contact")
        assert remedy.verdict == "works"
