"""Limits at which a reading turns, parts to buy, what is taken as usual: by hand, or from the standards."""

import pytest

from holdzero.compute.wiring import assess, assess_many, circuits_from, terminal_list
from holdzero.compute.wiring.sentences import weak
from holdzero.compute.wiring.windows import e24
from holdzero.compute.wiring.words import ohms
from wiring_cases import every

CONTACT = {"output": "dry contact", "contact": "NO"}
CMOS = {"kind": "logic", "supply": "5 V", "v_il": "0.8 V", "v_ih": "2 V"}


def judged(sensor, one, **more):
    return assess_many(circuits_from({"sensor": sensor, "input": one, **more}))[0]


def test_every_value_of_the_e24_series():
    """IEC 60063: the 24th roots of ten to two digits, but for eight values that are older than the rule."""
    older = {26: 27, 29: 30, 32: 33, 35: 36, 38: 39, 42: 43, 46: 47, 83: 82}
    rounded = [round(10 ** (1 + k / 24)) for k in range(24)]
    assert e24(10, 99) == [older.get(value, value) for value in rounded]
    assert e24(1e3, 9.9e3) == [100 * value for value in e24(10, 99)]
    assert (e24()[0], e24()[-1]) == (1.0, 1e6)


class TestWhereAReadingTurns:
    """A hair inside the limit is read, a hair outside is not; figures are good to 0.1 %, and so much is forgiven.

    IEC 61131-2: on from 15 V (type 1) or 11 V (2, 3), off up to 5 V.
    """

    @pytest.mark.parametrize(
        ("kind", "volt", "reads"),
        [
            (1, 14.97, "undefined"),
            (1, 14.995, "tripped"),
            (2, 10.98, "undefined"),
            (2, 10.995, "tripped"),
            (3, 10.98, "undefined"),
            (3, 10.995, "tripped"),
            *((kind, 5.003, "clear") for kind in (1, 2, 3)),
            *((kind, 5.03, "undefined") for kind in (1, 2, 3)),
        ],
    )
    def test_iec(self, kind, volt, reads):
        """A contact straight from the supply: 1 mV or 2 are lost on the way."""
        found = judged(CONTACT, {"kind": f"IEC 61131-2 type {kind}"}, supply={"voltage": f"{volt} V"})
        assert found.tripped.input_v == pytest.approx(volt, abs=0.003)
        assert (found.clear.reads, found.tripped.reads) == ("clear", reads)

    @pytest.mark.parametrize(
        ("ohm", "reads"),
        [(7600, "tripped"), (7622, "tripped"), (7640, "undefined"), (22900, "clear"), (22840, "undefined")],
    )
    def test_coupler(self, ohm, reads):
        """(24 V - 1.1 V)/(R + 15.25 ohm): on from 3 mA, off up to 1 mA."""
        found = judged(CONTACT, {"kind": "opto", "common": "minus", "series_resistor": f"{ohm} ohm"})
        assert found.tripped.input_a == pytest.approx(22.9 / (ohm + 15.25), rel=2e-3)
        assert found.tripped.reads == reads

    def test_coupler_of_which_nothing_is_said(self):
        """1.0 to 1.4 V across its LED, 5 % and 15.25 ohm: (21.6 - 1.4) V least, (26.4 - 1.0) V most, by hand."""
        one = {"kind": "opto", "common": "minus"}
        found = judged(CONTACT, {**one, "series_resistor": "2.2 kohm"})
        assert found.tripped.margin_a == pytest.approx(20.2 / (1.05 * 2200 + 15.25) - 3e-3, rel=2e-3)
        assert 25.4 / (0.95 * 1317 + 15.25) > 20e-3 > 25.4 / (0.95 * 1325 + 15.25)
        harmed = [judged(CONTACT, {**one, "series_resistor": f"{ohm} ohm"}).damage for ohm in (1317, 1325)]
        assert [bool(damage) for damage in harmed] == [True, False]

    @pytest.mark.parametrize(("ohm", "reads"), [(1904, "tripped"), (1906, "tripped"), (1909, "undefined")])
    def test_low_of_a_pin(self, ohm, reads):
        """A worn contact of 1904.8 ohm under 10 kohm leaves 0.8 V of 5 V."""
        found = judged({**CONTACT, "contact_resistance": f"{ohm} ohm"}, {**CMOS, "pull_up": "10 kohm"})
        assert found.tripped.input_v == pytest.approx(5 * ohm / (ohm + 10e3), rel=1e-4)
        assert found.tripped.reads == reads

    @pytest.mark.parametrize(("ohm", "reads"), [(14990, "tripped"), (15010, "tripped"), (15040, "undefined")])
    def test_high_of_a_pin(self, ohm, reads):
        """From 5 V through 15 kohm onto 10 kohm: 2 V."""
        one = {**CMOS, "pull_down": "10 kohm"}
        found = judged({**CONTACT, "contact_resistance": f"{ohm} ohm", "feed": "logic"}, one)
        assert found.tripped.input_v == pytest.approx(50e3 / (ohm + 10e3), rel=1e-4)
        assert found.tripped.reads == reads


