"""`holdzero plan`: figures, papers and refusals from the terminal."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

import rs274
from holdzero import demo
from holdzero.cli.plan import command
from holdzero.errors import InputError


def run(*asked: str) -> str:
    answer = CliRunner().invoke(command, list(asked), standalone_mode=False)
    if answer.exception:
        raise answer.exception
    return answer.stdout


@pytest.fixture
def machine(tmp_path: Path) -> tuple[str, ...]:
    (tmp_path / "m.toml").write_text(demo.machine_toml())
    (tmp_path / "s.toml").write_text(demo.sensors_toml())
    return "--machine", str(tmp_path / "m.toml"), "--sensors", str(tmp_path / "s.toml")


def test_json_of_the_split(machine: tuple[str, ...]):
    """docs/plan.md: 12 power-ups of 2 where 90 min, 1 min and 5 min are given; units may be said."""
    found = json.loads(
        run(*machine, "--minutes", "1.5 h", "--per-homing", "60 s", "--per-power-up", "5", "--json")
    )
    assert (found["power_ups"], found["homings"], found["axis"], found["sides"]) == (12, 2, "Y", ["L", "R"])
    assert found["holds_up_to_mm"] < found["spread_allowed_mm"]


def test_the_papers(machine: tuple[str, ...], tmp_path: Path):
    run(
        *machine,
        "--sheet",
        str(tmp_path / "s.html"),
        "--motion",
        str(tmp_path / "y.nc"),
        "--stop-tested",
        "--reach",
        "0 to 1290 mm",
    )
    assert "Trial sheet" in (tmp_path / "s.html").read_text()
    programs = sorted(tmp_path.glob("y-*.nc"))
    assert len(programs) == 12
    places = [tuple(rs274.run(one.read_text()).places_mm["Y"]) for one in programs]
    assert len(set(places)) == 12  # every power-up has starts of its own
    assert all(20 <= place <= 220 for two in places for place in two)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--axis", "Q"), "found Q; needed is one of Y, X"),
        (("--sheet", "s.doc"), "ends in .pdf or .html"),
        (("--motion", "y.nc"), "the emergency stop was tested today.*--stop-tested"),
        (("--motion", "y.nc", "--stop-tested"), "the stated travel in machine coordinates"),
        (("--per-homing", "1 mm"), "--per-homing"),
    ],
)
def test_refusals(machine: tuple[str, ...], asked: tuple[str, ...], said: str):
    with pytest.raises(InputError, match=said):
        run(*machine, *asked)


def test_the_counts_of_a_noise_hunt():
    """As on the page: 9 and none in an hour (Garwood; Clopper and Pearson)."""
    counts = ("--noise", "as it runs: 9 in 1 h", "--noise", "all quiet: 0 in 60 min")
    assert "fewer with all quiet" in run(*counts)
    assert [one["helped"] for one in json.loads(run(*counts, "--json"))["conditions"][1:]] == [True]
    with pytest.raises(InputError, match="the trips and the time"):
        run("--noise", "as it runs 9")


def test_the_caution_comes_before_what_moves(machine: tuple[str, ...], tmp_path: Path):
    """In words and in JSON, and with the force of one motor of the two."""
    asked = ("--motion", str(tmp_path / "y.nc"), "--stop-tested", "--reach", "0 to 1290 mm")
    told = run(*machine, *asked)
    assert told.index("Homing moves the axis by itself") < told.index("Before holds may stand")
    assert "Moves by itself." in told
    assert json.loads(run(*machine, *asked, "--json"))["before_motion"][0].startswith("Moves by itself.")
    assert "before_motion" not in json.loads(run(*machine, "--json"))
