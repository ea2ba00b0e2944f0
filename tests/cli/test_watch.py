"""`holdzero watch` from files: keys, every state, exit status; what must change nothing."""

import json
import random
import re
from datetime import UTC, datetime, timedelta
from math import sqrt
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from scipy.stats import norm, weibull_min

from holdzero.cli import cli, main
from holdzero.errors import InputError
from holdzero.inputs.log import read_log
from holdzero.quantity import plain

START = datetime(2026, 1, 1, 8, tzinfo=UTC)
MACHINE = '[machine]\nname = "m"\n[requirement]\nposition = "0.05 mm"\nrisk = "1 in 1000"\n[axes.X]\nmotors = 1\n'
GANTRY = """\
[requirement]
squareness = "0.10 mm over 600 mm"
position = "0.05 mm"
[axes.Y]
motors = 2
drive_distance = "980 mm"
"""


def log_of(values, *, head="time,axis,deviation_mm", axis="X", more=()):
    extra = list(more) or [""] * len(values)
    rows = [
        f"{(START + timedelta(days=day)).isoformat()},{axis},{value:.5f}{text}"
        for day, (value, text) in enumerate(zip(values, extra, strict=True))
    ]
    return "\n".join([head, *rows]) + "\n"


def steady(n, seed=1, sd=0.003):
    return np.random.default_rng(seed).normal(0, sd, n)


@pytest.fixture
def watch(capsys, tmp_path):
    def run(text, *arguments, machine=""):
        log = tmp_path / "log.csv"
        log.write_text(text, encoding="utf-8")
        if machine:
            (tmp_path / "m.toml").write_text(machine, encoding="utf-8")
            arguments = (*arguments, "--machine", str(tmp_path / "m.toml"))
        status = cli.main(["watch", str(log), *arguments, "--json"], standalone_mode=False)
        answer = json.loads(capsys.readouterr().out)
        return status, answer["machines"], answer

    return run


