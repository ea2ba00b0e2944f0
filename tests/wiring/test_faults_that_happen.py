"""Faults that happen in a shop: bad joints, water, cores reversed, sides swapped, supplies lost, a foreign 24 V.

Each figure is worked out a second time from the part curves, node by node.
"""

from pathlib import Path

import numpy as np
import pytest

from holdzero.compute.wiring import assess_many, circuits_from, read_wiring
from holdzero.compute.wiring.cases import JOINT_OHM, WATER_OHM

CASES = Path(__file__).parents[1] / "data" / "wiring"


def entered(name):
    (circuit,) = read_wiring((CASES / f"{name}.toml").read_text(encoding="utf-8"))
    return circuit.entered


def rows_of(circuit):
    (assessment,) = assess_many(circuits_from(circuit))
    return assessment, {row.fault: row for row in assessment.faults}


def with_contact(circuit, contact):
    return {**circuit, "sensor": {**circuit["sensor"], "contact": contact}}


def fallen(current_out_of_node, low=-1.0, high=30.0):
    """Voltage at which no current is left over, by bisection."""
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (low, middle) if current_out_of_node(middle) > 0 else (middle, high)
    return (low + high) / 2


def type_3(volt):
    points = ((-1, 0, 5, 11, 30), (-0.36e-3, 0, 1.8e-3, 2.6e-3, 3e-3))
    return float(np.interp(volt, *points))


class TestContactToAPin:
    """A dry NC contact to 0 V, 2.2 kohm to 3.3 V."""

    def test_a_bad_joint_reads_tripped(self):
        """3.3 V x 5/7.2 = 2.29 V with the contact closed: neither low nor yet 2.4 V."""
        _, rows = rows_of(entered("faults_of_a_contact"))
        row = rows["BK bad joint"]
        assert row.clear_v == pytest.approx(3.3 * JOINT_OHM / (JOINT_OHM + 2200), rel=1e-3)
        assert (row.kind, row.reads_clear, row.reads_tripped, row.effect) == (
            "joint",
            "undefined",
            "tripped",
            "hides",
        )

    def test_with_a_weaker_pull_up_it_still_reads_clear(self):
        circuit = entered("faults_of_a_contact")
        circuit = {**circuit, "input": {**circuit["input"], "pull_up": "47 kohm"}}
        _, rows = rows_of(circuit)
        assert rows["BK bad joint"].clear_v == pytest.approx(3.3 * 5 / 52, rel=2e-3)
        assert rows["BK bad joint"].effect is None

    def test_water_in_the_plug(self):
        """3.3 V x 10/12.2 = 2.70 V with the contact open: still read; with 10 kohm above it, 1.65 V, not."""
        circuit = entered("faults_of_a_contact")
        _, rows = rows_of(circuit)
        assert rows["water in the plug"].tripped_v == pytest.approx(3.3 * WATER_OHM / (WATER_OHM + 2200), rel=1e-3)
        assert rows["water in the plug"].effect is None
        _, rows = rows_of({**circuit, "input": {**circuit["input"], "pull_up": "10 kohm"}})
        assert rows["water in the plug"].tripped_v == pytest.approx(1.65, rel=1e-3)
        assert rows["water in the plug"].effect == "hides"

    def test_left_and_right_swapped_hides(self):
        """The input sees a switch that its own side never trips."""
        _, rows = rows_of(entered("faults_of_a_contact"))
        row = rows["left and right swapped"]
        assert (row.reads_clear, row.reads_tripped, row.effect, row.kind) == ("clear", "clear", "hides", "swapped")
        assert "each input sees the switch of the other side" in row.text

    def test_without_a_side_there_is_none_to_swap(self):
        circuit = {key: value for key, value in entered("faults_of_a_contact").items() if key != "side"}
        assert "left and right swapped" not in rows_of(circuit)[1]

    @pytest.mark.parametrize(("contact", "effect"), [("NC", "hides"), ("NO", "stops")])
    def test_logic_supply_lost_is_listed(self, contact, effect):
        """Without its supply a pull-up holds nothing: 0 V, which is what the closed contact gives too."""
        assessment, rows = rows_of(with_contact(entered("faults_of_a_contact"), contact))
        row = rows["logic supply lost"]
        assert (row.kind, row.effect) == ("logic supply", effect)
        assert max(abs(row.clear_v), abs(row.tripped_v)) < 1e-3
        assert not row.hides_a_loss  # the controller is off with it
        assert assessment.passes is (contact == "NC")  # with NO a broken wire hides

    def test_24_v_on_the_signal(self):
        """24 V against the clamp of 0.5 V and 20 ohm, over 10 mohm: hundreds of mA."""
        _, rows = rows_of(entered("faults_of_a_contact"))
        row = rows["BK to +"]
        assert row.effect == "damage"
        # Contact open: 24 V behind the short and the core feeds the clamp and, through it, the logic supply.
        assert row.tripped_v > 20
        assert not row.hides_a_loss

    def test_24_v_on_the_signal_of_a_24_v_input(self):
        """Into an opto-coupler with its common at plus: no current is left, which reads tripped."""
        sensor = {"output": "dry contact", "contact": "NC"}
        _, rows = rows_of({"sensor": sensor, "input": {"kind": "opto", "common": "plus"}})
        assert (rows["BK to +"].reads_tripped, rows["BK to +"].effect) == ("tripped", "stops")

    def test_fed_from_plus_it_is_the_short_of_the_pair(self):
        _, rows = rows_of({"sensor": {"output": "dry contact"}, "input": {"kind": "IEC 61131-2 type 3"}})
        assert "BK to +" not in rows
        assert "BN-BK short" in rows


