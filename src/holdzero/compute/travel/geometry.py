"""Geometry: a rail that cannot be built is refused with a sentence, not reckoned with."""

from holdzero.compute.travel.values import KEY_OF
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import System, show

NOT_ABOVE = (  # (the smaller, the larger, why it cannot be otherwise)
    ("limit_trip_mm", "home_trip_mm", "the home switch trips first on the way to the hard stop"),
    ("home_trip_mm", "travel_mm", "the home switch is on the rail"),
    ("far_limit_trip_mm", "travel_mm", "the far limit switch is on the rail"),
    ("differential_travel_half_width_mm", "differential_travel_mm", "the differential travel is never negative"),
    ("back_off_mm", "travel_mm", "the back-off is a part of the rail"),
    ("work_high_mm", "travel_mm", "the work zone lies between the hard stops"),
    ("soft_limit_high_mm", "travel_mm", "the soft limits lie between the hard stops"),
    ("poll_s", "delay_s", "the poll is a part of the delay"),
)


def refuse_contradictions(axis: Axis, *, system: System = "metric") -> None:
    """Refuse an axis two of whose keys cannot both be true.

    Parameters
    ----------
    axis : Axis
        As read; keys that are missing contradict nothing.
    system : {"metric", "inch"}
        Units the sentence is worded in.

    Raises
    ------
    InputError
        With the first contradiction found.
    """

    def worded(name: str) -> str:
        kind = "time" if name.endswith("_s") else "length"
        return f"{KEY_OF[name]} = {show(axis.value(name), kind, system=system)}"

    def refuse(first: str, how: str, second: str, need: str) -> InputError:
        return InputError(
            where=f"axes.{axis.name}",
            found=f"{worded(first)} {how} {worded(second)}",
            need=need,
            do=f"correct {KEY_OF[first]} or {KEY_OF[second]}",
        )

    for smaller, larger, because in NOT_ABOVE:
        low, high = axis.value(smaller), axis.value(larger)
        if low is not None and high is not None and low > high:
            need = f"{KEY_OF[smaller]} no larger than {KEY_OF[larger]}, because {because}"
            raise refuse(smaller, "above", larger, need)
    near, far, travel = axis.places.home_trip_mm, axis.places.far_limit_trip_mm, axis.travel_mm
    if near is not None and far is not None and travel is not None and near + far >= travel:
        raise refuse(
            "home_trip_mm",
            "meeting",
            "far_limit_trip_mm",
            f"room between them on a travel of {show(travel, 'length', system=system)}, each counted from the "
            "hard stop at its own end",
        )
    if axis.places.limit_switch == "shared" and near is not None and axis.places.limit_trip_mm not in (None, near):
        need = "one place where both are one switch"
        raise refuse("limit_trip_mm", "beside", "home_trip_mm", need)