class TestStates:
    """Each state of the contract, and what ends it."""

    def test_in_limits(self, watch):
        status, (row,), answer = watch(log_of(steady(60)))
        assert (status, row["state"], row["needs_look"], row["alarms_n"]) == (0, "in limits", False, 0)
        assert row["n"] == 60
        assert row["baseline"]["n"] == 30
        assert row["baseline"]["widening"] == pytest.approx(1.18)
        values = np.round(steady(60), 5)
        assert row["baseline"]["mean_mm"] == pytest.approx(values[:30].mean())
        assert row["baseline"]["sd_mm"] == pytest.approx(values[:30].std(ddof=1))
        assert row["share_outside"] is None
        assert row["lost_on"] is None
        assert row["life_used"] is None
        assert {"version", "machines"} <= answer.keys()

    def test_learning_below_eight_power_ups(self, watch):
        assert watch(log_of(steady(7)))[1][0]["state"] == "learning"
        assert watch(log_of(steady(8)))[1][0]["state"] == "in limits"

    def test_one_sitting_is_one_power_up(self, watch):
        text = log_of(steady(40), head="time,axis,deviation_mm,set", more=[",1"] * 40)
        assert watch(text)[1][0]["state"] == "learning"

    def test_a_step_alarms_until_an_event_or_a_note(self, watch):
        values = steady(60) + np.where(np.arange(60) >= 45, 0.03, 0)
        status, (row,), _ = watch(log_of(values))
        assert (status, row["state"], row["needs_look"]) == (1, "alarm", True)
        assert {"single", "ewma"} == {alarm["rule"] for alarm in row["alarms"]}
        assert row["alarms"][0]["time"] == (START + timedelta(days=45)).isoformat()
        assert row["step"]["mm"] == pytest.approx(0.03, abs=0.003)
        assert row["step"]["time"] == row["alarms"][0]["time"]
        noted = [""] * 59 + [",bracket put right"]
        status, (row,), _ = watch(log_of(values, head="time,axis,deviation_mm,acknowledged", more=noted))
        assert (status, row["state"]) == (0, "in limits")
        assert row["alarms_n"] >= 15
        event = ["," if day != 45 else ",crash" for day in range(60)]
        status, (row,), _ = watch(log_of(values, head="time,axis,deviation_mm,event", more=event))
        assert (status, row["state"], row["baseline"]["n"]) == (0, "in limits", 15)
        assert row["baseline"]["mean_mm"] == pytest.approx(0.03, abs=0.003)

    def test_a_small_shift_is_seen_by_the_running_mean(self, watch):
        values = steady(130) + np.where(np.arange(130) >= 60, 0.0045, 0)
        row = watch(log_of(values))[1][0]
        assert "ewma" in [alarm["rule"] for alarm in row["alarms"]]

    def test_a_gross_miss_is_no_shift(self, watch):
        values = steady(60)
        values[50] = 0.8
        status, (row,), _ = watch(log_of(values))
        assert (status, row["alarms_n"], row["misses"]) == (1, 1, 1)
        assert row["alarms"][0]["rule"] == "miss"
        assert abs(row["level_mm"]) < 0.004

    def test_a_gap_is_not_known(self, watch):
        text = log_of(steady(60))
        last = START + timedelta(days=59)
        assert watch(text, "--now", (last + timedelta(days=4.9)).isoformat())[1][0]["state"] == "in limits"
        assert watch(text, "--now", (last + timedelta(days=5.1)).isoformat())[1][0]["state"] == "not known"

    def test_all_alike_needs_the_display(self, watch):
        text = log_of(np.zeros(40))
        assert watch(text)[1][0]["state"] == "not known"
        row = watch(text, "--resolution", "0.01 mm")[1][0]
        assert row["state"] == "in limits"
        assert row["baseline"]["sd_mm"] == pytest.approx(0.01 / sqrt(12))

    def test_temperature(self, watch):
        """6 um/K planted: taken out within the range, said to be not compensated far beyond it."""
        degc = 20 + 3 * np.sin(np.arange(60))
        values = steady(60, sd=0.001) + 0.006 * (degc - 20)
        for last, state in ((22.0, "in limits"), (35.0, "not compensated")):
            degc[-1] = last
            values[-1] = 0.006 * (last - 20)
            more = [f",{t:.3f}" for t in degc]
            row = watch(log_of(values, head="time,axis,deviation_mm,temperature_degc", more=more))[1][0]
            assert row["state"] == state
            assert row["baseline"]["temperature_mm_per_degc"] == pytest.approx(0.006, abs=0.0004)


