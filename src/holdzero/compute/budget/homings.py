"""Homings: one homing after the other, thousands at a time, as the machine does them.

The switch trips where it does this time; the delay carries the axis on; the controller sees it at its
next look; the axis stands on its grid; the index, where there is one, has the last word. Approach is
towards plus, both sides of a gantry share what they share.
"""

from dataclasses import dataclass
from math import inf, isinf

import numpy as np
from numpy.random import Generator

from holdzero.compute.budget.monte_carlo import BLOCK, Floats

NEVER = 9.0  # standard deviations: no normal draw goes there


@dataclass(frozen=True, slots=True)
class Draw:
    """Something added to every homing: "normal", "rectangular" or "arcsine" about zero. [mm]

    `after_mm`: how far the same draw moves home after the index. A sign says which way it goes.
    """

    distribution: str
    size_mm: float  # standard deviation if normal, else half width
    dof: float = inf
    after_mm: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Homing:
    """What one homing goes through.

    Parameters
    ----------
    sides : int
        1, or 2 for a gantry.
    common, own : tuple of Draw
        Where the switch trips: shared by both sides, and of each.
    apart : tuple of Draw
        Differences between the sides: half of it moves the right one on, the left one back.
    speed_mm_s, delay_s, jitter_s, poll_s : float
        Creep speed, and the delay without the poll. [mm/s, s]
    step_mm : float
        Grid; 0 for none. [mm]
    step_phase : float or None
        Where in a step the mean place lies; None: anywhere, another for each homing drawn, so that the
        figures are those of all machines alike.
    pitch_mm, index_phase : float or None
        Index pulses, and the way from the mean start of the search to the next one, as a share of a pitch.
    index_shift_mm : float
        Constant shift of the switch since the datum was set, in the direction of the search. [mm]
    brake_way_mm : float
        Way of the brake, where the rest is taken as zero and not the edge. [mm]
    """

    sides: int = 1
    common: tuple[Draw, ...] = ()
    own: tuple[Draw, ...] = ()
    apart: tuple[Draw, ...] = ()
    speed_mm_s: float = 0.0
    delay_s: float = 0.0
    jitter_s: float = 0.0
    poll_s: float = 0.0
    step_mm: float = 0.0
    step_phase: float | None = None
    pitch_mm: float | None = None
    index_phase: float = 0.5
    index_shift_mm: float = 0.0
    brake_way_mm: float = 0.0

    @property
    def shift_mm(self) -> float:
        """How far, in the mean, zero lies past the trip. [mm]"""
        return self.speed_mm_s * (self.delay_s + self.poll_s / 2) + self.brake_way_mm


