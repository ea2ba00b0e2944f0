"""What is taken as usual, as figures: class-typical ones (common practice) unless a standard is named."""

from functools import reduce

import pytest

from holdzero.compute.wiring import assess_many, circuits_from
from holdzero.compute.wiring.cases import Bench, corners, states
from holdzero.compute.wiring.conductor import OHM_PER_KM, core_ohm, warm
from holdzero.compute.wiring.netlist import netlist
from holdzero.compute.wiring.network import GROUND, CurrentCurve, Network
from holdzero.compute.wiring.parts import diode, led
from holdzero.compute.wiring.seen import look
from holdzero.compute.wiring.terminals import place

IEC = {"kind": "IEC 61131-2 type 3"}
LOGIC = {"kind": "logic"}
OPTO = {"kind": "opto"}
PNP = {"output": "PNP"}
TWO_WIRE = {"output": "2-wire"}
CONTACT = {"output": "dry contact"}
LONG = {"cable": {"length": "10 m"}}


def made(sensor, one, **more):
    return circuits_from({"sensor": sensor, "input": one, **more})[0]


def figure(value):
    """A figure, or the nominal, least and most of one."""
    return (value.nominal, value.low, value.high) if hasattr(value, "nominal") else value


@pytest.mark.parametrize(
    ("sensor", "one", "more", "figures"),
    [
        (PNP, IEC, {}, {"supply.volt": (24, 21.6, 26.4), "supply.ohm": 0.05, "supply.joined_ohm": 1e-3}),
        (PNP, IEC, {"supply": {"voltage": "6.5 V"}}, {"supply.volt": (6.5, 5.85, 7.15)}),
        (PNP, IEC, {"supply": {"voltage": "6 V"}}, {"supply.volt": (6, 5.7, 6.3)}),
        (PNP, IEC, {"supply": {"voltage": "12 V"}}, {"supply.volt": (12, 10.8, 13.2)}),
        # inputs: with the pins of a controller, and with a coupler
        (PNP, LOGIC, {}, {"input.volt": (3.3, 3.135, 3.465), "input.pull_down_ohm": (45e3, 20e3, 65e3)}),
        ({"output": "NPN"}, LOGIC, {}, {"input.pull_up_ohm": (45e3, 20e3, 65e3), "input.clamp_v": 0.5}),
        (PNP, LOGIC, {"supply": {"voltage": "12 V"}}, {"input.volt": (3.3, 3.135, 3.465), "input.clamp_a": 1e-3}),
        (PNP, LOGIC, {"supply": {"voltage": "5 V"}}, {"input.volt": (5, 4.75, 5.25), "input.v_il": 0.8}),
        (PNP, OPTO, {}, {"input.series_ohm": (2200, 2090, 2310), "input.led_v": (1.1, 1.0, 1.4)}),
        (PNP, OPTO, {}, {"input.on_a": 3e-3, "input.off_a": 1e-3, "input.most_a": 20e-3}),
        (PNP, OPTO, {}, {"input.reverse_diode": False, "input.filter_s": 0.0}),
        # from its output side: (3.465 - 0.4) V and (3.135 - 0.7 x 3.465) V
        (PNP, OPTO | {"ctr": "0.25 to 3", "output_pull_up": "10 kohm"}, {}, {"input.on_a": 3.065 / 2500}),
        (PNP, OPTO | {"ctr": "0.25 to 3", "output_pull_up": "10 kohm"}, {}, {"input.off_a": 0.7095 / 30e3}),
        # sensors
        (PNP, IEC, {}, {"drop_v": (0.7, 0.3, 3.5), "ohm": 5.0, "leak_a": (0.1e-3, 0, 0.5e-3)}),
        (PNP, IEC, {}, {"own_a": (10e-3, 1e-3, 20e-3), "limit_a": 0.2, "rating_a": 0.2, "diodes": True}),
        (CONTACT | {"contact": "NC"}, IEC, {}, {"direct_opening": False, "contact_ohm": (0.2, 0.2, 1.0)}),
        (CONTACT | {"contact": "NC", "direct_opening": "yes"}, IEC, {}, {"direct_opening": True}),
        (PNP, IEC, {}, {"hold_v": 8.0, "least_a": (0, 0, 0), "reverse_protected": False}),
        (PNP, IEC, {"supply": {"voltage": "5 V"}}, {"hold_v": 4.0}),
        (PNP | {"supply": "10 V to 30 V"}, IEC, {}, {"hold_v": 9.0, "supply_low_v": 10, "supply_high_v": 30}),
        (PNP | {"drop": "2 V"}, IEC, {}, {"drop_v": (2, 0.3, 2), "ohm": 5.0}),
        (PNP | {"drop": "0.2 V"}, IEC, {}, {"drop_v": (0.2, 0.2, 0.2)}),
        (PNP | {"leakage": "0.3 mA"}, IEC, {}, {"leak_a": (0.3e-3, 0, 0.3e-3)}),
        (PNP | {"output_current": "50 mA"}, IEC, {}, {"rating_a": 0.05, "limit_a": 0.2}),
        (PNP | {"output_current": "0.4 A"}, IEC, {}, {"rating_a": 0.4, "limit_a": 0.4}),
        (TWO_WIRE, IEC, {}, {"drop_v": (5, 2.5, 8), "ohm": 10.0, "leak_a": (0.8e-3, 0, 1.5e-3)}),
        (TWO_WIRE, IEC, {}, {"least_a": (5e-3, 0, 5e-3), "limit_a": 0.1, "rating_a": 0.1}),
        (TWO_WIRE | {"drop": "8 V"}, IEC, {}, {"drop_v": (8, 2.5, 8), "ohm": 0.1}),
        (TWO_WIRE | {"least_current": "4 mA"}, IEC, {}, {"least_a": (4e-3, 4e-3, 4e-3)}),
        (CONTACT, IEC, {}, {"contact_ohm": (0.2, 0.2, 1.0), "limit_a": 1.0, "rating_a": 1.0}),
        (CONTACT, IEC, {}, {"drop_v": (0, 0, 0), "ohm": 0.0, "drop_unknown": False, "direct_opening": False}),
        (CONTACT | {"material": "reed"}, IEC, {}, {"limit_a": 0.5}),
        # the drop at a small current is not known of an output that takes current from a pin
        ({"output": "NPN"}, LOGIC, {}, {"drop_unknown": True, "feed": "minus"}),
        ({"output": "NPN"}, OPTO, {}, {"drop_unknown": False}),
        (PNP, LOGIC, {}, {"drop_unknown": False, "feed": "plus"}),
        ({"output": "NPN", "drop": "2 V"}, LOGIC, {}, {"drop_unknown": True, "drop_v": (0.7, 0.3, 2)}),
        ({"output": "NPN", "drop": "0.6 V"}, LOGIC, {}, {"drop_unknown": False, "drop_v": (0.6, 0.3, 0.6)}),
        ({"output": "NPN", "drop": "2 V", "drop_at": "1 mA"}, LOGIC, {}, {"drop_unknown": False}),
        # what a contact or a 2-wire sensor is fed from
        (CONTACT, OPTO | {"common": "plus"}, {}, {"feed": "minus"}),
        (CONTACT, OPTO | {"common": "minus"}, {}, {"feed": "plus"}),
        (CONTACT, LOGIC | {"pull_up": "1 kohm"}, {}, {"feed": "minus"}),
        (CONTACT, LOGIC | {"pull_down": "1 kohm"}, {}, {"feed": "logic"}),
        (TWO_WIRE, LOGIC | {"pull_down": "1 kohm"}, {}, {"feed": "plus"}),
        (CONTACT | {"feed": "logic"}, IEC, {}, {"feed": "plus"}),
        # cable
        (PNP, IEC, {}, {"cable.length_m": None, "cable.core_ohm": 1e-3, "cable.farad": (0, 0, 0)}),
        (PNP, IEC, LONG, {"cable.length_m": 10.0, "cable.core_ohm": 0.79, "cable.section_mm2": 0.25}),
        (PNP, IEC, LONG, {"cable.low_degc": 20.0, "cable.high_degc": 60.0, "cable.shared_by": 1}),
    ],
)
def test_figures(sensor, one, more, figures):
    circuit = made(sensor, one, **more)
    for path, expected in figures.items():
        start = circuit if "." in path else circuit.sensors[0]
        found = figure(reduce(getattr, path.split("."), start))
        assert found == (expected if isinstance(expected, str | None) else pytest.approx(expected)), path


