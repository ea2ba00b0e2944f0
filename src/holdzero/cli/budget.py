"""`holdzero budget`: what home position is made of, and which part matters."""

import os
from collections.abc import Sequence

import click

from holdzero import __version__
from holdzero.budget import Combined, Trial
from holdzero.budget.monte_carlo import Outcome
from holdzero.budget.simulate import SEED, Share
from holdzero.cli import show
from holdzero.cli.drawings import drawings_too, write_drawings
from holdzero.cli.files import read_text
from holdzero.cli.options import how_read, json_too, read_file_of_readings, units_too
from holdzero.design import Assessment, assess
from holdzero.errors import InputError
from holdzero.machine import read_machine
from holdzero.quantity import System, column, fixed, show_share
from holdzero.quantity import show as quantity
from holdzero.sensor import Sensor, read_sensors

KINDS = {"mm": "length", "s": "time", "V": "voltage", "K": "temperature difference", "mm/s": "speed"}


@click.command()
@click.argument("machine")
@click.argument("readings", required=False)
@click.option(
    "--sensors", metavar="FILE", help="The candidates (TOML): their data sheets serve where no trial does."
)
@click.option("--sensor", "name", help="Which candidate, where there are several.")
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=SEED,
    show_default=True,
    help="Of the simulation: same seed, same answer.",
)
@click.option(
    "--digits", type=click.IntRange(1, 4), default=2, show_default=True, help="Digits that must stand still."
)
@drawings_too
@how_read
@units_too
@json_too
def command(
    machine: str,
    readings: str | None,
    sensors: str | None,
    name: str | None,
    seed: int,
    digits: int,
    drawings: str | None,
    resolution: str | None,
    step: str | None,
    protocol: str | None,
    units: System,
    json_wanted: bool,
) -> int:
    """What home position is made of, and which part matters.

    MACHINE is a TOML file; READINGS a CSV file with a trial of the candidate, or - for standard input.
    """
    text, where = read_text(machine)
    asked = read_machine(text, where=where)
    candidates: Sequence[Sensor] = ()
    if sensors is not None:
        text, where = read_text(sensors)
        candidates = read_sensors(text, where=where)
    trials: dict[tuple[str, str], Trial | None] = {}
    if readings is not None:
        from holdzero.findings import study
        from holdzero.findings.trial import trial_of

        found = study(read_file_of_readings(readings, resolution=resolution, step=step, protocol=protocol))
        trials = {
            (sensor, axis.name): trial_of(found, sensor=sensor, axis=axis.name)
            for sensor in dict.fromkeys(one.sensor for one in found.findings)
            for axis in asked.axes
        }
    chosen = _chosen(name, [one.name for one in candidates], list(dict.fromkeys(sensor for sensor, _ in trials)))
    sheet = next((one for one in candidates if one.name == chosen), None)
    assessed = [
        assess(
            asked,
            axis,
            sensor=sheet,
            trial=None if chosen is None else trials.get((chosen, axis.name)),
            seed=seed,
            digits=digits,
            workers=os.cpu_count() or 1,
            system=units,
        )
        for axis in asked.axes
    ]
    if drawings is not None:
        from holdzero.chart.index import index_picture

        places = {one.axis.name: one.budget.index for one in assessed}
        write_drawings(
            drawings,
            {
                f"index-{name}": index_picture(place, system=units)
                for name, place in places.items()
                if place is not None
            },
        )
    if json_wanted:
        axes = {one.axis.name: one.as_json() for one in assessed}
        show.as_json({"version": __version__, "sensor": chosen, "axes": axes, "notes": list(asked.notes)})
    else:
        show.page(*(block for one in assessed for block in blocks(one, units)), show.Points("Notes", asked.notes))
    return 0


def blocks(found: Assessment, units: System = "metric") -> list[show.Block]:
    """What a person sees of one axis: the figures, the table, then the sums solved backwards."""
    return [
        _headline(found, units),
        _rows(found, units),
        _figures(found, units),
        show.Points("Where the two differ", found.simulation.why if found.budget.rows else ()),
        show.Points("Solved backwards", _backwards(found, units)),
        show.Points("Index pulse", _index(found, units)),
        show.Points("Without an index", _cycle(found, units)),
        show.Points("Several touches", _touches(found, units)),
        show.Points(
            "Not counted", [f"{one.what}: give {' and '.join(one.keys)}." for one in found.budget.not_counted]
        ),
        show.Points("Before trusting these figures", [caution.text for caution in found.cautions]),
    ]


