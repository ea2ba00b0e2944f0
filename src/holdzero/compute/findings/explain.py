"""Explain: each figure of the findings in a sentence a builder understands, with its method and source."""

from dataclasses import dataclass
from typing import Any

from holdzero.compute.findings.behaviour import Behaviour
from holdzero.compute.findings.growth import GrowthSeen
from holdzero.compute.findings.values import Findings
from holdzero.compute.steady import Warmth
from holdzero.quantity import System, show_interval, show_temperatures

_METHODS = "docs/methods.md"
_HANDBOOK = "NIST/SEMATECH e-Handbook of Statistical Methods"


@dataclass(frozen=True, slots=True, kw_only=True)
class Explained:
    """One figure.

    Parameters
    ----------
    name : str
        What a page calls it.
    kind : str
        How it is shown: "interval" (an `Interval` of lengths), "length", "share", "text".
    value : Interval, float or str
        Lengths in mm.
    sentence : str
        What it tells a person at the machine.
    method : str
        How it was worked out.
    source : str
        Where that is written down.
    """

    name: str
    kind: str
    value: Any
    sentence: str
    method: str
    source: str


def explain(findings: Findings, *, system: System = "metric") -> tuple[Explained, ...]:
    """Explain the figures of one candidate, those that matter most first.

    Parameters
    ----------
    findings : Findings
    system : {"metric", "inch"}
        Units of the figures in words.
    """
    return tuple(
        Explained(name=name, kind=kind, value=value, sentence=sentence, method=method, source=source)
        for name, kind, value, sentence, method, source in (
            *_spread(findings),
            *_misses(findings),
            *_plain(findings),
            *(_setup(findings) if findings.setup else ()),
            *(_in_time(findings.behaviour, findings.growth, system) if findings.behaviour else ()),
            *(_with_speed(findings.behaviour, system) if findings.behaviour else ()),
            *(_of_shape(findings.behaviour) if findings.behaviour else ()),
            *_moments(findings),
            *_rest(findings),
        )
    )


_Row = tuple[str, str, Any, str, str, str]


def _spread(findings: Findings) -> list[_Row]:
    day = findings.between is not None
    rows: list[_Row] = [
        (
            "Spread, day to day" if day else "Spread in one set",
            "interval",
            findings.spread,
            "How far homings land from where they usually land: about two of three lie within one spread of it. "
            + ("Switching off and on is in it." if day else "What switching off and on adds is not in it."),
            "Median and 95 % interval of what is believed of it; the steps of the display are taken into account.",
            f"{_METHODS}, sections 1 to 3; {_HANDBOOK}, 7.2.3.1",
        )
    ]
    if findings.between is not None:
        rows += [
            (
                "within a set",
                "interval",
                findings.within,
                "The part that shows without switching off: sensor, drive and reading.",
                "One-way random effects.",
                f"{_METHODS}, section 3, after G. E. P. Box and G. C. Tiao (1973)",
            ),
            (
                "between sets",
                "interval",
                findings.between,
                "The part that comes from switching off and on: another motor angle, another temperature.",
                "One-way random effects.",
                f"{_METHODS}, section 3",
            ),
        ]
    return rows


def _misses(findings: Findings) -> list[_Row]:
    misses = findings.misses
    return [
        (
            "Gross misses",
            "text",
            f"{misses.count or 'none'} in {misses.n}",
            "Homings that are plainly wrong, set aside or not: another event, not the tail of the scatter.",
            "Farther from the middle of the set than 8 robust standard deviations.",
            f"{_METHODS}, section 4",
        ),
        (
            "their share, at most",
            "share",
            misses.high_95,
            "So few homings cannot show that misses are rarer than this.",
            "Exact binomial limit, 95 %.",
            "C. J. Clopper and E. S. Pearson, Biometrika 26 (1934)",
        ),
    ]


