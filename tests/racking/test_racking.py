"""Racking: closed forms against the springs solved as they stand."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdzero.compute.racking import racking
from printed import printed


def springs(u_left, u_right, *, w=980.0, k_left=2000.0, k_right=2000.0, guides=2e8, natural=0.0):
    """Second route: equilibrium of a beam on two springs, held by a rotary one; centre and angle unknown.

    Returns the ends and the forces of the drives on them, for drives commanded to u_left and u_right.
    """
    matrix = np.array(
        [
            [k_left + k_right, (k_right - k_left) * w / 2],
            [(k_right - k_left) * w / 2, (k_left + k_right) * w**2 / 4 + guides],
        ]
    )
    load = np.array(
        [k_left * u_left + k_right * u_right, (k_right * u_right - k_left * u_left) * w / 2 + guides * natural]
    )
    centre, angle = np.linalg.solve(matrix, load)
    left, right = centre - angle * w / 2, centre + angle * w / 2
    return left, right, angle, k_right * (u_right - right)


class TestOffset:
    """Offset commanded between the sides."""

    @pytest.mark.parametrize(
        ("offset", "k_left", "k_right", "guides", "share", "angle", "force"),
        [
            (0.2, 2000, 2000, 2e8, "0.8276", "0.1689", "34.47"),
            (0.2, 40, 40, 2e8, "0.0876", None, "3.65"),
            (0.2, 2000, 1000, 2e9, "0.2425", None, "101.0"),
            (0.5, 2000, 2000, 2e9, "0.3244", None, "337.8"),
        ],
    )
    def test_worked(self, offset, k_left, k_right, guides, share, angle, force):
        gantry = racking(drive_distance_mm=980, left_n_mm=k_left, right_n_mm=k_right, guides_n_mm_rad=guides)
        assert gantry.share == printed(share)
        if angle:
            assert gantry.angle_rad(offset) * 1e3 == printed(angle)
        assert gantry.force_n(offset) == printed(force)

    @given(
        offset=st.floats(-2, 2),
        k_left=st.floats(10, 1e4),
        k_right=st.floats(10, 1e4),
        guides=st.floats(1e6, 1e10),
        natural=st.floats(-1e-3, 1e-3),
    )
    def test_equal_to_the_springs(self, offset, k_left, k_right, guides, natural):
        gantry = racking(
            drive_distance_mm=980,
            left_n_mm=k_left,
            right_n_mm=k_right,
            guides_n_mm_rad=guides,
            natural_rad=natural,
        )
        solved = springs(-offset / 2, offset / 2, k_left=k_left, k_right=k_right, guides=guides, natural=natural)
        assert gantry.angle_rad(offset) == pytest.approx(solved[2], rel=1e-6, abs=1e-12)
        assert gantry.force_n(offset) == pytest.approx(solved[3], rel=1e-6, abs=1e-6)

    def test_square_from_a_natural_angle(self):
        """Against the springs: drives told to stand so that guides 0.3 mrad out are square."""
        gantry = racking(
            drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8, natural_rad=0.3e-3
        )
        low, high = -1.0, 1.0
        for _ in range(100):
            middle = (low + high) / 2
            low, high = (middle, high) if springs(0, middle, natural=0.3e-3)[2] < 0 else (low, middle)
        assert low == printed("-0.0612")
        assert gantry.angle_rad(low) == pytest.approx(0, abs=1e-15)
        assert gantry.holding_force_n(0.0) == printed("-61.2")
        assert gantry.holding_force_n(0.0) == pytest.approx(springs(0, low, natural=0.3e-3)[3], rel=1e-9)

    @given(offset=st.floats(-2, 2), natural=st.floats(-1e-3, 1e-3))
    def test_what_holds_the_sides_apart(self, offset, natural):
        """Drives told to stand `offset` apart hold the ends where the springs let them, with the same force."""
        gantry = racking(
            drive_distance_mm=980, left_n_mm=2000, right_n_mm=1000, guides_n_mm_rad=2e8, natural_rad=natural
        )
        left, right, _, force = springs(0, offset, k_right=1000.0, natural=natural)
        assert gantry.holding_force_n(right - left) == pytest.approx(force, rel=1e-6, abs=1e-6)

    @pytest.mark.parametrize("natural", [3e-4, -3e-4])
    def test_the_worse_way_round(self, natural):
        """The same gantry, offsets up to 1 mm either way, guides 0.3 mrad out: the springs, both ways."""
        gantry = racking(
            drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8, natural_rad=natural
        )
        angle, force = gantry.largest(1)
        ways = [springs(0, offset, natural=natural) for offset in (1, -1)]
        assert angle == pytest.approx(max(abs(way[2]) for way in ways), rel=1e-9)
        assert force == pytest.approx(max(abs(way[3]) for way in ways), rel=1e-9)
        assert force == printed("223")


class TestTrips:
    """The sides stop at their own trips, one dragging the other."""

    def test_side_that_stopped_first_is_dragged_on(self):
        """The left stands, the right still has 0.2 mm to go."""
        gantry = racking(drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8)
        dragged = springs(0, 0)[0] - springs(0, -0.2)[0]
        assert gantry.dragged_share * 0.2 == pytest.approx(dragged, rel=1e-9)
        assert gantry.dragged_share * 0.2 * 1e3 == printed("17.2")

    def test_moved_flag_turns_more_than_commanded_offset(self):
        """Find by bisection how far the right drive goes until its end stands on its trip."""
        gantry = racking(drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8)
        low, high = 0.0, 2.0
        for _ in range(100):
            middle = (low + high) / 2
            low, high = (middle, high) if springs(0, middle)[1] < 0.2 else (low, middle)
        assert gantry.trip_share * 0.2 / 980 == pytest.approx(springs(0, low)[2], rel=1e-9)
        assert gantry.trip_share * 0.2 == printed("0.1811")
        assert gantry.angle_rad(0.2) * 980 == printed("0.1655")


class TestRigid:
    """Nothing known: all of it is angle, and it says so."""

    def test_all_becomes_angle(self):
        gantry = racking(drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000)
        assert gantry.angle_rad(0.2) == 0.2 / 980
        assert gantry.trip_share == 1
        assert (gantry.force_n(0.2), gantry.holding_force_n(0.2), gantry.largest(0.2)[1]) == (None, None, None)
        assert [c.code for c in gantry.cautions] == ["racking-rigid"]
