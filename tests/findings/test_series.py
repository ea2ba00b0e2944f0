"""Protocols: what the display showed becomes positions (docs/methods.md, section 5)."""

from dataclasses import replace

import numpy as np
import pytest

from holdzero.compute.findings import find, study
from holdzero.compute.findings.series import Series
from holdzero.inputs.reading import Protocol, read_readings
from trials import csv_of, found_in, rows, study_of

TRUE = np.array([0.002, 0.005, 0.001, 0.004, 0.003, 0.006])


def shown(value: np.ndarray) -> list[str]:
    return [f"{v:.3f}" for v in value]


def test_outside_readings_stand_as_they_are():
    found = found_in([shown(TRUE)], resolution_mm=0.001)
    assert found.n == 6
    assert found.value_mm.tolist() == TRUE.tolist()


def test_first_counts_the_zeroing_homing():
    """If the zeroing reading is not in the file as an exact 0, a 0 is added, and n counts it."""
    relative = TRUE - TRUE[0]
    without, with_zero = (
        found_in([shown(r)], resolution_mm=0.001, protocol=Protocol.FIRST) for r in (relative[1:], relative)
    )
    assert without.n == with_zero.n == 6
    assert without.sd_mm == pytest.approx(with_zero.sd_mm)
    assert without.sd_mm == pytest.approx(TRUE.std(ddof=1))
    assert without.value_mm[0] == 0
    assert (without.homings.line[0], without.homings.homing[0], without.homings.deviation_mm[0]) == (0, 0, 0)


def test_previous_by_a_button_is_the_running_sum():
    found = found_in([shown(np.diff(TRUE))], resolution_mm=0.001, protocol=Protocol.PREVIOUS)
    assert found.n == 6
    assert found.value_mm == pytest.approx(TRUE - TRUE[0])
    assert found.sd_mm == pytest.approx(TRUE.std(ddof=1))


def test_previous_reset_takes_the_spread_from_the_differences():
    """With r = 0 chi-square on the running sum (docs/methods.md 5); the plain sd comes from the differences."""
    found = found_in([shown(np.diff(TRUE))], protocol=Protocol.PREVIOUS_RESET)
    as_sum = found_in([shown(np.diff(TRUE))], protocol=Protocol.PREVIOUS)
    assert found.spread.middle == pytest.approx(as_sum.spread.middle, rel=1e-3)
    assert found.sd_mm == pytest.approx(np.sqrt((np.diff(TRUE) ** 2).mean() / 2))


@pytest.mark.parametrize("protocol", [Protocol.FIRST, Protocol.PREVIOUS, Protocol.PREVIOUS_RESET])
def test_zeroed_each_set_never_sees_a_power_up(protocol: Protocol):
    """Each set starts from its own zero: 1 mm between power-ups leaves no trace, and must not pass for none."""
    rng = np.random.default_rng(20260101)
    homings = rng.normal(0, 0.004, (4, 6)) + np.array([[0.0], [1.0], [-1.0], [2.0]])
    sets = [np.diff(h) if protocol != Protocol.FIRST else (h - h[0])[1:] for h in homings]
    found = found_in([shown(one) for one in sets], resolution_mm=0.001, protocol=protocol)
    assert (found.n, found.sets, found.power_ups) == (24, 4, 1)
    assert found.between is None
    assert found.spread.middle == pytest.approx(0.004, rel=0.4)
    assert {"own-zeros", "within-only"} & {c.code for c in found.cautions}


def test_outside_sees_them():
    homings = np.array([[0.0, 0.001, 0.002], [1.0, 1.001, 1.0], [-1.0, -1.001, -1.0]])
    found = found_in([shown(one) for one in homings], resolution_mm=0.001)
    assert found.power_ups == 3
    assert found.spread.middle > 0.5


def test_repeats_are_kept_and_do_not_count():
    text = "deviation_mm,set,homing,repeat\n0.001,1,1,\n0.002,1,1,yes\n0.003,1,2,\n0.002,1,3,\n"
    (found,) = study(read_readings(text, resolution_mm=0.001)).findings
    assert found.n == 3
    assert np.isnan(found.value_mm).tolist() == [False, True, False, False]
    assert "repeats-kept" in [c.code for c in found.cautions]


