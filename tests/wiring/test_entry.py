"""Wiring files: what they may say, what is refused with its reason, and what is assumed aloud."""

import re

import pytest

from holdzero.compute.wiring import Unsaid, circuits_from, read_wiring
from holdzero.compute.wiring.keys import WIRING_KEYS, read_limits
from holdzero.errors import InputError
from holdzero.form import ABOVE_ZERO, NOT_NEGATIVE, write_toml

STARVED = """
[supply]
voltage = "20.4 V"
[sensor]
output = "2-wire"            # dry contact, NPN, PNP, push-pull, 2-wire
contact = "NO"
drop = "8 V"
leakage = "1.5 mA"
[input]
kind = "IEC 61131-2 type 1"
"""


def one(text):
    (circuit,) = read_wiring(text)
    return circuit


class TestDesign13:
    """The shape of the contract."""

    def test_the_example(self):
        circuit = one(STARVED)
        sensor = circuit.sensors[0]
        assert (circuit.supply.volt.nominal, sensor.output, sensor.contact) == (20.4, "2-wire", "NO")
        assert (sensor.drop_v.nominal, sensor.leak_a.nominal) == (8.0, 1.5e-3)
        assert (circuit.input.kind, circuit.input.iec_type) == ("IEC", 1)
        assert circuit.notes == ()

    def test_several_circuits_share_tables_above_them(self):
        text = """
[supply]
voltage = "24 V"
[cable]
length = "8 m"
[[circuit]]
name = "left"
side = "L"
sensor = {output = "NPN", contact = "NC"}
input = {kind = "opto"}
[[circuit]]
name = "right"
supply = {voltage = "12 V"}
sensor = {output = "dry contact"}
input = {kind = "logic"}
"""
        left, right = read_wiring(text)
        assert (left.name, left.side, left.supply.volt.nominal, left.cable.length_m) == ("left", "L", 24.0, 8.0)
        assert (right.name, right.supply.volt.nominal, right.cable.length_m) == ("right", 12.0, 8.0)

    @pytest.mark.parametrize(
        "key",
        [
            "supply",
            "pull_up",
            "pull_down",
            "series_resistor",
            "filter",
            "v_il",
            "v_ih",
            "clamp",
            "common",
            "i_on",
            "i_off",
        ],
    )
    def test_every_key_of_an_input_that_the_contract_names(self, key):
        assert key in [k.name for k in WIRING_KEYS["input"]]

    def test_every_key_reads_its_own_example(self):
        """What a page shows as an example can be entered."""
        for table, keys in WIRING_KEYS.items():
            for key in keys:
                assert len(key.read(key.example, f"{table}.{key.name}")) == len(key.fields)

    def test_what_was_written_reads_back_equal(self):
        circuits = read_wiring(STARVED + '[cable]\nlength = "10 m"\ncolours = ["BN", "BK"]\n')
        written = write_toml({"circuit": [circuit.entered for circuit in circuits]})
        assert read_wiring(written) == circuits