@pytest.mark.parametrize(
    ("section", "ohm"),
    [(0.14, 138), (0.25, 79), (0.34, 56), (0.5, 40.1), (0.75, 26.7), (1.0, 20.0), (1.5, 13.7)],
)
def test_copper(section, ohm):
    """IEC 60228 class 5, tinned, from 0.5 mm2 on; DIN VDE 0295 below; 0.393 % a kelvin from 20 degC on."""
    assert OHM_PER_KM[section] == ohm
    assert core_ohm(20.0, section) == pytest.approx(20 * ohm / 1000)
    assert core_ohm(0.0, section) == 1e-3
    assert (warm(20.0), warm(60.0)) == pytest.approx((1.0, 1.1572))


class TestChain:
    """What becomes of one sensor said several times, and of several."""

    @pytest.mark.parametrize(("name", "names"), [("B1", ["B1", "B2", "B3"]), ("7", ["71", "72", "73"])])
    def test_names(self, name, names):
        circuit = made(CONTACT | {"name": name, "contact": "NC"}, IEC, chain={"count": 3})
        assert [sensor.name for sensor in circuit.sensors] == names
        assert circuit.chain == "series"

    @pytest.mark.parametrize(
        ("sensors", "chain"),
        [
            ([CONTACT | {"contact": "NC"}] * 2, "series"),
            ([CONTACT | {"contact": "NC"}, CONTACT | {"contact": "NO"}], "parallel"),
            ([PNP | {"contact": "NC"}] * 2, "parallel"),
            ([TWO_WIRE | {"contact": "NC"}] * 2, "series"),
            ([CONTACT | {"contact": "NC"}], None),
        ],
    )
    def test_joined_where_that_is_not_said(self, sensors, chain):
        """Contacts and 2-wire sensors that rest closed in a row, anything else side by side."""
        named = [sensor | {"name": f"S{k}"} for k, sensor in enumerate(sensors)]
        assert made(named, IEC).chain == chain


