"""Of a choice: the pictures that show which candidate holds, in the order they are looked at."""

from holdzero.chart.comparison import comparison_picture
from holdzero.chart.gantry import gantry_picture, worst_pair
from holdzero.chart.picture import Picture
from holdzero.chart.ranking import ranking_picture
from holdzero.chart.share import share_picture
from holdzero.compute.choose import Choice
from holdzero.compute.findings.values import Study
from holdzero.inputs.machine.values import Machine
from holdzero.quantity import System


def choice_pictures(
    choice: Choice, study: Study, machine: Machine, *, system: System = "metric"
) -> dict[str, Picture]:
    """Return by name the comparison, the tightest, the gantry as its worst homing racked it, other tolerances.

    Parameters
    ----------
    choice : Choice
        With at least one candidate.
    study : Study
        What the homings say, for the worst homing.
    machine : Machine
        What is asked of it, and its axes.
    system : "metric" or "inch"
        Units shown.
    """
    pictures = {"comparison": comparison_picture(choice, system=system)}
    if ranked := ranking_picture(choice, system=system):
        pictures["ranking"] = ranked
    name, axis = choice.choice or choice.candidates[0].sensor.name, machine.axis(choice.allowed.axis)
    left, right = (study.of(name, axis.name, side) for side in "LR")
    racked = worst_pair(left, right) if left and right else None
    if racked and axis.drive_distance_mm:
        pictures["gantry"] = gantry_picture(axis, machine.requirement, racked, system=system)
    if any(candidate.parts for candidate in choice.candidates):
        pictures["share"] = share_picture(choice, system=system)
    return pictures
