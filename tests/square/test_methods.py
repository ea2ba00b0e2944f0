"""Ways of measuring: school geometry, signs, uncertainties."""

from math import atan, cos, hypot, sin, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from holdzero.compute.square import Diagonals, Distance, Distances, Flip, Hole, HoleGrid, Reversal, beside
from holdzero.errors import InputError
from holdzero.quantity import plain
from printed import printed

small = st.floats(-0.02, 0.02)


def interval_rad(measured):
    """Where the angle lies with 95 %, by the normal or by Student's law."""
    reach = stats.t.ppf(0.975, measured.degrees_of_freedom) * measured.u_rad  # of infinitely many: the normal law
    return measured.angle_rad - reach, measured.angle_rad + reach


def rectangle(turn, a=1000.0, b=800.0):
    """Corners A, B, C, D as a gantry cuts them whose beam is turned by `turn`: right side ahead is plus."""
    return [np.array([x * cos(turn), x * sin(turn) + y]) for x, y in ((0, 0), (a, 0), (a, b), (0, b))]


def diagonals_of(turn, a=1000.0, b=800.0):
    corner = rectangle(turn, a, b)
    ac, bd = np.linalg.norm(corner[2] - corner[0]), np.linalg.norm(corner[3] - corner[1])
    return Diagonals(a_mm=a, b_mm=b, ac_mm=float(ac), bd_mm=float(bd))


