"""`holdzero capture`: hundreds of homings from a logic analyser's file."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import click

from holdzero import __version__
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.files import check_output, read_text
from holdzero.cli.options import json_too, machine_of_book, not_with, only_with, units_too
from holdzero.cli.progress import stages
from holdzero.compute.capture import (
    CaptureMap,
    capture_as_json,
    capture_findings,
    read_capture_map,
    readings_csv,
    trip_rows,
)
from holdzero.errors import InputError
from holdzero.quantity import System
from holdzero.recording import Progress, digest, read_recording


@click.command()
@click.argument("file", type=click.Path(path_type=Path), required=False)
@click.option("--map", "map_file", required=True, metavar="MAP", help="Which channel is which (TOML).")
@click.option(
    "--tap",
    "tap_file",
    metavar="WIRING",
    help="Before a capture, instead of FILE: may the analyser hang on the inputs of this wiring file?",
)
@click.option("--signals", metavar="VOLTAGE", help="With --tap: supply of the encoder or step signals, e.g. 5 V.")
@click.option("--svg", metavar="FILE", help="With --tap: also draw each circuit, the tap's caution on it.")
@click.option("--readings", metavar="CSV", help="Write the trips as a readings file, for study and choose.")
@click.option("--into", metavar="BOOK", help="Keep the trips in a book, as a trial of the kind long run.")
@machine_of_book
@click.option("--all-speeds", is_flag=True, help="Write those of the faster speeds too, not only the slowest.")
@click.option("--sensor", default="", help="Whose trips they are, in the readings.")
@click.option("--axis", default="", help="Axis, in the readings.")
@click.option("--side", default="", type=click.Choice(["", "L", "R"]), help="Side of the one switch of the map.")
@depth_too
@units_too
@json_too
def command(
    file: Path | None,
    map_file: str,
    tap_file: str | None,
    signals: str | None,
    svg: str | None,
    readings: str | None,
    into: str | None,
    machine: str | None,
    all_speeds: bool,
    sensor: str,
    axis: str,
    side: str,
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
        not_with("--tap", tap_file, "units")
        return _tapped(map_file, tap_file, signals, svg, json_wanted)
    only_with("--tap", tap_file, "svg", "signals")
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
    size = file.stat().st_size if file.is_file() else None
    with stages(("Bytes read", size), quiet=json_wanted) as (advance,):
        recording = read_recording(file, channels, where=str(file), progress=_counting(advance))
        findings = capture_findings(recording, channels)
    rows = trip_rows(findings, all_speeds=all_speeds) if readings is not None or into is not None else ()
    sha = digest(file) if rows else ""
    written = readings_csv(rows, sensor=sensor, axis=axis, side=side, digest=sha)
    if readings is not None:
        Path(readings).write_text(written, encoding="utf-8")
    kept = "" if into is None else _keep(into, machine, written, str(file), sha)
    if json_wanted:
        show.as_json(capture_as_json(findings))
    else:
        from holdzero.tell.capture import tell_capture  # who wants JSON never waits for it

        print_answer(tell_capture(findings, system=units))
        if readings is not None:
            show.page(f"{len(rows)} readings written to {readings}: one power-up, a long run.")
        if kept:
            show.page(kept)
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


def _tapped(map_file: str, tap_file: str, signals: str | None, svg: str | None, json_wanted: bool) -> int:
    """May a channel hang on each input of a wiring file, and on the encoder's or controller's output?"""
    from holdzero.case.tapped import signals_circuit
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
    whole = [circuit for circuit in circuits if not isinstance(circuit, Unsaid)]
    if signals is not None:
        whole.append(signals_circuit(signals))
    else:
        notes = (*notes, "The encoder or step signals are not checked: say their supply with --signals.")
    seen = [tap(circuit, channel) for circuit in whole]
    if svg is not None:
        from holdzero.cli.drawings import write_numbered
        from holdzero.tell.capture import tap_drawing

        check_output(svg, option="--svg")
        write_numbered(svg, [tap_drawing(tapped) for tapped in seen])
    if json_wanted:
        show.as_json({"version": __version__, "taps": [tapped.as_json() for tapped in seen], "notes": list(notes)})
    else:
        from holdzero.tell.capture import tell_tap  # who wants JSON never waits for it

        print_answer(tell_tap(seen, notes=notes))
    return 1 if any(tapped.verdict != "fits" for tapped in seen) else 0


def _counting(advance: Callable[[int], None]) -> Progress:
    """Tell how many more bytes were read, who is told how many were."""
    before = 0

    def read_so_far(read: int, _: int) -> None:
        nonlocal before
        advance(read - before)
        before = read

    return read_so_far
