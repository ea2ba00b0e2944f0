"""Spans: what may be said of a candidate of which no reading was kept, only least, greatest and number."""

from collections.abc import Sequence

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.choose.more import nothing_more
from holdzero.compute.choose.outside import share_outside
from holdzero.compute.choose.values import DOES_NOT_HOLD, AllowedSpread, Candidate, Lack, Verdict
from holdzero.compute.findings.spans import SpanFindings
from holdzero.compute.tails.floors import FEWEST_POWER_UPS
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, column

READINGS_NEEDED = (
    "Spans do not show how the scatter is shaped, and nothing holds by them: take a trial and keep every reading"
)
_SIDE = {"L": "Left side", "R": "Right side"}


def judge_spans(
    sensor: Sensor,
    allowed: AllowedSpread,
    spans: Sequence[SpanFindings],
    *,
    ruled_out: tuple[str, ...],
    system: System = "metric",
) -> Candidate:
    """Judge one sensor by spans alone: at most `too close to call`.

    Parameters
    ----------
    sensor : Sensor
    allowed : AllowedSpread
        What the axis may have.
    spans : sequence of SpanFindings
        Its sides, at least one.
    ruled_out : tuple of str
        Hard facts that rule it out.
    system : {"metric", "inch"}
        Units of the sentences.

    Returns
    -------
    Candidate
        With the chance that the spread is at most what is allowed, by regular scatter, of the worst side; none
        under other tails. `does not hold` where that chance is at most 0.025, the spans differ no more than
        regular scatter makes them, and the display is not what limits them; the scatter within a power-up alone
        can show that too. docs/methods.md, section 1.
    """
    limit = allowed.spread_allowed_mm
    chances = [series.posterior.chance_at_most(limit) for series in spans if series.posterior is not None]
    known = len(chances) == len(spans)
    chance = min(chances) if known else None
    seen = all(series.power_ups >= 2 for series in spans)
    against = chance is not None and chance <= DOES_NOT_HOLD
    sound = not any(series.uneven or series.coarse for series in spans)
    verdict = (
        Verdict.CANNOT_SAY if not known else Verdict.DOES_NOT_HOLD if against and sound else Verdict.TOO_CLOSE
    )
    lacks = _lacks(allowed, spans)
    missing = () if verdict == Verdict.DOES_NOT_HOLD else lacks if verdict == Verdict.CANNOT_SAY else lacks[1:]
    settle = nothing_more(f"{READINGS_NEEDED}.") if verdict == Verdict.TOO_CLOSE else None
    return Candidate(
        sensor=sensor,
        verdict=verdict,
        chance_holds=chance if seen else None,
        chance_holds_heavy=None,
        chance_holds_wide=None,
        tails="unknown",
        rests_on=_rests_on(verdict),
        share_outside=_share(allowed, spans) if seen and known else None,
        misses=None,
        ruled_out=ruled_out,
        reasons=(
            *(_figure(series, limit, system) for series in spans),
            *(sentence for series in spans for sentence in _of_side(series)),
            *(lack.sentence for lack in missing),
            *([settle.sentence] if settle else []),
        ),
        parts=(),
        lacks=lacks,
        cautions=tuple({caution.text: caution for series in spans for caution in series.cautions}.values()),
        to_settle=settle,
        spans=tuple(spans),
    )


def beside_readings(spans: Sequence[SpanFindings]) -> tuple[Caution, ...]:
    """Say that spans are not used where readings were kept too."""
    if not spans:
        return ()
    return (Caution("spans-beside", "It has readings: the spans beside them are not used in its verdict."),)


def _rests_on(verdict: Verdict) -> str:
    match verdict:
        case Verdict.DOES_NOT_HOLD:
            return "does not hold even if the scatter is regular, by spans alone"
        case Verdict.TOO_CLOSE:
            return "spans alone: the readings are missing"
    return ""


def _lacks(allowed: AllowedSpread, spans: Sequence[SpanFindings]) -> tuple[Lack, ...]:
    missing = [Lack(code="readings", side="", sentence=f"{READINGS_NEEDED}.")]
    for series in spans:
        if series.power_ups < FEWEST_POWER_UPS:
            power_ups = f"{series.power_ups} power-up{'' if series.power_ups == 1 else 's'}"
            missing.append(
                Lack(
                    code="power-ups",
                    side=series.side,
                    sentence=f"{power_ups} can be read from these spans, {FEWEST_POWER_UPS} are needed.",
                    counted=series.power_ups,
                    need=FEWEST_POWER_UPS,
                )
            )
    if allowed.motors == 2 and allowed.squareness_limit_mm is not None:
        missing.append(
            Lack(
                code="both-sides",
                side="",
                sentence="Squareness needs both sides of the same homing, which spans do not keep.",
            )
        )
    return tuple(missing)


def _share(allowed: AllowedSpread, spans: Sequence[SpanFindings]) -> float | None:
    """Mean share outside what is asked if the scatter is regular, of the worst side, the other one alike. [-]"""
    shares = []
    for series in spans:
        if series.posterior is None:
            return None
        outside = share_outside(
            series.posterior.value,
            position_mm=allowed.position_limit_mm,
            squareness_mm=allowed.squareness_limit_mm,
            ends=allowed.motors,
            reach=allowed.reach,
        )
        shares.append(float(series.posterior.weight @ np.minimum(outside, 1.0)))
    return max(shares)


def _figure(series: SpanFindings, limit_mm: float, system: System) -> str:
    side = f"{_SIDE[series.side]}: the" if series.side in _SIDE else "The"
    within = "" if series.power_ups >= 2 else " within one power-up"
    if series.posterior is None:
        return f"{side} spread is not known: a span of 0 on a display whose step is not said."
    if series.spread.middle is None:
        (high, allowed), unit = column([series.spread.high, limit_mm], "length", system=system, digits=2)
        return f"{side} spread, by spans alone, is at most {high} {unit}{within}; {allowed} {unit} is allowed."
    figures = [series.spread.middle, series.spread.low, series.spread.high, limit_mm]
    (middle, low, high, allowed), unit = column(figures, "length", system=system, digits=2)
    return (
        f"{side} spread, by spans alone, is {middle} {unit}{within} (95 %: {low} to {high}); "
        f"{allowed} {unit} is allowed."
    )


def _of_side(series: SpanFindings) -> list[str]:
    side = f"{_SIDE[series.side]}: " if series.side in _SIDE else ""
    return [f"{side}{sentence}" for sentence in series.sentences]
