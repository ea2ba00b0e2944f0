"""`holdzero square`: which side of a gantry moves, which way, by how much, and when to stop."""

import click

from holdzero import quantity
from holdzero.cli import show
from holdzero.cli.files import read_text
from holdzero.cli.options import json_too, units_too
from holdzero.compute.square import RoundTaken, Squaring, beside, read_square, squaring
from holdzero.quantity import System


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
    result = squaring(asked.setup, asked.rounds, system=units)
    if json_wanted:
        show.as_json(result.as_json() | {"notes": list(asked.notes)})
    else:
        show.page(*blocks(result, system=units), show.Points("Notes on the file", asked.notes))
    return 0


def blocks(result: Squaring, *, system: System = "metric") -> list[show.Block]:
    """What a person sees: the verdict, what to do, the figures, the rounds, then what to know first."""
    return [
        result.verdict,
        show.Points("What to do", result.steps),
        _figures(result, system),
        _rounds(result, system),
        show.Points("The last round also shows", beside(result.counted[-1].measured, system=system)),
        show.Points("Instead of switches", [result.stops.sentence] if result.stops else []),
        show.Points("Before you do it", [caution.text for caution in result.cautions]),
    ]


def _figures(result: Squaring, system: System) -> str:
    angle = quantity.show(abs(result.angle_rad), "angle", uncertainty=result.angle_u_rad)
    doubt = (
        ""
        if result.angle_u_rad is None
        else f"; uncertain by {quantity.show(result.angle_u_rad, 'angle', digits=2)}"
    )
    side = "ahead" if result.angle_rad > 0 else "behind"
    out, over = _length(result.out_mm, system, digits=2), _length(result.over_mm, system)
    says = (
        f"It stands {out} over {over} out of square ({angle}{doubt}): the corner at low x and low y is "
        f"{result.corner}, the right side {side}."
    )
    if result.angle_rad == 0:
        says = "It stands square as far as the readings go."
    return " ".join(filter(None, (says, _load(result), result.expected)))


def _load(result: Squaring) -> str:
    return (
        ""
        if not result.force_n
        else f"The offset loads each drive with {quantity.show(result.force_n, 'force', digits=2)}."
    )


def _rounds(result: Squaring, system: System) -> show.Table:
    head = ("round", "method", "day", "set then", "to bring back", "u", "counts")
    rows = [
        (
            str(number),
            taken.round.name,
            taken.round.day or "–",
            _length(taken.round.setting_mm, system, digits=3),
            _offset(taken, system),
            "–" if taken.offset_u_mm is None else _length(taken.offset_u_mm, system, digits=2),
            "yes" if taken.counts else f"no, before: {_since(result, number - 1)}",
        )
        for number, taken in enumerate(result.rounds, 1)
    ]
    return show.Table(head, rows, left=(0, 1, 2, 6))


def _since(result: Squaring, place: int) -> str:
    return next((taken.round.event for taken in result.rounds[place + 1 :] if taken.round.event), "an event")


def _offset(taken: RoundTaken, system: System) -> str:
    u = taken.offset_u_mm
    return quantity.show(taken.offset_mm, "length", system=system, uncertainty=u, digits=None if u else 3)


def _length(value_mm: float, system: System, *, digits: int | None = None) -> str:
    return quantity.show(value_mm, "length", system=system, digits=digits)
