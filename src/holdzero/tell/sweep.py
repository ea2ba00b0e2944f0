"""Sweep: many variants of a machine side by side, and the quickest that keeps what is allowed."""

from collections.abc import Callable, Sequence

from holdzero.compute.design import Row
from holdzero.quantity import System, column, show_share
from holdzero.tell.blocks import Answer, Points, Section, Table
from holdzero.tell.words import count_of, key_in_words, listed, marked

MEANING = (
    "“Own” is the scatter of a side by itself, “allowed” what is asked leaves for it.",
    "“Outside” is the share of the homings drawn that lands outside what is asked.",
    "“Travel” says which checks along the rail fail; one that could not be made does not fail.",
)


def tell_sweep(rows: Sequence[Row], *, system: System = "metric") -> Answer:
    """Tell what comes of every variant.

    Parameters
    ----------
    rows : sequence of Row
        At least one, in the order asked for.
    system : {"metric", "inch"}
        Units shown.
    """
    return Answer(
        headline=headline(rows),
        to_do=Points(tuple(row.refused for row in rows if row.refused), title="Refused"),
        table=_answers(rows, system),
        more=(Section("Position and squareness", (_figures(rows, system),)),),
        explained=(Section("What these figures mean", MEANING),),
    )


def headline(rows: Sequence[Row]) -> str:
    """How many variants keep what is allowed, and the quickest of them."""
    count = count_of(len(rows), "variant")
    text = f"{count} of {rows[0].homings or 0:,} homings and more".replace(",", "\u202f")
    if all(row.own_allowed_mm is None for row in rows):
        return f"{text}."
    holds = [row for row in rows if _inside(row) and not row.fails]
    tested = "and fail no travel check" if any(row.checks for row in rows) else "(no travel check could be made)"
    text += f"; {len(holds)} keep{'s' if len(holds) == 1 else ''} the spread allowed {tested}"
    timed = [row for row in holds if row.homing_s is not None]
    if not timed:
        return f"{text}."
    quick = min(timed, key=lambda row: row.homing_s or 0)
    variant = ", ".join(f"{key_in_words(key)} {value}" for key, value in quick.variant.items())
    return f"{text}. The quickest of them homes in {quick.homing_s:.1f}\u202fs: {variant}."


def _inside(row: Row) -> bool:
    return row.own_mm is not None and row.own_allowed_mm is not None and row.own_mm <= row.own_allowed_mm


def _answers(rows: Sequence[Row], system: System) -> Table:
    """A row a variant: its own scatter beside what is allowed, what lands outside, how long a homing takes."""
    keys = _keys(rows)
    own, unit = column([row.own_mm for row in rows], "length", system=system)
    allowed, unit_allowed = column([row.own_allowed_mm for row in rows], "length", system=system)
    head = (f"Own {unit}", f"Allowed {unit_allowed}", "Outside", "Homing s", "Travel")
    body = tuple(
        (
            *(str(row.variant.get(key, "")) for key in keys),
            own[at],
            allowed[at],
            _share(row),
            "–" if row.homing_s is None else f"{row.homing_s:.1f}",
            _travel(row),
        )
        for at, row in enumerate(rows)
    )
    return Table("Every variant", (*_heads(keys), *head), body, align="l" * len(keys) + "rrwrw")


def _figures(rows: Sequence[Row], system: System) -> Table:
    """A row a variant: position and squareness, to first order and drawn."""
    keys = _keys(rows)
    figures: tuple[tuple[str, Callable[[Row], float | None]], ...] = (
        ("Position", lambda row: row.position_mm),
        ("drawn", lambda row: row.simulated_position_mm),
        ("Square", lambda row: row.squareness_mm),
        ("drawn", lambda row: row.simulated_squareness_mm),
    )
    columns = [(name, *column([of(row) for row in rows], "length", system=system)) for name, of in figures]
    body = tuple(
        (*(str(row.variant.get(key, "")) for key in keys), *(numbers[at] for _, numbers, _ in columns))
        for at, row in enumerate(rows)
    )
    head = (*_heads(keys), *(f"{name} {unit}" for name, _, unit in columns))
    return Table("Standard uncertainty, to first order and drawn", head, body, align="l" * len(keys) + "rrrr")


def _keys(rows: Sequence[Row]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(key for row in rows for key in row.variant))


def _heads(keys: Sequence[str]) -> tuple[str, ...]:
    return tuple(key_in_words(key).capitalize() for key in keys)


def _travel(row: Row) -> str:
    if row.refused or not row.checks:
        return "refused" if row.refused else "–"
    return f"✗ {listed([key_in_words(check) for check in row.fails])}" if row.fails else marked("fits")


def _share(row: Row) -> str:
    if row.share_outside is not None:
        return show_share(row.share_outside)
    return "–" if row.share_outside_high is None else f"under {show_share(row.share_outside_high)}"
