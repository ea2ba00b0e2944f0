"""`holdzero choose`: which candidate holds, and the cheapest that does."""

from dataclasses import replace

import click

from holdzero.choose import AllowedSpread, Candidate, Choice, as_json, choose
from holdzero.cli import show
from holdzero.cli.files import read_text
from holdzero.cli.options import (
    counted_elsewhere,
    how_read,
    json_too,
    misses_too,
    read_file_of_readings,
    units_too,
)
from holdzero.errors import InputError
from holdzero.findings import study
from holdzero.machine import read_machine
from holdzero.quantity import System, show_share
from holdzero.quantity import show as quantity
from holdzero.sensor import Sensor, read_sensors


@click.command()
@click.option("--machine", required=True, metavar="FILE", help="The machine and what is asked of it (TOML).")
@click.option("--sensors", required=True, metavar="FILE", help="The candidates (TOML).")
@click.option("--axis", help="Axis to judge: by default the one with two motors, else the only one with readings.")
@click.option(
    "--confidence", type=float, default=0.95, show_default=True, help="Chance from which a candidate holds."
)
@click.option(
    "--wiring",
    metavar="FILE",
    help="The circuit (TOML) each candidate is put into: what cannot be made to work is out.",
)
@click.option("--price-limit", type=float, help="Most that one switch may cost.")
@click.option(
    "--minutes",
    type=(float, float),
    default=(1.0, 5.0),
    show_default=True,
    metavar="HOMING POWER-UP",
    help="What a further homing and a further power-up take.",
)
@misses_too
@click.argument("readings")
@how_read
@units_too
@json_too
def command(
    machine: str,
    sensors: str,
    axis: str | None,
    confidence: float,
    wiring: str | None,
    price_limit: float | None,
    minutes: tuple[float, float],
    misses: tuple[str, ...],
    readings: str,
    resolution: str | None,
    step: str | None,
    protocol: str | None,
    units: System,
    json_wanted: bool,
) -> int:
    """Which candidate holds what is asked, and the cheapest that does.

    READINGS is a CSV file, or - for standard input.
    """
    homing, power_up = minutes
    if not (homing > 0 and power_up >= 0):
        raise InputError(
            where="--minutes",
            found=f"{homing:g} {power_up:g}",
            need="minutes above zero",
            do="write them like 1 5",
        )
    if price_limit is not None and not price_limit >= 0:
        raise InputError(
            where="--price-limit",
            found=f"{price_limit:g}",
            need="a price",
            do="write it like 40, without currency",
        )
    text, where = read_text(machine)
    asked = read_machine(text, where=where)
    text, where = read_text(sensors)
    candidates = read_sensors(text, where=where)
    taken = read_file_of_readings(readings, resolution=resolution, step=step, protocol=protocol)
    if price_limit is not None:
        asked = replace(asked, requirement=replace(asked.requirement, price_limit=price_limit))
    result = choose(
        asked,
        candidates,
        study(taken, axes=asked.axes, more_misses=counted_elsewhere(misses), system=units),
        axis=axis,
        confidence=confidence,
        electrical=_electrical(wiring, candidates, axis) if wiring else None,
        what_if=True,
        system=units,
        minutes=minutes,
    )
    if json_wanted:
        show.as_json(as_json(result))
    else:
        show.page(*blocks(result, system=units))
    return 0


def _electrical(path: str, sensors: tuple[Sensor, ...], axis: str | None) -> dict[str, tuple[str, str]]:
    """Each candidate put into the circuits of a wiring file: verdict and reason."""
    from holdzero.choose.electrical import electrical, tried  # only who asks for it waits for the solver
    from holdzero.wiring import read_wiring

    text, where = read_text(path)
    return electrical(tried([one.entered for one in read_wiring(text, where=where)], sensors), axis or "")


def blocks(result: Choice, *, system: System = "metric") -> list[show.Block]:
    """What a person sees: the choice, what was asked, every verdict, then why."""
    return [
        result.reason,
        _asked(result.allowed, system),
        show.Points("Notes on the files", result.notes),
        _verdicts(result),
        *_tightest(result),
        show.Points("What more money buys", [one.sentence for one in result.more_money]),
        *_what_if(result),
        *(_why(candidate) for candidate in result.candidates),
        show.Points(
            "Before trusting these figures", [c.text for c in (*result.allowed.cautions, *result.cautions)]
        ),
    ]


