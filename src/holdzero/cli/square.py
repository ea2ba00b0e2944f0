"""`holdzero square`: which side of a gantry moves, which way, by how much, and when to stop."""

from math import isinf

import click

from holdzero.cli import show
from holdzero.cli.files import read_text
from holdzero.cli.options import json_too
from holdzero.quantity import show as quantity
from holdzero.square import Squaring, Taken, read_square, squaring


@click.command()
@click.argument("measured")
@json_too
def command(measured: str, json_wanted: bool) -> int:
    """Which side of a gantry moves, which way, by how much, and when to stop.

    MEASURED is a TOML file, or - for standard input: two diagonals, a flip, a square reversed, or a grid of
    holes; one round or several.
    """
    text, where = read_text(measured)
    asked = read_square(text, where=where)
    found = squaring(asked.setup, asked.rounds)
    if json_wanted:
        show.as_json(found.as_json() | {"notes": list(asked.notes)})
    else:
        show.page(*blocks(found), show.Points("Notes on the file", asked.notes))
    return 0


def blocks(found: Squaring) -> list[show.Block]:
    """What a person sees: the verdict, what to do, the figures, the rounds, then what to know first."""
    return [
        found.verdict,
        show.Points("What to do", found.steps),
        _figures(found),
        _rounds(found),
        *_leftovers(found.counted[-1]),
        show.Points("Instead of switches", [found.stops.sentence] if found.stops else []),
        show.Points("Before you do it", [caution.text for caution in found.cautions]),
    ]


def _figures(found: Squaring) -> str:
    angle = quantity(abs(found.angle_rad), "angle", uncertainty=found.angle_u_rad)
    doubt = "" if found.angle_u_rad is None else f"; uncertain by {quantity(found.angle_u_rad, 'angle', digits=2)}"
    side = "ahead" if found.angle_rad > 0 else "behind"
    width = quantity(found.setup.drive_distance_mm, "length")
    says = f"It stands {angle} out of square over {width}, the right side {side}{doubt}."
    if found.angle_rad == 0:
        says = "It stands square as far as the readings go."
    return " ".join(filter(None, (says, _load(found), found.expected)))


def _load(found: Squaring) -> str:
    return (
        ""
        if not found.force_n
        else f"The offset loads each drive with {quantity(found.force_n, 'force', digits=2)}."
    )


def _rounds(found: Squaring) -> show.Table:
    head = ("round", "method", "day", "set then", "to bring back", "u", "counts")
    rows = [
        (
            str(number),
            taken.round.name,
            taken.round.day or "–",
            _mm(taken.round.setting_mm),
            _mm(taken.offset_mm, taken.offset_u_mm),
            "–" if taken.offset_u_mm is None else quantity(taken.offset_u_mm, "length", digits=2),
            "yes" if taken.counts else f"no, before: {_since(found, number - 1)}",
        )
        for number, taken in enumerate(found.rounds, 1)
    ]
    return show.Table(head, rows, left=(0, 1, 2, 6))


def _since(found: Squaring, place: int) -> str:
    return next((taken.round.event for taken in found.rounds[place + 1 :] if taken.round.event), "an event")


def _leftovers(last: Taken) -> list[show.Block]:
    """Scales and residuals of the last round, and the square's own error."""
    measured = last.measured
    said: list[show.Block] = []
    if measured.square_rad is not None:
        said.append(f"The square itself is off by {quantity(measured.square_rad, 'angle', digits=2)}.")
    if measured.scale is not None:
        lines = [
            f"{axis}: {value * 1e3:+.3f} mm per m" + ("" if u is None else f" ± {u * 1e3:.3f}")
            for axis, value, u in (
                ("x", measured.scale.x, measured.scale.u_x),
                ("y", measured.scale.y, measured.scale.u_y),
            )
        ]
        said.append(show.Points("Longer than commanded", lines))
    if measured.residuals:
        worst = max(measured.residuals, key=lambda residual: residual.size_mm)
        of = "" if isinf(measured.degrees_of_freedom) else f" ({measured.degrees_of_freedom:g} degrees of freedom)"
        said.append(f"Left over at most {_mm(worst.size_mm)}, at {worst.name}{of}.")
    return said


def _mm(value_mm: float, u_mm: float | None = None) -> str:
    return quantity(value_mm, "length", uncertainty=u_mm, digits=None if u_mm else 3)
