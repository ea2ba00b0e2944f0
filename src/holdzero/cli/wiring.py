"""`holdzero wiring`: what the controller's input makes of a switch, whole and with every single fault."""

from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

import click

from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.files import check_output
from holdzero.cli.options import json_too, machine_of_book
from holdzero.cli.source import circuits_of
from holdzero.compute.wiring import Assessment
from holdzero.compute.wiring.contract import wiring_json
from holdzero.errors import InputError


@click.command()
@click.argument("source", metavar="BOOK|WIRING")
@machine_of_book
@click.option("--svg", metavar="FILE", help="Also write the diagram; of several circuits FILE-1, FILE-2 ...")
@depth_too
@json_too
def command(source: str, machine: str | None, svg: str | None, json_wanted: bool) -> int:
    """What the controller's input makes of a switch, whole and with every single fault.

    From a book, or from WIRING (a TOML file, or - for standard input). Exit status 1 when a state misreads,
    something would be damaged, or an open wire, a lost supply or an unplugged sensor goes unnoticed.
    """
    if svg is not None:
        check_output(svg, option="--svg")
    circuits = circuits_of(source, machine)
    if svg is not None:
        _write(svg, circuits)
    if json_wanted:
        show.as_json(wiring_json(circuits))
    else:
<<<<<<< HEAD
        from holdzero.tell.wiring import tell_wiring  # who wants JSON never waits for it

        print_answer(tell_wiring(circuits))
    return 0 if all(circuit.passes for circuit in circuits) else 1


def _write(path: str, circuits: Sequence[Assessment]) -> None:
=======
        several, told = len(assessments) > 1, set[str]()
        show.page(
            *(block for assessment in assessments for block in blocks(assessment, several=several, told=told))
        )
    return 0 if all(assessment.passes for assessment in assessments) else 1


def blocks(assessment: Assessment, *, several: bool, told: set[str]) -> list[show.Block]:
    """What a person sees: the verdict, what to do, the states, the faults, the wires, what was assumed.

    `told`: the cautions of the circuits before, which are not said again; those of this one join them.
    """

    def once(texts: Iterable[str]) -> list[str]:
        fresh = [text for text in texts if text not in told]
        told.update(fresh)
        return fresh

    cautions = [(caution.code, caution.text) for caution in assessment.cautions]
    name = f"{assessment.name or 'Circuit'}: " if several or assessment.name else ""
    return [
        f"{name}{assessment.sentence}",
        show.Points("Damage", [f"{hurt.text[0].upper()}{hurt.text[1:]}." for hurt in assessment.damage]),
        show.Points("Before touching a wire", once(text for code, text in cautions if code == "before-wiring")),
        show.Points("What to do", assessment.advice),
        *_states(assessment),
        assessment.setting,
        _timing(assessment),
        *_faults(assessment.faults),
        *_wires(assessment),
        show.Points("Laying the cable, which no sum can see", once(LAYOUT if assessment.circuit else ())),
        show.Points(
            "Assumed, since it is not stated",
            [f"{clause[0].upper()}{clause[1:]}." for clause in assessment.assumed],
        ),
        show.Points("Before trusting this", once(text for code, text in cautions if code != "before-wiring")),
    ]


def _states(assessment: Assessment) -> list[show.Block]:
    if assessment.clear is None or assessment.tripped is None:
        return []
    rows = [
        (name, *_state(state)) for name, state in (("clear", assessment.clear), ("tripped", assessment.tripped))
    ]
    return [
        show.Table(("switch", "input", "current", "reads", "left at the worst corner", ""), rows, left=(0, 3, 5))
    ]


def _state(state: State) -> tuple[str, ...]:
    left = [
        say(margin) for margin, say in ((state.margin_v, volts), (state.margin_a, milliamps)) if margin is not None
    ]
    return volts(state.input_v), milliamps(state.input_a), state.reads, " and ".join(left), state.grade


def _timing(assessment: Assessment) -> str:
    """Delays in one sentence, where there is anything to delay."""
    delay = assessment.delay
    if delay is None or max(delay.trip_s or 0.0, delay.release_s or 0.0) < 1e-6:
        return ""
    parts = [
        f"{event} {_time(usual)}" + (f", at most {_time(longest)}" if _time(longest) != _time(usual) else "")
        for event, usual, longest in (
            ("tripping", delay.trip_s, delay.trip_longest_s),
            ("releasing", delay.release_s, delay.release_longest_s),
        )
    ]
    return f"Delay of cable and filter: {'; '.join(parts)}. The sensor's own time comes on top."


def _time(time_s: float | None) -> str:
    return (
        "never" if time_s is None else "under 1 µs" if time_s < 1e-6 else quantity.show(time_s, "time", digits=2)
    )


def _faults(rows: Sequence[FaultRow]) -> list[show.Block]:
    """Those that matter first, then the rest in the order of the wires."""
    order = ("damage", "hides", "found at the next homing", "stops", None)
    ranked = sorted(rows, key=lambda row: order.index(row.effect))
    lines = [
        (
            row.fault,
            row.reads_clear,
            row.reads_tripped,
            "nothing yet" if row.effect is None else row.effect + (", chatters" if row.chatters else ""),
        )
        for row in ranked
    ]
    return (
        [show.Table(("fault", "clear reads", "tripped reads", "so it"), lines, left=(0, 1, 2, 3))] if lines else []
    )


def _wires(assessment: Assessment) -> list[show.Block]:
    if assessment.circuit is None or assessment.netlist is None:
        return []
    rows = [
        (
            wire.start,
            wire.end,
            f"{wire.colour} {wire.colour_name}".strip(),
            f"{wire.section_mm2:g} mm²" if wire.section_mm2 else "–",
            f"{wire.length_m:g} m" if wire.length_m else "–",
        )
        for wire in wires(assessment.circuit, assessment.netlist)
    ]
    return [show.Table(("from", "to", "colour", "section", "length"), rows, left=(0, 1, 2))]


def _write(path: str, assessments: Sequence[Assessment]) -> None:
>>>>>>> 675b74b (Cautions once, where they matter; motion programs end in .nc and ask for the tested stop)
    """Write the diagrams."""
    from holdzero.chart import PRINT
    from holdzero.chart.wiring import diagram

    drawn = [circuit for circuit in circuits if circuit.circuit is not None]
    target = Path(path)
    try:
        for number, circuit in enumerate(drawn, 1):
            name = target if len(drawn) == 1 else target.with_stem(f"{target.stem}-{number}")
            picture = diagram(circuit, sheet=f"{number} of {len(drawn)}", day=date.today().isoformat())
            name.write_text(picture.svg(PRINT), encoding="utf-8")
    except OSError as error:
        raise InputError(
            where=path,
            found=(error.strerror or str(error)).lower(),
            need="a file that can be written",
            do="name another one",
        ) from error
