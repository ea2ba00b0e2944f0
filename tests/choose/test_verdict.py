"""The verdict: thresholds, guards and counts of docs/methods.md, section 4, on trials made to order."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from holdzero.compute.choose import Candidate, Verdict, allowed_spread, choose, share_outside
from holdzero.compute.choose.events import chance_from_counts
from holdzero.compute.choose.parts import Sides, parts
from holdzero.compute.choose.verdict import judge
from holdzero.compute.findings import Findings, find, study
from holdzero.inputs.machine import Axis, Machine, Requirement
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor
from printed import printed
from trials import csv_of, rows, study_of

ROUTER = Axis.of("Y", motors=2, drive_distance_mm=980.0)
LATHE = Axis.of("X", motors=1)
SQUARE_AND_PLACE = Requirement(squareness_mm=0.05, squareness_over_mm=600.0, position_mm=0.1, datum_homings=8)
PLACE = Requirement(position_mm=0.05)  # one end: 0.05 / 3.2905 = 0.015195


def normal_scores(n: int) -> np.ndarray:
    """Return n values as a bell curve has them: regular by any test. Blom's scores, sd 1."""
    scores = stats.norm.ppf((np.arange(1, n + 1) - 0.375) / (n + 0.25))
    return scores / scores.std(ddof=1)


def regular(sd: float, *, sets: int = 8, per_set: int = 5, seed: int = 3) -> np.ndarray:
    """Return regular scatter in shuffled order, nothing between power-ups. shape (sets, per_set)"""
    order = np.random.default_rng(seed).permutation(sets * per_set)
    return sd * normal_scores(sets * per_set)[order].reshape(sets, per_set)


def text(homings: np.ndarray) -> list[list[str]]:
    return [[f"{v:.5f}" for v in one] for one in homings]


def one_side(
    homings: np.ndarray,
    axis: Axis = LATHE,
    asked: Requirement = PLACE,
    *,
    lines: list[str] | None = None,
    **options,
) -> Candidate:
    """Judge a sensor tried on one side."""
    lines = rows(text(homings), axis=axis.name) if lines is None else lines
    machine = Machine(name="m", requirement=asked, axes=(axis,))
    confidence = options.pop("confidence", 0.95)
    options.setdefault("resolution_mm", 0.00001)
    (candidate,) = choose(
        machine, (Sensor(name="A"),), study_of(*lines, **options), axis=axis.name, confidence=confidence
    ).candidates
    return candidate


def both_sides(left: np.ndarray, right: np.ndarray, asked: Requirement = SQUARE_AND_PLACE) -> Candidate:
    """Judge a sensor tried on both sides at the same homings."""
    lines = [*rows(text(left), side="L"), *rows(text(right), side="R")]
    machine = Machine(name="m", requirement=asked, axes=(ROUTER,))
    (candidate,) = choose(machine, (Sensor(name="A"),), study_of(*lines, resolution_mm=0.00001)).candidates
    return candidate


class TestThresholds:
    """`holds` from .95 up, `does not hold` from .025 down, of the chance that T <= A."""

    @pytest.mark.parametrize(
        ("sd", "verdict"),
        [(0.004, Verdict.HOLDS), (0.013, Verdict.TOO_CLOSE), (0.025, Verdict.DOES_NOT_HOLD)],
    )
    def test_by_spread(self, sd: float, verdict: Verdict):
        assert one_side(regular(sd)).verdict == verdict

    def test_chance_is_that_of_the_posterior_and_not_of_a_point(self):
        """A spread estimated right at what is allowed is a coin's throw or less, not a certainty."""
        candidate = one_side(regular(0.0150))
        assert 0.05 < candidate.chance_holds < 0.6
        (part,) = candidate.parts
        assert candidate.chance_holds == part.findings.posterior.chance_at_most(part.spread_allowed_mm)

    def test_confidence_is_a_setting(self):
        candidate = one_side(regular(0.010))
        assert candidate.verdict == Verdict.HOLDS
        assert 0.95 <= candidate.chance_holds < 0.99999
        assert one_side(regular(0.010), confidence=0.99999).verdict == Verdict.TOO_CLOSE

    def test_scale_of_everything_changes_nothing(self):
        once = one_side(regular(0.010))
        machine = Requirement(position_mm=0.5)
        tenfold = one_side(regular(0.10), asked=machine, resolution_mm=0.0001)
        assert tenfold.chance_holds == pytest.approx(once.chance_holds, abs=1e-3)


