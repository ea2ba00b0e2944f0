"""Spread: one rounded set, and several sets, against the time a page may spend on them."""

from typing import Any

import numpy as np

from bench._measure import within
from holdzero.compute.spread import spread, spread_of_sets


def run() -> list[dict[str, Any]]:
    """Goals: a rounded posterior per set in 10 ms (1 ms hoped for), several sets in 20 ms."""
    rng = np.random.default_rng(1)
    one = rng.normal(0.0, 0.0016, 30).round(3)
    coarse = rng.normal(0.0, 0.0005, 30).round(3)
    sets = [rng.normal(rng.normal(0.0, 0.002), 0.002, 5) for _ in range(8)]
    fine_sets = [s.round(4) for s in sets]
    coarse_sets = [(s * 0.2).round(3) for s in sets]
    return [
        within("one set of 30, spread above the step", lambda: spread(one, resolution=0.001), limit_s=0.010),
        within("one set of 30, spread under the step", lambda: spread(coarse, resolution=0.001), limit_s=0.010),
        within("8 x 5, unrounded", lambda: spread_of_sets(sets, resolution=0.0), limit_s=0.020),
        within("8 x 5, rounded", lambda: spread_of_sets(fine_sets, resolution=0.0001), limit_s=0.020),
        within(
            "8 x 5, spread under the step", lambda: spread_of_sets(coarse_sets, resolution=0.001), limit_s=0.020
        ),
    ]
