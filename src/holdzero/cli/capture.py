"""`holdzero capture`: hundreds of homings from a logic analyser's file."""

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from holdzero import __version__, quantity
from holdzero.cli import show
from holdzero.cli.files import check_output, read_text
from holdzero.cli.options import json_too, machine_of_book, not_with, only_with, units_too
from holdzero.compute.capture import (
    CaptureFindings,
    CaptureMap,
    DebounceTime,
    SwitchFindings,
    capture_as_json,
    capture_findings,
    read_capture_map,
    readings_csv,
    trip_rows,
)
from holdzero.errors import InputError
from holdzero.quantity import System, field_unit, fixed, show_interval
from holdzero.recording import Progress, digest, read_recording

if TYPE_CHECKING:  # most captures need no circuit
    from holdzero.compute.wiring import TapSeen

SHOWN_RATE = 1e-3  # of the debounce times, the one that is told first
_FEW = 6  # rows of the table, and sentences under a title, that one look takes in


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--map", "map_file", required=True, metavar="MAP", help="Which channel is which (TOML).")
@click.option(
    "--tap",
    "tap_file",
    metavar="WIRING",
    help="Before a capture, instead of FILE: may the analyser hang on the inputs of this wiring file?",
)
@click.option("--svg", metavar="FILE", help="With --tap: also draw each circuit, the tap's caution on it.")
@click.option("--readings", metavar="CSV", help="Write the trips as a readings file, for study and choose.")
@click.option("--into", metavar="BOOK", help="Keep the trips in a book, as a trial of the kind long run.")
@machine_of_book
@click.option("--all-speeds", is_flag=True, help="Write those of the faster speeds too, not only the slowest.")
@click.option("--sensor", default="", help="Whose trips they are, in the readings.")
@click.option("--axis", default="", help="Axis, in the readings.")
@click.option("--side", default="", type=click.Choice(["", "L", "R"]), help="Side of the one switch of the map.")
@click.option("--full", is_flag=True, help="Every speed, every debounce time, every caution.")
@units_too
@json_too
def command(
    file: Path | None,
    map_file: str,
    tap_file: str | None,
    svg: str | None,
    readings: str | None,
    into: str | None,
    machine: str | None,
    all_speeds: bool,
    sensor: str,
    axis: str,
    side: str,
    full: bool,
    units: System,
    json_wanted: bool,
) -> int:
    """Hundreds of homings from a logic analyser's file.

    FILE is a capture, VCD or CSV, packed with gzip or not: the switch, and the encoder or the step and direction
    signals, over many homings in one power-up. Trips, releases and pulses are told apart; places are counted
    from the start of the file, plus towards the switch.

    With --tap each channel is solved first as an input of its own, with what the map says of it below [tap]. Exit
    status 1 where it may not be connected as it is.
    """
    if tap_file is not None:
        not_with("--tap", tap_file, "file", "readings", "into", "machine", "all_speeds", "sensor", "axis", "side")
        not_with("--tap", tap_file, "full", "units")
        return _tapped(map_file, tap_file, svg, json_wanted)
    only_with("--tap", tap_file, "svg")
    only_with("--into", into, "machine")
    if file is None:
        raise InputError(
            where="FILE",
            found="nothing",
            need="a capture, VCD or CSV",
            do="name it, or check the wiring with --tap",
        )
    only_with("--readings or --into", readings or into, "all_speeds", "sensor", "axis")
    if readings is not None:
        check_output(readings, option="--readings")
    text, where = read_text(map_file)
    channels = _with_side(read_capture_map(text, where=where), side)
    findings = capture_findings(read_recording(file, channels, where=str(file), progress=_progress()), channels)
    rows = trip_rows(findings, all_speeds=all_speeds) if readings is not None or into is not None else ()
    sha = digest(file) if rows else ""
    written = readings_csv(rows, sensor=sensor, axis=axis, side=side, digest=sha)
    if readings is not None:
        Path(readings).write_text(written, encoding="utf-8")
    kept = "" if into is None else _keep(into, machine, written, str(file), sha)
    if json_wanted:
        show.as_json(capture_as_json(findings))
    else:
        show.page(*blocks(findings, system=units, full=full))
        if readings is not None:
            click.echo(f"{len(rows)} readings written to {readings}: one power-up, a long run.")
        if kept:
            click.echo(kept)
    return 0


def _keep(into: str, machine: str | None, written: str, file: str, sha: str) -> str:
    """Keep the trips in a book; say what was kept."""
    from holdzero.case.in_book import machine_named
    from holdzero.cli.source import mark_machine
    from holdzero.inputs.reading import read_readings
    from holdzero.store import open_book
    from holdzero.trial.long_run_kept import keep_long_run

    if not sha:
        raise InputError(
            where=file,
            found="no trip whose place is sure",
            need="trips to keep",
            do="look at the capture without --into first",
        )
    with open_book(into, create=False) as book:
        owner = machine_named(book, machine)
        mark_machine(owner)
        readings = read_readings(written, where=file)
        name, note = f"Long run, capture {sha[:8]}", f"SHA-256 of the capture: {sha}"
        return keep_long_run(book, owner, readings, name=name, note=note).sentence