class TestDiagonals:
    """The law of cosines, by hand."""

    def test_parallelogram(self):
        """By hand: 600 by 400, corner 0.5 mrad under 90 degrees."""
        d1, d2 = (sqrt(600**2 + 400**2 + sign * 2 * 600 * 400 * sin(0.0005)) for sign in (1, -1))
        assert d1 == printed("721.276645948")
        assert d2 == printed("720.943825835")
        found = Diagonals(a_mm=600, b_mm=400, ac_mm=d1, bd_mm=d2).measured(None)
        assert found.angle_rad == pytest.approx(0.0005, rel=1e-12)
        assert found.u_rad is None

    def test_worked(self):
        """By hand: 1000 by 800, 1280.9 and 1280.3 mm."""
        found = Diagonals(a_mm=1000, b_mm=800, ac_mm=1280.9, bd_mm=1280.3).measured(0.1)
        assert found.angle_rad == printed("0.000480225")
        assert found.angle_rad * 180 / np.pi * 3600 == printed("99.054")

    def test_right_side_ahead(self):
        """The right side of a gantry of 980 mm stands 0.3 mm ahead; the tool's path gives the diagonals."""
        turn = 0.3 / 980
        part = diagonals_of(turn)
        assert part.ac_mm == printed("1280.81607")
        assert part.bd_mm == printed("1280.43360")
        found = part.measured(0.1)
        assert found.angle_rad * 1e3 == printed("0.30612")
        assert 980 * found.angle_rad == printed("0.3000")
        assert found.u_rad * 1e3 == printed("0.1132")  # by hand: √(AC² + BD²) u/(2ab)
        assert found.u_rad * 980 == printed("0.111")

    def test_uncertainty_against_simulation(self):
        """A second way: 20 000 readings with 0.1 mm each, sides too."""
        r = np.random.default_rng(91)
        part = diagonals_of(0.3 / 980)
        a, b, ac, bd = (
            value + r.normal(0, 0.1, 20_000) for value in (part.a_mm, part.b_mm, part.ac_mm, part.bd_mm)
        )
        seen = np.arcsin((ac**2 - bd**2) / (4 * a * b))
        assert part.measured(0.1).u_rad == pytest.approx(seen.std(), rel=0.02)  # four standard errors

    @given(turn=small, a=st.floats(50, 3000), b=st.floats(50, 3000))
    def test_finds_any_turn(self, turn, a, b):
        assert diagonals_of(turn, a, b).measured(0.1).angle_rad == pytest.approx(turn, abs=1e-9)

    def test_trapezium_reads_square_and_is_warned_of(self):
        """A trapezium with equal diagonals; its four sides tell, two diagonals cannot."""
        low, high = 1000.0, 988.0
        corner = [
            np.array(p) for p in ((0.0, 0.0), (low, 0.0), ((low + high) / 2, 800.0), ((low - high) / 2, 800.0))
        ]
        length = lambda i, j: float(np.linalg.norm(corner[i] - corner[j]))  # noqa: E731
        three = {"a_mm": length(0, 1), "b_mm": length(1, 2), "ac_mm": length(0, 2), "bd_mm": length(1, 3)}
        blind = Diagonals(**three).measured(0.1)
        assert blind.angle_rad == pytest.approx(0, abs=1e-12)
        assert blind.cautions[0].code == "trapezium"
        seen = Diagonals(**three, a_opposite_mm=length(2, 3), b_opposite_mm=length(0, 3)).measured(0.1)
        assert [caution.code for caution in seen.cautions] == ["opposite-sides-differ"]
        assert "-12 mm along x" in plain(seen.cautions[0].text)
        # by hand: corners below lack 6/800 = 7.5 mrad to 90 degrees, those above exceed it by as much
        assert "15 mrad" in seen.cautions[0].text

    def test_a_trapezium_along_y(self):
        """By hand: 8 mm on 1000 mm make corners of 4 mrad under and over 90 degrees, 8 mrad from each other."""
        part = diagonals_of(0.0)
        lengths = {"a_mm": 1000.0, "a_opposite_mm": 1000.0, "ac_mm": part.ac_mm, "bd_mm": part.bd_mm}
        (said,) = Diagonals(**lengths, b_mm=796.0, b_opposite_mm=804.0).measured(0.1).cautions
        assert "by 0 mm along x and +8 mm along y" in plain(said.text)
        assert "by up to 8 mrad" in plain(said.text)
        (said,) = Diagonals(**lengths, b_mm=799.75, b_opposite_mm=800.25).measured(0.1).cautions
        assert "+0.5 mm along y" in plain(said.text)

    def test_four_sides_that_agree_need_no_caution(self):
        part = diagonals_of(0.0003)
        sides = Diagonals(
            a_mm=1000, b_mm=800, a_opposite_mm=1000.1, b_opposite_mm=799.95, ac_mm=part.ac_mm, bd_mm=part.bd_mm
        )
        assert sides.measured(0.1).cautions == ()

    @pytest.mark.parametrize(("ac", "bd"), [(1280, 1208), (1380, 1380), (1280, 12.8)])
    def test_contradictions_are_refused(self, ac, bd):
        with pytest.raises(InputError, match=r"slip|stands out"):
            Diagonals(a_mm=1000, b_mm=800, ac_mm=ac, bd_mm=bd).measured(0.1)

    def test_sides_that_do_not_close_are_said(self):
        found = Diagonals(a_mm=1002, b_mm=800, ac_mm=1280.9, bd_mm=1280.3).measured(0.1)
        assert "does-not-close" in [caution.code for caution in found.cautions]

    @pytest.mark.parametrize(("misses", "said"), [(3.6, False), (3.75, True), (4, True)])
    def test_closing_has_its_own_uncertainty(self, misses, said):
        """By hand: √((AC² + BD²)/2) has u/√2, √(a² + b²) has u: √1.5 u together, three times that 3.674 u."""
        diagonal = hypot(1000, 800) + misses * 0.1
        found = Diagonals(a_mm=1000, b_mm=800, ac_mm=diagonal, bd_mm=diagonal).measured(0.1)
        assert ("does-not-close" in [caution.code for caution in found.cautions]) is said

    @pytest.mark.parametrize(("differ", "said"), [(2.5, False), (2.8, False), (2.9, True), (3, True)])
    def test_opposite_sides_differ_by_more_than_their_uncertainty(self, differ, said):
        """A difference of two has √2 u, twice that 2.83 u."""
        part = diagonals_of(0.0003)
        sides = {"a_opposite_mm": 1000 + differ * 0.1, "b_opposite_mm": 800.0}
        found = Diagonals(a_mm=1000, b_mm=800, ac_mm=part.ac_mm, bd_mm=part.bd_mm, **sides).measured(0.1)
        assert ("opposite-sides-differ" in [caution.code for caution in found.cautions]) is said

    def test_sides_count_where_it_is_far_out(self):
        """100 by 100, sine 0.04: AC² 20 800, BD² 19 200; by steps of 1 nm in each of the four lengths."""
        lengths = np.array([100, 100, sqrt(20_800), sqrt(19_200)])

        def angle(at):
            return np.arcsin((at[2] ** 2 - at[3] ** 2) / (4 * at[0] * at[1]))

        steps = np.array([(angle(lengths + step) - angle(lengths - step)) / 2e-6 for step in 1e-6 * np.eye(4)])
        a, b, ac, bd = lengths
        found = Diagonals(a_mm=a, b_mm=b, ac_mm=ac, bd_mm=bd).measured(0.1)
        assert found.u_rad == pytest.approx(0.1 * np.linalg.norm(steps), rel=1e-6)
        assert found.u_rad * 1e3 == printed("1.00240")


