"""Machine, candidates and book, by path, text, dict or keywords."""

import contextlib
import json
import subprocess
import sys

import numpy as np
import pytest

import holdzero as hz
from case.books import BOOKS, make
from holdzero.cli import cli
from holdzero.store import open_book
from ready_books import keep_demo

TEXT = """\
[machine]
name = "Router"

[requirement]
squareness = "0.1 mm over 600 mm"
risk = "1 in 1000"

[axes.Y]
motors = 2
drive_distance = "980 mm"
creep_speed = "2 mm/s"
"""
Y = {"motors": 2, "drive_distance": "980 mm", "creep_speed": "2 mm/s"}
READINGS = {
    "sensor": ["K"] * 40,
    "axis": ["Y"] * 40,
    "side": ["L", "R"] * 20,
    "set": np.repeat(range(4), 10),
    "homing": np.tile(np.repeat(range(5), 2), 4),
    "deviation_um": np.random.default_rng(20260106).normal(0, 3, 40).round(1),
}


def test_a_machine_is_the_same_whatever_it_came_as(tmp_path):
    (tmp_path / "machine.toml").write_text(TEXT)
    ways = [
        hz.machine(tmp_path / "machine.toml"),
        hz.machine(str(tmp_path / "machine.toml")),
        hz.machine(TEXT),
        hz.machine(
            {
                "machine": {"name": "Router"},
                "requirement": {"squareness": "0.1 mm over 600 mm", "risk": "1 in 1000"},
                "axes": {"Y": Y},
            }
        ),
        hz.machine(name="Router", squareness="0.1 mm over 600 mm", risk="1 in 1000", Y=Y),
        hz.machine(name="Router", squareness="0.1 mm over 600 mm", risk="1 in 1000", axes={"Y": Y}),
    ]
    assert {repr(way) for way in ways} == {
        "Router: Y on 2 motors\nasked: squareness 0.1 mm over 600 mm, risk 1 in 1000"
    }
    assert {way.machine.requirement for way in ways} == {ways[0].machine.requirement}
    assert ways[3].text == ways[4].text
    assert ways[4].write(tmp_path / "again.toml").read_text() == ways[4].text
    assert hz.machine(ways[0]) is ways[0]


@pytest.mark.parametrize(
    ("keys", "words"),
    [
        ({"squarenes": "0.1 mm over 600 mm", "Y": Y}, "did you mean squareness"),
        ({"name": "Router"}, "no axis"),
        ({"Y": Y | {"lead": float("nan")}}, "found nan; needed is a number"),
        ({"Y": Y | {"lead": "ten"}}, r"axes\.Y\.lead"),
        ({"Y": Y | {"lead": {10}}}, "found a set"),
    ],
    ids=str,
)
def test_slips_in_a_machine_are_value_errors(keys, words):
    with pytest.raises(ValueError, match=words):
        hz.machine(**keys)


def test_no_two_sources_at_once():
    with pytest.raises(ValueError, match="leave the keywords out"):
        hz.machine(TEXT, name="Router")
    with pytest.raises(ValueError, match="leave the keywords out"):
        hz.sensors("[sensors.A]\n", A={})


def test_candidates_by_keywords_choose_as_those_of_a_file():
    machine = hz.machine(TEXT)
    by_text = hz.choose(READINGS, machine=machine, sensors="[sensors.K]\nprice = 18.0\n", resolution="0.1 um")
    by_name = hz.choose(READINGS, machine=machine, sensors=hz.sensors(K={"price": 18.0}), resolution="0.1 um")
    by_dict = hz.choose(READINGS, machine=machine, sensors={"K": {"price": 18.0}}, resolution="0.1 um")
    first = by_text.to_dict()["candidates"]
    assert first[0]["verdict"] in ("holds", "too close to call", "does not hold", "cannot say")
    assert by_name.to_dict()["candidates"] == by_dict.to_dict()["candidates"] == first


def test_what_a_choice_needs_is_said():
    with pytest.raises(ValueError, match=r"add machine=\.\.\., or give a book"):
        hz.choose(READINGS, sensors={"K": {}})
    with pytest.raises(ValueError, match="confidence"):
        hz.choose(READINGS, machine=TEXT, sensors={"K": {}}, confidence=95)
    with pytest.raises(ValueError, match="axis"):
        hz.choose(READINGS, machine=TEXT, sensors={"K": {}}, axis="Q")


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    path = tmp_path_factory.mktemp("book") / "mill.holdzero"
    make(path, BOOKS["one motor, a circuit of another axis fails"])
    return path


