"""Wiring: what the controller sees of a switch, whole and with every single fault."""

import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from holdzero.chart.wiring import diagram
from holdzero.compute.wiring import Assessment, FaultRow, State
from holdzero.compute.wiring.results import Effect
from holdzero.compute.wiring.terminals import Wire, wires
from holdzero.compute.wiring.words import LAYOUT, milliamps, volts
from holdzero.quantity import show_at_least
from holdzero.tell.blocks import Answer, Block, Facts, Note, Pictures, Points, Section, Table
from holdzero.tell.words import listed, marked, sentence

EFFECTS: tuple[Effect | None, ...] = (
    "damage",
    "hides",
    "found at the next homing",
    "stops",
    None,
)  # of a fault: what matters first
DOES = {
    "damage": ("does damage", "do damage"),
    "hides": ("hides", "hide"),
    "found at the next homing": ("shows at the next homing", "show at the next homing"),
    "stops": ("stops the machine at once", "stop the machine at once"),
    "": ("does nothing yet", "do nothing yet"),
}
BEFORE = "before-wiring"  # the caution that comes before anything is touched
WORST_FIRST = ("damage", "does not work", "cannot say", "works, but", "works")


def tell_wiring(circuits: Sequence[Assessment], *, machine: str = "", day: str = "") -> Answer:
    """Tell what comes of every circuit of a machine.

    Parameters
    ----------
    circuits : sequence of Assessment
        At least one.
    machine : str
        For the title blocks of the diagrams.
    day : str
        Day of the diagrams, as YYYY-MM-DD.
    """
    alike = _alike(circuits)
    several = len(alike) > 1
    chapters = tuple(
        _circuit(number, group, count=len(alike), machine=machine, day=day)
        for number, group in enumerate(alike, 1)
    )
    boxes = tuple(("☐", line) for line in LAYOUT)
    laying = Table("What no sum can see: look at the machine, and tick it", ("Done", "Cable"), boxes, align="lw")
    cautions = dict.fromkeys(caution for circuit in circuits for caution in circuit.cautions)
    before = [caution.text for caution in cautions if caution.code == BEFORE]
    known = tuple(Note(caution.text) for caution in cautions if caution.code != BEFORE)
    return Answer(
        headline=wiring_headline(circuits),
        lead=() if several else (*_tested(circuits[0]), *filter(None, (circuits[0].setting,))),
        to_do=Points(_to_do(alike)),
        table=_table(alike) if several else _states(circuits[0]),
        before=tuple(before),
        more=(*chapters, Section("Laying the cable", (laying,))),
        explained=(Section("Before trusting this", known),) if known else (),
    )


def wiring_headline(circuits: Sequence[Assessment]) -> str:
    """Say what comes of the circuits: of alike ones their sentence, of several how many must not stay."""
    alike = _alike(circuits)
    if len(alike) == 1:
        names, verdict = ", ".join(circuit.name for circuit in circuits if circuit.name), circuits[0].sentence
        return f"{names}: {verdict[0].lower()}{verdict[1:]}" if names else verdict
    bad = [circuit for circuit in circuits if not circuit.passes]
    if not bad:
        doubtful = [circuit.name for circuit in circuits if circuit.verdict != "works"]
        every = "Both" if len(circuits) == 2 else f"All {len(circuits)}"
        good = f"{every} circuits work, and a broken wire stops the machine"
        return f"{good}; look at {listed(doubtful, most=3)}." if doubtful else f"{good}."
    names = listed([circuit.name or "one without a name" for circuit in bad], most=4)
    stay = "as it is" if len(bad) == 1 else "as they are"
    return f"{len(bad)} of {len(circuits)} circuits must not stay {stay}: {names}."


def to_do(circuit: Assessment) -> tuple[str, ...]:
    """What to do about one circuit: damage first, then what mends it, then what else is advised."""
    return (
        *(sentence(damage.text) for damage in circuit.damage),
        *circuit.mending,
        *circuit.advice,
    )


