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
    known = {name: findings for name, findings in worst.items() if findings is not None}
    day_to_day = all(findings.power_ups >= 2 for findings in known.values())
    beliefs = {
        name: belief
        for name, findings in known.items()
        if (belief := findings.posterior if day_to_day else findings.within_posterior) is not None
    }
    if len(beliefs) < 2:
        return None, ""
    homed = {
        name: Homed(
            values=findings.value_mm[findings.counted],
            sets=findings.homings.set_label[findings.counted],
            resolution=findings.rounding_mm,
        )
        for name, findings in known.items()
    }
    return compare(beliefs, homed), "day to day" if day_to_day else "within a power-up"


def _worse(sides: Sides) -> Findings | None:
    known = [f for f in sides.tried if f.posterior is not None and isfinite(f.posterior.value[-1])]
    return max(known, key=lambda findings: findings.spread.high, default=None)


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
    dearer_candidates = []
    for candidate in candidates:
        price = candidate.sensor.price
        if (
            candidate.verdict != Verdict.HOLDS
            or candidate.ruled_out
            or price is None
            or price <= best.sensor.price
        ):
            continue
        ratio = ratio_of(comparison, candidate.sensor.name, best.sensor.name)
        dearer_candidates.append(
            Dearer(
                sensor=candidate.sensor.name,
                extra=price - best.sensor.price,
                ratio=ratio,
                sentence=_what_it_buys(candidate, best, price - best.sensor.price, ratio),
            )
        )
    return tuple(sorted(dearer_candidates, key=lambda candidate: candidate.extra))


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


def _what_it_buys(candidate: Candidate, best: Candidate, extra: float, ratio: Interval | None) -> str:
    text = f"{candidate.sensor.name} costs {show(extra, 'price')} more"
    if ratio is None or ratio.middle is None:
        text += f"; how its spread compares with that of {best.sensor.name} is not known"
    elif ratio.high < 1 or ratio.low > 1:
        text += (
            f": its spread is {ratio.middle:.2g} times that of {best.sensor.name} "
            f"({ratio.low:.2g} to {ratio.high:.2g})"
        )
    else:
        text += (
            f", and its spread is not told apart from that of {best.sensor.name} "
            f"({ratio.low:.2g} to {ratio.high:.2g} times)"
        )
    if candidate.tolerance_times is not None and best.tolerance_times is not None:
        text += (
            f"; it would hold {candidate.tolerance_times:.2g} of the tolerance asked, {best.sensor.name} "
            f"{best.tolerance_times:.2g}"
        )
    return text + "."