class TestRoomOfAnInput:
    """What is left at 24 V less 10 % of what IEC 61131-2 asks, the current 13 % below our curve, by hand."""

    @pytest.mark.parametrize(
        ("kind", "least_v", "curve_ma", "least_ma"),
        [
            (1, 15.0, 4 + 4 * 6.6 / 15, 2.0),
            (2, 11.0, 7 + 1 * 10.6 / 19, 6.0),
            (3, 11.0, 2.6 + 0.4 * 10.6 / 19, 2.0),
        ],
    )
    def test_on(self, kind, least_v, curve_ma, least_ma):
        found = judged(CONTACT, {"kind": f"IEC 61131-2 type {kind}"})
        assert found.tripped.margin_v == pytest.approx(21.6 - least_v, abs=0.01)
        assert found.tripped.margin_a * 1e3 == pytest.approx(0.87 * curve_ma - least_ma, abs=0.005)
        assert found.tripped.worst_supply_v == pytest.approx(21.6)
        at_nominal = judged(CONTACT, {"kind": f"IEC 61131-2 type {kind}"}, supply={"voltage": "21.6 V"})
        assert at_nominal.tripped.input_a * 1e3 == pytest.approx(curve_ma, abs=0.005)

    @pytest.mark.parametrize(("kind", "ma_at_5_v"), [(1, 4 / 3), (2, 2.4), (3, 1.8)])
    def test_off(self, kind, ma_at_5_v):
        """1 mA leaks into an input that takes 13 % less than usual: the volts are then the surer."""
        sensor = {"output": "2-wire", "contact": "NO", "leakage": "1 mA", "drop": "5 V"}
        found = judged(sensor, {"kind": f"IEC 61131-2 type {kind}"})
        assert found.clear.input_v == pytest.approx(5 / ma_at_5_v, rel=2e-3)
        assert found.clear.margin_v == pytest.approx(5 - 5 / (0.87 * ma_at_5_v), abs=0.01)
        assert found.clear.margin_a is None

    @pytest.mark.parametrize(("kind", "off_ma", "ma_per_v"), [(1, 0.5, 0.2), (2, 2.0, 1.0), (3, 1.5, 0.36)])
    def test_off_the_wrong_way_round(self, kind, off_ma, ma_per_v):
        """20 V of the input's own less (24 - 0.5) V: -3.5 V, where so many mA a volt less 13 % flow back."""
        sensor = {"output": "push-pull", "contact": "NC", "drop": "0.5 V +- 0.001 V", "drop_at": "5 mA"}
        one = {"kind": f"IEC 61131-2 type {kind}", "common": "plus", "supply": "20 V +- 0.001 V"}
        found = judged(sensor, one, supply={"voltage": "24 V +- 0.001 V"})
        assert found.clear.margin_v is None
        assert found.clear.margin_a * 1e3 == pytest.approx(off_ma + 0.87 * ma_per_v * 3.5, rel=0.01)

    def test_in_milliamperes_outside(self):
        """JSON has mA where the inside has A."""
        found = judged(CONTACT, {"kind": "IEC 61131-2 type 3"}, supply={"voltage": "11 V +- 0.1 %"})
        as_json = found.tripped.as_json()
        assert as_json["input_ma"] == pytest.approx(2.6, abs=0.001)
        assert as_json["margin_ma"] == pytest.approx(0.87 * 2.6 - 2, abs=0.002)


