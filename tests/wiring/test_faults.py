"""Fault tables: what hides, out of what can break, as solved against ngspice there."""

import pytest

from holdzero.compute.wiring import assess_many, circuits_from, netlist

CABLE = {"length": "10 m", "section": "0.25 mm2"}
OPTO = {"kind": "opto", "series_resistor": "2.2 kohm", "i_on": "3 mA", "i_off": "1 mA"}
OWN = {"own_current": "8 mA"}  # as in that table
# output, input, faults that hide or are undefined: with NC, with NO (of those in the table there)
TABLE = {
    "dry from + > opto common minus": (
        {"output": "dry contact"},
        {**OPTO, "common": "minus"},
        {"BN-BK short", "stuck closed (welded)"},
        {"BN open", "BK open", "BK to frame", "supply lost", "unplugged", "stuck open"},
    ),
    "dry from + > type 3": (
        {"output": "dry contact"},
        {"kind": "IEC 61131-2 type 3"},
        {"BN-BK short", "stuck closed (welded)"},
        {"BN open", "BK open", "BK to frame", "supply lost", "unplugged", "stuck open"},
    ),
    "dry to 0 V > opto common plus": (
        {"output": "dry contact"},
        {**OPTO, "common": "plus"},
        {"BU-BK short", "BK to frame", "stuck closed (welded)"},
        {"BU open", "BK open", "supply lost", "0 V lost", "unplugged", "stuck open"},
    ),
    "dry to 0 V > 3.3 V pull-up": (
        {"output": "dry contact"},
        {"kind": "logic", "supply": "3.3 V", "pull_up": "4.7 kohm"},
        {"BU-BK short", "BK to frame", "stuck closed (welded)"},
        {"BU open", "BK open", "0 V lost", "unplugged", "stuck open"},
    ),
    "PNP > type 3": (
        {"output": "PNP", "drop": "0.9 V", **OWN},
        {"kind": "IEC 61131-2 type 3"},
        {"BU open", "0 V lost", "BN-BK short", "stuck on"},
        {
            "BN open",
            "BK open",
            "BK-BU short",
            "BN-BU short",
            "BK to frame",
            "supply lost",
            "unplugged",
            "stuck off",
        },
    ),
    "PNP > opto common minus": (
        {"output": "PNP", "drop": "0.9 V", **OWN},
        {**OPTO, "common": "minus"},
        {"BU open", "0 V lost", "BN-BK short", "stuck on"},
        {
            "BN open",
            "BK open",
            "BK-BU short",
            "BN-BU short",
            "BK to frame",
            "supply lost",
            "unplugged",
            "stuck off",
        },
    ),
    "push-pull > type 3": (
        {"output": "push-pull", "drop": "0.9 V", **OWN},
        {"kind": "IEC 61131-2 type 3"},
        {"BU open", "0 V lost", "BN-BK short", "stuck on"},
        {
            "BN open",
            "BK open",
            "BK-BU short",
            "BN-BU short",
            "BK to frame",
            "supply lost",
            "unplugged",
            "stuck off",
        },
    ),
    "NPN > opto common plus": (
        {"output": "NPN", **OWN},
        {**OPTO, "common": "plus"},
        {"BN open", "BK-BU short", "BK to frame", "stuck on"},
        {"BU open", "BK open", "BN-BK short", "BN-BU short", "supply lost", "0 V lost", "unplugged", "stuck off"},
    ),
    "2-wire > type 3": (
        {"output": "2-wire"},
        {"kind": "IEC 61131-2 type 3"},
        {"BN-BK short", "stuck on"},
        {"BN open", "BK open", "BK to frame", "supply lost", "unplugged", "stuck off"},
    ),
}
NEW_HERE = {"COM open", "0 V link open", "logic supply lost", "BK to +"}  # which that table leaves out
KINDS = ("open", "short", "frame", "supply", "unplugged", "stuck")  # of fault, in that table


def table(sensor, one, contact, **more):
    (found,) = assess_many(
        circuits_from({"sensor": {**sensor, "contact": contact}, "input": one, "cable": CABLE, **more})
    )
    return found, {row.fault: row for row in found.faults}