class TestShareOutside:
    """Posterior mean, never at the estimate: by numerical integration over the posterior of SciPy's chi-square."""

    def test_against_chi_square(self):
        homings = regular(0.010, sets=36, per_set=1)
        candidate = one_side(homings)
        ss, df = float(((homings - homings.mean()) ** 2).sum()), 35

        def share(q: float) -> float:
            return 2 * stats.norm.sf(0.05 / np.sqrt(ss / q)) * stats.chi2.pdf(q, df)

        assert candidate.share_outside == pytest.approx(integrate.quad(share, 1, 120)[0], rel=0.03)


class TestOnePowerUp:
    """One set: never `holds`; P(w <= A) <= .025 gives `does not hold`; else what a power-up does was not seen."""

    def test_however_tight_it_is_too_close(self):
        candidate = one_side(regular(0.001, sets=1, per_set=40))
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert candidate.chance_holds is None
        assert candidate.chance_holds_heavy is None
        assert any("at least 4 more times" in reason for reason in candidate.reasons)
        assert candidate.to_settle.power_ups == 4

    def test_too_wide_within_is_too_wide_altogether(self):
        assert one_side(regular(0.03, sets=1, per_set=40)).verdict == Verdict.DOES_NOT_HOLD

    def test_two_power_ups_run(self):
        candidate = one_side(regular(0.001, sets=2, per_set=18))
        assert candidate.chance_holds is not None

    def test_zeroed_on_each_set_is_one(self):
        lines = rows(text(regular(0.001) - regular(0.001)[:, :1]), axis="X")
        candidate = one_side(np.empty(0), lines=lines, protocol="first")
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert candidate.chance_holds is None


class TestTails:
    """Rules 1, 2, 5: the heavy figure is always there, decides where a guard fires, and the verdict says so."""

    def test_heavy_figure_is_p_of_a_narrower_limit(self):
        """A z/q5 = 0.05 / 5.3206, 5.3206 the t5 quantile 6.8688 over its standard deviation sqrt(5/3)."""
        candidate = one_side(regular(0.006))
        (part,) = candidate.parts
        assert part.spread_allowed_heavy_mm == printed("0.009397")
        assert candidate.chance_holds_heavy == part.findings.posterior.chance_at_most(part.spread_allowed_heavy_mm)

    def test_holds_even_with_heavy_tails(self):
        candidate = one_side(regular(0.004))
        assert candidate.tails == "regular"
        assert candidate.rests_on == "holds even if the scatter has heavy tails"

    def test_holds_if_the_scatter_stays_regular(self):
        candidate = one_side(regular(0.009))
        assert (candidate.verdict, candidate.tails) == (Verdict.HOLDS, "regular")
        assert candidate.chance_holds_heavy < 0.95
        assert candidate.rests_on == (
            "holds if the scatter stays as regular as it looked; 40 homings cannot show it"
        )

    def test_an_outlying_homing_lets_the_heavy_figure_decide(self):
        homings = regular(0.007)
        homings[3, 2] = 0.040
        candidate = one_side(homings)
        assert candidate.tails == "heavy"
        assert candidate.chance_holds >= 0.95 > candidate.chance_holds_heavy
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert any("stands apart" in reason for reason in candidate.reasons)

    def test_heavy_tails_alone_are_no_evidence_against_a_sensor(self):
        """Where a guard fires by chance the heavy figure may be near 0; the normal one says what is against it."""
        homings = regular(0.010)
        homings[3, 2] = 0.048
        candidate = one_side(homings)
        assert candidate.tails == "heavy"
        assert candidate.chance_holds_heavy <= 0.025 < candidate.chance_holds
        assert candidate.verdict == Verdict.TOO_CLOSE

    def test_what_cannot_be_seen_is_unknown(self):
        assert one_side(regular(0.004, sets=3, per_set=2)).tails == "unknown"