# kind, ohm, window low and high, W, verdict; 24 V +-10 %, resistors +-5 %
PARTS = {
    "weak pull-up": (
        {"sensor": {"output": "NPN", "drop": "0.3 V"}, "input": {"kind": "logic", "supply": "3.3 V"}},
        # low: (3.465 - 0.8) V through 5 ohm on a knee of 0.3 V; high: (3.135 - 0.7 x 3.465) V over 0.5 mA + 10 uA
        ("pull-up", 470.0, 2.665 * 5 / 0.5, 0.7095 / 0.51e-3, 3.465**2 / 470),
        # low: 25.4 V at 20 mA; high: (21.6 - 0.3 - 1.4) V at 3 mA
        ("opto-coupler", 4700.0, 1270.0, 19.9 / 3e-3, 25.4**2 / 4700),
    ),
    "leaking 2-wire": (
        {
            "sensor": {"output": "2-wire", "leakage": "1.5 mA", "drop": "5 V"},
            "input": {"kind": "IEC 61131-2 type 1"},
        },
        # high: 5 V over 1.5 mA - 0.5 mA, less than (21.6 - 5) V over 5 mA - 2 mA
        ("bleed", 4700.0, None, 5000.0, 26.4**2 / 4700),
    ),
    "leaking 2-wire that needs 6.5 mA": (
        {
            "sensor": {"output": "2-wire", "leakage": "1.5 mA", "drop": "5 V", "least_current": "6.5 mA"},
            "input": {"kind": "IEC 61131-2 type 1"},
        },
        # high: 16.6 V over 6.5 mA - 2 mA
        ("bleed", 3300.0, None, 16.6 / 4.5e-3, 26.4**2 / 3300),
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
        # high: 1 V over 1.5 mA - 0.5 mA
        ("shunt", 910.0, None, 1000.0, 1.4**2 / 910),
        # high: (21.6 - 3.5 - 1.4) V at 3 mA and what the shunt takes
        ("series", 2700.0, 1270.0, 16.7 / (3e-3 + 1.4 / 910), 25.4**2 / 2700),
    ),
    "LED starved": (
        {"sensor": {"output": "PNP"}, "input": {"kind": "opto", "common": "minus", "series_resistor": "10 kohm"}},
        ("series", 3900.0, 1270.0, 16.7 / 3e-3, 25.4**2 / 3900),
    ),
    "NPN into a sinking input": (
        {"sensor": {"output": "NPN"}, "input": {"kind": "IEC 61131-2 type 3"}},
        # low: half of 200 mA at 26.4 V; high: (21.6 - 11) V at 15 % over 2.6 mA, and 0.5 mA that leak
        ("pull-up", 2200.0, 264.0, 10.6 / 3.49e-3, 26.4**2 / 2200),
    ),
    "PNP to a coupler that wants 0 V": (
        {
            "sensor": {"output": "PNP"},
            "input": {"kind": "opto", "common": "plus", "series_resistor": "1 kohm +- 1 %"},
        },
        # high: (21.6 - 1.4) V less 3 mA x 1.01 kohm, at 3 mA and 0.5 mA that leak
        ("pull-down", 3300.0, 264.0, 17.17 / 3.5e-3, 26.4**2 / 3300),
    ),
    "PNP into a pin": (
        {
            "sensor": {"output": "PNP", "leakage": "0.1 mA", "drop": "1 V"},
            "input": {"kind": "logic", "supply": "3.3 V", "v_ih": "2 V"},
        },
        # 2 V of 20.6 V to 3.435 V of 26.4 V; the lower resistor at most 0.8 V over 0.1 mA
        ("divider", 12000.0, None, 8000.0, 26.4**2 / 13500),
        # high: (21.6 - 1 - 1.4) V at 3 mA
        ("opto-coupler", 4300.0, 1270.0, 6400.0, 25.4**2 / 4300),
    ),
}