def faults(circuit: Assessment) -> list[FaultRow]:
    """Its single faults, those that matter first."""
    return sorted(circuit.faults, key=lambda row: EFFECTS.index(row.effect))


def fault_table(circuit: Assessment) -> Table:
    """What each single fault does."""
    rows = tuple(
        (
            row.fault,
            marked(row.effect or "nothing yet") + (", chatters" if row.chatters else ""),
            row.reads_clear,
            row.reads_tripped,
        )
        for row in faults(circuit)
    )
    return Table(
        "One fault at a time. Stops: the input reads tripped at once. Hides: it goes on reading clear, or nothing "
        "sure, and the crash comes first.",
        ("Fault", "So it", "Reads clear as", "tripped as"),
        rows,
        align="wlll",
    )


def effects(circuit: Assessment) -> list[tuple[str, int]]:
    """How many single faults do what, what matters first."""
    counted = Counter(row.effect for row in circuit.faults)
    return [(effect or "", count) for effect in EFFECTS if (count := counted[effect])]


def terminal_table(name: str, terminals: Sequence[Wire]) -> Table:
    """Where each wire of a circuit starts and ends."""
    rows = tuple(
        (
            wire.start,
            wire.end,
            f"{wire.colour} {wire.colour_name}".strip() or "any",
            f"{wire.section_mm2:g}\u202fmm²" if wire.section_mm2 else "–",
            f"{wire.length_m:g}\u202fm" if wire.length_m else "–",
        )
        for wire in terminals
    )
    head = ("From", "To", "Colour (letters of IEC 60757)", "Section", "Length")
    return Table(f"Terminals of {name}", head, rows, align="lllrr")


def contact_facts(circuit: Assessment) -> Facts | None:
    """What a contact switches, beside what its material needs against its film."""
    wetting = circuit.wetting
    if wetting is None:
        return None
    needs = f"{wetting.material} needs, against its film{' (material assumed)' if wetting.assumed else ''}"
    return Facts(
        (
            ("The contact switches", f"{volts(wetting.volt)}, {milliamps(wetting.amp)}"),
            (needs, f"{volts(wetting.need_v)}, {milliamps(wetting.need_a)}"),
        )
    )


def delay_of(circuit: Assessment) -> str:
    """The delay of both edges in one sentence, where there is anything to delay."""
    late = circuit.delay
    if late is None or max(late.trip_s or 0.0, late.release_s or 0.0) < 1e-6:
        return ""
    trip, release = (
        "never"
        if longest_s is None
        else "under 1\u202fµs"
        if longest_s < 1e-6
        else f"at most {show_at_least(longest_s, 'time', digits=2)}"
        for longest_s in (late.trip_longest_s, late.release_longest_s)
    )
    return f"Delay of cable and filter: tripping {trip}, releasing {release}; the sensor’s own time comes on top."


def _alike(circuits: Sequence[Assessment]) -> list[list[Assessment]]:
    """Circuits that were entered alike, but for their name, stand together."""
    groups: dict[str, list[Assessment]] = {}
    for circuit in circuits:
        groups.setdefault(_as_entered(circuit), []).append(circuit)
    return list(groups.values())


def _as_entered(circuit: Assessment) -> str:
    """What was entered, its name aside. Solved figures stay out: their last digit is the processor's."""
    if circuit.circuit is None:  # nothing was solved
        return repr(replace(circuit, name=""))
    return json.dumps({**circuit.circuit.entered, "name": None}, sort_keys=True, default=repr)


def _names(alike: Sequence[Assessment], number: int, count: int) -> str:
    names = ", ".join(circuit.name for circuit in alike if circuit.name)
    return names or ("Circuit" if count == 1 else f"Circuit {number}")