class TestDrift:
    """Rule 3: drift or step at 1 % is at most `too close to call`, "not yet steady"."""

    WARM = regular(0.001) + 0.010 * np.exp(-np.arange(5) / 1.5)

    def test_caps_what_would_hold(self):
        candidate = one_side(self.WARM)
        assert candidate.chance_holds > 0.95
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert candidate.reasons[0].startswith("Not yet steady")

    def test_leaves_what_does_not_hold(self):
        assert one_side(10 * self.WARM).verdict == Verdict.DOES_NOT_HOLD


class TestCounts:
    """Rule 4: j homings outside of n bound the chance by Beta(j + 1/2, n - j + 1/2) at the risk."""

    @pytest.mark.parametrize(("n", "chance"), [(36, "0.005"), (100, "0.022"), (1000, "0.43")])
    def test_one_outside(self, n: int, chance: str):
        assert chance_from_counts(1, n, risk=1e-3) == printed(chance)

    def with_one(self, aside: str = "") -> list[str]:
        homings = regular(0.004)
        homings[5, 2] = 0.3
        head = [f"{line}," for line in rows(text(homings), axis="X")]
        return [line + aside if ",6,3," in line else line for line in head]

    def judged(self, aside: str = "") -> Candidate:
        lines = "\n".join(["sensor,axis,side,set,homing,deviation_mm,set_aside", *self.with_one(aside), ""])
        machine = Machine(name="m", requirement=PLACE, axes=(LATHE,))
        return choose(machine, (Sensor(name="A"),), study(read_readings(lines))).candidates[0]

    def test_does_not_hold_and_is_told_first(self):
        candidate = self.judged()
        assert candidate.verdict == Verdict.DOES_NOT_HOLD
        assert candidate.chance_holds <= chance_from_counts(1, 40, risk=1e-3)
        assert (candidate.misses.count, candidate.misses.n, candidate.misses.outside) == (1, 40, 1)
        assert candidate.reasons[0].startswith("Gross misses: 1 in 40")
        assert candidate.tails == "heavy"

    def test_setting_it_aside_does_not_help(self):
        candidate = self.judged("bumped the bench")
        assert candidate.parts[0].findings.n == 39
        assert candidate.chance_holds == pytest.approx(chance_from_counts(1, 40, risk=1e-3))
        assert candidate.verdict == Verdict.DOES_NOT_HOLD

    def test_a_slip_in_reading_does(self):
        candidate = self.judged("slip: 0.300 for 0.003")
        assert candidate.verdict == Verdict.HOLDS
        assert candidate.misses.count == 0

    def test_none_in_40_is_said_in_words(self):
        """1 - 0.05^(1/40) = 0.0722, so fewer than 1 in 13."""
        candidate = one_side(regular(0.004))
        assert candidate.reasons[-1] == "Gross misses: none in 40, so fewer than 1 in 13 (95 %)."


class TestAllAlike:
    """Methods 2: chance = 1 - max P(all alike | spread = A), n the number of power-ups."""

    @pytest.mark.parametrize(
        ("step", "sets", "verdict"),
        [(0.010, 8, Verdict.HOLDS), (0.010, 3, Verdict.HOLDS), (0.025, 3, Verdict.TOO_CLOSE)],
    )
    def test_by_power_ups(self, step: float, sets: int, verdict: Verdict):
        assert one_side(np.zeros((sets, 5)), resolution_mm=step).verdict == verdict

    def test_chance_at_the_bound_is_95_percent(self):
        """8 power-ups hide .495 steps: with A = .495 r the chance is 1 - .05."""
        allowed = 0.05 / 3.290526731
        candidate = one_side(np.zeros((8, 5)), resolution_mm=allowed / 0.4949)
        assert candidate.chance_holds == pytest.approx(0.95, abs=2e-3)

    def test_a_display_that_can_show_nothing_of_the_kind_cannot_say(self):
        candidate = one_side(np.zeros((8, 5)), resolution_mm=0.1)
        assert candidate.verdict == Verdict.CANNOT_SAY

    def test_two_neighbours_are_never_held_against_the_sensor(self):
        counts = np.random.default_rng(3).integers(0, 2, (8, 5)) * 0.1
        assert one_side(counts, resolution_mm=0.1).verdict == Verdict.CANNOT_SAY
        assert one_side(0.4 * counts, resolution_mm=0.04).verdict == Verdict.TOO_CLOSE

    def test_without_a_resolution_nothing_is_known(self):
        candidate = one_side(np.zeros((8, 5)), resolution_mm=None)
        assert candidate.verdict == Verdict.CANNOT_SAY
        assert candidate.chance_holds is None
        assert any("step of the display is not said" in reason for reason in candidate.reasons)