class TestWhatIsAsked:
    """The share outside now, and when what is asked is lost."""

    def test_share_outside(self, watch):
        """The normal tails beyond 0.05 mm about the running mean, worked again here."""
        values = np.round(steady(50, seed=4, sd=0.015), 5)
        row = watch(log_of(values), machine=MACHINE)[1][0]
        low, high = row["slope_um_per_day"]["low"], row["slope_um_per_day"]["high"]
        assert low < 0 < high
        level = 0.0
        for value in values - values[:30].mean():
            level = 0.8 * level + 0.2 * value
        sd = values[:30].std(ddof=1)
        assert row["level_mm"] == pytest.approx(level)
        assert row["share_outside"] == pytest.approx(norm.cdf((-0.05 - level) / sd) + norm.sf((0.05 - level) / sd))

    def test_forecast(self, watch):
        """0.2 um a day towards 0.05 mm less 3.09 spreads: crossed about day 203 of the plan."""
        days = np.arange(120)
        _, (row,), _ = watch(log_of(steady(120, seed=2) + 0.0002 * days), machine=MACHINE)
        spread = row["baseline"]["spread_mm"]
        true = (0.05 - spread * norm.isf(1e-3) + row["baseline"]["mean_mm"]) / 0.0002
        low, high = (datetime.fromisoformat(row["lost_on"][end]) for end in ("low", "high"))
        crossed = (START + timedelta(days=true)).replace(tzinfo=None)
        assert low - timedelta(days=1) <= crossed <= high + timedelta(days=1)
        assert row["slope_um_per_day"]["low"] < 0.2 < row["slope_um_per_day"]["high"]

    def test_soon_lost_ends_with_one(self, watch):
        days = np.arange(60)
        status, (row,), _ = watch(log_of(steady(60, seed=2, sd=0.001) + 0.0006 * days), machine=MACHINE)
        assert row["lost_on"]["low"] < "2026-04-01"
        assert (status, row["needs_look"]) == (1, True)

    @pytest.mark.parametrize(
        ("sd", "sure", "said"),
        [
            (0.03, True, "Look at X home: 15 % are expected outside now; 1 in 1000 are allowed."),
            (0.0145, False, "In limits."),
            (0.01, False, "In limits."),
        ],
    )
    def test_more_outside_than_allowed_is_said_without_an_alarm(self, watch, capsys, tmp_path, sd, sure, said):
        """Scatter as in the baseline raises no alarm, however wide: that it is too wide is said all the same."""
        text = log_of(steady(60, seed=4, sd=sd))
        status, (row,), _ = watch(text, machine=MACHINE)
        assert row["alarms"] == []
        assert (row["chance_above_risk"] >= 0.95, status, row["needs_look"]) == (sure, int(sure), sure)
        paths = [str(tmp_path / "log.csv"), "--machine", str(tmp_path / "m.toml")]
        cli.main(["watch", *paths], standalone_mode=False)
        shown = " ".join(plain(capsys.readouterr().out).split())
        assert shown.startswith(said)
        above = row["share_outside"] > 0.001
        assert ("1 in 1000 are allowed" in shown) == above
        assert ("though that is not sure" in shown) == (above and not sure)

    def test_gantry(self, watch):
        rng = np.random.default_rng(9)
        left, right = rng.normal(0, 0.004, (2, 60)).round(5)
        rows = [
            f"{(START + timedelta(days=day)).isoformat()},Y,{left[day]:.5f},{right[day]:.5f}" for day in range(60)
        ]
        text = "\n".join(["time,axis,left_mm,right_mm", *rows])
        _, answer, _ = watch(text, machine=GANTRY)
        by_side = {row["side"]: row for row in answer}
        assert by_side.keys() == {"difference", "mean", "L", "R"}
        assert by_side["difference"]["baseline"]["mean_mm"] == pytest.approx((right - left)[:30].mean())
        assert by_side["mean"]["baseline"]["sd_mm"] == pytest.approx(((right + left) / 2)[:30].std(ddof=1))
        assert by_side["difference"]["limits"]["homings"] == 1000  # two charts share one alarm in 500
        ends = [by_side[side]["share_outside"] for side in "LR"]
        assert by_side["mean"]["share_outside"] == pytest.approx(ends[0] + ends[1] - ends[0] * ends[1])
        shares = [row["share_outside"] for row in answer]
        assert shares == sorted(shares, reverse=True)
        apart = [f"{row.rsplit(',', 2)[0]},L,{left[day]:.5f}" for day, row in enumerate(rows)]
        apart += [f"{row.rsplit(',', 2)[0]},R,{right[day]:.5f}" for day, row in enumerate(rows)]
        assert watch("\n".join(["time,axis,side,deviation_mm", *apart]), machine=GANTRY)[1] == answer