@pytest.mark.parametrize("name", PARTS)
def test_parts_to_buy(name):
    """Window, value out of the E24 series and watts of each resistor that is proposed, by hand."""
    circuit, *parts = PARTS[name]
    found = {remedy.kind: remedy for remedy in assess(circuits_from(circuit)[0]).remedies if remedy.ohm}
    assert list(found) == [kind for kind, *_ in parts]
    for kind, ohm, low, high, heat_w in parts:
        remedy = found[kind]
        assert remedy.ohm == ohm
        assert remedy.low_ohm == (low if low is None else pytest.approx(low, rel=1e-6))
        assert remedy.high_ohm == pytest.approx(high, rel=1e-6)
        assert remedy.heat_w == pytest.approx(heat_w, rel=1e-6)
        sold = next(sold for sold in (0.25, 0.5, 1.0, 2.0) if heat_w <= sold / 2)
        assert kind in ("pull-up", "shunt", "divider") or f"{sold:g}\u202fW" in remedy.text
        assert ohms(ohm) in remedy.text


def test_the_divider_is_the_nearest_to_the_middle_of_its_window():
    """Of all pairs of the series the one whose ratio is nearest to the geometric mean: 12 kohm and 1.5 kohm."""
    middle = (2 / 20.6 * 3.435 / 26.4) ** 0.5
    pairs = [(upper, lower) for upper in e24(2e3, 22e3) for lower in e24(680, 2200)]
    assert min(pairs, key=lambda pair: abs(pair[1] / sum(pair) - middle)) == (12e3, 1500.0)
    (found,) = (r for r in assess(circuits_from(PARTS["PNP into a pin"][0])[0]).remedies if r.kind == "divider")
    made = found.circuit.input
    assert (made.series_ohm.nominal, made.pull_down_ohm.nominal, made.pull_up_ohm) == (12e3, 1500.0, None)


SUPPLY_SAID = ("supply 24 V, since none is stated", "supply within ±10 % of 24 V")
LOGIC_SAID = ("logic supply 3.3 V, since none is stated", "logic supply within ±5 % of 3.3 V")
WATCHED = "the controller watches the input all the time, as for a limit, and not only while homing"
PIN_SAID = (
    "V_IL 0.8 V, the lowest of the usual logic families",
    "V_IH 0.7 × the logic supply, the highest of the usual logic families",
    "clamp diodes at the pin, but not to be leaned on",
)
OUTPUT_SAID = (
    "0.7 V and 5 Ω across an output that is on, at most 3.5 V (IEC 60947-5-2)",
    "0.1 mA through the output when off, at most 0.5 mA (IEC 60947-5-2)",
    "10 mA for the sensor itself, 1 mA to 20 mA",
    "protection diodes inside the sensor, until the test with one wire pulled shows otherwise",
    "the output carries 200 mA at most",
)
TWO_WIRE_SAID = (
    "5 V across a 2-wire sensor that is on, at most 8 V (IEC 60947-5-2)",
    "0.8 mA through the output when off, at most 1.5 mA (IEC 60947-5-2)",
    "a 2-wire sensor needs 5 mA at most to hold itself on (IEC 60947-5-2)",
    "the output carries 100 mA at most",
)
COUPLER_SAID = (
    "2.2 kΩ in series with the opto-coupler's LED",
    "the opto-coupler is on from 3 mA and off up to 1 mA of LED current",
)
HARDER = "NO, the harder case, since it is not stated whether the output is NO or NC"
EARTH, JOINED = "0 V is joined to the frame (earth)", "the 0 V of both supplies are joined"
NO_CABLE = "no cable length stated: its resistance is left out"
INSIDE = "the pin has only its internal pull-{}, 20 kΩ to 65 kΩ"
SUITS = "the opto-coupler's common is joined to {}, which suits the sensor"
BARE = {
    ("PNP", "IEC 61131-2 type 3"): (*SUPPLY_SAID, WATCHED, *OUTPUT_SAID, HARDER, EARTH, NO_CABLE),
    ("PNP", "IEC 61131-2"): (
        *SUPPLY_SAID,
        WATCHED,
        "an input of type 3, since its type is not stated",
        *OUTPUT_SAID,
        HARDER,
        EARTH,
        NO_CABLE,
    ),
    ("NPN", "logic"): (
        *SUPPLY_SAID,
        *LOGIC_SAID,
        WATCHED,
        INSIDE.format("up"),
        *PIN_SAID,
        *OUTPUT_SAID,
        HARDER,
        EARTH,
        JOINED,
        NO_CABLE,
    ),
    ("PNP", "logic"): (
        *SUPPLY_SAID,
        *LOGIC_SAID,
        WATCHED,
        INSIDE.format("down"),
        *PIN_SAID,
        *OUTPUT_SAID,
        HARDER,
        EARTH,
        JOINED,
        NO_CABLE,
    ),
    ("NPN", "opto"): (
        *SUPPLY_SAID, WATCHED, SUITS.format("+"), *COUPLER_SAID, *OUTPUT_SAID, HARDER, EARTH, NO_CABLE,
    ),
    ("2-wire", "opto"): (
        *SUPPLY_SAID, WATCHED, SUITS.format("0 V"), *COUPLER_SAID, *TWO_WIRE_SAID, HARDER, EARTH, NO_CABLE,
    ),
    ("dry contact", "5 V logic"): (
        *SUPPLY_SAID,
        "logic supply within ±5 % of 5 V",
        WATCHED,
        INSIDE.format("up"),
        *PIN_SAID,
        "the contact carries 1 A at most",
        HARDER,
        EARTH,
        JOINED,
        NO_CABLE,
    ),
}  # fmt: skip