class TestFigures:
    """Values with tolerances, ranges and units."""

    @pytest.mark.parametrize(
        ("written", "nominal", "low", "high", "stated"),
        [
            ("24 V", 24.0, 21.6, 26.4, False),
            ("24 V +- 5 %", 24.0, 22.8, 25.2, True),
            ("24 V ± 1 V", 24.0, 23.0, 25.0, True),
            ("20.4 V to 28.8 V", 24.6, 20.4, 28.8, True),
            ("5 V", 5.0, 4.75, 5.25, False),
            (24, 24.0, 21.6, 26.4, False),
        ],
    )
    def test_supply(self, written, nominal, low, high, stated):
        (circuit,) = circuits_from(
            {"supply": {"voltage": written}, "sensor": {"output": "PNP"}, "input": {"kind": "IEC 61131-2 type 3"}}
        )
        volt = circuit.supply.volt
        assert (volt.nominal, volt.low, volt.high, volt.stated) == (
            pytest.approx(nominal),
            pytest.approx(low),
            pytest.approx(high),
            stated,
        )

    @pytest.mark.parametrize("key", ["pull_up", "pull_down", "series_resistor"])
    def test_a_resistor_is_taken_as_within_5_percent(self, key):
        (circuit,) = circuits_from({"sensor": {"output": "NPN"}, "input": {"kind": "logic", key: "2.2 kohm"}})
        ohm = {
            "pull_up": circuit.input.pull_up_ohm,
            "pull_down": circuit.input.pull_down_ohm,
            "series_resistor": circuit.input.series_ohm,
        }[key]
        assert (ohm.low, ohm.high, ohm.stated) == (pytest.approx(2090), pytest.approx(2310), False)

    def test_capacitance_per_metre_and_as_a_whole(self):
        for written, farad in (("150 pF/m", 1.5e-9), ("1.5 nF", 1.5e-9)):
            (circuit,) = circuits_from(
                {
                    "sensor": {"output": "PNP"},
                    "input": {"kind": "opto"},
                    "cable": {"length": "10 m", "capacitance": written},
                }
            )
            assert circuit.cable.farad.nominal == pytest.approx(farad)

    def test_filter_as_a_capacitor_and_as_a_time(self):
        for written, farad, time_s in (("100 nF", 100e-9, 0.0), ("5 ms", None, 5e-3)):
            (circuit,) = circuits_from(
                {"sensor": {"output": "NPN"}, "input": {"kind": "logic", "filter": written}}
            )
            found = circuit.input
            assert (found.filter_f.nominal if found.filter_f else None, found.filter_s) == (farad, time_s)

    def test_a_wire_gauge(self):
        (circuit,) = circuits_from(
            {
                "sensor": {"output": "NPN"},
                "input": {"kind": "opto"},
                "cable": {"length": "10 m", "section": "24 AWG"},
            }
        )
        assert circuit.cable.core_ohm == pytest.approx(0.8422, rel=1e-3)

    def test_range_alone(self):
        assert read_limits("0.25 to 3", "number", "").nominal == 1.625


