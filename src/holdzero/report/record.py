"""Record: what stands in the record of a machine's homing, in the order a person reads it.

The first page is the whole of it, to pin to the machine; then the proof of the candidate that is meant; then an
annex. A pure function: the same results give the same record.
"""

from collections.abc import Mapping, Sequence
from datetime import date

from holdzero.case.standing.values import Standing
from holdzero.compute.choose import Choice, Decision
from holdzero.compute.choose.asks import Ask
from holdzero.compute.findings.values import Study
from holdzero.inputs.machine.values import Machine
from holdzero.quantity import System
from holdzero.report.annex import decisions_section, explanations, others_section, papers
from holdzero.report.content import Attached, RecordContent
from holdzero.report.front import front_page, shortened
from holdzero.report.proof import about, meant_of, proof_sections
from holdzero.tell.blocks import Section
from holdzero.tell.choice import what_is_open
from holdzero.tell.words import paragraph


def record_content(
    machine: Machine,
    study: Study,
    choice: Choice,
    *,
    digests: Mapping[str, str],
    version: str,
    meant: str = "",
    invented: str = "",
    day: date | None = None,
    system: System = "metric",
    asks: Sequence[Ask] = (),
    decisions: Sequence[Decision] = (),
    budget: Sequence[Section] = (),
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
    meant : str
        Name of the candidate the proof is about; by default the one recommended, else the first that was tried.
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
    budget : sequence of Section
        What home position is made of with that candidate: a part of the proof.
    more : sequence of Section
        Further sections (wiring, travel, squareness, checklist), for the annex.
    attached : tuple of Attached
        Files the document carries along.
    standing : Standing, optional
        Of the axis: it stands first where anything was tried.
    rests_on : str
        How many homings the figures rest on.
    """
    axis = machine.axis(choice.allowed.axis)
    taken = decisions[0] if decisions else None
    still = tuple(ask for ask in asks if not ask.done) if choice.any_holds else ()
    candidate = meant_of(choice, meant or (taken.sensor if taken else ""))
    advised: dict[str, str] = {}
    proof = proof_sections(
        machine, study, choice, meant=candidate, advised=advised, budget=budget, system=system
    )  # before the annex: causes and checks stand where they are first needed
    annex = (
        *more,
        others_section(choice, study, candidate, advised, system),
        decisions_section(decisions, digests),
        *explanations(choice, study, candidate, system),
        *papers(machine, study, choice, version=version, digests=digests, system=system),
    )
    following = standing.next if standing else ""
    return RecordContent(
        title="Does this machine hold zero?",
        subject=f"{machine.name}, axis {axis.name}",
        verdict=record_verdict(study, choice, asks=asks, standing=standing),
        reason=paragraph(
            (choice.reason, shortened(f"Taken: {taken.sentence}") if taken else "", _still_asked(still), rests_on)
        ),
        front=front_page(
            machine,
            choice,
            standing=standing,
            still_open=what_is_open(choice, asks, following=following),
            decisions=decisions,
            digests=digests,
            system=system,
        ),
        about=about(candidate, choice, taken.sensor if taken else ""),
        sections=proof,
        annex=tuple(section for section in annex if section is not None),
        version=version,
        digests=tuple(digests.items()),
        invented=invented,
        day=day,
        attached=attached,
    )


def record_verdict(study: Study, choice: Choice, *, asks: Sequence[Ask], standing: Standing | None) -> str:
    """Return what the record comes to: how the axis stands, else what the choice says."""
    if standing and study.findings:
        return standing.headline
    axis, still = choice.allowed.axis, any(not ask.done for ask in asks)
    if choice.choice:
        return f"{choice.choice} holds zero on axis {axis}{' so far' if still else ''}."
    if not study.findings:
        return f"Cannot say yet whether axis {axis} holds zero: nothing was tried."
    return "No candidate is shown to hold zero."


def _still_asked(still: Sequence[Ask]) -> str:
    """How much is asked for before a `holds` may stand, for the head of the record."""
    count = len(still)
    things = "one more thing is" if count == 1 else f"{count} more things are"
    return f"Before “holds” may stand, {things} asked for: see What is open" if still else ""


def last_day(study: Study) -> date | None:
    """Return the day of the last reading whose time is given as YYYY-MM-DD..., or None."""
    days = []
    for text in {text for findings in study.findings for text in findings.homings.time.astype("U10").tolist()}:
        try:
            days.append(date.fromisoformat(text))
        except ValueError:
            continue
    return max(days, default=None)
