"""Target: will a proximity sensor surely see the flag, and surely not see it when it is away?

A rated distance is a name, not a promise: one sensor in its whole temperature and supply range may see
the standard plate from 0.81 to 1.21 times as far, and lets go of it up to 1.43 times as far. Another
metal, or a smaller flag, shortens all of it.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from holdzero.caution import Caution
from holdzero.compute.travel.values import Check, Missing, TravelCase
from holdzero.errors import InputError

ASSURED = 0.81  # 0.9 x 0.9
SURELY_OFF = 1.43  # 1.1 x 1.1 and a differential travel of 0.2 of 1.1
SOURCE = "IEC 60947-5-2, as quoted in sensor data sheets"


@dataclass(frozen=True, slots=True)
class Metal:
    """How much nearer a metal must come than the standard steel plate: reduction factor, lowest and highest."""

    low: float
    high: float
    source: str


METALS: Mapping[str, Metal] = {
    "mild steel": Metal(1.0, 1.0, "the standard target, IEC 60947-5-2"),
    "stainless steel": Metal(0.64, 0.78, "common practice, no source; sheets of inductive sensors lie within it"),
    "brass": Metal(0.51, 0.51, "common practice, no source; a sheet of inductive sensors has it"),
    "aluminium": Metal(0.22, 0.5, "common practice, no source; sheets of inductive sensors lie within it"),
    "copper": Metal(0.16, 0.45, "common practice, no source; sheets of inductive sensors lie within it"),
}
REPEATS_BEST = Caution(
    "side-on-repeats-best",
    "Passing the sensor side-on and close, with a gap of about a tenth of the rated distance, repeats best and "
    "cannot hit it.",
    "common practice, no source",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Distances of one sensor to one flag. [mm]"""

    surely_seen_mm: float  # nearer than this: on
    surely_off_mm: float  # farther than this: off
    standard_side_mm: float | None  # side of the standard plate; None without the size of the face


def reach(
    *, rated_mm: float, factor_low: float = 1.0, factor_high: float = 1.0, face_mm: float | None = None
) -> Reach:
    """Distances at which a sensor surely sees a flag and surely does not.

    Parameters
    ----------
    rated_mm : float
        Rated operating distance. [mm]
    factor_low, factor_high : float, default 1
        Reduction factor of the flag's metal: the sheet's figure twice, or the span of the kind. [-]
    face_mm : float or None
        Diameter of the active face. [mm]

    References
    ----------
    IEC 60947-5-2 as quoted in sensor data sheets: assured operating distance 0.81, surely off beyond 1.43
    times the rated distance; standard target of mild steel 1 mm thick, its side the diameter of the face or
    three times the rated distance, whichever is larger.

    Examples
    --------
    >>> reach(rated_mm=4, face_mm=12)
    Reach(surely_seen_mm=3.24, surely_off_mm=5.72, standard_side_mm=12.0)
    """
    return Reach(
        surely_seen_mm=ASSURED * rated_mm * factor_low,
        surely_off_mm=SURELY_OFF * rated_mm * factor_high,
        standard_side_mm=None if face_mm is None else float(max(face_mm, 3 * rated_mm)),
    )


def target(case: TravelCase) -> Check:
    """The flag passes near enough to be seen for certain, and its absence is far enough."""
    axis = case.axis
    rated, gap = case.need("rated_distance_mm", "flag_gap_mm")
    low, high, of_what = _factor(case)
    reach_at = reach(rated_mm=rated, factor_low=low, factor_high=high, face_mm=axis.target.sensor_face_mm)
    farthest = gap + axis.target.flag_gap_half_width_mm
    sides = [
        (
            farthest,
            reach_at.surely_seen_mm,
            (
                f"a flag of {of_what} is surely seen up to {case.mm(reach_at.surely_seen_mm)}, it passes at up to "
                f"{case.mm(farthest)}"
            ),
            f"Bring the flag to {case.mm(reach_at.surely_seen_mm)} or nearer, or make it of steel.",
        )
    ]
    if axis.target.clear_gap_mm is not None:
        off = reach(rated_mm=rated).surely_off_mm
        sides.append(
            (
                off,
                axis.target.clear_gap_mm,
                (
                    f"metal is surely not seen beyond {case.mm(off)}, the nearest with the flag away is at "
                    f"{case.mm(axis.target.clear_gap_mm)}"
                ),
                f"Keep metal {case.mm(off)} away from the face.",
            )
        )
    if axis.target.flag_approach == "end":
        (trip,) = case.need("home_trip_mm")
        sides.append(
            (
                trip,
                reach_at.surely_seen_mm,
                (
                    f"end-on it may trip as near as {case.mm(reach_at.surely_seen_mm)} and then moves "
                    f"{case.mm(trip)} to the hard stop, into the face"
                ),
                "Let the flag pass the sensor side-on: a sensor must not be the end stop.",
            )
        )
    uses, room, why, do = min(sides, key=lambda side: side[1] - side[0])
    return case.judged(
        "target",
        uses_mm=uses,
        room_mm=room,
        why=f"Tightest: {why}.",
        do=do,
        cautions=_target_cautions(case, reach_at),
    )


def _factor(case: TravelCase) -> tuple[float, float, str]:
    axis = case.axis
    if axis.target.flag_factor is not None:
        return axis.target.flag_factor, axis.target.flag_factor, f"factor {axis.target.flag_factor:g}"
    name = axis.target.flag_material
    if name is None:
        raise Missing("flag_material")
    name = "mild steel" if name == "steel" else name
    if name not in METALS:
        raise InputError(
            where=f"axes.{axis.name}.flag_material",
            found=f'"{name}"',
            need=f"one of {', '.join(METALS)}",
            do="write one of them, or give flag_factor from the sensor's sheet",
        )
    return METALS[name].low, METALS[name].high, name


def _target_cautions(case: TravelCase, reach_at: Reach) -> tuple[Caution, ...]:
    axis = case.axis
    cautions = [] if axis.target.flag_approach == "side" else [REPEATS_BEST]
    low, high, name = _factor(case)
    if low < high:
        cautions.append(
            Caution(
                "factor-of-the-kind",
                "The factor is the span of a few public data sheets; the sheet of this sensor governs.",
                METALS[name].source,
            )
        )
    side = reach_at.standard_side_mm
    if side is not None and axis.target.flag_side_mm is not None and axis.target.flag_side_mm < side:
        cautions.append(
            Caution(
                "flag-too-small",
                f"The flag's face of {case.mm(axis.target.flag_side_mm)} is smaller than the standard plate of "
                f"{case.mm(side)}: it is seen less far than reckoned here. Measure it.",
                SOURCE,
            )
        )
    if axis.target.flag_thickness_mm is not None and axis.target.flag_thickness_mm < 1:
        cautions.append(
            Caution(
                "flag-too-thin",
                f"The flag of {case.mm(axis.target.flag_thickness_mm)} is thinner than the standard plate of "
                f"{case.mm(1)}: measure how far it is seen.",
                SOURCE,
            )
        )
    cautions.append(
        Caution("chips-on-the-face", "A magnetised chip on the face counts as flag: look at it when home drifts.")
    )
    return tuple(cautions)
