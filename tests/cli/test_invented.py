"""Invented stays marked: every command that reads an example says so, on the terminal and in JSON."""

import json
import sys
from pathlib import Path

import pytest

from holdzero import demo
from holdzero.case.demo_book import keep_demo
from holdzero.cli import main
from holdzero.inputs.machine import EXAMPLE
from holdzero.store import open_book

FILES = ("--machine", "m.toml", "--sensors", "s.toml", "r.csv")
VARIANTS = 'machine = "m.toml"\naxis = "Y"\n[vary]\ncreep_speed = ["1 mm/s", "3 mm/s"]\n'
COMMANDS = {
    "study": ("study", "--machine", "m.toml", "r.csv"),
    "choose": ("choose", *FILES),
    "choose of a book": ("choose", "shed.holdzero"),
    "travel": ("travel", "m.toml"),
    "plan": ("plan", "--machine", "m.toml"),
    "budget": ("budget", "m.toml", "--sensors", "s.toml", "--sensor", demo.WINNER),
    "sweep": ("sweep", "v.toml", "--workers", "1"),
    "install": ("install", "m.toml"),
}


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    monkeypatch.chdir(tmp_path)

    def command(*words: str, machine: str) -> str:
        texts = {"m": machine, "s": demo.sensors_toml(), "v": VARIANTS}
        for name, text in texts.items():
            Path(f"{name}.toml").write_text(text, encoding="utf-8")
        Path("r.csv").write_text(demo.readings_csv(), encoding="utf-8")
        if "shed.holdzero" in words:
            with open_book("shed.holdzero") as book:
                if not book.machines():
                    keep_demo(book)
        monkeypatch.setattr(sys, "argv", ["holdzero", *words])
        with pytest.raises(SystemExit) as ended:
            main()
        out, err = capsys.readouterr()
        assert (ended.value.code, err) == (0, "")
        return out

    return command


@pytest.mark.parametrize("words", COMMANDS.values(), ids=COMMANDS)
def test_the_answer_says_so(run, words: tuple[str, ...]):
    out = run(*words, machine=demo.machine_toml())
    mark = demo.INVENTED if "shed.holdzero" in words else EXAMPLE
    assert next(line for line in out.splitlines() if "nvented" in line).startswith(mark)
    assert out.count(mark) == 1
    assert json.loads(run(*words, "--json", machine=demo.machine_toml()))["invented"] is True


@pytest.mark.parametrize("words", [COMMANDS["choose"], COMMANDS["travel"]], ids=["choose", "travel"])
def test_a_machine_of_one_s_own_carries_no_mark(run, words: tuple[str, ...]):
    own = demo.machine_toml().replace("example = true\n", "")
    assert "nvented" not in run(*words, machine=own)
    assert "invented" not in json.loads(run(*words, "--json", machine=own))


def test_the_record_of_the_printed_command_is_marked_without_a_word(run):
    run("record", *FILES, "-o", "record.html", machine=demo.machine_toml())
    assert Path("record.html").read_text(encoding="utf-8").count(EXAMPLE) >= 2  # header and foot
