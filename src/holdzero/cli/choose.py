"""`holdzero choose`: which candidate holds, and the cheapest that does."""

import click

from holdzero.choose import AllowedSpread, Candidate, Choice, as_json, choose
from holdzero.cli import show
from holdzero.cli.files import read_text
from holdzero.cli.options import how_read, json_too, read_file_of_readings
from holdzero.findings import study
from holdzero.machine import read_machine
from holdzero.quantity import show as quantity
from holdzero.quantity import show_share
from holdzero.sensor import read_sensors


@click.command()
@click.option("--machine", required=True, metavar="FILE", help="The machine and what is asked of it (TOML).")
@click.option("--sensors", required=True, metavar="FILE", help="The candidates (TOML).")
@click.option("--axis", help="Axis to judge: by default the one with two motors, else the only one with readings.")
@click.option(
    "--confidence", type=float, default=0.95, show_default=True, help="Chance from which a candidate holds."
)
@click.argument("readings")
@how_read
@json_too
def command(
    machine: str,
    sensors: str,
    axis: str | None,
    confidence: float,
    readings: str,
    resolution: str | None,
    step: str | None,
    protocol: str | None,
    json_wanted: bool,
) -> int:
    """Which candidate holds what is asked, and the cheapest that does.

    READINGS is a CSV file, or - for standard input.
    """
    text, where = read_text(machine)
    asked = read_machine(text, where=where)
    text, where = read_text(sensors)
    candidates = read_sensors(text, where=where)
    taken = read_file_of_readings(readings, resolution=resolution, step=step, protocol=protocol)
    result = choose(asked, candidates, study(taken, axes=asked.axes), axis=axis, confidence=confidence)
    if json_wanted:
        show.as_json(as_json(result))
    else:
        show.page(*blocks(result))
    return 0


def blocks(result: Choice) -> list[show.Block]:
    """What a person sees: the choice, what was asked, every verdict, then why."""
    return [
        result.reason,
        _asked(result.allowed),
        _verdicts(result),
        *(_why(candidate) for candidate in result.candidates),
        show.Points(
            "Before trusting these figures", [c.text for c in (*result.allowed.cautions, *result.cautions)]
        ),
    ]


def _asked(allowed: AllowedSpread) -> str:
    asked = []
    if allowed.squareness_limit_mm is not None and allowed.squareness_mm and allowed.squareness_over_mm:
        over = quantity(allowed.squareness_over_mm, "length")
        asked.append(f"square to {quantity(allowed.squareness_mm, 'length')} over {over}")
    if allowed.position_mm is not None:
        asked.append(f"home within ±{quantity(allowed.position_mm, 'length')}")
    per = "a side" if allowed.motors == 2 else "its switch"
    bound = {"both": "squareness and position bind it together"}.get(
        allowed.bound_by, f"{allowed.bound_by} binds it"
    )
    return (
        f"Asked of axis {allowed.axis}: {', '.join(asked)}, but for {show_share(allowed.risk)} homings. "
        f"Spread allowed for {per}: {quantity(allowed.spread_allowed_mm, 'length', digits=3)}; {bound}. "
        f"{allowed.datum_from}"
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
