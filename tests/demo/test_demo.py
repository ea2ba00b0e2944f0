"""The demo: its figures find again what was planted, and it says everywhere that it is invented."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from holdzero import demo
from holdzero.compute.choose import choose
from holdzero.compute.findings import study
from holdzero.compute.square import read_square, squaring
from holdzero.compute.wiring import assess, read_wiring
from holdzero.inputs.machine import read_machine
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import read_sensors
from holdzero.store import open_book
from holdzero.web.app import create_app
from holdzero.web.start import keep_demo


@pytest.fixture(scope="module")
def found():
    return study(read_readings(demo.readings_csv(), where="demo"))


@pytest.fixture(scope="module")
def chosen(found):
    return choose(
        read_machine(demo.machine_toml(), where="demo"), read_sensors(demo.sensors_toml(), where="demo"), found
    )


def test_the_same_seed_gives_the_same_readings():
    assert demo.readings_csv() == demo.readings_csv()
    assert demo.readings_csv(1) != demo.readings_csv(2)


def test_as_large_as_the_design_says(found):
    """Six candidates, both sides, eight power-ups of five homings."""
    sides = [one for one in found.findings if one.side in ("L", "R")]
    assert len(sides) == 12
    assert {(one.n, one.sets) for one in sides} == {(40, 8)}


@pytest.mark.parametrize("planted", [p for p in demo.PLANTED if p.sensor in "BE"], ids=lambda p: p.sensor)
def test_the_planted_spread_lies_in_the_interval(found, planted):
    """B and E have no drift, no misses and no speeds: within, between and shared parts add as squares."""
    lattice = planted.lattice_mm / 12**0.5
    truth = np.sqrt(planted.within_mm**2 + planted.between_mm**2 + planted.shared_mm**2 + lattice**2)
    for side in "LR":
        spread = found.of(planted.sensor, "Y", side).spread
        assert spread.low <= truth <= spread.high


def test_the_shared_part_does_not_rack_the_gantry(found):
    """The difference of B's sides holds sqrt 2 times the own parts only."""
    planted = next(p for p in demo.PLANTED if p.sensor == "B")
    own = np.sqrt(2) * np.hypot(planted.within_mm, planted.between_mm)
    spread = found.of("B", "Y", "difference").spread
    assert spread.low <= own <= spread.high


@pytest.mark.parametrize("planted", demo.PLANTED, ids=lambda p: p.sensor)
def test_every_verdict_is_the_one_planted(chosen, planted):
    candidate = next(c for c in chosen.candidates if c.sensor.name == planted.sensor)
    assert candidate.verdict == planted.verdict


def test_the_cheapest_that_holds_is_chosen(chosen):
    holding = [p.sensor for p in demo.PLANTED if p.verdict == "holds"]
    prices = {c.sensor.name: c.sensor.price for c in chosen.candidates}
    assert chosen.choice == min(holding, key=lambda name: prices[name])


def test_the_warm_up_is_seen_and_only_there(found):
    unsteady = {one.sensor for one in found.findings if any(s.code == "not-steady" for s in one.signatures)}
    assert "C" in unsteady
    assert not unsteady & {"A", "B", "D", "E"}


def test_the_planted_gross_miss_is_found(found):
    planted = next(p for p in demo.PLANTED if p.gross_miss)
    power_up, homing, side, _ = planted.gross_miss
    misses = found.of(planted.sensor, "Y", side).misses
    assert misses.count == 1
    homings = found.of(planted.sensor, "Y", side).homings
    assert (homings.set_label[misses.indices[0]], homings.homing[misses.indices[0]]) == (str(power_up), homing)


def test_a_coarse_display_is_called_one(found):
    for side in "LR":
        one = found.of("D", "Y", side)
        assert one.all_alike
        assert one.spread.middle is None


def test_the_chosen_sensor_is_wired_so_that_a_broken_wire_stops_the_machine():
    for circuit in read_wiring(demo.wiring_toml(), where="demo"):
        assert assess(circuit).verdict == "works"


def test_the_page_and_the_terminal_choose_the_same(tmp_path: Path):
    """The page also knows the wiring of the demo; that must not rule the choice out."""
    with open_book(tmp_path / "book") as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
        machine = keep_demo(book)
        assert client.get(f"/machines/{machine}/choice.json").json()["choice"] == "B"


def test_squaring_ends_where_it_cannot_be_told_from_square():
    asked = read_square(demo.square_toml(), where="demo")
    assert squaring(asked.setup, asked.rounds).stop


def test_the_command_prints_writes_and_says_it_is_invented(tmp_path: Path):
    done = subprocess.run(
        [sys.executable, "-m", "holdzero", "demo", "--once", "--folder", str(tmp_path)],
        capture_output=True,
        text=True,
        check=True,
        encoding="utf-8",
    )
    assert done.stdout.startswith(demo.INVENTED)
    assert "B (9.00) is the cheapest that holds" in done.stdout
    assert (tmp_path / "record.pdf").read_bytes().startswith(b"%PDF")
    assert "Invented data" in (tmp_path / "record.html").read_text(encoding="utf-8")
    for name in ("machine.toml", "sensors.toml", "wiring.toml", "measured.toml"):
        assert "Invented" in (tmp_path / name).read_text(encoding="utf-8")
    assert (tmp_path / "demo.holdzero").exists()
