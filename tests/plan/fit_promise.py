"""Fit the law of a promise anew: draw trials over the whole range of plans, find the room each needs, fit.

    PYTHONPATH=tests python tests/plan/fit_promise.py 14400   # hours; prints the laws of `compute/plan/promise.py`

Rule alone: signatures are left out and counted apart (`lost`), for they take half of the time. The law in use
rests on 8000 trials drawn like this and 6400 more at 8 x 5, 12 x 3 and 20 x 4, and on how often heavy tails were
seen in 6500 further gantries.
"""

import sys
from collections.abc import Iterator
from contextlib import ExitStack
from functools import lru_cache
from math import log
from unittest.mock import patch

import numpy as np
from scipy.optimize import minimize
from scipy.special import expit, ndtri

from holdzero.compute.choose.allowed import allowed_spread
from holdzero.compute.choose.values import AllowedSpread
from holdzero.compute.choose.verdict import judge
from holdzero.compute.plan import PlannedTrial
from holdzero.compute.plan.promise import FINE_ENOUGH, regressors
from holdzero.compute.plan.room import regular_room
from holdzero.inputs.machine.values import Axis, Requirement
from holdzero.inputs.sensor.values import Sensor
from rehearsal import drawn_trials

GANTRY, ONE = Axis.of("Y", motors=2, drive_distance_mm=1), Axis.of("X")
ROOMS = np.geomspace(0.9, 12, 23)
NEVER = 14.0  # a room beyond all that were tried
Row = tuple[PlannedTrial, float, float, bool]  # trial, display over within, room needed, heavy tails seen


@lru_cache
def limits(question: str, risk: float) -> tuple[AllowedSpread, ...]:
    """What is allowed at each of `ROOMS`, for a spread of 1."""
    t, c = -ndtri(risk / 8), -ndtri(risk / 4) * 2**0.5  # both parts bind alike
    asked = {
        "one side": {"position_mm": 1.0},
        "position": {"position_mm": 1.0},
        "squareness": {"squareness_mm": 1.0},
        "both": {"position_mm": t, "squareness_mm": c},
    }[question]
    axis = ONE if question == "one side" else GANTRY

    def allowed(times: float) -> AllowedSpread:
        lengths = {name: size * times for name, size in asked.items()}
        over = {"squareness_over_mm": 1.0} if "squareness_mm" in asked else {}
        return allowed_spread(axis, Requirement(**lengths, **over, risk=risk))

    own = allowed(1.0).spread_allowed_mm
    return tuple(allowed(room / own) for room in ROOMS)


def plans(rng: np.random.Generator) -> Iterator[tuple[PlannedTrial, float]]:
    """Yield plans over the whole range, and the display step over the scatter within."""
    while True:
        k, n = round(float(np.exp(rng.uniform(log(3.5), log(30))))), int(rng.choice([2, 3, 4, 5, 6, 8, 10]))
        ratio = float(
            rng.choice([0, 0.25, 0.5, 0.75, 1, 1.5, 2, 4], p=[0.2, 0.08, 0.2, 0.08, 0.18, 0.06, 0.16, 0.04])
        )
        if rng.random() < 0.4:
            k, n = [(8, 5), (12, 3), (20, 4), (11, 3), (9, 5)][rng.integers(5)]
        if not (k >= 4 and 12 <= k * n <= 110):
            continue
        run = int(rng.choice([0, 60, 100, 200], p=[0.76, 0.06, 0.13, 0.05]))
        trial = PlannedTrial(
            power_ups=k,
            homings=n,
            between_ratio=ratio,
            long_run=run,
            question=str(rng.choice(["both", "one side", "squareness", "position"], p=[0.5, 0.32, 0.09, 0.09])),
            risk=float(rng.choice([1e-3, 1e-2, 1e-4], p=[0.84, 0.08, 0.08])),
        )
        display = (
            0.0 if run else float(rng.choice([0, 0.25, 0.5, 1.0, FINE_ENOUGH], p=[0.8, 0.04, 0.06, 0.06, 0.04]))
        )
        yield trial, display