class TestNothingElseCounts:
    """Order of rows, duplicates, a shift of all readings, their sign."""

    VALUES = steady(90, seed=7) + np.where(np.arange(90) >= 70, 0.02, 0)

    def test_order_of_rows_and_files(self, watch):
        text = log_of(self.VALUES)
        head, *rows = text.splitlines()
        random.Random(1).shuffle(rows)
        assert watch("\n".join([head, *rows]))[1] == watch(text)[1]
        assert watch("\n".join([head, *rows, *rows[:20]]))[1] == watch(text)[1]

    def test_shift_of_all_readings(self, watch):
        moved, plain_rows = (watch(log_of(self.VALUES + by), machine=MACHINE)[1][0] for by in (0.25, 0.0))
        assert moved["state"] == plain_rows["state"]
        assert [alarm["time"] for alarm in moved["alarms"]] == [alarm["time"] for alarm in plain_rows["alarms"]]
        assert moved["share_outside"] == pytest.approx(plain_rows["share_outside"], rel=1e-6)

    def test_mirrored(self, watch):
        turned, plain_rows = (watch(log_of(self.VALUES * by))[1][0] for by in (-1, 1))
        assert [alarm["time"] for alarm in turned["alarms"]] == [alarm["time"] for alarm in plain_rows["alarms"]]


class TestLog:
    """Clocks, zones, and what is refused."""

    def test_a_clock_set_back(self):
        """25 October 2026: 02:30 twice in Berlin; the order of the rows tells which is which."""
        text = "time,deviation_mm\n2026-10-25T02:30,1\n2026-10-25T02:10,2\n2026-10-25T04:00,3\n"
        log = read_log([(text, "log")], zone=ZoneInfo("Europe/Berlin"))
        assert [entry.deviation_mm for entry in log.entries] == [1, 2, 3]
        moments = [entry.moment_s for entry in log.entries]
        assert np.diff(moments).tolist() == [2400, 6600]
        assert any("Europe/Berlin" in note for note in log.notes)

    def test_zones(self):
        log = read_log([("time,deviation_mm\n2026-03-01T09:00+02:00,1\n2026-03-01T06:30Z,2\n", "")])
        assert [entry.deviation_mm for entry in log.entries] == [2, 1]

    @pytest.mark.parametrize(
        ("text", "message"),
        [
            ("time,deviation_mm\nyesterday,1\n", "line 2, column time"),
            ("deviation_mm\n1\n", "no column time"),
            ("time,height\n2026-01-01,1\n", "deviation_mm"),
            ("time,deviation_mm,note\n2026-01-01,,\n", "a time and nothing else"),
        ],
    )
    def test_refused_on_one_line(self, text, message, tmp_path, capsys, monkeypatch):
        (tmp_path / "log.csv").write_text(text, encoding="utf-8")
        monkeypatch.setattr("sys.argv", ["holdzero", "watch", str(tmp_path / "log.csv")])
        with pytest.raises(SystemExit) as ended:
            main()
        assert ended.value.code == 2
        error = capsys.readouterr().err
        assert error.count("\n") == 1
        assert message in plain(error)


def test_the_page_and_the_example_of_the_manual(tmp_path, capsys):
    page = (Path(__file__).parents[2] / "docs" / "watch.md").read_text(encoding="utf-8")
    log = tmp_path / "log.csv"
    log.write_text(re.search(r"```csv\n(.*?)```", page, re.DOTALL)[1], encoding="utf-8")
    assert cli.main(["watch", str(log), "--baseline", "8"], standalone_mode=False) == 1
    text = capsys.readouterr().out
    assert "2026-01-16" in text
    assert len(text.splitlines()) <= 24
    assert max(map(len, text.splitlines())) <= 80


def test_a_full_screen_is_enough(tmp_path, capsys):
    """Twenty machines with long names, three of them out of what the baseline knows of the temperature."""
    rows = ["time,machine,axis,deviation_mm,temperature_degc"]
    for number in range(20):
        degc = 20 + 3 * np.sin(np.arange(40))
        degc[-1] = 40 if number < 3 else 20
        values = steady(40, seed=number, sd=0.0005) + 0.006 * (degc - 20)
        rows += [
            f"{(START + timedelta(days=day)).isoformat()},long router {number},gantry,{value:.5f},{degc[day]:.2f}"
            for day, value in enumerate(values)
        ]
    log, machine = tmp_path / "log.csv", tmp_path / "m.toml"
    log.write_text("\n".join(rows), encoding="utf-8")
    machine.write_text(MACHINE.replace("axes.X", "axes.gantry"), encoding="utf-8")
    cli.main(["watch", str(log), "--machine", str(machine)], standalone_mode=False)
    lines = capsys.readouterr().out.splitlines()
    assert any("compensated" in line for line in lines)
    assert any("more rows: --full" in line for line in lines)
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80