class TestRefused:
    """Bad input names the place, what was found, what is needed and what to do."""

    @pytest.mark.parametrize(
        ("text", "match"),
        [
            (
                '[sensor]\noutput = "NPNP"\n[input]\nkind = "opto"',
                r"sensor\.output: found \"NPNP\"; needed is .*NPN.*did you mean NPN",
            ),
            ('[sensor]\noutput = "NPN"\n[input]\nkind = "relay"', r"input\.kind: found \"relay\".*opto"),
            (
                '[supply]\nvoltage = "24 mA"\n[sensor]\noutput = "NPN"\n[input]\nkind = "opto"',
                r"supply\.voltage: found \"24 mA\".*a voltage",
            ),
            ('[sensor]\noutput = "NPN"\nleakage = 5\n[input]\nkind = "opto"', r"sensor\.leakage: .*unit"),
            (
                '[sensor]\noutput = "NPN"\n[input]\nkind = "logic"\npull_up = "0 ohm"',
                r"input\.pull_up: .*above zero",
            ),
            (
                '[sensor]\noutput = "NPN"\n[input]\nkind = "logic"\nv_il = "2 V"\nv_ih = "1 V"',
                r"V_IH 1 V, not above V_IL 2 V",
            ),
            (
                '[sensor]\noutput = "NPN"\n[input]\nkind = "opto"\ni_on = "1 mA"\ni_off = "2 mA"',
                "i_off below i_on",
            ),
            ('[sensor]\noutput = "NPN"\n[chain]\ncount = 40\n[input]\nkind = "opto"', "at most 12 on one input"),
            ('[sensor]\noutput = "NPN"\n[chain]\njoin = "star"\n[input]\nkind = "opto"', "series, parallel"),
            (
                '[[sensor]]\noutput = "NPN"\n[[sensor]]\noutput = "PNP"\n[input]\nkind = "opto"',
                "outputs that pull the same way",
            ),
            (
                '[[sensor]]\noutput = "NPN"\n' * 2 + '[chain]\ncount = 2\n[input]\nkind = "opto"',
                "chain.count: found count and 2 sensors",
            ),
            (
                '[[sensor]]\noutput = "NPN"\nname = "a"\n' * 2 + '[input]\nkind = "opto"',
                "two sensors of one name",
            ),
            (
                '[sensor]\noutput = "NPN"\n[input]\nkind = "opto"\n[cable]\ncolours = ["XX"]',
                "letters of IEC 60757",
            ),
            ('[sensor]\noutput = "NPN"\n[input]\nkind = "opto"\nuse = "sometimes"', "home, limit, home and limit"),
            ('[mashine]\nname = "router"', "no table of a circuit"),
            ('[machine]\nname = "router"\n[axes.Y]\ntravel = "1 m"', "a machine file; needed is a wiring file"),
            ('[sensors.A]\noutput = "NPN"', "a sensors file; needed is a wiring file"),
            ('[axes.Y]\ntravel = "1 m"', "a machine file; needed is a wiring file"),
            ('method = "diagonals"', "a squaring file; needed is a wiring file"),
            ("", "no table of a circuit; needed is a wiring file"),
            ('[input]\nkind = "opto"', r"no table \[sensor\]; .* write \[sensor\] with output"),
            ('[sensor]\noutput = "NPN"', r"no table \[input\]; .* write \[input\] with kind"),
            ('[[circuit]]\nname = "X"\nsensor = {output = "NPN"}', r"circuit\.X: found no table \[input\]"),
            ("circuit = 5", r"a list of tables \[\[circuit\]\]"),
            ('sensor = "NPN"\n[input]\nkind = "opto"', r"a list of tables \[\[sensor\]\]"),
            ("[sensor\noutput", "line 1"),
        ],
    )
    def test_refused(self, text, match):
        with pytest.raises(InputError, match=match) as refusal:
            read_wiring(text, where="wiring.toml")
        assert str(refusal.value).startswith("wiring.toml")
        assert "\n" not in str(refusal.value)

    @pytest.mark.parametrize(
        ("table", "line", "match"),
        [
            (
                "input",
                'pull_up = "1e-20 ohm"',
                r"pull_up: found \"1e-20 ohm\"; .* from 1 mohm to 1000 Mohm; check the unit",
            ),
            ("input", 'pull_up = "1e12 ohm"', "from 1 mohm to 1000 Mohm"),
            ("input", 'pull_up = "1 kohm +- 100 %"', "above zero"),
            ("input", "pull_up = nan", "pull_up: found .nan"),
            ("input", "pull_up = inf", "pull_up: found .inf"),
            ("input", 'filter = "-5 ms"', "above zero"),
            ("input", 'filter = "0 nF"', "above zero"),
            ("input", 'filter = "100 s"', "from 0.001 us to 60 s"),
            ("input", 'clamp = "0 mA"', "above zero"),
            ("input", 'filter = "0.11 F"', "to 100 mF; check the unit\\.$"),
            ("cable", 'length = "11 km"', "to 10 000 m; check the unit\\.$"),
            ("cable", 'section = "101 mm2"', "; check the unit\\.$"),
            ("cable", 'temperature = "20 degC to 201 degC"', "; check the unit\\.$"),
            ("supply", 'voltage = "121 V"', "mains work: a licensed person\\.$"),
            ("supply", 'voltage = "230 V"', "to 120 V; check the unit; mains work: a licensed person"),
            ("supply", 'voltage = "0 V"', "above zero"),
            ("supply", 'voltage = "-5 V to 5 V"', "above zero"),
            ("sensor", 'leakage = "1e9 A"', "to 20 A"),
            ("cable", 'length = "1e9 m"', "from 1 mm to 10 000 m"),
            ("cable", 'section = "1e-9 mm2"', "from 0.01 mm2 to 100 mm2"),
            ("cable", 'temperature = "0 degC to 1000 degC"', "from -100 degC to 200 degC"),
            ("cable", "shared_by = 1000000000", "shared_by up to 100"),
            ("chain", "count = 1000000000", "at most 12 on one input"),
        ],
    )
    def test_what_no_home_switch_is_wired_with(self, table, line, match):
        """A unit that slipped is refused before a figure of it divides by nothing or by everything."""
        tables = {"sensor": 'output = "NPN"', "input": 'kind = "3.3 V logic"'}
        tables[table] = "\n".join(filter(None, (tables.get(table), line)))
        text = "\n".join(f"[{name}]\n{lines}" for name, lines in tables.items())
        with pytest.raises(InputError, match=f"{table}.*(?:{match})") as refusal:
            read_wiring(text)
        assert "\n" not in str(refusal.value)

    @pytest.mark.parametrize(
        ("key", "unit", "least", "most"),
        [
            ("input.v_il", "V", 1e-3, 120),  # extra-low voltage, direct current: IEC 61140
            ("sensor.drop_at", "A", 1e-9, 20),
            ("sensor.resistance", "ohm", 1e-3, 1e9),
            ("input.filter", "nF", 1e-4, 1e8),
            ("cable.capacitance", "pF/m", 0.1, 1e5),
            ("cable.length", "mm", 1, 1e7),
            ("cable.section", "mm2", 0.01, 100),
            ("input.filter", "us", 1e-3, 60e6),
            ("input.ctr", "", 1e-3, 100),
        ],
    )
    def test_the_least_and_the_most_that_can_be_meant(self, key, unit, least, most):
        """Within half a percent of each end it is read, half a percent beyond it is not."""
        table, name = key.split(".")
        (found,) = [one for one in WIRING_KEYS[table] if one.name == name]
        for inside, outside in ((least * 1.005, least * 0.995), (most * 0.995, most * 1.005)):
            assert found.read(f"{inside:.6g} {unit}".strip(), key)
            with pytest.raises(InputError, match="check the unit"):
                found.read(f"{outside:.6g} {unit}".strip(), key)

    def test_which_figures_may_be_nothing(self):
        """An ideal supply and joint, no leakage, nothing to hold, no capacitance; all others are refused."""
        may, may_not = set(), set()
        for table, keys in WIRING_KEYS.items():
            for key in keys:
                figure = re.fullmatch(r"[0-9.]+ ([a-zA-Z/]+[0-9]?)( \+- .*)?", key.example)
                if figure is None or table == "" or key.name in ("name", "side", "count", "kind"):
                    continue
                try:
                    key.read(f"0 {figure[1]}", key.name)
                except InputError:
                    may_not.add(f"{table}.{key.name}")
                else:
                    may.add(f"{table}.{key.name}")
        assert may == {
            "supply.resistance",
            "supply.join_resistance",
            "sensor.leakage",
            "sensor.least_current",
            "cable.capacitance",
        }
        assert len(may_not) > 25
        signs = {f"{table}.{key.name}": key.sign for table, keys in WIRING_KEYS.items() for key in keys}
        assert {name for name, sign in signs.items() if sign == NOT_NEGATIVE} == may - {"cable.capacitance"}
        assert all(
            signs[name] == ABOVE_ZERO for name in may_not - {"supply.voltage", "input.filter", "input.clamp"}
        )

    def test_a_sensor_of_several_is_counted_from_1(self):
        text = '[[sensor]]\noutput = "NPN"\n[[sensor]]\noutput = "NPN"\ndrop = "5 A"\n[input]\nkind = "opto"'
        with pytest.raises(InputError, match=r"sensor\.2\.drop"):
            read_wiring(text)

    def test_a_circuit_without_a_name_is_counted_from_1(self):
        whole = '[[circuit]]\nsensor = {output = "PNP"}\ninput = {kind = "opto"}\n'
        with pytest.raises(InputError, match=r"circuit\.2: found no table \[input\]"):
            read_wiring(whole + '[[circuit]]\nsensor = {output = "NPN"}')

    def test_the_circuit_is_named(self):
        text = '[[circuit]]\nname = "X"\nsensor = {output = "NPN", drop = "5 A"}\ninput = {kind = "opto"}'
        with pytest.raises(InputError, match=r"circuit\.X\.sensor\.drop"):
            read_wiring(text)


