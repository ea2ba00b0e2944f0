"""The verdict: chances, floors, counts and causes (docs/methods.md, sections 4, 13), on trials made to order."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import integrate, stats

from holdzero.compute.choose import Candidate, Verdict, allowed_spread, choose
from holdzero.compute.choose.events import chance_from_counts, chance_of_count
from holdzero.compute.choose.more import more, rare_enough
from holdzero.compute.choose.verdict import _alike, _closest_first
from holdzero.compute.choose.words import reasons
from holdzero.compute.findings import study
from holdzero.compute.findings.values import Misses
from holdzero.inputs.machine import Axis, Machine, Requirement
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor
from printed import printed
from trials import found_in, rows, study_of

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
    """`holds` from .95 up by both chances, `does not hold` from .025 down by regular scatter."""

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
        candidate = one_side(regular(0.0075))
        assert candidate.verdict == Verdict.HOLDS
        assert 0.95 <= candidate.chance_holds_wide < 0.999
        assert one_side(regular(0.0075), confidence=0.999).verdict == Verdict.TOO_CLOSE

    def test_scale_of_everything_changes_nothing(self):
        once = one_side(regular(0.010))
        machine = Requirement(position_mm=0.5)
        tenfold = one_side(regular(0.10), asked=machine, resolution_mm=0.0001)
        assert tenfold.chance_holds == pytest.approx(once.chance_holds, abs=1e-3)


class TestShareOutside:
    """A mean over all laws left believable: under the normal one alone by SciPy's chi-square, never less."""

    def test_against_chi_square(self):
        homings = regular(0.010, sets=36, per_set=1)
        candidate = one_side(homings)
        ss, df = float(((homings - homings.mean()) ** 2).sum()), 35

        def share(q: float) -> float:
            return 2 * stats.norm.sf(0.05 / np.sqrt(ss / q)) * stats.chi2.pdf(q, df)

        normal = integrate.quad(share, 1, 120)[0]
        assert normal < candidate.share_outside < 100 * normal


class TestOnePowerUp:
    """One set: never `holds`; P(w <= A) <= .025 gives `does not hold`; else what a power-up does was not seen."""

    def test_however_tight_it_is_too_close(self):
        candidate = one_side(regular(0.001, sets=1, per_set=40))
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert candidate.chance_holds is None
        assert candidate.chance_holds_heavy is None
        assert [reason for reason in candidate.reasons if "more time" in reason] == [candidate.to_settle.sentence]
        assert "at least 4 more times" in candidate.to_settle.sentence  # and not 3 of the 4 that any verdict needs
        assert candidate.to_settle.power_ups == 4

    def test_too_wide_within_is_too_wide_altogether(self):
        assert one_side(regular(0.03, sets=1, per_set=40)).verdict == Verdict.DOES_NOT_HOLD

    def test_two_power_ups_run(self):
        candidate = one_side(regular(0.001, sets=2, per_set=18))
        assert candidate.chance_holds > 0.95
        assert candidate.verdict == Verdict.TOO_CLOSE

    def test_zeroed_on_each_set_is_one(self):
        lines = rows(text(regular(0.001) - regular(0.001)[:, :1]), axis="X")
        candidate = one_side(np.empty(0), lines=lines, protocol="first")
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert candidate.chance_holds is None