class TestDifferencesTakenForDeviations:
    """docs/methods.md 5: differences from the homing before, said to be deviations from one zero."""

    def test_is_seen_and_caps_the_verdict(self):
        homings = np.random.default_rng(20260101).normal(0, 0.01, 60)
        found = found_in([shown(np.diff(homings))], resolution_mm=0.001)
        (seen,) = [s for s in found.signatures if s.code == "wrong-protocol"]
        assert seen.lowers == "caps"
        assert "look like differences" in seen.sentence

    def test_declared_as_what_they_are_nothing_is_said(self):
        homings = np.random.default_rng(20260101).normal(0, 0.01, 60)
        found = found_in([shown(np.diff(homings))], resolution_mm=0.001, protocol=Protocol.PREVIOUS)
        assert "wrong-protocol" not in [s.code for s in found.signatures]


class TestPairs:
    """Both sides at the same homings: one more series, R minus L."""

    LEFT = ((1, 2, 3), (4, 5))
    RIGHT = ((2, 5, 4), (4, 8, 9))

    def pairs(self, left=LEFT, right=RIGHT):
        lines = [*rows(left, side="L"), *rows(right, side="R")]
        return study_of(*lines).of("A", "Y", "difference")

    def test_are_made_by_set_and_homing(self):
        found = self.pairs()
        assert found.value_mm.tolist() == [1, 3, 1, 0, 3]
        assert (found.n, found.sets) == (5, 2)

    def test_order_in_the_file_does_not_matter(self):
        lines = [*rows(self.RIGHT, side="R"), *rows(self.LEFT, side="L")]
        shuffled = study_of(*reversed(lines)).of("A", "Y", "difference")
        assert sorted(shuffled.value_mm) == sorted(self.pairs().value_mm)

    def test_follow_the_second_side(self):
        result = study_of(*rows(self.LEFT, side="L"), *rows(self.RIGHT, side="R"), *rows([(1, 2)], sensor="B"))
        assert [(f.sensor, f.side) for f in result.findings] == [
            ("A", "L"),
            ("A", "R"),
            ("A", "difference"),
            ("B", ""),
        ]

    def test_different_homings_give_none(self):
        lines = [f"A,Y,L,1,{i},{i}" for i in (1, 2, 3)] + [f"A,Y,R,2,{i},{i}" for i in (1, 2, 3)]
        assert study_of(*lines).of("A", "Y", "difference") is None

    def test_a_pair_is_set_aside_when_either_reading_was(self):
        head = "sensor,axis,side,set,homing,deviation_mm,set_aside"
        lines = [
            "A,Y,L,1,1,1,",
            "A,Y,L,1,2,9,bumped",
            "A,Y,L,1,3,2,",
            "A,Y,R,1,1,1,",
            "A,Y,R,1,2,1,slip",
            "A,Y,R,1,3,4,",
        ]
        result = study(read_readings("\n".join([head, *lines, ""])))
        found = result.of("A", "Y", "difference")
        assert found.counted.tolist() == [True, False, True]
        # A slip on either side spoils the pair, so the other side's own reading tells of the bump.
        assert found.misses.n == 2
        assert result.of("A", "Y", "L").misses.n == 3

    def test_what_both_sides_share_drops_out(self):
        rng = np.random.default_rng(20260101)
        shared = np.cumsum(rng.normal(0, 0.1, (8, 5)))
        own = rng.normal(0, 0.003, (2, 40))
        sets = [[f"{v:.4f}" for v in one] for one in np.split(shared + own[0], 8)]
        other = [[f"{v:.4f}" for v in one] for one in np.split(shared + own[1], 8)]
        result = study_of(*rows(sets, side="L"), *rows(other, side="R"))
        assert result.of("A", "Y", "L").spread.middle > 0.1
        assert result.of("A", "Y", "difference").spread.middle == pytest.approx(0.003 * 2**0.5, rel=0.35)


def test_a_whole_file_of_other_columns_is_kept():
    text = csv_of(*rows([(1, 2, 3)])).replace("deviation_mm\n", "deviation_mm,operator\n")
    lines = text.splitlines()
    text = "\n".join([lines[0], *(f"{line},me" for line in lines[1:]), ""])
    result = study(read_readings(text))
    assert any("operator" in note for note in result.notes)


