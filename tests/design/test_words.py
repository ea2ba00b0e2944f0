"""What an assessment means, in sentences: never more than was counted."""

from dataclasses import replace
from math import inf
from types import SimpleNamespace

import pytest

from holdzero.compute.budget import TrialSpread
from holdzero.compute.design import assess, words
from holdzero.compute.index import Wander, index_place
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.presets import preset
from holdzero.quantity import plain, show_share

GANTRY, MILL = (read_machine(preset(name)) for name in ("two-motor-gantry", "small-mill"))
TRIAL = TrialSpread(sensor="B", own_mm=0.003, own_dof=30, homings=40, power_ups=8, speed_mm_s=2)


def assessed(machine, axis, *, trial=None, system="metric", **change):
    return assess(machine, machine.axis(axis).changed(**change), trial=trial, system=system)


class TestHeld:
    """What is asked is held against the homings drawn."""

    def test_within(self):
        said = words.held(assessed(GANTRY, "Y"))
        assert said.startswith("Under 1 in ")
        assert "within the 1 in 1000 allowed. Each side scatters by" in said

    @pytest.mark.parametrize(("from_drawn", "said"), [(0.999, "a little more than"), (1.001, "just within")])
    def test_two_shares_told_by_one_figure_are_not_told_as_different(self, from_drawn, said):
        """So near to what is allowed that both read alike: "1.3 %, more than the 1.3 %" says nothing."""
        machine = read_machine(preset("belt-axis"))
        narrow = replace(machine, requirement=replace(machine.requirement, position_mm=0.105))
        share = assessed(narrow, "X").simulation.outside.value
        near = replace(narrow, requirement=replace(narrow.requirement, risk=from_drawn * share))
        told = words.held(assessed(near, "X"))
        assert f"land outside what is asked, {said} the {show_share(share)} allowed." in told

    def test_without_the_switch_nothing_is_claimed(self):
        assert words.held(assessed(GANTRY, "Y", switch_spread_mm=None)) == (
            "Of the switch itself nothing is known yet: give its spread, or try it out."
        )

    def test_bounded_parts_are_only_too_much_to_first_order(self):
        """Grey cast iron grows by at most 10.2 um, 150 mm in 6.5 K: never the 19.1 um allowed."""
        said = words.held(assessed(MILL, "X"))
        assert "within the 1 in 1000 allowed" in said
        assert "To first order, which takes them as normal, room and supply alone use up" in said

    def test_a_wrong_index_comes_first(self):
        found = assessed(MILL, "X", index_phase=0.01)
        assert words.held(found).startswith("The wrong index is taken in ")
        assert not any("Halve" in said for said in words.backwards(found))


class TestBackwards:
    """Fastest creep, shortest homing, what to halve."""

    def test_all_three(self):
        said = " ".join(words.backwards(assessed(GANTRY, "Y")))
        for part in ("Halve growth first", "a bound, not a speed to aim at", "the shortest homing that holds"):
            assert part in said

    def test_a_trial_cannot_tell_how_fast_to_creep_and_says_so(self):
        assert words.FROM_A_TRIAL in words.backwards(assessed(GANTRY, "Y", trial=TRIAL))


@pytest.mark.parametrize(("dof", "said"), [(11, "90.0\u202fµm, but few homings tell so."), (inf, "90.0\u202fµm.")])
def test_a_scatter_that_is_small_enough_only_if_it_is_what_few_homings_showed(dof, said):
    """0.69 mm of room allow 145 µm; 90 µm of 12 homings may be that much, by Student's t."""
    scatter = Wander(distribution="normal", size_mm=0.09, dof=dof)
    place = index_place(phase=0.2, pitch_mm=4, spread_mm=0, shift_mm=0.113, wanders=[scatter])
    found = assessed(MILL, "X")
    beside = SimpleNamespace(axis=found.axis, budget=SimpleNamespace(index=place))
    _, picks, *_ = words.of_index(beside)
    assert picks.endswith(f"it may scatter by 0.145\u202fmm: it scatters by {said}")


def test_inches():
    """0.02 of a pitch of 5 mm lies 2.4 mm before half a pitch; 39.37 thou to the mm."""
    found = assessed(MILL, "X", system="inch", index_phase=0.02)
    assert "94.5 thou nearer to the hard stop" in plain(" ".join(words.of_index(found, system="inch")))  # 2.4 mm
    texts = [caution.text for caution in found.cautions]
    assert any("by exactly 0.1969 in" in plain(text) for text in texts)
    assert not [text for text in texts if " mm" in plain(text) or " um" in plain(text)]
