"""The choice: cheapest that holds, ties, missing prices, which axis."""

from dataclasses import replace
from functools import cache, cached_property
from typing import Any

import numpy as np
import pytest
from scipy import stats

from holdzero import demo
from holdzero.compute.choose import Choice, Verdict, choice_as_json, choose, decide
from holdzero.compute.choose.decide import MOST_TRIED
from holdzero.compute.findings import study
from holdzero.errors import InputError
from holdzero.inputs.machine import Axis, Machine, Requirement, read_machine
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor, read_sensors
from holdzero.inputs.sensor.output import Output
from trials import csv_of, rows, study_of

X = Axis.of("X")
MACHINE = Machine(name="m", requirement=Requirement(position_mm=0.05), axes=(X,))


def homings(name: str, sd: float, axis: str = "X") -> list[str]:
    """Rows of eight power-ups of five, regular by any test."""
    scores = stats.norm.ppf((np.arange(1, 41) - 0.375) / 40.25)
    scatter = sd * np.random.default_rng(3).permutation(scores / scores.std(ddof=1)).reshape(8, 5)
    return rows([[f"{v:.5f}" for v in one] for one in scatter], sensor=name, axis=axis)


def chosen(*sensors: Sensor, machine: Machine = MACHINE, **spreads: float) -> Choice:
    lines = [line for name, sd in spreads.items() for line in homings(name, sd)]
    return choose(machine, sensors, study_of(*lines))


A, B, C = (Sensor(name=name, price=price) for name, price in (("A", 20.0), ("B", 10.0), ("C", 5.0)))


def test_cheapest_that_holds():
    result = chosen(A, B, C, A=0.003, B=0.004, C=0.03)
    assert [c.verdict for c in result.candidates] == [Verdict.HOLDS, Verdict.HOLDS, Verdict.DOES_NOT_HOLD]
    assert result.choice == "B"
    assert result.reason.startswith("B (10.00) is the cheapest that holds.")
    assert "C (5.00): does not hold" in result.reason


def test_order_of_the_sensors_file_is_kept():
    result = chosen(C, A, B, A=0.003, B=0.004, C=0.03)
    assert [c.sensor.name for c in result.candidates] == ["C", "A", "B"]


def test_equal_prices_the_surer_wins_and_it_is_said():
    result = chosen(replace(A, price=10.0), B, A=0.0075, B=0.003)
    assert result.choice == "B"
    assert "A (10.00) costs the same and holds less surely" in result.reason


def test_equal_prices_and_chances_the_earlier_wins_and_it_is_said():
    result = chosen(replace(A, price=10.0), B, A=0.0001, B=0.0001)
    assert result.choice == "A"
    assert "B (10.00) costs the same and holds as surely, but comes later" in result.reason


def test_without_a_price_it_cannot_be_called_the_cheapest():
    result = chosen(replace(A, price=None), B, A=0.003, B=0.004)
    assert result.choice == "B"
    assert "A holds too, but without a price" in result.reason


def test_without_a_price_the_only_one_that_holds_is_chosen():
    result = chosen(replace(A, price=None), B, A=0.003, B=0.04)
    assert result.choice == "A"
    assert "A is the only one that holds." in result.reason


def test_without_any_price_the_surest():
    result = chosen(replace(A, price=None), replace(B, price=None), A=0.0075, B=0.003)
    assert result.choice == "B"
    assert "no prices are given" in result.reason


def test_ruled_out_is_judged_and_not_chosen():
    machine = replace(MACHINE, requirement=replace(MACHINE.requirement, life_cycles=1e6))
    result = chosen(A, replace(B, life_cycles=1e5), machine=machine, A=0.003, B=0.004)
    assert result.candidates[1].verdict == Verdict.HOLDS
    assert result.candidates[1].ruled_out
    assert result.choice == "A"
    assert "B (10.00): ruled out" in result.reason


def test_none_holds():
    result = chosen(A, B, A=0.03, B=0.04)
    assert result.choice is None
    assert result.reason.startswith("No candidate holds yet (A (20.00) and B (10.00): does not hold)")


def test_a_plain_switch_is_enough():
    result = chosen(replace(B, output=Output.DRY_CONTACT), B=0.003)
    assert "A plain switch is enough here." in result.reason


@pytest.mark.parametrize("output", [None, *(output for output in Output if output.electronic)])
def test_what_it_is_called_does_not_make_it_plain(output):
    """A proximity switch is a switch by name, and electronic."""
    result = chosen(replace(B, kind="inductive proximity switch", output=output), B=0.003)
    assert "plain switch" not in result.reason


def test_a_plain_switch_is_not_advised_where_one_failed():
    """0.5 mm are asked: a lever switch usually does it, but the one that was tried scatters by 0.4 mm."""
    wide = replace(MACHINE, requirement=Requirement(position_mm=0.5))
    lever = replace(B, output=Output.DRY_CONTACT)
    failed, held = (chosen(lever, machine=wide, B=sd) for sd in (0.4, 0.01))
    assert failed.candidates[0].verdict == Verdict.DOES_NOT_HOLD
    texts = [c.text for c in failed.allowed.cautions]
    assert not any("plainest one first" in text for text in texts)
    assert any("B did not hold on this axis" in text for text in texts)
    assert any("plainest one first" in c.text for c in held.allowed.cautions)


