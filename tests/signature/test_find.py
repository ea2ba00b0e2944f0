"""Signatures together: one event, one name; nothing of nothing; and in no time."""

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdzero.compute.signature import signatures

STEPS = {"microstep": 0.003125, "full step": 0.05, "electrical cycle": 0.2, "index pitch": 10.0}
LABEL = np.repeat(["1", "2", "3"], 12)


def found(values, label=LABEL, *, resolution=0.001, **more):
    return [one.code for one in signatures(values, label, resolution=resolution, steps=STEPS, **more)]


def scatter(seed, n=36, spread=0.005):
    return spread * np.random.default_rng(seed).standard_normal(n)


class TestOneEventOneName:
    """What follows from a named event is not named again."""

    def test_a_switched_unit_stands_alone(self):
        values = scatter(1) + 0.02
        values[20:] *= 25.4
        assert found(values, resolution=0) == ["unit-switched"]

    def test_full_steps(self):
        """They land in several places, scatter unevenly and rest in one for a while: only the lattice is named."""
        steps = np.array([0, 0, 0, 1, 0, 0, -1, 0, 0, 1, 1, 0, 0, -1, 0, 0, 0, 1, 0, 0, -1, 0, 1, 0] + [0] * 12)
        codes = found(0.05 * steps + scatter(2, spread=0.0015))
        assert "lattice-full-step" in codes
        assert not {"unit-switched", "two-places", "uneven-sets"} & set(codes)

    def test_late_homings_do_not_grow_with_speed(self):
        speeds = np.random.default_rng(5).permutation(np.tile([1.0, 2, 4, 8], 9))
        values = scatter(3)
        late = [np.flatnonzero(speeds == one)[k] for one, k in ((2.0, 0), (4.0, 0), (4.0, 3), (8.0, 1), (8.0, 4))]
        values[late] += 0.02 * speeds[late]
        codes = found(values, speeds=speeds)
        assert "late" in codes
        assert not {"grows-with-speed", "two-places"} & set(codes)

    def test_delay_is_taken_out_before_the_shape_is_judged(self):
        """10 ms at 1 and 8 mm/s: two places 0.07 mm apart, but for the delay."""
        speeds = np.random.default_rng(6).permutation(np.tile([1.0, 8.0], 18))
        codes = found(scatter(4) + 0.01 * speeds, speeds=speeds)
        assert "delay" in codes
        assert not {"two-places", "shape", "grows-with-speed"} & set(codes)

    def test_homings_alike_within_each_power_up_follow_nothing(self):
        """0.00, 0.01, 0.00 mm in three power-ups at four speeds and at changing temperatures: no delay of 0 s."""
        values, label = np.repeat([0.0, 0.01, 0.0], 4), np.repeat([1, 2, 3], 4)
        warmer = 20 + np.array([0.0, 1, 0, 1, 1, 1, 0, 1, 0, 0, 1, 0])
        codes = found(values, label, resolution=0.01, speeds=np.tile([1.0, 2, 4, 8], 3), temperatures=warmer)
        assert codes == ["coarse"]

    def test_power_ups_of_one_mean_follow_no_temperature(self):
        values, label = np.tile([0.0, 0.01, 0.01, 0.0], 4), np.repeat([1, 2, 3, 4], 4)
        assert found(values, label, resolution=0.01, temperatures=np.repeat([20.0, 21, 19, 25], 4)) == ["coarse"]

    @pytest.mark.parametrize("noise", [0.0, 0.0005, 0.0015])
    def test_homings_that_take_turns(self, noise):
        """They land in two places and no bell curve fits: one event, and it caps the verdict as two places do."""
        values = 0.01 * (np.arange(36) % 2) + scatter(11, spread=noise)
        (turns,) = signatures(values, LABEL, resolution=0.0001, steps={})
        assert (turns.code, turns.lowers) == ("alternation", "caps")
        assert "two-places" in {one.code for one in turns.explains}
        assert turns.sentence.endswith("It shows as two places and a scatter that is no bell curve.")

    def test_turns_with_a_drift_of_their_own(self):
        """What the turns do not explain keeps its name."""
        values = 0.01 * (np.arange(36) % 2) + scatter(12, spread=0.001) + 0.02 * (np.arange(36) % 12) / 12
        assert {"alternation", "not-steady"} <= set(found(values, resolution=0.0001))

    def test_jitter(self):
        speeds = np.random.default_rng(7).permutation(np.tile([1.0, 2, 4, 8], 9))
        assert "grows-with-speed" in found(scatter(8) * np.sqrt(1 + speeds**2), speeds=speeds)

    def test_temperature(self):
        warmth = 20 + np.random.default_rng(8).random(36)
        assert "follows-temperature" in found(scatter(9, spread=0.002) + 0.02 * warmth, temperatures=warmth)

    def test_what_caps_the_verdict_comes_first(self):
        values = scatter(10) + 0.06 * (np.arange(36) >= 18)
        values[4] += 0.2
        ranks = [("caps", "").index(one.lowers) for one in signatures(values, LABEL, resolution=0)]
        assert ranks == sorted(ranks)
        assert ranks[0] == 0