class TestLife:
    """Cycles come from a counter, which sees every homing; failures from the log."""

    @staticmethod
    def rows(failures=()):
        lines = ["time,axis,deviation_mm,cycles,failed"]
        for day, value in enumerate(steady(40)):
            time = (START + timedelta(days=day)).isoformat()
            lines.append(f"{time},X,{value:.4f},{1000 * (day + 1)},{failures.get(day, '') if failures else ''}")
        return "\n".join(lines) + "\n"

    def test_two_failures_make_a_law(self, watch):
        """A switch that failed at 9 000 and its successor 12 000 later; the third has run 19 000 so far.

        Against SciPy: the likelihood is flat there in scale and shape.
        """
        life = watch(self.rows({8: "left", 20: "left"}))[1][0]["life"]
        assert (life["failed"], life["running"]) == (2, 1)
        ended, running = np.array([9000.0, 12000.0]), 19000.0

        def loss(shape, scale):
            law = weibull_min(shape, scale=scale)
            return -(law.logpdf(ended).sum() + law.logsf(running))

        scale = life["b10_cycles"] / (-np.log(0.9)) ** (1 / life["shape"])
        least = loss(life["shape"], scale)
        for shape, wide in ((1.01, 1), (0.99, 1), (1, 1.01), (1, 0.99)):
            assert loss(life["shape"] * shape, scale * wide) > least
        assert life["low"] < life["b10_cycles"]
        assert "e-Handbook" in life["source"]

    def test_one_failure_makes_none_and_life_counts_from_it(self, watch):
        row = watch(self.rows({8: "left"}), "--life", "1e5")[1][0]
        assert row["life"] is None
        assert row["life_used"] == pytest.approx(31000 / 1e5)

    def test_without_failures_all_that_was_counted(self, watch):
        assert watch(self.rows(), "--life", "1e5")[1][0]["life_used"] == pytest.approx(0.4)


def test_sides_that_never_meet_are_watched_each_by_itself(watch):
    """Left one morning, right the next: no difference to chart, and no reading is left unwatched."""
    lines = ["time,axis,side,deviation_mm"]
    for day, value in enumerate(steady(60)):
        lines.append(f"{(START + timedelta(days=day)).isoformat()},Y,{'LR'[day % 2]},{value:.4f}")
    rows = watch("\n".join(lines) + "\n")[1]
    assert {(row["side"], row["n"], row["charted"]) for row in rows} == {("L", 30, True), ("R", 30, True)}


class NoFirstDay(datetime):
    """A clock on which every day is before the first."""

    def timestamp(self) -> float:
        raise ValueError("year 0 is out of range")


class TestBeyondAllClocks:
    """Figures and days that no clock and no counter has."""

    def test_a_baseline_of_more_power_ups_than_any(self, watch):
        text = log_of(steady(40))
        assert watch(text, "--baseline", "9" * 30)[1] == watch(text, "--baseline", "1000")[1]

    def test_a_day_before_all_days_of_the_clock_is_refused_by_its_line(self, monkeypatch: pytest.MonkeyPatch):
        """East of Greenwich the first day of the calendar begins in the year before it."""
        monkeypatch.setattr("holdzero.inputs.log.entry.datetime", NoFirstDay)
        with pytest.raises(InputError, match=r'log\.csv, line 2, column time: found "0001-01-01T00:00"'):
            read_log([("time,axis,deviation_mm\n0001-01-01T00:00,X,0.1\n", "log.csv")])
