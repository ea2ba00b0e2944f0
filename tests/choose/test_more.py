"""How many more power-ups settle a close call (docs/methods.md, section 9)."""

from math import sqrt

import numpy as np
import pytest

from holdzero.compute.choose.more import ASKED, more
from holdzero.compute.choose.parts import chance_small_enough
from holdzero.compute.choose.values import DOES_NOT_HOLD, Lack, Part
from holdzero.compute.findings import Findings
from trials import found_in


def part_of(found: Findings, allowed: float) -> Part:
    return Part(
        name="position",
        findings=found,
        spread_allowed_mm=allowed,
        chance_holds=chance_small_enough(found, allowed),
        chance_holds_heavy=None,
        share_outside=None,
    )


def trial(rng: np.random.Generator, sets: int, per_set: int, between: float = 0.5) -> np.ndarray:
    return between * rng.standard_normal((sets, 1)) + rng.standard_normal((sets, per_set))


def findings(homings: np.ndarray) -> Findings:
    return found_in([[f"{v:.6f}" for v in one] for one in homings])


@pytest.fixture(scope="module")
def found() -> Findings:
    return findings(trial(np.random.default_rng(20260101), 5, 6))


def test_roomier_limit_needs_fewer(found: Findings):
    needed = [more(part_of(found, k * found.spread.middle)).power_ups or 99 for k in (1.15, 1.3, 1.5)]
    assert needed == sorted(needed, reverse=True)
    assert needed[-1] < needed[0]


def test_at_the_limit_nothing_settles_it(found: Findings):
    foreseen = more(part_of(found, found.spread.middle))
    assert foreseen.power_ups is None
    assert "stands at the limit" in foreseen.sentence
    assert foreseen.chance < ASKED


def test_more_likely_settled_than_not_stands_at_no_limit(found: Findings):
    """Between half and the 85 of 100 asked for the chance is said, and nothing of a limit."""
    likely = 0
    for times in (1.0, 1.1, 1.15, 1.2, 1.25, 1.3):
        foreseen = more(part_of(found, times * found.spread.middle))
        if foreseen.power_ups is not None:
            continue
        sure = "would settle it with a chance of" in foreseen.sentence
        assert sure == (foreseen.chance >= 0.5)
        assert sure != ("stands at the limit" in foreseen.sentence)
        assert not sure or f"{100 * foreseen.chance:.0f}\u202f%" in foreseen.sentence
        likely += sure
    assert likely


def test_one_fewer_would_not_do(found: Findings):
    """The number named is the smallest found that reaches 0.85."""
    foreseen = more(part_of(found, 1.4 * found.spread.middle))
    assert foreseen.chance >= ASKED
    assert foreseen.sentence.startswith(f"{foreseen.power_ups} more power-up")
    assert foreseen.homings_each == 6


def test_several_open_parts_have_to_be_settled_by_the_same_homings(found: Findings):
    """Two parts alike, and enough power-ups for both: the chance of one, squared."""
    part = part_of(found, 1.6 * found.spread.middle)
    one, two = more(part), more(part, rest_of_them=[part])
    assert two.power_ups == one.power_ups
    assert two.chance == pytest.approx(one.chance**2)


def test_a_smaller_chance_under_heavier_tails_needs_more(found: Findings):
    part = part_of(found, 1.9 * found.spread.middle)
    assert (more(part, chance=0.7).power_ups or 99) > (more(part).power_ups or 99)


def test_what_is_missing_is_the_least(found: Findings):
    """Five power-ups and a figure that holds: nothing to settle but what is missing."""
    part = part_of(found, 4 * found.spread.middle)
    lack = Lack(code="homings", side="", sentence="42 more.", counted=30, need=72)
    assert more(part, lacks=[lack]).power_ups == 7  # of six homings each
    far = Lack(code="homings", side="", sentence="Two hundred more.", counted=30, need=230)
    foreseen = more(part, lacks=[far])
    assert (foreseen.power_ups, foreseen.sentence) == (34, "Two hundred more.")


def test_a_tighter_sensor_is_not_advised_where_power_ups_set_the_figure():
    found = findings(trial(np.random.default_rng(2), 5, 6, between=8.0))
    said = more(part_of(found, found.spread.middle)).sentence
    assert "find what moves when it is switched on" in said
    assert "tighter sensor" not in said


def test_same_answer_every_time(found: Findings):
    part = part_of(found, 1.3 * found.spread.middle)
    assert more(part) == more(part)


def test_one_power_up_asks_for_four_more_of_five():
    foreseen = more(part_of(findings(trial(np.random.default_rng(1), 1, 20)), 2.0))
    assert (foreseen.power_ups, foreseen.homings_each) == (4, 5)


def test_all_alike_needs_as_many_as_hide_the_spread_allowed():
    """docs/methods.md 2: 3 power-ups hide 1.324 steps, 4 .822, 5 .666. With 1.0 allowed: one more than 3."""
    found = found_in([["0.00"] * 3] * 3, resolution_mm=0.01)
    assert more(part_of(found, 0.0100)).power_ups == 1
    assert more(part_of(found, 0.0070)).power_ups == 2


def test_one_reading_a_power_up():
    found = findings(np.random.default_rng(3).standard_normal((12, 1)))
    foreseen = more(part_of(found, 1.8 * found.sd_mm))
    assert foreseen.homings_each == 1
    assert foreseen.power_ups is not None


@pytest.mark.checks
@pytest.mark.parametrize(("sets", "per_set", "between"), [(3, 12, 0.5), (5, 6, 1.0), (8, 4, 0.5)])
def test_foresight_against_trials_that_go_on(sets: int, per_set: int, between: float):
    """docs/methods.md 4: what is foreseen lies 0 to 15 points above what the whole posterior then settles."""
    rng = np.random.default_rng(20260101)
    foreseen, settled = [], []
    while len(foreseen) < 60:
        homings = trial(rng, sets, per_set, between)
        found = findings(homings)
        allowed = sqrt(1 + between**2) * rng.uniform(1.1, 1.8)
        if not DOES_NOT_HOLD < chance_small_enough(found, allowed) < 0.95:
            continue
        answer = more(part_of(found, allowed))
        if answer.power_ups is None:
            continue
        foreseen.append(answer.chance)
        for _ in range(4):
            b = min(found.spread.middle**2 - found.within.middle**2, 4.0)
            further = (
                trial(rng, answer.power_ups, per_set, sqrt(max(b, 0)) / found.within.middle) * found.within.middle
            )
            chance = chance_small_enough(findings(np.concatenate([homings, further + homings.mean()])), allowed)
            settled.append(chance >= 0.95 or chance <= DOES_NOT_HOLD)
    assert -0.05 <= np.mean(foreseen) - np.mean(settled) <= 0.2