class TestFlip:
    """By hand: gap/(2 L)."""

    def test_worked(self):
        """By hand: gap/(2 L)."""
        found = Flip(length_mm=600, gap_mm=0.22).measured(0.03)
        assert found.angle_rad * 1e3 == printed("0.1833")
        assert found.angle_rad * 980 == printed("0.1797")
        assert found.u_rad * 1e3 == printed("0.025")

    @given(turn=small)
    def test_same_sign_as_diagonals(self, turn):
        """The lower half turned over: the ends part by twice the rise, at the right if the right side is ahead."""
        rises = np.tan(turn) * 600
        upper, lower_turned_over = rises, -rises  # both halves' edges at the right end, 0 at the left
        gap = upper - lower_turned_over
        found = Flip(length_mm=600, gap_mm=gap).measured(0.03)
        assert found.angle_rad == pytest.approx(diagonals_of(turn).measured(None).angle_rad, rel=1e-3, abs=1e-9)


@pytest.mark.parametrize(("gap", "angle"), [(62.0, 51), (-66.0, -55)])
def test_no_gantry_is_as_far_out(gap, angle):
    """By hand: a gap of 59.4 mm on 600 mm is 0.099/2 rad, 49 mrad; one of 62 mm is 51."""
    assert Flip(length_mm=600, gap_mm=59.4).measured(None).angle_rad == pytest.approx(0.0495, rel=0.01)
    with pytest.raises(InputError, match=f"an angle of {angle} mrad; needed is a gantry within 50 mrad"):
        Flip(length_mm=600, gap_mm=gap).measured(None)


class TestReversal:
    """By hand: half the sum is the machine, half the difference the square."""

    @pytest.mark.parametrize(
        ("first", "second", "length", "machine", "square"), [(12, 4, 200, 40, 20), (3, -9, 150, -20, 40)]
    )
    def test_worked(self, first, second, length, machine, square):
        """The same, in micrometres and microradians."""
        found = Reversal(length_mm=length, rise_1_mm=first / 1e3, rise_2_mm=second / 1e3).measured(0.001)
        assert found.angle_rad * 1e6 == pytest.approx(machine, rel=1e-8)
        assert found.square_rad * 1e6 == pytest.approx(square, rel=1e-8)
        assert found.u_rad == pytest.approx(0.001 * sqrt(2) / 2 / length)

    @given(turn=small, error=small)
    def test_square_drops_out(self, turn, error):
        """Rise of the path less rise of the edge, which turns over with the square; to first order in both."""
        rise = [200 * (turn - sign * error) for sign in (1, -1)]
        found = Reversal(length_mm=200, rise_1_mm=rise[0], rise_2_mm=rise[1]).measured(None)
        assert found.angle_rad == pytest.approx(atan(turn), abs=1e-12)
        assert found.square_rad == pytest.approx(atan(-error), abs=1e-12)