def test_previous_reset_says_whose_mean_it_shows():
    """The sum of differences rounded one by one walks: mean and span are of the walk, the spread is not."""
    rounded = found_in([shown(np.diff(TRUE))], resolution_mm=0.001, protocol=Protocol.PREVIOUS_RESET)
    fine = found_in([shown(np.diff(TRUE))], resolution_mm=0, protocol=Protocol.PREVIOUS_RESET)
    assert "sum-walks" in {c.code for c in rounded.cautions}
    assert "sum-walks" not in {c.code for c in fine.cautions}


class TestLevels:
    """What happens between two power-ups moves home: the later ones are brought back to the first level."""

    SETS = ([0.001, 0.002], [0.003, 0.002], [0.101, 0.103], [0.104, 0.102, 0.101], [-0.200, -0.202])
    EVENTS = ("", "", "flag touched", "", "crash")

    def homings(self, *, set_aside=(), resolution_mm=None):
        lines = rows([[f"{value:.3f}" for value in one] for one in self.SETS])
        group = read_readings(csv_of(*lines), resolution_mm=resolution_mm).groups[0]
        event = np.array([self.EVENTS[int(label) - 1] for label in group.set_label.tolist()])
        first = np.array([True, *(group.set_label[1:] != group.set_label[:-1])])
        reasons = np.array(["slip" if row in set_aside else "" for row in range(event.size)])
        return replace(group, event=np.where(first, event, ""), set_aside=reasons)

    def test_by_the_means_of_the_power_ups(self):
        """Means 1.5 and 2.5 um; 102 and 102.33 um; -201 um: middles 2, 102.1667 and -201 um."""
        series = Series.read(self.homings())
        assert series.level.tolist() == [0] * 4 + [1] * 5 + [2] * 2
        away = np.repeat([0, 0.1021666667 - 0.002, -0.201 - 0.002], [4, 5, 2])
        assert series.value_mm == pytest.approx(np.concatenate(self.SETS) - away, abs=1e-9)
        assert series.levels_by_set(series.counted) == [0, 0, 1, 1, 2]
        assert find(self.homings()).levels == 3
        assert find(self.homings()).power_ups == 3  # two of five say where the new levels lie

    def test_by_whole_steps_of_the_display(self):
        away = np.repeat([0, 0.1, -0.203], [4, 5, 2])
        told = Series.read(self.homings(resolution_mm=0.001)).value_mm
        assert told == pytest.approx(np.concatenate(self.SETS) - away, abs=1e-12)

    def test_what_is_set_aside_moves_no_level_and_is_moved_with_its_own(self):
        """Without 104 um the second level's means are 102 and 101.5 um: 101.75."""
        told = Series.read(self.homings(set_aside=(6,))).value_mm
        away = np.repeat([0, 0.10175 - 0.002, -0.201 - 0.002], [4, 5, 2])
        assert told == pytest.approx(np.concatenate(self.SETS) - away, abs=1e-9)


def test_readings_as_shown_are_cut_where_one_is_missing():
    """Of 1 to 6 the third and of 7 to 9 the first do not count; the 0 of a display zeroed first is none."""
    lines = rows([[f"0.00{k}" for k in range(1, 7)], ["0.007", "0.008", "0.009"]])
    series = Series.read(read_readings(csv_of(*lines)).groups[0])
    kept = ~np.isin(series.homings.deviation_mm, [0.003, 0.007])
    assert [piece.tolist() for piece in series.as_read(kept)] == [
        [0.001, 0.002], [0.004, 0.005, 0.006], [0.008, 0.009],
    ]  # fmt: skip
    zeroed = Series.read(read_readings(csv_of(*lines), protocol=Protocol.FIRST).groups[0])
    kept = zeroed.homing & ~np.isin(zeroed.homings.deviation_mm, [0.003, 0.007])
    assert [piece.tolist() for piece in zeroed.as_read(kept)] == [
        [0.001, 0.002], [0.004, 0.005, 0.006], [0.008, 0.009],
    ]  # fmt: skip


@pytest.mark.parametrize(("sets", "within"), [([[0.01] * 2] * 3, 0.0), ([[0.01]] * 3, None)])
def test_all_alike_on_an_unknown_display_scatter_by_nothing_where_a_set_has_two(sets, within):
    found = found_in(sets)
    assert (found.within_sd_mm, found.sd_mm, found.all_alike) == (within, 0.0, True)
    assert found.posterior is None