def test_what_else_might_be_asked_is_judged_where_that_is_wanted():
    """Of a sensor nobody tried: four other tolerances and two other risks, and none without being asked for."""
    other = study_of(*rows([["0.001", "0.002"]], sensor="Q", axis="X"))
    asked, short = choose(MACHINE, (A,), other, what_if=True), choose(MACHINE, (A,), other)
    assert [change.tolerance_times for change in asked.changes] == [0.5, 0.7, 1.4, 2.0, 1.0, 1.0]
    assert {tuple(change.verdicts.items()) for change in asked.changes} == {(("A", Verdict.CANNOT_SAY),)}
    assert short.changes == ()


def test_a_plain_switch_that_nobody_tried_has_not_failed():
    wide = replace(MACHINE, requirement=Requirement(position_mm=0.5))
    other = study_of(*rows([["0.001", "0.002"]], sensor="Q", axis="X"))
    (caution,) = choose(wide, (replace(B, output=Output.DRY_CONTACT),), other).allowed.cautions
    assert "try the plainest one first" in caution.text


class TestAxis:
    """Without an axis named, the one with two motors, else the only one that has readings."""

    Y, Z = Axis.of("Y", motors=2, drive_distance_mm=980), Axis.of("Z")

    def judged(self, *axes: Axis, read: tuple[str, ...], axis: str | None = None) -> Choice:
        lines = [line for name in read for line in homings("A", 0.004, axis=name)]
        return choose(replace(MACHINE, axes=axes), (A,), study_of(*lines), axis=axis)

    def test_two_motors_are_meant(self):
        result = self.judged(X, self.Y, read=("X", "Y"))
        assert result.allowed.axis == "Y"

    def test_else_the_only_one_with_readings(self):
        assert self.judged(X, self.Z, read=("Z",)).allowed.axis == "Z"

    def test_named(self):
        assert self.judged(X, self.Y, read=("X", "Y"), axis="X").allowed.axis == "X"

    def test_unknown(self):
        with pytest.raises(InputError, match="axis: found Q"):
            self.judged(X, self.Y, read=("X",), axis="Q")

    def test_none_stands_out(self):
        with pytest.raises(InputError, match=r"name it with --axis"):
            self.judged(X, self.Z, read=("X", "Z"))

    def test_readings_of_another_axis_are_pointed_at(self):
        result = self.judged(X, self.Y, read=("X",))
        assert result.candidates[0].verdict == Verdict.CANNOT_SAY
        assert "other-axis" in [c.code for c in result.cautions]

    def test_readings_that_name_no_axis_are_of_the_one_judged(self):
        result = self.judged(X, read=("",))
        assert result.candidates[0].verdict == Verdict.HOLDS
        assert "axis-not-said" in [c.code for c in result.cautions]


def test_one_sensor_and_readings_that_name_none():
    text = "\n".join(f"{i % 8},{v:.5f}" for i, v in enumerate(np.random.default_rng(3).normal(0, 0.004, 40)))
    result = choose(MACHINE, (A,), study(read_readings(f"set,deviation_mm\n{text}\n")))
    assert result.choice == "A"


def test_readings_of_a_stranger_are_pointed_at():
    result = chosen(A, A=0.004, Q=0.004)
    assert [c.code for c in result.cautions] == ["not-in-sensors-file"]


@pytest.mark.parametrize(("strangers", "more"), [(12, ""), (13, " and 1 more"), (15, " and 3 more")])
def test_of_many_strangers_a_dozen_is_named(strangers: int, more: str):
    names = [f"Q{number:02}" for number in range(strangers)]
    lines = [line for name in names for line in rows([["0.001", "0.002"]], sensor=name, axis="X")]
    (caution,) = choose(MACHINE, (A,), study_of(*homings("A", 0.004), *lines)).cautions
    assert caution.text.startswith(f"Readings of {', '.join(names[:12])}{more} are not judged")


def test_readings_of_another_axis_beside_those_of_the_one_judged_are_passed_over():
    found = study_of(*homings("A", 0.004), *rows([["0.001", "0.002"]], sensor="A", axis="Q"))
    assert choose(MACHINE, (A,), found).cautions == ()


def test_confidence_must_be_a_chance():
    with pytest.raises(InputError, match="a chance above"):
        choose(MACHINE, (A,), study_of(*homings("A", 0.004)), confidence=1.0)


@cache
def of_demo() -> Choice:
    return choose(
        read_machine(demo.machine_toml()),
        read_sensors(demo.sensors_toml()),
        study(read_readings(demo.readings_csv())),
    )


class TestDemo:
    """The invented demo: verdicts agree with what was planted."""

    def test_verdicts_are_those_the_planted_truth_deserves(self):
        assert {c.sensor.name: str(c.verdict) for c in of_demo().candidates} == {
            planted.sensor: planted.verdict for planted in demo.PLANTED
        }

    def test_choice(self):
        assert of_demo().choice == demo.WINNER


