"""A slip of the pen in a file of `choose` is never passed over in silence."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero import demo
from holdzero.cli import cli
from holdzero.errors import InputError


def words(folder: Path, *more: str, machine: str = "", sensors: str = "") -> list[str]:
    files = {
        "machine": machine or demo.machine_toml(),
        "sensors": sensors or demo.sensors_toml(),
        "readings": demo.readings_csv(),
    }
    for name, text in files.items():
        (folder / name).write_text(text, encoding="utf-8")
    options = ["--machine", str(folder / "machine"), "--sensors", str(folder / "sensors")]
    return ["choose", *options, str(folder / "readings"), *more]


def run(arguments: list[str]) -> str:
    return CliRunner().invoke(cli, arguments, standalone_mode=False, catch_exceptions=False).output


@pytest.mark.parametrize(
    ("slip", "meant"),
    [
        ({"machine": demo.machine_toml().replace("position =", "positon =")}, "position"),
        ({"sensors": demo.sensors_toml().replace("life =", "lief =", 1)}, "life"),
    ],
)
def test_a_key_that_is_not_used_is_named_with_what_it_may_have_meant(tmp_path: Path, slip: dict, meant: str):
    said = run(words(tmp_path, **slip))
    assert f"did you mean {meant}" in said
    assert said.index("did you mean") < said.index("Verdict")  # before the verdicts it may have changed
    notes = json.loads(run(words(tmp_path, "--json", **slip)))["notes"]
    assert any(f"did you mean {meant}" in note for note in notes)


@pytest.mark.parametrize(
    "option",
    [("--minutes", "nan", "5"), ("--minutes", "-1", "5"), ("--price-limit", "nan"), ("--price-limit", "-3")],
)
def test_options_that_are_no_time_and_no_price_are_refused(tmp_path: Path, option: tuple[str, ...]):
    with pytest.raises(InputError, match=option[0]):
        run(words(tmp_path, *option))