class TestTails:
    """Regular scatter and the tails that the readings leave believable, both; the label; the sentence."""

    def test_what_the_verdict_rests_on(self):
        candidate = one_side(regular(0.0075))
        assert (candidate.verdict, candidate.risk_times) == (Verdict.HOLDS, 3)
        assert candidate.chance_holds_heavy < candidate.chance_holds_wide < candidate.chance_holds
        assert candidate.rests_on == (
            "At most 1 in 1000 if the scatter stays as regular as it looks; under the heavier tails these 40 "
            "homings cannot rule out, up to 3 in 1000"
        )

    def test_regular_scatter_alone_is_not_enough(self):
        """Room of 1.6: enough for regular scatter, not for the tails that 40 homings of one side leave open."""
        candidate = one_side(regular(0.0095))
        assert candidate.chance_holds >= 0.95 > candidate.chance_holds_wide
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert [part.verdict for part in candidate.parts] == [Verdict.TOO_CLOSE]  # one part: as the whole
        assert candidate.rests_on.startswith(
            "it would hold with regular scatter; these 40 homings cannot rule out"
        )

    def test_a_coarse_display_asks_for_a_finer_one(self):
        """Step of twice the scatter: tails are hidden, so the asked risk itself is asked, and that is said."""
        candidate = one_side(np.round(regular(0.009) / 0.018) * 0.018, asked=Requirement(position_mm=0.055))
        shown = one_side(
            np.round(regular(0.009) / 0.018) * 0.018, asked=Requirement(position_mm=0.055), resolution_mm=0.018
        )
        assert not candidate.tails_hidden
        assert (shown.tails_hidden, shown.risk_times) == (True, 1)

    def test_forty_homings_do_not_tell(self):
        assert one_side(regular(0.004)).tails == "unknown"

    def test_a_long_run_settles_the_tails(self):
        """A further power-up of 100 homings, regular: what was open before holds now."""
        homings = regular(0.0085)
        run = 0.0085 * normal_scores(100)[np.random.default_rng(2).permutation(100)]
        lines = [*rows([*text(homings), [f"{v:.5f}" for v in run]], axis="X")]
        before, after = one_side(homings), one_side(np.empty(0), lines=lines)
        assert before.verdict == Verdict.TOO_CLOSE
        assert after.chance_holds_wide > before.chance_holds_wide
        assert (after.verdict, after.tails) == (Verdict.HOLDS, "regular")

    def test_a_homing_far_inside_is_told_and_lowers_nothing_by_itself(self):
        homings = regular(0.002)
        homings[3, 2] = 0.030
        candidate = one_side(homings)
        assert candidate.misses.count == 1
        assert candidate.misses.outside == 0
        assert any("stands apart" in reason for reason in candidate.reasons)
        assert candidate.chance_holds_wide < candidate.chance_holds

    @pytest.mark.parametrize("verdict", list(Verdict))
    @pytest.mark.parametrize("chance", [0.5, None])
    def test_tails_are_told_where_they_bear_on_the_verdict(self, verdict: Verdict, chance: float | None):
        """A sensor that does not hold, or of which nothing can be said, owes that to no tail."""
        candidate = one_side(regular(0.013))
        told = replace(candidate, verdict=verdict, chance_holds=chance, tails="heavy", uneven=True, lacks=())
        said = [any(about in one for one in reasons(told, risk=1e-3)) for about in ("Heavy tails", "differs from")]
        bears = verdict in {Verdict.HOLDS, Verdict.TOO_CLOSE} and chance is not None
        assert said == [bears, bears]

    def test_heavy_tails_alone_are_no_evidence_against_a_sensor(self):
        homings = regular(0.010)
        homings[3, 2] = 0.048
        candidate = one_side(homings)
        assert candidate.chance_holds_wide < 0.3
        assert candidate.verdict == Verdict.TOO_CLOSE

    @pytest.mark.parametrize("sd", [0.004, 0.0085, 0.013])
    def test_sign_constant_and_order_change_nothing(self, sd: float):
        rng = np.random.default_rng(4)
        homings = sd * rng.standard_normal((8, 5))
        before = one_side(homings)
        for other in (-homings, homings + 0.7, homings[rng.permutation(8)]):
            after = one_side(other)
            assert after.verdict == before.verdict
            for name in ("chance_holds", "chance_holds_heavy", "chance_holds_wide", "share_outside"):
                assert getattr(after, name) == pytest.approx(getattr(before, name), abs=1e-3)

    def test_a_power_up_elsewhere_is_looked_at_first(self):
        homings = regular(0.002)
        homings[5] += 0.020
        candidate = one_side(homings)
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert "One power-up stands apart: set 6 by +" in candidate.cure
        assert candidate.reasons[0].startswith("One power-up stands apart: set 6")

    def test_what_power_ups_cannot_show_is_said_with_its_number(self):
        """1 - 0.05^(1/8) = 0.31."""
        assert any("even if up to 31" in reason for reason in one_side(regular(0.004)).reasons)