class TestAnInputOnASupplyOfItsOwn:
    """12 V for a coupler, 24 V for the sensor."""

    OWN = OPTO | {"supply": "12 V", "series_resistor": "2.2 kohm"}

    def test_a_pull_up_to_the_sensors_supply(self):
        """NPN off, common at 0 V: 24 V less 1.1 V over twice 2.2 kohm and 15 ohm, 0.1 mA of it leaks away."""
        one = self.OWN | {"common": "minus", "pull_up": "2.2 kohm"}
        (found,) = assess_many([made({"output": "NPN", "contact": "NO"}, one)])
        assert found.clear.input_a == pytest.approx((22.9 - 2200 * 0.1e-3) / 4415, rel=3e-3)

    def test_a_pull_up_to_the_inputs_own(self):
        """Common at 12 V: nothing flows with the NPN off but its leakage: 0.01 mA through 10 kohm."""
        one = self.OWN | {"common": "plus", "pull_up": "10 kohm"}
        (found,) = assess_many([made({"output": "NPN", "contact": "NO", "leakage": "0.01 mA"}, one)])
        assert 10.9 < found.clear.input_v < 12.0


def test_a_warm_cable_counts_where_only_what_is_stated_does():
    """100 m there and back at 60 degC and the contact's 0.2 ohm, under 1 kohm to 5 V: 90.7 mV, not 78.7 mV."""
    one = LOGIC | {"supply": "5 V +- 0.001 %", "pull_up": "1 kohm +- 0.001 %"}
    circuit = made(CONTACT | {"contact": "NC"}, one, cable={"length": "100 m", "section": "0.25 mm2"})
    net = netlist(circuit)
    seen = look(Bench(net, [circuit], corners(1, net), stated_only=True))
    closed = seen.input_v[0].reshape(2, -1)[0]
    loop = 2 * 7.9 * 1.1572 + 0.2
    assert closed.max() == pytest.approx(5 * loop / (1000 + loop), rel=1e-3)
    assert closed.min() == pytest.approx(5 * 16 / 1016, rel=1e-3)


