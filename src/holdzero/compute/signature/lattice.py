"""Lattice: homings that land on multiples of a full step, a microstep, an electrical cycle or the index pitch."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.shape.holm import holm
from holdzero.compute.signature.draw import DRAWS, LIMIT, SEED, Drawn
from holdzero.compute.signature.hunt import FULL_STEP, MICROSTEP, WHOLE_CYCLE, WHOLE_TURN, Hunt
from holdzero.compute.signature.values import Signature
from holdzero.compute.steady.shuffle import chance
from holdzero.quantity import System, show, show_percent

Floats = NDArray[np.float64]

# hunt, and whether the normal model still serves: a whole pitch is another place, a full step a coarse scatter
HUNTS: dict[str, tuple[Hunt, str]] = {
    "index pitch": (WHOLE_TURN, "caps"),
    "electrical cycle": (WHOLE_CYCLE, "caps"),
    "full step": (FULL_STEP, ""),
    "microstep": (MICROSTEP, ""),
}
NO_PLACES = ("motor turn", "belt tooth", "screw turn")


def resultant(values: Floats, step: float) -> Floats:
    """Length of the mean of exp(2 pi i x / step): 1 where all lie on one lattice. shape (...) of (..., n)"""
    turn = 2 * np.pi / step * values
    return np.asarray(np.hypot(np.cos(turn).mean(-1), np.sin(turn).mean(-1)), np.float64)


def lattices(
    values: Floats,
    sets: NDArray[Any],
    steps: Mapping[str, float],
    *,
    resolution: float,
    apart: Sequence[int] = (),
    system: System = "metric",
) -> tuple[Signature, ...]:
    """Look for each known step; the longest that shows is named, since its multiples lie on shorter ones too.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Home positions. [mm]
    sets : ndarray, shape (n,)
        Label of each reading's set.
    steps : mapping of str to float
        Length by name: "index pitch", "electrical cycle", "full step", "microstep". [mm]
    resolution : float
        Step of the display. [mm]
    apart : sequence of int, optional
        Places of homings that stand apart.
    system : {"metric", "inch"}
        Units of the sentence.

    Notes
    -----
    The homings that do not stand apart are held against drawn series by the length of their mean exp(2 pi i x/q).
    Left among them, a few far ones would widen the series so that any narrow scatter looked like one point of a
    lattice. Those more than half a step off are asked whether they are off by whole steps: the mean cosine of
    their phases against phases at random. The smaller chance counts double; chances are Holm-adjusted over the
    steps and flagged at 1 %. Not looked for are a step shorter than two of the display, which cannot be seen, and
    one longer than twice the span, of which the homings fill no more than half. A tooth or a turn is no place to
    rest: only single homings are held against it, by `strays`.
    """
    span = float(np.ptp(values)) if values.size else 0.0
    looked_for = {
        name: step for name, step in steps.items() if name not in NO_PLACES and 2 * resolution <= step < 2 * span
    }
    rest = np.delete(np.arange(values.size), list(apart))
    drawn = Drawn.like(values[rest], sets[rest], resolution=resolution)
    if rest.size < 5 or not looked_for or not drawn.within + drawn.between:
        return ()
    apart = [place for place in apart if (sets[rest] == sets[place]).any()]
    off = values[apart] - [float(np.median(values[rest][sets[rest] == sets[place]])) for place in apart]
    seen = {name: _Lattice.of(drawn, off[np.abs(off) > q / 2], q) for name, q in looked_for.items()}
    chances = holm([lattice.p for lattice in seen.values()])
    shown = [name for name, p in zip(seen, chances, strict=True) if p <= LIMIT]
    if not shown:
        return ()
    name = max(shown, key=lambda lattice: looked_for[lattice])
    hunt, lowers = HUNTS.get(name, (FULL_STEP, ""))
    step, lattice = show(looked_for[name], "length", system=system), seen[name]
    text = (
        f"The homings that stand apart do so by whole {name}s"
        if lattice.far
        else f"The homings land on multiples of one {name}"
    )
    return (
        Signature(
            code=f"lattice-{name.replace(' ', '-')}",
            sentence=(
                f"{text} of {step} ({show_percent(lattice.statistic)} in step; "
                f"chance alone reaches {show_percent(lattice.threshold)} once in 100)."
            ),
            statistic=lattice.statistic,
            threshold=lattice.threshold,
            false_alarm_rate=LIMIT,
            causes=hunt.causes,
            check=hunt.check,
            lowers=lowers,
            p=dict(zip(seen, chances, strict=True))[name],
        ),
    )


@dataclass(frozen=True, slots=True)
class _Lattice:
    """Evidence for one step. `far`: it comes from the homings that stand apart."""

    statistic: float
    threshold: float
    p: float
    far: bool

    @classmethod
    def of(cls, drawn: Drawn, off: Floats, step: float) -> "_Lattice":
        seen = float(resultant(drawn.values, step))
        # drawn series lean to one phase if anything, so that phases at random (Rayleigh) are the least they reach
        hopeless = math.exp(-drawn.values.size * seen**2) > 5 * LIMIT
        near = cls(seen, 1.0, 1.0, far=False) if hopeless else cls._against(seen, resultant(drawn.series, step))
        if off.size < 2:
            return near
        turns = np.random.default_rng(SEED).random((DRAWS, off.size))
        far = cls._against(
            float(np.cos(2 * np.pi / step * off).mean()), np.cos(2 * np.pi * turns).mean(axis=1), far=True
        )
        better = near if near.p <= far.p else far
        return replace(better, p=min(1.0, 2 * better.p))

    @classmethod
    def _against(cls, seen: float, drawn: Floats, *, far: bool = False) -> "_Lattice":
        return cls(seen, float(np.sort(drawn)[-10]), chance(drawn, seen), far)
