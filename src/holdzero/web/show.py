"""Show: how a template writes a figure. The number stands out, its unit stands back."""

import math
import re
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from jinja2 import pass_context
from jinja2.runtime import Context
from markupsafe import Markup, escape

from holdzero import quantity
from holdzero.chart import Picture
from holdzero.errors import HoldzeroError
from holdzero.tell.blocks import Block
from holdzero.tell.words import TO_LOOK_AT, mark_of, sentence
from holdzero.web.contained import worked_out
from holdzero.web.drawn import gather

GAP = "\u202f"
LENGTHS = {"mm": "mm", "um": "µm", "in": "in", "thou": "thou"}  # what a display of a trial shows
DISPLAY_DECIMALS = 6  # finer than any
_UNIT = re.compile(rf"{GAP}([^\d\s{GAP}][^\s{GAP}]*)$")


def quiet_unit(text: str) -> Markup:
    r"""Wrap the unit at the end of a shown quantity, so that the style can make it quieter.

    >>> quiet_unit("12.3\u202fmm")
    Markup('<span class="q">12.3<span class="u">\u202fmm</span></span>')
    """
    match = _UNIT.search(text)
    if not match:
        return Markup('<span class="q">{}</span>').format(text)
    return Markup('<span class="q">{}<span class="u">{}{}</span></span>').format(
        text[: match.start()], GAP, match[1]
    )


@pass_context
def q(context: Context, value: float | None, kind: str = "length", digits: int | None = None) -> Markup:
    """Show a value of a kind in the book's system; None is a dash."""
    if value is None:
        return quiet_unit("–")
    return quiet_unit(quantity.show(value, kind, system=context["system"], digits=digits))


@pass_context
def interval(context: Context, limits: Any, kind: str = "length") -> Markup:
    """Show an interval (anything with `low` and `high`)."""
    return quiet_unit(quantity.show_interval(limits.low, limits.high, kind, system=context["system"]))


@pass_context
def column(context: Context, values: Iterable[float | None], kind: str = "length", digits: int = 3) -> Any:
    """Show a column in one unit with one number of decimals: (numbers, unit)."""
    return quantity.column(values, kind, system=context["system"], digits=digits)


@pass_context
def as_read(context: Context, values: Iterable[float], shown_in: str = "") -> Any:
    """Show a column of readings with the decimals and perhaps in the unit they were read with: (numbers, unit)."""
    known, system = list(values), context["system"]
    digits = 5 if system == "metric" else 4  # a metric reading in inches would never end
    numbers, unit = quantity.column(known, "length", system=system, digits=digits)
    if shown_in in LENGTHS:
        unit = LENGTHS[shown_in]
        numbers = [quantity.fixed(value, "length", unit=unit, decimals=DISPLAY_DECIMALS)[0] for value in known]
    decimals = max((len(number.partition(".")[2].rstrip("0")) for number in numbers), default=0)
    return [quantity.fixed(value, "length", unit=unit, decimals=decimals)[0] for value in known], unit


@pass_context
def limits(context: Context, intervals: Iterable[Any], kind: str = "length") -> Any:
    """Show a column of spreads and their intervals in one unit: (middles, intervals, unit)."""
    known = list(intervals)
    sizes = [span.high if span.middle is None else span.middle for span in known]
    widths = [span.high - span.low for span in known]
    shown, unit = quantity.column(sizes, kind, system=context["system"], uncertainties=widths)
    decimals = len(shown[0].partition(".")[2]) if shown else 0

    def say(value: float | None) -> str:
        return quantity.fixed(value, kind, unit=unit, decimals=decimals)[0]

    texts = [
        f"{say(span.low)} to {say(span.high)}" if span.middle is not None else f"up to {say(span.high)}"
        for span in known
    ]
    return [say(span.middle) for span in known], texts, unit


def bars(intervals: Iterable[Any]) -> list[tuple[float, float | None, float]]:
    """Return where intervals lie on a logarithmic scale they share: low, middle and high in percent of its length.

    >>> from holdzero.compute.spread import Interval
    >>> bars([Interval(0.01, 0.001, 0.1), Interval(None, 0.0, 0.01)])
    [(0.0, 50.0, 100.0), (0.0, None, 50.0)]
    """
    known = list(intervals)
    ends = [end for span in known for end in (span.low, span.high) if 0 < end < math.inf]
    if not ends:
        return [(0.0, None, 100.0) for _ in known]
    low, high = math.log(min(ends)), math.log(max(ends))

    def at(value: float) -> float:
        inside = min(max(math.log(value), low), high) if 0 < value < math.inf else low if value <= 0 else high
        return 100 * (inside - low) / (high - low or 1)

    return [(at(span.low), None if span.middle is None else at(span.middle), at(span.high)) for span in known]


def words(text: str) -> Markup:
    """Let file names and keys break anywhere sensible."""
    return Markup(str(escape(text)).replace("_", "_<wbr>"))


def set_cell(text: str) -> Markup:
    """Set a cell of a table: its mark apart from its word, its unit quieter."""
    mark = mark_of(text)
    if not mark:
        return quiet_unit(text)
    return Markup('<span class="marked"><span aria-hidden="true">{}</span> {}</span>').format(
        mark, text.removeprefix(mark).lstrip()
    )


def to_look_at(cells: Sequence[str]) -> bool:
    """Tell whether a row says that something is not as it should be."""
    return any(mark_of(cell) in TO_LOOK_AT for cell in cells)


def kind_of_block(block: Block) -> str:
    """Name the kind of a block for a template."""
    return "text" if isinstance(block, str) else type(block).__name__.lower()


def drawn(picture: Picture) -> str:
    """Return a picture to stand in a page; where it cannot be drawn, the sentence that says so."""
    gather(picture)
    made = worked_out(f"the picture {picture.title}", picture.html)
    return f"<p>{escape(sentence(f'found {made.found}'))}</p>" if isinstance(made, HoldzeroError) else made


FILTERS: dict[str, Callable[..., Any]] = {
    "q": q,
    "interval": interval,
    "column": column,
    "as_read": as_read,
    "limits": limits,
    "bars": bars,
    "quiet_unit": quiet_unit,
    "set_cell": set_cell,
    "to_look_at": to_look_at,
    "kind_of_block": kind_of_block,
    "chance": lambda value: quiet_unit(quantity.show_chance(value)),
    "foretold": lambda value: quiet_unit(quantity.show_foretold(value)),
    "share_of": lambda value, noun: quantity.show_share(value, of=noun),
    "sentence": sentence,
    "words": words,
    "drawn": drawn,
}
