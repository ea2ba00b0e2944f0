"""Findings: what the homings of each candidate say."""

from collections.abc import Iterable, Sequence
from math import isfinite
from typing import TYPE_CHECKING

from holdzero.caution import HOMING_MOVES
from holdzero.compute.findings import explain
from holdzero.compute.findings.explain import Explained
from holdzero.compute.findings.values import Findings, Study
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread.one import NO_STEP
from holdzero.quantity import System, show, show_chance, show_interval
from holdzero.tell.blocks import Answer, Block, Note, Points, Section, Table
from holdzero.tell.lengths import Lengths
from holdzero.tell.words import count_of, listed, paragraph, sentence, side_of

if TYPE_CHECKING:  # a choice takes time to load, and a study needs none; few trials have spans alone
    from holdzero.compute.choose.values import Part
    from holdzero.compute.findings.spans import SpanFindings

READING = (
    "All figures are day-to-day ones unless they are called within; an interval has a chance of 95\u202f%. "
    "Drift-proof: from one homing to the next. 4 × sd: repeatability as ISO 230-2 states it, not a promise."
)


def tell_findings(study: Study, *, system: System = "metric") -> Answer:
    """Tell what the homings of each candidate say.

    Parameters
    ----------
    study : Study
    system : {"metric", "inch"}
        Units shown.
    """
    series = [findings for findings in study.series if findings.side != "difference"]
    explained = next((findings for findings in study.findings if findings.posterior), None)
    missed = any(findings.misses.count for findings in study.findings)  # then each row and cause needs the room
    table = (
        candidates_table(study.findings, system=system)
        if study.findings or not study.spans
        else spans_table(study.spans, system=system)
    )
    groups = by_candidate(study.findings).items()
    return Answer(
        headline=headline(study, system=system),
        lead=(*([] if missed else [_how_many(series)]), *map(sentence, study.notes)),
        to_do=Points(_to_do(study.findings)),
        before=(HOMING_MOVES,) if any(s.check for f in study.findings for s in f.signatures) else (),
        table=table,
        more=(*_spans(study.spans, system), *(_candidate(name, group, system) for name, group in groups)),
        explained=(
            *([explained_section(explained, system)] if explained else []),
            *_cautions(study.findings),
        ),
    )


def headline(study: Study, *, system: System = "metric") -> str:
    """Say gross misses first, then what has to be cured; of one series its spread, of several that nothing shows.

    Parameters
    ----------
    study : Study
    system : {"metric", "inch"}
        Units shown.
    """
    series = [findings for findings in study.findings if findings.side != "difference"]
    groups = by_candidate(series).items()
    missed = {name: group for name, group in groups if any(f.misses.count for f in group)}
    if missed:
        theirs = [f.misses for group in missed.values() for f in group]
        count, homings = sum(misses.count for misses in theirs), sum(misses.n for misses in theirs)
        of_them = listed(list(missed), most=4)
        return f"Gross misses first, find their cause: {count} in {homings} homings of {of_them}."
    caps = [name for name, group in groups if any(s.lowers for f in group for s in f.signatures)]
    if caps:
        return f"The readings of {listed(caps, most=5)} show a cause to cure first."
    if not series:
        only_spans = "Spans alone cannot show the tails: with them nothing can be shown to hold."
        return only_spans if study.spans else "No homings."
    return (
        spread_of(series[0], system=system) if len(series) == 1 else "No gross miss, and no cause to cure first."
    )


def spread_of(findings: Findings, *, system: System = "metric") -> str:
    """Say the spread of one series, how well it is known, and what it rests on."""
    name, spread = series_name(findings), findings.spread
    rests = f"by {count_of(findings.n, 'homing')} in {count_of(findings.sets, 'power-up')}"
    if not isfinite(spread.high):
        return f"{name}: no spread can be stated, {rests}."
    if spread.middle is None:
        most = show(spread.high, "length", system=system, digits=2)
        return f"{name}: spread at most {most}, {rests}; the display shows no more."
    middle = show(spread.middle, "length", system=system, digits=2)
    limits = show_interval(spread.low, spread.high, "length", system=system)
    return f"{name}: spread {middle} ({limits}), {rests}."


def candidates_table(findings: Sequence[Findings], *, system: System = "metric") -> Table:
    """Return a row a candidate and axis: spread of each side, and of the difference with its interval."""
    say = Lengths(findings, system)
    groups = by_candidate(findings)
    sided, alone = (any(bool(f.side) is of_a_side for f in findings) for of_a_side in (True, False))
    rows = []
    for name, group in groups.items():
        by_side = {f.side: f.spread for f in group}
        misses = sum(f.misses.count for f in group if f.side != "difference")
        homings = sum(f.misses.n for f in group if f.side != "difference")
        sides = [say.middle(by_side.get(side)) for side in "LR"] if sided else []
        whole = say.interval(by_side.get("difference") or by_side.get(""))
        rows.append((name, *sides, whole, f"{misses}/{homings}", shows(group)))
    whole_of = "right − left or one side" if sided and alone else "right − left" if sided else "spread"
    names = (*(("left", "right") if sided else ()), whole_of)
    heads = tuple(f"{name} {say.unit.name}" for name in names)
    return Table(
        "Spread from one power-up to another, and its 95\u202f% interval",
        ("Candidate", *heads, "Gross misses", "Shows"),
        tuple(rows),
        align="l" + "r" * len(heads) + "rw",
    )


