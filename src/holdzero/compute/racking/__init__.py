"""Racking: how a difference between the two sides of a gantry turns into an angle and into force.

Two drives W apart pull on a gantry whose guides hold it at their own natural angle. Stiff drives
win: nearly all of an offset becomes angle. Stiff guides win: the offset only loads the drives.
"""

from dataclasses import dataclass
from math import copysign

from holdzero.caution import Caution


def between_drives_mm(*, squareness_mm: float, over_mm: float, drive_distance_mm: float) -> float:
    """Return by how much the two sides may differ for a squareness asked over a length: t W/L. [mm]

    Parameters
    ----------
    squareness_mm, over_mm : float
        What is asked, and the length it is asked over. [mm]
    drive_distance_mm : float
        Between the two drives, W. [mm]

    Examples
    --------
    >>> round(between_drives_mm(squareness_mm=0.1, over_mm=500, drive_distance_mm=900), 9)
    0.18
    """
    return squareness_mm * drive_distance_mm / over_mm


RIGID = Caution(
    "racking-rigid",
    "No racking stiffness is known, so every difference between the sides is taken to turn into angle: an upper "
    "limit for the angle.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Racking:
    """Two drives and the guides between them.

    Parameters
    ----------
    drive_distance_mm : float
        Between the two drives, W. [mm]
    share : float
        Part of a commanded offset that becomes angle: 1 where the drives are rigid or nothing is known. [-]
    drives_n_mm : float or None
        The two drives in series; None where not known, and then no force can be stated. [N/mm]
    natural_rad : float or None
        Angle the guides would take by themselves; None where not known, and then it counts as none. [rad]
    cautions : tuple of Caution
        What is assumed.
    """

    drive_distance_mm: float
    share: float = 1.0
    drives_n_mm: float | None = None
    natural_rad: float | None = None
    cautions: tuple[Caution, ...] = ()

    @property
    def natural_mm(self) -> float:
        """By how much the sides part where the guides have their way, W θ₀. [mm]"""
        return self.drive_distance_mm * (self.natural_rad or 0.0)

    @property
    def trip_share(self) -> float:
        """Part of a difference between the *trips* that becomes angle, 2ρ/(1 + ρ), equal drives. [-]

        Each side stops at its own trip, and the later side drags the earlier one on: more than `share`.
        """
        return 2 * self.share / (1 + self.share)

    @property
    def dragged_share(self) -> float:
        """Part of the skew still left by which the side that stopped first is dragged on, (1 − ρ)/2. [-]"""
        return (1 - self.share) / 2

    def angle_rad(self, offset_mm: float) -> float:
        """Angle for an offset commanded between the sides, ρ δ/W + (1 − ρ) θ₀. [rad]"""
        return (self.share * offset_mm + (1 - self.share) * self.natural_mm) / self.drive_distance_mm

    def force_n(self, offset_mm: float) -> float | None:
        """Force in each drive for an offset commanded between the sides; None where no stiffness is known. [N]"""
        if self.drives_n_mm is None:
            return None
        return self.drives_n_mm * (1 - self.share) * (offset_mm - self.natural_mm)

    @property
    def guides_n_mm(self) -> float | None:
        """Guides as one spring between the sides, K/W² = k (1 − ρ)/ρ; None where not known. [N/mm]"""
        return None if self.drives_n_mm is None else self.drives_n_mm * (1 - self.share) / self.share

    def holding_force_n(self, apart_mm: float) -> float | None:
        """Force in each drive that holds the sides `apart_mm` apart, right minus left; square is 0. [N]"""
        return None if self.guides_n_mm is None else self.guides_n_mm * (apart_mm - self.natural_mm)

    def largest(self, offset_mm: float) -> tuple[float, float | None]:
        """Largest angle and force of offsets up to this, either way: the natural angle adds to both. [rad, N]"""
        with_the_guides = copysign(offset_mm, self.natural_mm)
        force = self.force_n(-with_the_guides)
        return abs(self.angle_rad(with_the_guides)), None if force is None else abs(force)


def racking(
    *,
    drive_distance_mm: float,
    left_n_mm: float | None = None,
    right_n_mm: float | None = None,
    guides_n_mm_rad: float | None = None,
    natural_rad: float | None = None,
) -> Racking:
    """Share of an offset that becomes angle, from the stiffness of drives and guides.

    Parameters
    ----------
    drive_distance_mm : float
        Between the two drives, W. [mm]
    left_n_mm, right_n_mm : float or None
        One drive each: screw, nut, bracket and motor in series. [N/mm]
    guides_n_mm_rad : float or None
        Moment per angle with which gantry and guides hold their natural angle. [N mm/rad]
    natural_rad : float or None
        That angle; None where not known. [rad]

    Returns
    -------
    Racking
        Rigid, with a caution, where a stiffness is missing.

    Notes
    -----
    k = k_L k_R/(k_L + k_R), ρ = k W²/(K + k W²): the equilibrium of the two-degree-of-freedom beam on
    two springs and a rotary spring. Each side carries k (1 − ρ)(δ − W θ₀).

    Examples
    --------
    >>> gantry = racking(drive_distance_mm=980, left_n_mm=2000, right_n_mm=2000, guides_n_mm_rad=2e8)
    >>> f"{gantry.share:.4f}, {gantry.angle_rad(0.2) * 1e3:.4f} mrad, {gantry.force_n(0.2):.2f} N"
    '0.8276, 0.1689 mrad, 34.47 N'
    """
    if left_n_mm is None or right_n_mm is None or guides_n_mm_rad is None:
        return Racking(drive_distance_mm=drive_distance_mm, cautions=(RIGID,))
    series = left_n_mm * right_n_mm / (left_n_mm + right_n_mm)
    turning = series * drive_distance_mm**2
    return Racking(
        drive_distance_mm=drive_distance_mm,
        share=turning / (guides_n_mm_rad + turning),
        drives_n_mm=series,
        natural_rad=natural_rad,
    )
