"""Plan view: the gantry from above, with the lengths that squareness hangs on."""

from holdzero.chart import Picture, drawing
from holdzero.chart.sheet import Sheet
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.quantity import System, show

HOME_PX, FAR_PX, BEAM_PX, SWING_PX = 74.0, 268.0, 12.0, 34.0


def plan_view(machine: Machine, axis: Axis, system: System) -> Picture:
    """Return a two-motor axis from above, at its home end.

    Parameters
    ----------
    machine : Machine
        For what is asked.
    axis : Axis
        With two motors.
    system : {"metric", "inch"}
        Units shown.

    Notes
    -----
    Along the gantry to scale; the travel is cut short, and what squareness allows is drawn far too large.
    """
    across = _length(axis.drive_distance_mm, system)
    travel = _length(axis.travel_mm, system)
    allowed_mm, over_mm = machine.requirement.squareness_mm, machine.requirement.squareness_over_mm

    def draw(width: float) -> Sheet:
        sheet = Sheet(width)
        left, right = 40.0, width - (104.0 if sheet.narrow else 116.0)
        for x, side in ((left, "left"), (right, "right")):
            sheet.box(x - 5, HOME_PX - 30, x + 5, FAR_PX)
            sheet.hatch(x - 14, HOME_PX - 40, x + 14, HOME_PX - 30)
            sheet.line((x - 14, HOME_PX - 30), (x + 14, HOME_PX - 30), thick=True)
            sheet.text((x, HOME_PX - 46), side, anchor="middle")
        for x in (left, right):
            sheet.box(x - 17, HOME_PX - 20, x + 17, HOME_PX + 20, fill="paper")
        sheet.box(left - 17, HOME_PX - BEAM_PX, right + 17, HOME_PX + BEAM_PX, fill="paper")
        sheet.centre_line((left - 30, HOME_PX), (right + 30, HOME_PX))
        if allowed_mm is not None and over_mm is not None:
            reach = min(over_mm / (axis.drive_distance_mm or over_mm), 1.0) * (right - left)
            end = (left + reach, HOME_PX + SWING_PX)
            sheet.line((left, HOME_PX), end, dashed=True)
            sheet.dimension((end[0], HOME_PX), end, "", offset=0)
            sheet.text((end[0] + 7, end[1] + 2), _length(allowed_mm, system))
            sheet.dimension((left, HOME_PX), (end[0], HOME_PX), f"over {_length(over_mm, system)}", offset=74)
        sheet.dimension((left, FAR_PX), (right, FAR_PX), f"between the drives {across}", offset=26)
        sheet.dimension((right + 5, FAR_PX), (right + 5, HOME_PX - 30), travel, offset=30)
        return sheet

    words = f"A gantry on two guides, {across} between the drives, {travel} of travel"
    asked = allowed_mm is not None and over_mm is not None
    words += f"; square to {_length(allowed_mm, system)} over {_length(over_mm, system)}." if asked else "."
    return drawing(
        f"Axis {axis.name} from above, at its home end; what squareness allows is exaggerated", words, draw
    )


def _length(length_mm: float | None, system: System) -> str:
    return "not given" if length_mm is None else show(length_mm, "length", system=system)
