"""`holdzero wiring` from outside: the contract, exit status, diagram, messages."""

import json
import xml.etree.ElementTree as ET

import pytest
from click.testing import CliRunner

from holdzero.cli import main
from holdzero.cli.wiring import command

STARVED = """
[supply]
voltage = "20.4 V"
[sensor]
output = "2-wire"
contact = "NO"
drop = "8 V"
leakage = "1.5 mA"
[input]
kind = "IEC 61131-2 type 1"
"""
RIGHT = """
[sensor]
output = "dry contact"
contact = "NC"
[input]
kind = "IEC 61131-2 type 3"
[cable]
length = "10 m"
"""


def run(text, *options, tmp_path=None):
    """Run in this process; the status is what the command returns."""
    result = CliRunner().invoke(command, ["-", *options], input=text, standalone_mode=False)
    assert result.exception is None, result.exception
    return result.return_value, result.output


class TestJson:
    """The shape promised to scripts."""

    def test_shape_of_the_contract(self):
        status, output = run(STARVED, "--json")
        (circuit,) = json.loads(output)["circuits"]
        assert status == 1
        assert json.loads(output)["version"]
        assert circuit["verdict"] == "does not work"
        assert circuit["states"]["tripped"]["input_v"] == pytest.approx(12.3944, rel=1e-3)
        assert circuit["states"]["tripped"]["input_ma"] == pytest.approx(3.3052, rel=1e-3)
        assert circuit["states"]["clear"]["input_v"] == pytest.approx(5.6254, rel=1e-3)
        assert circuit["states"]["clear"]["reads"] == "undefined"
        for row in circuit["faults"]:
            assert {"fault", "reads_clear", "reads_tripped", "effect"} <= row.keys()
            assert row["effect"] in ("stops", "found at the next homing", "hides", "damage")
        assert isinstance(circuit["damage"], list)
        assert isinstance(circuit["advice"], list)
        assert circuit["assumed"]

    def test_every_figure_is_a_number_json_knows(self):
        """An input with an open wire, a delay that is never reached: null, not NaN."""
        for text in (STARVED, RIGHT, '[sensor]\n[input]\nkind = "opto"', RIGHT.replace("dry contact", "NPN")):
            _, output = run(text, "--json")
            json.loads(output, parse_constant=lambda word: pytest.fail(word))

    def test_whatever_a_file_says_no_figure_is_nan(self):
        """Each table at the ends of what it may say: solved, and no traceback, nan or warning."""
        ends = {
            "supply": (
                'voltage = "1 mV"',
                'voltage = "120 V"',
                'resistance = "1e9 ohm"',
                'join_resistance = "1e9 ohm"',
            ),
            "sensor": (
                'leakage = "20 A"',
                'own_current = "20 A"',
                'output_current = "1e-9 A"',
                'drop = "120 V"',
                'resistance = "1 mohm"',
                'pull_up = "1 mohm"',
                'pull_down = "1 mohm"',
                'supply = "1 mV to 2 mV"',
            ),
            "cable": ('length = "10 km"\nsection = "0.01 mm2"', "shared_by = 100", 'capacitance = "100 mF"'),
            "input": (
                'supply = "1 mV"',
                'pull_up = "1 mohm"',
                'pull_up = "1e9 ohm"',
                'pull_down = "1 mohm"',
                'series_resistor = "1e9 ohm"',
                'filter = "90 mF"\nseries_resistor = "1 mohm"',
            ),
        }
        outputs = ("dry contact", "NPN", "PNP", "push-pull", "2-wire")
        for at, (name, line) in enumerate((name, line) for name, lines in ends.items() for line in lines):
            tables = {"sensor": f'output = "{outputs[at % 5]}"', "input": f'kind = "{("logic", "opto")[at % 2]}"'}
            tables[name] = "\n".join(filter(None, (tables.get(name), line)))
            _, output = run("\n".join(f"[{table}]\n{lines}" for table, lines in tables.items()), "--json")
            json.loads(output, parse_constant=lambda word: pytest.fail(word))

    def test_terminal_list_and_layout(self):
        _, output = run(RIGHT, "--json")
        (circuit,) = json.loads(output)["circuits"]
        assert circuit["terminals"][0] == {
            "wire": "BN",
            "from": "-B1:11",
            "to": "-X1:1",
            "colour": "BN",
            "section_mm2": 0.25,
            "length_m": 10.0,
        }
        assert any("right angle" in line for line in circuit["layout"])


class TestExitStatus:
    """0, 1 when the answer is no, 2 for bad input."""

    @pytest.mark.parametrize(
        ("text", "status"),
        [
            (RIGHT, 0),
            (RIGHT.replace("NC", "NO"), 1),  # a broken wire hides
            (RIGHT.replace("dry contact", "NPN"), 1),  # misreads
            (RIGHT.replace("dry contact", "PNP"), 1),  # a broken blue wire hides
            (RIGHT.replace('"dry contact"', '"PNP"\nprotection_diodes = false'), 0),
            ('[sensor]\noutput = "PNP"\n[input]\nkind = "logic"\nsupply = "3.3 V"', 1),  # damage
            ('[sensor]\n[input]\nkind = "opto"', 1),  # cannot say
        ],
    )
    def test_status(self, text, status):
        assert run(text)[0] == status

    def test_one_bad_circuit_is_enough(self):
        good, bad = (
            f'[[circuit]]\nsensor = {{output = "dry contact", contact = "{contact}"}}\ninput = {{kind = "opto"}}\n'
            for contact in ("NC", "NO")
        )
        assert run(good + good)[0] == 0
        assert run(good + bad)[0] == 1

    def test_bad_input_is_2_with_one_line(self, tmp_path, capsys, monkeypatch):
        path = tmp_path / "wiring.toml"
        path.write_text('[sensor]\noutput = "NPNP"\n[input]\nkind = "opto"\n')
        monkeypatch.setattr("sys.argv", ["holdzero", "wiring", str(path)])
        with pytest.raises(SystemExit) as stop:
            main()
        assert stop.value.code == 2
        error = capsys.readouterr().err
        assert error.count("\n") == 1
        for word in ("sensor.output", '"NPNP"', "needed is", "did you mean NPN"):
            assert word in error