def spans_table(spans: "Sequence[SpanFindings]", *, system: System = "metric") -> Table:
    """Return a row a series that is known by its spans alone."""
    say = Lengths(spans, system)
    rows = tuple(
        (
            series_name(series),
            f"{series.n}; {series.sets}",
            say.length(series.whole_mm),
            say.length(series.sigma_mm),
            say.interval(series.spread),
        )
        for series in spans
    )
    head = ("Series", "Homings; power-ups", "Whole span", "Mean span / d2", "Spread")
    return Table(f"By spans alone, in {say.unit.name}", head, rows)


def series_name(findings: "Findings | SpanFindings", among: Sequence[Findings] = ()) -> str:
    """Return what to call one series: "B left", "B right minus left"; with its axis where `among` are several."""
    axis = f"on {findings.axis}" if len({f.axis for f in among}) > 1 else ""
    return " ".join(filter(None, (findings.sensor, side_of(findings.side), axis))) or "These homings"


def by_candidate(findings: Sequence[Findings]) -> dict[str, list[Findings]]:
    """Group series by candidate, and by axis where there are several."""
    several = len({f.axis for f in findings}) > 1
    groups: dict[str, list[Findings]] = {}
    for f in findings:
        name = f.sensor or "These homings"
        groups.setdefault(f"{name}, {f.axis}" if several else name, []).append(f)
    return groups


def _spans(spans: "Sequence[SpanFindings]", system: System) -> list[Section]:
    """Return what spans alone say."""
    if not spans:
        return []
    sentences = tuple(f"{series_name(series)}: {statement}" for series in spans for statement in series.sentences)
    return [Section("What the spans say", (spans_table(spans, system=system), Points(sentences)))]


def _how_many(series: "Sequence[Findings | SpanFindings]") -> str:
    axes = sorted({f.axis for f in series if f.axis})
    homings = count_of(sum(f.n for f in series), "homing")
    candidates = count_of(len({f.sensor for f in series}), "candidate")
    return f"{homings} of {candidates}{f' on axis {listed(axes)}' if axes else ''}."


def _to_do(findings: Sequence[Findings]) -> tuple[str, ...]:
    """Return the step that no spread can do without, then each pattern once: those to cure first in front."""
    seen: dict[str, list[Findings]] = {}
    for f in findings:
        for signature in f.signatures:
            seen.setdefault(signature.code, []).append(f)
    steps = []
    for code, where in seen.items():
        shown = [next(s for s in f.signatures if s.code == code) for f in where]
        first = next((s for s in shown if s.lowers), shown[0])
        names = listed([series_name(f, findings) for f in where], most=4)
        steps.append((not first.lowers, paragraph((f"{names}: {first.words}", first.check))))
    unsaid = [f for f in findings if f.side != "difference" and any(c.code == NO_STEP.code for c in f.cautions)]
    ask = [f"{listed([series_name(f, findings) for f in unsaid], most=4)}: {NO_STEP.text}"] if unsaid else []
    return (*ask, *(step for _, step in sorted(steps, key=lambda step: step[0])))


def shows(group: Sequence[Findings]) -> str:
    """Return the first pattern of a candidate in a few words, one to cure first in front, and how many more."""
    seen = {s.code: s for f in group for s in f.signatures}
    ranked = sorted(seen.values(), key=lambda signature: not signature.lowers)
    words = [signature.words for signature in ranked]
    return words[0] + (f" +{len(words) - 1}" if words[1:] else "") if words else "–"


def _candidate(name: str, findings: Sequence[Findings], system: System) -> Section:
    """Return everything about one candidate."""
    blocks: list[Block] = [figures_table(name, findings, (), system)]
    blocks += dict.fromkeys(f.growth.sentence for f in findings if f.growth)
    blocks += dict.fromkeys(f.setup.sentence for f in findings if f.setup)
    blocks += dict.fromkeys(effect.sentence for f in findings for effect in f.effects)
    if any(f.conditions for f in findings):
        blocks.append(conditions_table(name, findings, system))
    return Section(name, (*blocks, *patterns(name, findings, {})))