def holes(columns=5, rows=4, width=800, height=600):
    x, y = np.meshgrid(np.linspace(0, width, columns), np.linspace(0, height, rows))
    return x.ravel(), y.ravel()


def grid(x, y, measured_x, measured_y):
    rows = zip(x, y, measured_x, measured_y, strict=True)
    return HoleGrid(
        tuple(
            Hole(x_mm=float(a), y_mm=float(b), measured_x_mm=float(c), measured_y_mm=float(d))
            for a, b, c, d in rows
        )
    )


def cut(x, y, *, shear=4e-4, scale_x=2e-4, scale_y=-1e-4, turn=1.5e-3):
    """Coordinates of a grid: moved, turned, scaled, sheared."""
    return 3 + (1 + scale_x) * x - (turn - shear) * y, -2 + turn * x + (1 + scale_y) * y


class TestGrid:
    """u √(1/Sxx + 1/Syy), and drawn: 5 by 4 holes over 800 by 600 mm, 20 um a coordinate."""

    def test_exact(self):
        x, y = holes()
        found = grid(x, y, *cut(x, y)).measured(0.02)
        assert found.angle_rad == pytest.approx(4e-4, rel=1e-9)
        assert found.scale.x == pytest.approx(2e-4, rel=1e-9)
        assert found.scale.y == pytest.approx(-1e-4, rel=1e-9)
        assert found.u_rad * 1e3 == printed("0.02549", 1)  # cut, not rounded: 0.0254951
        assert found.scale.u_x * 1e3 == printed("0.01581")
        assert max(residual.size_mm for residual in found.residuals) < 1e-9
        assert found.cautions == ()

    def test_equals_numpy_least_squares(self):
        r = np.random.default_rng(94)
        x, y = r.uniform(0, 800, 11), r.uniform(0, 600, 11)
        seen = [value + r.normal(0, 0.02, 11) for value in cut(x, y)]
        found = grid(x, y, *seen).measured(0.02)
        model = np.column_stack([np.ones(11), x, y])
        (ax, left_x, *_), (ay, left_y, *_) = (np.linalg.lstsq(model, values) for values in seen)
        assert found.angle_rad == pytest.approx(ax[2] + ay[1], rel=1e-8)
        assert found.scale.x == pytest.approx(ax[1] - 1, rel=1e-6)
        assert found.scale.y == pytest.approx(ay[2] - 1, rel=1e-6)
        assert sum(one.size_mm**2 for one in found.residuals) == pytest.approx(left_x[0] + left_y[0])

    def test_is_the_difference_of_two_inclinations(self):
        """ISO 230-1 (from memory): a straight line through each axis's points, how each leans, one less the other.

        NumPy's own line through every row and every column; on a full grid the plane fit must agree.
        """
        r = np.random.default_rng(49)
        x, y = holes()
        seen_x, seen_y = (value + r.normal(0, 0.02, len(x)) for value in cut(x, y))
        rows = [np.polyfit(x[y == at], seen_y[y == at], 1)[0] for at in np.unique(y)]
        columns = [np.polyfit(y[x == at], seen_x[x == at], 1)[0] for at in np.unique(x)]
        corner = (np.pi / 2 - np.mean(columns)) - np.mean(rows)  # inclination of y less that of x
        found = grid(x, y, seen_x, seen_y).measured(0.02)
        assert np.pi / 2 - corner == pytest.approx(found.angle_rad, rel=1e-9)

    @pytest.mark.parametrize(("tool", "count"), [(0.02, 5), (None, 3)])
    def test_interval_covers(self, tool, count):
        """Of 2 000 grids with honest scatter the 95 % interval holds the truth in 93 to 97 %, u given or not."""
        r = np.random.default_rng(95)
        x, y = holes(count, 3)
        exact = cut(x, y)
        hits = 0
        for _ in range(2000):
            low, high = interval_rad(grid(x, y, *(e + r.normal(0, 0.02, len(x)) for e in exact)).measured(tool))
            hits += low <= 4e-4 <= high
        assert 0.93 <= hits / 2000 <= 0.97

    @pytest.mark.parametrize(("along", "said"), [(2.5, False), (2.9, False), (3.1, True)])
    def test_a_bend_is_judged_by_what_it_leaves_over(self, along, said):
        """Four holes leave one shape over in each coordinate, ± at the corners: one is judged by the other."""
        x, y = holes(2, 2)
        shape = np.array([1, -1, -1, 1]) * 0.01
        codes = [c.code for c in grid(x, y, x + along * shape, y + shape).measured(None).cautions]
        assert ("guide-not-straight" in codes) is said

    @pytest.mark.parametrize(("share", "said"), [(0.895, False), (0.915, True)])
    def test_a_bend_is_judged_by_the_other_eleven_of_twelve(self, share, said):
        """Nine holes leave 18 - 6 over, one the bend itself: it shows above 3/sqrt(11) = 0.9045 of the rest."""
        x, y = holes(3, 3)
        across, along = (x - 400) / 400, (y - 300) / 300
        bow, twist = (3 * across**2 - 2) / sqrt(18), across * along / 2
        texts = [c.text for c in grid(x, y, x + twist, y + share * bow).measured(None).cautions]
        assert any("along x the path is bowed" in text for text in texts) is said

    def test_two_rows_and_two_columns_show_no_bow(self):
        x, y = holes(2, 2)
        shape = np.array([1, -1, -1, 1]) * 0.2
        (said,) = (c.text for c in grid(x, y, x + shape, y).measured(0.01).cautions if "straight" in c.code)
        assert plain(said).startswith("Against least-squares lines the residuals have a shape: the scale along x")
        assert "bowed" not in said

    def test_holes_in_a_cross_show_no_twist(self):
        """Of holes on two lines through the middle the product of both places is nothing everywhere."""
        x, y = np.array([0.0, -400, -200, 200, 400, 0, 0, 0, 0]), np.array([0.0, 0, 0, 0, 0, -300, -150, 150, 300])
        (said,) = (c.text for c in grid(x, y, x, y + 1e-6 * x**2).measured(0.01).cautions if "straight" in c.code)
        assert "along x the path is bowed" in said
        assert not {"scale along x changes", "squareness changes"} & set(said.split("; "))

    def test_scatter_too_large_for_the_tool_is_said(self):
        """Nine holes, 0.1 mm at one of them: 0.1 sqrt(1 - 1/9 - 1/6 - 1/6)/sqrt(18 - 6) is left over."""
        x, y = holes(3, 3)
        seen_x, seen_y = x.copy(), y.copy()
        seen_x[0] += 0.1
        (said,) = (c.text for c in grid(x, y, seen_x, seen_y).measured(0.002).cautions if "residuals" in c.code)
        assert "What is left over scatters by 22 um, more than the 2.0 um given for the tool." in plain(said)

    def test_part_lying_askew_is_turned_straight_first(self):
        """Turned by 0.2 rad as a whole, the corner stays what it is."""
        x, y = holes()
        sheared = np.stack([(1 + 5e-4) * x + 4e-4 * y, y])
        c, s = cos(0.2), sin(0.2)
        turned = np.array([[c, -s], [s, c]]) @ sheared
        found = grid(x, y, *turned).measured(0.02)
        assert found.angle_rad == pytest.approx(4e-4, rel=2e-3)
        assert found.scale.x == pytest.approx(5e-4, rel=2e-3)

    @given(turn=small)
    def test_same_sign_as_diagonals(self, turn):
        x, y = holes()
        found = grid(x, y, x * cos(turn), y + x * sin(turn)).measured(0.02)
        assert found.angle_rad == pytest.approx(turn, rel=0.03, abs=1e-9)

    def test_bent_guide_is_not_squared_away(self):
        """A bow of 0.2 mm along x leaves the angle alone and is named."""
        x, y = holes()
        seen_x, seen_y = cut(x, y)
        found = grid(x, y, seen_x, seen_y + 0.2 * (1 - ((x - 400) / 400) ** 2)).measured(0.02)
        assert found.angle_rad == pytest.approx(4e-4, abs=1e-9)
        codes = {caution.code: caution.text for caution in found.cautions}
        assert "along x the path is bowed (by 0.20 mm)" in plain(codes["guide-not-straight"])
        assert codes["guide-not-straight"].startswith(
            "Against least-squares lines"
        )  # ISO 230-1: the line is named
        assert "residuals-too-large" in codes

    @pytest.mark.parametrize(
        ("bend", "words"),
        [
            ((1, lambda x, y: x**2), "along x the path is bowed"),
            ((0, lambda x, y: y**2), "along y the path is bowed"),
            ((0, lambda x, y: 2 * x * y), "the scale along x changes with y"),
            ((1, lambda x, y: 2 * x * y), "squareness changes along the travel"),
        ],
        ids=["x bowed", "y bowed", "scale", "squareness"],
    )
    def test_each_bend_by_its_name_and_height(self, bend, words):
        """Of places from -1 to 1 a square reaches from 0 to 1, twice a product from -2 to 2: 0.1 mm and 0.4 mm."""
        x, y = holes(5, 5)
        seen = list(cut(x, y))
        coordinate, shape = bend
        seen[coordinate] = seen[coordinate] + 0.1 * shape((x - 400) / 400, (y - 300) / 300)
        (said,) = (c.text for c in grid(x, y, *seen).measured(0.01).cautions if c.code == "guide-not-straight")
        height = "0.10 mm" if "bowed" in words else "0.40 mm"
        assert words in plain(said)
        assert plain(said).count("(by ") == 1
        assert f"(by {height})" in plain(said)

    @pytest.mark.parametrize("places", [[(0, 0), (1, 0)], [(0, 0), (400, 300), (800, 600)], []])
    def test_too_little_is_refused(self, places):
        x, y = np.array(places, dtype=float).reshape(-1, 2).T
        with pytest.raises(InputError, match="three or more holes"):
            grid(x, y, x, y).measured(0.02)

    def test_three_holes_have_no_residual_to_judge_by(self):
        x, y = np.array([0.0, 800, 0]), np.array([0.0, 0, 600])
        assert grid(x, y, *cut(x, y)).measured(None).u_rad is None
        assert grid(x, y, *cut(x, y)).measured(0.02).u_rad > 0