class TestBothSides:
    """Design 13: squareness on R minus L with half the risk, position at each end with a quarter."""

    def test_parts_and_their_limits(self):
        """C = 0.05 x 980/600 = .081667, t = 0.1/sqrt(1 + 1/8) = .094281; z(5e-4) 3.4808, z(2.5e-4) 3.6623."""
        candidate = both_sides(regular(0.004), regular(0.004, seed=4))
        assert [part.name for part in candidate.parts] == ["squareness", "position L", "position R"]
        assert [part.risk for part in candidate.parts] == [5e-4, 2.5e-4, 2.5e-4]
        squareness, left, right = (part.spread_allowed_mm for part in candidate.parts)
        assert squareness == printed("0.023462")
        assert left == right == printed("0.025744")

    def test_tool_beyond_the_drives_lowers_position_by_the_scatter_of_its_end(self):
        """Second route: the spread of r L - (r - 1) R itself, from the readings; r 1.2."""
        left, right = regular(0.004), regular(0.006, seed=4)
        lines = [*rows(text(left), side="L"), *rows(text(right), side="R")]
        machine = Machine(name="m", requirement=SQUARE_AND_PLACE, axes=(ROUTER.changed(overhang_mm=196.0),))
        (candidate,) = choose(machine, (Sensor(name="A"),), study_of(*lines, resolution_mm=0.00001)).candidates
        at_drive = both_sides(left, right)
        for before, after, one, other in zip(
            at_drive.parts[1:], candidate.parts[1:], (left, right), (right, left), strict=True
        ):
            times = max((1.2 * one - 0.2 * other).std() / one.std(), 1.0)
            assert after.swing == pytest.approx(times, rel=0.04)  # medians of beliefs for standard deviations
            assert after.spread_allowed_mm == pytest.approx(before.spread_allowed_mm / after.swing)
        assert candidate.parts[0].spread_allowed_mm == at_drive.parts[0].spread_allowed_mm

    def test_chance_is_the_smallest(self):
        candidate = both_sides(regular(0.004), regular(0.021, seed=4))
        assert candidate.chance_holds == min(part.chance_holds for part in candidate.parts)
        assert candidate.chance_holds_heavy == min(part.chance_holds_heavy for part in candidate.parts)

    def test_what_both_share_moves_the_datum_and_does_not_rack(self):
        shared = 0.012 * normal_scores(8)[np.random.default_rng(1).permutation(8)][:, None]
        candidate = both_sides(regular(0.003) + shared, regular(0.003, seed=4) + shared)
        squareness, left, _ = candidate.parts
        assert squareness.findings.spread.middle == pytest.approx(0.003 * 2**0.5, rel=0.3)
        assert left.findings.spread.middle > 0.01

    def test_position_not_asked_leaves_the_whole_risk_to_squareness(self):
        asked = Requirement(squareness_mm=0.05, squareness_over_mm=600.0)
        candidate = both_sides(regular(0.004), regular(0.004, seed=4), asked)
        assert [(part.name, part.risk) for part in candidate.parts] == [("squareness", 1e-3)]

    def test_squareness_not_asked_leaves_half_to_each_end(self):
        candidate = both_sides(regular(0.004), regular(0.004, seed=4), Requirement(position_mm=0.1))
        assert [(part.name, part.risk) for part in candidate.parts] == [("position L", 5e-4), ("position R", 5e-4)]

    def test_never_more_generous_than_the_share_outside(self):
        """At the three limits together the share outside, both sides independent, is within the risk."""
        candidate = both_sides(regular(0.004), regular(0.004, seed=4))
        side = min(candidate.parts[0].spread_allowed_mm / 2**0.5, candidate.parts[1].spread_allowed_mm)
        assert share_outside(side, position_mm=0.094281, squareness_mm=0.0816667) <= 1e-3

    def test_one_homing_is_one_homing_on_both_sides(self):
        left, right = regular(0.004), regular(0.004, seed=4)
        left[2, 1] = right[2, 1] = right[4, 4] = 0.4
        candidate = both_sides(left, right)
        assert (candidate.misses.count, candidate.misses.n, candidate.misses.outside) == (2, 40, 2)

    def test_tried_apart_both_spreads_count(self):
        """Sides at different homings: two spreads, independent; alike and known, it is the joint A."""
        lines = [*rows(text(regular(0.004)), side="L")]
        lines += [line.replace("A,Y,R,", "A,Y,R,1") for line in rows(text(regular(0.016, seed=4)), side="R")]
        machine = Machine(name="m", requirement=SQUARE_AND_PLACE, axes=(ROUTER,))
        (candidate,) = choose(machine, (Sensor(name="A"),), study_of(*lines, resolution_mm=0.00001)).candidates
        (part,) = candidate.parts
        assert part.name == "squareness and position"
        assert {part.findings.side, part.other.side} == {"L", "R"}
        assert candidate.misses.n == 80
        assert 0.5 < candidate.chance_holds < 1

    def test_tried_apart_heavy_tails_narrow_both_limits(self):
        """Second route: both limits narrower from the start, by hand 3.2905/5.3214 of what was asked."""
        lines = [*rows(text(regular(0.004)), side="L")]
        lines += [line.replace("A,Y,R,", "A,Y,R,1") for line in rows(text(regular(0.004, seed=4)), side="R")]
        asked = Requirement(squareness_mm=0.035, squareness_over_mm=980.0, position_mm=0.1)
        narrow = replace(asked, squareness_mm=0.035 * 3.2905 / 5.3214, position_mm=0.1 * 3.2905 / 5.3214)
        study = study_of(*lines, resolution_mm=0.00001)
        plain, tighter = (
            choose(Machine(name="m", requirement=one, axes=(ROUTER,)), (Sensor(name="A"),), study).candidates[0]
            for one in (asked, narrow)
        )
        assert plain.parts[0].chance_holds_heavy == pytest.approx(tighter.parts[0].chance_holds, abs=1e-3)
        assert 1e-4 < plain.parts[0].chance_holds_heavy < plain.parts[0].chance_holds


