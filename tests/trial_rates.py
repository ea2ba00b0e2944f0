"""How often clean trials are said to show something: another protocol, a between part, strays.

Trials are made to order: normal scatter of standard deviation 1 within power-ups, rounded to a display step whose
phase differs from trial to trial.
"""

from collections.abc import Iterator

import numpy as np

from holdzero.compute.findings.misses import misses
from holdzero.compute.shape import shape
from holdzero.compute.spread import spread_of_sets, wrong_protocol
from holdzero.inputs.reading import Protocol


def clean(
    trials: int, *, sets: int, each: int, step: float, between: float = 0.0, seed: int = 1
) -> Iterator[np.ndarray]:
    """Clean trials. shape (sets, each)"""
    rng = np.random.default_rng([seed, sets, each, round(10 * step), round(10 * between)])
    for _ in range(trials):
        values = between * rng.standard_normal((sets, 1)) + rng.standard_normal((sets, each)) + 10 * rng.random()
        yield np.round(values / step) * step if step else values


def called_differences(trials: int, *, sets: int, each: int, step: float, between: float = 0.0) -> float:
    """Share of clean trials of deviations that are said to look like differences."""
    found = [
        wrong_protocol(list(values), declared=Protocol.OUTSIDE, resolution=step).looks_like
        for values in clean(trials, sets=sets, each=each, step=step, between=between)
    ]
    return sum(looks_like is not None for looks_like in found) / trials


def called_deviations(trials: int, *, sets: int, each: int, step: float) -> float:
    """Share of clean trials of differences, zeroed by a button, that are said to look like deviations."""
    found = [
        wrong_protocol(list(np.diff(values, axis=1)), declared=Protocol.PREVIOUS, resolution=step).looks_like
        for values in clean(trials, sets=sets, each=each + 1, step=step)
    ]
    return sum(looks_like is not None for looks_like in found) / trials


def between_above_nothing(trials: int, *, sets: int, each: int, step: float) -> float:
    """Share of trials without a between part whose lower limit of it is above 0."""
    found = [
        spread_of_sets(list(values), resolution=step).between
        for values in clean(trials, sets=sets, each=each, step=step)
    ]
    return sum(part is not None and part.low > 0 for part in found) / trials


def standing_apart(trials: int, *, sets: int, each: int, step: float) -> float:
    """Share of clean trials with a homing said to stand apart (at 5 % for the whole search)."""
    labels = np.repeat(np.arange(sets), each)
    found = [
        shape(values.ravel(), labels, resolution=step).outliers.places
        for values in clean(trials, sets=sets, each=each, step=step)
    ]
    return sum(bool(len(places)) for places in found) / trials


def with_a_gross_miss(trials: int, *, sets: int, each: int, step: float) -> float:
    """Share of clean trials with a homing said to be plainly wrong."""
    labels = np.repeat(np.arange(sets), each)
    found = [
        misses(values.ravel(), labels, resolution_mm=step, places=np.arange(values.size)).count
        for values in clean(trials, sets=sets, each=each, step=step)
    ]
    return sum(count > 0 for count in found) / trials
