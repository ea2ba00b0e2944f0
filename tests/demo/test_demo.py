"""The demo: its figures find again what was planted, and it says everywhere that it is invented."""

import subprocess
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from starlette.testclient import TestClient

from holdzero import demo
from holdzero.case import Case, Texts
from holdzero.case.book_case import BookCase
from holdzero.case.demo_book import keep_demo
from holdzero.case.in_book import InBook
from holdzero.case.watch import WatchAsked, watch_log
from holdzero.compute.choose import choose
from holdzero.compute.findings import study
from holdzero.compute.square import read_square, squaring
from holdzero.compute.wiring import assess, read_wiring
from holdzero.form import EXAMPLE
from holdzero.inputs.log import read_log
from holdzero.inputs.machine import read_machine
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import read_sensors
from holdzero.store import open_book
from holdzero.web.app import create_app


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
    """Six candidates, both sides, each over the same power-ups."""
    sides = [series for series in found.findings if series.side in ("L", "R")]
    assert len(sides) == 2 * len(demo.PLANTED)
    assert {(series.n, series.sets) for series in sides} == {(demo.POWER_UPS * demo.HOMINGS, demo.POWER_UPS)}
    assert demo.readings_csv().count("\n") == 1 + demo.READINGS


EVEN = (demo.WINNER, demo.DEARER, demo.ON_STEPS)  # no drift, no strays, one speed: the parts add as squares


@pytest.mark.parametrize("planted", [p for p in demo.PLANTED if p.sensor in EVEN], ids=lambda p: p.sensor)
def test_the_planted_spread_lies_in_the_interval(found, planted):
    for side in "LR":
        spread = found.of(planted.sensor, "Y", side).spread
        assert spread.low <= planted.spread_mm <= spread.high


def test_the_shared_part_does_not_rack_the_gantry(found):
    """The difference of the winner's sides holds sqrt 2 times the own parts only."""
    planted = next(p for p in demo.PLANTED if p.sensor == demo.WINNER)
    own = np.sqrt(2) * np.hypot(planted.within_mm, planted.between_mm)
    spread = found.of(demo.WINNER, "Y", "difference").spread
    assert spread.low <= own <= spread.high


@pytest.mark.parametrize("planted", demo.PLANTED, ids=lambda p: p.sensor)
def test_every_verdict_is_the_one_planted(chosen, planted):
    candidate = next(c for c in chosen.candidates if c.sensor.name == planted.sensor)
    assert candidate.verdict == planted.verdict


def test_the_cheapest_that_holds_is_chosen(chosen):
    holding = [p.sensor for p in demo.PLANTED if p.verdict == "holds"]
    prices = {c.sensor.name: c.sensor.price for c in chosen.candidates}
    assert chosen.choice == demo.WINNER == min(holding, key=lambda name: prices[name])


def test_the_winner_has_room_and_the_dearer_one_buys_nothing_needed(chosen):
    """True spread at least 2.5 times under what is allowed, on each side and for the difference of the sides."""
    planted = {p.sensor: p for p in demo.PLANTED}
    parts = {c.sensor.name: c.parts for c in chosen.candidates}
    for name in (demo.WINNER, demo.DEARER):
        apart_mm = np.sqrt(2) * np.hypot(planted[name].within_mm, planted[name].between_mm)
        for part in parts[name]:
            true_mm = apart_mm if part.name == "squareness" else planted[name].spread_mm
            assert part.spread_allowed_mm > 2.5 * true_mm
    assert demo.DEARER in {more.sensor for more in chosen.more_money}


def test_what_the_display_holds_back_is_neither_the_dearest_nor_the_cheapest(chosen):
    prices = {c.sensor.name: c.sensor.price for c in chosen.candidates}
    assert min(prices.values()) < prices[demo.COARSE] < max(prices.values())


def test_the_warm_up_is_seen_and_only_there(found):
    assert showing(found, "not-steady") == {demo.WARMING}


def test_what_grows_with_speed_is_seen_and_only_there(found):
    assert showing(found, "grows-with-speed") == {demo.WARMING}


def test_landing_on_full_steps_is_seen_and_only_there():
    machine = read_machine(demo.machine_toml())
    stepped = study(read_readings(demo.readings_csv()), axes=machine.axes)
    assert showing(stepped, "lattice-full-step") == {demo.ON_STEPS}


