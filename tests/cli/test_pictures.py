"""`--pictures FOLDER`: the pictures of an answer as files, SVG and PNG, an example marked as one."""

import xml.etree.ElementTree as ElementTree
from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero import demo
from holdzero.cli import cli
from holdzero.report import alone

ASKED = {
    "study": (["study", "readings.csv", "--machine", "machine.toml"], "readings_K_Y_L"),
    "choose": (
        ["choose", "--machine", "machine.toml", "--sensors", "sensors.toml", "readings.csv", "--json"],
        "comparison",
    ),
    "plan": (["plan", "--machine", "machine.toml"], "indicator"),
    "square": (["square", "measured.toml"], "gantry"),
}


@pytest.fixture
def demo_folder(tmp_path: Path, monkeypatch) -> Path:
    files = {
        "machine.toml": demo.machine_toml(),
        "sensors.toml": demo.sensors_toml(),
        "readings.csv": "".join(
            line for line in demo.readings_csv().splitlines(keepends=True) if line[:2] in ("se", "K,", "N,")
        ),
        "measured.toml": demo.square_toml(),
    }
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("name", ASKED)
def test_pictures_are_written_beside_the_answer(name: str, demo_folder: Path):
    words, named = ASKED[name]
    plain = CliRunner().invoke(cli, words, standalone_mode=False)
    result = CliRunner().invoke(cli, [*words, "--pictures", "out"], standalone_mode=False)
    assert result.exception is None
    assert result.output == plain.output
    written = sorted((demo_folder / "out").iterdir())
    assert {path.stem for path in written if path.suffix == ".svg"} == {
        path.stem for path in written if path.suffix == ".png"
    }
    svg = (demo_folder / "out" / f"{named}.svg").read_text(encoding="utf-8")
    ElementTree.fromstring(svg)
    assert "invented example" in svg.lower()
    assert all(path.read_bytes().startswith(b"\x89PNG") for path in written if path.suffix == ".png")


def test_where_png_cannot_be_drawn_svg_is_written_and_that_is_said(demo_folder: Path, monkeypatch):
    monkeypatch.setattr(alone, "pdf_installed", lambda: False)
    result = CliRunner().invoke(cli, ["square", "measured.toml", "--pictures", "out"], standalone_mode=False)
    assert "Pictures come as SVG alone" in result.stderr
    assert [path.name for path in (demo_folder / "out").iterdir()] == ["gantry.svg"]