class TestFloors:
    """Below 4 power-ups, or 12 homings of a series, nothing holds; what is missing is said."""

    @pytest.mark.parametrize(
        ("sets", "per_set", "codes"),
        [(3, 12, ["power-ups"]), (4, 2, ["homings"]), (2, 3, ["power-ups", "homings"]), (4, 3, [])],
    )
    def test_however_tight(self, sets: int, per_set: int, codes: list[str]):
        candidate = one_side(regular(0.0005, sets=sets, per_set=per_set))
        assert [lack.code for lack in candidate.lacks] == codes
        assert candidate.verdict == (Verdict.TOO_CLOSE if codes else Verdict.HOLDS)
        for lack in candidate.lacks:
            assert lack.sentence in candidate.reasons

    def test_what_settles_it_is_what_is_missing(self):
        candidate = one_side(regular(0.0005, sets=3, per_set=12))
        assert candidate.to_settle.power_ups == 1
        assert candidate.lacks[0].as_json() == {
            "code": "power-ups",
            "side": None,
            "sentence": "3 power-ups can be read, 4 are needed: switch off and on at least 1 more time.",
            "there": 3,
            "need": 4,
        }


class TestFault:
    """More than a quarter plainly wrong: no spread, the cause first."""

    def test_two_in_five(self):
        homings = regular(0.002)
        homings[:, 1] += 0.040
        homings[:, 3] -= 0.045
        candidate = one_side(homings)
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert "16 of 40 homings are plainly wrong: this is a fault, find it" in candidate.cure
        assert candidate.chance_holds is None
        assert candidate.parts[0].findings.spread.middle is None

    def test_outside_it_does_not_hold(self):
        homings = regular(0.002)
        homings[:, 1] += 1.0
        homings[:, 3] -= 2.0
        candidate = one_side(homings)
        assert candidate.verdict == Verdict.DOES_NOT_HOLD
        assert candidate.cure


class TestDrift:
    """Rule 3: drift or step at 1 % is at most `too close to call`, "not yet steady"."""

    WARM = regular(0.001) + 0.010 * np.exp(-np.arange(5) / 1.5)

    def test_caps_what_would_hold(self):
        candidate = one_side(self.WARM)
        assert candidate.chance_holds > 0.95
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert candidate.reasons[0].startswith("Not yet steady")
        assert candidate.cure.startswith("Not yet steady")

    def test_leaves_what_does_not_hold(self):
        assert one_side(10 * self.WARM).verdict == Verdict.DOES_NOT_HOLD


