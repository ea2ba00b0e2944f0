"""Judge: the verdict on a circuit, from its states, corners and faults, and what would mend it.

Circuits of one shape are solved together: all states, corners and faults are columns of one network.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import cast

from holdzero.caution import Caution
from holdzero.compute.wiring import sentences, words
from holdzero.compute.wiring.batch import Batch
from holdzero.compute.wiring.delay import delays
from holdzero.compute.wiring.netlist import CircuitShape
from holdzero.compute.wiring.remedy import Proposal, proposals
from holdzero.compute.wiring.results import Assessment, EdgeDelay, Remedy, Verdict
from holdzero.compute.wiring.seen import ON
from holdzero.compute.wiring.sentences import sentence
from holdzero.compute.wiring.values import Circuit, Unsaid
from holdzero.compute.wiring.words import listed

RANK: dict[Verdict, int] = {"damage": 0, "does not work": 1, "cannot say": 2, "works, but": 3, "works": 4}


def assess(circuit: Circuit | Unsaid) -> Assessment:
    """Solve one circuit and judge it, with delays and with remedies solved again.

    Examples
    --------
    >>> from holdzero.compute.wiring.entry import circuits_from
    >>> (circuit,) = circuits_from({
    ...     "supply": {"voltage": "20.4 V"},
    ...     "sensor": {"output": "2-wire", "contact": "NO", "drop": "8 V", "leakage": "1.5 mA"},
    ...     "input": {"kind": "IEC 61131-2 type 1"}})
    >>> assessment = assess(circuit)
    >>> assessment.verdict, f"{assessment.tripped.input_v:.2f} V", assessment.tripped.reads
    ('does not work', '12.40 V', 'undefined')
    """
    return assess_all([circuit])[0]


def assess_all(circuits: Sequence[Circuit | Unsaid]) -> list[Assessment]:
    """Solve circuits and judge them, with delays and remedies; in the order given."""
    assessments = assess_many(circuits)
    tries = [
        (k, proposal)
        for k, before in enumerate(assessments)
        if before.circuit is not None and before.verdict != "works"
        for proposal in proposals(before.circuit)
    ]
    again = assess_many([proposal.circuit for _, proposal in tries])
    kept: list[list[Remedy]] = [[] for _ in assessments]
    for (k, proposal), outcome in zip(tries, again, strict=True):
        if _better(outcome, assessments[k]):
            kept[k].append(_remedy(proposal, outcome))
    return [_finished(assessment, remedies) for assessment, remedies in zip(assessments, kept, strict=True)]


def assess_many(circuits: Sequence[Circuit | Unsaid]) -> list[Assessment]:
    """Solve many circuits and judge them with their fault tables, without delays and remedies.

    Parameters
    ----------
    circuits : sequence of Circuit or Unsaid

    Returns
    -------
    list of Assessment
        In the order given.
    """
    assessments: list[Assessment | None] = [None] * len(circuits)
    groups: dict[CircuitShape, list[int]] = {}
    for k, circuit in enumerate(circuits):
        if isinstance(circuit, Unsaid):
            assessments[k] = _unsaid(circuit)
        else:
            groups.setdefault(CircuitShape.of(circuit), []).append(k)
    for shape, members in groups.items():
        batch = Batch.solve(shape, [cast(Circuit, circuits[k]) for k in members])
        held = batch.held_as_stated()
        for number, k in enumerate(members):
            assessments[k] = _judge(batch, number, held_as_stated=held.get(number, True))
    return cast(list[Assessment], assessments)


def _judge(batch: Batch, k: int, *, held_as_stated: bool) -> Assessment:
    circuit, net = batch.circuits[k], batch.net
    clear, tripped = batch.state(k, 0), batch.state(k, batch.worst(k))
    rows = batch.fault_rows(k)
    damage = batch.damage(k, rows)
    wetting = batch.wetting(k)
    clear_on = bool(batch.expected[k, 0] == ON)
    reasons: list[str] = []
    advice: list[str] = []
    grades = (clear.grade, tripped.grade)
    verdict: Verdict
    if damage:
        verdict, says = "damage", f"Damage: {damage[0].text}. Do not switch this on."
    elif "wrong" in grades:
        verdict = "does not work"
        says = f"Does not work: {sentences.wrong(circuit, clear, tripped, clear_on=clear_on)}."
    elif not held_as_stated:
        verdict = "does not work"
        says = f"Does not work at the ends of the stated tolerances: {sentences.marginal(clear, tripped)}."
    elif "marginal" in grades and batch.drop_decides(k):
        verdict = "cannot say"
        says, measure = sentences.measure_the_drop(circuit)
        advice.append(measure)
        resting, name = (clear, "clear") if clear_on else (tripped, "tripped")  # not pulled low
        if resting.grade != "good":
            short = sentences.falls_short(resting, name)
            advice.append(sentence(f"beside that, not at the ends of what is assumed: {short}"))
    else:
        reasons += sentences.short_of_room(clear, tripped)
        reasons += sentences.unnoticed(rows)
        reasons += sentences.starved(circuit, [batch.least_through(k, at) for at in range(len(circuit.sensors))])
        reasons += [sentences.dry(wetting)] if wetting and not (wetting.wets or wetting.assumed) else []
        reasons += sentences.shared(circuit)
        reasons += sentences.weak(circuit)
        reasons += sentences.silent_sheet(circuit)
        verdict = "works, but" if reasons else "works"
        says = f"Works, but {reasons[0]}." if reasons else sentences.works(rows)
    advice += [sentence(reason) for reason in reasons[1:]]
    advice += sentences.advice(circuit, rows)
    heats = {name: heat[k] for name, heat in batch.heats.items()}
    return Assessment(
        name=circuit.name,
        verdict=verdict,
        sentence=says,
        clear=clear,
        tripped=tripped,
        faults=rows,
        damage=tuple(damage),
        advice=tuple(dict.fromkeys(advice)),
        cautions=(*words.SAFETY, *sentences.cautions(circuit, net, wetting, heats)),
        assumed=circuit.assumed,
        setting=sentences.setting(circuit, clear_on=clear_on),
        clear_is_on=clear_on,
        wetting=wetting,
        start_up_s=sentences.start_up_s(circuit),
        circuit=circuit,
        netlist=net,
    )


def _unsaid(circuit: Unsaid) -> Assessment:
    return Assessment(
        name=circuit.name,
        verdict="cannot say",
        sentence=f"Cannot say: {listed(list(circuit.missing))} is not known.",
        clear=None,
        tripped=None,
        advice=(sentences.FIND_OUT,),
        cautions=(*words.SAFETY, *(Caution("key-not-used", note) for note in circuit.notes)),
    )


# remedies ----------------------------------------------------------------------------------------------


def _better(outcome: Assessment, before: Assessment) -> bool:
    """Whether a change mends something: a better verdict that works, or fewer losses that hide."""
    if outcome.verdict not in ("works", "works, but"):
        return False
    if RANK[outcome.verdict] != RANK[before.verdict]:
        return RANK[outcome.verdict] > RANK[before.verdict]
    hidden = [sum(row.hides_a_loss for row in assessment.faults) for assessment in (outcome, before)]
    return hidden[0] < hidden[1]


def _remedy(proposal: Proposal, outcome: Assessment) -> Remedy:
    return Remedy(
        kind=proposal.kind,
        text=proposal.text,
        verdict=outcome.verdict,
        sentence=outcome.sentence,
        circuit=proposal.circuit,
        low_ohm=proposal.low_ohm,
        high_ohm=proposal.high_ohm,
        ohm=proposal.ohm,
        heat_w=proposal.heat_w,
    )


def _finished(assessment: Assessment, remedies: Sequence[Remedy]) -> Assessment:
    """Add delays, and the remedies to the advice: those that mend all of it first."""
    if assessment.circuit is None or assessment.netlist is None:
        return assessment
    late = (
        None
        if assessment.misreads
        else delays(assessment.circuit, assessment.netlist, clear_is_on=assessment.clear_is_on)
    )
    finished = replace(assessment, remedies=tuple(remedies), delay=late)
    return finished if late is None else _vetoed(finished, late)


def _vetoed(assessment: Assessment, late: EdgeDelay) -> Assessment:
    """Take the verdict down where an edge never reaches the level that it has to reach.

    Only at a corner it cannot be: a state that is good has something to spare at every one of them.
    """
    never = [name for name, usual_s in (("tripped", late.trip_s), ("clear", late.release_s)) if usual_s is None]
    if never and RANK[assessment.verdict] > RANK["does not work"]:
        says = f"Does not work: the input never gets to {listed(never)}."
        return replace(assessment, verdict="does not work", sentence=says)
    return assessment
