"""Proof: what is asked, every candidate beside it, and all that the homings say of the one that is meant."""

from collections.abc import Sequence

from holdzero.caution import Caution
from holdzero.chart import Picture
from holdzero.chart.distribution import distribution_picture
from holdzero.chart.gantry import gantry_picture, worst_pair
from holdzero.chart.probability import probability_picture
from holdzero.chart.ranking import ranking_picture
from holdzero.chart.readings import readings_picture
from holdzero.chart.share import share_picture
from holdzero.compute.choose import AllowedSpread, Candidate, Choice
from holdzero.compute.findings.values import Findings, Study
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.quantity import System, show
from holdzero.tell.blocks import Block, Facts, Note, Pictures, Points, Section
from holdzero.tell.choice import bound_by, candidates_table, compared, what_if
from holdzero.tell.findings import conditions_table, figures_table, patterns
from holdzero.tell.words import listed, paragraph

READING = (
    "All figures are day-to-day ones unless they are called within; an interval has a chance of 95\u202f%. "
    "What each of them tells, and how it was worked out, stands in the annex."
)


def meant_of(choice: Choice, name: str) -> Candidate | None:
    """Return the candidate the record is about: the one named, else the one recommended, else the first tried."""
    named = [candidate for candidate in choice.candidates if candidate.sensor.name == (name or choice.choice)]
    tried = [candidate for candidate in choice.candidates if candidate.parts]
    return next(iter((*named, *tried)), None)


def asked_section(axis: Axis, allowed: AllowedSpread, system: System) -> Section:
    """Return what bounds the spread allowed, beyond what the first page says."""

    def length(value_mm: float, digits: int | None = None) -> str:
        return show(value_mm, "length", system=system, digits=digits)

    rows = []
    if axis.drive.lead_mm is not None:
        rows.append(("Lead per motor turn", length(axis.drive.lead_mm)))
    if axis.speeds.creep_speed_mm_s is not None:
        rows.append(("Creep speed", show(axis.speeds.creep_speed_mm_s, "speed", system=system)))
    rows.append(("Spread allowed, a switch", length(allowed.spread_allowed_mm, digits=3)))
    if allowed.squareness_alone_mm is not None:
        rows.append(("Squareness alone would allow", length(allowed.squareness_alone_mm, digits=3)))
    if allowed.position_alone_mm is not None:
        rows.append(("Position alone would allow", length(allowed.position_alone_mm, digits=3)))
    return Section("What it is judged against", (bound_by(allowed), Facts(tuple(rows))))


def choice_section(choice: Choice, system: System) -> Section:
    """Return every candidate in a row, what more money buys, and what another question would change."""
    blocks: list[Block] = [choice.reason, candidates_table(choice)]
    blocks += [dearer.sentence for dearer in choice.more_money]
    if choice.comparison:
        blocks.append(compared(choice.comparison, choice.compared))
    tried = any(part.findings.posterior is not None for candidate in choice.candidates for part in candidate.parts)
    if tried:
        ranked, shares = ranking_picture(choice, system=system), share_picture(choice, system=system)
        if ranked and shares:
            blocks.append(Pictures((ranked,), (shares,)))
        elif only := ranked or shares:
            blocks.append(Pictures((only,)))
    if tried and choice.changes:
        blocks.append(what_if(choice))
    return Section("The choice", tuple(blocks))


def candidate_section(
    candidate: Candidate, machine: Machine, study: Study, choice: Choice, advised: dict[str, str], system: System
) -> Section:
    """Return everything the homings say of the candidate that is meant."""
    allowed = choice.allowed
    name, kind = candidate.sensor.name, candidate.sensor.kind
    heading = f"What the homings say of {name}{f', {kind}' if kind else ''}: {candidate.shown}"
    findings = [f for f in study.findings if f.sensor == name and f.axis in (allowed.axis, "")]
    reasons = paragraph((*candidate.reasons, candidate.rests_on))
    blocks: list[Block] = [reasons] if reasons else []
    if candidate.ruled_out:
        blocks.append(Note(f"Ruled out: {paragraph(candidate.ruled_out)}"))
    if not findings:
        return Section(heading, (*blocks, "There are no readings of this candidate."))
    blocks += [READING, figures_table(name, findings, candidate.parts, system)]
    deciding = candidate.parts[0].findings if candidate.parts else findings[0]
    drawn = _pictures_of(findings, deciding, allowed=allowed, system=system)
    gantry = _gantry_of(machine.axis(allowed.axis), machine, study, name, system)
    blocks.append(Pictures(drawn.left, (*drawn.right, *((gantry,) if gantry else ()))))
    blocks += dict.fromkeys(f.setup.sentence for f in findings if f.setup)
    blocks += dict.fromkeys(effect.sentence for f in findings for effect in f.effects)
    if any(f.conditions for f in findings):
        blocks.append(conditions_table(name, findings, system))
    blocks += patterns(name, findings, advised)
    return Section(heading, tuple(blocks))


def _pictures_of(
    findings: Sequence[Findings], deciding: Findings, *, allowed: AllowedSpread | None = None, system: System
) -> Pictures:
    """Return the readings of each side, and the shape of those that decide."""
    strips = [readings_picture(f, allowed=allowed, system=system) for f in findings]
    shapes = [probability_picture(deciding, system=system)]
    if deciding.counted.any():
        shapes.insert(0, distribution_picture(deciding, allowed=allowed, system=system))
    return Pictures(tuple(strips), tuple(filter(None, shapes)))


def _gantry_of(axis: Axis, machine: Machine, study: Study, sensor: str, system: System) -> Picture | None:
    """The gantry racked by the worst pair of homings of a candidate; None where there is no pair."""
    if axis.motors != 2 or axis.drive_distance_mm is None:
        return None
    left, right = (study.of(sensor, axis.name, side) for side in ("L", "R"))
    worst = worst_pair(left, right) if left and right else None
    return None if worst is None else gantry_picture(axis, machine.requirement, worst, system=system)


def cautions_section(choice: Choice, study: Study) -> Section:
    """Return every doubt that travels with a figure, each once, with the candidates it is about."""
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


def proof_sections(
    machine: Machine,
    study: Study,
    choice: Choice,
    *,
    meant: Candidate | None,
    advised: dict[str, str],
    budget: Sequence[Section],
    system: System,
) -> tuple[Section, ...]:
    """Put the proof together.

    Parameters
    ----------
    machine : Machine
        The machine.
    study : Study
        What the homings of each said.
    choice : Choice
        The decision.
    meant : Candidate or None
        The one it is about.
    advised : dict of str
        By pattern the candidate where causes and check stand already; added to.
    budget : sequence of Section
        What its home position is made of.
    system : "metric" or "inch"
        Units shown.
    """
    sections = [asked_section(machine.axis(choice.allowed.axis), choice.allowed, system)]
    if choice.candidates:
        sections.append(choice_section(choice, system))
    if meant is not None and study.findings:
        sections.append(candidate_section(meant, machine, study, choice, advised, system))
    return (*sections, *budget, cautions_section(choice, study))


def about(meant: Candidate | None, choice: Choice, taken: str) -> str:
    """Say whose proof it is, and why that one's."""
    if meant is None:
        return ""
    name = meant.sensor.name
    if name == taken:
        return f"The proof is that of {name}, the candidate taken."
    if name == choice.choice:
        return f"The proof is that of {name}, the candidate recommended."
    if choice.choice:
        return f"The proof is that of {name}, the candidate named."
    tried = listed([candidate.sensor.name for candidate in choice.candidates if candidate.parts])
    return f"None of {tried} is shown to hold: the proof is that of {name}, the first one tried." if tried else ""
