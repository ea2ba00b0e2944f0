"""`holdzero fleet`: the rows of `holdzero watch`, from any layout of Parquet and CSV files."""

import csv
import json
import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

import duckdb
import numpy as np
import pytest

from holdzero.cli import cli
from holdzero.errors import InputError
from holdzero.recording.logs import FleetLogs

MACHINE = """\
[requirement]
squareness = "0.1 mm over 600 mm"
position = "0.05 mm"
[axes.Y]
motors = 2
drive_distance = "900 mm"
"""
HEAD = ("time", "machine", "axis", "left_mm", "right_mm", "event", "acknowledged")
START = datetime(2026, 1, 1, 8, tzinfo=UTC)


def rows():
    """Five machines: steady, shifted, repaired, silent for long, learning; and an event of the whole shed."""
    draw = np.random.default_rng(4)
    made = []
    for number, name in enumerate(("press", "saw", "mill 2", "o'clock", "new")):
        for day in range(54 if name == "new" else 0, 20 if name == "o'clock" else 60):
            time = (START + timedelta(days=day, minutes=number)).isoformat()
            shift = 0.03 if (name == "saw" and day > 50) or (name == "mill 2" and 40 < day < 45) else 0.0
            left, right = draw.normal(0, 0.003, 2)
            made.append((time, name, "Y", f"{left:.4f}", f"{right + shift:.4f}", "", ""))
    made.append(((START + timedelta(days=45)).isoformat(), "mill 2", "Y", "", "", "flag set back", ""))
    made.append(((START + timedelta(days=2, hours=1)).isoformat(), "", "", "", "", "", "all looked at"))
    return made


def write(path: Path, lines, head=HEAD):
    with path.open("w", newline="", encoding="utf-8") as file:
        csv.writer(file).writerows([head, *lines])
    return path


@pytest.fixture
def run(capsys):
    def command(name, *words):
        status = cli.main([name, *map(str, words), "--json"], standalone_mode=False)
        answer = json.loads(capsys.readouterr().out)
        return status, answer["machines"], answer

    return command


@pytest.fixture
def told(run, tmp_path: Path):
    """What `holdzero watch` says of one file with everything in it."""
    (tmp_path / "m.toml").write_text(MACHINE, encoding="utf-8")
    status, machines, _ = run("watch", write(tmp_path / "all.csv", rows()), "--machine", tmp_path / "m.toml")
    assert status == 1
    assert {row["state"] for row in machines} == {"alarm", "in limits", "not known", "learning"}
    return status, machines


class TestLayouts:
    """Answers are equal on any layout and order of the rows."""

    def fleet(self, run, tmp_path, *paths):
        return run("fleet", *paths, "--machine", tmp_path / "m.toml")[:2]

    def test_one_file(self, run, told, tmp_path: Path):
        assert self.fleet(run, tmp_path, tmp_path / "all.csv") == told

    def test_shuffled_over_three_files_of_a_folder(self, run, told, tmp_path: Path):
        folder = tmp_path / "logs" / "below"
        folder.mkdir(parents=True)
        lines = rows()
        random.Random(2).shuffle(lines)
        for number in range(3):
            write(folder / f"{number}.csv", lines[number::3])
        assert self.fleet(run, tmp_path, tmp_path / "logs") == told

    def test_parquet_with_typed_columns(self, run, told, tmp_path: Path):
        where = (tmp_path / "all.csv").as_posix()
        columns = (
            "cast(time as timestamptz) as time, machine, axis, cast(left_mm as double) as left_mm, "
            "cast(right_mm as double) as right_mm, event, acknowledged"
        )
        rows_of = f"select {columns} from read_csv('{where}', all_varchar = true) order by random()"
        duckdb.sql(f"copy ({rows_of}) to '{(tmp_path / 'all.parquet').as_posix()}'")
        status, machines = self.fleet(run, tmp_path, tmp_path / "all.parquet")
        assert status == told[0]
        for ours, theirs in zip(machines, told[1], strict=True):
            for key in ("machine", "side", "n", "state", "share_outside", "alarms_n", "slope_um_per_day"):
                assert ours[key] == theirs[key]

    def test_blocks_of_one_machine(self, told, tmp_path: Path, run, monkeypatch):
        whole = FleetLogs.blocks
        monkeypatch.setattr(FleetLogs, "blocks", lambda logs: whole(logs, rows=1))
        assert self.fleet(run, tmp_path, tmp_path / "all.csv") == told

    def test_a_file_a_machine_without_a_column_of_that_name(self, run, tmp_path: Path):
        lines = rows()
        head = tuple(name for name in HEAD if name != "machine")
        for name in ("press", "saw"):
            own = [(line[0], *line[2:]) for line in lines if line[1] == name]
            write(tmp_path / f"{name}.csv", own, head)
        machines = run("fleet", tmp_path / "press.csv", tmp_path / "saw.csv")[1]
        assert {row["machine"] for row in machines} == {"press", "saw"}


class TestRefused:
    """What is no log is named."""

    def test_no_such_file(self, run, tmp_path: Path):
        with pytest.raises(InputError, match="no such file"):
            run("fleet", tmp_path / "nothing.csv")

    def test_an_empty_folder(self, run, tmp_path: Path):
        with pytest.raises(InputError, match="no log in it"):
            run("fleet", tmp_path)

    def test_no_parquet(self, run, tmp_path: Path):
        (tmp_path / "x.parquet").write_text("time,left_mm\n")
        with pytest.raises(InputError, match="no table"):
            run("fleet", tmp_path / "x.parquet")

    def test_nothing_is_fetched(self, tmp_path: Path):
        logs = FleetLogs([str(write(tmp_path / "all.csv", rows()))])
        options = "autoinstall_known_extensions", "autoload_known_extensions"
        for option in options:
            assert logs._db.execute(f"select current_setting('{option}')").fetchone() == (False,)
