"""`holdzero wiring`: what the controller's input makes of a switch, whole and with every single fault."""

from collections.abc import Sequence
from datetime import date
from pathlib import Path

import click

from holdzero import quantity
from holdzero.cli import show
from holdzero.cli.files import check_output, read_text
from holdzero.cli.options import json_too
from holdzero.compute.wiring import Assessment, FaultRow, State, assess_all, read_wiring
from holdzero.compute.wiring.contract import wiring_json
from holdzero.compute.wiring.terminals import wires
from holdzero.compute.wiring.words import LAYOUT, milliamps, volts
from holdzero.errors import InputError


@click.command()
@click.argument("wiring")
@click.option("--svg", metavar="FILE", help="Also write the diagram; of several circuits FILE-1, FILE-2 ...")
@json_too
def command(wiring: str, svg: str | None, json_wanted: bool) -> int:
    """What the controller's input makes of a switch, whole and with every single fault.

    WIRING is a TOML file, or - for standard input. Exit status 1 when a state misreads, something would be
    damaged, or an open wire, a lost supply or an unplugged sensor goes unnoticed.
    """
    if svg is not None:
        check_output(svg, option="--svg")
    text, where = read_text(wiring)
    assessments = assess_all(read_wiring(text, where=where))
    if svg is not None:
        _write(svg, assessments)
    if json_wanted:
        show.as_json(wiring_json(assessments))
    else:
        show.page(
            *(block for assessment in assessments for block in blocks(assessment, several=len(assessments) > 1))
        )
    return 0 if all(assessment.passes for assessment in assessments) else 1


def blocks(assessment: Assessment, *, several: bool = False) -> list[show.Block]:
    """What a person sees: the verdict, what to do, the states, the faults, the wires, what was assumed."""
    name = f"{assessment.name or 'Circuit'}: " if several or assessment.name else ""
    return [
        f"{name}{assessment.sentence}",
        show.Points("Damage", [f"{hurt.text[0].upper()}{hurt.text[1:]}." for hurt in assessment.damage]),
        show.Points("Before touching a wire", [c.text for c in assessment.cautions if c.code == "before-wiring"]),
        show.Points("What to do", assessment.advice),
        *_states(assessment),
        assessment.setting,
        _timing(assessment),
        *_faults(assessment.faults),
        *_wires(assessment),
        show.Points("Laying the cable, which no sum can see", LAYOUT if assessment.circuit else ()),
        show.Points(
            "Assumed, since it is not stated",
            [f"{clause[0].upper()}{clause[1:]}." for clause in assessment.assumed],
        ),
        show.Points("Before trusting this", [c.text for c in assessment.cautions if c.code != "before-wiring"]),
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
    """Write the diagrams."""
    from holdzero.chart import PRINT
    from holdzero.chart.wiring import diagram

    drawn = [assessment for assessment in assessments if assessment.circuit is not None]
    target = Path(path)
    try:
        for number, assessment in enumerate(drawn, 1):
            name = target if len(drawn) == 1 else target.with_stem(f"{target.stem}-{number}")
            picture = diagram(assessment, sheet=f"{number} of {len(drawn)}", day=date.today().isoformat())
            name.write_text(picture.svg(PRINT), encoding="utf-8")
    except OSError as error:
        raise InputError(
            where=path,
            found=(error.strerror or str(error)).lower(),
            need="a file that can be written",
            do="name another one",
        ) from error