@pytest.mark.parametrize("name", TABLE)
@pytest.mark.parametrize("contact", ["NC", "NO"])
def test_what_hides(name, contact):
    sensor, one, nc, no = TABLE[name]
    _, rows = table(sensor, one, contact)
    hidden = {fault for fault, row in rows.items() if row.effect == "hides" and row.kind in KINDS} - NEW_HERE
    assert hidden == (nc if contact == "NC" else no)


@pytest.mark.parametrize("name", TABLE)
def test_nc_and_no_are_mirror_images(name):
    """A fault that fixes the input one way stops with one contact and hides with the other."""
    sensor, one, _, _ = TABLE[name]
    (_, nc), (_, no) = table(sensor, one, "NC"), table(sensor, one, "NO")
    turned = {"stops": "hides", "hides": "stops"}
    alike = {
        "stuck open": "stuck closed (welded)",
        "stuck off": "stuck on",
        "stuck closed (welded)": "stuck open",
        "stuck on": "stuck off",
    }
    assert set(nc) == set(no)
    for fault, row in nc.items():
        if row.reads_clear == row.reads_tripped != "undefined" and row.effect in turned:
            other = no[fault]
            assert other.effect == turned[row.effect], fault
        assert alike.get(fault, fault) in no


def test_every_conductor_pair_and_supply_is_there():
    _, rows = table({"output": "NPN"}, {**OPTO, "common": "plus"}, "NC")
    assert set(rows) == {
        "BN open",
        "BK open",
        "BU open",
        "COM open",
        "BN-BK short",
        "BK-BU short",
        "BN-BU short",
        "BK to frame",
        "supply lost",
        "0 V lost",
        "unplugged",
        "stuck on",
        "stuck off",
        "BN bad joint",
        "BK bad joint",
        "BU bad joint",
        "COM bad joint",
        "water in the plug",
        "BN and BU reversed",
    }


class TestBrokenBlueWire:
    """The sensor's own current finds its way out through the protection diode and the input."""

    def test_blue_of_a_pnp(self):
        for one, volt in (({**OPTO, "common": "minus"}, 18.4), ({"kind": "IEC 61131-2 type 3"}, 21.6)):
            _, rows = table({"output": "PNP", "drop": "0.9 V", **OWN}, one, "NC")
            assert rows["BU open"].clear_v == pytest.approx(volt, abs=0.05)
            assert (rows["BU open"].reads_clear, rows["BU open"].reads_tripped) == ("clear", "clear")

    def test_without_diodes_it_stops(self):
        found, rows = table({"output": "PNP", "protection_diodes": False}, {"kind": "IEC 61131-2 type 3"}, "NC")
        assert rows["BU open"].effect == "stops"
        assert (found.verdict, found.passes) == ("works", True)

    def test_the_page_asks_for_the_test(self):
        found, _ = table({"output": "PNP"}, {"kind": "IEC 61131-2 type 3"}, "NC")
        assert any("pull the blue wire; the input must drop" in text for text in found.advice)
        found, _ = table({"output": "NPN"}, {**OPTO, "common": "plus"}, "NC")
        assert any("pull the brown wire; the input must drop" in text for text in found.advice)

    def test_it_does_not_where_the_input_shows_neither_level(self):
        """NPN on a 5 V pin without its brown wire: 2 V through its diode, neither high nor low, tripped or not."""
        found, rows = table(SENSOR, PIN, "NC")
        assert rows["BN open"].reads_clear == rows["BN open"].reads_tripped == "undefined"
        assert not any("pull the" in text for text in found.advice)

    def test_in_json_every_fault_stands_once(self):
        found, rows = table({"output": "PNP"}, {"kind": "IEC 61131-2 type 3"}, "NC")
        told = found.as_json()
        harmless = [name for name, row in rows.items() if row.effect is None]
        assert [row["fault"] for row in told["harmless"]] == harmless != []
        assert [row["fault"] for row in told["faults"]] == [name for name in rows if name not in harmless]


PIN = {"kind": "logic", "supply": "5 V", "pull_up": "2.2 kohm"}
SENSOR = {"output": "NPN", "drop": "0.7 V", "drop_at": "5 mA", **OWN}


