"""`holdzero travel`, `budget`, `sweep` and `machine` as a person runs them."""

import json
import re
import sys
from pathlib import Path

import pytest

from holdzero import cli, demo
from holdzero.caution import HOMING_MOVES
from holdzero.compute.design import read_sweep, run, tasks
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.presets import PRESETS
from printed import printed

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture
def ran(monkeypatch, capsys):
    """Run a command line in this process; give status, output, errors."""

    def run_it(*words):
        monkeypatch.setattr(sys, "argv", ["holdzero", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        shown = capsys.readouterr()
        return left.value.code, shown.out, shown.err

    return run_it


def plain(out):
    """What was printed, as one line."""
    return " ".join(out.split())


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("demo")
    (folder / "machine.toml").write_text(demo.machine_toml(), encoding="utf-8")
    (folder / "sensors.toml").write_text(demo.sensors_toml(), encoding="utf-8")
    (folder / "readings.csv").write_text(demo.readings_csv(), encoding="utf-8")
    return folder


class TestTravel:
    """`holdzero travel MACHINE [--json]`: exit 1 when a check fails."""

    def test_json(self, ran):
        status, out, err = ran("travel", DATA / "screw_axis.toml", "--json")
        assert (status, err) == (1, "")
        checks = {check["check"]: check for check in json.loads(out)["axes"]["Y"]["checks"]}
        assert checks["home_overtravel"]["margin_mm"] == printed("2.692")
        assert checks["limit_overtravel"]["speed_limit_mm_s"] == printed("60.59")
        assert checks["limit_overtravel"]["ok"] is False
        assert checks["work_zone"]["ok"] is None
        assert checks["work_zone"]["needs"] == ["work_zone"]

    def test_text(self, ran):
        status, out, _ = ran("travel", DATA / "belt_axis.toml")
        lines = out.splitlines()
        assert status == 1
        assert lines[0].startswith(
            "Axis X: 5 of 10 checks fail: limit overtravel, sensor overtravel, flag home and"
        )
        before = next(i for i, line in enumerate(lines) if line.startswith("▲ Checks by sums"))
        assert before < next(i for i, line in enumerate(lines) if "✗ fails" in line)
        assert sum("✗ fails" in line for line in lines) == 5
        assert "– Limit overtravel: put the limit trip at least 16 mm" in plain(out)

    def test_a_row_a_check_that_is_not_right(self, ran, tmp_path):
        """The axis that fails leads; of each axis its failures, the tightest fit, and how many more."""
        machine = tmp_path / "m.toml"
        belt, screw = ((DATA / f"{name}_axis.toml").read_text(encoding="utf-8") for name in ("belt", "screw"))
        machine.write_text(belt + screw[screw.index("[axes.Y]") :], encoding="utf-8")
        answer = json.loads(ran("travel", machine, "--json")[1])["axes"]
        _, out, _ = ran("travel", machine, "--full")
        lines = out.splitlines()
        assert " ".join(lines[:2]).startswith("Axes X and Y do not stop in time: 5 checks of X and ")
        top = lines[lines.index("What does not fit, and the tightest that does") : lines.index("Axis X")]
        for name, travel in answer.items():
            fits = [check for check in travel["checks"] if check["ok"]]
            rows = [line for line in top if line.startswith(f"{name} ")]
            assert sum("✗ fails" in row for row in rows) == sum(check["ok"] is False for check in travel["checks"])
            tightest = min(check["margin_mm"] for check in fits)
            (row,) = (row for row in rows if "✓ fits" in row and "more check" not in row)
            assert f" {tightest:.2f} " in row
            assert any(f"{len(fits) - 1} more check" in row for row in rows)

    def test_all_fit(self, ran, tmp_path):
        machine = tmp_path / "m.toml"
        _, text, _ = ran("machine", "two-motor-gantry")
        machine.write_text(text, encoding="utf-8")
        assert ran("travel", machine, "--axis", "Y")[0] == 0

    @pytest.mark.parametrize(
        ("places", "words"),
        [(("3 mm",), "off the switch first"), (("300",), "towards the switch"), (("300", "302"), "out of square")],
    )
    def test_from_here(self, ran, places, words, tmp_path):
        machine = tmp_path / "m.toml"
        text = (DATA / "screw_axis.toml").read_text(encoding="utf-8") + '\nmotors = 2\ndrive_distance = "980 mm"\n'
        machine.write_text(text, encoding="utf-8")
        _, out, _ = ran("travel", machine, *(word for place in places for word in ("--from", place)))
        assert words in plain(out)
        assert HOMING_MOVES in plain(out)

    def test_from_here_takes_the_units_shown(self, ran):
        """12 mm is where home trips; 11.9 mm is 0.4685 in."""
        for units, place in (("metric", "11.9"), ("inch", "0.4685")):
            _, out, _ = ran("travel", DATA / "screw_axis.toml", "--from", place, "--units", units)
            assert "From here: off the switch first" in out

    def test_from_here_is_on_one_axis_and_between_the_stops(self, ran, tmp_path):
        machine = tmp_path / "m.toml"
        _, text, _ = ran("machine", "two-motor-gantry")
        machine.write_text(text, encoding="utf-8")
        status, _, err = ran("travel", machine, "--from", "300 mm")
        assert (status, "name it with --axis: Y, X, Z" in err) == (2, True)
        status, _, err = ran("travel", machine, "--axis", "Z", "--from", "300 mm")
        assert (status, "from 0 to 150" in err) == (2, True)

    def test_from_here_asks_for_what_is_missing(self, ran):
        status, _, err = ran("travel", DATA / "two_motor_gantry.toml", "--from", "3 mm")
        assert status == 2
        assert "found no home_trip" in err

    def test_contradiction_is_one_line(self, ran, tmp_path):
        machine = tmp_path / "m.toml"
        text = (
            (DATA / "screw_axis.toml")
            .read_text(encoding="utf-8")
            .replace('limit_trip = "6 mm"', 'limit_trip = "16 mm"')
        )
        machine.write_text(text, encoding="utf-8")
        status, out, err = ran("travel", machine)
        assert (status, out, err.count("\n")) == (2, "", 1)
        assert "limit_trip no larger than home_trip" in err

    def test_unknown_axis(self, ran):
        status, _, err = ran("travel", DATA / "screw_axis.toml", "--axis", "Q")
        assert status == 2
        assert "one of Y" in err

    def test_drawings(self, ran, tmp_path):
        ran("travel", DATA / "screw_axis.toml", "--drawings", tmp_path / "new")
        assert sorted(path.name for path in (tmp_path / "new").iterdir()) == ["machine.svg", "travel-Y.svg"]
        assert "with a hand on the stop" in (tmp_path / "new" / "travel-Y.svg").read_text(encoding="utf-8")

    def test_what_goes_for_all_axes_is_said_once(self, ran, tmp_path):
        two = (DATA / "screw_axis.toml").read_text(encoding="utf-8").replace("[axes.Y]", "[axes.X]")
        both = tmp_path / "both.toml"
        both.write_text(two + two[two.index("[axes.X]") :].replace("[axes.X]", "[axes.Y]"), encoding="utf-8")
        _, out, _ = ran("travel", both)
        assert out.count("Checks by sums") == 1
        assert "Y" in out


class TestBudget:
    """`holdzero budget MACHINE [--sensors S] [READINGS] [--json]`: standard deviations."""

    def test_shares_of_what_cancels(self, ran, tmp_path):
        """A drift against the growth takes off the variance: a minus as everywhere, and none before nothing.

        By hand: 2.887 (2.887 - 9.959) of a variance of 7.072² + 0.144² + 3.000² + 0.200² + 0.577² + 0.902² +
        0.500² is -33.8 %; in squareness what the sides share has no part.
        """
        text = (DATA / "two_motor_gantry.toml").read_text()
        for key, value in (("growth_length", "-300 mm"), ("trip_drift", "+1 um/K")):
            text = re.sub(f"{key} = .*", f'{key} = "{value}"', text)
        file = tmp_path / "against.toml"
        file.write_text(text)
        _, out, _ = ran("budget", file, "--full")
        (row,) = re.findall(r"^drift of the trip  .*%.*$", out, flags=re.MULTILINE)
        assert row.split()[-4:] == ["\N{MINUS SIGN}33.8", "%", "0.0", "%"]
        assert "-0.0" not in plain(out)

    def test_json(self, ran):
        status, out, err = ran("budget", DATA / "two_motor_gantry.toml", "--json")
        assert (status, err) == (0, "")
        found = json.loads(out)["axes"]["Y"]
        assert found["position_mm"] * 1e3 == printed("13.253")
        assert found["squareness_mm"] * 1e3 == printed("2.873")
        assert {"name", "distribution", "common_mm", "own_mm", "share"} <= set(found["contributions"][0])
        assert sum(one["share"] for one in found["contributions"]) == pytest.approx(1)
        drawn = found["simulation"]
        assert drawn["position"]["u_mm"] == pytest.approx(
            found["position_mm"], abs=4 * drawn["position"]["u_error_mm"]
        )
        assert found["halve"]["name"] == "growth"

    def test_text(self, ran):
        _, out, _ = ran("budget", DATA / "two_motor_gantry.toml", "--full")
        for words in (
            "Together",
            "12.8",
            "3.3",
            "Halve growth",
            "Where the two differ",
            ("For the homing time give"),
        ):
            assert words in out

    def test_the_figure_that_lands_outside_is_named(self, ran, tmp_path):
        """Asked for half the interval that was drawn, position is not good; squareness keeps its own answer."""
        text = (DATA / "two_motor_gantry.toml").read_text(encoding="utf-8")
        tight = tmp_path / "tight.toml"
        tight.write_text(re.sub(r'position = ".*"', 'position = "10 um"', text), encoding="utf-8")
        assert tight.read_text(encoding="utf-8") != text
        rows = [line for line in ran("budget", tight)[1].splitlines() if line.startswith("Y ")]
        assert ["✗ not good" in row for row in rows] == [True, False]
        assert "✓ good" in rows[1]
        for figure in ("position", "squareness"):  # the same by the shares that were drawn
            axis = json.loads(ran("budget", tight, "--json")[1])["axes"]["Y"]
            assert (axis["simulation"][f"outside_{figure}"]["high_95"] > 0.001) == (figure == "position")

    def test_what_is_not_counted_is_never_good(self, ran, files):
        words = ("budget", files / "machine.toml", files / "readings.csv", "--sensors", files / "sensors.toml")
        rows = [line for line in ran(*words)[1].splitlines() if re.match("[XY] ", line)]
        assert len(rows) == 3
        assert all("? not known" in row for row in rows)

    def test_what_is_asked_stands_in_the_unit_of_what_was_drawn(self, ran, tmp_path):
        """Steps of 5 mm / 3200 lie within 0.74 um, 0.1 mm is asked; what lands outside needs the switch."""
        machine = tmp_path / "m.toml"
        grid = 'lead = "5 mm"\nfull_steps = 200\nmicrosteps = 16\n'
        machine.write_text(f'[requirement]\nposition = "0.1 mm"\n[axes.X]\n{grid}', encoding="utf-8")
        row = next(line for line in ran("budget", machine)[1].splitlines() if line.startswith("X "))
        assert re.search(r"±0\.7\d+.µm +±100\.0+.µm +– +\? not known", row), row

    def test_one_motor_has_its_own_column_filled(self, ran, tmp_path):
        """Hand calculation: steps of 5 mm / 200 / 16, taken anywhere: 1.5625 um / 2 / sqrt(3) = 0.451 um."""
        machine = tmp_path / "m.toml"
        machine.write_text('[axes.X]\nlead = "5 mm"\nfull_steps = 200\nmicrosteps = 16\n', encoding="utf-8")
        _, out, _ = ran("budget", machine, "--full")
        row = next(line for line in out.splitlines() if line.startswith("grid of steps"))
        assert row.split()[-3:] == ["0.451", "100.0", "%"]
        assert "the switch not counted" in plain(out)

    @pytest.mark.parametrize("name", PRESETS)
    def test_inches_throughout(self, ran, tmp_path, name):
        """Every length, speed and acceleration follows the switch; the names of keys and JSON do not."""
        machine = tmp_path / "m.toml"
        _, text, _ = ran("machine", name)
        machine.write_text(text, encoding="utf-8")
        for command in ("travel", "budget"):
            _, out, _ = ran(command, machine, "--units", "inch", "--full")
            assert re.findall(r"\S+\s(?:mm|µm|mm/s|mm/s²)\b", out) == []

    def test_trial_is_preferred_to_the_sheet(self, ran, files):
        words = ("budget", files / "machine.toml", "--sensors", files / "sensors.toml", "--sensor", demo.WINNER)
        sheet, trial = (
            json.loads(ran(*words, *more, "--json")[1])["axes"]["Y"] for more in ((), (files / "readings.csv",))
        )
        assert f"data sheet of {demo.WINNER}" in sheet["contributions"][0]["source"]
        assert trial["contributions"][0]["source"].startswith(
            f"trial of {demo.WINNER}: {demo.POWER_UPS * demo.HOMINGS} homings over {demo.POWER_UPS} power-ups"
        )
        assert [one["touches"] for one in trial["averaging"]] == [1, 2, 3, 5, 10]

    def test_candidates_must_be_told_apart(self, ran, files):
        status, _, err = ran("budget", files / "machine.toml", "--sensors", files / "sensors.toml")
        assert status == 2
        assert "one of H, J, K, M, N, P" in err

    def test_unknown_candidate(self, ran, files):
        status, _, err = ran("budget", files / "machine.toml", "--sensor", "Q")
        assert status == 2
        assert '"Q"' in err

    def test_index(self, ran, tmp_path):
        machine = tmp_path / "m.toml"
        _, text, _ = ran("machine", "small-mill")
        machine.write_text(text, encoding="utf-8")
        _, out, _ = ran("budget", machine, "--drawings", tmp_path, "--full")
        assert "Wrong index" in out
        assert "To measure the phase" in out
        assert (tmp_path / "index-X.svg").exists()

    def test_homing_time(self, ran, tmp_path):
        machine = tmp_path / "m.toml"
        _, text, _ = ran("machine", "two-motor-gantry")
        machine.write_text(text, encoding="utf-8")
        found = json.loads(ran("budget", machine, "--json")[1])["axes"]["Y"]
        assert (
            found["homing_that_holds"]["best_time_s"]
            <= found["homing"]["best_time_s"]
            <= found["homing"]["time_s"]
        )
        assert found["homing"]["held_back_by"] == "back_off"


class TestSweep:
    """`holdzero sweep VARIANTS.toml`, here and on a cluster."""

    @pytest.fixture(scope="class")
    @staticmethod
    def here():
        machine = read_machine((DATA / "two_motor_gantry.toml").read_text(encoding="utf-8"))
        made = tasks(read_sweep((DATA / "variants.toml").read_text(encoding="utf-8")), machine, ())
        return [row.as_json() for row in run(made, workers=1)]

    def test_json(self, ran, here):
        status, out, err = ran("sweep", DATA / "variants.toml", "--json")
        assert (status, err) == (0, "")
        assert json.loads(out)["variants"] == here

    def test_cluster_gives_the_same_to_the_last_bit(self, ran, here):
        distributed = pytest.importorskip("distributed")
        own_port = {"dashboard_address": "127.0.0.1:0"}  # of loopback, and any that is free
        with distributed.LocalCluster(n_workers=2, threads_per_worker=1, **own_port) as cluster:
            _, out, _ = ran("sweep", DATA / "variants.toml", "--cluster", cluster.scheduler_address, "--json")
        assert json.loads(out)["variants"] == here

    def test_text(self, ran):
        words = ("sweep", DATA / "variants.toml", "--workers", "1", "--units", "inch")
        lines = ran(*words)[1].splitlines()
        assert lines[0].startswith("6 variants")
        assert "6 keep the spread allowed (no travel check could be made)." in " ".join(lines[:2])
        assert len(lines) <= 24
        assert max(map(len, lines)) <= 80
        at = next(i for i, line in enumerate(lines) if line.startswith("Creep speed"))
        assert "Microsteps" in lines[at]
        assert sum("mm/s" in line for line in lines[at:]) == 6  # a row a variant
        assert "Position thou" in " ".join(ran(*words, "--full")[1].split())

    def test_without_the_extra_says_what_to_install(self, ran, monkeypatch):
        monkeypatch.setitem(sys.modules, "distributed", None)
        status, _, err = ran("sweep", DATA / "variants.toml", "--cluster", "localhost:8786")
        assert status == 2
        assert len(err.strip().splitlines()) == 1
        assert "found no Dask here; needed is the extra [cluster]" in err
        assert 'pip install "holdzero[cluster]", or leave --cluster out' in err

    def test_no_cluster_there(self, ran):
        pytest.importorskip("distributed")
        status, _, err = ran("sweep", DATA / "variants.toml", "--cluster", "nowhere:at:all")
        assert status == 2
        assert "the address of a running Dask scheduler" in err


def test_machine_lists_and_prints_examples(ran):
    _, out, _ = ran("machine")
    assert all(name in out for name in PRESETS)
    assert "invented example" in ran("machine", "belt-axis")[1]


def test_an_example_is_said_to_be_one_until_its_mark_goes(ran, tmp_path):
    machine = tmp_path / "m.toml"
    given = ran("machine", "belt-axis")[1]
    for text, marked in ((given, True), (given.replace("example = true", ""), False)):
        machine.write_text(text, encoding="utf-8")
        assert ("An invented example to start from" in ran("travel", machine)[1]) == marked