def test_every_signature_says_what_to_do():
    values = 0.05 * np.random.default_rng(3).integers(-2, 3, 36) + 0.1 * (np.arange(36) >= 24)
    for one in signatures(values, LABEL, resolution=0.001, steps=STEPS):
        assert one.causes
        assert one.check.endswith(".")
        assert one.sentence.endswith(".")
        assert 0 <= one.false_alarm_rate <= 0.05
        assert one.lowers in {"", "caps"}


def test_seldom_for_no_reason():
    """No pattern at all: each signature at its own rate, to four standard errors of 80 candidates."""
    rng = np.random.default_rng(12)
    codes: list[str] = []
    for _ in range(80):
        values = 0.005 * (rng.standard_normal(3)[np.repeat(np.arange(3), 12)] + rng.standard_normal(36))
        speeds = rng.permutation(np.tile([1.0, 2, 4, 8], 9))
        codes += found(np.rint(values / 0.002) * 0.002, resolution=0.002, speeds=speeds)
    counts = {code: codes.count(code) for code in set(codes)}
    for code, count in counts.items():
        at = 0.05 if code in {"shape", "outlying", "warm"} else 0.01
        assert count <= 80 * at + 4 * np.sqrt(80 * at), code


@settings(max_examples=15, deadline=None)
@given(st.lists(st.integers(-30, 30), min_size=1, max_size=24), st.integers(1, 8), st.integers(-500, 500))
def test_neither_unit_nor_names_matter(counts, per_set, shift):
    """A power of two, so that no reading falls off its display step; shifted, but for the switch of units."""
    values, label = np.array(counts) * 0.001, np.arange(len(counts)) // per_set
    plain = signatures(values, label, resolution=0.001)
    renamed = np.array([f"day {one}" for one in label])
    scaled = signatures(1024 * values, renamed, resolution=1.024)
    assert [one.code for one in scaled] == [one.code for one in plain]
    assert [one.statistic for one in scaled] == pytest.approx([one.statistic for one in plain])
    moved = signatures(values + 0.001 * shift, label, resolution=0.001)
    if not {"unit-switched"} & {one.code for one in (*plain, *moved)}:
        assert [one.code for one in moved] == [one.code for one in plain]


def test_same_answer_twice():
    speeds = np.tile([1.0, 2, 4, 8], 9)
    values = scatter(11) * speeds
    assert signatures(values, LABEL, resolution=0.001, steps=STEPS, speeds=speeds) == signatures(
        values, LABEL, resolution=0.001, steps=STEPS, speeds=speeds
    )


@pytest.mark.parametrize("values", [[0.2], [0.2, 0.2], [0.1, 0.2, 0.3], [0.5] * 36])
def test_few_or_alike(values):
    label = np.zeros(len(values))
    codes = [one.code for one in signatures(np.array(values), label, resolution=0.001, steps=STEPS)]
    assert set(codes) <= {"coarse"}


def test_in_no_time():
    """36 homings, everything logged: under 50 ms once warm, measured in processor time."""
    speeds, warmth = np.tile([1.0, 2, 4, 8], 9), 20 + np.random.default_rng(1).random(36)
    took = []
    for seed in range(6):
        start = time.process_time()
        found(scatter(seed), speeds=speeds, temperatures=warmth)
        took.append(time.process_time() - start)
    assert min(took[1:]) < 0.05
