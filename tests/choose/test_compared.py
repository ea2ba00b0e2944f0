"""Compared, asked for something else, decided."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest

import results_by_hand as by_hand
from holdzero import demo
from holdzero.compute.choose import Choice, Decision, Verdict, choice_as_json, choose, decision, digest_of_inputs
from holdzero.compute.choose.compared import compared, ratio_of
from holdzero.compute.choose.facts import life_years, ruled_out
from holdzero.compute.choose.parts import Sides
from holdzero.compute.compare import rank
from holdzero.compute.findings import Findings, MissesElsewhere, study, upper_limit
from holdzero.compute.spread import Interval, Posterior
from holdzero.errors import InputError
from holdzero.inputs.machine import Axis, Machine, Requirement, read_machine
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor, read_sensors

MACHINE, SENSORS = read_machine(demo.machine_toml()), read_sensors(demo.sensors_toml())
READINGS = read_readings(demo.readings_csv())
PRICE = {sensor.name: sensor.price for sensor in SENSORS}
PAIR = (demo.WINNER, demo.DEARER)
N = demo.POWER_UPS * demo.HOMINGS


def winner(choice: Choice):
    return next(c for c in choice.candidates if c.sensor.name == demo.WINNER)


@pytest.fixture(scope="module")
def found():
    return study(READINGS)


@pytest.fixture(scope="module")
def chosen(found) -> Choice:
    return choose(MACHINE, SENSORS, found, what_if=True)


class TestCompared:
    """docs/methods.md 8: independent beliefs on one grid, the worse side of each."""

    def test_by_the_worse_side(self, found, chosen):
        """The same chances as `rank` gives for the wider side of each."""
        worse = {
            name: max((found.of(name, "Y", side) for side in "LR"), key=lambda one: one.spread.high)
            for name in PRICE
        }
        same = rank({name: one.posterior for name, one in worse.items() if one.posterior is not None})
        assert chosen.comparison.ranking.chance_tightest == pytest.approx(same.chance_tightest)
        assert chosen.compared == "day to day"

    def test_a_ratio_turned_round_is_its_inverse(self, chosen):
        one, other = (ratio_of(chosen.comparison, *pair) for pair in (PAIR, PAIR[::-1]))
        assert (one.low, one.high) == pytest.approx((1 / other.high, 1 / other.low))

    def test_what_more_money_buys(self, chosen):
        """The only dearer one that holds, and the difference of the two prices."""
        (dearer,) = chosen.more_money
        assert (dearer.sensor, dearer.extra) == (
            demo.DEARER,
            pytest.approx(PRICE[demo.DEARER] - PRICE[demo.WINNER]),
        )
        assert "its spread is" in dearer.sentence
        assert "of the tolerance asked" in dearer.sentence

    def test_fewer_than_two_are_not_compared(self, found):
        assert choose(MACHINE, SENSORS[:1], found).comparison is None

    def test_json_has_it(self, chosen):
        answer = choice_as_json(chosen)
        assert sum(answer["comparison"]["chance_tightest"].values()) == pytest.approx(1)
        assert [one["asked"] for one in answer["what_if"]][:2] == ["half the tolerance", "0.7 of the tolerance"]


def narrow(sensor: str, side: str, mm: float, power_ups: int, within_mm: float | None = None) -> Findings:
    """A spread known to 1 %, and that within a power-up."""
    day, inside = (
        None
        if middle is None
        else Posterior.from_log_weights(grid := middle * WIDTH, -0.5 * (np.log(grid / middle) / 0.01) ** 2)
        for middle in (mm, within_mm)
    )
    spread = Interval(mm, 0.98 * mm, 1.02 * mm)
    read = replace(by_hand.STUDY.of("plain", "Y", side), sensor=sensor, power_ups=power_ups, spread=spread)
    return replace(read, posterior=day, within_posterior=inside)


WIDTH = np.exp(np.linspace(-0.1, 0.1, 81))


@pytest.mark.parametrize(
    ("power_ups", "basis", "times"), [((2, 2), "day to day", 3.0), ((2, 1), "within a power-up", 0.5)]
)
def test_day_to_day_only_where_every_candidate_has_seen_two_power_ups(power_ups: tuple, basis: str, times: float):
    """30 um to 10 um from day to day, 2 um to 4 um within a power-up."""
    sides = {
        "A": Sides(narrow("A", "L", 0.03, power_ups[0], 0.002), None, None, None),
        "B": Sides(None, None, None, narrow("B", "L", 0.01, power_ups[1], 0.004)),
    }
    comparison, of = compared(sides)
    assert of == basis
    assert ratio_of(comparison, "A", "B").middle == pytest.approx(times, rel=0.01)


def test_the_wider_side_is_compared_and_only_where_something_is_believed():
    left, right = narrow("A", "L", 0.03, 5), narrow("A", "R", 0.06, 5)
    other = Sides(narrow("B", "L", 0.01, 5), None, None, None)
    for one, two in ((left, right), (right, left)):
        comparison, _ = compared({"A": Sides(one, two, None, None), "B": other})
        assert ratio_of(comparison, "A", "B").middle == pytest.approx(6.0, rel=0.01)
    unknown = Sides(replace(left, posterior=None), None, None, None)
    assert compared({"A": unknown, "B": other}) == (None, "")
    half = Sides(left, replace(right, posterior=None), None, None)
    assert ratio_of(compared({"A": half, "B": other})[0], "A", "B").middle == pytest.approx(3.0, rel=0.01)
    endless = Posterior(np.array([0.03, np.inf]), np.array([0.5, 0.5]))
    assert compared({"A": Sides(replace(left, posterior=endless), None, None, None), "B": other}) == (None, "")


class TestWhatIf:
    """Second route: ask for it and choose again."""

    def test_is_what_choosing_again_says(self, found, chosen):
        """Twice the tolerance, by hand: a machine that asks for twice as much room."""
        asked = MACHINE.requirement
        wider = replace(asked, squareness_mm=2 * asked.squareness_mm, position_mm=2 * asked.position_mm)
        again = choose(replace(MACHINE, requirement=wider), SENSORS, found)
        (change,) = [one for one in chosen.changes if one.tolerance_times == 2]
        assert change.verdicts == {c.sensor.name: c.verdict for c in again.candidates}
        assert change.choice == again.choice

    def test_more_room_never_turns_against_a_candidate(self, chosen):
        order = [Verdict.DOES_NOT_HOLD, Verdict.CANNOT_SAY, Verdict.TOO_CLOSE, Verdict.HOLDS]
        by_room = sorted(
            (c for c in chosen.changes if c.risk == MACHINE.requirement.risk), key=lambda c: c.tolerance_times
        )
        for name in PRICE:
            places = [order.index(change.verdicts[name]) for change in by_room]
            assert places == sorted(places)

    def test_the_multiple_that_still_holds(self, found, chosen):
        """At 1.02 times it the winner holds, at 0.98 times it no more."""
        times = winner(chosen).tolerance_times
        asked = MACHINE.requirement
        for factor, holds in ((1.02, True), (0.98, False)):
            position, squareness = (limit * times * factor for limit in (asked.position_mm, asked.squareness_mm))
            tighter = replace(asked, position_mm=position, squareness_mm=squareness)
            again = choose(replace(MACHINE, requirement=tighter), SENSORS, found)
            assert (winner(again).verdict == Verdict.HOLDS) is holds


class TestElsewhere:
    """Misses of watch logs and captures add to the count: exact binomial over both."""

    def test_added_once_for_both_sides(self):
        log = MissesElsewhere(sensor=demo.WINNER, count=1, n=900, source="watch log")
        b = winner(choose(MACHINE, SENSORS, study(READINGS, more_misses=(log,))))
        assert (b.misses.count, b.misses.n) == (1, N + 900)
        assert b.misses.high_95 == pytest.approx(upper_limit(1, N + 900))
        assert b.reasons[0].startswith(f"Gross misses: 1 in {N + 900} (1 in 900 from watch log)")

    def test_the_choice_tells_it_first(self):
        log = MissesElsewhere(sensor=demo.WINNER, count=1, n=900)
        assert choose(MACHINE, SENSORS, study(READINGS, more_misses=(log,))).reason.startswith(
            f"Gross misses: 1 in {N + 900}"
        )

    def test_of_another_sensor_or_side_it_does_not_count(self):
        log = MissesElsewhere(sensor=demo.WINNER, count=1, n=900, side="R")
        studied = study(READINGS, more_misses=(log,))
        assert studied.of(demo.WINNER, "Y", "L").misses.n == N
        assert studied.of(demo.WINNER, "Y", "R").misses.n == N + 900

    def test_what_landed_outside_counts_against_it(self):
        """Beta(2.5, n - 1.5) at 1 in 500: two outside in 62 leave .0015, so it does not hold."""
        log = MissesElsewhere(sensor=demo.WINNER, count=2, n=2, outside=2)
        b = winner(choose(MACHINE, SENSORS, study(READINGS, more_misses=(log,))))
        assert b.verdict == Verdict.DOES_NOT_HOLD


class TestFacts:
    """Hard facts, each with its figures."""

    AXIS = Axis.of("Y", approach_speed_mm_s=40, acceleration_mm_s2=800, delay_s=0.012)

    def out(self, sensor: Sensor, **asked: float) -> str:
        return " ".join(ruled_out(sensor, Machine(name="m", requirement=Requirement(**asked), axes=()), self.AXIS))

    def test_years_at_the_stated_use(self):
        """1e6 / (2 x 200 x 365.25) = 6.84 years."""
        sensor = Sensor(name="A", life_cycles=1e6)
        assert "lasts for 6.8 years; 10 are asked" in self.out(sensor, homings_per_day=200, years=10)
        assert self.out(sensor, homings_per_day=200, years=6.8) == ""
        machine = Machine(name="m", requirement=Requirement(homings_per_day=200), axes=())
        assert life_years(sensor, machine) == pytest.approx(6.8446, rel=1e-4)

    def test_overtravel(self):
        """40 x 0.012 + 40²/1600 = 1.48 mm."""
        assert "runs 1.48 mm past the trip; it can be pressed 1.20 mm" in plain(
            self.out(Sensor(name="A", overtravel_mm=1.2))
        )
        assert self.out(Sensor(name="A", overtravel_mm=1.5)) == ""

    def test_price_limit(self):
        assert self.out(Sensor(name="A", price=50.0), price_limit=40.0) == "It costs 50.00; the limit is 40.00."
        assert self.out(Sensor(name="A"), price_limit=40.0) == ""

    @pytest.mark.parametrize(
        ("verdict", "out"),
        [("does not work", True), ("damage", True), ("works, but", False), ("cannot say", False)],
    )
    def test_electrical(self, verdict: str, out: bool, found):
        given = {demo.WINNER: (verdict, "The input never reads it.")}
        b = winner(choose(MACHINE, SENSORS, found, electrical=given))
        assert bool(b.ruled_out) is out


def plain(text: str) -> str:
    return text.replace("\u202f", " ")


class TestDecision:
    """Kept with a reason and the digests of its inputs."""

    DIGESTS = MappingProxyType({"machine": "m", "sensors": "s", "readings": "r", "square": "q"})

    def test_keeps_what_it_rested_on(self, chosen):
        kept = decision(chosen, sensor=demo.DEARER, reason=" nobody has to clean it ", digests=self.DIGESTS)
        assert (kept["sensor"], kept["recommended"], kept["verdict"]) == (demo.DEARER, demo.WINNER, "holds")
        assert kept["reason"] == "nobody has to clean it"

    @pytest.mark.parametrize(
        ("sensor", "reason", "said"), [(demo.DEARER, " ", "a reason"), ("Q", "x", f"one of {', '.join(PRICE)}")]
    )
    def test_needs_a_candidate_and_a_reason(self, chosen, sensor: str, reason: str, said: str):
        with pytest.raises(InputError, match=said):
            decision(chosen, sensor=sensor, reason=reason, digests=self.DIGESTS)

    def test_read_back_as_kept(self, chosen):
        kept = decision(chosen, sensor=demo.DEARER, reason="no dirt", by="the keeper", digests=self.DIGESTS)
        taken = Decision.of(kept, day="2026-03-16", version="1.2.3")
        assert taken.sentence == f"{demo.DEARER} (holds), 2026-03-16 by the keeper: no dirt."
        assert taken.digests == {"machine": "m", "sensors": "s", "readings": "r"}  # squaring comes after it
        assert taken.digest == digest_of_inputs(self.DIGESTS)

    def test_digest_follows_every_input_it_rests_on(self):
        others = [{**self.DIGESTS, name: "x"} for name in ("machine", "sensors", "readings", "wiring", "square")]
        digests = [digest_of_inputs(one) for one in (self.DIGESTS, *others)]
        assert len(set(digests)) == 5
        assert digests[-1] == digests[0]


def test_sentences_in_inches(found):
    b = winner(choose(MACHINE, SENSORS, found, system="inch"))
    lengths = [reason for reason in b.reasons if "allowed" in reason]
    assert len(lengths) == 3
    assert all("thou" in reason and "µm" not in reason for reason in lengths)