class HomingSampler:
    """Draws homings of one machine, many at a time, in buffers of its own.

    Parameters
    ----------
    homing : Homing
        What one goes through.
    n : int, default BLOCK
        Homings a call.
    """

    def __init__(self, homing: Homing, n: int = BLOCK) -> None:
        self.homing = homing
        self._spare, self._other, self._shared = np.empty(n), np.empty(n), np.empty(n)
        self._sides = np.empty((homing.sides, n))
        self._shared_after, self._sides_after = np.zeros(n), np.zeros((homing.sides, n))
        self.wrong_index = np.zeros(n, dtype=np.bool_)  # whether a side took another index, of the last call
        self._start_mm = homing.index_shift_mm if homing.pitch_mm is not None else 0.0
        self._after_mm = 0.0
        for draw in (*homing.common, *homing.own):
            if draw.distribution == "rectangular":  # drawn from nought to twice its half width
                self._start_mm -= draw.size_mm
                self._after_mm -= draw.after_mm
        if homing.poll_s:
            self._start_mm -= homing.speed_mm_s * homing.poll_s / 2
        if homing.step_phase is None:
            self._after_mm -= homing.step_mm / 2

    def __call__(self, rng: Generator) -> Floats:
        """Draw so many homings.

        Returns
        -------
        ndarray, shape (sides, n)
            Where zero lies, from its mean place (from the right index, where there is one; from the mean place
            before the grid, where the place within a step is known). Overwritten by the next call. [mm]
        """
        homing, shared, after = self.homing, self._shared, self._shared_after
        indexed = homing.pitch_mm is not None
        shared.fill(self._start_mm if indexed else self._start_mm + self._after_mm)
        if indexed:
            after.fill(self._after_mm)
        for draw in homing.common:
            self._add(rng, draw, shared, after)
        for place, place_after in zip(self._sides, self._sides_after, strict=True):
            np.copyto(place, shared)
            if indexed:
                np.copyto(place_after, after)
            for draw in homing.own:
                self._add(rng, draw, place, place_after)
            if homing.jitter_s:
                self._jitter(rng, place)
        for draw in homing.apart:
            self._part(rng, draw)
        for place in self._sides:
            if homing.poll_s:
                self._next(rng, place, homing.speed_mm_s * homing.poll_s)
        if homing.pitch_mm is not None:
            self._take_index(homing.pitch_mm)
        if homing.step_mm:
            for place in self._sides:
                self._grid(rng, place)
        return self._sides

    def _take_index(self, pitch_mm: float) -> None:
        """From the start of the search to the index it finds, nought for the right one; then what comes after."""
        self.wrong_index.fill(False)
        for place, after in zip(self._sides, self._sides_after, strict=True):
            place /= pitch_mm
            place -= self.homing.index_phase
            np.floor(place, out=place)
            place += 1
            self.wrong_index |= place != 0
            place *= pitch_mm
            place += after

    def _add(self, rng: Generator, draw: Draw, place: Floats, after: Floats) -> None:
        """Add a draw to where the switch trips and to home after the index."""
        spare = self._spare
        size = self._drawn(rng, draw, spare)
        if draw.after_mm:
            np.multiply(spare, size * draw.after_mm, out=self._other)
            after += self._other
        spare *= size * draw.size_mm
        place += spare

    def _part(self, rng: Generator, draw: Draw) -> None:
        """Move the sides apart by a draw, half of it each."""
        size = self._drawn(rng, draw, self._spare)
        if draw.distribution == "rectangular":
            self._spare -= 0.5
        for half, place, after in zip((-0.5 * size, 0.5 * size), self._sides, self._sides_after, strict=False):
            np.multiply(self._spare, half * draw.size_mm, out=self._other)
            place += self._other
            if draw.after_mm:
                np.multiply(self._spare, half * draw.after_mm, out=self._other)
                after += self._other

    def _drawn(self, rng: Generator, draw: Draw, out: Floats) -> float:
        """Fill with draws about zero, flat ones from zero on; return what makes them of size 1."""
        if draw.distribution == "rectangular":
            rng.random(out=out)
            return 2.0
        if draw.distribution == "arcsine":
            rng.random(out=out)
            out *= 2 * np.pi
            np.sin(out, out=out)
        elif isinf(draw.dof):
            rng.standard_normal(out=out)
        else:  # known from few homings only: JCGM 101, 6.4.9
            student(rng, draw.dof, out=out, spare=self._other)
        return 1.0

    def _jitter(self, rng: Generator, place: Floats) -> None:
        """Add the way of a delay that is not always its mean, and never negative."""
        homing, spare = self.homing, self._spare
        rng.standard_normal(out=spare)
        spare *= homing.jitter_s * homing.speed_mm_s
        if 0 < homing.delay_s < NEVER * homing.jitter_s:
            np.maximum(spare, -homing.delay_s * homing.speed_mm_s, out=spare)
        place += spare

    def _next(self, rng: Generator, place: Floats, pitch_mm: float) -> None:
        """Move each place up to the next tick of a comb that lies anywhere: as likely by any part of a pitch."""
        spare = self._spare
        rng.random(out=spare)
        spare *= pitch_mm
        place += spare

    def _grid(self, rng: Generator, place: Floats) -> None:
        homing = self.homing
        if homing.step_phase is None:
            self._next(rng, place, homing.step_mm)
            return
        place /= homing.step_mm
        place += homing.step_phase
        np.ceil(place, out=place)
        place -= homing.step_phase
        place *= homing.step_mm


def student(rng: Generator, dof: float, *, out: Floats, spare: Floats) -> None:
    """Fill `out` with draws from Student's t; `spare`, as long, is overwritten.

    Notes
    -----
    √(ν (U^(−2/ν) − 1)) cos 2πV, in the polar form [1]_. As fast as NumPy's own, which lets no other thread run.

    References
    ----------
    .. [1] R. W. Bailey, Polar generation of random variates with the t-distribution, Mathematics of Computation
       62 (1994), 779 to 781.
    """
    rng.random(out=out)
    np.subtract(1.0, out, out=out)  # never 0
    np.log(out, out=out)
    out *= -2 / dof
    np.expm1(out, out=out)
    out *= dof
    np.sqrt(out, out=out)
    rng.random(out=spare)
    spare *= 2 * np.pi
    out *= np.cos(spare, out=spare)