def _tightest(result: Choice) -> list[show.Block]:
    """Which is the tightest, and how sure."""
    comparison = result.comparison
    if comparison is None:
        return []
    chances = ", ".join(f"{name} {_chance(p)}" for name, p in comparison.ranking.chance_tightest.items())
    told = [f"Chance of the smallest spread: {chances}.", *(caution.text for caution in comparison.cautions)]
    if comparison.alike is not None:
        told.insert(1, f"Brown-Forsythe, scatter within sets alike: p {comparison.alike.p:.2g}.")
    return [show.Points(f"Tightest, {result.compared}: {comparison.sentence}", told)]


def _what_if(result: Choice) -> list[show.Block]:
    """Verdicts if the tolerance or the risk were another."""
    if not result.changes:
        return []
    head = ("if asked", *(c.sensor.name for c in result.candidates), "choice")
    rows = [
        (one.name, *(show.MARKS[one.verdicts[c.sensor.name]][0] for c in result.candidates), one.choice or "–")
        for one in result.changes
    ]
    as_asked = ("as asked", *(show.MARKS[c.verdict][0] for c in result.candidates), result.choice or "–")
    return [show.Table(head, [*rows[:2], as_asked, *rows[2:]], left=(0,))]


def _asked(allowed: AllowedSpread, system: System) -> str:
    asked = []
    if allowed.squareness_limit_mm is not None and allowed.squareness_mm and allowed.squareness_over_mm:
        over = quantity(allowed.squareness_over_mm, "length", system=system)
        asked.append(f"square to {quantity(allowed.squareness_mm, 'length', system=system)} over {over}")
    if allowed.position_mm is not None:
        asked.append(f"home within ±{quantity(allowed.position_mm, 'length', system=system)}")
    spread = quantity(allowed.spread_allowed_mm, "length", system=system, digits=3)
    per = "a side" if allowed.motors == 2 else "its switch"
    bound = {"both": "squareness and position bind it together"}.get(
        allowed.bound_by, f"{allowed.bound_by} binds it"
    )
    return (
        f"Asked of axis {allowed.axis}: {', '.join(asked)}, but for {show_share(allowed.risk)} homings. "
        f"Spread allowed for {per}: {spread}; {bound}. {allowed.datum_from}"
    )


def _verdicts(result: Choice) -> show.Table:
    head = ("sensor", "price", "verdict", "chance", "heavy tails", "tails", "share outside", "gross misses")
    rows = [
        (
            f"{c.sensor.name}{' ←' if c.sensor.name == result.choice else ''}",
            "–" if c.sensor.price is None else quantity(c.sensor.price, "price"),
            f"{show.MARKS[c.verdict][0]} {c.verdict}",
            _chance(c.chance_holds),
            _chance(c.chance_holds_heavy),
            c.tails,
            _share(c.share_outside),
            f"{c.misses.count} in {c.misses.n}" if c.misses else "–",
        )
        for c in result.candidates
    ]
    return show.Table(head, rows, left=(0, 2, 5))


def _chance(value: float | None) -> str:
    """A chance with three decimals, never rounded up to certainty."""
    if value is None:
        return "–"
    return "> 0.999" if value > 0.9995 else "< 0.001" if value < 0.0005 else f"{value:.3f}"


def _share(value: float | None) -> str:
    """A share outside; what a bell curve foretells beyond one in a million means nothing."""
    return "–" if value is None else show_share(value) if value >= 1e-6 else f"under {show_share(1e-6)}"


def _why(candidate: Candidate) -> show.Points:
    facts = [f"Ruled out. {fact}" for fact in candidate.ruled_out]
    rests = [f"It {candidate.rests_on}." if candidate.rests_on.startswith(("holds", "does")) else ""]
    others = [c.text for c in candidate.cautions]
    kind = f", {candidate.sensor.kind}" if candidate.sensor.kind else ""
    return show.Points(
        f"{candidate.sensor.name}{kind}: {candidate.verdict}",
        [sentence for sentence in (*facts, *candidate.reasons, *rests, *others) if sentence],
    )
