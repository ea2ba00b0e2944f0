"""`holdzero capture` from files: what a script and what a person gets."""

import json

import numpy as np
import pytest

from captures import homings, write_vcd
from holdzero.cli import cli, main
from holdzero.quantity import plain

MAP = """\
[capture]
count = "0.01 mm"
a = "A"
b = "B"
index = "Z"
switches = ["SW"]
approach_speed = "20 mm/s"
"""


@pytest.fixture(scope="module")
def rig(tmp_path_factory):
    """A capture and its map."""
    folder = tmp_path_factory.mktemp("rig")
    truth = homings(
        np.tile([1.0, 2.0, 5.0, 10.0], 25),
        spread=0.003,
        delay=2e-3,
        bounce=3e-4,
        pulses=9,
        index=1.0,
        index_at=0.3,
    )
    (folder / "map.toml").write_text(MAP, encoding="utf-8")
    return write_vcd(folder / "run.vcd", truth), folder / "map.toml"


@pytest.fixture
def run(capsys, rig):
    def run(*words, of=rig):
        status = cli.main(["capture", str(of[0]), "--map", str(of[1]), *words], standalone_mode=False)
        assert not status
        return plain(capsys.readouterr().out)

    return run


def test_json_has_what_the_contract_names(run):
    answer = json.loads(run("--json"), parse_constant=pytest.fail)
    assert set(answer) >= {
        *("version", "tick_s", "changes", "cut_off", "invalid_transitions", "final_count", "switches"),
        *("difference", "index"),
    }
    (switch,) = answer["switches"]
    assert set(switch) >= {
        *("switch", "side", "events", "pulses", "by_speed", "trip_spread_mm", "trip_spread_low_mm"),
        *("trip_spread_high_mm", "n_effective", "differential_mm", "latency_s", "latency_low_s", "latency_high_s"),
        *("jitter_s", "bounce_longest_s", "debounce"),
    }
    assert list(switch["events"][0]) == [
        *("kind", "first_tick", "last_tick", "edges", "position_mm", "direction", "speed_mm_s"),
        *("trip_to_index_mm", "suspect"),
    ]
    assert set(answer["index"]) >= {"pitch_mm", "phase", "wrong"}
    assert {"direction", "speed_mm_s", "n", "spread_mm"} <= set(switch["by_speed"][0])
    assert {"miss_rate", "time_s", "overtravel_mm", "spread_mm"} <= set(switch["debounce"][0])


@pytest.mark.parametrize("units", ["metric", "inch"])
def test_one_look_takes_it_in(run, units):
    """At most 24 lines of 80 columns; the spread and its limits come first."""
    text = run("--units", units)
    assert "spread" in text.split("\n")[0]
    assert max(map(len, text.split("\n"))) <= 80
    assert sum(max(1, -(-len(line) // 80)) for line in text.rstrip("\n").split("\n")) <= 24
    assert len(run("--full", "--units", units)) > len(text)


def test_two_sides_fit_one_look_too(tmp_path, capsys):
    """Both switches of a gantry, each with its own delay."""
    left = homings([20.0, 2.0] * 40, switch="SW_L", delay=1e-3, bounce=3e-4, index=1.0, index_at=0.3)
    left.initial["SW_R"] = 0
    for trip, release in zip(left.trip_tick, left.release_tick, strict=True):
        left.changes += [(trip + 900, "SW_R", 1), (trip + 950, "SW_R", 0), (trip + 990, "SW_R", 1)]
        left.changes.append((release - 4000, "SW_R", 0))
    (tmp_path / "map.toml").write_text(MAP.replace('["SW"]', '{ L = "SW_L", R = "SW_R" }'), encoding="utf-8")
    path = write_vcd(tmp_path / "x.vcd", left)
    cli.main(["capture", str(path), "--map", str(tmp_path / "map.toml")], standalone_mode=False)
    text = plain(capsys.readouterr().out)
    assert text.startswith("Left, SW_L: 80 trips")
    assert "Right less left, 80 homings" in text
    assert sum(max(1, -(-len(line) // 80)) for line in text.rstrip("\n").split("\n")) <= 24


def test_in_words(run):
    text = run()
    assert "SW: 100 trips, 100 releases, 9 pulses; spread" in text
    assert "0 impossible" in text
    assert "Index every 1.000 mm" in text
    assert "releases 100 um before it trips" in text


def test_readings_go_on_to_study(run, tmp_path, capsys):
    out = tmp_path / "run.csv"
    said = run("--readings", str(out), "--sensor", "C", "--axis", "Y", "--side", "R")
    assert f"25 readings written to {out}" in said
    cli.main(["study", str(out), "--json"], standalone_mode=False)
    (row,) = json.loads(capsys.readouterr().out)["sensors"]
    assert (row["sensor"], row["axis"], row["side"], row["n"], row["sets"]) == ("C", "Y", "R", 25, 1)
    assert row["sd_mm"] == pytest.approx(0.003, rel=0.4)


def test_a_cut_file_says_so(run, rig, tmp_path):
    part = tmp_path / "part.vcd"
    data = rig[0].read_bytes()
    part.write_bytes(data[: data.rindex(b"\n", 0, len(data) // 2)])
    text = run(of=(part, rig[1]))
    assert "The file ends in the middle" in text
    assert json.loads(run("--json", of=(part, rig[1])))["cut_off"]


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (["--sensor", "A"], "no --readings"),
        (["--map", "none.toml"], "none.toml: found no such file"),
        (["--readings", "/nowhere/x.csv"], "no folder"),
    ],
)
def test_refused_in_one_line(rig, words, what, monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["holdzero", "capture", str(rig[0]), "--map", str(rig[1]), *words])
    with pytest.raises(SystemExit) as ended:
        main()
    error = capsys.readouterr().err
    assert ended.value.code == 2
    assert what in error
    assert error.count("\n") == 1


def test_a_side_beside_a_map_with_sides_is_refused(rig, tmp_path, monkeypatch, capsys):
    both = tmp_path / "both.toml"
    both.write_text(MAP.replace('["SW"]', '{ L = "SW" }'), encoding="utf-8")
    monkeypatch.setattr("sys.argv", ["holdzero", "capture", str(rig[0]), "--map", str(both), "--side", "R"])
    with pytest.raises(SystemExit):
        main()
    assert "leave --side out" in capsys.readouterr().err