def _cautions(findings: Sequence[Findings]) -> list[Section]:
    """Return each caution once, with the series it is about."""
    about: dict[str, list[str]] = {}
    for f in findings:
        for caution in f.cautions:
            about.setdefault(caution.text, []).append(series_name(f, findings))
    items = tuple(
        text if len(names) == len(findings) else f"{listed(names, most=4)}: {text}"
        for text, names in about.items()
    )
    return [Section("Before trusting these figures", (READING, Points(items)))] if items else []


def figures_table(name: str, findings: Sequence[Findings], parts: Sequence["Part"], system: System) -> Table:
    """Figures down, sides across, all lengths in one unit."""
    say = Lengths(findings, system)
    explained = [{figure.name: figure for figure in explain(f, system=system)} for f in findings]
    part_of = {id(part.findings): part for part in parts}
    asked = [part_of.get(id(f)) for f in findings]
    bells = [f.behaviour and f.behaviour.scatter.normality for f in findings]
    rows: list[tuple[str, ...]] = [("Homings that count; power-ups", *(f"{f.n}; {f.sets}" for f in findings))]
    if any(asked):
        rows.append(("Chance it holds", *(show_chance(p.chance_holds if p else None) for p in asked)))
        rows.append(("Spread allowed", *("–" if p is None else say.length(p.spread_allowed_mm) for p in asked)))
    names = dict.fromkeys(name for by_name in explained for name in by_name)
    rows += [(name, *(say.explained(by_name.get(name)) for by_name in explained)) for name in names]
    if any(bells):
        rows.append(
            ("Anderson-Darling; its limit", *(f"{b.adjusted:.2f}; {b.limit:g}" if b else "–" for b in bells))
        )
    head = (f"Lengths in {say.unit.name}", *(side_of(f.side, alone="one side") for f in findings))
    return Table(f"Figures of {name}", head, tuple(rows))


def explained_section(findings: Findings, system: System) -> Section:
    """What each figure tells, shown on one candidate and side."""
    say = Lengths([findings], system)
    head = ("Figure", "What it tells", "How it was worked out")
    rows = tuple(
        (f"{figure.name}: {say.explained(figure, unit=True)}", figure.sentence, _source(figure))
        for figure in explain(findings, system=system)
    )
    whose = ", ".join(filter(None, (findings.sensor, side_of(findings.side, alone="one side"))))
    return Section("What each figure tells", (Table(f"Shown on {whose}", head, rows, align="www"),))


def _source(figure: Explained) -> str:
    """How it was worked out and where that stands; what the list of sources names is named by its number."""
    return " ".join(filter(None, (figure.method, figure.source)))


def conditions_table(name: str, findings: Sequence[Findings], system: System) -> Table:
    """The same figures under each condition alone."""
    say = Lengths(findings, system)
    rows = tuple(
        (
            condition.condition,
            side_of(f.side, alone="one side"),
            str(condition.n),
            say.interval(condition.spread),
            f"{condition.misses.count or 'none'} in {condition.misses.n}",
        )
        for f in findings
        for condition in f.conditions
    )
    head = ("Condition", "Side", "Homings", f"Spread, {say.unit.name}", "Gross misses")
    return Table(f"{name} under each condition alone", head, rows, align="llrrr")


def patterns(name: str, findings: Iterable[Findings], advised: dict[str, str]) -> list[Block]:
    """Patterns in the readings that point at a cause: each once, with the sides that show it.

    `advised`: by pattern the candidate where causes and check stand already.
    """
    seen: dict[str, list[str]] = {}
    advised_by: dict[str, str] = {}
    for f in findings:
        for signature in f.signatures:
            side = side_of(f.side, alone="one side").capitalize()
            seen.setdefault(signature.code, []).append(f"{side}: {signature.sentence}")
            advised_by[signature.code] = advice(signature)
    blocks: list[Block] = []
    for code, sentences in seen.items():
        first = advised.setdefault(code, name)
        more = advised_by[code] if first == name else f" Causes and check: as for {first}."
        blocks.append(Note(" ".join(sentences) + more))
    return blocks


def patterns_in_short(findings: Sequence[Findings], advised: dict[str, str]) -> tuple[str, ...]:
    """Each pattern once: the series that show it, likely causes, and the check that tells them apart.

    `advised`: by pattern the candidate where causes and check stand already.
    """
    where: dict[str, list[str]] = {}
    shown: dict[str, Signature] = {}
    for f in findings:
        for signature in f.signatures:
            where.setdefault(signature.code, []).append(series_name(f, findings))
            shown.setdefault(signature.code, signature)
    items = []
    for code, signature in shown.items():
        text = f"{listed(where[code])}: {signature.words}."
        items.append(
            f"{text} Causes and check: as for {advised[code]}." if code in advised else text + advice(signature)
        )
    return tuple(items)


def advice(signature: Signature) -> str:
    """Likely causes of a pattern, and the check that tells them apart."""
    causes = f" Likely causes, likeliest first: {'; '.join(signature.causes)}." if signature.causes else ""
    return causes + (f" To tell them apart: {signature.check}" if signature.check else "")