def test_the_planted_strays_are_found(found):
    (planted,) = (p for p in demo.PLANTED if p.strays)
    assert planted.sensor == demo.STRAYS
    for side in "LR":
        series = found.of(planted.sensor, "Y", side)
        taken = series.homings
        at = [(int(taken.set_label[i]), int(taken.homing[i])) for i in series.misses.indices]
        assert at == [(s.power_up, s.homing) for s in planted.strays if s.side == side]


def test_a_coarse_display_is_called_one(found):
    assert showing(found, "coarse") == {demo.COARSE}
    assert all(found.of(demo.COARSE, "Y", side).spread.middle is None for side in "LR")


def showing(found, code: str) -> set[str]:
    return {series.sensor for series in found.findings if any(s.code == code for s in series.signatures)}


def test_the_chosen_sensor_is_wired_so_that_a_broken_wire_stops_the_machine():
    for circuit in read_wiring(demo.wiring_toml(), where="demo"):
        assert assess(circuit).verdict == "works"


def test_the_page_and_the_terminal_choose_the_same(tmp_path: Path):
    """The page also knows the wiring of the demo; that must not rule the choice out."""
    with open_book(tmp_path / "book") as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
        machine = keep_demo(book)
        assert client.get(f"/machines/{machine}/choice.json").json()["choice"] == demo.WINNER


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
    price = next(s.price for s in read_sensors(demo.sensors_toml()) if s.name == demo.WINNER)
    assert f"{demo.WINNER} is the cheapest that holds so far." in done.stdout
    assert f" {price:.2f}" in done.stdout
    assert (tmp_path / "record.pdf").read_bytes().startswith(b"%PDF")
    assert EXAMPLE in (tmp_path / "record.html").read_text(encoding="utf-8")
    for name in ("machine.toml", "sensors.toml", "wiring.toml", "measured.toml"):
        assert "Invented" in (tmp_path / name).read_text(encoding="utf-8")
    assert (tmp_path / "demo.holdzero").exists()


@pytest.fixture(scope="module")
def rows():
    """Every series of the demo's log, by axis and side."""
    log = read_log([(demo.log_csv(), "demo")])
    asked = WatchAsked(Case(Texts(files={"machine": demo.machine_toml()})))
    watched = watch_log(log, asked=asked, baseline=demo.BASELINE)
    return {(row.logged.axis, row.logged.side): row for row in watched.rows}


class TestInUse:
    """Fourteen months of check homings: a slipped bracket, a season and a wearing roller, all three found."""

    def test_the_slipped_bracket_on_its_morning_and_never_before(self, rows):
        row = rows["Y", "difference"]
        first = row.watched.alarms[0]
        assert row.logged.times[first.row] == demo.IN_USE.slip.isoformat()
        slip = next(alarm for alarm in row.watched.alarms if alarm.rule == "single")
        assert slip.off_mm == pytest.approx(demo.IN_USE.slip_mm, abs=4 * row.watched.baseline.sd_mm)
        assert not any(alarm.open for alarm in row.watched.alarms)  # the repair split the baseline
        assert row.watched.state == "in limits"

    def test_the_season_is_temperature_and_no_alarm(self, rows):
        row = rows["Y", "mean"]
        fit = row.watched.baseline.temperature
        assert fit.slope_mm_per_degc == pytest.approx(demo.IN_USE.growth_mm_per_degc, rel=0.25)
        slipped = {demo.IN_USE.slip.isoformat()[:8]} | {"2025-10-"}
        assert {row.logged.times[alarm.row][:8] for alarm in row.watched.alarms} <= slipped
        assert row.watched.step_mm is None
        assert not row.watched.trend.significant

    def test_the_roller_wears_as_planted_and_the_day_it_costs_is_foretold(self, rows):
        row = rows["X", ""]
        low, high = row.watched.trend.interval_mm_per_day
        assert low < demo.IN_USE.wear_mm_per_day < high
        assert row.watched.state == "alarm"
        assert row.lost_on[0] > demo.watched.END.date()

    def test_the_book_says_the_same_of_it(self, tmp_path):
        with open_book(tmp_path / "demo.holdzero") as book:
            case = BookCase(InBook(book, book.machine(keep_demo(book))))
            watched = case.watched
            assert {row.logged.axis: row.watched.state for row in watched.rows} == {"X": "alarm", "Y": "in limits"}
            assert case.basis.today == date(2026, 4, 29)
            parts = {axis.axis: {part.part: part for part in axis.parts} for axis in case.standings.axes}
            assert parts["Y"]["watch"].answer == "good"
            assert parts["X"]["watch"].answer == "not good"
            assert case.standings.machine.station == "watch"
