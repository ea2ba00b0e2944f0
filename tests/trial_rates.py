"""How often clean trials are said to show something: another protocol, a between part, strays.

Trials are made to order: normal scatter of standard deviation 1 within power-ups, rounded to a display step whose
phase differs from trial to trial.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from holds_rates import Layout
from holdzero.compute.choose.cures import cures
from holdzero.compute.findings import find
from holdzero.compute.findings.find import find_in
from holdzero.compute.findings.misses import misses
from holdzero.compute.findings.pairs import difference
from holdzero.compute.shape import shape
from holdzero.compute.spread import spread_of_sets, wrong_protocol
from holdzero.inputs.reading import Protocol

DRIVE_STEPS = {"electrical cycle": 2.8, "full step": 0.7, "microstep": 0.04375}  # in scatters within a power-up


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


def with_a_cause(trials: int, *, sets: int, each: int, step: float, between: float = 0.0, seed: int = 2) -> float:
    """Share of clean gantries, both sides read, zeroed on a homing, of which any cause to cure is named."""
    rng = np.random.default_rng([seed, sets, each, round(10 * step), round(10 * between)])
    layout, named = Layout(sets, each), 0
    for _ in range(trials):
        findings = []
        for side in "LR":
            values = between * rng.standard_normal((sets, 1)) + rng.standard_normal((sets, each))
            values = values.ravel() - np.hypot(1, between) * rng.standard_normal()
            values = np.round(values / step + rng.random()) * step if step else values
            homings = replace(layout.empty(side), deviation_mm=values, resolution_mm=step or None)
            findings.append(find(homings, steps=DRIVE_STEPS))
        series = [*findings, find_in(difference(*findings))]
        named += bool(cures(series, series[0].misses))
    return named / trials
