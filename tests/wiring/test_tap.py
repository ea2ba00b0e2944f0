"""A channel of an analyser on an input: solved like any other, refused over its rating."""

import json

import pytest

from holdzero.cli import cli, main
from holdzero.compute.wiring import AnalyserChannel, Divider, TapOpto, analyser_channel, circuits_from, tap
from holdzero.compute.wiring.words import volts
from holdzero.errors import InputError
from holdzero.quantity import plain

FIVE_VOLTS = AnalyserChannel(low_v=-0.5, high_v=5.5)
MAP = '[capture]\ncount = "0.01 mm"\na = "A"\nb = "B"\nswitches = ["SW"]\n[tap]\nrating = "-0.5 V to 5.5 V"\n'
PNP = '[sensor]\noutput = "PNP"\n[input]\nkind = "IEC 61131-2 type 3"\n'
CONTACT = """
[sensor]
output = "dry contact"
contact = "NC"
[input]
kind = "logic"
supply = "3.3 V"
pull_up = "10 kohm"
"""


def circuit(sensor, controller_input, volt="24 V"):
    (one,) = circuits_from({"sensor": sensor, "input": controller_input, "supply": {"voltage": volt}})
    return one


class TestVerdict:
    """Fits, refused, does not read; and what fits instead."""

    def test_24_volts_are_refused_and_the_divider_fits(self):
        """By hand: at most V R2'/(R1 + R2'), R2' = R2 in parallel with the load; inside 0.95 of the rating."""
        seen = tap(circuit({"output": "PNP"}, {"kind": "IEC 61131-2 type 3"}), FIVE_VOLTS)
        assert seen.verdict == "refused"
        assert seen.tripped_v[1] > 20
        assert isinstance(seen.remedy, Divider)
        below = seen.remedy.lower_ohm * 100e3 / (seen.remedy.lower_ohm + 100e3)
        part = below / (seen.remedy.upper_ohm + below)
        assert 2.0 / seen.tripped_v[0] < part < 0.955 * 5.5 / seen.tripped_v[1]
        assert part * seen.clear_v[1] < 0.8

    def test_a_contact_to_3_volt_logic_fits(self):
        """By hand: open, 10 kohm against 100 kohm of load leave 3.3 * 100/110 = 3.00 V."""
        seen = tap(
            circuit(
                {"output": "dry contact", "contact": "NC"},
                {"kind": "logic", "supply": "3.3 V +- 0.001 V", "pull_up": "10 kohm +- 0.001 kohm"},
            ),
            FIVE_VOLTS,
        )
        assert (seen.verdict, seen.tripped_reads, seen.remedy) == ("fits", 1, None)
        assert sum(seen.tripped_v) / 2 == pytest.approx(3.0, abs=0.15)  # pin leakage either way: 10 uA, 9.1 kohm
        assert seen.clear_v[1] < 0.01

    def test_a_load_that_the_circuit_cannot_bear_is_said(self):
        """1 kohm of load against a pull-up of 10 kohm: 0.3 V, and the controller misreads."""
        seen = tap(
            circuit(
                {"output": "dry contact", "contact": "NC"},
                {"kind": "logic", "supply": "3.3 V", "pull_up": "10 kohm"},
            ),
            AnalyserChannel(low_v=-0.5, high_v=5.5, load_ohm=1e3),
        )
        assert (seen.verdict, seen.disturbs, seen.tripped_reads) == ("does not read", True, None)

    def test_where_no_divider_reads_an_opto_does(self):
        """A channel that needs 3.5 V for high and bears 3.6 V: no resistors give both; an LED behind one does."""
        seen = tap(
            circuit({"output": "dry contact"}, {"kind": "IEC 61131-2 type 3"}, "18 V to 30 V"),
            AnalyserChannel(low_v=-0.3, high_v=3.6, v_il=0.8, v_ih=3.5),
        )
        assert seen.verdict == "refused"
        assert isinstance(seen.remedy, TapOpto)
        assert (30 - 1.0) ** 2 / seen.remedy.series_ohm <= 0.25  # half of what a 0.5 W resistor bears
        assert (17.9 - 1.4) / seen.remedy.series_ohm >= 2.9e-3

    @pytest.mark.parametrize("contact", ["NO", "NC"])
    def test_the_rating_holds_for_the_lowest_and_the_highest_of_both_states(self, contact):
        """Off, at most 0.5 mA leak into 0.36 mA a volt less 13 %, beside 100 kohm; on, up to 30 V less a drop."""
        sensor = {"output": "PNP", "contact": contact, "leakage": "0.5 mA"}
        one = circuit(sensor, {"kind": "IEC 61131-2 type 3"}, "18 V to 30 V")
        wide = tap(one, AnalyserChannel(low_v=0, high_v=30, v_il=5, v_ih=11))
        off, on = (wide.clear_v, wide.tripped_v) if contact == "NO" else (wide.tripped_v, wide.clear_v)
        assert off == pytest.approx((0, 0.5 / (0.87 * 0.36 + 0.01)), abs=0.01)
        assert 14 < on[0] < 18
        assert 29 < on[1] < 30
        assert (wide.verdict, wide.tripped_reads) == ("fits", contact == "NO")
        for low_v, high_v in ((sum(off) / 2, 30), (0, sum(on) / 2)):
            assert tap(one, AnalyserChannel(low_v=low_v, high_v=high_v, v_il=5, v_ih=11)).verdict == "refused"

        for v_il, v_ih in ((sum(off) / 2, 11), (5, sum(on) / 2)):  # not at every corner, which is not surely
            unsure = tap(one, AnalyserChannel(low_v=0, high_v=30, v_il=v_il, v_ih=v_ih))
            assert (unsure.verdict, unsure.tripped_reads, unsure.disturbs) == ("does not read", None, False)

    def test_tripped_is_every_sensor_of_several(self):
        """21.6 V less 3 V, 26.4 V less 0.2 V, and 5 ohm at 3 mA."""
        sensors = [{"output": "PNP", "name": f"B{drop}", "drop": f"{drop} V"} for drop in (0.2, 3)]
        for turned in (sensors, sensors[::-1]):
            one = {"sensor": turned, "input": {"kind": "IEC 61131-2 type 3"}, "chain": {"join": "parallel"}}
            seen = tap(circuits_from(one)[0], AnalyserChannel(low_v=0, high_v=30))
            assert seen.tripped_v == pytest.approx((21.6 - 3, 26.4 - 0.2), abs=0.03)

    def test_where_nothing_fits_nothing_is_named(self):
        """3 mA for a LED out of 10 kohm and 5 V would take the pin down."""
        pin = {"kind": "logic", "supply": "5 V", "pull_up": "10 kohm"}
        narrow = AnalyserChannel(low_v=-0.3, high_v=3.6, v_ih=3.5)
        seen = tap(circuit({"output": "dry contact", "contact": "NC"}, pin), narrow)
        assert (seen.verdict, seen.remedy) == ("refused", None)

    @pytest.mark.parametrize("contact", ["NO", "NC"])
    def test_the_led_of_an_opto_lights_at_the_least_and_bears_the_most(self, contact):
        """(10.8 - 1.4) V at 3 mA, (12 - 1.0) V at 20 mA: 550 to 3133 ohm, from their middle of 1313 on."""
        one = circuit(
            {"output": "dry contact", "contact": contact},
            {"kind": "opto", "series_resistor": "2.2 kohm"},
            "10.8 V to 12 V",
        )
        assert tap(one, AnalyserChannel(low_v=-0.3, high_v=3.6, v_ih=3.5)).remedy == TapOpto(1500.0)

    def test_the_worst_fault_is_named(self):
        seen = tap(
            circuit({"output": "PNP"}, {"kind": "IEC 61131-2 type 3"}),
            AnalyserChannel(low_v=-1, high_v=40, v_il=5, v_ih=11),
        )
        assert seen.verdict == "fits"
        assert seen.fault_v == pytest.approx(24.0, abs=0.1)
        assert "BN and BK" in seen.fault

    @pytest.mark.parametrize(("bears_v", "told"), [(5.5, True), (24.5, False)])
    def test_a_fault_over_the_rating_is_a_caution(self, bears_v, told):
        """NPN on a 5 V pin: brown shorted to black puts 24 V there."""
        pin = {"kind": "logic", "supply": "5 V", "pull_up": "1 kohm"}
        seen = tap(
            circuit({"output": "NPN", "drop": "0.3 V", "drop_at": "5 mA"}, pin),
            AnalyserChannel(low_v=-0.5, high_v=bears_v),
        )
        assert seen.verdict == "fits"
        assert 23 < seen.fault_v < 24.5
        texts = [caution.text for caution in seen.cautions if caution.code == "tap-fault"]
        assert [f"would see {volts(seen.fault_v)}, over its rating" in text for text in texts] == [True] * told

    def test_the_caution_is_always_there(self):
        seen = tap(circuit({"output": "PNP"}, {"kind": "IEC 61131-2 type 3"}), FIVE_VOLTS)
        assert "everything switched off" in seen.cautions[0].text
        assert "mains" in seen.as_json()["cautions"][0]["text"]

    def test_a_rating_is_needed(self):
        with pytest.raises(InputError, match="what a channel of the analyser bears"):
            analyser_channel({"tap": {"load": "1 Mohm"}})
        channel, _ = analyser_channel({"tap": {"rating": "0 V to 5.25 V", "load": "1 Mohm", "high": "1.4 V"}})
        assert channel == AnalyserChannel(low_v=0.0, high_v=5.25, v_ih=1.4, load_ohm=1e6)


