"""Opening: the drawing on the first page. What "holds zero" means, with nothing measured yet."""

from holdzero.chart import Picture, drawing
from holdzero.chart.sheet import Sheet

LANDED = (
    (-17, 0),
    (-6, 0),
    (2, 0),
    (-2, 1),
    (9, 0),
    (5, 1),
    (20, 0),
    (-11, 1),
    (13, 1),
    (1, 2),
)  # px from zero, row


def opening() -> Picture:
    """Return an axis at its home switch, and enlarged beside it where ten homings landed."""
    words = (
        "An axis with its carriage at the home switch, near the hard stop. Enlarged beside it: ten homings "
        "landed a little apart; the question is whether they stay within what the machine may be off by."
    )
    return drawing("Home ten times, and see where it lands", words, _draw)


def _draw(width: float) -> Sheet:
    sheet = Sheet(width)
    radius = 92.0
    centre = (width - radius - 8, 120.0) if not sheet.narrow else (width / 2, 330.0)
    right = centre[0] - radius - 48 if not sheet.narrow else width - 12
    rail, home, stop = 150.0, 96.0, 26.0
    sheet.hard_stop(stop, rail - 50, rail + 26, way=-1, depth=16)
    sheet.line((stop, rail), (right, rail), thick=True)
    sheet.line((stop, rail + 8), (right, rail + 8), thick=True)
    sheet.box(home - 8, rail + 20, home + 8, rail + 44)  # the switch
    sheet.line((home, rail + 20), (home, rail + 12))
    sheet.text((home, rail + 60), "home switch", anchor="middle")
    sheet.box(home - 4, rail - 42, home + 104, rail - 8, fill="paper")  # the carriage
    sheet.box(home + 6, rail - 8, home + 26, rail + 16, fill="paper")
    sheet.box(home + 74, rail - 8, home + 94, rail + 16, fill="paper")
    sheet.box(home - 4, rail + 8, home + 4, rail + 12, fill="ink")  # its flag
    sheet.arrow((home + 178, rail - 25), (home + 116, rail - 25))
    sheet.text((home + 184, rail - 21), "homing")
    sheet.text((stop - 16, rail - 62), "hard stop")
    sheet.circle((home, rail + 10), 15)
    joint = (
        (centre[0] - radius * 0.87, centre[1] + radius * 0.5)
        if not sheet.narrow
        else (centre[0] - 60, centre[1] - 70)
    )
    sheet.line((home + 11, rail + 20.5), joint)
    sheet.circle(centre, radius, thick=True, fill="paper")
    x, y = centre
    for across in (-46.0, 46.0):
        sheet.line((x + across, y - 44), (x + across, y + 50), dashed=True)
    sheet.centre_line((x, y - 60), (x, y + 50))
    for across, row in LANDED:
        sheet.circle((x + 1.4 * across, y + 10 - 13 * row), 4, fill="ink")
    sheet.line((x - 66, y + 18), (x + 66, y + 18))
    sheet.dimension((x - 46, y + 30), (x + 46, y + 30), "allowed", offset=14)
    sheet.text((x, y - 64), "zero", anchor="middle")
    return sheet
