"""What takes longer than two seconds says so on a terminal: never in a pipe, with --json, or of a quick job."""

import sys
import time
from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

import pytest

from damaged import told
from holdzero.cli import progress

READINGS = "sensor,axis,set,deviation_mm\n" + "".join(f"A,X,{i // 5},0.00{i % 7}\n" for i in range(30))
Capture = pytest.CaptureFixture[str]
Patch = pytest.MonkeyPatch


def on_a_terminal(patch: Patch, *, patience_s: float = 0.0) -> None:
    """To be called within a test: between its set-up and itself the streams are others."""
    patch.setattr(sys.stderr, "isatty", lambda: True)
    patch.setattr(progress, "PATIENCE_S", patience_s)
    patch.setenv("TERM", "xterm")


def slow(advance: Callable[[int], None] = lambda _: None) -> None:
    for _ in range(4):
        time.sleep(0.05)
        advance(1)


def test_a_job_that_nobody_can_measure_shows_that_it_goes_on(capsys: Capture, monkeypatch: Patch):
    on_a_terminal(monkeypatch)
    with progress.at_work("Studying", quiet=False):
        slow()
    seen = capsys.readouterr()
    assert ("Studying" in seen.err, seen.out) == (True, "")


def test_a_job_that_can_be_counted_shows_how_far_it_is(capsys: Capture, monkeypatch: Patch):
    on_a_terminal(monkeypatch)
    with progress.stages(("Rows", 4), ("Machines", 4)) as (rows, machines):
        slow(rows)
        slow(machines)
    drawn = capsys.readouterr().err
    assert drawn.index("Rows") < drawn.index("Machines")


def test_what_was_done_before_it_is_drawn_counts(monkeypatch: Patch):
    on_a_terminal(monkeypatch)
    bars = progress.Bars((("Rows", 5),))
    advance = bars.advance_of(0)
    advance(3)
    bars.show()
    advance(1)
    assert [task.completed for task in bars.drawn.tasks] == [4]
    bars.end()


@pytest.mark.parametrize("case", ["quick", "quiet", "pipe"])
def test_else_nothing_is_drawn(capsys: Capture, monkeypatch: Patch, case: str):
    on_a_terminal(monkeypatch, patience_s=60.0 if case == "quick" else 0.0)
    if case == "pipe":
        monkeypatch.setattr(sys.stderr, "isatty", lambda: False)
    with progress.at_work("Studying", quiet=case == "quiet"):
        slow()
    assert capsys.readouterr().err == ""


@pytest.mark.parametrize("command", ["study", "import"])
def test_with_json_a_command_is_quiet(tmp_path: Path, monkeypatch: Patch, command: str):
    (tmp_path / "shed.csv").write_text(READINGS)
    begun: list[bool] = []

    def noted(*_: tuple[str, int | None], quiet: bool = False) -> nullcontext[tuple[()]]:
        begun.append(quiet)
        return nullcontext(())

    monkeypatch.setattr(progress, "stages", noted)
    told(command, tmp_path / "shed.csv", "--json")
    assert begun == [True]
    told(command, tmp_path / "shed.csv")
    assert begun == [True, False]
