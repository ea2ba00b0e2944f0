"""Terminal list: what to take to the machine of one circuit."""

import pytest

from holdzero.compute.wiring import assess, assess_many, circuits_from, terminal_list
from holdzero.compute.wiring.contract import wiring_json


def listed(sensor, one, **more):
    (circuit,) = circuits_from({"sensor": sensor, "input": one, **more})
    return terminal_list(assess(circuit))


PNP = {"output": "PNP", "contact": "NC"}
IEC = {"kind": "IEC 61131-2 type 3", "name": "IN3"}


def test_switch_input_and_wires():
    found = listed(PNP, IEC, name="Y left home", axis="Y", side="L")
    assert (found.name, found.axis, found.side) == ("Y left home", "Y", "L")
    assert (found.input, found.switches) == ("IN3, IEC 61131-2 type 3", ("-B1, PNP NC",))
    assert found.setting == "Set the controller so that on means clear and off means tripped."
    assert [(w.start, w.end) for w in found.wires[:3]] == [
        ("-B1:1", "-X1:1"),
        ("-B1:2", "-X1:2"),
        ("-B1:3", "-X1:3"),
    ]


def test_a_break_for_every_conductor_and_every_plug():
    """What is expected is the row of the fault table: with protection diodes the blue wire hides."""
    found = listed(PNP, IEC)
    assert [one.wire for one in found.breaks] == [
        "BN: -B1:1 to -X1:1",
        "BK: -B1:2 to -X1:2",
        "BU: -B1:3 to -X1:3",
        "BU: -A1:COM to 0 V",
        "The sensor unplugged",
    ]
    assert [one.shows for one in found.breaks] == [True, True, False, True, True]
    assert found.breaks[2].text == "The input stays on, whatever the switch does: this break hides."


@pytest.mark.parametrize(
    ("sensor", "one", "text"),
    [
        ({"output": "dry contact", "contact": "NC"}, IEC, "The input goes off: it reads tripped at once."),
        (
            {"output": "dry contact", "contact": "NC"},
            IEC | {"use": "home", "proves_release": True},
            "The input goes off: homing refuses, since the switch never releases.",
        ),
        (
            {"output": "dry contact", "contact": "NC"},
            {"kind": "3.3 V logic", "pull_up": "1 kohm"},
            "The input goes high: it reads tripped at once.",
        ),
        (
            {"output": "dry contact", "contact": "NO"},
            IEC,
            "The input stays off, whatever the switch does: this break hides.",
        ),
    ],
)
def test_what_the_first_core_does_broken(sensor, one, text):
    assert listed(sensor, one).breaks[0].text == text


def test_a_contact_alone_goes_to_the_controllers_own_0_v():
    found = listed({"output": "dry contact", "contact": "NO"}, {"kind": "3.3 V logic"})
    assert [(w.start, w.end) for w in found.wires] == [
        ("-B1:13", "-X1:1"),
        ("-B1:14", "-X1:2"),
        ("-X1:1", "-A1:0V"),
        ("-X1:2", "-A1:IN"),
    ]


@pytest.mark.parametrize(("cable", "section"), [({}, None), ({"length": "3 m"}, 0.5)])
def test_a_section_is_told_with_a_length_alone(cable, section):
    found = listed(PNP, IEC, cable={"section": "0.5 mm2", **cable})
    assert [w.section_mm2 for w in found.wires[:3]] == [section] * 3


def test_the_wires_of_an_input_with_a_supply_of_its_own():
    """Its common hangs on its own plus; the two 0 V are joined."""
    found = listed({"output": "NPN", "contact": "NC"}, {**IEC, "common": "plus", "supply": "20 V"})
    assert [(w.start, w.end, w.colour) for w in found.wires[-2:]] == [
        ("-A1:COM", "-A1:V+", "RD"),
        ("-A1:0V", "0 V", "BU"),
    ]


def test_none_where_it_is_not_said_what_is_joined():
    assert listed({}, IEC) is None


def test_json():
    found = listed(PNP, IEC).as_json()
    assert found["breaks"][0] == {
        "open": "BN: -B1:1 to -X1:1",
        "shows": True,
        "text": "The input goes off: it reads tripped at once.",
    }
    assert found["terminals"][0]["from"] == "-B1:1"


TWO_IN_SERIES = {
    "sensor": [
        {"name": "home", "output": "dry contact", "contact": "NC", "cable_length": "3 m"},
        {"name": "limit", "output": "dry contact", "contact": "NC", "colours": ["WH", "GN"]},
    ],
    "chain": {"join": "series"},
    "input": {"kind": "logic", "supply": "3.3 V", "pull_up": "1 kohm", "name": "IN3"},
    "cable": {"length": "14.5 m", "section": "0.25 mm2"},
}


class TestTwoInSeries:
    """Each switch has a cable of its own; they are linked on the terminal strip."""

    def assessed(self):
        (circuit,) = circuits_from(TWO_IN_SERIES)
        return assess(circuit)

    def test_both_cables_with_their_lengths_and_colours_and_the_link(self):
        wires = terminal_list(self.assessed()).wires
        cores = [(w.start, w.end, w.colour, w.length_m) for w in wires if w.length_m]
        assert cores == [
            ("-home:11", "-X1:1", "BU", 3.0),
            ("-home:12", "-X1:2", "BK", 3.0),
            ("-limit:11", "-X1:3", "WH", 14.5),
            ("-limit:12", "-X1:4", "GN", 14.5),
        ]
        ends = [(w.start, w.end) for w in wires]
        assert ("-X1:2", "-X1:3") in ends
        assert sum("-X1:2" in pair for pair in ends) == 2  # the core and the link: no wire into the cabinet

    def test_a_break_of_each_core_and_of_the_link(self):
        rows = {row.fault: row.effect for row in self.assessed().faults if row.kind == "open"}
        broken = ("home BU", "home BK", "limit link", "limit WH", "limit GN")
        assert {name: rows[f"{name} open"] for name in broken} == dict.fromkeys(broken, "stops")

    def test_the_resistance_is_that_of_both_cables(self):
        """By hand: twice 3 m and twice 14.5 m of 79 ohm/km (IEC 60228), two contacts of 0.2 ohm, under 1 kohm."""
        loop_ohm = 2 * (3 + 14.5) * 0.079 + 2 * 0.2
        assert self.assessed().clear.input_v == pytest.approx(3.3 * loop_ohm / (1000 + loop_ohm), rel=2e-3)


def test_in_json_a_circuit_that_is_not_said_has_no_terminals():
    """The other has one row a wire, from its sensor to the strip first."""
    said, unsaid = circuits_from({"circuit": [{"sensor": PNP, "input": IEC}, {"sensor": {}, "input": IEC}]})
    told = wiring_json(assess_many([said, unsaid]))["circuits"]
    assert [wire["from"] for wire in told[0]["terminals"]][:3] == ["-B1:1", "-B1:2", "-B1:3"]
    assert told[1]["terminals"] == []
    assert told[0]["layout"] == told[1]["layout"] != []
