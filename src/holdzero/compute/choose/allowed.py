"""Allowed: the spread each home switch may have, from what is asked of the machine."""

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from math import hypot, sqrt

from holdzero.caution import Caution
from holdzero.compute.budget import budget
from holdzero.compute.choose.outside import share_outside
from holdzero.compute.choose.values import AllowedSpread, IndexRequirement
from holdzero.compute.racking import between_drives_mm
from holdzero.compute.spread.normal import normal_limit
from holdzero.compute.spread.reaching import reaching
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis, Requirement
from holdzero.quantity import System, column, show, show_share

WIDE = "wide"
_LEVER_SWITCH_MM = 0.05  # widest spread usually stated for a plain lever switch


def allowed_spread(axis: Axis, requirement: Requirement, *, system: System = "metric") -> AllowedSpread:
    """Spread that each home switch of an axis may have.

    Parameters
    ----------
    axis : Axis
        Number of motors, and for squareness the distance between the two drives.
    requirement : Requirement
        Squareness, position, risk, and how the datum was set.
    system : {"metric", "inch"}
        Units of the sentences.

    Returns
    -------
    AllowedSpread
        The joint figure and the ones it comes from, which of them binds, and what the datum does. [mm]

    Raises
    ------
    InputError
        Nothing is asked that the axis could be judged by, or the distance between the drives is missing.

    Notes
    -----
    Both sides alike, independent and normal: the spread at which `share_outside` reaches the risk, position
    taken at the ends of the gantry, beyond the drives where the axis has an overhang. A
    datum that is the mean of k power-ups keeps their error for ever, so position counts as
    t / sqrt(1 + 1/k). Squareness does not: what both sides keep is set when the gantry is squared.

    Examples
    --------
    >>> router = Axis.of("Y", motors=2, drive_distance_mm=980)
    >>> asked = Requirement(squareness_mm=0.10, squareness_over_mm=600, position_mm=0.05)
    >>> f"{allowed_spread(router, asked).spread_allowed_mm:.6f}"
    '0.014365'
    """
    cautions: list[Caution] = []
    c = _squareness_limit_mm(axis, requirement, cautions)
    t, datum_from = _position_limit_mm(requirement, system)
    if c is None and t is None:
        raise InputError(
            where=f"[requirement], axis {axis.name}",
            found="squareness only, on an axis with one motor"
            if requirement.squareness_mm is not None
            else "neither squareness nor position",
            need='a position the axis must come back to, as position = "0.05 mm"'
            + (', or squareness = "0.15 mm over 800 mm"' if axis.motors == 2 else ""),
            do="add it to the machine file",
        )
    risk, z, reach = requirement.risk, normal_limit(requirement.risk), axis.reach
    squareness_alone = None if c is None else c / (sqrt(2) * z)
    one_end = None if t is None else t / (z * (hypot(reach, reach - 1) if axis.motors == 2 else 1))
    position_alone = (
        None
        if t is None
        else one_end
        if axis.motors == 1
        else _reached_mm(risk=risk, below_mm=t / z, position_mm=t, reach=reach)
    )
    alone = [a for a in (squareness_alone, position_alone) if a is not None]
    joint = min(alone)
    if c is not None and t is not None:
        joint = _reached_mm(risk=risk, below_mm=joint, position_mm=t, squareness_mm=c, reach=reach)
    tighter = "squareness" if squareness_alone == min(alone) else "position"
    if joint >= _LEVER_SWITCH_MM:
        cautions.append(_wide(joint, "try the plainest one first", system=system))
    return AllowedSpread(
        axis=axis.name,
        motors=axis.motors,
        squareness_mm=requirement.squareness_mm,
        squareness_over_mm=requirement.squareness_over_mm,
        drive_distance_mm=axis.drive_distance_mm,
        position_mm=requirement.position_mm,
        position_limit_mm=t,
        squareness_limit_mm=c,
        risk=risk,
        z=z,
        squareness_alone_mm=squareness_alone,
        position_one_end_mm=one_end,
        position_alone_mm=position_alone,
        spread_allowed_mm=joint,
        bound_by="both" if joint < 0.99 * min(alone) else tighter,
        datum_from=datum_from,
        datum_homings=requirement.datum_homings if t is not None else None,
        index=_index_requirement(axis, requirement),
        reach=reach,
        cautions=tuple(cautions),
    )


