"""The windows of each remedy, by hand from Ohm's law, and what is proposed from them solved again."""

import pytest

from holdzero.compute.wiring import assess, assess_all, circuits_from
from holdzero.compute.wiring.remedy import proposals
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


def proposed(sensor, one, **more):
    """What is thought of first, before it is solved again: by kind."""
    (circuit,) = circuits_from({"sensor": sensor, "input": one, **more})
    return {proposal.kind: proposal for proposal in proposals(circuit)}


TWO_WIRE = {"output": "2-wire", "contact": "NC"}
PIN = {"kind": "logic", "supply": "3.3 V", "v_ih": "2 V"}
COUPLER = {"kind": "opto", "common": "minus", "series_resistor": "10 kohm", "i_on": "3 mA", "i_off": "1 mA"}

# 24 V +-10 % and parts of 5 %: kind, least and most ohm, ohm of the E24 row, W that its part bears; by hand
BY_HAND = {
    "leakages in a row: the larger one, 5 V over 1.5 mA - 0.5 mA": (
        [
            TWO_WIRE | {"name": "a", "drop": "3 V", "leakage": "0.7 mA"},
            TWO_WIRE | {"name": "b", "drop": "3 V", "leakage": "1.5 mA"},
        ],
        {"kind": "IEC 61131-2 type 1"},
        {"chain": {"join": "series"}},
        ("bleed", None, 5000.0, 4700.0, 0.5),
    ),
    "least currents in a row: the larger one, (21.6 - 2 x 3) V over 6.5 mA - 2 mA; 3300 is too near": (
        [
            TWO_WIRE | {"name": "a", "drop": "3 V", "least_current": "6.5 mA"},
            TWO_WIRE | {"name": "b", "drop": "3 V", "least_current": "4 mA"},
        ],
        {"kind": "IEC 61131-2 type 1"},
        {"chain": {"join": "series"}},
        ("bleed", None, 15.6 / 4.5e-3, 3000.0, 0.5),
    ),
    "drops side by side: the larger one, (21.6 - 6 - 1.4) V at 3 mA": (
        [TWO_WIRE | {"name": "a", "drop": "6 V", "leakage": "0.4 mA"}, TWO_WIRE | {"name": "b", "drop": "3 V"}],
        COUPLER | {"i_off": "2.5 mA"},
        {"chain": {"join": "parallel"}},
        ("series", 1270.0, 14.2 / 3e-3, 3300.0, 0.5),
    ),
    "type 2 takes 7 mA at 11 V, 15 % more at most, and 0.5 mA leak": (
        {"output": "NPN"},
        {"kind": "IEC 61131-2 type 2"},
        {},
        ("pull-up", 264.0, 10.6 / 8.55e-3, 910.0, 2.0),
    ),
    "1.12 W: (21.6 - 1.4) V less 20 mA x 105 ohm, at 20.5 mA": (
        {"output": "NPN"},
        COUPLER | {"series_resistor": "100 ohm", "i_on": "20 mA", "i_max": "0.1 A"},
        {},
        ("pull-up", 264.0, 18.1 / 20.5e-3, 620.0, 5.0),
    ),
    "2.58 W: 10 W; 26.4 V at half of 500 mA": (
        {"output": "NPN", "output_current": "500 mA"},
        COUPLER | {"series_resistor": "10 ohm", "i_on": "50 mA", "i_max": "0.2 A"},
        {},
        ("pull-up", 105.6, (20.2 - 50e-3 * 10.5) / 50.5e-3, 270.0, 10.0),
    ),
    "1.5 mA at most of 3.465 V less 0.3 V; 0.1 mA and 10 uA from 3.135 V down to 2 V; 2200 is too near": (
        {"output": "NPN", "drop": "0.3 V", "leakage": "0.1 mA", "output_current": "1.5 mA"},
        PIN,
        {},
        ("pull-up", 3.165 / 1.5e-3, 1.135 / 0.11e-3, 2400.0, None),
    ),
    "a contact of 1 kohm to 0.8 V of 3.465 V; the pin alone leaks": (
        {"output": "dry contact", "contact_resistance": "1 kohm"},
        PIN,
        {},
        ("pull-up", 2665.0 / 0.8, 1.135 / 10e-6, 3600.0, None),
    ),
    "0.5 V at most of an output leave 0.3 V for 5 ohm; 0.5 mA and 10 uA from 3.135 V down to 2 V": (
        {"output": "NPN", "drop": "0.1 V to 0.5 V"},
        PIN,
        {},
        ("pull-up", 2.665 * 5 / 0.3, 1.135 / 0.51e-3, 750.0, None),
    ),
    "a contact of 1.5 kohm, and 3.135 V down to 3.07 V: 5600 is far enough from both ends": (
        {"output": "dry contact", "contact_resistance": "1.5 kohm"},
        PIN | {"v_ih": "3.07 V"},
        {},
        ("pull-up", 2.665 * 1500 / 0.8, 6500.0, 5600.0, None),
    ),
    "a divider whose lower part stays below 0.8 V over 0.7 mA": (
        {"output": "PNP", "leakage": "0.7 mA", "drop": "1 V"},
        PIN,
        {},
        ("divider", None, 0.8 / 0.7e-3, 8200.0, None),
    ),
    "a coupler near the least: 12.2 V at 20 mA, (10.8 - 6.7 - 1.4) V at 3 mA": (
        TWO_WIRE | {"drop": "6.7 V"},
        PIN,
        {"supply": {"voltage": "12 V +- 10 %"}},
        ("opto-coupler", 610.0, 900.0, 680.0, 0.5),
    ),
    "a resistor near the least, likewise": (
        TWO_WIRE | {"drop": "6.7 V", "leakage": "0.4 mA"},
        COUPLER,
        {"supply": {"voltage": "12 V +- 10 %"}},
        ("series", 610.0, 900.0, 680.0, 0.5),
    ),
}


