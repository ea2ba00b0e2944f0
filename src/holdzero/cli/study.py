"""`holdzero study`: what the homings of each candidate say."""

from collections.abc import Callable, Sequence
from math import isfinite
from typing import TYPE_CHECKING

import click

from holdzero.caution import HOMING_MOVES
from holdzero.cli import show
from holdzero.cli.options import (
    counted_elsewhere,
    how_read,
    json_too,
    misses_too,
    read_file_of_readings,
    units_too,
)
from holdzero.cli.source import machine_of
from holdzero.compute.findings import Behaviour, Findings, SpanFindings, Study, study, study_as_json
from holdzero.compute.signature import Signature
from holdzero.quantity import System, column, fixed, show_interval

if TYPE_CHECKING:  # the keys of a machine take time to read, and most studies know none
    from holdzero.inputs.machine.values import Axis


@click.command()
@click.argument("readings")
@click.option("--machine", metavar="FILE", help="The machine (TOML): its steps are looked for in the readings.")
@misses_too
@how_read
@units_too
@json_too
def command(
    readings: str,
    machine: str | None,
    misses: tuple[str, ...],
    resolution: str | None,
    step: str | None,
    protocol: str | None,
    units: System,
    json_wanted: bool,
) -> int:
    """What the homings of each candidate say.

    READINGS is a CSV file, a workbook (XLSX), or - for standard input: a row a reading, or a row a power-up with
    least_mm, greatest_mm and n where no readings were kept.
    """
    taken = read_file_of_readings(readings, resolution=resolution, step=step, protocol=protocol)
    result = study(taken, axes=_axes(machine), more_misses=counted_elsewhere(misses), system=units)
    if json_wanted:
        show.as_json(study_as_json(result))
    else:
        show.page(*blocks(result, system=units))
    return 0


def _axes(machine: str | None) -> "tuple[Axis, ...]":
    if machine is None:
        return ()
    return machine_of(machine).axes


def blocks(result: Study, *, system: System = "metric") -> list[show.Block]:
    """What a person sees: how much was read, the figures, then what to know before trusting them."""
    return [
        _missed(result),
        _headline(result),
        *_figures(result, system),
        *_spans(result, system),
        *_behaviour(result, system),
        _growths(result),
        _setups(result),
        *_conditions(result, system),
        *_patterns(result),
        *_cautions(result),
        show.Points("Notes", result.notes),
    ]


def _missed(result: Study) -> str:
    """A machine with a gross miss is told so first."""
    counts = [
        f"{name(findings)} {findings.misses.count} in {findings.misses.n}"
        for findings in result.findings
        if findings.misses.count and findings.side != "difference"
    ]
    return f"Gross misses first, find their cause: {', '.join(counts)}." if counts else ""


def _headline(result: Study) -> str:
    sides = [findings for findings in result.series if findings.side != "difference"]
    homings, sensors = sum(side.n for side in sides), len({side.sensor for side in sides})
    unsteady = [
        name(findings) for findings in result.findings if any(s.code == "not-steady" for s in findings.signatures)
    ]
    text = f"{homings} homing{'' if homings == 1 else 's'} of {sensors} candidate{'' if sensors == 1 else 's'}"
    return text + (f"; not yet steady: {', '.join(unsteady)}." if unsteady else ".")


def _figures(result: Study, system: System) -> list[show.Block]:
    findings = result.findings
    if not findings and result.spans:
        return []
    unit, decimals = _scale(findings, system)

    def cell(value: float | None) -> str:
        return fixed(value, "length", unit=unit, decimals=decimals)[0] if value is None or isfinite(value) else "–"

    several = len({f.axis for f in findings}) > 1
    rows = [
        (
            f.sensor or "–",
            *([f.axis or "–"] if several else []),
            {"difference": "R−L"}.get(f.side, f.side or "–"),
            str(f.n),
            str(f.sets),
            *map(cell, (f.mean_mm, f.span_mm, f.sd_mm, f.spread.middle)),
            *map(cell, (f.spread.low, f.spread.high) if f.posterior else (None, None)),
            *map(cell, (f.within.middle, f.between.middle if f.between else None)),
            f"{f.misses.count}/{f.misses.n}",
        )
        for f in findings
    ]
    words = ("sensor", *(["axis"] if several else []), "side")
    figures = ("n", "sets", "mean", "span", "sd", "spread", "from", "to", "within", "between", "misses")
    where = "" if several or not findings or not findings[0].axis else f"Axis {findings[0].axis}. "
    return [
        f"{where}Lengths in {unit}; spread from one power-up to another, with its 95 % limits.",
        show.Table((*words, *figures), rows, left=tuple(range(len(words)))),
    ]