def test_what_an_input_of_that_kind_does_not_have_is_told():
    circuit = made(PNP, IEC | {"v_ih": "2 V", "series_resistor": "1 kohm", "i_on": "3 mA"})
    assert circuit.notes == (
        "input.v_ih is kept but not used: no IEC input has it.",
        "input.i_on is kept but not used: no IEC input has it.",
    )
    assert figure(circuit.input.filter_ohm)[0] == 1000.0  # a resistor in front is one, whatever it is called
    assert made(PNP, LOGIC | {"filter_resistor": "1 kohm"}).input.series_ohm.nominal == 1000.0


@pytest.mark.parametrize("dead", ["a", "b"])
def test_a_sensor_without_its_supply_trips_nothing(dead):
    """Two NPN side by side on a pin: what the input sees does not change when the one without brown wire trips."""
    sensors = [{"output": "NPN", "contact": "NO", "name": name} for name in sorted("ab", key=dead.__ne__)]
    pin = LOGIC | {"supply": "5 V", "pull_up": "1 kohm"}
    (found,) = assess_many([made(sensors, pin, chain={"join": "parallel"})])
    row = next(row for row in found.faults if row.fault == f"{dead} BN open")
    assert (row.reads_clear, row.reads_tripped) == ("undefined", "undefined")
    assert row.clear_v == pytest.approx(row.tripped_v)


@pytest.mark.parametrize(("shared", "place_of_plus"), [("yes", "-F1:2"), ("no", "-A1:V+")])
def test_where_the_plus_of_a_pin_is_found(shared, place_of_plus):
    circuit = made(CONTACT, LOGIC | {"supply": "5 V"}, supply={"voltage": "5 V", "shared": shared})
    assert place(circuit, "V") == place_of_plus


def test_cables_that_load_one_input_are_added():
    """The capacitance of 10 m and of 3 m of its own; of none that is stated but 3 m, of those."""
    sensors = [
        CONTACT | {"contact": "NC", "name": "a", "cable_length": "3 m"},
        CONTACT | {"contact": "NC", "name": "b"},
    ]
    assert figure(made(sensors, IEC, cable={"length": "10 m"}).cable.farad)[0] == pytest.approx(13 * 100e-12)
    assert figure(made(sensors, IEC).cable.farad)[0] == pytest.approx(3 * 100e-12)


@pytest.mark.parametrize(("count", "says"), [(2, False), (3, True)])
def test_two_3_wire_sensors_in_a_row_are_the_most(count, says):
    (found,) = assess_many([made(PNP | {"contact": "NC"}, IEC, chain={"join": "series", "count": count})])
    told = [
        words
        for words in (found.sentence, *found.advice)
        if f"each of the {count} sensors in series" in words.lower()
    ]
    assert told
    assert any("two is the most" in words for words in told) is says


