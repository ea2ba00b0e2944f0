"""`holdzero log` and `holdzero watch` of a book: entries come in, each once, and are watched by the clock."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner

from holdzero.cli import cli
from holdzero.errors import BookError, InputError
from holdzero.store import open_book
from ready_books import keep_demo

MACHINE = {
    "machine": {"name": "Mill"},
    "requirement": {"position": "0.05 mm", "risk": "1 in 1000"},
    "axes": {"X": {"motors": 1}, "Y": {"motors": 2, "drive_distance": "900 mm"}},
}
HEAD = "time,axis,deviation_mm,event,acknowledged\n"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    with open_book(tmp_path / "shed.holdzero") as opened:
        opened.add_machine(MACHINE)
    return tmp_path / "shed.holdzero"


@pytest.fixture
def run(capsys, book: Path):
    def command(name, *words):
        status = cli.main([name, str(book), *map(str, words)], standalone_mode=False)
        out = capsys.readouterr().out
        return status, json.loads(out) if "--json" in words else out

    return command


def rows(n, *, days_ago=0.0, sd=0.003, seed=1, shift=0.0):
    """One homing a day, the last one `days_ago` before now."""
    values = np.random.default_rng(seed).normal(shift, sd, n)
    last = datetime.now(UTC) - timedelta(days=days_ago)
    times = [last - timedelta(days=n - 1 - day) for day in range(n)]
    return [f"{time.isoformat()},X,{value:.4f},," for time, value in zip(times, values, strict=True)]


def write(folder: Path, lines, name="log.csv"):
    (folder / name).write_text(HEAD + "\n".join(lines) + "\n", encoding="utf-8")
    return folder / name


class TestComesIn:
    """By options, files and a folder; wrong ones are refused whole."""

    def test_one_entry_by_its_options(self, run):
        run("log", "--left", "0.5 thou", "--right", "-2 um", "--temperature", "68 degF", "--note", "cold morning")
        _, answer = run("log", "--json")
        left, right = answer["entries"]
        assert (left["axis"], left["side"], right["side"]) == ("Y", "L", "R")  # the axis on two motors
        assert left["deviation_mm"] == pytest.approx(0.0127)
        assert right["deviation_mm"] == pytest.approx(-0.002)
        assert left["temperature_degc"] == pytest.approx(20.0)
        assert abs(datetime.fromisoformat(left["time"]) - datetime.now(UTC)) < timedelta(minutes=5)

    def test_a_file_again_and_again(self, run, tmp_path: Path):
        lines = rows(5)
        _, first = run("log", write(tmp_path, lines[:3]), "--json")
        _, second = run("log", write(tmp_path, lines), "--json")
        assert (first["new"], second["new"], second["before"]) == (3, 2, 3)

    def test_a_folder(self, run, tmp_path: Path):
        folder = tmp_path / "in"
        folder.mkdir()
        write(folder, rows(4), "monday.csv")
        write(folder, rows(4, seed=2, days_ago=10), "before.csv")
        run("log", "--folder", folder, "--once")
        assert run("log", "--json")[1]["entries_n"] == 8
        run("log", "--folder", folder, "--once")
        assert run("log", "--json")[1]["entries_n"] == 8

    def test_beside_a_wrong_file_of_a_folder_the_rest_come_in(self, run, tmp_path: Path):
        folder = tmp_path / "in"
        folder.mkdir()
        (folder / "a.csv").write_text("time,axis,deviation_mm\nyesterday,X,0.1\n", encoding="utf-8")
        write(folder, rows(4), "b.csv")
        with pytest.raises(InputError, match="yesterday"):
            run("log", "--folder", folder, "--once")
        run("log")  # what was printed before the refusal
        assert run("log", "--json")[1]["entries_n"] == 4

    def test_a_zone_for_times_without_one(self, run, tmp_path: Path):
        (tmp_path / "z.csv").write_text("time,axis,deviation_mm\n2026-01-05T08:00,X,0.1\n", encoding="utf-8")
        run("log", tmp_path / "z.csv", "--zone", "+02:00")
        with open_book(tmp_path / "shed.holdzero") as opened:
            assert opened.log(1)[0].entry.moment_s == datetime(2026, 1, 5, 6, tzinfo=UTC).timestamp()

    def test_taken_back(self, run):
        run("log", "--deviation", "0.1", "--axis", "X")
        assert "taken back" in run("log", "--take-back", "1")[1]
        assert run("log", "--json")[1]["entries_n"] == 0
        with pytest.raises(BookError, match="no entry 1"):
            run("log", "--take-back", "1")
        assert "counts again" in run("log", "--again", "1")[1]
        assert run("log", "--json")[1]["entries_n"] == 1
        with pytest.raises(BookError, match="no entry 1 that was taken back"):
            run("log", "--again", "1")

    @pytest.mark.parametrize(
        ("words", "found"),
        [
            (("--deviation", "0.1", "--axis", "Q"), '"Q"'),
            (("--time", "2026-01-01T00:00Z"), "nothing to keep"),
            (("--deviation", "0.1", "--axis", "X", "--time", "noon"), "noon"),
            (("--deviation", "0.1", "--zone", "Atlantis"), "Atlantis"),
        ],
    )
    def test_what_cannot_be_read_is_refused_and_nothing_is_kept(self, run, words, found):
        with pytest.raises(InputError, match=found):
            run("log", *words)
        assert run("log", "--json")[1]["entries_n"] == 0


class TestWatched:
    """Now is the clock: what a scheduler asks each morning."""

    def test_nothing_yet(self, run):
        status, answer = run("watch", "--json")
        assert (status, answer["machines"], answer["needs_look"]) == (0, [], False)

    def test_in_limits_then_a_gap(self, run, tmp_path: Path):
        run("log", write(tmp_path, rows(40)))
        status, answer = run("watch", "--json")
        (row,) = answer["machines"]
        assert (status, row["machine"], row["axis"], row["state"]) == (0, "Mill", "X", "in limits")
        assert row["share_outside"] < 1e-6  # asked by the machine of the book
        later = (datetime.now(UTC) + timedelta(days=6)).isoformat()
        status, answer = run("watch", "--json", "--now", later)
        assert (status, answer["machines"][0]["state"]) == (0, "not known")

    def test_an_alarm_and_its_note(self, run, tmp_path: Path):
        run("log", write(tmp_path, [*rows(40, days_ago=3), *rows(2, shift=0.04)]))
        assert run("watch", "--json")[0] == 1
        run("log", "--acknowledged", "screw of the bracket tightened")
        status, answer = run("watch", "--json")
        assert (status, answer["machines"][0]["state"]) == (0, "in limits")

    def test_an_event_at_squaring_splits_the_baseline_too(self, run, tmp_path: Path, book: Path):
        run("log", write(tmp_path, rows(40)))
        day = (datetime.now(UTC) - timedelta(days=3)).date().isoformat()
        with open_book(book) as opened:
            opened.add_sheet(1, "square", {"event": {"what": "crash", "day": day, "note": ""}})
        assert run("watch", "--json")[1]["machines"][0]["state"] == "learning"

    def test_the_settings_of_the_book(self, run, tmp_path: Path, book: Path):
        run("log", write(tmp_path, rows(40)))
        with open_book(book) as opened:
            opened.add_sheet(1, "watch", {"baseline": "12", "nuisance": "1 in 200", "every": "1 day"})
        (row,) = run("watch", "--json")[1]["machines"]
        assert row["baseline"]["n"] == 12
        assert row["limits"]["homings"] == pytest.approx(200)
        assert run("watch", "--json", "--baseline", "20")[1]["machines"][0]["baseline"]["n"] == 20

    def test_a_clock_behind_the_log_is_said(self, run, tmp_path: Path):
        run("log", write(tmp_path, rows(40, days_ago=-2)))
        answer = run("watch", "--json")[1]
        assert any("clock" in note for note in answer["notes"])
        assert answer["machines"][0]["n"] == 40

    def test_options_of_files_are_refused_beside_a_book(self, run):
        with pytest.raises(InputError, match="--life"):
            run("watch", "--life", "5e6")


def test_the_log_of_an_example_is_marked_as_one(tmp_path):
    path = tmp_path / "demo.holdzero"
    with open_book(path) as book:
        keep_demo(book)
    said = CliRunner().invoke(cli, ["log", str(path), "--json"], standalone_mode=False)
    answer = json.loads(said.stdout)
    assert next(iter(answer)) == "version"
    assert answer["invented"] is True
