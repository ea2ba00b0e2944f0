"""`holdzero capture` from files: what a script and what a person gets."""

import json
import re
from hashlib import sha256

import numpy as np
import pytest

from captures import homings, write_vcd
from holdzero.case import Case
from holdzero.case.in_book import InBook
from holdzero.cli import cli, main
from holdzero.compute.spread import effective_n
from holdzero.errors import InputError
from holdzero.inputs.reading import read_readings
from holdzero.quantity import plain
from holdzero.store import open_book

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
    assert f"25 readings written to {out}" in " ".join(said.split())
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


class TestIntoABook:
    """A capture becomes readings of the machine: one power-up of the kind long run, with its digest."""

    @pytest.fixture
    def shed(self, tmp_path):
        path = tmp_path / "shed.holdzero"
        with open_book(path) as book:
            axes = {"Y": {"travel": "900 mm"}}
            asked = {"position": "0.05 mm"}
            key = book.add_machine({"machine": {"name": "Router"}, "requirement": asked, "axes": axes})
            book.add_sensor(key, "A", {"kind": "lever"})
            trial = book.add_trial(key, name="By hand", axis="Y", resolution="0.001 mm")
            by_hand = "sensor,axis,set,homing,deviation_mm,resolution_mm\n" + "".join(
                f"A,Y,{label},{homing},{(7 * label + 3 * homing) % 11 / 1000:.3f},0.001\n"
                for label in range(1, 5)
                for homing in range(1, 5)
            )
            book.import_readings(trial, read_readings(by_hand))
        return path

    def test_it_flows_through_findings_and_choice(self, run, rig, shed):
        said = run("--into", str(shed), "--sensor", "A", "--axis", "Y")
        sha = sha256(rig[0].read_bytes()).hexdigest()
        with open_book(shed) as book:
            long_run = next(trial for trial in book.trials(1) if trial.kind == "long run")
            (group,) = book.readings(long_run.id).groups
            case = Case(InBook(book, book.machine(1)))
            found, candidate = case.study.of("A", "Y", ""), case.chosen.candidates[0]
            standing = case.standing
        n = group.homing.size
        assert f"{n} homings are in the trial Long run, capture {sha[:8]}" in said
        assert sha in long_run.note
        assert set(group.extra["capture"].tolist()) == {sha}
        assert set(group.kind.tolist()) == {"long run"}
        assert group.protocol == "encoder"
        assert (found.n, found.power_ups) == (16 + n, 4)  # of its own level, its place among the others is free
        assert any("encoder" in note for note in case.readings.notes)
        assert candidate.parts[0].findings.n == 16 + n
        assert next(part for part in standing.parts if part.part == "trial").answer != "not known"
        worth = effective_n(group.deviation_mm[group.counted])
        assert f"worth {worth:.0f} independent ones" in said

    def test_the_same_capture_does_not_come_in_twice(self, run, shed):
        run("--into", str(shed), "--sensor", "A", "--axis", "Y")
        with pytest.raises(InputError, match="before"):
            run("--into", str(shed), "--sensor", "A", "--axis", "Y")

    @pytest.mark.parametrize("words", [("--axis", "Y"), ("--sensor", "A", "--axis", "Q")])
    def test_whose_it_is_has_to_be_known(self, run, shed, words):
        with pytest.raises(InputError, match="one of"):
            run("--into", str(shed), *words)
        with open_book(shed) as book:
            assert [trial.name for trial in book.trials(1)] == ["By hand"]


def test_the_drawing_of_a_tap_carries_its_caution(tmp_path, rig):
    """It goes to the cabinet alone: where the channel hangs, what to build instead, and what never to touch."""
    (tmp_path / "wires.toml").write_text(
        '[sensor]\noutput = "PNP"\n[input]\nkind = "IEC 61131-2 type 3"\n', encoding="utf-8"
    )
    (tmp_path / "map.toml").write_text(
        MAP + '[tap]\nrating = "0 V to 5.5 V"\nhigh = "2 V"\nlow = "0.8 V"\nload = "100 kohm"\n', encoding="utf-8"
    )
    words = ["capture", "--map", str(tmp_path / "map.toml"), "--tap", str(tmp_path / "wires.toml")]
    drawn = tmp_path / "tap.svg"
    assert cli.main([*words, "--svg", str(drawn)], standalone_mode=False) == 1  # 24 V on 5 V inputs
    text = " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", drawn.read_text(encoding="utf-8")))
    for said in ("Tap of an analyser", "NOT AS IT IS", "switched off", "isolator"):
        assert said in text, said


def test_the_encoder_is_solved_with_a_tap_too_or_said_not_to_be(tmp_path, rig, capsys):
    """A channel for 5 V on step signals of 24 V is refused, on an encoder of 5 V it fits."""
    (tmp_path / "wires.toml").write_text(
        '[sensor]\noutput = "PNP"\n[input]\nkind = "IEC 61131-2 type 3"\n', encoding="utf-8"
    )
    (tmp_path / "map.toml").write_text(
        MAP + '[tap]\nrating = "0 V to 5.5 V"\nhigh = "2 V"\nlow = "0.8 V"\nload = "100 kohm"\n', encoding="utf-8"
    )
    words = ["capture", "--map", str(tmp_path / "map.toml"), "--tap", str(tmp_path / "wires.toml"), "--json"]
    verdicts = {}
    for volts in ("5 V", "24 V"):
        cli.main([*words, "--signals", volts], standalone_mode=False)
        taps = json.loads(capsys.readouterr().out)["taps"]
        assert len(taps) == 2
        verdicts[volts] = taps[-1]["verdict"]
    assert verdicts["5 V"] == "fits" != verdicts["24 V"]
    cli.main(words, standalone_mode=False)
    assert "--signals" in json.loads(capsys.readouterr().out)["notes"][-1]