class TestDistances:
    """Least squares by hand: six distances of four holes, 50 um each."""

    CORNERS = ((0.0, 0.0), (800.0, 0.0), (800.0, 600.0), (0.0, 600.0))
    PAIRS = ((1, 2), (1, 3), (1, 4), (2, 3), (2, 4), (3, 4))

    def sheared(self, shear=4e-4, scale_x=2e-4, scale_y=-1e-4):
        return [((1 + scale_x) * x + shear * y, (1 + scale_y) * y) for x, y in self.CORNERS]

    def taken(self, noise=(0.0,) * 6):
        at = self.sheared()
        return Distances(
            holes_mm=self.CORNERS,
            distances=tuple(
                Distance(
                    first=i,
                    second=j,
                    length_mm=hypot(at[j - 1][0] - at[i - 1][0], at[j - 1][1] - at[i - 1][1]) + e,
                )
                for (i, j), e in zip(self.PAIRS, noise, strict=True)
            ),
        )

    def test_uncertainties(self):
        found = self.taken().measured(0.05)
        assert found.scale.u_x * 1e3 == printed("0.03644")
        assert found.scale.u_y * 1e3 == printed("0.05336")
        assert found.u_rad * 1e3 == printed("0.07366")
        assert found.angle_rad == pytest.approx(4e-4, rel=1e-3)  # first order

    def test_interval_covers(self):
        r = np.random.default_rng(96)
        hits = 0
        for _ in range(2000):
            low, high = interval_rad(self.taken(r.normal(0, 0.05, 6)).measured(0.05))
            hits += low <= 4e-4 <= high
        assert 0.93 <= hits / 2000 <= 0.97

    @pytest.mark.parametrize(
        ("first", "second", "length", "says"),
        [(1, 5, 800, "two of the 4 holes"), (2, 2, 800, "two of the 4 holes"), (1, 2, 80, "about 800 mm")],
    )
    def test_slips_are_refused(self, first, second, length, says):
        slip = Distance(first=first, second=second, length_mm=length)
        with pytest.raises(InputError) as refused:
            Distances(holes_mm=self.CORNERS, distances=(slip,) * 3).measured(0.05)
        assert says in plain(str(refused.value))

    def test_sides_alone_do_not_settle_the_corner(self):
        sides = self.taken()
        only = tuple(one for one in sides.distances if {one.first, one.second} not in ({1, 3}, {2, 4}))
        with pytest.raises(InputError, match="across"):
            Distances(holes_mm=self.CORNERS, distances=only).measured(0.05)