def _headline(found: Assessment, units: System) -> str:
    budget, name = found.budget, f"Axis {found.axis.name}{f' with {found.sensor}' if found.sensor else ''}"
    if not budget.rows:
        return f"{name}: nothing could be counted."
    worse = " at the worse end" if found.axis.motors == 2 else ""
    text = f"{name}: 95 % of homings within ±{_length(_half(found.simulation.position), units)}{worse}"
    if found.simulation.squareness is not None and budget.requirement.squareness_over_mm is not None:
        over = quantity(budget.requirement.squareness_over_mm, "length", system=units)
        text += f", square within ±{_length(_half(found.simulation.squareness), units)} over {over}"
    allowed = budget.allowed
    if allowed is None:
        return f"{text}."
    if allowed.own_mm == 0:
        return f"{text}. Room and supply alone already use up what {allowed.bound_by} allows."
    inside = "inside" if budget.own_mm <= allowed.own_mm else "outside"
    return (
        f"{text}. Each side scatters by {_length(budget.own_mm, units)} of its own, {inside} the "
        f"{_length(allowed.own_mm, units)} that {allowed.bound_by} "
        f"{'leave' if allowed.bound_by == 'both' else 'leaves'}."
    )


def _rows(found: Assessment, units: System) -> show.Table:
    budget = found.budget
    used = budget.used
    common, unit = column([*(one.common_mm for one in used), budget.common_mm], "length", system=units)
    decimals = len(common[0].partition(".")[2]) if common else 1

    def length(value: float) -> str:
        return fixed(value, "length", unit=unit, decimals=decimals)[0] if value else ""

    head = (
        "contribution",
        "shape",
        "±",
        "divisor",
        "× mm",
        "dof",
        f"common {unit}",
        (f"own {unit}"),
        "share",
        "square",
    )
    body = [
        (
            one.name,
            one.distribution,
            quantity(one.value, KINDS[one.unit], system=units),
            f"{one.divisor:.3f}",
            f"{one.sensitivity:.4g}",
            _dof(one.dof),
            length(one.common_mm),
            length(one.own_mm),
            f"{share:.1%}",
            f"{square:.1%}" if budget.squareness is not None else "",
        )
        for one, share, square in zip(used, budget.shares, budget.shares_squareness, strict=True)
    ]
    total = ("together", "", "", "", "", "", length(budget.common_mm), length(budget.own_mm), "", "")
    return show.Table(head, [*body, total] if body else [], left=(0, 1))


def _figures(found: Assessment, units: System) -> show.Table:
    budget, drawn = found.budget, found.simulation
    head = ("", "u first order", "95 %", "dof", "u drawn", "95 % drawn", "limit", "outside", "outside drawn")
    shares = (drawn.outside_position, drawn.outside_squareness)
    kinds = (
        ("position", budget.position, drawn.position, shares[0]),
        ("squareness", budget.squareness, drawn.squareness, shares[1]),
    )
    body = [
        _figure(name, first, second, share, units)
        for name, first, second, share in kinds
        if first is not None and second is not None and budget.rows
    ]
    return show.Table(head, body)


def _figure(name: str, first: Combined, second: Outcome, share: Share | None, units: System) -> tuple[str, ...]:
    return (
        name,
        _length(first.u_mm, units),
        f"±{_length(first.expanded_mm, units)}",
        _dof(first.dof),
        _length(second.sd, units, second.sd_error),
        f"±{_length(_half(second), units)}",
        "–" if first.limit_mm is None else f"±{_length(first.limit_mm, units)}",
        _share(first.share_outside),
        "–" if share is None else _share(share.value) if share.value else f"under {show_share(share.high)}",
    )


