"""Wiring: what the controller sees of a switch, whole and with every fault, as a section of a document."""

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from holdzero.chart.wiring import diagram
from holdzero.compute.wiring import Assessment, FaultRow, State
from holdzero.compute.wiring.terminals import Wire, wires
from holdzero.compute.wiring.words import LAYOUT, milliamps, volts
from holdzero.quantity import show
from holdzero.tell.blocks import Block, Note, Points, Section, Table

ORDER = ("damage", "hides", "found at the next homing", "stops", None)  # of faults: what matters first


def wiring_section(
    assessments: Sequence[Assessment], *, machine: str = "", day: date | None = None
) -> Section | None:
    """Return every circuit: verdict, diagram, states, faults, terminals; then how to lay the cable.

    Parameters
    ----------
    assessments : sequence of Assessment
        One a circuit.
    machine : str
    day : date, optional
        For the title blocks of the diagrams.

    Returns
    -------
    Section or None
        None without a circuit.
    """
    if not assessments:
        return None
    cautions = tuple(dict.fromkeys(caution.text for assessment in assessments for caution in assessment.cautions))
    boxes = tuple(("☐", line) for line in LAYOUT)
    laying = Section(
        "Laying the cable",
        (Table("What no sum can see: look at the machine, and tick it", ("Done", "Cable"), boxes, align="ll"),),
    )
    alike, drawn = _alike(assessments), day.isoformat() if day else ""
    return Section(
        "Wiring: what the controller sees",
        tuple(Note(text) for text in cautions),
        (*(_circuit(*group, len(alike), machine, drawn) for group in enumerate(alike, 1)), laying),
    )


def _alike(assessments: Sequence[Assessment]) -> list[list[Assessment]]:
    """Circuits that were entered alike, but for their name, stand together."""
    groups: dict[str, list[Assessment]] = {}
    for assessment in assessments:
        groups.setdefault(_as_entered(assessment), []).append(assessment)
    return list(groups.values())


def _as_entered(assessment: Assessment) -> str:
    """What was entered, its name aside. Solved figures stay out: their last digit is the processor's."""
    circuit = assessment.circuit
    if circuit is None:  # nothing was solved
        return repr(replace(assessment, name=""))
    return json.dumps({**circuit.entered, "name": None}, sort_keys=True, default=repr)


def _circuit(number: int, alike: Sequence[Assessment], count: int, machine: str, day: str) -> Section:
    assessment = alike[0]
    name = ", ".join(assessment.name for assessment in alike if assessment.name)
    name = name or ("Circuit" if count == 1 else f"Circuit {number}")
    blocks: list[Block] = [assessment.sentence]
    blocks += [Note(f"{hurt.text[0].upper()}{hurt.text[1:]}.", strong=True) for hurt in assessment.damage]
    if assessment.circuit is not None and assessment.netlist is not None:
        blocks.append(diagram(assessment, machine=machine, sheet=f"{number} of {count}", day=day))
    if assessment.clear is not None and assessment.tripped is not None:
        head = ("Switch", "Input", "Current", "Reads", "Left at the worst corner", "Grade")
        rows = (_state("clear", assessment.clear), _state("tripped", assessment.tripped))
        blocks.append(Table(f"States of {name}, nominal", head, rows, align="lrrlll"))
    blocks += [text for text in (assessment.setting, _delay(assessment)) if text]
    if assessment.advice:
        blocks.append(Points(assessment.advice))
    if assessment.faults:
        ranked = sorted(assessment.faults, key=lambda row: ORDER.index(row.effect))
        faults = tuple(_fault(row) for row in ranked)
        caption = f"Single faults of {name}; a design aid, not a certificate"
        blocks.append(Table(caption, ("Fault", "Clear reads", "Tripped reads", "So it"), faults, align="llll"))
    if assessment.circuit is not None and assessment.netlist is not None:
        blocks.append(terminal_table(name, wires(assessment.circuit, assessment.netlist)))
    if assessment.assumed:
        blocks.append(f"Assumed, since it is not stated: {'; '.join(assessment.assumed)}.")
    return Section(f"{name}: {assessment.verdict}", tuple(blocks))


def _state(name: str, state: State) -> tuple[str, ...]:
    margins = ((state.margin_v, volts), (state.margin_a, milliamps))
    left = " and ".join(say(margin) for margin, say in margins if margin is not None)
    return name, volts(state.input_v), milliamps(state.input_a), state.reads, left or "–", state.grade


def _fault(row: FaultRow) -> tuple[str, ...]:
    comes = "nothing yet" if row.effect is None else row.effect + (", chatters" if row.chatters else "")
    return row.fault, row.reads_clear, row.reads_tripped, comes


def _delay(assessment: Assessment) -> str:
    """Delays in one sentence, where there is anything to delay."""
    delay = assessment.delay
    if delay is None or max(delay.trip_s or 0.0, delay.release_s or 0.0) < 1e-6:
        return ""
    trip, release = (
        "never" if longest is None else f"at most {show(longest, 'time', digits=2)}"
        for longest in (delay.trip_longest_s, delay.release_longest_s)
    )
    return f"Delay of cable and filter: tripping {trip}, releasing {release}; the sensor's own time comes on top."


def terminal_table(name: str, listed: Sequence[Wire]) -> Table:
    """Return where each wire of a circuit starts and ends."""
    rows = tuple(
        (
            wire.start,
            wire.end,
            f"{wire.colour} {wire.colour_name}".strip() or "any",
            f"{wire.section_mm2:g} mm²" if wire.section_mm2 else "–",
            f"{wire.length_m:g} m" if wire.length_m else "–",
        )
        for wire in listed
    )
    head = ("From", "To", "Colour (letters of IEC 60757)", "Section", "Length")
    return Table(f"Terminals of {name}", head, rows, align="lllrr")