class TestBeside:
    """What else a round shows, and in inches."""

    def test_scales_and_the_worst_hole(self):
        x, y = holes(2, 2)
        said = [plain(one) for one in beside(grid(x, y, *cut(x, y)).measured(0.02))]
        assert said[0].startswith("Along x it moves 0.200 mm per m longer than commanded, uncertain by 0.0")
        assert said[1].startswith("Along y it moves 0.100 mm per m shorter")
        assert said[2].startswith("Left over is at most")

    def test_where_most_is_left_over(self):
        """Of a grid where the hole was commanded; of distances, and by their fit alone, between which two."""
        x, y = holes(3, 3)
        seen_x, seen_y = cut(x, y)
        seen_x[5] += 0.3  # 800 by 300; two thirds of its own are left: leverage 1/9 + 1/6
        *_, hole = beside(grid(x, y, seen_x, seen_y).measured(0.02))
        assert plain(hole) == "Left over is at most 0.217 mm, at 800 mm by 300 mm (12 degrees of freedom)."
        taken = TestDistances().taken((0, 0, 0, 0, 0, 0.09)).measured(None)
        *_, distance = beside(taken)
        worst = max(taken.residuals, key=lambda one: abs(one.x_mm))
        assert plain(distance).endswith(f", at {worst.name} (3 degrees of freedom).")
        assert worst.name in ("1 to 2", "3 to 4")
        assert worst.size_mm == abs(worst.x_mm)

    def test_inches(self):
        """The same lengths in inches: nothing a person reads is left in mm; 12 mm are 0.4724 in."""
        part = {"a_mm": 1000.0, "b_mm": 800.0, "ac_mm": 1280.9, "bd_mm": 1280.3, "b_opposite_mm": 800.0}
        four = Diagonals(**part, a_opposite_mm=988.0)
        said = " ".join(one.text for one in four.measured(0.1, system="inch").cautions)
        assert "0.4724 in along x" in plain(said)
        assert " mm" not in plain(said)
        with pytest.raises(InputError) as refused:
            Diagonals(**part | {"bd_mm": 1180.0}).measured(0.1, system="inch")
        assert "50.43 in and 46.46 in" in plain(str(refused.value))
        assert " mm" not in plain(str(refused.value))
        x, y = holes(5, 3)
        seen_x, seen_y = cut(x, y)
        bowed = grid(x, y, seen_x, seen_y + 0.2 * (1 - ((x - 400) / 400) ** 2)).measured(0.02, system="inch")
        for text in (*(one.text for one in bowed.cautions), *beside(bowed, system="inch")):
            assert " mm" not in plain(text)