# what is said, and which clause (its beginning) it makes needless
SAID = [
    ("supply", {"voltage": "24 V +- 5 %"}, ("supply",)),
    ("supply", {"voltage": "24 V"}, ("supply 24 V",)),
    ("supply", {"earthed": "no"}, ("0 V is joined to",)),
    ("supply", {"joined": "no"}, ("the 0 V of both",)),
    ("supply", {"join_resistance": "1 ohm"}, ("the 0 V of both",)),
    ("supply", {"shared": "yes"}, ("the 0 V of both",)),
    ("sensor", {"contact": "NC"}, ("NO, the harder",)),
    ("sensor", {"leakage": "0.1 mA"}, ("0.1 mA through", "0.8 mA through")),
    ("sensor", {"own_current": "5 mA"}, ("10 mA for the sensor",)),
    ("sensor", {"least_current": "2 mA"}, ("a 2-wire sensor needs",)),
    ("sensor", {"protection_diodes": "no"}, ("protection diodes",)),
    ("sensor", {"output_current": "50 mA"}, ("the output carries", "the contact carries")),
    ("sensor", {"drop": "0.4 V", "drop_at": "5 mA"}, ("0.7 V and 5", "5 V across")),
    ("input", {"use": "limit"}, ("the controller watches",)),
    ("input", {"use": "home", "proves_release": "yes"}, ("the controller watches",)),
    ("input", {"pull_up": "1 kohm"}, ("the pin has only",)),
    ("input", {"pull_down": "1 kohm"}, ("the pin has only",)),
    ("input", {"v_il": "0.9 V"}, ("V_IL",)),
    ("input", {"v_ih": "2 V"}, ("V_IH",)),
    ("input", {"clamp": "no"}, ("clamp diodes",)),
    ("input", {"common": "plus"}, ("the opto-coupler's common",)),
    ("input", {"series_resistor": "2.2 kohm"}, ("2.2 kΩ in series",)),
    ("input", {"i_on": "2 mA", "i_off": "0.5 mA"}, ("the opto-coupler is on",)),
    ("input", {"ctr": "0.25 to 3", "output_pull_up": "10 kohm"}, ("the opto-coupler is on",)),
]  # fmt: skip


@pytest.mark.parametrize("kinds", BARE)
class TestWhatIsTakenAsUsual:
    """Each thing that is not said stands there once, with its figure, and goes when it is said."""

    def test_nothing_said(self, kinds):
        assert said(kinds) == BARE[kinds]

    def test_each_thing_said_takes_away_its_own_clause_and_brings_no_other(self, kinds):
        for table, keys, gone in SAID:
            assert said(kinds, table, keys) == tuple(
                clause for clause in BARE[kinds] if not clause.startswith(gone)
            ), keys

    def test_half_of_what_a_coupler_needs_is_not_enough(self, kinds):
        for half in ({"i_on": "4 mA"}, {"i_off": "0.5 mA"}, {"ctr": "0.25 to 3"}, {"output_pull_up": "10 kohm"}):
            assert said(kinds, "input", half) == BARE[kinds]

    def test_only_at_homing_and_whether_it_proves_the_release(self, kinds):
        clauses = said(kinds, "input", {"use": "home"})
        assert WATCHED not in clauses
        assert sum("demands to see the switch release" in clause for clause in clauses) == 1