class TestCounts:
    """Homings outside speak against it where so many are rarer than .05 at the risk: then by Jeffreys' belief."""

    @pytest.mark.parametrize("n", [40, 51, 52, 400])
    def test_whether_a_count_speaks_against_it(self, n: int):
        """One of n at 1 in 1000, by SciPy's binomial: against it up to n 51."""
        assert chance_of_count(1, n, risk=1e-3) == pytest.approx(stats.binom.sf(0, n, 1e-3))
        assert (chance_of_count(1, n, risk=1e-3) <= 0.05) == (n <= 51)

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

    def test_so_few_outside_that_the_count_leaves_it_open(self):
        """Five of 40 at 5 in 100, by SciPy: so many have a chance of 0.048, of 41 one of 0.052."""
        homings = regular(0.010)
        homings[[0, 2, 4, 5, 7], [1, 3, 0, 2, 4]] = (0.056, -0.057, 0.060, -0.062, 0.058)
        candidate = one_side(homings, asked=Requirement(position_mm=0.05, risk=0.05))
        assert [stats.binom.sf(4, n, 0.05) > 0.05 for n in (40, 41)] == [False, True]
        assert (candidate.verdict, candidate.misses.outside) == (Verdict.TOO_CLOSE, 5)
        assert candidate.chance_holds == pytest.approx(stats.beta.cdf(0.05, 5.5, 35.5))
        assert (candidate.to_settle.homings, candidate.to_settle.power_ups) == (1, None)
        assert candidate.tolerance_times is None

    def test_outside_but_not_too_many_it_is_the_scatter_that_does_not_hold(self):
        """Two of 40 at 1 in 100 are no rarer than 0.061."""
        candidate = one_side(regular(0.027), asked=Requirement(position_mm=0.05, risk=0.01))
        assert stats.binom.sf(1, 40, 0.01) > 0.05
        assert (candidate.verdict, candidate.misses.outside) == (Verdict.DOES_NOT_HOLD, 2)
        assert candidate.rests_on == "does not hold even if the scatter is regular"

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
    """docs/methods.md 2: chance = 1 - max P(all alike | spread = A), n the number of power-ups."""

    @pytest.mark.parametrize(
        ("step", "sets", "verdict"),
        [(0.010, 8, Verdict.HOLDS), (0.010, 3, Verdict.TOO_CLOSE), (0.025, 4, Verdict.TOO_CLOSE)],
    )
    def test_by_power_ups(self, step: float, sets: int, verdict: Verdict):
        assert one_side(np.zeros((sets, 5)), resolution_mm=step).verdict == verdict

    def test_chance_at_the_bound_is_95_percent(self):
        """8 power-ups hide .495 steps: with A = .495 r the chance is 1 - .05."""
        allowed = 0.05 / 3.290526731
        candidate = one_side(np.zeros((8, 5)), resolution_mm=allowed / 0.4949)
        assert candidate.chance_holds == pytest.approx(0.95, abs=2e-3)
        assert candidate.chance_holds_wide == candidate.chance_holds
        (part,) = candidate.parts
        assert part.chance_holds_wide == part.chance_holds_heavy == candidate.chance_holds

    def test_on_both_sides_the_bound_says_how_tight_it_may_be(self):
        """The .495 steps that 8 power-ups hide, of .1 mm over z(1e-3) for each end: .163 of what is asked."""
        lines = [line for side in "LR" for line in rows(text(np.zeros((8, 5))), side=side)]
        machine = Machine(name="m", requirement=Requirement(position_mm=0.1), axes=(ROUTER,))
        (candidate,) = choose(machine, (Sensor(name="A"),), study_of(*lines, resolution_mm=0.01)).candidates
        assert candidate.tolerance_times == pytest.approx(0.4949 * 0.01 / (0.1 / 3.290527), rel=0.02)

    def test_one_side_of_two_is_enough_to_leave_the_tails_unknown(self):
        """Read apart, and one of them always at the same count: whichever it is."""
        still, moves = (
            found_in(text(homings), resolution_mm=0.01) for homings in (np.zeros((8, 5)), regular(0.03))
        )
        (part,) = one_side(regular(0.004)).parts
        for findings, opposite, alike in (
            (still, None, True),
            (still, moves, True),
            (moves, still, True),
            (moves, None, False),
            (moves, moves, False),
        ):
            assert _alike(replace(part, findings=findings, opposite=opposite)) == alike

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
    """Squareness on R minus L, position at each end on its own side; the shares outside are added up."""

    def test_parts_and_their_limits(self):
        """C = 0.05 x 980/600 = .081667, t = 0.1/sqrt(1 + 1/8) = .094281; z(5e-4) 3.4808, z(2.5e-4) 3.6623."""
        candidate = both_sides(regular(0.004), regular(0.004, seed=4))
        assert [part.name for part in candidate.parts] == ["squareness", "position L", "position R"]
        assert [part.risk for part in candidate.parts] == [5e-4, 2.5e-4, 2.5e-4]
        squareness, left, right = (part.spread_allowed_mm for part in candidate.parts)
        assert squareness == printed("0.023462")
        assert left == right == printed("0.025744")

    def test_all_parts_at_what_is_allowed_are_just_at_the_risk(self):
        """1 in 2000 and twice 1 in 4000 are 1 in 1000."""
        candidate = both_sides(regular(0.004), regular(0.004, seed=4))
        limits = (0.0816667, 0.094281, 0.094281)
        shares = [
            2 * stats.norm.sf(limit / part.spread_allowed_mm)
            for part, limit in zip(candidate.parts, limits, strict=True)
        ]
        assert sum(shares) == pytest.approx(1e-3, rel=1e-4)

    def test_sum_of_the_shares_by_drawing(self):
        """Regular scatter: 300 000 draws of the three spreads from what is believed of each."""
        candidate = both_sides(regular(0.0165), regular(0.015, seed=4))
        rng = np.random.default_rng(1)
        total = 0.0
        for part, limit in zip(candidate.parts, (0.0816667, 0.094281, 0.094281), strict=True):
            belief = part.findings.posterior
            spread = belief.quantiles(rng.random(300_000))
            total = total + 2 * stats.norm.sf(limit / spread)
        assert candidate.chance_holds == pytest.approx((total <= 1e-3).mean(), abs=0.004)
        assert 0.3 < candidate.chance_holds < 0.99

    def test_sides_exchanged_change_nothing(self):
        left, right = regular(0.014), regular(0.012, seed=4)
        one, other = both_sides(left, right), both_sides(right, left)
        for name in ("chance_holds", "chance_holds_heavy", "chance_holds_wide", "share_outside"):
            assert getattr(one, name) == pytest.approx(getattr(other, name), abs=1e-3)

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

    def test_chance_is_at_most_that_of_any_part(self):
        candidate = both_sides(regular(0.004), regular(0.019, seed=4))
        for name in ("chance_holds", "chance_holds_heavy", "chance_holds_wide"):
            parts = [getattr(part, name) for part in candidate.parts]
            assert getattr(candidate, name) <= min(parts) + 0.002

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

    def test_squareness_not_asked(self):
        candidate = both_sides(regular(0.004), regular(0.004, seed=4), Requirement(position_mm=0.1))
        assert [part.name for part in candidate.parts] == ["position L", "position R"]
        assert candidate.verdict == Verdict.HOLDS

    def test_one_homing_is_one_homing_on_both_sides(self):
        left, right = regular(0.004), regular(0.004, seed=4)
        left[2, 1] = right[2, 1] = right[4, 4] = 0.4
        candidate = both_sides(left, right)
        assert (candidate.misses.count, candidate.misses.n, candidate.misses.outside) == (2, 40, 2)

    def apart(self, left: np.ndarray, right: np.ndarray, asked: Requirement = SQUARE_AND_PLACE) -> Candidate:
        """Sides read at different homings."""
        lines = [*rows(text(left), side="L")]
        lines += [line.replace("A,Y,R,", "A,Y,R,1") for line in rows(text(right), side="R")]
        machine = Machine(name="m", requirement=asked, axes=(ROUTER,))
        return choose(machine, (Sensor(name="A"),), study_of(*lines, resolution_mm=0.00001)).candidates[0]

    def test_tried_apart_both_spreads_count(self):
        """Two spreads, independent; alike and known, it is the joint A."""
        candidate = self.apart(regular(0.004), regular(0.016, seed=4))
        (part,) = candidate.parts
        assert part.name == "squareness and position"
        assert {part.findings.side, part.opposite.side} == {"L", "R"}
        assert candidate.misses.n == 80
        assert 0.5 < candidate.chance_holds < 1
        assert "sides-apart" in [caution.code for caution in candidate.cautions]

    def test_tried_apart_is_never_enough_for_squareness(self):
        candidate = self.apart(regular(0.001), regular(0.001, seed=4))
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert candidate.parts[0].chance_holds == 1.0  # no sum of weights makes it more
        assert [lack.code for lack in candidate.lacks] == ["both-sides"]
        assert candidate.rests_on == "how far the sides part in one homing was not seen"
        assert "read left and right at the same homings" in candidate.to_settle.sentence

    def test_tried_apart_is_enough_for_position(self):
        candidate = self.apart(regular(0.001), regular(0.001, seed=4), Requirement(position_mm=0.1))
        assert [part.name for part in candidate.parts] == ["position L", "position R"]
        assert candidate.verdict == Verdict.HOLDS
        assert "sides-apart" not in [caution.code for caution in candidate.cautions]

    def test_read_together_nothing_is_taken_as_independent(self):
        told = [caution.code for caution in both_sides(regular(0.004), regular(0.004, seed=4)).cautions]
        assert not {"sides-apart", "one-side"} & set(told)