class TestContract:
    """The JSON of `choose`."""

    @cached_property
    def answer(self) -> dict[str, Any]:
        return choice_as_json(of_demo())

    def test_keys(self):
        assert set(self.answer) >= {"version", "requirement", "candidates", "choice", "reason"}
        assert set(self.answer["requirement"]) >= {"spread_allowed_mm", "bound_by", "datum_from"}
        for candidate in self.answer["candidates"]:
            assert set(candidate) >= {
                "sensor",
                "verdict",
                "chance_holds",
                "chance_holds_heavy",
                "tails",
                "share_outside",
                "misses",
                "price",
                "ruled_out",
                "reasons",
            }
            assert candidate["tails"] in ("regular", "heavy", "unknown")
            assert candidate["verdict"] in ("holds", "does not hold", "too close to call", "cannot say")
            assert set(candidate["misses"]) >= {"count", "n", "high_95"}

    def test_is_strict_json(self):
        import json

        assert json.loads(json.dumps(self.answer, allow_nan=False)) == self.answer

    def test_without_readings_everything_unknown_is_null(self):
        text = csv_of(*homings("A", 0.004))
        result = choice_as_json(choose(MACHINE, (A, B), study(read_readings(text))))
        unknown = result["candidates"][1]
        assert unknown["verdict"] == "cannot say"
        assert unknown["chance_holds"] is None
        assert unknown["misses"] is None


def test_more_candidates_than_can_be_compared_in_seconds_are_refused():
    names = [f"S{i}" for i in range(MOST_TRIED + 1)]
    sensors = tuple(Sensor(name=name, price=1.0) for name in names)
    tried = study_of(*(line for name in names for line in rows([["0.001", "0.002"]], sensor=name, axis="X")))
    with pytest.raises(InputError, match=f"found {MOST_TRIED + 1} candidates that were tried; needed is at most"):
        choose(MACHINE, sensors, tried)


def test_of_many_that_were_not_tried_a_dozen_is_named():
    many = tuple(Sensor(name=f"S{i}", price=1.0) for i in range(3_000))
    result = choose(MACHINE, (A, *many), study_of(*homings("A", 0.003)))
    assert result.choice == "A"
    assert "S11 (1.00) and 2988 more: cannot say" in result.reason


class TestRemembered:
    """Only what is new is judged again, and that is judged as if nothing had been before."""

    def test_candidates_with_new_homings_alone_are_judged_again(self, monkeypatch: pytest.MonkeyPatch):
        judged, judge = [], decide.judge
        monkeypatch.setattr(
            decide, "judge", lambda sensor, *a, **k: (judged.append(sensor.name), judge(sensor, *a, **k))[1]
        )
        first, more = (study_of(*homings("A", 0.003), *homings("B", sd)) for sd in (0.004, 0.03))
        choose(MACHINE, (A, B), first, what_if=True)
        assert set(judged) == {"A", "B"}
        judged.clear()
        kept = len(decide._judged._kept)
        mixed = replace(more, findings=(first.of("A", "X", ""), more.of("B", "X", "")))
        assert choose(MACHINE, (A, B), mixed, what_if=True).candidates[1].verdict == Verdict.DOES_NOT_HOLD
        assert set(judged) == {"B"}
        assert len(decide._judged._kept) == kept  # in the place of what was

    def test_other_questions_are_asked_of_the_same_candidates_alone_where_they_are_wanted(
        self, monkeypatch: pytest.MonkeyPatch
    ):
        judged, judge = [], decide.judge
        monkeypatch.setattr(
            decide,
            "judge",
            lambda sensor, asked, *a, **k: (judged.append(asked), judge(sensor, asked, *a, **k))[1],
        )
        found = study_of(*homings("A", 0.0031), *homings("B", 0.0043))
        short = choose(MACHINE, (A, B), found)
        assert (len(judged), short.changes) == (2, ())
        judged.clear()
        whole = choose(MACHINE, (A, B), found, what_if=True)
        assert len(judged) == 2 * len(whole.changes)  # what is asked was judged already
        assert repr(replace(whole, changes=())) == repr(short)

    @pytest.mark.parametrize(
        "other",
        [
            {"confidence": 0.8},
            {"system": "inch"},
            {"electrical": {"A": ("does not work", "the output never pulls down")}},
            {"machine": replace(MACHINE, requirement=Requirement(position_mm=0.03))},
            {"sensors": (replace(A, price=1.0, life_cycles=1e4), B)},
            {"what_if": True},
        ],
        ids=lambda other: next(iter(other)),
    )
    def test_whatever_else_is_said_counts(self, other):
        found = study_of(*homings("A", 0.006), *homings("B", 0.012))

        def chosen_by(said):
            words = {"machine": MACHINE, "sensors": (A, B)} | said
            return choose(words.pop("machine"), words.pop("sensors"), found, **words)

        before, now = chosen_by({}), chosen_by(other)
        decide._judged.forget()
        anew = chosen_by(other)
        assert repr(now) == repr(anew)
        assert repr(now) != repr(before)