def _spans(result: Study, system: System) -> list[show.Block]:
    """What spans alone say, a line a series, then each in words."""
    spans = result.spans
    if not spans:
        return []
    unit, decimals = _scale(spans, system)

    def cell(value: float | None) -> str:
        return fixed(value, "length", unit=unit, decimals=decimals)[0] if value is None or isfinite(value) else "–"

    rows = [
        (
            name(series),
            str(series.n),
            str(series.sets),
            *map(cell, (series.whole_mm, series.sigma_mm, series.spread.middle)),
            *map(cell, (series.spread.low, series.spread.high) if series.posterior else (None, None)),
            *map(cell, (series.within.middle, series.between.middle if series.between else None)),
        )
        for series in spans
    ]
    head = ("series", "n", "sets", "whole span", "span / d2", "spread", "from", "to", "within", "between")
    sentences = [f"{name(series)}: {sentence}" for series in spans for sentence in series.sentences]
    return [
        f"By spans alone. Lengths in {unit}; spread from one power-up to another, with its 95 % limits.",
        show.Table(head, rows, left=(0,)),
        show.Points("What the spans say", sentences),
    ]


def _scale(findings: Sequence[Findings | SpanFindings], system: System) -> tuple[str, int]:
    """One unit and number of decimals for all lengths, so that they compare: two digits of the least spread."""
    sizes = [f.spread.middle or f.spread.high for f in findings if f.posterior]
    if not sizes:
        return ("mm", 4) if system == "metric" else ("in", 5)
    _, unit = column([min(sizes)], "length", system=system)
    if len(fixed(min(sizes), "length", unit=unit, decimals=0)[0]) > 2:
        return unit, 0
    limits = (size for f in findings if f.posterior for size in (f.spread.low, f.spread.middle, f.spread.high))
    least = min(filter(None, limits))
    enough = (d for d in (1, 2) if len(fixed(least, "length", unit=unit, decimals=d)[0].lstrip("0.")) >= 2)
    return unit, next(enough, 3)


def _behaviour(result: Study, system: System) -> list[show.Block]:
    """What time, speed, warmth and direction do, a line a series."""
    known = [
        (findings, findings.behaviour)
        for findings in result.findings
        if findings.behaviour and not findings.all_alike
    ]
    if not known:
        return []
    unit, decimals = _scale(result.findings, system)

    def cell(value: float | None) -> str:
        return fixed(value, "length", unit=unit, decimals=decimals)[0]

    both_ways = any(behaviour.iso230 and behaviour.iso230.reversal is not None for _, behaviour in known)
    head = (
        "series",
        "drift-proof sd",
        "sd over it",
        "steady",
        "lag-1",
        "runs",
        "bell curve",
        "apart",
        "4 × sd",
    )
    more = [(word, say) for word, say in _followed(system) if any(say(behaviour) for _, behaviour in known)]
    rows = [
        (
            name(findings),
            cell(behaviour.time.sd_successive),
            "–" if behaviour.drift_cue is None else f"{behaviour.drift_cue:.2f}",
            f"p {behaviour.time.p:.2g}",
            "–" if findings.lag1 is None else f"{findings.lag1:.2f}".replace("-", "−"),
            f"p {behaviour.runs.p:.2g}",
            "–" if behaviour.scatter.normality is None else "no" if behaviour.scatter.normality.fires else "fits",
            str(len(behaviour.scatter.outliers.places)),
            cell(behaviour.iso230.forward if behaviour.iso230 else None),
            *(
                [
                    cell(behaviour.iso230.reversal if behaviour.iso230 else None),
                    cell(behaviour.iso230.bidirectional if behaviour.iso230 else None),
                ]
                if both_ways
                else []
            ),
            *(say(behaviour) or "–" for _, say in more),
        )
        for findings, behaviour in known
    ]
    return [
        "Drift-proof: from one homing to the next. 4 × sd: repeatability as ISO 230-2 states it, not a promise.",
        show.Table(
            (*head, *(("reversal", "both ways") if both_ways else ()), *(word for word, _ in more)),
            rows,
            left=(0,),
        ),
    ]