class TestBook:
    """A book by its path."""

    def test_it_names_its_machines_and_answers(self, path):
        book = hz.book(path)
        assert repr(book) == f"Book {path}: Mill"
        assert book.choose(machine="Mill").to_dict() == hz.choose(path).to_dict()
        assert book.study().of("K")["n"] == 32
        assert hz.wiring(book).of(hz.wiring(path).rows()[0]["circuit"])
        assert hz.plan(book, axis="X").rows()

    def test_slips(self, path, tmp_path):
        with pytest.raises(ValueError, match="leave sensors out"):
            hz.choose(path, sensors={"K": {}})
        with pytest.raises(ValueError, match="Lathe"):
            hz.book(path).choose(machine="Lathe")
        (tmp_path / "machine.toml").write_text(TEXT)
        with pytest.raises(ValueError, match="a file that is no book"):
            hz.book(tmp_path / "machine.toml")
        with pytest.raises(ValueError, match="no such file"):
            hz.book(tmp_path / "none.holdzero")
        with pytest.raises(ValueError, match="leave name out"):
            hz.travel(tmp_path / "machine.toml", name="Router")


def test_a_fleet_is_watched_as_one_log_is(tmp_path):
    from datetime import UTC, datetime, timedelta

    lines = ["time,machine,axis,deviation_um"]
    for day in range(40):
        moment = datetime(2026, 1, 1, 8, tzinfo=UTC) + timedelta(days=day)
        off = {name: (7 * day + 3 * len(name)) % 11 - 5 for name in ("saw", "mill")}
        lines += [f"{moment.isoformat()},{name},X,{value}" for name, value in off.items()]
        lines[-1] = lines[-1] if day < 38 else lines[-1] + "0"
    (tmp_path / "log.csv").write_text("\n".join(lines), encoding="utf-8")
    machine = {"requirement": {"position": "0.05 mm"}, "axes": {"X": {"motors": 1}}}
    of_fleet, of_log = hz.fleet(tmp_path, machine=machine), hz.watch(tmp_path / "log.csv", machine=machine)
    assert of_fleet.rows() == of_log.rows()
    assert str(of_fleet).splitlines()[0] == str(of_log).splitlines()[0]
    assert of_fleet.rows()[0]["machine"] == "mill"
    with pytest.raises(ValueError, match="no log"):
        hz.fleet()


def test_a_watch_of_columns_is_that_of_the_file(tmp_path):
    times = [f"2026-01-{day:02}T08:00" for day in range(1, 29)]
    deviations = np.random.default_rng(20260107).normal(0, 0.003, 28).round(4)
    columns = {"time": times, "axis": ["X"] * 28, "deviation_mm": deviations}
    (tmp_path / "log.csv").write_text(
        "time,axis,deviation_mm\n"
        + "".join(f"{t},X,{d!r}\n" for t, d in zip(times, deviations.tolist(), strict=True))
    )
    first, second = hz.watch(columns, resolution="0.1 um"), hz.watch(tmp_path / "log.csv", resolution="0.1 um")
    assert first.to_dict()["machines"] == second.to_dict()["machines"]
    assert first.of("", axis="X")["state"] == "in limits"
    with pytest.raises(ValueError, match="no log"):
        hz.watch()


def test_a_watch_of_a_book_is_what_the_command_says(tmp_path, capsys):
    with open_book(tmp_path / "shed.holdzero") as book:
        keep_demo(book)
    path, now = tmp_path / "shed.holdzero", "2026-01-01T00:00:00+00:00"
    with contextlib.suppress(SystemExit):
        cli(["watch", str(path), "--json", "--now", now])
    said = json.loads(capsys.readouterr().out)
    answer = hz.watch(path, now=now)
    assert answer.to_dict()["machines"] == said["machines"]
    assert hz.book(path).watch(now=now).to_dict() == answer.to_dict()
    assert "Invented data" in str(answer)
    with pytest.raises(ValueError, match="a book beside resolution"):
        hz.watch(path, resolution="1 um")
    with open_book(tmp_path / "empty.holdzero") as book:
        book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    with pytest.raises(ValueError, match="no check homing in its log"):
        hz.watch(tmp_path / "empty.holdzero")


def test_importing_the_package_imports_nothing_else():
    lines = "import sys; before = set(sys.modules); import holdzero; print(sorted(set(sys.modules) - before))"
    told = subprocess.run([sys.executable, "-c", lines], capture_output=True, text=True, check=True).stdout
    assert told.strip() == "['holdzero']"


def test_each_name_is_there_and_no_other():
    assert all(callable(getattr(hz, name)) for name in hz.__all__)
    assert set(hz.__all__) <= set(dir(hz))
    with pytest.raises(AttributeError, match="no attribute 'guess'"):
        hz.guess  # noqa: B018