def said(kinds, table="", keys=None):
    output, kind = kinds
    circuit = {"sensor": {"output": output}, "input": {"kind": kind}}
    if table:
        circuit[table] = {**circuit.get(table, {}), **keys}
    return tuple(clause.replace("\u202f", " ") for clause in circuits_from(circuit)[0].assumed)


class TestUsualSupply:
    """24 V, else what the input names, else 12 V; where none suits the sheets, the most that all bear."""

    @pytest.mark.parametrize(
        ("ranges", "volt"),
        [
            (("10 V to 30 V",), 24.0),
            (("5 V to 18 V",), 12.0),
            (("3 V to 8 V", "3 V to 6 V"), 6.0),
            (("10 V to 30 V", "10 V to 15 V"), 12.0),
        ],
    )
    def test_suits_every_sheet(self, ranges, volt):
        sensors = [{"output": "NPN", "supply": one, "name": f"S{k}"} for k, one in enumerate(ranges)]
        (circuit,) = circuits_from({"sensor": sensors, "input": {"kind": "opto"}})
        assert circuit.supply.volt.nominal == volt

    def test_one_figure_on_the_sheet_is_taken_as_within_10_percent(self):
        (circuit,) = circuits_from({"sensor": {"output": "NPN", "supply": "12 V"}, "input": {"kind": "opto"}})
        one = circuit.sensors[0]
        assert (one.supply_low_v, one.supply_high_v) == (pytest.approx(10.8), pytest.approx(13.2))
        assert one.hold_v == pytest.approx(0.9 * 10.8)
        assert circuit.supply.volt.nominal == 12.0


def test_colours_only_where_every_sensor_has_the_plug():
    sensors = [{"output": "PNP", "contact": "NO", "plug": "M12", "name": "a"}, {"output": "PNP", "name": "b"}]
    (mixed,) = circuits_from({"sensor": sensors, "input": {"kind": "opto"}})
    (alike,) = circuits_from({"sensor": [sensors[0], {**sensors[0], "name": "b"}], "input": {"kind": "opto"}})
    assert (mixed.cable.colours, alike.cable.colours) == ((), ("BN", "BK", "BU"))


def test_a_dead_sensor_does_not_turn_the_setting_round():
    """What on and off mean is as wired: at 1 V, where nothing is seen any more, as at 24 V."""
    alive, dead = [], []
    for _, circuit in every():
        alive.append(circuit)
        dead.append({**circuit, "supply": {"voltage": "1 V"}})
    pairs = zip(
        assess_many([c for one in alive for c in circuits_from(one)]),
        assess_many([c for one in dead for c in circuits_from(one)]),
        strict=True,
    )
    told = [(a, d) for a, d in pairs if not a.misreads]
    assert len(told) > 60
    assert sum(d.misreads for _, d in told) > 50
    for a, d in told:
        assert d.setting == a.setting, (a.circuit.sensors[0].output, a.circuit.input.type_name)


@pytest.mark.parametrize("output", ["NPN", "PNP"])
@pytest.mark.parametrize("common", ["plus", "minus"])
@pytest.mark.parametrize("pull", ["", "pull_up", "pull_down"])
def test_only_a_pull_that_the_output_shorts_turns_the_setting_round(output, common, pull):
    """Dead, at 1 V: an NPN takes the current of a pull-up to 0 V past the LED, a PNP feeds a pull-down."""
    one = {"kind": "opto", "common": common, "series_resistor": "2.2 kohm"} | ({pull: "1 kohm"} if pull else {})
    alive, dead = (
        judged({"output": output, "contact": "NC"}, one, supply={"voltage": volt}) for volt in ("24 V", "1 V")
    )
    round_about = (output, common, pull) in {("NPN", "minus", "pull_up"), ("PNP", "plus", "pull_down")}
    assert dead.misreads
    assert dead.setting.endswith("off means clear and on means tripped.") == round_about
    assert alive.misreads or alive.setting == dead.setting