def _tested(circuit: Assessment) -> tuple[str, ...]:
    if not circuit.faults:
        return ()
    counts = [f"{count} {DOES[effect][count != 1]}" for effect, count in effects(circuit)]
    return (f"Of {len(circuit.faults)} single faults {listed(counts)}.",)


def _to_do(alike: Sequence[Sequence[Assessment]]) -> tuple[str, ...]:
    """What is wrong first, the name before it where there are several."""
    worst = sorted(enumerate(alike, 1), key=lambda pair: WORST_FIRST.index(pair[1][0].verdict))
    steps: dict[str, list[str]] = {}
    for number, group in worst:
        wrong = () if len(alike) == 1 or group[0].passes else (group[0].sentence,)
        in_wrong = {sentence(damage.text) for damage in group[0].damage[:1]} if wrong else set()
        for step in (*wrong, *(step for step in to_do(group[0]) if step not in in_wrong)):
            steps.setdefault(step, []).append(_names(group, number, len(alike)))
    return tuple(
        step if len(alike) == 1 or len(names) == len(alike) else f"{', '.join(names)}: {step}"
        for step, names in steps.items()
    )


def _table(alike: Sequence[Sequence[Assessment]]) -> Table:
    """A row a circuit."""
    rows = []
    for number, group in sorted(enumerate(alike, 1), key=lambda pair: WORST_FIRST.index(pair[1][0].verdict)):
        circuit = group[0]
        reads = (state.reads if state else "–" for state in (circuit.clear, circuit.tripped))
        counts = [str(sum(row.effect == effect for row in circuit.faults)) for effect in ("hides", "damage")]
        rows.append((_names(group, number, len(alike)), marked(circuit.verdict), *reads, *counts))
    head = ("Circuit", "Verdict", "Clear reads", "Tripped reads", "Faults: hide", "damage")
    return Table("Every circuit", head, tuple(rows), align="wlllrr")


def _states(circuit: Assessment) -> Table | None:
    if circuit.clear is None or circuit.tripped is None:
        return None
    rows = (_state("clear", circuit.clear), _state("tripped", circuit.tripped))
    head = ("Switch", "Reads", "Input", "Current", "Left at the worst corner", "So it is")
    return Table("Nominal figures, and what is left to the guaranteed level", head, rows, align="llrrll")


def _state(name: str, state: State) -> tuple[str, ...]:
    margins = ((state.margin_v, volts), (state.margin_a, milliamps))
    left = " and ".join(say(margin) for margin, say in margins if margin is not None)
    return name, state.reads, volts(state.input_v), milliamps(state.input_a), left or "–", marked(state.grade)


def _circuit(number: int, alike: Sequence[Assessment], *, count: int, machine: str, day: str) -> Section:
    """Everything about circuits that were entered alike."""
    circuit = alike[0]
    name = _names(alike, number, count)
    blocks: list[Block] = []
    if count > 1:
        blocks += [circuit.sentence, *_tested(circuit), circuit.setting]
        blocks += [Note(sentence(damage.text), strong=True) for damage in circuit.damage]
    if circuit.circuit is not None and circuit.netlist is not None:
        drawn = diagram(circuit, machine=machine, sheet=f"{number} of {count}", day=day)
        blocks.append(Pictures((drawn,)))
    if count > 1:
        blocks += filter(None, (_states(circuit),))
    blocks += filter(None, (contact_facts(circuit), delay_of(circuit)))
    if count > 1 and (circuit.mending or circuit.advice):
        blocks.append(Points((*circuit.mending, *circuit.advice)))
    if circuit.faults:
        blocks.append(fault_table(circuit))
    if circuit.circuit is not None and circuit.netlist is not None:
        blocks.append(terminal_table(name, wires(circuit.circuit, circuit.netlist)))
    if circuit.assumed:
        blocks.append(f"Assumed, since it is not stated: {'; '.join(circuit.assumed)}.")
    return Section(f"{name}: {circuit.verdict}", tuple(block for block in blocks if block))