@pytest.mark.parametrize("name", BY_HAND)
def test_what_is_proposed(name):
    sensor, one, more, (kind, low, high, ohm, sold) = BY_HAND[name]
    found = proposed(sensor, one, **more)[kind]
    assert (found.low_ohm, found.high_ohm) == (low if low is None else pytest.approx(low), pytest.approx(high))
    assert found.ohm == ohm
    assert sold is None or f"{sold:g}\u202fW" in found.text


@pytest.mark.parametrize(("one", "kind"), [(PIN, "opto-coupler"), (COUPLER, "series")])
def test_no_resistor_where_its_own_tolerance_leaves_the_window(one, kind):
    """610 to 700 ohm, (10.8 - 7.3 - 1.4) V at 3 mA: 620 ohm less 5 % and 680 ohm and 5 % both lie outside."""
    sensor = TWO_WIRE | {"drop": "7.3 V", "leakage": "0.4 mA"}
    assert kind not in proposed(sensor, one, supply={"voltage": "12 V +- 10 %"})


def test_no_pull_up_where_its_own_tolerance_leaves_the_window():
    """4997 ohm, as above, to (3.135 - 3.08) V over 10 uA: 5100 ohm less 5 % lies outside, as do 5600 ohm."""
    worn = {"output": "dry contact", "contact_resistance": "1.5 kohm"}
    assert "pull-up" not in proposed(worn, PIN | {"v_ih": "3.08 V"})


def test_no_pull_up_against_the_grain_between_an_output_and_an_input_that_leave_no_room():
    """26.4 V at half of 47.5 mA: 1112 ohm; 0.9 of 6.6 V over 5.1 mA: 1165 ohm; the row has 1100 and 1200."""
    assert "pull-up" not in proposed(
        {"output": "NPN", "output_current": "47.5 mA"}, {"kind": "IEC 61131-2 type 1"}
    )
    assert "pull-up" in proposed({"output": "NPN", "output_current": "50 mA"}, {"kind": "IEC 61131-2 type 1"})