def _followed(system: System) -> list[tuple[str, Callable[[Behaviour], str]]]:
    """What the homings follow, where it was noted: name and 95 % interval in words."""

    def delay(behaviour: Behaviour) -> str:
        return show_interval(*behaviour.delay.interval(), "time") if behaviour.delay else ""

    def jitter(behaviour: Behaviour) -> str:
        return (
            show_interval(behaviour.jitter.jitter.low, behaviour.jitter.jitter.high, "time")
            if behaviour.jitter
            else ""
        )

    def warmth(behaviour: Behaviour) -> str:
        slope = behaviour.warmth.slope if behaviour.warmth else None
        return show_interval(*slope.interval(), "length", system=system) if slope else ""

    return [("delay", delay), ("jitter", jitter), ("per °C", warmth)]


def _growths(result: Study) -> show.Points:
    """What the temperature does from power-up to power-up, against what the machine would."""
    sentences = [
        f"{name(findings)}: {findings.growth.sentence}" for findings in result.findings if findings.growth
    ]
    return show.Points("With temperature", sentences)


def _setups(result: Study) -> show.Points:
    sentences = [f"{name(findings)}: {findings.setup.sentence}" for findings in result.findings if findings.setup]
    return show.Points("The measuring set-up", sentences)


def _conditions(result: Study, system: System) -> list[show.Block]:
    """Each condition apart, and whether the change helped."""
    split = [(findings, condition) for findings in result.findings for condition in findings.conditions]
    if not split:
        return []
    unit, decimals = _scale(result.findings, system)

    def cell(value: float | None) -> str:
        return fixed(value, "length", unit=unit, decimals=decimals)[0] if value is None or isfinite(value) else "–"

    rows = [
        (
            name(findings),
            under_condition.condition,
            str(under_condition.n),
            *map(
                cell,
                (
                    under_condition.mean_mm,
                    under_condition.sd_mm,
                    under_condition.spread.middle,
                    under_condition.spread.low,
                    under_condition.spread.high,
                ),
            ),
            f"{under_condition.misses.count}/{under_condition.misses.n}",
        )
        for findings, under_condition in split
    ]
    head = ("series", "condition", "n", "mean", "sd", "spread", "from", "to", "misses")
    sentences = [
        f"{name(findings)}: {effect.sentence}" for findings in result.findings for effect in findings.effects
    ]
    return [show.Table(head, rows, left=(0, 1)), show.Points("Did that change help?", sentences)]


_HEADS = {
    "not-steady": "Not yet steady",
    "shape": "Scatter that does not look like a bell curve",
    "outlying": "Homings that stand apart",
    "first-set": "The first set is not like the others",
    "first-homing": "The first homing after power-up is not like the others",
    "next-day": "Another day, another place",
    "wrong-protocol": "Readings that look as if taken another way than said",
}


def _patterns(result: Study) -> list[show.Block]:
    """Each kind of pattern once: where it shows, what it comes from, how to tell."""
    kinds: dict[str, list[tuple[str, Signature]]] = {}
    for findings in result.findings:
        for signature in findings.signatures:
            kinds.setdefault(signature.code, []).append((name(findings), signature))
    before = [HOMING_MOVES] if any(s.check for seen in kinds.values() for _, s in seen) else []
    return [
        show.Points("Before any check", before),
        *(
            show.Points(
                _HEADS.get(code, code.replace("-", " ").capitalize()),
                [
                    *(f"{where}: {signature.sentence}" for where, signature in seen),
                    *(
                        f"Likely, most likely first: {'; '.join(causes)}. {check}"
                        for causes, check in dict.fromkeys(
                            (signature.causes, signature.check) for _, signature in seen
                        )
                    ),
                ],
            )
            for code, seen in kinds.items()
        ),
    ]


def _cautions(result: Study) -> list[show.Block]:
    """Each caution once, with the candidates it is about."""
    about: dict[str, list[str]] = {}
    for findings in result.series:
        for caution in findings.cautions:
            about.setdefault(caution.text, []).append(name(findings))
    everyone = len(result.series)
    return [
        show.Points(
            "Before trusting these figures",
            [text if len(names) == everyone else f"{', '.join(names)}: {text}" for text, names in about.items()],
        )
    ]


def name(findings: Findings | SpanFindings) -> str:
    """What to call one series: "B left", "B right minus left"."""
    side = {"L": "left", "R": "right", "difference": "right minus left"}.get(findings.side, "")
    return " ".join(word for word in (findings.sensor, side) if word) or "These homings"