@pytest.mark.parametrize(("curve", "volt"), [(diode(), 0.7), (led(knee_v=1.1), 1.1)])
def test_what_a_diode_and_a_led_take(curve, volt):
    """10 V behind 95 ohm: over their knee 5 ohm of a protection diode, 15 ohm of a LED."""
    network = Network(1)
    network.add("supply", "a", GROUND, CurrentCurve.supply(10.0, 95.0))
    network.add("part", "a", GROUND, curve)
    own_ohm = 5.0 if volt == 0.7 else 15.0
    assert network.solve().amp("part").item() == pytest.approx((10 - volt) / (95 + own_ohm), rel=1e-3)


def test_margins_of_a_pin_at_the_ends_of_its_own_supply():
    """Open: 4.5 V less 10 uA through 1.05 kohm, of 3 V; closed: 5.5 V over 0.95 kohm and 1 ohm, of 1.2 V."""
    pin = LOGIC | {"supply": "5 V +- 10 %", "pull_up": "1 kohm", "v_ih": "3 V", "v_il": "1.2 V"}
    (found,) = assess_many([made(CONTACT | {"contact": "NC"}, pin)])
    assert found.tripped.margin_v == pytest.approx(4.5 - 10e-6 * 1050 - 3, abs=1e-3)
    assert found.clear.margin_v == pytest.approx(1.2 - 5.5 * 1 / 951, abs=1e-3)


@pytest.mark.parametrize(("volt", "logic_v"), [("5.5 V", 5.5), ("5.6 V", 3.3), ("3 V", 3.0)])
def test_a_pin_hangs_on_what_it_bears(volt, logic_v):
    """On the sensors' supply up to 5.5 V, else on 3.3 V."""
    assert made(CONTACT, LOGIC, supply={"voltage": volt}).input.volt.nominal == logic_v


def test_what_is_stated_of_an_output_counts_as_stated():
    """Leakage on the sheet is; what is usual is ours."""
    assert made(PNP | {"leakage": "0.3 mA"}, IEC).sensors[0].leak_a.stated
    assert not made(PNP, IEC).sensors[0].leak_a.stated


@pytest.mark.parametrize(
    ("cable", "clauses"),
    [
        ({}, ["no cable length stated: its resistance is left out"]),
        ({"section": "0.5 mm2"}, ["no cable length stated: its resistance is left out"]),
        ({"length": "10 m"}, ["cores of 0.25 mm²"]),
        ({"length": "10 m", "section": "0.5 mm2"}, []),
    ],
)
def test_what_is_said_of_a_cable_takes_its_clause_away(cable, clauses):
    told = made(PNP, IEC, cable=cable | {"capacitance": "1 nF"}).assumed
    assert [clause for clause in told if "cable" in clause or "cores" in clause] == clauses


@pytest.mark.parametrize(
    ("sensor", "one", "unknown"),
    [
        ({"output": "NPN"}, LOGIC, True),
        ({"output": "NPN"}, OPTO, False),
        ({"output": "NPN", "drop": "2 V"}, LOGIC, True),
        ({"output": "NPN", "drop": "2 V", "drop_at": "10 mA"}, LOGIC, False),
        ({"output": "NPN", "drop": "2 V", "drop_at": "11 mA"}, LOGIC, True),
        ({"output": "NPN", "drop": "0.8 V"}, LOGIC, False),
        (PNP, LOGIC, False),
        (CONTACT, LOGIC, False),
        (TWO_WIRE, LOGIC, False),
        (TWO_WIRE | {"drop": "2 V"}, LOGIC, False),
    ],
)
def test_of_which_output_the_drop_at_a_small_current_is_not_known(sensor, one, unknown):
    """One that sinks from a pin, whose sheet gives more than a low of 0.8 V, and that not at 10 mA or less."""
    assert made(sensor, one).sensors[0].drop_unknown is unknown


