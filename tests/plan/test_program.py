"""Motion program: NISTIR 6556 words only, never outside the stated travel."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import rs274
from holdzero.compute.plan import StatedTravel, away_and_back
from holdzero.compute.plan.cycles import motion_set
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis
from holdzero.tell.motion_program import motion_program, notes_for
from holdzero.tell.safety import NOT_A_SAFETY_FUNCTION

Y, Z = StatedTravel(axis="Y", low_mm=0, high_mm=1290), StatedTravel(axis="Z", low_mm=-80, high_mm=0)


def said(program: str) -> str:
    return " ".join(rs274.run(program).messages)


@settings(max_examples=150, deadline=None)
@given(
    low=st.floats(-3000, 3000),
    size=st.floats(0.5, 3000),
    home=st.floats(0, 1),
    near=st.floats(0.001, 1),
    far=st.floats(0.001, 1),
    homings=st.integers(1, 60),
    seed=st.integers(0, 2**32),
    height=st.floats(0, 1),
    system=st.sampled_from(["metric", "inch"]),
)
def test_a_program_never_leaves_the_travel(low, size, home, near, far, homings, seed, height, system):
    """Whatever was asked: either nothing is written, or every move lies inside, in both units."""
    reach = StatedTravel(axis="X", low_mm=low, high_mm=low + size)
    z = StatedTravel(axis="Z", low_mm=-size, high_mm=0.0)
    try:
        cycles = away_and_back(
            reach=reach,
            home_mm=low + home * size,
            homings=homings,
            nearest_mm=near * size,
            farthest_mm=far * size,
            height_mm=-height * size,
            height_reach=z,
            seed=seed,
        )
    except InputError:
        return
    done = rs274.run(motion_program(cycles, system=system))
    assert len(done.places_mm["X"]) == homings
    assert all(reach.low_mm - 1e-9 <= place <= reach.high_mm + 1e-9 for place in done.places_mm["X"])
    assert all(z.low_mm - 1e-9 <= place <= 1e-9 for place in done.places_mm["Z"])


class TestOneSet:
    """Five homings of Y over its first 200 mm."""

    CYCLES = away_and_back(reach=Y, homings=5, seed=3, height_mm=-5, height_reach=Z)

    def test_a_pause_to_home_and_a_pause_to_read_each_time(self):
        done = rs274.run(motion_program(self.CYCLES))
        assert done.pauses == 1 + 2 * 5
        assert done.places_mm["Z"] == [-5.0] * 5

    def test_starts_differ_and_fill_the_way(self):
        """One in each fifth of the way from 20 mm to 200 mm: 36 mm each."""
        assert sorted(int((start - 20) / 36) for start in self.CYCLES.starts_mm) == [0, 1, 2, 3, 4]

    def test_the_seed_is_kept_and_every_set_has_its_own(self):
        again = away_and_back(reach=Y, homings=5, seed=3, height_mm=-5, height_reach=Z)
        other = away_and_back(reach=Y, homings=5, seed=3, set_number=2, height_mm=-5, height_reach=Z)
        assert again == self.CYCLES
        assert other.starts_mm != self.CYCLES.starts_mm
        assert "seed 3" in motion_program(self.CYCLES)

    def test_the_caution_stands_before_the_first_move(self):
        """The cautions in full, before anything moves."""
        program = motion_program(self.CYCLES, notes=notes_for(Axis.of("Y", motors=2, thrust_n=600)))
        head = program.partition("G53")[0]
        words = " ".join(rs274.run(program).messages)
        assert "M0" in head
        assert NOT_A_SAFETY_FUNCTION in words
        for part in ("Moves by itself", "First run in the air at 10 per cent speed", "no tool", "up to 600 N"):
            assert part in words

    def test_a_vertical_axis_may_fall(self):
        cycles = away_and_back(reach=Z, home_mm=0, homings=2, nearest_mm=5, farthest_mm=60, seed=1)
        program = motion_program(cycles, notes=notes_for(Axis.of("Z", gravity="away from home")))
        assert "it may fall" in said(program)
        assert all(-60 <= place <= -5 for place in rs274.run(program).places_mm["Z"])  # out is downwards from 0


@pytest.mark.parametrize(
    ("asked", "what"),
    [
        ({"farthest_mm": 1291.0}, "the farthest start at 1291 mm"),
        ({"home_mm": -1.0}, "home at -1 mm"),
        ({"height_mm": 1.0, "height_reach": Z}, "the dry-run height at 1 mm"),
        ({"nearest_mm": 100.0, "farthest_mm": 90.0}, "from 100 mm to 90 mm"),
        ({"feed_mm_s": float("nan")}, "speed of the way out nan"),
        ({"height_mm": -5.0}, "needed is the travel of Z"),
        ({"reach": StatedTravel(axis="A", low_mm=0, high_mm=360)}, "found A"),
    ],
)
def test_what_does_not_fit_is_refused_by_name(asked, what):
    with pytest.raises(InputError, match=what):
        away_and_back(**({"reach": Y, "homings": 5, "seed": 1} | asked))


def test_lengths_as_people_write_them():
    cycles = motion_set(
        axis="Y", homings=2, set_number=1, seed=1, stated={"reach": "0 in to 10 in", "nearest": "1 in"}
    )
    assert (cycles.reach.high_mm, min(cycles.starts_mm) >= 25.4) == (254.0, True)