class TestZeroVoltsLost:
    """A 24 V NPN sensor on a 5 V pin: what a single fault brings to the pin."""

    def test_volts_on_a_pin_without_clamps_are_refused(self):
        found, rows = table(SENSOR, {**PIN, "clamp": False}, "NC")
        assert rows["0 V lost"].clear_v == pytest.approx(19.2, abs=0.05)
        assert rows["BN-BK short"].clear_v == pytest.approx(23.8, abs=0.05)
        assert {rows[f].effect for f in ("0 V lost", "BU open", "BN-BK short")} == {"damage"}
        assert (found.verdict, found.passes) == ("damage", False)

    def test_with_clamps_it_is_a_works_but(self):
        found, rows = table(SENSOR, {**PIN, "clamp": True}, "NC")
        assert rows["0 V lost"].effect == "damage"  # 10 times what the clamp is made for
        assert (found.verdict, found.passes) == ("works, but", False)

    def test_what_else_hides(self):
        """6 of 12 with NC: the four of an NPN, plus lost (undefined) and brown-blue shorted (low)."""
        _, rows = table(SENSOR, {**PIN, "clamp": False}, "NC")
        hidden = {fault for fault, row in rows.items() if row.effect == "hides" and row.kind in KINDS} - NEW_HERE
        assert hidden == {"BN open", "BK-BU short", "BN-BU short", "BK to frame", "supply lost", "stuck on"}
        assert rows["supply lost"].reads_clear == "undefined"


class TestWhoIsWatching:
    """A false trip stops a limit; a home-only input finds it at the next homing, if that demands the release."""

    @pytest.mark.parametrize(
        ("more", "effect"),
        [
            ({}, "stops"),
            ({"use": "limit"}, "stops"),
            ({"use": "home and limit"}, "stops"),
            ({"use": "home", "proves_release": True}, "found at the next homing"),
            ({"use": "home", "proves_release": False}, "hides"),
            ({"use": "home"}, "hides"),
        ],
    )
    def test_effect_of_a_broken_wire(self, more, effect):
        found, rows = table({"output": "dry contact"}, {"kind": "IEC 61131-2 type 3", **more}, "NC")
        assert rows["BK open"].effect == effect
        assert found.passes == (effect != "hides")

    def test_sentence(self):
        found, _ = table({"output": "dry contact"}, {"kind": "IEC 61131-2 type 3"}, "NC")
        assert found.sentence == "Works, and a broken wire stops the machine."
        found, _ = table(
            {"output": "dry contact"}, {"kind": "IEC 61131-2 type 3", "use": "home", "proves_release": True}, "NC"
        )
        assert found.sentence == "Works, and a broken wire is found at the next homing."


class TestOneZero:
    """A contact alone goes to the controller's own 0 V: there is one to be lost, and no wire between two."""

    def test_0_v_is_lost_once(self):
        _, rows = table({"output": "dry contact"}, {"kind": "3.3 V logic", "pull_up": "1 kohm"}, "NO")
        names = [name for name in rows if "0 V" in name]
        assert names == ["0 V lost"]

    @pytest.mark.parametrize(("pull_up", "zeros"), [({}, 1), ({"pull_up": "1.8 kohm"}, 2)])
    def test_a_pull_up_from_the_supply_of_the_sensors_brings_the_other_zero(self, pull_up, zeros):
        """A contact to 0 V at an input of type 3 on its own supply: two minus, to be joined."""
        one = {"kind": "IEC 61131-2 type 3", "supply": "24 V", "common": "minus"}
        _, rows = table({"output": "dry contact", "feed": "minus"}, one | pull_up, "NC")
        assert ("0 V link open" in rows) is (zeros == 2)

    @pytest.mark.parametrize("supply", [{"joined": False}, {"join_resistance": "2 ohm"}])
    def test_two_where_the_file_says_so(self, supply):
        (circuit,) = circuits_from(
            {"supply": supply, "sensor": {"output": "dry contact"}, "input": {"kind": "3.3 V logic"}}
        )
        assert "M" in {part.first for part in netlist(circuit).parts}