def _plain(findings: Findings) -> list[_Row]:
    rows: list[_Row] = [
        (
            "Span read",
            "length",
            findings.span_mm,
            "From the lowest reading to the highest. It grows with every homing: no promise for the next.",
            "Largest less smallest.",
            f"{_HANDBOOK}, 1.3.5.6",
        ),
        (
            "Plain standard deviation",
            "length",
            findings.sd_mm,
            "What a pocket calculator gives for these readings, doubt and display left out.",
            "Root of the squared deviations over n − 1.",
            f"{_HANDBOOK}, 1.3.5.6",
        ),
        (
            "Mean",
            "length",
            findings.mean_mm,
            "Where homings land on average. An offset can take it out; it cannot take out the spread.",
            "Sum over n.",
            f"{_HANDBOOK}, 1.3.5.1",
        ),
    ]
    figures = findings.behaviour and findings.behaviour.iso230
    if figures:
        towards = findings.behaviour.directions if findings.behaviour else ()
        named = f", {towards[0]}" if len(towards) > 1 else ""
        rows.append(
            (
                f"Repeatability, ISO 230-2{named}",
                "length",
                figures.forward,
                "Four standard deviations: for comparing with machines stated this way, not a promise.",
                "4 s of the homings approached from one direction.",
                "ISO 230-2:2014",
            )
        )
        if figures.reverse is not None:
            rows += [
                (
                    f"the same, {towards[1]}",
                    "length",
                    figures.reverse,
                    "From the other side.",
                    "4 s.",
                    "ISO 230-2:2014",
                ),
                (
                    "Reversal value",
                    "length",
                    figures.reversal,
                    "How far apart the two directions land: backlash, or the way from trip to release.",
                    "Mean one way less mean the other way.",
                    "ISO 230-2:2014",
                ),
                (
                    "Repeatability, both directions",
                    "length",
                    figures.bidirectional,
                    "What stays if homing may come from either side.",
                    "max(2 s + 2 s' + reversal value, 4 s, 4 s').",
                    "ISO 230-2:2014",
                ),
            ]
    return rows


def _setup(findings: Findings) -> list[_Row]:
    own = findings.setup
    if own is None:
        return []
    rows: list[_Row] = [
        (
            "Spread of the set-up",
            "interval",
            own.spread,
            own.sentence,
            "Readings taken again without homing, about the mean of each place of rest.",
            f"{_METHODS}, section 9",
        )
    ]
    if own.homing is not None:
        rows.append(
            (
                "Spread without it",
                "interval",
                own.homing,
                "What the switch and the machine scatter by themselves.",
                "Variances subtracted, the doubt of both kept.",
                f"{_METHODS}, section 9",
            )
        )
    return rows


def _in_time(behaviour: Behaviour, growth: GrowthSeen | None, system: System) -> list[_Row]:
    time = behaviour.time
    rows: list[_Row] = [
        (
            "Steady",
            "text",
            "not yet" if time.unsteady else "no drift seen",
            f"Wander, warm-up or step: a steady machine shows as much with a chance of {time.p:.2g}.",
            "Line, warm-up and step within sets by seeded shuffles, line and step of the set means.",
            f"{_METHODS}, section 7",
        )
    ]
    if behaviour.drift_cue is not None:
        rows.append(
            (
                "Drift-proof spread",
                "length",
                time.sd_successive,
                (
                    f"From homing to homing. Within sets it is {behaviour.drift_cue:.2f} times that; well "
                    "over 1: drift."
                ),
                "Root of the mean square of successive differences, over 2.",
                "J. von Neumann, Ann. Math. Stat. 12 (1941)",
            )
        )
    if behaviour.per_homing is not None:
        low, high = sorted(behaviour.per_homing.interval())
        rows.append(
            (
                "Wander",
                "text",
                f"{show_interval(low, high, 'length', system=system)} per homing",
                "How far each homing of a set lies from the one before on average; around 0 there is none.",
                "Least squares within sets, 95 % by Student's t with errors that allow for uneven scatter (HC3).",
                f"{_HANDBOOK}, 4.1.4.1; {_METHODS}, section 7",
            )
        )
    if behaviour.warmth is not None:
        rows += _warmth(behaviour.warmth, growth, system)
    return rows


def _warmth(warmth: Warmth, growth: GrowthSeen | None, system: System) -> list[_Row]:
    """What the temperature does, and for which temperatures that was seen."""
    noted = show_temperatures(warmth.low_degc, warmth.high_degc, system=system)
    seen = f"Noted at {noted}; a verdict is about these."
    rows: list[_Row] = []
    if warmth.between is not None:
        low, high = sorted(warmth.between.interval())
        rows.append(
            (
                "With temperature",
                "text",
                show_interval(low, high, "drift", system=system),
                growth.sentence
                if growth
                else f"How far the home position moves with the temperature, from power-up to power-up. {seen}",
                "Means of power-ups on their mean temperatures, least squares, 95 % by Student's t.",
                f"{_METHODS}, section 7" + (f"; {growth.expected.source}" if growth and growth.expected else ""),
            )
        )
    if warmth.within is not None or not warmth.told_apart:
        value = "cannot be told apart"
        if warmth.within is not None:
            low, high = sorted(warmth.within.interval())
            value = show_interval(low, high, "drift", system=system)
        rows.append(
            (
                "within a set" if warmth.between is not None else "With temperature",
                "text",
                value,
                "The temperature rose with the number of the homing: growth and settling cannot be told apart."
                if not warmth.told_apart
                else f"What is left of it once the number of the homing is cleared from both. {seen}",
                "Least squares within sets after means by homing number, 95 % (HC3).",
                f"{_METHODS}, section 7",
            )
        )
    return rows


