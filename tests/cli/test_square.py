"""`holdzero square` and `holdzero install` from files."""

import json

import pytest

from holdzero import demo
from holdzero.cli import cli, main
from holdzero.quantity import plain
from printed import printed

DIAGONALS = """\
method = "diagonals"
drive_distance = "980 mm"
a = "1000 mm"
b = "800 mm"
ac = "1280.81607 mm"
bd = "1280.43360 mm"
u = "0.1 mm"
"""


@pytest.fixture
def run(capsys, tmp_path):
    def run(command, text, *arguments):
        file = tmp_path / "given.toml"
        file.write_text(text, encoding="utf-8")
        status = cli.main([command, str(file), *arguments], standalone_mode=False)
        assert not status
        return plain(capsys.readouterr().out)

    return run


class TestSquare:
    """The contract, and what a person reads."""

    def test_the_load_is_in_pounds_where_lengths_are_in_inches(self, run):
        """By hand: 2e8 N mm/rad by 0.3 mrad over 980 mm is 61.2 N in each drive, 13.8 lbf."""
        racked = DIAGONALS + 'drive_stiffness = "2000 N/mm"\nracking_stiffness = "2e8 N mm/rad"\n'
        racked += 'natural_angle = "0.3 mrad"\n'
        assert "loads each drive with 61 N" in " ".join(run("square", racked).split())
        assert "loads each drive with 14 lbf" in " ".join(run("square", racked, "--units", "inch").split())

    def test_contract(self, run):
        """By hand: 0.3 mm over 980 mm and its uncertainty."""
        answer = json.loads(run("square", DIAGONALS, "--json"))
        assert answer["angle_mrad"] == printed("0.30612", 1)  # as printed from the diagonals' five decimals
        assert answer["angle_u_mrad"] == printed("0.1132")
        assert answer["offset_mm"] == printed("0.3000")
        assert answer["offset_u_mm"] == printed("0.111")
        assert answer["advice"].startswith("Command an offset of 0.300 mm, right side back")

    def test_verdict_first(self, run):
        said = run("square", DIAGONALS)
        assert said.startswith("Bring the right side back by 0.30 mm, uncertain by 0.11 mm.\n")
        assert "Loosen nothing on a powered axis." in said

    def test_as_the_standard_states_it(self, run):
        """ISO 230-1: 0.3 mm on 980 mm is 0.31 mm over a metre, in inches 12 thou over 39.37 in."""
        assert "It stands 0.31 mm over 1000 mm out of square" in run("square", DIAGONALS)
        said = run("square", DIAGONALS, "--units", "inch")
        assert "It stands 12 thou over 39.37 in out of square" in said
        assert "corner at low x and low y is under 90" in said
        assert " mm" not in said

    def test_square_and_scales_and_residuals_are_said(self, run):
        text = 'drive_distance = "980 mm"\nu = "1 um"\n[[round]]\nmethod = "reversal"\nlength = "200 mm"\n'
        assert "The square itself is off by 20 urad." in run(
            "square", text + 'rise_1 = "12 um"\nrise_2 = "4 um"\n', "--full"
        )
        corners = [(0, 0), (800, 0), (800, 600), (0, 600)]
        holes = "".join(
            f'[[round.hole]]\nx = "{x} mm"\ny = "{y} mm"\nmeasured_x = "{x * 1.0002} mm"\nmeasured_y = "{y} mm"\n'
            for x, y in corners
        )
        said = run(
            "square", 'drive_distance = "980 mm"\nu = "0.02 mm"\n[[round]]\nmethod = "grid"\n' + holes, "--full"
        )
        assert "Along x it moves 0.200 mm per m longer than commanded" in said
        assert "Left over is at most" in said

    def test_bad_input_is_one_line_and_status_2(self, capsys, tmp_path, monkeypatch):
        file = tmp_path / "bad.toml"
        file.write_text(DIAGONALS.replace("1280.43360", "1180"), encoding="utf-8")
        monkeypatch.setattr("sys.argv", ["holdzero", "square", str(file)])
        with pytest.raises(SystemExit) as ended:
            main()
        assert ended.value.code == 2
        said = capsys.readouterr().err
        assert said.count("\n") == 1
        assert "diagonals of 1281 mm and 1180 mm" in plain(said)


class TestInstall:
    """The sheet on a terminal."""

    def test_text(self, run, tmp_path):
        sensors, square = tmp_path / "sensors.toml", tmp_path / "square.toml"
        sensors.write_text(demo.sensors_toml(), encoding="utf-8")
        square.write_text(DIAGONALS, encoding="utf-8")
        said = run(
            "install",
            demo.machine_toml(),
            "--sensors",
            str(sensors),
            "--sensor",
            demo.WINNER,
            "--square",
            str(square),
            "--full",
        )
        assert said.startswith("Plywood router: ")
        said = " ".join(said.split())
        assert f"{demo.WINNER}, inductive, PNP, NC" in said
        assert "0.3 mm right side back" in said
        assert "Emergency stop. " in said

    def test_json_and_inches(self, run):
        answer = json.loads(run("install", demo.machine_toml(), "--json"))
        speeds = [one for one in answer["axes"]["Y"] if one["kind"] == "speed"]
        assert [one["value"] for one in speeds] == [35, 1.5]
        assert "82.68 in/min" in run("install", demo.machine_toml(), "--units", "inch", "--full")

    def test_wiring(self, run, tmp_path):
        wiring = tmp_path / "wiring.toml"
        wiring.write_text(
            '[supply]\nvoltage = "24 V"\n[sensor]\noutput = "PNP"\ncontact = "NC"\n'
            '[input]\nkind = "IEC 61131-2 type 3"\n',
            encoding="utf-8",
        )
        assert "Input" in run("install", demo.machine_toml(), "--wiring", str(wiring), "--full")

    def test_a_sensor_that_is_not_there(self, tmp_path):
        machine, sensors = tmp_path / "m.toml", tmp_path / "s.toml"
        machine.write_text(demo.machine_toml(), encoding="utf-8")
        sensors.write_text(demo.sensors_toml(), encoding="utf-8")
        with pytest.raises(Exception, match="one of H, J, K"):
            cli.main(["install", str(machine), "--sensors", str(sensors), "--sensor", "Q"], standalone_mode=False)