class TestCommand:
    """`holdzero capture --tap`, before a capture."""

    @pytest.fixture
    def run(self, tmp_path, capsys):
        def run(wiring, *words):
            (tmp_path / "map.toml").write_text(MAP, encoding="utf-8")
            (tmp_path / "wiring.toml").write_text(wiring, encoding="utf-8")
            status = cli.main(
                ["capture", "--map", str(tmp_path / "map.toml"), "--tap", str(tmp_path / "wiring.toml"), *words],
                standalone_mode=False,
            )
            return status, plain(capsys.readouterr().out)

        return run

    def test_refused(self, run):
        status, text = run('name = "Y left"\n' + PNP)
        assert status == 1
        assert text.startswith("1 of 1 inputs may not be tapped")
        assert "Y left: A divider:" in text
        assert text.index("switched off") < text.index("A divider")

    def test_fits(self, run):
        status, text = run(CONTACT, "--json")
        assert status == 0
        assert json.loads(text)["taps"][0]["verdict"] == "fits"

    def test_neither_file_nor_tap(self, tmp_path, monkeypatch, capsys):
        (tmp_path / "map.toml").write_text(MAP, encoding="utf-8")
        monkeypatch.setattr("sys.argv", ["holdzero", "capture", "--map", str(tmp_path / "map.toml")])
        with pytest.raises(SystemExit):
            main()
        assert "a capture, VCD or CSV" in capsys.readouterr().err