def _with_speed(behaviour: Behaviour, system: System) -> list[_Row]:
    rows: list[_Row] = []
    if behaviour.delay is not None:
        low, high = sorted(behaviour.delay.interval())
        rows.append(
            (
                "Delay",
                "text",
                f"{show_interval(low, high, 'time')}",
                "Time from trip to reaction. Harmless as long as every homing creeps at the same speed.",
                "Slope of home position on speed within sets, 95 % (HC3).",
                f"{_METHODS}, section 7",
            )
        )
    if behaviour.jitter is not None:
        rows.append(
            (
                "Jitter of the delay",
                "text",
                show_interval(behaviour.jitter.jitter.low, behaviour.jitter.jitter.high, "time"),
                "How much that time varies: this part of the spread shrinks with the creep speed.",
                (
                    f"Scatter at {behaviour.jitter.speeds.size} speeds, variance growing with the square "
                    "of speed, 95 %."
                ),
                f"{_METHODS}, section 7",
            )
        )
    return rows


def _of_shape(behaviour: Behaviour) -> list[_Row]:
    normality, order = behaviour.scatter.normality, behaviour.runs
    apart = len(behaviour.scatter.outliers.places)
    return [
        (
            "Bell curve",
            "text",
            "cannot be seen" if normality is None else "does not fit" if normality.fires else "fits",
            "Whether the scatter looks regular; how far the verdict leans on that is weighed by itself. "
            + (
                f"Here: {behaviour.scatter.unseen}"
                if normality is None
                else f"Statistic {normality.adjusted:.2f}, limit {normality.limit}"
            ),
            "Anderson-Darling of the homings about their set's mean, blurred over the display step; limit at 5 %.",
            "M. A. Stephens in Goodness-of-Fit Techniques (1986), table 4.7 (not re-read)",
        ),
        (
            "Homings that stand apart",
            "text",
            str(apart or "none"),
            "Homings too far from the others to be their scatter.",
            "Generalised extreme studentised deviates, 5 % for the whole search.",
            f"{_HANDBOOK}, 1.3.5.17.3",
        ),
        (
            "Runs about the middle",
            "text",
            str(order.runs),
            f"Few long runs mean a wander, very many taking turns; chance alone does as much with {order.p:.2g}.",
            "Runs about the median, set means taken out.",
            f"{_HANDBOOK}, 1.3.5.13",
        ),
    ]


def _moments(findings: Findings) -> list[_Row]:
    names = {"first-set": "First set", "next-day": "Another day", "first-homing": "First homings"}
    return [
        (
            names[moment.code],
            "text",
            "differs" if moment.shows else "no different",
            f"{moment.sentence} Chance would do as much with {moment.shift.p:.2g}.",
            "Student's t, 1 %.",
            f"{_METHODS}, section 9; {_HANDBOOK}, 1.3.5.3",
        )
        for moment in findings.moments
    ]


def _rest(findings: Findings) -> list[_Row]:
    rows: list[_Row] = []
    if findings.lag1 is not None:
        rows.append(
            (
                "Correlation with the last",
                "text",
                f"{findings.lag1:.2f}".replace("-", "−"),
                "Near 0 each homing stands for itself; near 1 they wander, near −1 they take turns.",
                "Lag 1, about the mean of each set.",
                f"{_HANDBOOK}, 1.3.5.12",
            )
        )
    step = findings.resolution_mm
    rows.append(
        (
            "Display step",
            "text" if step is None else "length",
            "not said" if step is None else step,
            "The display cannot show less; what it hides is in the interval of the spread.",
            "As stated with the readings.",
            f"{_METHODS}, section 2",
        )
    )
    if findings.with_set_aside is not None:
        rows += [
            ("Set aside", "text", str(findings.n_set_aside), "Left out of these figures, with a reason.", "", ""),
            (
                "spread with them",
                "interval",
                findings.with_set_aside.spread,
                "The same figure with the readings that were set aside, so that both stay visible.",
                "As above.",
                f"{_METHODS}, sections 1 to 3",
            ),
        ]
    return rows
