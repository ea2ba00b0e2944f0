"""Record: what stands in the record of a machine's homing, in the order a person reads it.

Verdict, what it is not, machine and requirement, choice and decision, findings of every candidate, method,
cautions, inputs, signatures. A pure function: the same results give the same record.
"""

from collections.abc import Mapping, Sequence
from datetime import date

from holdzero.case.standing.values import Standing
from holdzero.caution import Caution
from holdzero.chart.comparison import comparison_picture
from holdzero.chart.ranking import ranking_picture
from holdzero.chart.share import share_picture
from holdzero.compute.choose import AllowedSpread, Candidate, Choice, Decision
from holdzero.compute.findings.values import Study
from holdzero.compute.plan import Ask
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.quantity import (
    System,
    show,
    show_share,
)
from holdzero.report.content import Attached, RecordContent
from holdzero.tell import safety
from holdzero.tell.blocks import Blanks, Block, Facts, Note, Pictures, Points, Section, Table
from holdzero.tell.choice import candidates_table, compared, gantry_of, sheet_facts, what_if
from holdzero.tell.findings import conditions_table, explained_section, figures_table, patterns, pictures_of
from holdzero.tell.method import SOURCES, method
from holdzero.tell.standing import axis_section
from holdzero.tell.words import paragraph


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
        reason=paragraph((choice.reason, taken, _still_asked(still), rests_on)),
        sections=(*sections, _signed(version, digests)),
        version=version,
        digests=tuple(digests.items()),
        invented=invented,
        day=day,
        attached=attached,
    )


def _standing(standing: Standing) -> Section:
    """Both questions part by part, and what is next."""
    section = axis_section(standing)
    following = (f"Next: {standing.next}",) if standing.next else ()
    return Section("Where it stands", (*section.blocks, *following))


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
    blocks: list[Block] = [choice.reason, candidates_table(choice)]
    if still:
        asked = " ".join(f"{ask.text.rstrip('.')}: {ask.standing}." for ask in still)
        blocks.append(Note(f"Before “holds” may stand. {asked}"))
    blocks += [dearer.sentence for dearer in choice.more_money]
    tried = any(part.findings.posterior is not None for candidate in choice.candidates for part in candidate.parts)
    if choice.comparison:
        blocks.append(compared(choice.comparison, choice.compared))
    if tried:
        ranked = ranking_picture(choice, system=system)
        right = tuple(filter(None, (ranked, share_picture(choice, system=system))))
        blocks.append(Pictures((comparison_picture(choice, system=system),), right))
    if tried and choice.changes:
        blocks.append(what_if(choice))
    blocks += gantry_of(axis, machine, study, choice, system)
    blocks.append(sheet_facts([candidate.sensor for candidate in choice.candidates], system))
    return Section("The choice", tuple(blocks))


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


def _findings(study: Study, choice: Choice, system: System) -> Section:
    """One part a candidate: verdict, figures, pictures, patterns; then what each figure tells."""
    advised: dict[str, str] = {}
    below = [_candidate(candidate, study, choice.allowed, advised, system) for candidate in choice.candidates]
    meant = sorted(choice.candidates, key=lambda candidate: candidate.sensor.name != choice.choice)
    explained = next((candidate.parts[0].findings for candidate in meant if candidate.parts), None)
    if explained is not None:
        below.append(explained_section(explained, system))
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
    reasons = paragraph((*candidate.reasons, candidate.rests_on))
    blocks: list[Block] = [reasons] if reasons else []
    if candidate.ruled_out:
        blocks.append(Note(f"Ruled out: {paragraph(candidate.ruled_out)}"))
    if not findings:
        return Section(heading, (*blocks, "There are no readings of this candidate."))
    blocks.append(figures_table(name, findings, candidate.parts, system))
    deciding = candidate.parts[0].findings if candidate.parts else findings[0]
    blocks.append(pictures_of(findings, deciding, allowed=allowed, system=system))
    blocks += dict.fromkeys(f.setup.sentence for f in findings if f.setup)
    blocks += dict.fromkeys(effect.sentence for f in findings for effect in f.effects)
    if any(f.conditions for f in findings):
        blocks.append(conditions_table(name, findings, system))
    blocks += patterns(name, findings, advised)
    return Section(heading, tuple(blocks))


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