class TestHeldOutputs:
    """An output holds on only while its own supply is up."""

    def test_a_lost_supply_lets_go(self):
        _, rows = table({"output": "PNP", "protection_diodes": False}, {"kind": "IEC 61131-2 type 3"}, "NC")
        assert rows["supply lost"].effect == "stops"

    def test_a_sensor_made_for_more_than_the_supply_gives(self):
        """Rated 6 V to 36 V on 5 V works "sometimes"; nothing is promised, so it does not work."""
        found, _ = table(
            {"output": "NPN", "supply": "6 V to 36 V"},
            {"kind": "logic", "supply": "5 V", "pull_up": "1 kohm"},
            "NO",
            supply={"voltage": "5 V"},
        )
        assert found.verdict == "does not work"
        assert "needs 6\u202fV" in found.sentence

    @pytest.mark.parametrize(("chain", "ohm"), [({}, "300 ohm"), ({"count": 2, "join": "parallel"}, "200 ohm")])
    def test_chatter_is_undefined(self, chain, ohm):
        """Off, the sensor's supply recovers and it would switch on again: a supply too weak for the load.

        By hand for the two: 20 mA of their own leave 20 V behind 200 ohm, 18 V hold; 16 mA more leave 17 V.
        """
        found, _ = table(
            {"output": "PNP", "supply": "20 V to 30 V"},
            {"kind": "opto", "common": "minus", "series_resistor": "1 kohm", "i_max": "50 mA"},
            "NO",
            supply={"voltage": "24 V +- 1 %", "resistance": ohm},
            chain=chain,
        )
        assert (found.clear.reads, found.tripped.reads) == ("clear", "undefined")
        assert found.verdict == "does not work"

    def test_a_fault_that_leaves_supply_and_load_chatters_in_one_state(self):
        """10 kohm of water change nothing of it; every other fault fixes the output, or takes the load away."""
        found, _ = table(
            {"output": "PNP", "supply": "20 V to 30 V"},
            {"kind": "opto", "common": "minus", "series_resistor": "1 kohm", "i_max": "50 mA"},
            "NO",
            supply={"voltage": "24 V", "resistance": "300 ohm"},
        )
        assert [row.fault for row in found.faults if row.chatters] == ["water in the plug"]


class TestOneInputForSeveral:
    """Chains, and what is lost with them."""

    def test_two_sides_in_series(self):
        (found,) = assess_many(
            circuits_from(
                {
                    "sensor": [
                        {"output": "dry contact", "contact": "NC", "side": "L", "name": "left"},
                        {"output": "dry contact", "contact": "NC", "side": "R", "name": "right"},
                    ],
                    "input": {"kind": "IEC 61131-2 type 3"},
                }
            )
        )
        assert (found.verdict, found.passes) == ("works, but", True)
        for lost in ("which side tripped", "a switch that is stuck", "both sides cannot be homed at once"):
            assert lost in found.sentence
        rows = {row.fault: row for row in found.faults}
        assert rows["left stuck closed (welded)"].effect == "hides"  # right still trips, left does not
        assert rows["right link open"].effect == "stops"
        assert rows["right link open"].text == "the link before right broken or come loose"
        assert rows["right BN open"].text == "core right BN broken or come loose"

    def test_nc_outputs_in_parallel_hide_each_other(self):
        found, _ = table(
            {"output": "PNP"}, {"kind": "IEC 61131-2 type 3"}, "NC", chain={"count": 2, "join": "parallel"}
        )
        assert (found.verdict, found.tripped.reads) == ("does not work", "clear")
        assert "hide each other" in found.sentence

    def test_two_push_pull_outputs_joined_are_damage(self):
        found, _ = table(
            {"output": "push-pull"}, {"kind": "IEC 61131-2 type 3"}, "NO", chain={"count": 2, "join": "parallel"}
        )
        assert found.verdict == "damage"

    def test_three_powered_sensors_in_series_start_one_after_the_other(self):
        found, _ = table(
            {"output": "PNP"}, {"kind": "IEC 61131-2 type 3"}, "NC", chain={"count": 3, "join": "series"}
        )
        assert found.start_up_s == pytest.approx(0.9)
        assert any("two is the most" in text for text in (found.sentence, *found.advice))


def test_faults_are_the_same_whichever_circuits_are_solved_beside_them():
    """Columns of one batch do not know each other."""
    circuits = [
        {
            "sensor": {"output": "PNP", "contact": c},
            "input": {"kind": f"IEC 61131-2 type {k}"},
            "supply": {"voltage": v},
        }
        for c in ("NO", "NC")
        for k in (1, 2, 3)
        for v in ("24 V", "20 V")
    ]
    values = [c for one in circuits for c in circuits_from(one)]
    together = assess_many(values)
    for value, found in zip(values, together, strict=True):
        (alone,) = assess_many([value])
        assert [(r.fault, r.effect) for r in alone.faults] == [(r.fault, r.effect) for r in found.faults]
        assert alone.sentence == found.sentence
