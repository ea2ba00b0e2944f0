# ruff: noqa: E501 - a case is a row
"""The contract, from outside: files in, figures out, as a stranger's script would use the commands.

Each row names where its figure comes from: a published value, a case worked by hand, by
ngspice or by simulation (docs/methods.md), or the shape promised to scripts. Nothing here knows how holdzero computes.
"""

import csv
import io
import json
import math
import random
from pathlib import Path

import pytest

from holdzero.cli import main
from printed import printed

DATA = Path(__file__).parents[1] / "data"
MACHINE = """
[machine]
name = "Plywood router"
[requirement]
squareness = "0.10 mm over 600 mm"
position = "0.05 mm"
risk = "1 in 1000"
[axes.Y]
travel = "1300 mm"
motors = 2
drive_distance = "980 mm"
lead = "10 mm"
full_steps = 200
microsteps = 16
creep_speed = "2 mm/s"
"""
SENSORS = '[sensors.A]\nkind = "inductive"\nprice = 24.0\n[sensors.B]\nkind = "position switch"\n'


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run one command on files given by name; return status, what it printed, and what it complained of."""
    monkeypatch.chdir(tmp_path)

    def command(*words: object, stdin: str | bytes = "", **files: str):
        for name, text in files.items():
            Path(name).write_text(text, encoding="utf-8")
        given = stdin if isinstance(stdin, bytes) else stdin.encode()
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(given), encoding="utf-8"))
        monkeypatch.setattr("sys.argv", ["holdzero", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return command


@pytest.fixture
def ask(run):
    """Run with --json; return the answer, read as strict JSON, and the status."""

    def command(*words: object, **given: str):
        status, out, err = run(*words, "--json", **given)
        assert err == ""
        return json.loads(out, parse_constant=pytest.fail), status

    return command


def trial(*sets, unit="mm"):
    lines = [f"{value},{at}" for at, each in enumerate(sets, 1) for value in each]
    return "\n".join([f"deviation_{unit},set", *lines])


def gantry(*, sensor="A", sets=8, homings=5, sides="LR", spread=0.002, common=0.0, miss=None, seed=1):
    """Return readings of both sides; `miss`: a deviation of +0.4 mm at one homing, and why it was set aside."""
    rng, out = random.Random(seed), io.StringIO()
    write = csv.writer(out).writerow
    write(["sensor", "axis", "side", "set", "homing", "deviation_mm", "set_aside"])
    for a_set in range(1, sets + 1):
        for homing in range(1, homings + 1):
            shared = rng.gauss(0, common)
            for side in sides:
                hit = miss is not None and (a_set, homing, side) == (3, 2, "L")
                deviation = 0.4 if hit else round(shared + rng.gauss(0, spread), 4)
                write([sensor, "Y", side, a_set, homing, deviation, miss if hit else ""])
    return out.getvalue()


FIVE_SETS = (
    (3, 5, 2, 4, 4, 1),
    (-2, 0, -1, -3, 0, -1),
    (6, 4, 7, 5, 5, 6),
    (1, 3, 2, 2, 0, 4),
    (0, -1, 2, 1, 1, 0),
)
MAVRO = """
2.00180 2.00170 2.00180 2.00190 2.00180 2.00170 2.00150 2.00140 2.00150 2.00150 2.00170 2.00180 2.00180 2.00190 2.00190
2.00210 2.00200 2.00160 2.00140 2.00130 2.00130 2.00150 2.00150 2.00160 2.00150 2.00140 2.00130 2.00140 2.00150 2.00140
2.00150 2.00160 2.00150 2.00160 2.00190 2.00200 2.00200 2.00210 2.00220 2.00230 2.00240 2.00250 2.00270 2.00260 2.00260
2.00260 2.00270 2.00260 2.00250 2.00240"""
MPC62 = """
97.070 97.049 97.048 97.084 97.106 97.014 97.047 97.078 97.065 97.061 97.060 97.102 97.096 97.035 97.114 97.069 97.095
97.088 97.079 97.016 97.051 97.070 97.065 97.111 97.073"""


def close(value, share=0.025):
    """docs/methods.md 3: the grid over the worked case may differ by 2.5 %."""
    return pytest.approx(value, rel=share)


class TestStudy:
    """`holdzero study --json`."""

    PROMISED = frozenset({
        "sensor", "axis", "side", "n", "sets", "protocol", "resolution_mm", "mean_mm", "span_mm", "sd_mm",
        "within_sd_mm", "lag1", "spread_mm", "spread_low_mm", "spread_high_mm", "within_mm", "between_mm",
        "signatures", "cautions",
    })  # fmt: skip

    @pytest.mark.parametrize(
        ("readings", "options", "expected"),
        [
            pytest.param(trial(MAVRO.split()), ("--resolution", "0.0001 mm"), {"n": 50, "sets": 1, "mean_mm": printed("2.001856"),
                "sd_mm": pytest.approx(0.000429123454003053, rel=1e-11), "lag1": pytest.approx(0.937989183438248, rel=1e-11)},
                id="StRD Mavro"),
            pytest.param(trial((10000001, 10000003, 10000002)), (), {"mean_mm": 10000002, "sd_mm": 1, "lag1": -0.5},
                id="StRD NumAcc1"),
            pytest.param(trial([10000000.2] + [10000000.1, 10000000.3] * 500), (), {"n": 1001,
                "sd_mm": pytest.approx(0.1, rel=1e-7), "lag1": pytest.approx(-0.999, rel=1e-8)}, id="StRD NumAcc4"),
            pytest.param(trial(*([day] for day in MPC62.split())), (), {"sets": 25, "sd_mm": printed("0.0267981"), "within_mm": None,
                "between_mm": None, "spread_low_mm": printed("0.0209"), "spread_high_mm": printed("0.0373")},
                id="MPC62, a reading a day (e-Handbook 2.6.2; chi-square, 24 df)"),
            pytest.param(trial(*FIVE_SETS), ("--resolution", "0"), {"spread_low_mm": close(1.904), "spread_mm": close(3.021),
                "spread_high_mm": close(7.40), "within_mm": close(1.257), "between_mm": close(2.715)}, id="docs/methods.md 3, r 0"),
            pytest.param(trial(*FIVE_SETS, unit="um"), ("--resolution", "1 um"), {"spread_low_mm": close(0.001887),
                "spread_mm": close(0.003011), "spread_high_mm": close(0.00740), "within_mm": close(0.001233)},
                id="docs/methods.md 3, r 1, in micrometres"),
            pytest.param(trial([0.01] * 10), ("--resolution", "10 um"), {"spread_mm": None, "spread_low_mm": 0,
                "spread_high_mm": printed("0.004428")}, id="docs/methods.md 2: ten alike hide 0.4428 r"),
            pytest.param(trial(*[[0.01] * 4] * 8), ("--resolution", "10 um"), {"spread_mm": None,
                "spread_high_mm": printed("0.00495")}, id="docs/methods.md 2: eight power-ups alike hide 0.495 r"),
            pytest.param(trial([0, 1] * 5), ("--resolution", "1 mm"), {"spread_mm": None, "spread_low_mm": 0,
                "spread_high_mm": close(0.894, 0.01)}, id="docs/methods.md 1: two neighbouring counts, 5 + 5"),
            pytest.param(trial((3, 5, 2)), ("--protocol", "first"), {"n": 4, "mean_mm": 2.5}, id="first: the 0 is added"),
            pytest.param(trial((0, 3, 5, 2)), ("--protocol", "first"), {"n": 4, "mean_mm": 2.5}, id="first: it is there"),
            pytest.param(trial((3, 5, 2)), ("--protocol", "previous"), {"n": 4, "mean_mm": 5.25, "span_mm": 10},
                id="previous: running sum 0 3 8 10"),
            pytest.param(trial((3, 5, 2, 4, 4, 1, -2, 0, -1, -3)), ("--protocol", "previous-reset", "--resolution", "0"), {
                "spread_mm": close(math.sqrt(400.181818 / 9.341818), 0.005), "spread_low_mm": close(math.sqrt(400.181818 / 20.483177), 0.005)},
                id="docs/methods.md 5: r 0 is chi-square of the running sum, n df"),
            pytest.param(trial((3, 5, 2)), ("--protocol", "encoder"), {"n": 3, "protocol": "encoder"}, id="encoder"),
        ],
    )  # fmt: skip
    def test_figures(self, ask, readings, options, expected):
        answer, status = ask("study", "-", *options, stdin=readings)
        (found,) = answer["sensors"]
        assert status == 0
        assert set(found) >= self.PROMISED
        assert {key: found[key] for key in expected} == expected

    def test_sides_and_their_difference(self, ask):
        answer, _ = ask("study", "-", "--resolution", "0.1 um", stdin=gantry(common=0.01))
        left, right, difference = answer["sensors"]
        assert [each["side"] for each in answer["sensors"]] == ["L", "R", "difference"]
        assert difference["mean_mm"] == pytest.approx(right["mean_mm"] - left["mean_mm"])
        assert difference["spread_mm"] < min(left["spread_mm"], right["spread_mm"])  # what both share is gone

    def test_unknown_columns_are_named(self, ask):
        answer, _ = ask("study", "-", stdin="deviation_mm,hat\n0.1,a\n0.2,b\n")
        assert any("hat" in note for note in answer["notes"])


class TestChoose:
    """`holdzero choose --json`, and docs/methods.md 4."""

    PROMISED = frozenset({
        "sensor", "verdict", "chance_holds", "chance_holds_heavy", "tails", "share_outside", "misses", "price",
        "ruled_out", "reasons",
    })  # fmt: skip

    @pytest.fixture
    def choose(self, ask):
        def command(readings, *options, machine=MACHINE, sensors=SENSORS):
            files = {"machine": machine, "sensors": sensors, "readings": readings}
            words = ("--machine", "machine", "--sensors", "sensors", "readings", "--resolution", "0.1 um")
            answer, status = ask("choose", *words, *options, **files)
            assert status == 0
            assert set(answer) >= {"version", "requirement", "candidates", "choice", "reason"}
            assert all(set(each) >= self.PROMISED for each in answer["candidates"])
            return answer

        return command

    @pytest.mark.parametrize(
        ("change", "allowed", "bound_by"),
        [
            pytest.param(("", ""), "0.014365", "position", id="docs/methods.md 4: both ends"),
            pytest.param(('position = "0.05 mm"\n', ""), "0.035099", "squareness", id="t over √2 z L/W, by hand"),
            pytest.param(("0.10 mm over 600 mm", "0.07 mm over 980 mm"), "0.01397", "both", id="docs/methods.md 4: joint, c 0.07"),
            pytest.param(("motors = 2", "motors = 1"), "0.015195", "position", id="t/z, one motor"),
            pytest.param(("risk =", "datum_homings = 10\nrisk ="), "0.013696", "position", id="over sqrt(1 + 1/10)"),
        ],
    )  # fmt: skip
    def test_allowed_spread(self, choose, change, allowed, bound_by):
        sides = "L" if "motors = 1" in change else "LR"
        asked = choose(gantry(sides=sides), machine=MACHINE.replace(*change))["requirement"]
        assert (asked["spread_allowed_mm"], asked["bound_by"]) == (printed(allowed), bound_by)
        assert asked["datum_from"]

    @pytest.mark.parametrize(
        ("readings", "verdict", "chance"),
        [
            pytest.param(gantry(), "holds", (0.95, 1), id="far inside"),
            pytest.param(gantry(spread=0.04), "does not hold", (0, 0.025), id="far outside"),
            pytest.param(gantry(sets=1, homings=40), "too close to call", None, id="one power-up never holds"),
            pytest.param(gantry(sides="L"), "too close to call", (0.95, 1), id="one side read: the other is not known"),
            pytest.param(gantry(miss=""), "does not hold", (0, 0.025), id="a gross miss"),
            pytest.param(gantry(miss="chip on the flag"), "does not hold", (0.005, 0.0065), id="set aside, it counts: Beta(1.5, 39.5)"),
            pytest.param(gantry(miss="slip in reading"), "holds", (0.95, 1), id="a slip does not"),
        ],
    )  # fmt: skip
    def test_verdict(self, choose, readings, verdict, chance):
        a, b = choose(readings)["candidates"]
        assert a["verdict"] == verdict
        assert a["chance_holds"] is None if chance is None else chance[0] <= a["chance_holds"] <= chance[1]
        assert (b["verdict"], b["chance_holds"], b["price"]) == ("cannot say", None, None)  # it has no readings

    def test_confidence_is_a_setting(self, choose):
        readings = gantry(spread=0.008)
        (chance, *_) = [each["chance_holds"] for each in choose(readings)["candidates"]]
        assert 0.96 < chance < 0.99999
        verdicts = [choose(readings, "--confidence", at)["candidates"][0]["verdict"] for at in (0.95, 0.999999)]
        assert verdicts == ["holds", "too close to call"]

    def test_squareness_is_judged_on_the_difference(self, choose):
        """The chance is the smallest of the three: what the sides share harms position only."""
        square = MACHINE.replace("0.10 mm over", "0.02 mm over").replace('"0.05 mm"', '"0.20 mm"')
        shared = choose(gantry(common=0.01, spread=0.0005), machine=square)["candidates"][0]
        apart = choose(gantry(spread=0.01), machine=square)["candidates"][0]
        assert (shared["verdict"], apart["verdict"]) == ("holds", "does not hold")

    @pytest.mark.parametrize(
        ("prices", "choice"),
        [
            pytest.param((5, 7), "A", id="cheapest"),
            pytest.param((7, 5), "B", id="cheapest, the other way"),
            pytest.param((None, 7), "B", id="no price, no claim"),
        ],
    )  # fmt: skip
    def test_the_cheapest_that_holds(self, choose, prices, choice):
        sensors = "\n".join(
            f'[sensors.{name}]\nkind = "position switch"\n' + (f"price = {price}\n" if price else "")
            for name, price in zip("AB", prices, strict=True)
        )
        both = gantry() + gantry(sensor="B", seed=2).split("\n", 1)[1]
        assert choose(both, sensors=sensors)["choice"] == choice


class TestTravel:
    """The two axes of docs/travel.md, to the digits worked by hand; margin in mm, highest speed in mm/s."""

    @pytest.mark.parametrize(
        ("file", "axis", "check", "margin", "speed", "ok"),
        [
            ("screw_axis.toml", "Y", "home_overtravel", "2.692", "60.59", True),
            ("screw_axis.toml", "Y", "limit_overtravel", "-17.363", "60.59", False),
            ("screw_axis.toml", "Y", "back_off", "1.160", None, True),
            ("belt_axis.toml", "X", "home_overtravel", "4.440", "141.71", True),
            ("belt_axis.toml", "X", "limit_overtravel", "-7.000", "180.00", False),
            ("belt_axis.toml", "X", "sensor_overtravel", "-5", None, False),
            ("belt_axis.toml", "X", "flag_home", "-3", None, False),
            ("belt_axis.toml", "X", "back_off", "1.638", None, True),
            ("belt_axis.toml", "X", "coast", "-21.79", None, False),
        ],
    )  # fmt: skip
    def test_worked_axes(self, ask, file, axis, check, margin, speed, ok):
        answer, status = ask("travel", DATA / file)
        checks = {each["check"]: each for each in answer["axes"][axis]["checks"]}
        assert status == 1  # a check fails
        assert set(checks) == {
            "home_overtravel", "limit_overtravel", "sensor_overtravel", "flag_home", "flag_limit", "flag_dwell",
            "back_off", "creep_overtravel", "coast", "bumper", "start", "skew", "work_zone",
        }  # fmt: skip
        found = checks[check]
        assert (found["margin_mm"], found["ok"]) == (printed(margin), ok)
        assert speed is None or found["speed_limit_mm_s"] == printed(speed)
        assert found["why"]


def test_budget_of_the_two_motor_gantry(ask):
    """Worked by hand in tests/budget/test_table.py: drift and growth follow one room and add up. [mm]"""
    answer, status = ask("budget", DATA / "two_motor_gantry.toml")
    found = answer["axes"]["Y"]
    assert status == 0
    assert (found["position_mm"], found["squareness_mm"]) == (printed("0.013253"), printed("0.002873"))
    parts = found["contributions"]
    assert all(set(part) >= {"name", "distribution", "common_mm", "own_mm", "share"} for part in parts)
    assert math.hypot(*(part["common_mm"] for part in parts)) == printed("0.010370")
    assert math.hypot(*(part["own_mm"] for part in parts)) == printed("0.003275")
    assert sum(part["share"] for part in parts) == pytest.approx(1)


TWO_WIRE = """
[supply]
voltage = "20.4 V"
[sensor]
output = "2-wire"
contact = "NO"
drop = "8 V"
leakage = "1.5 mA"
[input]
kind = "IEC 61131-2 type 1"
"""
PNP = '[sensor]\noutput = "PNP"\ncontact = "NC"\n[input]\nkind = "IEC 61131-2 type 3"\nuse = "limit"\n'
DRY = PNP.replace("PNP", "dry contact")
CLAMPED = '[sensor]\noutput = "PNP"\ncontact = "NO"\n[input]\nkind = "logic"\nsupply = "3.3 V"\nseries_resistor = "1 kohm"\n'


class TestWiring:
    """`holdzero wiring --json`; volts and milliamperes of tests/wiring/test_worked.py, within 1 mV or 0.1 %."""

    @pytest.mark.parametrize(
        ("circuit", "verdict", "status", "state", "volts", "milliamps"),
        [
            pytest.param(TWO_WIRE, "does not work", 1, "clear", 5.6254, 1.5001, id="2-wire at 20.4 V, off"),
            pytest.param(TWO_WIRE, "does not work", 1, "tripped", 12.3996, 3.3066, id="2-wire at 20.4 V, on, without the cable: 0.002 V more"),
            pytest.param(PNP, "works, but", 1, "tripped", 0.2785, 0.1003, id="PNP, off"),
            pytest.param(DRY, "works", 0, "tripped", 0.0, 0.0, id="the recommended one"),
            pytest.param(CLAMPED, "damage", 1, "tripped", 4.1814, 19.02, id="PNP into a pin"),
        ],
    )  # fmt: skip
    def test_states(self, ask, circuit, verdict, status, state, volts, milliamps):
        answer, ended = ask("wiring", "-", stdin=circuit)
        (found,) = answer["circuits"]
        assert (found["verdict"], ended) == (verdict, status)
        assert set(found["states"]) == {"clear", "tripped"}
        assert found["states"][state]["input_v"] == pytest.approx(volts, rel=1e-3, abs=1e-3)
        assert found["states"][state]["input_ma"] == pytest.approx(milliamps, rel=1e-3, abs=1e-3)
        assert {each["reads"] for each in found["states"].values()} <= {"clear", "tripped", "undefined"}

    LISTED_ONLY = ("bad joint", "water in the plug", "left and right swapped", "logic supply lost")

    @pytest.mark.parametrize(
        ("circuit", "hides"),
        [
            pytest.param(PNP, {"BU open", "0 V lost", "BN-BK short", "stuck on"}, id="PNP NC: 4 of 12"),
            pytest.param(
                PNP.replace("[input]", "protection_diodes = false\n[input]"), {"BN-BK short", "stuck on"},
                id="without diodes a broken blue wire stops",
            ),
            pytest.param(DRY, {"BN-BK short", "stuck closed (welded)"}, id="dry NC: 2 of 9"),
        ],
    )  # fmt: skip
    def test_faults(self, ask, circuit, hides):
        (found,) = ask("wiring", "-", stdin=circuit)[0]["circuits"]
        hidden = {each["fault"] for each in found["faults"] if each["effect"] == "hides"}
        assert {fault for fault in hidden if not fault.endswith(self.LISTED_ONLY)} == hides
        assert all(set(each) >= {"fault", "reads_clear", "reads_tripped", "effect"} for each in found["faults"])


SQUARE = {
    "diagonals": ('method="diagonals"\na="1000 mm"\nb="800 mm"\nac="1280.81607 mm"\nbd="1280.43360 mm"\nu="0.1 mm"\n',
              "0.30612", "0.1132", "0.3000", "0.111"),
    "diagonals, rounded lengths": ('method="diagonals"\na="1000 mm"\nb="800 mm"\nac="1280.9 mm"\nbd="1280.3 mm"\nu="0.1 mm"\n',
              "0.480225", None, "0.47062", None),
    "flip": ('method="flip"\nlength="600 mm"\ngap="0.22 mm"\nu="0.03 mm"\n', "0.1833", "0.025", "0.1797", "0.0245"),
    "reversal": ('method="reversal"\nlength="200 mm"\nrise_1="12 um"\nrise_2="4 um"\nu="1 um"\n', "0.040", "0.003536", "0.0392", None),
    "reversal, leaning": ('method="reversal"\nlength="150 mm"\nrise_1="3 um"\nrise_2="-9 um"\nu="1 um"\n', "-0.020", None, "-0.0196", None),
    "flip, six rounds": ('method="flip"\n' + '[[round]]\nlength="600 mm"\ngap="0.22 mm"\nu="0.03 mm"\n' * 6,
                          "0.1833", "0.0102", "0.1797", "0.0100"),
    "grid": ('method="grid"\nu="20 um"\n' + "".join(
        f'[[hole]]\nx="{x} mm"\ny="{y} mm"\nmeasured_x="{x + 0.0003 * y} mm"\nmeasured_y="{y} mm"\n'
        for x in range(0, 801, 200) for y in range(0, 601, 200)), "0.3000", "0.025495", "0.2940", None),
}  # fmt: skip


@pytest.mark.parametrize("name", SQUARE)
def test_square(ask, name):
    """Offset above zero: bring the right side back."""
    text, angle, angle_u, offset, offset_u = SQUARE[name]
    found, status = ask("square", "-", stdin=f'drive_distance="980 mm"\n{text}')
    assert (status, found["angle_mrad"], found["offset_mm"]) == (0, printed(angle, 1), printed(offset, 1))
    assert angle_u is None or found["angle_u_mrad"] == printed(angle_u)
    assert offset_u is None or found["offset_u_mm"] == printed(offset_u)
    assert ("right side back" if found["offset_mm"] > 0 else "right side forward") in found["advice"]


GOOD = "deviation_mm,set,homing\n0.001,1,1\n0.002,1,2\n0.003,2,1\n0.001,2,2\n"


class TestFiles:
    """Bad input ends with 2 and one line that says what was found, what is needed, what to do."""

    @pytest.mark.parametrize(
        ("words", "stdin"),
        [
            pytest.param(("study", "missing.csv"), "", id="no such file"),
            pytest.param(("study", "."), "", id="a folder"),
            pytest.param(("study", "-"), "", id="empty"),
            pytest.param(("study", "-"), "deviation_mm\n", id="header only"),
            pytest.param(("study", "-"), "deviation_kg\n1\n", id="no length"),
            *(pytest.param(("study", "-"), GOOD.replace("0.003", bad), id=f"reading {bad}")
              for bad in ("abc", "nan", "-inf", "1e150", "1e400", "=1+1", "")),
            pytest.param(("study", "-"), GOOD + "0.003,2,1\n", id="a homing twice"),
            pytest.param(("study", "-"), GOOD + "0.003,2,3,4,5\n", id="too many cells"),
            pytest.param(("study", "-"), "deviation_mm,side\n1,middle\n", id="no side"),
            pytest.param(("study", "-"), "deviation_steps\n1\n2\n", id="steps without a size"),
            pytest.param(("study", "-"), b"deviation_mm\n\xe9\n", id="no text"),
            pytest.param(("study", "-", "--resolution", "-1 um"), GOOD, id="resolution below zero"),
            pytest.param(("study", "-", "--protocol", "guess"), GOOD, id="no protocol"),
            *((pytest.param((command, "-"), text, id=f"{command}: {name}"))
              for command in ("travel", "budget", "wiring", "square")
              for name, text in {"empty": "", "no TOML": "[[[", "CSV": GOOD}.items()),
            *(pytest.param(("travel", "-"), MACHINE.replace(old, new), id=new) for old, new in (
                ("1 in 1000", "-1 in 1000"), ("1 in 1000", "1 in 1"), ("1 in 1000", "0"), ('"0.05 mm"', "nan"),
                ("1300 mm", "1300 V"), ("1300 mm", "1e200 mm"), ('"10 mm"', '"1e-200 mm"'), ("motors = 2", "motors = 3"),
                ('"0.05 mm"', "0.05"), ("over 600 mm", "over 0 mm"))),
            pytest.param(("budget", DATA / "two_motor_gantry.toml", "--seed", "-1"), "", id="seed below zero"),
            pytest.param(("travel", DATA / "screw_axis.toml", "--axis", "Q"), "", id="no such axis"),
        ],
    )  # fmt: skip
    def test_bad_input(self, run, words, stdin):
        status, out, err = run(*words, "--json", stdin=stdin)
        assert (status, out) == (2, "")
        assert err.startswith("holdzero: ")
        assert err.count("\n") == 1

    @pytest.mark.parametrize(
        "written",
        [
            pytest.param(b"\xef\xbb\xbf" + GOOD.encode(), id="byte order mark"),
            pytest.param(GOOD.replace("\n", "\r\n").encode(), id="line ends of Windows"),
            pytest.param(GOOD.encode("utf-16"), id="UTF-16"),
            pytest.param(GOOD.replace(",", ";").replace(".", ",").encode(), id="semicolons, decimal comma"),
            pytest.param(GOOD.replace(",", "\t").encode(), id="tabs"),
        ],
    )  # fmt: skip
    def test_the_same_readings_written_otherwise(self, run, written):
        def figures(text):
            status, out, err = run("study", "-", "--json", stdin=text)
            assert (status, err) == (0, "")
            return json.loads(out)["sensors"]

        assert figures(written) == figures(GOOD)

    def test_same_input_same_answer(self, run):
        files = {"machine": MACHINE, "sensors": SENSORS, "readings": gantry()}
        words = ("choose", "--machine", "machine", "--sensors", "sensors", "readings", "--json")
        assert run(*words, **files) == run(*words, **files)
