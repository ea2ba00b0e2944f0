"""Record: what stands in the record of a machine's homing, in the order a person reads it.

Verdict, what it is not, machine and requirement, choice and decision, findings of every candidate, method,
cautions, inputs, signatures. A pure function: the same results give the same record.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from math import isfinite, isnan

from holdzero.case.standing.values import Standing
from holdzero.caution import Caution
from holdzero.chart.comparison import comparison_picture
from holdzero.chart.distribution import distribution_picture
from holdzero.chart.gantry import gantry_picture, worst_pair
from holdzero.chart.lengths import LengthUnit, length_unit
from holdzero.chart.probability import probability_picture
from holdzero.chart.ranking import ranking_picture
from holdzero.chart.readings import readings_picture
from holdzero.chart.share import share_picture
from holdzero.compute.choose import AllowedSpread, Candidate, Choice, Decision, Part
from holdzero.compute.compare import Comparison
from holdzero.compute.findings import explain
from holdzero.compute.findings.explain import Explained
from holdzero.compute.findings.values import Findings, Study
from holdzero.compute.plan import Ask
from holdzero.compute.spread.posterior import Interval
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import (
    System,
    decimals_for,
    fixed,
    show,
    show_chance,
    show_foretold,
    show_interval,
    show_share,
)
from holdzero.report import safety
from holdzero.report.content import Attached, RecordContent
from holdzero.report.method import HANDBOOK, SOURCES, method
from holdzero.tell.blocks import Blanks, Block, Facts, Note, Pictures, Points, Section, Table

SIGNS = {"holds": "✓", "does not hold": "✗", "too close to call": "≈", "cannot say": "?"}
SIDES = {"L": "left side", "R": "right side", "difference": "right minus left", "": "one side"}


def record_content(
    machine: Machine,
    study: Study,
    choice: Choice,
    *,
    digests: Mapping[str, str],
    version: str,
    invented: str = "",
    day: date | None = None,
    system: System = "metric",
    asks: Sequence[Ask] = (),
    decisions: Sequence[Decision] = (),
    more: Sequence[Section] = (),
    attached: tuple[Attached, ...] = (),
    standing: Standing | None = None,
    rests_on: str = "",
) -> RecordContent:
    """Put together the record of one axis.

    Parameters
    ----------
    machine : Machine
        The machine, with what is asked of it.
    study : Study
        What the homings of each said.
    choice : Choice
        The decision, for the axis `choice.allowed.axis`.
    digests : mapping of str
        Name of each input to the SHA-256 of its text.
    version : str
        Version that computed the figures.
    invented : str
        What to say on every page where the data are made up.
    day : date, optional
        Day of the record; `last_day` gives that of the last reading.
    system : "metric" or "inch"
        Units shown.
    asks : sequence of Ask
        What the trial has to hold before its `holds` may stand.
    decisions : sequence of Decision
        What was decided, newest first.
    more : sequence of Section
        Further sections (wiring, travel, squareness, checklist), set after the findings.
    attached : tuple of Attached
        Files the document carries along.
    standing : Standing, optional
        Of the axis: it stands first.
    rests_on : str
        How many homings the figures rest on.
    """
    axis = machine.axis(choice.allowed.axis)
    taken = f"Taken: {decisions[0].sentence}" if decisions else ""
    still = tuple(ask for ask in asks if not ask.done) if choice.any_holds else ()
    sections = [
        *([_standing(standing)] if standing is not None else []),
        _before(axis),
        _asked(machine, axis, choice.allowed, system),
        *([_choice(axis, machine, study, choice, still, system)] if choice.candidates else []),
        *([_decision(decisions, digests)] if choice.candidates else []),
        *([_findings(study, choice, system)] if study.findings else []),
        *more,
        Section("How the figures were worked out", (*method(choice.confidence), _sources(study))),
        _cautions(choice, study),
    ]
    if machine.notes or study.notes:
        sections.append(Section("Notes on the files", (Points((*machine.notes, *study.notes)),)))
    return RecordContent(
        title="Does this machine hold zero?",
        subject=f"{machine.name}, axis {axis.name}",
        verdict=standing.headline if standing is not None else _verdict(axis, study, choice, still),
        reason=" ".join(_sentences((choice.reason, taken, _still_asked(still), rests_on))),
        sections=(*sections, _signed(version, digests)),
        version=version,
        digests=tuple(digests.items()),
        invented=invented,
        day=day,
        attached=attached,
    )


def _standing(standing: Standing) -> Section:
    """Both questions part by part, and what is next."""
    rows = tuple((part.part.capitalize(), part.answer, part.sentence) for part in standing.parts)
    zero = (
        f"Does it hold zero? {standing.answer.capitalize()}. Does it stop in time? {standing.stops.capitalize()}."
    )
    following = (f"Next: {standing.next}",) if standing.next else ()
    return Section(
        "Where it stands",
        (
            zero,
            Table("What that rests on", ("Part", "Answer", "Why"), rows, align="lll"),
            standing.valid_for,
            *following,
        ),
    )


def _verdict(axis: Axis, study: Study, choice: Choice, still: Sequence[Ask]) -> str:
    if choice.choice:
        return f"{choice.choice} holds zero on axis {axis.name}{' so far' if still else ''}."
    if not study.findings:
        return f"Cannot say yet whether axis {axis.name} holds zero: nothing was tried."
    return "No candidate is shown to hold zero."


def _still_asked(still: Sequence[Ask]) -> str:
    """How much is asked for before a `holds` may stand, for the head of the record."""
    count = len(still)
    things = "one more thing is" if count == 1 else f"{count} more things are"
    return f"Before “holds” may stand, {things} asked for: see The choice" if still else ""


def last_day(study: Study) -> date | None:
    """Return the day of the last reading whose time is given as YYYY-MM-DD..., or None."""
    days = []
    for findings in study.findings:
        for time in findings.homings.time:
            try:
                days.append(date.fromisoformat(str(time)[:10]))
            except ValueError:
                continue
    return max(days, default=None)


def _before(axis: Axis) -> Section:
    """What this record is not, and what comes first at the machine."""
    two = (Note(safety.racking_force(axis.moving.thrust_n), strong=True),) if axis.motors == 2 else ()
    return Section(
        "Before anything else",
        (
            Note(safety.NOT_A_SAFETY_FUNCTION, strong=True),
            Points((*safety.BEFORE_ANYTHING_ELSE, f"{safety.NOT_A_CERTIFICATE} {safety.A_GOOD_CHART}")),
            *two,
            Table(
                "Standards this record defers to", ("Standard", "What it settles"), safety.STANDARDS, align="ll"
            ),
        ),
    )


def _asked(machine: Machine, axis: Axis, allowed: AllowedSpread, system: System) -> Section:
    """The machine, what is asked of it, and the spread that leaves."""

    def length(value_mm: float | None) -> str:
        return "not given" if value_mm is None else show(value_mm, "length", system=system)

    rows = [
        ("Machine", machine.name),
        ("Axis", f"{axis.name}, {'two motors side by side' if axis.motors == 2 else 'one motor'}"),
        ("Travel", length(axis.travel_mm)),
    ]
    if axis.motors == 2:
        rows.append(("Between the drives", length(axis.drive_distance_mm)))
    if axis.drive.lead_mm is not None:
        rows.append(("Lead per motor turn", length(axis.drive.lead_mm)))
    if axis.speeds.creep_speed_mm_s is not None:
        rows.append(("Creep speed", show(axis.speeds.creep_speed_mm_s, "speed", system=system)))
    if allowed.squareness_mm is not None:
        rows.append(
            ("Squareness asked", f"{length(allowed.squareness_mm)} over {length(allowed.squareness_over_mm)}")
        )
    if allowed.position_mm is not None:
        rows.append(("Position asked", f"within ± {length(allowed.position_mm)} of the datum"))
    rows += [
        ("Risk", f"{show_share(allowed.risk)} homings may land outside"),
        ("Spread allowed, a switch", show(allowed.spread_allowed_mm, "length", system=system, digits=3)),
        ("Bound by", "squareness and position together" if allowed.bound_by == "both" else allowed.bound_by),
    ]
    if allowed.squareness_alone_mm is not None and allowed.position_alone_mm is not None:
        square, position = (
            show(x, "length", system=system, digits=3)
            for x in (allowed.squareness_alone_mm, allowed.position_alone_mm)
        )
        rows.append(("Each alone would allow", f"squareness {square}, position {position}"))
    return Section(
        "The machine and what is asked of it",
        (Facts(tuple(rows)), allowed.datum_from),
    )


def _choice(
    axis: Axis, machine: Machine, study: Study, choice: Choice, still: Sequence[Ask], system: System
) -> Section:
    """Every candidate side by side, the pictures, and what another question would change."""
    head = (
        "Sensor",
        "Kind",
        "Price",
        "Verdict",
        "Chance it holds",
        "under heavier tails",
        "Share outside",
        "Gross misses",
    )
    rows = tuple(_candidate_row(candidate) for candidate in choice.candidates)
    blocks: list[Block] = [choice.reason, Table("The candidates", head, rows, align="llrlrrrl")]
    if still:
        asked = " ".join(f"{ask.text.rstrip('.')}: {ask.standing}." for ask in still)
        blocks.append(Note(f"Before “holds” may stand. {asked}"))
    blocks += [dearer.sentence for dearer in choice.more_money]
    tried = any(part.findings.posterior is not None for candidate in choice.candidates for part in candidate.parts)
    if choice.comparison:
        blocks.append(_compared(choice.comparison, choice.compared))
    if tried:
        ranked = ranking_picture(choice, system=system)
        right = tuple(filter(None, (ranked, share_picture(choice, system=system))))
        blocks.append(Pictures((comparison_picture(choice, system=system),), right))
    if tried and choice.changes:
        blocks.append(_what_if(choice))
    blocks += _gantry(axis, machine, study, choice, system)
    blocks.append(_sheet_facts([candidate.sensor for candidate in choice.candidates], system))
    return Section("The choice", tuple(blocks))


def _compared(comparison: Comparison, basis: str) -> str:
    """Which is the tightest, in words."""
    sentences = [comparison.sentence, f"Meant is the spread {basis}, on the worse side"]
    if comparison.alike is not None:
        sentences.append(
            f"Brown-Forsythe, whether all scatter alike within their sets: chance {comparison.alike.p:.2g}"
        )
    return " ".join(_sentences((*sentences, *(caution.text for caution in comparison.cautions))))


def _what_if(choice: Choice) -> Table:
    """Verdicts if the tolerance or the risk were another."""
    names = [candidate.sensor.name for candidate in choice.candidates]
    rows = tuple(
        (change.name, *(SIGNS[change.verdicts[name]] for name in names), change.choice or "–")
        for change in choice.changes
    )
    sentence = "If something else were asked (✓ holds, ≈ too close to call, ✗ does not hold, ? cannot say)"
    return Table(sentence, ("If asked", *names, "Choice"), rows, align="l" * (len(names) + 2))


def _decision(decisions: Sequence[Decision], digests: Mapping[str, str]) -> Section:
    """What was taken, by whom and why, and whether what it rests on is still the same."""
    if not decisions:
        sentence = (
            "No decision is kept. The verdicts say what holds; which one is taken, and why, is a person's to say."
        )
        blanks = Blanks(("Candidate taken", "Because"), signed=("Decided by",))
        return Section("The decision", (sentence, blanks))
    newest, *before = decisions
    rows = [
        ("Taken", f"{newest.sensor} ({newest.verdict})"),
        ("Recommended then", newest.recommended or "none"),
        ("Because", newest.reason),
        ("Decided", " by ".join(filter(None, (newest.day, newest.by)))),
        ("Rests on", f"inputs {newest.digest[:12]}, holdzero {newest.version}"),
        ("Since then", newest.standing(digests)),
    ]
    blocks: list[Block] = [Facts(tuple(rows))]
    if before:
        head = ("Day", "Taken", "By", "Because", "Since then")
        earlier = tuple(
            (
                decision.day,
                f"{decision.sensor} ({decision.verdict})",
                decision.by or "–",
                decision.reason,
                decision.standing(digests),
            )
            for decision in before
        )
        blocks.append(Table("Decisions before it, newest first", head, earlier, align="lllww"))
    return Section("The decision", tuple(blocks))


def _candidate_row(candidate: Candidate) -> tuple[str, ...]:
    sensor, misses = candidate.sensor, candidate.misses
    return (
        sensor.name,
        sensor.kind,
        "–" if sensor.price is None else show(sensor.price, "price"),
        candidate.shown + (", ruled out" if candidate.ruled_out else ""),
        show_chance(candidate.chance_holds),
        show_chance(candidate.chance_holds_wide),
        show_foretold(candidate.share_outside),
        "–" if misses is None else f"{misses.count} of {misses.n} (≤ {show_share(misses.high_95)})",
    )


def _gantry(axis: Axis, machine: Machine, study: Study, choice: Choice, system: System) -> list[Block]:
    """The gantry racked by the worst pair of the chosen sensor, or of the tightest that was tried."""
    if axis.motors != 2 or axis.drive_distance_mm is None:
        return []
    names = [choice.choice] if choice.choice else [candidate.sensor.name for candidate in choice.candidates]
    for name in names:
        left, right = (study.of(name, axis.name, side) for side in ("L", "R"))
        if left and right and (worst := worst_pair(left, right)):
            return [Pictures((gantry_picture(axis, machine.requirement, worst, system=system),))]
    return []


def _sheet_facts(sensors: Sequence[Sensor], system: System) -> Table:
    """What the data sheets say; it is not what was found."""
    head = ("Sensor", "Supply", "Output", "Contact", "Repeatability stated", "Life stated")
    rows = []
    for sensor in sensors:
        supply = _supply(sensor)
        stated = "–"
        if sensor.repeatability_mm is not None:
            figure = show(sensor.repeatability_mm, "length", system=system)
            stated = f"{figure} {sensor.repeatability_convention or ''}".strip()
        life = "–" if sensor.life_cycles is None else show(sensor.life_cycles, "cycles")
        rows.append((sensor.name, supply, sensor.output or "–", sensor.contact or "–", stated, life))
    return Table("What the data sheets say (not what was found)", head, tuple(rows), align="llllll")


def _supply(sensor: Sensor) -> str:
    low, high = sensor.supply_low_v, sensor.supply_high_v
    if low is None and high is None:
        return "–"
    return show(low, "voltage") if low is not None and low == high else show_interval(low, high, "voltage")


def _findings(study: Study, choice: Choice, system: System) -> Section:
    """One part a candidate: verdict, figures, pictures, patterns; then what each figure tells."""
    advised: dict[str, str] = {}
    below = [_candidate(candidate, study, choice.allowed, advised, system) for candidate in choice.candidates]
    meant = sorted(choice.candidates, key=lambda candidate: candidate.sensor.name != choice.choice)
    explained = next((candidate.parts[0].findings for candidate in meant if candidate.parts), None)
    if explained is not None:
        below.append(_explained(explained, system))
    reading = (
        "All figures are day-to-day ones unless they are called within; an interval has a chance of 95\u202f%. "
        "What each of them tells, and how it was worked out, stands after the last candidate."
    )
    return Section("What the homings say", (reading,), tuple(below))


def _candidate(
    candidate: Candidate, study: Study, allowed: AllowedSpread, advised: dict[str, str], system: System
) -> Section:
    """The findings of one candidate on the axis of the record."""
    name, kind = candidate.sensor.name, candidate.sensor.kind
    heading = f"{name}{f', {kind}' if kind else ''}: {candidate.shown}"
    findings = [f for f in study.findings if f.sensor == name and f.axis in (allowed.axis, "")]
    reasons = " ".join(_sentences((*candidate.reasons, candidate.rests_on)))
    blocks: list[Block] = [reasons] if reasons else []
    if candidate.ruled_out:
        blocks.append(Note(f"Ruled out: {' '.join(_sentences(candidate.ruled_out))}"))
    if not findings:
        return Section(heading, (*blocks, "There are no readings of this candidate."))
    blocks.append(_figures(name, findings, candidate.parts, system))
    strips = [readings_picture(f, allowed=allowed, system=system) for f in findings]
    deciding = candidate.parts[0].findings if candidate.parts else findings[0]
    shapes = [probability_picture(deciding, system=system)]
    if deciding.counted.any():
        shapes.insert(0, distribution_picture(deciding, allowed=allowed, system=system))
    blocks.append(Pictures(tuple(strips), tuple(filter(None, shapes))))
    blocks += dict.fromkeys(f.setup.sentence for f in findings if f.setup)
    blocks += dict.fromkeys(effect.sentence for f in findings for effect in f.effects)
    if any(f.conditions for f in findings):
        blocks.append(_conditions(name, findings, system))
    blocks += _patterns(name, findings, advised)
    return Section(heading, tuple(blocks))


class _Lengths:
    """Lengths of one table, all in one unit, with the digits that their doubt supports."""

    def __init__(self, findings: Sequence[Findings], system: System) -> None:
        highs = [f.spread.high for f in findings if isfinite(f.spread.high)]
        self.unit: LengthUnit = length_unit(max(highs, default=0.0), system)

    def length(self, value_mm: float | None, doubt_mm: float | None = None) -> str:
        if value_mm is None or isnan(value_mm):
            return "–"
        if not doubt_mm or not isfinite(doubt_mm):
            return self.unit.say(value_mm).removesuffix(self.unit.name).strip()
        decimals = decimals_for(doubt_mm / self.unit.size_mm)
        return fixed(value_mm, "length", unit=self.unit.name, decimals=decimals)[0]

    def interval(self, bounds: Interval | None) -> str:
        if bounds is None or not isfinite(bounds.high):
            return "–"
        if bounds.middle is None:
            return f"at most {self.length(bounds.high)}"
        middle, low, high = (
            self.length(x, (bounds.high - bounds.low) / 4) for x in (bounds.middle, bounds.low, bounds.high)
        )
        return f"{middle} ({low} to {high})"

    def explained(self, figure: Explained | None, *, unit: bool = False) -> str:
        """One figure as `explain` gives it."""
        if figure is None:
            return "–"
        match figure.kind:
            case "interval":
                shown = self.interval(figure.value)
            case "length":
                shown = self.length(figure.value)
            case "share":
                return show_share(figure.value)
            case _:
                return str(figure.value)
        return f"{shown} {self.unit.name}" if unit and shown != "–" else shown


def _figures(name: str, findings: Sequence[Findings], parts: Sequence[Part], system: System) -> Table:
    """Figures down, sides across, all lengths in one unit."""
    say = _Lengths(findings, system)
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
    head = (f"Lengths in {say.unit.name}", *(SIDES.get(f.side, f.side) for f in findings))
    return Table(f"Figures of {name}", head, tuple(rows))


def _explained(findings: Findings, system: System) -> Section:
    """What each figure tells, shown on one candidate and side."""
    say = _Lengths([findings], system)
    head = ("Figure", "What it tells", "How it was worked out")
    rows = tuple(
        (f"{figure.name}: {say.explained(figure, unit=True)}", figure.sentence, _source(figure))
        for figure in explain(findings, system=system)
    )
    whose = ", ".join(filter(None, (findings.sensor, SIDES.get(findings.side, findings.side))))
    return Section("What each figure tells", (Table(f"Shown on {whose}", head, rows, align="www"),))


def _source(figure: Explained) -> str:
    """How it was worked out and where that stands; what the list of sources names is named by its number."""
    return " ".join(filter(None, (figure.method, figure.source.replace(HANDBOOK, "[1]"))))


def _conditions(name: str, findings: Sequence[Findings], system: System) -> Table:
    """The same figures under each condition alone."""
    say = _Lengths(findings, system)
    rows = tuple(
        (
            condition.condition,
            SIDES.get(f.side, f.side),
            str(condition.n),
            say.interval(condition.spread),
            f"{condition.misses.count or 'none'} in {condition.misses.n}",
        )
        for f in findings
        for condition in f.conditions
    )
    head = ("Condition", "Side", "Homings", f"Spread, {say.unit.name}", "Gross misses")
    return Table(f"{name} under each condition alone", head, rows, align="llrrr")


def _patterns(name: str, findings: Iterable[Findings], advised: dict[str, str]) -> list[Block]:
    """Patterns in the readings that point at a cause: each once, with the sides that show it.

    `advised`: by pattern the candidate where causes and check stand already.
    """
    seen: dict[str, list[str]] = {}
    advice: dict[str, str] = {}
    for f in findings:
        for signature in f.signatures:
            side = SIDES.get(f.side, f.side).capitalize()
            seen.setdefault(signature.code, []).append(f"{side}: {signature.sentence}")
            causes = f" Likely causes, likeliest first: {'; '.join(signature.causes)}." if signature.causes else ""
            advice[signature.code] = causes + (
                f" To tell them apart: {signature.check}" if signature.check else ""
            )
    blocks: list[Block] = []
    for code, sentences in seen.items():
        first = advised.setdefault(code, name)
        more = advice[code] if first == name else f" Causes and check: as for {first}."
        blocks.append(Note(" ".join(sentences) + more))
    return blocks


def _cautions(choice: Choice, study: Study) -> Section:
    """Every doubt that travels with a figure, each once, with the candidates it is about."""
    whose: dict[Caution, list[str]] = {}
    for caution in (*choice.allowed.cautions, *choice.cautions):
        whose.setdefault(caution, [])
    for candidate in choice.candidates:
        for caution in candidate.cautions:
            whose.setdefault(caution, []).append(candidate.sensor.name)
    for f in study.findings:
        for caution in f.cautions:
            names = whose.setdefault(caution, [])
            if f.sensor and f.sensor not in names:
                names.append(f.sensor)
    items = []
    for caution, names in whose.items():
        about = f"{', '.join(dict.fromkeys(names))}: " if names else ""
        items.append(f"{about}{caution.text}{f' ({caution.source})' if caution.source else ''}")
    return Section("Cautions that go with the figures", (Points(tuple(items)) if items else "None.",))


def _sources(study: Study) -> Points:
    """Where the methods are from: ours, and those that the figures name."""
    named = {source for f in study.findings for source in f.sources}
    return Points((*SOURCES, *sorted(named)))


def _signed(version: str, digests: Mapping[str, str]) -> Section:
    """What the figures came from, and who stands for them."""
    rows = tuple((name, digest) for name, digest in digests.items())
    return Section(
        "Inputs and signatures",
        (
            f"Computed by holdzero {version}. The same inputs give the same figures.",
            Table("SHA-256 of the inputs", ("Input", "Digest"), rows, align="ll"),
            Blanks(
                ("Indicator or encoder used", "Temperature at the machine", "Changed since the trial"),
                signed=("Tried by", "Checked by"),
            ),
        ),
    )


def _sentences(parts: Iterable[str]) -> list[str]:
    """Reasons as sentences: a capital in front, a full stop behind."""
    return [
        part[:1].upper() + part[1:] + ("" if part.endswith((".", "?", "!")) else ".") for part in parts if part
    ]