class TestOneSideOfTwo:
    """Only one side tried: both taken as alike and independent, judged by the joint A."""

    def test_joint_figure(self):
        candidate = one_side(regular(0.004), ROUTER, SQUARE_AND_PLACE)
        (part,) = candidate.parts
        assert part.name == "squareness and position"
        assert part.spread_allowed_mm == allowed_spread(ROUTER, SQUARE_AND_PLACE).spread_allowed_mm
        assert "one-side" in [caution.code for caution in candidate.cautions]
        assert "one-side" not in [caution.code for caution in one_side(regular(0.004)).cautions]

    def test_never_enough_for_squareness(self):
        candidate = one_side(regular(0.001), ROUTER, SQUARE_AND_PLACE)
        assert candidate.verdict == Verdict.TOO_CLOSE
        assert [lack.code for lack in candidate.lacks] == ["both-sides"]
        assert candidate.chance_holds > 0.95
        settle = candidate.to_settle  # homings of this side never do
        assert (settle.sentence, settle.power_ups) == (candidate.lacks[0].sentence, None)
        assert [reason == settle.sentence for reason in candidate.reasons].count(True) == 1


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

    def test_it_is_the_smaller_chance_that_has_to_rise(self):
        """Regular scatter would hold already, the tails do not: foreseen from the chance under those."""
        candidate = one_side(regular(0.0095))
        (part,) = candidate.parts
        asked = [
            more(part, chance=chance) for chance in (candidate.chance_holds_wide, candidate.chance_holds, None)
        ]
        assert candidate.chance_holds_wide < 0.95 <= candidate.chance_holds
        assert candidate.to_settle == asked[0]
        assert asked[0] not in asked[1:]

    def test_the_part_least_likely_to_hold_is_asked_first(self):
        """By the smaller of its two chances, none where one of them is not known; of those that hold, one."""
        (part,) = one_side(regular(0.010)).parts
        chances = {"A": (0.9, 0.2), "B": (0.5, 0.6), "C": (None, 0.9), "D": (0.9, None)}
        parts = [
            replace(part, name=name, chance_holds=chance, chance_holds_wide=wide, verdict=Verdict.TOO_CLOSE)
            for name, (chance, wide) in chances.items()
        ]
        assert [first.name for first in _closest_first(tuple(parts))] == ["C", "D", "A", "B"]
        held = [replace(one, verdict=Verdict.HOLDS) for one in parts]
        assert [first.name for first in _closest_first((*held[:2], parts[1]))] == ["B"]
        assert [first.name for first in _closest_first((held[1], held[0]))] == ["A"]
        assert _closest_first(()) == []

    def test_a_homing_outside(self):
        """Five of 40 at 5 in 100: by SciPy's binomial no longer against it from so many homings on."""
        found = rare_enough(Misses(count=5, n=40, high_95=0.25, outside=5), risk=0.05, confidence=0.95)
        needed = found.homings + 40
        enough = [stats.binom.sf(4, n, 0.05) for n in (needed - 1, needed)]
        assert enough[0] <= 0.05 < enough[1]
        assert found.sentence.startswith("Find what sent the homings outside, put it right")


class TestMeanShareAboveTheRisk:
    """Few power-ups leave a long tail: it can hold with 0.95 while the mean share outside is above the risk."""

    def test_is_explained(self):
        candidate = replace(one_side(regular(0.004)), share_outside=0.002)
        (told,) = (one for one in reasons(candidate, risk=1e-3) if one.startswith("The share outside"))
        assert "is a mean over every spread these homings allow" in told

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
    alone = one_side(np.empty(0), ROUTER, SQUARE_AND_PLACE, lines=rows(text(left), side="L"))
    (said,) = (reason for reason in alone.reasons if "stands apart" in reason)
    assert said.startswith("1 of 40 homings stands apart from the rest")  # of the only series there is
