"""Indicator: where it stands while homings are read, from above at the home end."""

from holdzero.chart.picture import Picture, drawing
from holdzero.chart.sheet import Point, Sheet
from holdzero.chart.theme import INK, PAPER

NOTES = ("base on the frame", "preloaded half a turn", "the same face every time")
WAIT = "wait 3 s, hands off"
FACE_PX, BESIDE_PX = 176.0, 46.0  # face that is touched; indicator from its guide


def indicator_picture(*, sides: tuple[str, ...], axis: str = "") -> Picture:
    """Return where the indicators stand on an axis.

    Parameters
    ----------
    sides : tuple of str
        "L" and "R" for a gantry on two motors, "" for one.
    axis : str
        Its name.

    Notes
    -----
    Not to scale. Common practice, no source: base on what does not move, stem along the axis and square to the
    face it touches, preloaded so that it follows both ways, the same face touched every time.
    """
    two_sided = len(sides) == 2
    moving = "gantry" if two_sided else "carriage"
    name = f"axis {axis}" if axis else "the axis"

    def draw(width: float) -> Sheet:
        sheet = Sheet(width)
        left, right = (74.0, width - 44.0) if sheet.narrow else (170.0, width - 170.0)
        guides = (left, right) if two_sided else (left + (30 if sheet.narrow else 90),)
        for x in guides:
            sheet.box(x - 6, 20, x + 6, FACE_PX + 104)
            sheet.hatch(x - 16, 10, x + 16, 20)
            sheet.line((x - 16, 20), (x + 16, 20), thick=True)
        beam = (left - 22, right + 22) if two_sided else (guides[0] - 60, guides[0] + 60)
        sheet.box(beam[0], FACE_PX, beam[1], FACE_PX + 28, fill=PAPER)
        sheet.text((sum(beam) / 2, FACE_PX + 18.5), moving, anchor="middle")
        for x, words in zip(guides, ("left", "right"), strict=False) if two_sided else ():
            sheet.text((x, 2), words, anchor="middle")
        first = guides[0] + BESIDE_PX
        for x in (first, right - BESIDE_PX) if two_sided else (first,):
            _indicator(sheet, (x, 96.0))
        sheet.arrow((guides[0] - 24, FACE_PX + 88), (guides[0] - 24, FACE_PX + 44), thick=True)
        sheet.text((guides[0] - 32, FACE_PX + 70), "homes", anchor="end")
        marks = ((first + 16, 52.0), (first + 18, 96.0), (first + 2.5, FACE_PX - 12))
        for number, (point, words) in enumerate(zip(marks, NOTES, strict=True), 1):
            text = str(number) if two_sided and sheet.narrow else words
            column = (first + (34 if sheet.narrow else 60), point[1])
            sheet.line(point, (column[0] - 5, point[1]))
            sheet.text((column[0], point[1] + 4.5), text)
        below = sum(guides) / 2 if two_sided else guides[0] + 24
        anchor = "middle" if two_sided else "start"
        sheet.text((below, FACE_PX + 62), WAIT, anchor=anchor, bold=True)
        if two_sided:
            sheet.text((below, FACE_PX + 82), "left, then right", anchor=anchor)
        if two_sided and sheet.narrow:
            for number, words in enumerate(NOTES, 1):
                sheet.text((left - 16, FACE_PX + 110 + 20 * number), f"{number}  {words}")
        return sheet

    words = (
        "Each indicator's base stands on the frame, its stem along the axis against the face of the "
        f"{'gantry near its drive' if two_sided else moving}, preloaded by half a turn of the "
        "pointer. After homing "
        "wait three seconds, hands off, then read."
    )
    return drawing(f"Where the indicator goes, {name} from above at the home end; not to scale", words, draw)


def _indicator(sheet: Sheet, centre: Point) -> None:
    """A dial on a base, its stem down to a face."""
    x, y = centre
    sheet.hatch(x - 16, 36, x + 16, 46)
    sheet.box(x - 16, 46, x + 16, 58)
    sheet.line((x, 58), (x, y - 18), thick=True)
    sheet.box(x - 2.5, y + 18, x + 2.5, FACE_PX - 4, fill=PAPER, thick=False)
    sheet.circle((x, FACE_PX - 2.5), 2.5, fill=INK)
    sheet.circle(centre, 18, thick=True, fill=PAPER)
    sheet.line(centre, (x + 9, y - 9))
    for dx, dy in ((0, -1), (1, 0), (0, 1), (-1, 0)):
        sheet.line((x + 14 * dx, y + 14 * dy), (x + 17 * dx, y + 17 * dy))