class TestOneSideOfTwo:
    """Only one side tried: both taken as alike and independent, judged by the joint A."""

    def test_joint_figure(self):
        candidate = one_side(regular(0.004), ROUTER, SQUARE_AND_PLACE)
        (part,) = candidate.parts
        assert part.name == "squareness and position"
        assert part.spread_allowed_mm == allowed_spread(ROUTER, SQUARE_AND_PLACE).spread_allowed_mm


def found_once(homings: np.ndarray, power_ups: int = 8) -> Findings:
    """Findings of one long set, as if power-ups had been seen to add nothing: methods 4's table."""
    lines = rows(text(homings[None, :]), axis="X")
    return replace(study_of(*lines).findings[0], power_ups=power_ups)


def _normal(rng: np.random.Generator) -> np.ndarray:
    return rng.standard_normal(36)


def _t5(rng: np.random.Generator) -> np.ndarray:
    return rng.standard_t(5, 36)


def _outliers(rng: np.random.Generator) -> np.ndarray:
    return np.where(rng.random(36) < 0.03, 8, 1) * rng.standard_normal(36)


def _drift(rng: np.random.Generator) -> np.ndarray:
    return rng.standard_normal(36) + 3 * np.linspace(-0.5, 0.5, 36)


_WANDER = np.linspace(-1.5, 7.5, 60)  # the drift goes on: 3 sd per trial, over two more trials
OUTSIDE = {  # share of homings beyond x, by SciPy
    _normal: lambda x: 2 * stats.norm.sf(x),
    _t5: lambda x: 2 * stats.t.sf(x, 5),
    _outliers: lambda x: 2 * (0.97 * stats.norm.sf(x) + 0.03 * stats.norm.sf(x / 8)),
    _drift: lambda x: np.mean(stats.norm.sf(x - _WANDER) + stats.norm.cdf(-x - _WANDER)),
}


