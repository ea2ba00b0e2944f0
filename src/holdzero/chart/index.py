"""Index: where a search starts between two index pulses, and how near it comes to taking the wrong one."""

from collections.abc import Callable
from math import exp

from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Frame, Sheet
from holdzero.chart.theme import SMALL_PX
from holdzero.compute.index import IndexPlace
from holdzero.compute.index.place import HIGH, LOW
from holdzero.quantity import System, show, show_share

TALL_PX, BELL_PX = 74.0, 52.0
CLEAR_PX = 85.0  # from an index, for the words over the start of the search to stand beside its own


def index_picture(place: IndexPlace, *, system: System = "metric") -> Picture:
    """Picture the index pulses around the start of the search, to scale along the rail.

    Parameters
    ----------
    place : IndexPlace
        As `index_place` judges it.
    system : {"metric", "inch"}
        Units shown.
    """

    def mm(length_mm: float) -> str:
        return show(length_mm, "length", system=system, digits=3)

    wrong = show_share(place.wrong) if place.wrong > 1e-9 else "under 1 in 1e9"
    good = (
        "no place is good enough"
        if place.window is None
        else f"good places from {place.window[0]:.3f} to {place.window[1]:.3f} of a pitch"
    )
    text = (
        f"Index pulses every {mm(place.pitch_mm)}. The search starts {mm(place.phase * place.pitch_mm)} before "
        f"the next one, {place.phase:.2f} of a pitch, with a scatter of {mm(place.spread_mm)} (one standard "
        f"deviation) and a shift of up to {mm(place.shift_mm)}. Chance of the wrong index {wrong}; {good}. "
        f"{place.advice}"
    )
    return drawing("The index pulse and the switch", text, lambda width: _draw(place, mm, wrong, width))


def _draw(place: IndexPlace, mm: Callable[[float], str], wrong: str, width: float) -> Sheet:
    """Places in mm from the mean start of the search, which goes to the right."""
    sheet = Sheet(width)
    pitch, ahead = place.pitch_mm, place.phase * place.pitch_mm
    behind = pitch - ahead
    over = 0.12 * pitch
    y = 96.0
    rail = Frame((-behind - over, ahead + over), (0.0, 0.0), (8.0, y, width - 8, y))

    def x(at_mm: float) -> float:
        return rail.at(at_mm)[0]

    if place.window is not None:
        low, high = (x(ahead - edge * pitch) for edge in (place.window[1], place.window[0]))
        sheet.area([(low, y - 9), (high, y - 9), (high, y), (low, y)], opacity=0.1)
        best = [x(ahead - edge * pitch) for edge in (HIGH, LOW)]
        sheet.area([(best[0], y - 9), (best[1], y - 9), (best[1], y), (best[0], y)], opacity=0.16)
    sheet.line((rail.box[0], y), (rail.box[2], y))
    for at in (-behind, ahead):
        _draw_pulse(sheet, x(at), y)
    sheet.text((x(-behind), y - TALL_PX - 6), "index", anchor="middle", size=SMALL_PX)
    sheet.text((x(ahead), y - TALL_PX - 6), "next index", anchor="middle", size=SMALL_PX)
    _draw_start(sheet, place, rail, y)
    of_pitch = f"{place.phase:.2f} of a pitch"
    sheet.dimension((x(0), y), (x(ahead), y), of_pitch if sheet.narrow else f"{mm(ahead)} = {of_pitch}", offset=26)
    sheet.dimension((x(-behind), y), (x(ahead), y), f"pitch {mm(pitch)}", offset=52)
    notes = [f"wrong index: {wrong}", f"scatter {mm(place.spread_mm)}, shift up to {mm(place.shift_mm)}"]
    if sheet.narrow:
        notes.append(f"search starts {mm(ahead)} before the next index")
    if place.window is not None:
        shades = ("shaded: where the search may start", "darker: where it should")
        notes += shades if sheet.narrow else ["; ".join(shades)]
    for number, note in enumerate(notes):
        sheet.text((8, y + 84 + 18 * number), note, size=SMALL_PX, accent=number == 0 and not place.holds)
    return sheet


def _draw_pulse(sheet: Sheet, x: float, y: float) -> None:
    """An index pulse: one count wide, so it is drawn as a needle."""
    sheet.line((x - 3, y), (x - 1.5, y - TALL_PX), (x + 1.5, y - TALL_PX), (x + 3, y), thick=True)


def _draw_start(sheet: Sheet, place: IndexPlace, rail: Frame, y: float) -> None:
    """Where searches start: a bell of their scatter, a whisker for the shift, an arrow the way they go."""
    x0 = rail.at(0)[0]
    sd = place.spread_mm * rail.px_per_mm
    shift = place.shift_mm * rail.px_per_mm
    if sd >= 1.5:
        steps = [k / 8 for k in range(-32, 33)]
        bell = [(x0 + z * sd, y - BELL_PX * exp(-z * z / 2)) for z in steps]
        bell = [(px, py) for px, py in bell if rail.box[0] <= px <= rail.box[2]]
        sheet.area([(bell[0][0], y), *bell, (bell[-1][0], y)], opacity=0.14)
        sheet.line(*bell)
    sheet.line((x0, y), (x0, y - BELL_PX), thick=True)
    if shift >= 1.5:
        level = y - BELL_PX - 6
        sheet.line((x0 - shift, level), (x0 + shift, level))
        for end in (x0 - shift, x0 + shift):
            sheet.line((end, level - 3), (end, level + 3))
    near_next = rail.at(place.phase * place.pitch_mm)[0] - x0 < CLEAR_PX
    near_last = x0 - rail.at((place.phase - 1) * place.pitch_mm)[0] < CLEAR_PX
    anchor, aside = ("end", -shift - 8) if near_next else ("start", shift + 8) if near_last else ("middle", 0.0)
    sheet.text(
        (x0 + aside, y - BELL_PX - 14 + (12 if aside else 0)), "search starts", anchor=anchor, size=SMALL_PX
    )
    sheet.arrow((x0 + 5, y - 20), (min(x0 + 44, rail.box[2]), y - 20))