@pytest.mark.parametrize(
    ("sensor", "one", "kinds"),
    [
        ({"output": "NPN"}, PIN, {"contact", "pull-up", "opto-coupler"}),
        ({"output": "NPN", "pull_up": "10 kohm"}, PIN, {"contact", "opto-coupler"}),
        ({"output": "PNP", "drop": "1 V"}, PIN, {"contact", "output type", "divider", "opto-coupler"}),
        ({"output": "PNP", "contact": "NC"}, {"kind": "IEC 61131-2 type 3"}, set()),
        ({"output": "NPN", "contact": "NC"}, {"kind": "IEC 61131-2 type 3"}, {"output type", "pull-up"}),
        ({"output": "push-pull", "contact": "NC"}, {"kind": "IEC 61131-2 type 3"}, set()),
        ({"output": "PNP", "contact": "NC"}, {"kind": "IEC 61131-2 type 1"}, {"input type"}),
        ({"output": "PNP", "contact": "NC"}, {"kind": "opto", "common": "minus"}, {"setting", "series"}),
        ({"output": "PNP", "contact": "NC"}, COUPLER | {"series_resistor": "3.9 kohm"}, {"setting"}),
    ],
)
def test_which_remedies_are_thought_of(sensor, one, kinds):
    """A pull-up for what sinks and has none, a divider for what feeds, another type of input or output."""
    assert set(proposed(sensor, one)) == kinds


@pytest.mark.parametrize("contacts", [("NO", "NC"), ("NC", "NO"), ("NO", "NO")])
def test_one_contact_that_rests_open_is_reason_enough(contacts):
    sensors = [{"output": "dry contact", "contact": one, "name": f"S{k}"} for k, one in enumerate(contacts)]
    found = proposed(sensors, {"kind": "IEC 61131-2 type 3"}, chain={"join": "series"})
    assert [one.contact for one in found["contact"].circuit.sensors] == ["NC", "NC"]


@pytest.mark.parametrize(
    ("sensor", "one", "like"),
    [
        ({"output": "NPN", "drop": "0.4 V", "leakage": "0.2 mA"}, {"kind": "IEC 61131-2 type 3"}, "PNP"),
        ({"output": "PNP", "drop": "0.4 V", "leakage": "0.2 mA"}, COUPLER | {"common": "plus"}, "NPN"),
        ({"output": "2-wire", "drop": "8 V", "leakage": "1.5 mA"}, {"kind": "IEC 61131-2 type 1"}, "PNP"),
    ],
)
def test_the_other_output_is_the_one_that_would_be_typed(sensor, one, like):
    """A 3-wire sensor keeps what its sheet says, in place of a 2-wire one stands a usual 3-wire one."""
    found = proposed(sensor, one)["output type"].circuit.sensors[0]
    typed = {"output": like} if sensor["output"] == "2-wire" else sensor | {"output": like}
    expected = circuits_from({"sensor": typed, "input": one})[0].sensors[0]
    for name in ("output", "feed", "drop_v", "ohm", "leak_a", "own_a", "limit_a", "rating_a"):
        assert getattr(found, name) == getattr(expected, name), name


@pytest.mark.parametrize(("output", "offered"), [("NPN", False), ("dry contact", True)])
def test_side_by_side_only_contacts_can_be_put_in_a_row(output, offered):
    found = proposed({"output": output}, {"kind": "opto"}, chain={"join": "parallel", "count": 2})
    assert ("contact" in found) is offered
    assert not offered or found["contact"].circuit.chain == "series"


@pytest.mark.parametrize(("volt", "offered"), [("9.9 V", False), ("10 V", True)])
def test_a_coupler_is_thought_of_from_10_v_on(volt, offered):
    """Below that, for what needs no supply of its own."""
    found = proposed({"output": "dry contact"}, PIN, supply={"voltage": volt})
    assert ("opto-coupler" in found) is offered