def false_holds(draw, *, trials: int) -> tuple[float, float]:
    """Share of machines just over the limit judged `holds`: by the normal figure alone, by the whole rule."""
    rng = np.random.default_rng(20260101)
    limit = optimize.brentq(lambda x: OUTSIDE[draw](x) - 1.05e-3, 1, 60)
    allowed = allowed_spread(LATHE, Requirement(position_mm=limit, risk=1e-3))
    normal = whole = 0
    for _ in range(trials):
        sides = Sides(None, None, None, found_once(draw(rng)))
        normal += parts(allowed, sides)[0].chance_holds >= 0.95
        candidate = judge(Sensor(name="A"), allowed, sides, ruled_out=(), confidence=0.95, told_apart=False)
        whole += candidate.verdict == Verdict.HOLDS
    return normal / trials, whole / trials


class TestFalseHolds:
    """Methods 4, table of false `holds`: true share 1.05 x risk, risk 1e-3, 36 homings."""

    TABLE = ((_normal, 0.045, 0.040), (_t5, 0.937, 0.627), (_outliers, 0.993, 0.887), (_drift, 1.000, 0.010))

    @pytest.mark.parametrize(("draw", "normal", "whole"), [TABLE[0], TABLE[1], TABLE[3]])
    def test_small(self, draw, normal: float, whole: float):
        """80 trials, so three standard errors wide."""
        got_normal, got_whole = false_holds(draw, trials=80)
        assert got_normal == pytest.approx(normal, abs=3 * (normal * (1 - normal) / 80) ** 0.5 + 0.01)
        assert got_whole <= whole + 3 * (whole * (1 - whole) / 80) ** 0.5 + 0.02

    @pytest.mark.checks
    @pytest.mark.parametrize(("draw", "normal", "whole"), TABLE)
    def test_full(self, draw, normal: float, whole: float):
        got_normal, got_whole = false_holds(draw, trials=3000)
        assert got_normal == pytest.approx(normal, abs=0.012)
        assert got_whole <= whole + 0.02


class TestOverPowerUps:
    """Docs/methods.md, section 4: the whole rule over several power-ups, normal scatter."""

    def verdicts(self, sets: int, per_set: int, between: float, room: float, trials: int) -> list[Verdict]:
        rng = np.random.default_rng(20260101)
        total = (1 + between**2) ** 0.5
        allowed = allowed_spread(LATHE, Requirement(position_mm=3.290526731 * room * total))
        empty = read_readings(csv_of(*rows([["0"] * per_set] * sets))).groups[0]
        judged = []
        for _ in range(trials):
            homings = between * rng.standard_normal((sets, 1)) + rng.standard_normal((sets, per_set))
            found = find(replace(empty, deviation_mm=homings.ravel()))
            sides = Sides(None, None, None, found)
            judged.append(
                judge(Sensor(name="A"), allowed, sides, ruled_out=(), confidence=0.95, told_apart=False).verdict
            )
        return judged

    def test_small(self):
        judged = self.verdicts(8, 5, 0.5, 0.9958, 60)
        assert judged.count(Verdict.HOLDS) <= 0.06 * 60
        judged = self.verdicts(8, 5, 0.5, 2.2, 40)
        assert judged.count(Verdict.HOLDS) >= 0.75 * 40
        assert Verdict.DOES_NOT_HOLD not in judged

    @pytest.mark.checks
    @pytest.mark.parametrize("between", [0.0, 0.5, 1.0])
    @pytest.mark.parametrize(("sets", "per_set"), [(8, 5), (5, 6)])
    def test_false_holds(self, sets: int, per_set: int, between: float):
        judged = self.verdicts(sets, per_set, between, 0.9958, 1000)
        assert judged.count(Verdict.HOLDS) <= 0.04 * 1000

    @pytest.mark.checks
    @pytest.mark.parametrize(("room", "holds"), [(1.3, 0.32), (1.6, 0.75), (2.2, 0.92)])
    def test_room_needed(self, room: float, holds: float):
        judged = self.verdicts(8, 5, 0.5, room, 400)
        assert judged.count(Verdict.HOLDS) / 400 == pytest.approx(holds, abs=0.07)