def _with_side(channels: CaptureMap, side: str) -> CaptureMap:
    if not side:
        return channels
    if len(channels.switches) > 1 or channels.switches[0].side:
        raise InputError(
            where="--side",
            found=f"a map with {', '.join(switch.name for switch in channels.switches)}",
            need="one switch without a side",
            do="leave --side out; the map says the sides",
        )
    return replace(channels, switches=(replace(channels.switches[0], side=side),))


def _tapped(map_file: str, tap_file: str, svg: str | None, json_wanted: bool) -> int:
    """May a channel hang on each input of a wiring file?"""
    from holdzero.compute.wiring import Unsaid, analyser_channel, read_wiring, tap
    from holdzero.form import read_toml

    text, where = read_text(map_file)
    channel, notes = analyser_channel(read_toml(text, where=where, kind="capture map"), where=where)
    text, where = read_text(tap_file)
    circuits = read_wiring(text, where=where)
    unsaid = next((circuit for circuit in circuits if isinstance(circuit, Unsaid)), None)
    if unsaid is not None:
        raise InputError(
            where=where,
            found=f"a circuit without {' and '.join(unsaid.missing)}",
            need="the whole circuit, to solve it",
            do="add it to the wiring file",
        )
    seen = [tap(circuit, channel) for circuit in circuits if not isinstance(circuit, Unsaid)]
    if svg is not None:
        _draw(svg, seen)
    if json_wanted:
        show.as_json({"version": __version__, "taps": [tapped.as_json() for tapped in seen], "notes": list(notes)})
    else:
        rows = [
            (
                tapped.circuit.name or "–",
                tapped.verdict,
                show_interval(*tapped.clear_v, "voltage"),
                show_interval(*tapped.tripped_v, "voltage"),
                "–" if tapped.tripped_reads is None else str(tapped.tripped_reads),
            )
            for tapped in seen
        ]
        bad = sum(tapped.verdict != "fits" for tapped in seen)
        show.page(
            f"{bad} of {len(seen)} inputs may not be tapped as they are."
            if bad
            else "The analyser may be connected.",
            show.Titled("First", list(dict.fromkeys(c.text for tapped in seen for c in tapped.cautions))),
            show.Columns(("circuit", "", "clear", "tripped", "tripped reads"), rows, left=(0, 1)),
            show.Titled(
                "Instead",
                [
                    f"{tapped.circuit.name or 'This input'}: {_instead(tapped)}"
                    for tapped in seen
                    if tapped.verdict != "fits"
                ],
            ),
            show.Titled("Notes", notes),
        )
    return 1 if any(tapped.verdict != "fits" for tapped in seen) else 0


def _draw(svg: str, seen: "list[TapSeen]") -> None:
    """Draw each circuit; where the channel hangs, and what to mind, stands on the drawing itself."""
    from holdzero.chart.wiring import diagram
    from holdzero.cli.drawings import write_numbered
    from holdzero.compute.wiring import assess

    check_output(svg, option="--svg")
    write_numbered(svg, [diagram(assess(tapped.circuit)).marked(_on_drawing(tapped)) for tapped in seen])


def _on_drawing(seen: "TapSeen") -> str:
    where = "Tap of an analyser: its channel at -A1:IN, its 0 V at the controller's 0 V."
    refused = "" if seen.verdict == "fits" else f"NOT AS IT IS ({seen.verdict}). {_instead(seen)}"
    return " ".join(filter(None, (where, refused, *(caution.text for caution in seen.cautions))))


def _instead(seen: "TapSeen") -> str:
    if seen.remedy is not None:
        return seen.remedy.sentence
    return "neither a divider nor an opto-coupler fits here: tap behind the controller's own input stage."


def _progress() -> Progress | None:
    """Show on a terminal how far the file is read; None where nobody looks."""
    if not sys.stderr.isatty():
        return None
    shown = -1

    def show_part(read: int, size: int) -> None:
        nonlocal shown
        part = 100 * read // max(size, 1)
        if part != shown:
            shown = part
            click.echo(f"\r{part} % read " if read < size else "\r             \r", nl=False, err=True)

    return show_part


def blocks(findings: CaptureFindings, *, system: System = "metric", full: bool = False) -> list[show.Block]:
    """What a person sees: each switch in a line, the speeds, what it costs, then what to know first."""
    cautions = [caution.text for caution in findings.cautions]
    cautions += [caution.text for switch in findings.switches for caution in switch.cautions]
    several = len(findings.switches) > 1
    timing = [line for switch in findings.switches for line in _timing(switch, system, full=full, several=several)]
    return [
        "\n".join(_headline(switch, system) for switch in findings.switches),
        show.Titled("Before trusting these figures", _short(cautions, full)),
        _speeds(findings, system, full),
        show.Titled("Also", [*timing, *_count(findings, system)]),
        show.Titled("Notes", findings.recorded.notes),
    ]