def _wide(joint_mm: float, advice: str, *, system: System) -> Caution:
    lever = show(_LEVER_SWITCH_MM, "length", system=system, digits=2)
    text = (
        f"A spread of {show(joint_mm, 'length', system=system, digits=3)} is allowed. "
        f"Plain lever switches usually stay under {lever}: {advice}."
    )
    return Caution(WIDE, text, "common practice, no source")


def with_plain_ones_tried(allowed: AllowedSpread, names: Sequence[str], *, system: System) -> AllowedSpread:
    """Return what is allowed without the advice to try a plain switch, where such ones were tried and failed.

    Parameters
    ----------
    allowed : AllowedSpread
    names : sequence of str
        Of the plain contacts that do not hold; none: as it was.
    system : {"metric", "inch"}
    """
    if not names:
        return allowed
    advice = f"yet {' and '.join(names)} did not hold on this axis: first find what moves there"
    wide = _wide(allowed.spread_allowed_mm, advice, system=system)
    return replace(allowed, cautions=tuple(wide if c.code == WIDE else c for c in allowed.cautions))


def _index_requirement(axis: Axis, requirement: Requirement) -> IndexRequirement | None:
    if axis.index.index_pitch_mm is None:
        return None
    return IndexRequirement(budget(axis, requirement).index_scatter_allowed_mm)


def _squareness_limit_mm(axis: Axis, asked: Requirement, cautions: list[Caution]) -> float | None:
    """Most that the two home positions may differ by, c = t W/L."""
    if asked.squareness_mm is None or asked.squareness_over_mm is None:
        return None
    if axis.motors == 1:
        cautions.append(
            Caution(
                "squareness-not-from-this-axis",
                f"Axis {axis.name} has one motor: its home switch does not set squareness. Only position counts.",
            )
        )
        return None
    if axis.drive_distance_mm is None:
        raise InputError(
            where=f"[axes.{axis.name}]",
            found="squareness asked for, but no drive_distance",
            need="the distance between the two drives",
            do='add drive_distance = "1120 mm" (your own figure) to the machine file',
        )
    return between_drives_mm(
        squareness_mm=asked.squareness_mm,
        over_mm=asked.squareness_over_mm,
        drive_distance_mm=axis.drive_distance_mm,
    )


def _position_limit_mm(asked: Requirement, system: System) -> tuple[float | None, str]:
    """Position tolerance after the datum's own error, and the sentence about it."""
    t, k = asked.position_mm, asked.datum_homings
    if t is None:
        return None, "No position is asked for, so the datum does not matter."
    if k is None:
        z = normal_limit(asked.risk)
        once = float(share_outside(1.0, position_mm=z / sqrt(2), ends=1))
        return t, (
            "The datum is taken as exact. Set on a single homing it would keep that homing's error: the share "
            f"outside would be {show_share(once)} instead of {show_share(asked.risk)}. "
            "Average several power-ups, and say over how many."
        )
    limit = asked.position_limit_mm or t
    (counts_as, as_asked), unit = column((limit, t), "length", system=system)
    return limit, (
        f"The datum is the mean of {k} power-up{'' if k == 1 else 's'} and keeps their error, so the position "
        f"tolerance counts as {counts_as} {unit} instead of {as_asked} {unit}."
    )


@lru_cache(maxsize=512)  # every page of a machine asks the same
def _reached_mm(
    *, risk: float, below_mm: float, position_mm: float, squareness_mm: float | None = None, reach: float
) -> float:
    """Return the spread at which the share outside, which rises with it, is the risk. [mm]"""

    def share(spread_mm: float) -> float:
        return float(share_outside(spread_mm, position_mm=position_mm, squareness_mm=squareness_mm, reach=reach))

    return reaching(share, risk, low=below_mm * 1e-3, high=below_mm * 1.001)