def test_a_break_of_each_common_wire_is_told_by_its_name():
    """Plus of the input's own supply to its terminal, and the wire that joins the two 0 V."""
    one = {"kind": "opto", "common": "plus", "series_resistor": "2.2 kohm"}
    near = {fault.fault: fault.text for fault in judged({"output": "NPN", "contact": "NC"}, one).faults}
    assert near["COM open"] == "the input's common wire broken or come loose"
    assert near["COM bad joint"] == "a joint of some kΩ in the input's common wire"
    pin = {"kind": "logic", "supply": "5 V", "pull_up": "1 kohm"}
    apart = {fault.fault: fault.text for fault in judged({"output": "NPN", "contact": "NC"}, pin).faults}
    assert apart["0 V link open"] == "the wire between the two 0 V broken or come loose"


class TestChainOfTwoKinds:
    """A contact and a 2-wire sensor side by side into 24 V type 3 with a bleed resistor that is too small."""

    def found(self, **two_wire):
        sensors = [{**CONTACT, "name": "B1"}, {"output": "2-wire", "contact": "NO", "name": "B2", **two_wire}]
        chain = {"join": "parallel"}
        return judged(sensors, {"kind": "IEC 61131-2 type 3", "bleed": "220 ohm"}, chain=chain)

    def test_the_load_of_one_is_not_taken_for_that_of_the_other(self):
        """(24 V - 5 V)/220 ohm is over 50 mA, yet most of the supply stands across the load."""
        found = self.found(output_current="50 mA")
        (of_it,) = [damage for damage in found.damage if damage.harm.startswith("B2")]
        assert 0.05 < of_it.figure < 0.1001
        assert of_it.limit == 0.05
        assert "nothing limits" not in of_it.text

    def test_the_contact_alone_counts_for_wetting(self):
        found = self.found()
        assert found.wetting.volt == pytest.approx(24.0, abs=0.5)
        assert found.wetting.amp == pytest.approx(24 / 220, rel=0.05)


def test_only_the_break_that_overloads_the_input_is_not_to_be_tried():
    """NPN on a pin: without its blue wire, 24 V come through the sensor's own diodes."""
    sensor, pin = {"output": "NPN", "contact": "NC"}, {"kind": "logic", "supply": "3.3 V", "pull_up": "4.7 kohm"}
    (circuit,) = circuits_from({"sensor": sensor, "input": pin})
    breaks = terminal_list(assess(circuit)).breaks
    assert [one.part for one in breaks if one.harms] == ["BU"]
    assert [one.part for one in breaks if "Do not try" in one.text] == ["BU"]


@pytest.mark.parametrize(("contact", "hidden"), [("NC", True), ("NO", False)])
def test_what_no_input_can_show_is_said_where_a_short_hides(contact, hidden):
    """From +24 V: cores shorted to each other look like a closed contact: clear for NC, a trip for NO."""
    found = judged({"output": "dry contact", "contact": contact}, {"kind": "IEC 61131-2 type 3"})
    assert any("shorted to each other" in words for words in found.advice) is hidden


class TestDropThatTheSheetDoesNotTell:
    """NPN to 0 V, drop unknown: `cannot say`, and what else is short of room is told beside it."""

    @pytest.mark.parametrize(
        ("pull_up", "v_ih", "beside"), [("1 kohm", "2 V", False), ("2.2 kohm", "2.2 V", True)]
    )
    def test_the_other_state(self, pull_up, v_ih, beside):
        """3.135 V less 0.5 mA through 1.05 kohm leaves 2.6 V; through 2.31 kohm 2.0 V."""
        pin = {"kind": "logic", "supply": "3.3 V", "pull_up": pull_up, "v_ih": v_ih}
        for contact, name in (("NO", "clear"), ("NC", "tripped")):
            found = judged({"output": "NPN", "contact": contact}, pin)
            assert found.verdict == "cannot say"
            told = [words for words in found.advice if words.startswith("Beside that")]
            assert [f"{name} falls short" in words for words in told] == [True] * beside

    @pytest.mark.parametrize(("series", "verdict"), [("47 kohm", "cannot say"), ("100 kohm", "works, but")])
    def test_it_does_not_decide_where_the_pin_falls_short_at_any_drop(self, series, verdict):
        """10 uA of the pin through 47 kohm leave 0.5 V, through 100 kohm 1.0 V: more than a low of 0.9 V alone."""
        pin = {"kind": "logic", "supply": "5 V", "pull_up": "4.7 kohm", "series_resistor": series, "v_il": "0.9 V"}
        assert judged({"output": "NPN", "contact": "NC"}, pin).verdict == verdict