class TestPage:
    """What a person reads."""

    def test_verdict_sentence_first(self):
        _, output = run(RIGHT)
        assert output.startswith("Works, and a broken wire stops the machine.\n")

    def test_safety_before_what_to_do(self):
        _, output = run(STARVED)
        assert output.index("Switch off, unplug") < output.index("What to do")
        _, output = run(STARVED, "--explain")
        assert "no safety function" in " ".join(output.split())

    def test_what_goes_for_all_circuits_is_said_once(self):
        two = "[[circuit]]\nname = 'one'\n" + RIGHT.replace("\n[", "\n[circuit.")
        two += two.replace("'one'", "'two'")
        assert run(two)[1].count("stored energy") == run(two, "--full")[1].count("stored energy") == 1
        assert run(two, "--explain")[1].count("ordinary machine input") == 1

    def test_what_does_damage_is_to_be_done_once(self):
        """It is in the sentence that says not to switch on; a second damage is not."""
        text = "[[circuit]]\nname = 'one'\n" + RIGHT.replace("\n[", "\n[circuit.")
        text += (
            '[[circuit]]\nname = "hot"\n[circuit.sensor]\noutput = "PNP"\n'
            '[circuit.input]\nkind = "logic"\nsupply = "3.3 V"\n'
        )
        damage = json.loads(run(text, "--json")[1])["circuits"][1]["damage"]
        told = " ".join(run(text, "--full")[1].split())
        steps = told[told.index("What to do") :].partition("Circuit Verdict")[0].split("hot: ")[1:]
        assert damage
        assert "Do not switch this on." in steps[0]
        for each in damage:
            assert sum(" ".join(each["text"].lower().split()) in step.lower() for step in steps) == 1

    def test_the_table_of_circuits_counts_what_each_of_them_says(self):
        """Faults that hide and faults that do damage are two counts, as in the sentence and in JSON."""
        text = "[[circuit]]\nname = 'one'\n" + RIGHT.replace("\n[", "\n[circuit.")
        text += (
            '[[circuit]]\nname = "pin"\n'
            '[circuit.sensor]\noutput = "NPN"\ncontact = "NC"\ndrop = "0.4 V"\ndrop_at = "2 mA"\n'
            '[circuit.input]\nkind = "5 V logic"\npull_up = "2.2 kohm"\n'
        )
        circuits = json.loads(run(text, "--json")[1])["circuits"]
        rows = [line.split() for line in run(text)[1].splitlines() if line.startswith(("one", "pin"))]
        for circuit in circuits:
            effects = [fault["effect"] for fault in circuit["faults"]]
            (row,) = (row for row in rows if row[0] == circuit["name"])
            assert row[-2:] == [str(effects.count(effect)) for effect in ("hides", "damage")]
        assert [row[-1] != "0" for row in rows] == [True, False]

    @pytest.mark.parametrize(
        ("length", "begins"), [(2, "Both circuits work, and"), (3, "All 3 circuits work, and")]
    )
    def test_as_many_as_there_are(self, length: int, begins: str):
        each = "[[circuit]]\nname = 'NAME'\n" + RIGHT.replace("\n[", "\n[circuit.").replace("10 m", "NAME m")
        assert run("".join(each.replace("NAME", str(n)) for n in range(5, 5 + length)))[1].startswith(begins)

    def test_names_of_several_circuits(self):
        text = '[[circuit]]\nname = "X"\nsensor = {output = "NPN"}\ninput = {kind = "opto"}\n' * 2
        _, output = run(text.replace('"X"', '"Y"', 1))
        assert output.startswith("Y, X: works, but ")  # entered alike: said once
        _, output = run(text.replace('"X"', '"Y"', 1).replace('"NPN"', '"PNP"', 1))
        assert output.startswith("2 of 2 circuits must not stay as they are: Y and X.")


class TestDiagram:
    """The `--svg` option."""

    def test_svg_of_one_circuit(self, tmp_path):
        run(RIGHT, "--svg", str(tmp_path / "d.svg"))
        root = ET.parse(tmp_path / "d.svg").getroot()
        assert root.tag.endswith("svg")
        assert root.find("{http://www.w3.org/2000/svg}title").text == "Wiring diagram"

    def test_svg_of_several(self, tmp_path):
        text = '[[circuit]]\nsensor = {output = "NPN"}\ninput = {kind = "opto"}\n' * 2
        run(text, "--svg", str(tmp_path / "d.svg"))
        assert sorted(p.name for p in tmp_path.iterdir()) == ["d-1.svg", "d-2.svg"]

    def test_a_folder_that_is_not_there(self, tmp_path):
        result = CliRunner().invoke(
            command, ["-", "--svg", str(tmp_path / "no" / "d.svg")], input=RIGHT, standalone_mode=False
        )
        assert "a folder that is there" in str(result.exception)