class TestAssumed:
    """What is not said is taken as usual, or as the harder case, and said."""

    def test_nothing_but_the_kinds(self):
        circuit = one('[sensor]\noutput = "PNP"\n[input]\nkind = "IEC 61131-2 type 3"')
        said = " ".join(circuit.assumed)
        for clause in (
            "supply 24 V",
            "±10 %",
            "NO, the harder case",
            "protection diodes",
            "0 V is joined to the frame",
            "cable",
        ):
            assert clause in said

    @pytest.mark.parametrize(
        ("output", "kind", "more", "feed"),
        [
            ("dry contact", "IEC 61131-2 type 3", {}, "plus"),
            ("dry contact", "logic", {"pull_up": "10 kohm"}, "minus"),
            ("dry contact", "logic", {"pull_down": "10 kohm"}, "logic"),
            ("dry contact", "logic", {}, "minus"),
            ("dry contact", "opto", {"common": "plus"}, "minus"),
            ("2-wire", "opto", {"common": "minus"}, "plus"),
            ("NPN", "IEC 61131-2 type 3", {}, "minus"),
        ],
    )
    def test_which_rail_the_sensor_joins_to_the_input(self, output, kind, more, feed):
        (circuit,) = circuits_from({"sensor": {"output": output}, "input": {"kind": kind, **more}})
        assert circuit.sensors[0].feed == feed

    @pytest.mark.parametrize(("output", "common"), [("NPN", "plus"), ("PNP", "minus"), ("dry contact", "minus")])
    def test_common_of_a_coupler_suits_the_sensor(self, output, common):
        (circuit,) = circuits_from({"sensor": {"output": output}, "input": {"kind": "opto"}})
        assert circuit.input.common == common

    @pytest.mark.parametrize(("supply", "series"), [("24 V", 2200.0), ("12 V", 1000.0), ("5 V", 390.0)])
    def test_usual_series_resistor(self, supply, series):
        (circuit,) = circuits_from(
            {"supply": {"voltage": supply}, "sensor": {"output": "NPN"}, "input": {"kind": "opto"}}
        )
        assert circuit.input.series_ohm.nominal == series

    def test_a_drop_at_rated_current_says_little_of_a_logic_input(self):
        wide = {"sensor": {"output": "NPN", "drop": "3 V"}, "input": {"kind": "logic", "pull_up": "1 kohm"}}
        (circuit,) = circuits_from(wide)
        assert circuit.sensors[0].drop_unknown
        (circuit,) = circuits_from({**wide, "sensor": {**wide["sensor"], "drop": "0.4 V", "drop_at": "5 mA"}})
        assert not circuit.sensors[0].drop_unknown

    def test_changeover_is_wired_nc(self):
        circuit = one('[sensor]\noutput = "dry contact"\ncontact = "changeover"\n[input]\nkind = "opto"')
        assert circuit.sensors[0].contact == "NC"
        assert "break contact" in " ".join(circuit.assumed)

    def test_cores_of_a_plug_have_the_colours_of_its_pins(self):
        """IEC 60947-5-2: 1 BN, 2 WH, 3 BU, 4 BK; a break output is at pin 2."""
        plug = '[sensor]\noutput = "{}"\ncontact = "{}"\nplug = "M12"\n[input]\nkind = "opto"'
        assert one(plug.format("PNP", "NC")).cable.colours == ("BN", "WH", "BU")
        assert one(plug.format("PNP", "NO")).cable.colours == ("BN", "BK", "BU")
        assert one(plug.format("2-wire", "NC")).cable.colours == ("BN", "WH")
        stated = one(plug.format("PNP", "NC") + '\n[cable]\ncolours = "RD, YE, GN"')
        assert stated.cable.colours == ("RD", "YE", "GN")

    @pytest.mark.parametrize(
        ("sensor", "note"),
        [
            ('output = "dry contact"\ncontact = "NO"\ndirect_opening = true', "only an NC contact has it"),
            ('output = "PNP"\ncontact = "NC"\ndirect_opening = true', "only an NC contact has it"),
            ('output = "dry contact"\ncontact = "NC"\nplug = "M12"', "pins of a contact are not standard"),
        ],
    )
    def test_what_an_output_cannot_have_is_named(self, sensor, note):
        circuit = one(f'[sensor]\n{sensor}\n[input]\nkind = "opto"')
        assert not circuit.sensors[0].direct_opening
        assert not circuit.sensors[0].plug
        assert note in circuit.notes[0]

    def test_a_key_that_is_not_used_is_named(self):
        circuit = one('[sensor]\noutput = "NPN"\nleakge = "1 mA"\n[input]\nkind = "opto"')
        assert circuit.notes == ("sensor.leakge is kept but not used; did you mean leakage.",)

    @pytest.mark.parametrize(
        ("text", "missing"),
        [
            ('[sensor]\n[input]\nkind = "opto"', ("sensor.output",)),
            ('[sensor]\noutput = "unknown"\n[input]\nkind = "opto"', ("sensor.output",)),
            ('[sensor]\noutput = "NPN"\n[input]', ("input.kind",)),
            ('[sensor]\ncontact = "NO"\n[input]\nname = "X"', ("sensor.output", "input.kind")),
        ],
    )
    def test_what_cannot_be_assumed(self, text, missing):
        (found,) = read_wiring(text)
        assert isinstance(found, Unsaid)
        assert found.missing == missing