def test_nothing_tried_cannot_say():
    machine = Machine(name="m", requirement=PLACE, axes=(LATHE,))
    lines = rows(text(regular(0.004)), axis="X")
    result = choose(machine, (Sensor(name="A"), Sensor(name="B")), study_of(*lines))
    candidate = result.candidates[1]
    assert candidate.verdict == Verdict.CANNOT_SAY
    assert candidate.chance_holds is None
    assert "data sheet" in candidate.reasons[0]


class TestWhatSettlesIt:
    """More homings settle what homings left open; what a guard forbids, finding the cause does."""

    @pytest.mark.parametrize("sd", [0.002, 0.005])
    def test_an_unsteady_machine(self, sd: float):
        drift = 8 * sd * np.linspace(0, 1, 10)
        candidate = one_side(regular(sd, sets=4, per_set=10) + drift)
        assert candidate.verdict == Verdict.TOO_CLOSE
        settle = candidate.to_settle
        assert (settle.power_ups, settle.homings_each, settle.chance) == (None, 0, 0)
        assert settle.sentence.startswith("More homings do not settle this; finding the cause does. ")
        assert settle.sentence.endswith(" Put it right and take a new trial.")
        assert settle.sentence in candidate.reasons

    def test_a_homing_outside(self):
        """One of 200 at 1 in 100: Beta(3/2, n - 1/2) reaches 0.95 at the risk from n = 392 on (SciPy)."""
        homings = regular(0.002, sets=20, per_set=10)
        homings[3, 4] = 0.08
        asked = replace(PLACE, risk=0.01)
        candidate = one_side(homings, asked=asked)
        assert candidate.verdict == Verdict.TOO_CLOSE
        needed = candidate.to_settle.homings + 200
        enough = [stats.beta.cdf(0.01, 1.5, n - 0.5) for n in (needed - 1, needed)]
        assert enough[0] < 0.95 <= enough[1]
        assert candidate.to_settle.sentence.startswith("Find what sent the homing outside, put it right")


class TestMeanShareAboveTheRisk:
    """Two power-ups leave a long tail: it can hold with 0.95 while the mean share outside is above the risk."""

    def test_is_explained(self):
        asked = replace(PLACE, risk=0.001)
        candidate = one_side(regular(0.001, sets=2, per_set=12), asked=asked)
        assert candidate.verdict == Verdict.HOLDS
        assert candidate.share_outside > 0.001
        (said,) = (reason for reason in candidate.reasons if reason.startswith("The share outside"))
        assert "is a mean over every spread these homings allow" in said
        assert f"has a chance of {candidate.chance_holds:.2f}" in said

    def test_is_not_needed_otherwise(self):
        candidate = one_side(regular(0.004))
        assert not any("is a mean over" in reason for reason in candidate.reasons)


def test_a_reason_says_whose_homing_it_is():
    """A left side that trips 0.12 mm late shows as -0.12 mm in R minus L: the side is named, with its own sign."""
    left, right = regular(0.003, seed=3), regular(0.003, seed=4)
    left[3, 2] += 0.12
    candidate = both_sides(left, right)
    (said,) = (reason for reason in candidate.reasons if "stands apart" in reason)
    assert said.startswith("Left side: 1 of 40 homings stands apart from the rest: homing 3 of set 4 by +0.12")
