"""Compared: whose spread is the smallest, how sure that is, and what more money buys."""

from collections.abc import Mapping
from math import isfinite

from holdzero.compute.choose.parts import Sides
from holdzero.compute.choose.values import Candidate, Dearer, Verdict
from holdzero.compute.compare import Comparison, Homed, Ratio, compare
from holdzero.compute.findings.values import Findings
from holdzero.compute.spread import Interval
from holdzero.quantity import show


def compared(tried: Mapping[str, Sides]) -> tuple[Comparison | None, str]:
    """Compare the candidates by the worse of their sides.

    Parameters
    ----------
    tried : mapping of str to Sides
        What was tried of each candidate.

    Returns
    -------
    comparison : Comparison or None
        None with fewer than two candidates whose spread can be believed in at all.
    basis : str
        "day to day"; "within a power-up" where one of them has seen a single one.
    """
    worst = {name: _worse(sides) for name, sides in tried.items()}
    known = {name: found for name, found in worst.items() if found is not None}
    day_to_day = all(found.power_ups >= 2 for found in known.values())
    beliefs = {
        name: belief
        for name, found in known.items()
        if (belief := found.posterior if day_to_day else found.within_posterior) is not None
    }
    if len(beliefs) < 2:
        return None, ""
    homed = {
        name: Homed(
            values=found.value_mm[found.counted],
            sets=found.homings.set_label[found.counted],
            resolution=found.rounding_mm,
        )
        for name, found in known.items()
    }
    return compare(beliefs, homed), "day to day" if day_to_day else "within a power-up"


def _worse(sides: Sides) -> Findings | None:
    known = [f for f in sides.tried if f.posterior is not None and isfinite(f.posterior.value[-1])]
    return max(known, key=lambda found: found.spread.high, default=None)


def dearer(
    candidates: tuple[Candidate, ...], choice: str | None, comparison: Comparison | None
) -> tuple[Dearer, ...]:
    """Say what each dearer candidate that holds offers beyond the one chosen.

    Parameters
    ----------
    candidates : tuple of Candidate
    choice : str or None
        The one chosen.
    comparison : Comparison, optional
        Of their spreads.
    """
    best = next((c for c in candidates if c.sensor.name == choice), None)
    if best is None or best.sensor.price is None:
        return ()
    found = []
    for one in candidates:
        price = one.sensor.price
        if one.verdict != Verdict.HOLDS or one.ruled_out or price is None or price <= best.sensor.price:
            continue
        ratio = ratio_of(comparison, one.sensor.name, best.sensor.name)
        found.append(
            Dearer(
                sensor=one.sensor.name,
                extra=price - best.sensor.price,
                ratio=ratio,
                sentence=_what_it_buys(one, best, price - best.sensor.price, ratio),
            )
        )
    return tuple(sorted(found, key=lambda one: one.extra))


def ratio_of(comparison: Comparison | None, name: str, to: str) -> Interval | None:
    """Spread of one candidate over that of another, whichever way round the pair was taken. [-]"""
    for pair in comparison.ranking.ratios if comparison else ():
        if (pair.name, pair.to) == (name, to):
            return pair.ratio
        if (pair.name, pair.to) == (to, name):
            return _turned(pair)
    return None


def _turned(pair: Ratio) -> Interval:
    middle = pair.ratio.middle
    return Interval(None if middle is None else 1 / middle, 1 / pair.ratio.high, 1 / pair.ratio.low)


def _what_it_buys(one: Candidate, best: Candidate, extra: float, ratio: Interval | None) -> str:
    told = f"{one.sensor.name} costs {show(extra, 'price')} more"
    if ratio is None or ratio.middle is None:
        told += f"; how its spread compares with that of {best.sensor.name} is not known"
    elif ratio.high < 1 or ratio.low > 1:
        told += (
            f": its spread is {ratio.middle:.2g} times that of {best.sensor.name} "
            f"({ratio.low:.2g} to {ratio.high:.2g})"
        )
    else:
        told += (
            f", and its spread is not told apart from that of {best.sensor.name} "
            f"({ratio.low:.2g} to {ratio.high:.2g} times)"
        )
    if one.tolerance_times is not None and best.tolerance_times is not None:
        told += (
            f"; it would hold {one.tolerance_times:.2g} of the tolerance asked, {best.sensor.name} "
            f"{best.tolerance_times:.2g}"
        )
    return told + "."