@pytest.mark.parametrize("contact", ["NO", "NC"])
def test_one_state_that_is_read_tells_which_way_round(contact):
    """An NPN that shorts its own 9 kohm: on, the input is off; let go, 2.0 mA at 5 V are neither."""
    sensor = {"output": "NPN", "contact": contact, "pull_up": "9 kohm"}
    found = judged(sensor, {"kind": "IEC 61131-2 type 3", "common": "minus"}, supply={"voltage": "24 V"})
    read, other = (found.tripped, found.clear) if contact == "NO" else (found.clear, found.tripped)
    assert (read.reads, other.reads) == ("tripped" if contact == "NO" else "clear", "undefined")
    off, on = ("tripped", "clear") if contact == "NO" else ("clear", "tripped")
    assert f"on means {on}" in found.setting
    assert f"off means {off}" in found.setting


class TestWeakPullUp:
    """From 3 m of cable on, 0.3 mA is the least that stands up to noise."""

    @pytest.mark.parametrize(
        ("pull", "ohm", "length", "said"),
        [
            ("pull_up", "4.3 kohm", "3 m", None),  # (3.3 - 2) V/4.3 kohm: 0.302 mA
            ("pull_up", "4.4 kohm", "3 m", "0.295\u202fmA"),
            ("pull_up", "4.4 kohm", "2.9 m", None),
            ("pull_down", "2.6 kohm", "3 m", None),  # 0.8 V/2.6 kohm: 0.308 mA
            ("pull_down", "2.7 kohm", "3 m", "0.296\u202fmA"),
        ],
    )
    def test_flips_at_the_limit(self, pull, ohm, length, said):
        pin = {"kind": "logic", "supply": "3.3 V", pull: ohm, "v_ih": "2 V", "v_il": "0.8 V"}
        words = judged(CONTACT | {"contact": "NC"}, pin, cable={"length": length})
        told = [text for text in (words.sentence, *words.advice) if "of interference" in text]
        assert [said in text for text in told] == ([] if said is None else [True])

    @pytest.mark.parametrize(
        ("sensor", "held"),
        [
            ({"output": "NPN"}, False),
            ({"output": "push-pull"}, True),
            ({"output": "NPN", "pull_up": "10 kohm"}, True),
        ],
    )
    def test_a_sensor_that_holds_the_line_itself_needs_no_strong_pull_up(self, sensor, held):
        pin = {"kind": "logic", "supply": "3.3 V", "pull_up": "10 kohm", "v_ih": "2 V", "v_il": "0.8 V"}
        (circuit,) = circuits_from({"sensor": sensor, "input": pin, "cable": {"length": "3 m"}})
        told = list(weak(circuit))
        assert ["out of its high," in words for words in told] == ([] if held else [True])

    def test_a_pull_down_behind_a_series_resistor_as_seen_from_the_cable(self):
        """1 kohm and 2.7 kohm: 0.8 V at the pin are 1.1 V at 3.7 kohm."""
        pin = {"kind": "logic", "supply": "3.3 V", "series_resistor": "1 kohm", "pull_down": "2.7 kohm"}
        one = {"sensor": CONTACT, "input": pin | {"v_il": "0.8 V"}, "cable": {"length": "3 m"}}
        (words,) = weak(circuits_from(one)[0])
        assert "a pull-down of 3.7\u202fkΩ: 0.296\u202fmA of interference" in words
        assert "out of its low," in words