@pytest.mark.parametrize("turned", [False, True])
def test_one_drop_that_is_not_known_is_enough_for_not_to_say(turned):
    """Two NPN side by side: of one the sheet tells 0.4 V at 5 mA, of the other nothing."""
    told = {"output": "NPN", "contact": "NO", "drop": "0.4 V", "drop_at": "5 mA", "name": "a"}
    silent = {"output": "NPN", "contact": "NO", "name": "b"}
    pin = {"kind": "logic", "supply": "3.3 V", "pull_up": "1 kohm", "v_ih": "2 V"}
    sensors = [silent, told] if turned else [told, silent]
    assert assess_many([made(sensors, pin, chain={"join": "parallel"})])[0].verdict == "cannot say"


@pytest.mark.parametrize(("output", "common"), [("NPN", "plus"), ("PNP", "minus")])
@pytest.mark.parametrize(
    ("one", "names"),
    [
        (
            {"kind": "opto", "bleed": "4.7 kohm", "shunt": "1 kohm", "series_resistor": "1 kohm"},
            ("bleed resistor", "shunt resistor", "series resistor", "LED"),
        ),
        (IEC | {"bleed": "4.7 kohm"}, ("bleed resistor", "input")),
    ],
)
def test_what_lies_in_an_input_counts_from_its_more_positive_end(output, common, one, names):
    """So that its current is above zero with the output on, whichever rail the common is joined to."""
    circuit = made({"output": output, "contact": "NC"}, one | {"common": common})
    solved = Bench(netlist(circuit), [circuit], states(1)).network().solve()
    assert all(solved.amp(name)[0, 0] > 0.5e-3 for name in names)


@pytest.mark.parametrize(("kind", "ma_at_30_v", "ma_per_v"), [(1, 8, 4 / 15), (2, 8, 1 / 19), (3, 3, 0.4 / 19)])
def test_an_input_above_its_most_goes_on_as_below(kind, ma_at_30_v, ma_per_v):
    """2 V above the 30 V of IEC 61131-2: damage, with the current that our line has up to there."""
    supply = {"voltage": "32 V +- 0.001 V"}
    found = assess_many([made(CONTACT | {"contact": "NC"}, {"kind": f"IEC 61131-2 type {kind}"}, supply=supply)])[
        0
    ]
    assert found.verdict == "damage"
    assert found.clear.input_a * 1e3 - ma_at_30_v == pytest.approx(2 * ma_per_v, rel=0.06)


def test_a_resistor_inside_that_holds_an_output_down():
    """0.5 mA leak into 1 kohm and 47 kohm; at worst 30 % and 5 % more, and 10 uA of the pin on top."""
    pin = {"kind": "logic", "supply": "5 V", "pull_down": "47 kohm", "v_il": "0.8 V"}
    circuit = made(PNP | {"leakage": "0.5 mA", "pull_down": "1 kohm"}, pin)
    (found,) = assess_many([circuit])
    assert found.clear.input_v == pytest.approx(0.5 / (1 + 1 / 47), rel=2e-3)
    assert found.clear.margin_v == pytest.approx(0.8 - 0.51 / (1 / 1.3 + 1 / 49.35), abs=2e-3)


@pytest.mark.parametrize(("pull_up", "reads"), [("1 kohm", "clear"), ("18 kohm", "undefined")])
def test_a_sensor_that_is_never_on_does_not_turn_the_setting_round(pull_up, reads):
    """Two NPN that short their own resistor: one is made for 30 V and more, the other tells what off means.

    Two of 18 kohm at once are too weak for on, but an output that is on is off for sure.
    """
    alive = {"output": "NPN", "contact": "NO", "pull_up": pull_up, "name": "a"}
    dead = alive | {"name": "b", "supply": "30 V to 40 V"}
    for sensors in ([alive, dead], [dead, alive]):
        one = IEC | {"common": "minus"}
        (found,) = assess_many([made(sensors, one, chain={"join": "parallel"}, supply={"voltage": "24 V"})])
        assert found.setting == "Set the controller so that on means clear and off means tripped."
        assert (found.verdict, found.clear.reads, found.tripped.reads) == ("does not work", reads, reads)