def _backwards(found: Assessment, units: System) -> list[str]:
    sentences = []
    halve, creep = found.halve, found.fastest_creep_mm_s
    if halve is not None:
        sentences.append(
            f"Halve {halve.name}: {halve.share:.0%} of the variance of {halve.of}, which binds; it would come "
            f"down from {_length(halve.now_mm, units)} to {_length(halve.then_mm, units)}. Nothing else helps "
            "more."
        )
    if creep == 0:
        sentences.append("No creep speed holds what is asked: what does not depend on speed is already too much.")
    elif creep is not None:
        sentences.append(
            f"Creep no faster than {quantity(creep, 'speed', system=units, digits=3)} to keep what is allowed."
        )
    homing, best = found.homing, found.homing_that_holds
    if homing is not None and homing.best_time_s is None:
        sentences.append(
            f"One homing takes {homing.time_s:.1f} s, but {homing.held_back_by} allows no speed at all."
        )
    elif homing is not None and homing.best_time_s is not None:
        approach = quantity(homing.best_approach_mm_s, "speed", system=units, digits=3)
        held = f", held back by {homing.held_back_by}" if homing.held_back_by else ""
        sentences.append(
            f"One homing from the far end takes {homing.time_s:.1f} s; with an approach of {approach}{held}, "
            f"{homing.best_time_s:.1f} s."
        )
        if best is not None and best.best_time_s is not None and best.best_time_s < homing.best_time_s:
            creeping = quantity(best.way.creep_mm_s, "speed", system=units, digits=3)
            sentences.append(
                f"Creeping at {creeping} as well, {best.best_time_s:.1f} s: the shortest homing that holds."
            )
    if found.homing_needs:
        sentences.append(f"For the homing time give {', '.join(found.homing_needs)}.")
    return sentences


def _index(found: Assessment, units: System) -> list[str]:
    place = found.budget.index
    if place is None:
        return (
            []
            if found.axis.index_pitch_mm is None
            else [("Give index_phase to reckon the chance of the wrong index.")]
        )
    from holdzero.index import HOW_TO_MEASURE

    window = (
        "No place between two indexes is good enough for this scatter."
        if place.window is None
        else f"Good places for a risk of {show_share(place.risk)}: {place.window[0]:.3f} to {place.window[1]:.3f} "
        "of a pitch."
    )
    return [
        (
            f"Wrong index, {_length(place.pitch_mm, units)} off: {show_share(place.wrong)} of homings; at half a "
            f"pitch {show_share(place.wrong_at_half)}."
        ),
        window,
        place.advice,
        f"To measure the phase: {' '.join(HOW_TO_MEASURE)}",
    ]


def _cycle(found: Assessment, units: System) -> list[str]:
    cycle = found.budget.cycle
    if cycle is None or found.axis.index_pitch_mm is not None:
        return []
    length = _length(cycle.pitch_mm, units)
    usable = "can serve as an index" if cycle.holds else "cannot serve as an index: the switch wanders too far"
    return [
        (
            f"The motor's electrical cycle of {length}, four full steps, {usable}; at its best place the wrong "
            f"cycle is taken in {_share(cycle.wrong)} of homings."
        )
    ]


def _touches(found: Assessment, units: System) -> list[str]:
    if not found.averaging:
        return []
    from holdzero.budget.touches import APPLY_IT

    each = ", ".join(f"{one.touches}: {_length(one.simulated_mm, units)}" for one in found.averaging)
    return [f"Spread of home by the mean of so many touches: {each}.", APPLY_IT.text]


def _half(outcome: Outcome) -> float:
    return (outcome.high - outcome.low) / 2


def _length(value: float, units: System, uncertainty: float | None = None) -> str:
    if uncertainty:
        return quantity(value, "length", system=units, uncertainty=uncertainty)
    return quantity(value, "length", system=units, digits=3)


def _dof(dof: float) -> str:
    return "∞" if dof > 1000 else f"{dof:.0f}"


def _share(value: float | None) -> str:
    return "–" if value is None else show_share(value) if value >= 1e-6 else f"under {show_share(1e-6)}"


def _chosen(name: str | None, of_sheet: list[str], of_readings: list[str]) -> str | None:
    """Which candidate: the one asked for, else the only one there is; none where neither file is given."""
    known = list(dict.fromkeys([*of_sheet, *of_readings]))
    if name is None and not known:
        return None
    if name is None and len(of_readings or known) == 1:
        return (of_readings or known)[0]
    if name not in known:
        raise InputError(
            where="--sensor",
            found=f'"{name}"' if name is not None else f"{len(known)} candidates",
            need=f"one of {', '.join(known)}" if known else "a file with candidates",
            do="name one with --sensor",
        )
    return name
