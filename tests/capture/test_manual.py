"""The manual's example runs, and says what the manual says; its table of keys is that of the program."""

import re
from pathlib import Path

import pytest

from holdzero.cli import cli
from holdzero.compute.capture import CAPTURE_KEYS
from holdzero.compute.wiring import TAP_KEYS
from holdzero.quantity import plain

PAGE = (Path(__file__).parents[2] / "docs" / "capture.md").read_text(encoding="utf-8")


def block(kind):
    """The first fenced block of a kind."""
    return re.search(rf"```{kind}\n(.*?)```", PAGE, re.DOTALL)[1]


def test_the_example_runs(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("run.csv").write_text(block("csv"), encoding="utf-8")
    Path("map.toml").write_text(block("toml"), encoding="utf-8")
    cli.main(["capture", "run.csv", "--map", "map.toml"], standalone_mode=False)
    assert plain(capsys.readouterr().out) == block("text")


@pytest.mark.parametrize(("name", "table"), [("keys", CAPTURE_KEYS), ("tap", TAP_KEYS)])
def test_every_key_is_told(name, table):
    keys = re.search(rf"<!-- {name}.*?-->\n(.*?)<!-- end of {name}", PAGE, re.DOTALL)[1]
    assert keys == "".join(f"| `{key.name}` | {key.meaning}, e.g. `{key.example}` |\n" for key in table)