def drawn(trials: int, seed: int = 1) -> list[Row]:
    """Draw trials, two of each plan, and find the room that each needs."""
    where, rows, rng = "holdzero.compute.findings.find", [], np.random.default_rng(seed)
    with ExitStack() as stack:
        stack.enter_context(patch(f"{where}.patterns", lambda *_, **__: ((), "regular")))
        stack.enter_context(patch(f"{where}.Behaviour.of", lambda *_: None))
        stack.enter_context(patch(f"{where}.moments", lambda *_, **__: ()))
        for trial, display in plans(rng):
            for sides in drawn_trials(
                two_sides=trial.question != "one side",
                spread_mm=1.0,
                between_ratio=trial.between_ratio,
                power_ups=trial.power_ups,
                homings=trial.homings,
                long_run=trial.long_run,
                display_mm=display / np.hypot(1, trial.between_ratio) or None,
                trials=2,
                seed=int(rng.integers(2**31)),
            ):
                rows += [(trial, display, *needed(sides, limits(trial.question, trial.risk)))]
            if len(rows) >= trials:
                return rows
    return rows


def needed(sides, allowed: tuple[AllowedSpread, ...]) -> tuple[float, bool]:
    """Room at which both chances reach 0.95, between two of `ROOMS` by their normal quantiles."""

    @lru_cache
    def chances(place: int) -> tuple[float, float, int]:
        judged = judge(Sensor(name="A"), allowed[place], sides, ruled_out=(), confidence=0.95, told_apart=False)
        return judged.chance_holds or 0.0, judged.chance_holds_wide or 0.0, judged.risk_times

    def one(which: int) -> float:
        low, high = -1, len(allowed) - 1
        if chances(high)[which] < 0.95:
            return NEVER
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (low, middle) if chances(middle)[which] >= 0.95 else (middle, high)
        if low < 0:
            return float(ROOMS[0])
        start, end = (ndtri(np.clip(chances(place)[which], 1e-4, 0.9995)) for place in (low, high))
        part = (ndtri(0.95) - start) / (end - start) if end > start else 1.0
        return float(np.exp(log(ROOMS[low]) + part * log(ROOMS[high] / ROOMS[low])))

    return max(one(0), one(1)), chances(len(allowed) - 1)[2] == 1


def fitted(rows: list[Row]) -> list[np.ndarray]:
    """Likeliest factors of each line: share seen, place, width, skew, and place and width of the seen."""
    lines, beyond = [], []
    for trial, display, room, _ in rows:
        regular = regular_room(
            power_ups=trial.power_ups,
            homings=trial.homings,
            between_ratio=trial.between_ratio,
            long_run=trial.long_run,
        )
        lines.append(regressors(trial, display, regular))
        beyond.append(log(room / regular.half))
    away, seen = np.array(beyond), np.array([row[3] for row in rows])
    design = [np.array([line[i] for line in lines]) for i in range(6)]
    ends = np.cumsum([part.shape[1] for part in design])

    def misfit(factors: np.ndarray) -> float:
        parts = np.split(factors, ends[:-1])
        share, place, width, skew, seen_place, seen_width = (
            part @ factor for part, factor in zip(design, parts, strict=True)
        )
        z = away - place
        z = z / np.exp(width + np.where(z > 0, skew, 0))
        regular = np.log(expit(-share)) + np.log(2 / (1 + np.exp(skew))) - width - np.minimum(z**2, 20) / 2
        z = (away - seen_place) / np.exp(seen_width)
        heavy = np.log(expit(share)) - seen_width - np.minimum(z**2, 16) / 2
        return float(-np.where(seen, heavy, regular).sum() + ((factors / 3) ** 2).sum() / 2)

    start = np.zeros(ends[-1])
    start[[0, ends[1], ends[3], ends[4]]] = -2, -1, 0.5, -1.5
    best = minimize(misfit, start, method="L-BFGS-B", options={"maxiter": 4000, "maxfun": 400_000})
    return np.split(best.x, ends[:-1])


def main() -> None:
    """Draw as many trials as are asked for, and print the laws."""
    rows = drawn(int(sys.argv[1]))
    for name in ("one side", "gantry"):
        of_these = [row for row in rows if (row[0].question == "one side") == (name == "one side")]
        print(name)
        for line, factors in zip(
            ("seen", "place", "width", "skew", "seen_place", "seen_width"), fitted(of_these), strict=True
        ):
            print(f"    {line}=({', '.join(f'{factor:.3f}' for factor in factors)}),")


if __name__ == "__main__":
    main()
