"""Annex: what is looked up and not read: the other candidates, the method, standards, digests."""

from collections.abc import Mapping, Sequence

from holdzero.compute.choose import Candidate, Choice, Decision
from holdzero.compute.findings.values import Study
from holdzero.inputs.machine.values import Machine
from holdzero.quantity import System
from holdzero.report.front import shortened
from holdzero.tell import safety
from holdzero.tell.blocks import Block, Points, Section, Table
from holdzero.tell.choice import sheet_facts
from holdzero.tell.findings import candidates_table, explained_section, patterns_in_short
from holdzero.tell.method import SOURCES, method
from holdzero.tell.words import paragraph

ELSEWHERE = (
    "Left out here: every figure and picture of these candidates. The figures are in record.json, which this "
    "document carries, and in holdzero record --json; figures, pictures and patterns are on the page Findings."
)
READINGS = (
    "The readings one by one are in readings.csv, which this document carries unless there are very many; "
    "holdzero book export writes them too."
)


def others_section(
    choice: Choice, study: Study, meant: Candidate | None, advised: dict[str, str], system: System
) -> Section | None:
    """Return the candidates that are not meant: a row each, why, and what shows in the readings."""
    beside = [candidate for candidate in choice.candidates if candidate is not meant]
    if not beside:
        return None
    names = [candidate.sensor.name for candidate in beside]
    findings = [f for f in study.findings if f.sensor in names and f.axis in (choice.allowed.axis, "")]
    blocks: list[Block] = [candidates_table(findings, system=system)] if findings else []
    blocks.append(Points(tuple(map(_why, beside))))
    shown = patterns_in_short(findings, advised)
    if shown:
        blocks.append(Points(shown, title="What shows in their readings, and how to tell the causes apart"))
    return Section("The other candidates", (*blocks, *((ELSEWHERE,) if findings else ())))


def _why(candidate: Candidate) -> str:
    """Name, kind and verdict of a candidate, and what they rest on."""
    name, kind = candidate.sensor.name, candidate.sensor.kind
    ruled = [f"Ruled out: {paragraph(candidate.ruled_out)}"] if candidate.ruled_out else []
    reasons = paragraph((candidate.shown, *ruled, *candidate.reasons, candidate.rests_on))
    return f"{name}{f', {kind}' if kind else ''}: {reasons}"


def decisions_section(decisions: Sequence[Decision], digests: Mapping[str, str]) -> Section | None:
    """Return every decision, newest first; None where the first page says all of it."""
    if len(decisions) < 2 and all(shortened(decision.reason) == decision.reason for decision in decisions):
        return None
    rows = tuple(
        (
            decision.day,
            f"{decision.sensor} ({decision.verdict})",
            decision.by or "–",
            decision.reason,
            decision.standing(digests),
        )
        for decision in decisions
    )
    head = ("Day", "Taken", "By", "Because", "Since then")
    return Section("Decisions", (Table("What was taken, newest first", head, rows, align="lllww"),))


def explanations(choice: Choice, study: Study, meant: Candidate | None, system: System) -> tuple[Section, ...]:
    """Return what each figure tells, shown on the candidate that is meant, and how all were worked out."""
    series = [part.findings for part in meant.parts[:1]] if meant else []
    named = {source for f in study.findings for source in f.sources}
    sources = Points((*SOURCES, *sorted(named)))
    return (
        *(explained_section(findings, system) for findings in series),
        Section("How the figures were worked out", (*method(choice.confidence), sources)),
    )


def papers(
    machine: Machine, study: Study, choice: Choice, *, version: str, digests: Mapping[str, str], system: System
) -> tuple[Section, ...]:
    """Return data sheets, notes on the files, standards, and the inputs with their digests."""
    sheets = [sheet_facts([candidate.sensor for candidate in choice.candidates], system)]
    notes = (*machine.notes, *study.notes)
    deferred = Table("Standards this record defers to", ("Standard", "What it settles"), safety.STANDARDS, "lw")
    rows = tuple((name, digest) for name, digest in digests.items())
    same = f"Computed by holdzero {version}. The same inputs give the same figures."
    return (
        *([Section("Data sheets", tuple(sheets))] if choice.candidates else []),
        *([Section("Notes on the files", (Points(notes),))] if notes else []),
        Section("Standards", (deferred,)),
        Section(
            "Inputs",
            (
                f"{same} {READINGS}" if study.findings else same,
                Table("SHA-256 of the inputs", ("Input", "Digest"), rows, align="lw"),
            ),
        ),
    )