def _headline(findings: SwitchFindings, system: System) -> str:
    events, scatter = findings.events, findings.trips
    trips, releases, pulses = int(events.trip.sum()), int((~events.trip).sum()), events.pulse_tick.size
    name = {"L": "Left, ", "R": "Right, "}.get(findings.switch.side, "") + findings.switch.name
    interval = scatter.interval
    if interval is None or interval.middle is None:
        spread = "no spread can be stated"
    else:
        middle = quantity.show(interval.middle, "length", system=system, digits=2)
        spread = f"spread {middle} ({show_interval(interval.low, interval.high, 'length', system=system)})"
    many = f"{trips} trip{'' if trips == 1 else 's'}, {releases} release{'' if releases == 1 else 's'}"
    return f"{name}: {many}, {pulses} pulse{'' if pulses == 1 else 's'}; {spread}."


def _short(sentences: list[str], full: bool) -> list[str]:
    if full or len(sentences) <= 3:
        return sentences
    return [*sentences[:3], f"And {len(sentences) - 3} more: --full."]


def _speeds(findings: CaptureFindings, system: System, full: bool) -> show.Columns:
    speed, length = field_unit("speed", system=system), field_unit("length", system=system)
    small = "µm" if system == "metric" else "thou"
    several = len(findings.switches) > 1
    head = (*(["switch"] if several else []), "event", "way", speed, "n", f"mean {length}", f"spread {small}")
    rows = [
        (
            *([switch.switch.name] if several else []),
            group.kind,
            "in" if group.direction == 1 else "out",
            quantity.show(group.speed_mm_s, "speed", system=system, digits=3).split("\u202f")[0],
            str(group.n),
            fixed(group.mean_mm, "length", unit=length, decimals=4 if length == "mm" else 5)[0],
            fixed(group.spread.middle if group.spread else None, "length", unit=small, decimals=2)[0],
        )
        for switch in findings.switches
        for group in switch.by_speed
    ]
    if not full and len(rows) > _FEW:
        rows = [row for row in rows if row[-6] == "trip"][:_FEW]
    return show.Columns(head, rows, left=(0, 1, 2) if several else (0, 1))


def _timing(findings: SwitchFindings, system: System, *, full: bool, several: bool) -> list[str]:
    name, lines = findings.switch.name, []
    if findings.differential_mm is not None:
        way = quantity.show(findings.differential_mm, "length", system=system, digits=3)
        lines.append(f"{name} releases {way} before it trips (differential travel).")
    if findings.delay is not None:
        delay = quantity.show(findings.delay.delay_s, "time", digits=3)
        within = show_interval(findings.delay.low_s, findings.delay.high_s, "time")
        jitter = f", varying by {quantity.show(findings.jitter_s, 'time', digits=2)}" if findings.jitter_s else ""
        lines.append(f"{name} answers {delay} late ({within}){jitter}.")
    if findings.bounce_longest_s:
        lines.append(f"{name} bounces for {quantity.show(findings.bounce_longest_s, 'time', digits=3)} at most.")
        rows = [row for row in findings.debounce if row.time_s is not None]
        rows = rows if full else [row for row in rows if row.miss_rate == SHOWN_RATE][-1 if several else 0 :]
        lines += [_debounce(row, system) for row in rows]
    return lines


def _debounce(row: DebounceTime, system: System) -> str:
    time = quantity.show(row.time_s or 0.0, "time", digits=2)
    misses = f"1 in {1 / row.miss_rate:.0f} missed"
    if row.kind == "first edge":
        return f"Debounce by lock-out, {time}, {misses}: pulses come through."
    way, spread = "way not known", ""
    if row.overtravel_mm is not None:
        way = f"{quantity.show(row.overtravel_mm, 'length', system=system, digits=2)} way"
    if row.spread_mm is not None:
        spread = f", {quantity.show(row.spread_mm, 'length', system=system, digits=2)} spread"
    return f"Debounce by quiet, {time}, {misses}: {way}{spread}."


def _count(findings: CaptureFindings, system: System) -> list[str]:
    recorded = findings.recorded
    n = recorded.invalid_tick.size
    final = int(recorded.count[-1]) * findings.channels.inward if recorded.count.size else 0
    ends = "; the file is cut off" if recorded.cut_off else ""
    lines = [f"{sum(recorded.changes.values())} changes, {n} impossible; the count ends at {final}{ends}."]
    if findings.sides is not None:
        interval = findings.sides.scatter.interval
        spread = interval.middle if interval is not None else None
        scatter = "" if spread is None else f", spread {quantity.show(spread, 'length', system=system, digits=2)}"
        mean = quantity.show(findings.sides.mean_mm, "length", system=system, digits=3)
        lines.append(f"Right less left, {findings.sides.n} homings: mean {mean}{scatter}.")
    if findings.index is not None and findings.index.pitch_mm is not None:
        pitch = quantity.show(findings.index.pitch_mm, "length", system=system, digits=4)
        phase = "" if findings.index.phase is None else f", {findings.index.phase:.2f} of that after the trip"
        wrong = "" if findings.index.wrong is None else f"; {findings.index.wrong} met another than usual"
        lines.append(f"Index every {pitch}{phase}{wrong}.")
    return lines
