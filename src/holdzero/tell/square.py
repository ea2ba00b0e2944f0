"""Square: which side of a gantry moves, which way, by how much, and when to stop."""

from collections.abc import Sequence

from holdzero.chart.square import squaring_picture
from holdzero.compute.square import RoundTaken, Squaring, beside
from holdzero.quantity import System, column, show
from holdzero.tell.blocks import Answer, Block, Note, Pictures, Points, Section, Table


def tell_square(squaring: Squaring, *, notes: Sequence[str] = (), system: System = "metric") -> Answer:
    """Tell what to do about squareness.

    Parameters
    ----------
    squaring : Squaring
    notes : sequence of str
        On the file it was read from.
    system : {"metric", "inch"}
        Units shown.
    """
    also: list[Block] = []
    if shows := beside(squaring.counted[-1].measured, system=system):
        also.append(Points(tuple(shows), title="The last round also shows"))
    if squaring.stops:
        also.append(Points((squaring.stops.sentence,), title="Instead of switches"))
    loosened = [caution for caution in squaring.cautions if caution.code in BEFORE]
    known = tuple(Note(caution.text) for caution in squaring.cautions if caution.code not in BEFORE)
    return Answer(
        headline=squaring.verdict,
        lead=(_stands(squaring, system), *notes),
        to_do=Points((*squaring.steps, *filter(None, (squaring.expected,)))),
        table=rounds_table(squaring, system),
        before=tuple(caution.text for caution in loosened),
        pictures=Pictures((squaring_picture(squaring, system=system),)),
        more=(Section("Beside that", tuple(also)),) if also else (),
        explained=(Section("Before you do it", known),) if known else (),
    )


BEFORE = ("nothing-loosened-powered",)  # cautions that come before anything is touched


def rounds_table(squaring: Squaring, system: System) -> Table:
    """Return every round, its offset, and whether it counts."""
    head = ("Round", "Day", "Method", "Set then", "To bring back", "Uncertainty", "Remark")
    lengths = round_lengths(squaring.rounds, system=system)
    numbered = enumerate(zip(squaring.rounds, lengths, strict=True), 1)
    rows = tuple(_round(number, taken, texts, squaring) for number, (taken, texts) in numbered)
    return Table("Every round; plus: right side back", head, rows, align="lllrrrw")


def round_lengths(rounds: Sequence[RoundTaken], *, system: System = "metric") -> tuple[tuple[str, str, str], ...]:
    """Return what was set, what is to be brought back and its uncertainty, a row a round, all in one unit.

    Parameters
    ----------
    rounds : sequence of RoundTaken
        As measured.
    system : {"metric", "inch"}
        Units shown.
    """
    lengths_mm = [(taken.round.setting_mm, taken.offset_mm, taken.offset_u_mm) for taken in rounds]
    flat = [length_mm for row in lengths_mm for length_mm in row]
    numbers, unit = column(flat, "length", system=system, uncertainties=[row[2] for row in lengths_mm])
    texts = [
        "–" if known is None else f"{number}\u202f{unit}" for known, number in zip(flat, numbers, strict=True)
    ]
    return tuple((texts[at], texts[at + 1], texts[at + 2]) for at in range(0, len(texts), 3))


def _stands(squaring: Squaring, system: System) -> str:
    """Say how the gantry stands, by which angle, and what the offset loads the drives with."""
    if squaring.angle_rad == 0:
        return "It stands square as far as the readings go."
    angle = show(abs(squaring.angle_rad), "angle", uncertainty=squaring.angle_u_rad)
    if squaring.angle_u_rad is not None:
        angle += f"; uncertain by {show(squaring.angle_u_rad, 'angle', digits=2)}"
    out = show(squaring.out_mm, "length", system=system, digits=2)
    over = show(squaring.over_mm, "length", system=system)
    load = show(squaring.force_n, "force", system=system, digits=2) if squaring.force_n else ""
    return (
        f"It stands {out} over {over} out of square ({angle}): the corner at low x and low y is "
        f"{squaring.corner}, the right side {'ahead' if squaring.angle_rad > 0 else 'behind'}."
        f"{f' The offset loads each drive with {load}.' if load else ''}"
    )


def _round(number: int, taken: RoundTaken, lengths: tuple[str, str, str], squaring: Squaring) -> tuple[str, ...]:
    remarks = [taken.round.note]
    if taken is squaring.as_found:
        remarks.insert(0, "as found")
    elif taken is squaring.as_left:
        remarks.insert(0, "as left")
    if taken.round.event:
        remarks.insert(0, f"after: {taken.round.event}")
    if not taken.counts:
        remarks.append("before the last event, does not count")
    return (
        str(number),
        taken.round.day or "–",
        taken.round.name,
        *lengths,
        "; ".join(filter(None, remarks)),
    )
