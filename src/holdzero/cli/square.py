"""`holdzero square`: which side of a gantry moves, which way, by how much, and when to stop."""

import click

from holdzero.cli import show
from holdzero.cli.files import read_text
from holdzero.cli.options import json_too, units_too
from holdzero.compute.square import RoundTaken, Squaring, beside, read_square, squaring
from holdzero.quantity import System
from holdzero.quantity import show as quantity


@click.command()
@click.argument("measured")
@units_too
@json_too
def command(measured: str, units: System, json_wanted: bool) -> int:
    """Which side of a gantry moves, which way, by how much, and when to stop.

    MEASURED is a TOML file, or - for standard input: two diagonals, a flip, a square reversed, or a grid of
    holes; one round or several.
    """
    text, where = read_text(measured)
    asked = read_square(text, where=where)
    found = squaring(asked.setup, asked.rounds, system=units)
    if json_wanted:
        show.as_json(found.as_json() | {"notes": list(asked.notes)})
    else:
        show.page(*blocks(found, system=units), show.Points("Notes on the file", asked.notes))
    return 0


def blocks(found: Squaring, *, system: System = "metric") -> list[show.Block]:
    """What a person sees: the verdict, what to do, the figures, the rounds, then what to know first."""
    return [
        found.verdict,
        show.Points("What to do", found.steps),
        _figures(found, system),
        _rounds(found, system),
        show.Points("The last round also shows", beside(found.counted[-1].measured, system=system)),
        show.Points("Instead of switches", [found.stops.sentence] if found.stops else []),
        show.Points("Before you do it", [caution.text for caution in found.cautions]),
    ]


def _figures(found: Squaring, system: System) -> str:
    angle = quantity(abs(found.angle_rad), "angle", uncertainty=found.angle_u_rad)
    doubt = "" if found.angle_u_rad is None else f"; uncertain by {quantity(found.angle_u_rad, 'angle', digits=2)}"
    side = "ahead" if found.angle_rad > 0 else "behind"
    out, over = _length(found.out_mm, system, digits=2), _length(found.over_mm, system)
    says = (
        f"It stands {out} over {over} out of square ({angle}{doubt}): the corner at low x and low y is "
        f"{found.corner}, the right side {side}."
    )
    if found.angle_rad == 0:
        says = "It stands square as far as the readings go."
    return " ".join(filter(None, (says, _load(found), found.expected)))


def _load(found: Squaring) -> str:
    return (
        ""
        if not found.force_n
        else f"The offset loads each drive with {quantity(found.force_n, 'force', digits=2)}."
    )


def _rounds(found: Squaring, system: System) -> show.Table:
    head = ("round", "method", "day", "set then", "to bring back", "u", "counts")
    rows = [
        (
            str(number),
            taken.round.name,
            taken.round.day or "–",
            _length(taken.round.setting_mm, system, digits=3),
            _offset(taken, system),
            "–" if taken.offset_u_mm is None else _length(taken.offset_u_mm, system, digits=2),
            "yes" if taken.counts else f"no, before: {_since(found, number - 1)}",
        )
        for number, taken in enumerate(found.rounds, 1)
    ]
    return show.Table(head, rows, left=(0, 1, 2, 6))


def _since(found: Squaring, place: int) -> str:
    return next((taken.round.event for taken in found.rounds[place + 1 :] if taken.round.event), "an event")


def _offset(taken: RoundTaken, system: System) -> str:
    u = taken.offset_u_mm
    return quantity(taken.offset_mm, "length", system=system, uncertainty=u, digits=None if u else 3)


def _length(value_mm: float, system: System, *, digits: int | None = None) -> str:
    return quantity(value_mm, "length", system=system, digits=digits)