class TestPoweredSensor:
    """PNP NC, type 3."""

    def test_reversed_is_damage_unless_the_sheet_says_otherwise(self):
        circuit = entered("faults_of_a_sensor")
        assessment, rows = rows_of(circuit)
        row = rows["BN and BU reversed"]
        assert (row.kind, row.effect) == ("reversed", "damage")
        assert not row.hides_a_loss
        protected = {**circuit, "sensor": {**circuit["sensor"], "reverse_protected": True}}
        after, rows = rows_of(protected)
        assert rows["BN and BU reversed"].effect == "hides"
        assert (assessment.verdict, assessment.passes) == (after.verdict, after.passes)

    @pytest.mark.parametrize(("protected", "hurt"), [("B1", "B2"), ("B2", "B1")])
    def test_reversed_hurts_only_the_one_of_two_whose_sheet_does_not_bear_it(self, protected, hurt):
        """In series the second is fed, and so reversed, only while the first conducts."""
        sensors = [
            {"name": name, "output": "PNP", "contact": "NC", "reverse_protected": name == protected}
            for name in ("B1", "B2")
        ]
        one = {"kind": "IEC 61131-2 type 3"}
        _, rows = rows_of({"sensor": sensors, "input": one, "chain": {"join": "series"}})
        assert rows[f"{hurt} BN and BU reversed"].effect == "damage"
        assert rows[f"{protected} BN and BU reversed"].effect != "damage"

    def test_only_plus_on_0_v_blows_a_fuse(self):
        _, rows = rows_of(entered("faults_of_a_sensor"))
        told = {fault for fault, row in rows.items() if row.text.endswith("; the fuse or the supply gives up")}
        assert told == {"BN-BU short"}

    def test_stuck_on_needs_no_supply(self):
        """12 V for a sensor from 15 V on: it lets go, but a failed transistor gives 12 V less its 0.5 V."""
        sensor = {"output": "PNP", "contact": "NC", "supply": "15 V to 30 V", "drop": "0.5 V"}
        one = {"kind": "IEC 61131-2 type 3"}
        _, rows = rows_of({"sensor": sensor, "input": one, "supply": {"voltage": "12 V"}})
        assert (rows["stuck on"].clear_v, rows["stuck on"].tripped_v) == pytest.approx((11.49, 11.49), abs=0.01)
        assert (rows["stuck off"].clear_v, rows["stuck off"].tripped_v) == pytest.approx((0.278, 0.278), abs=0.01)

    @pytest.mark.parametrize(
        ("one", "lost"),
        [
            ({"kind": "opto"}, []),
            ({"kind": "opto", "common": "plus", "supply": "20 V"}, ["input supply lost"]),
            ({"kind": "logic", "supply": "5 V"}, ["logic supply lost"]),
        ],
    )
    def test_which_supplies_can_be_lost(self, one, lost):
        _, rows = rows_of({"sensor": {"output": "PNP", "contact": "NC"}, "input": one})
        assert [fault for fault in rows if fault.endswith("supply lost")] == ["supply lost", *lost]

    def test_reversed_by_hand(self):
        """24 V through two diodes of 0.7 V and 5 ohm; the input takes what the middle gives."""
        _, rows = rows_of(entered("faults_of_a_sensor"))

        def diode(volt):
            return 0.0 if volt <= 0 else 1e-6 * volt / 0.7 if volt < 0.7 else 1e-6 + (volt - 0.7) / 5

        # about 2.2 A over 0.05 ohm of supply and its feed lines of 1 mohm
        amp = (24 - 1.4) / (10 + 0.05 + 2e-3 + 0.02)
        feed = 24 - amp * (0.05 + 1e-3 + 0.01)
        volt = fallen(lambda v: type_3(v) + diode(v - amp * 0.011) - diode(feed - v))
        assert rows["BN and BU reversed"].clear_v == pytest.approx(volt, abs=0.02)

    def test_bad_joint_in_the_signal(self):
        """Through 5 kohm the input gets 10.6 V, where 11 V are needed."""
        _, rows = rows_of(entered("faults_of_a_sensor"))
        volt = fallen(lambda v: type_3(v) - (24 - 0.7 - v) / (JOINT_OHM + 5 + 0.79))
        assert rows["BK bad joint"].clear_v == pytest.approx(volt, abs=0.02)
        assert rows["BK bad joint"].effect == "hides"

    def test_bad_joint_in_the_feed(self):
        """8 mA do not come through 5 kohm: the output lets go."""
        _, rows = rows_of(entered("faults_of_a_sensor"))
        assert rows["BN bad joint"].effect == "stops"

    def test_water(self):
        """Off, 10 kohm from plus and 10 kohm to 0 V: half of what the input leaves of it."""
        _, rows = rows_of(entered("faults_of_a_sensor"))
        volt = fallen(lambda v: type_3(v) + v / WATER_OHM - (24 - v) / WATER_OHM - 1e-4)
        assert rows["water in the plug"].tripped_v == pytest.approx(volt, abs=0.02)

    def test_no_one_bit_fault_of_these_changes_the_exit_status(self):
        """Only open wires, lost supplies and an unplugged sensor count."""
        sensor = {"output": "PNP", "contact": "NC", "protection_diodes": False}
        assessment, rows = rows_of({**entered("faults_of_a_sensor"), "sensor": sensor})
        assert any(row.effect in ("hides", "damage") for row in rows.values() if row.kind in ("joint", "reversed"))
        assert assessment.passes
