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


def test_json_of_the_usual_times(machine: tuple[str, ...]):
    """Hand count: 90 min, 1 min a homing and 5 min a power-up bear 11 power-ups of 3; units may be said."""
    plan = json.loads(run(*machine, "--minutes", "1.5 h", "--per-homing", "60 s", "--per-power-up", "5", "--json"))
    assert (plan["power_ups"], plan["homings"], plan["axis"], plan["sides"]) == (11, 3, "Y", ["L", "R"])
    assert plan["holds_up_to_mm"] < plan["spread_allowed_mm"]
    assert plan["long_run"]["offered"] is False  # nothing was tried of this machine


def test_two_homings_where_they_are_asked_for(machine: tuple[str, ...]):
    """docs/plan.md: 12 power-ups of 2 say most about the spread in these 90 minutes."""
    plan = json.loads(run(*machine, "--fewest", "2", "--json"))
    assert (plan["power_ups"], plan["homings"]) == (12, 2)


def test_the_one_chosen_is_confirmed_alone(machine: tuple[str, ...]):
    names = json.loads(run(*machine, "--json"))["sensors"]
    plan = json.loads(run(*machine, "--confirm", names[1], "--json"))
    assert (plan["kind"], plan["sensors"]) == ("confirming", [names[1]])
    assert f"{names[1]} once more, alone" in run(*machine, "--confirm", names[1])


def test_a_person_reads_what_is_promised_and_whether_a_run_pays(machine: tuple[str, ...]):
    page = " ".join(run(*machine, "--display", "0.001 mm", "--full").split())
    assert "in 4 of 5 such trials with both sides read a candidate of" in page
    assert "change only the plug" in page
    assert "A long run settles the tails, the power-ups settle the day" in page
    assert "too coarse to promise" in " ".join(run(*machine, "--display", "0.1 mm").split())


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
    assert len(programs) == 11
    places = [tuple(rs274.run(one.read_text()).places_mm["Y"]) for one in programs]
    assert len(set(places)) == 11  # every power-up has starts of its own
    assert all(20 <= place <= 220 for two in places for place in two)


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (("--axis", "Q"), "found Q; needed is one of Y, X"),
        (("--sheet", "s.doc"), "ends in .pdf or .html"),
        (("--motion", "y.nc"), "the emergency stop was tested today.*--stop-tested"),
        (("--motion", "y.nc", "--stop-tested"), "the stated travel in machine coordinates"),
        (("--per-homing", "1 mm"), "--per-homing"),
        (("--confirm", "Q"), "the sensor to confirm: found Q"),
        (("--display", "1 s"), "--display"),
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
    assert told.index("Homing moves the axis by itself") < told.index("Before “holds” may stand")
    assert "Moves by itself." in told
    assert json.loads(run(*machine, *asked, "--json"))["before_motion"][0].startswith("Moves by itself.")
    assert "before_motion" not in json.loads(run(*machine, "--json"))
