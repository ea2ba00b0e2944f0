"""What the demo's readings were made from: one row a candidate, all invented."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """The truth behind one invented candidate.

    `within_mm` and `between_mm` are standard deviations on each side; `shared_mm` is the part of a
    power-up's shift that both sides have in common (it moves the datum but does not rack the gantry).
    """

    sensor: str
    within_mm: float
    between_mm: float
    shared_mm: float = 0.002
    resolution_mm: float = 0.001
    warm_up_mm: float = 0.0  # shift at the first homing after power-up; dies away over `warm_up_homings`
    warm_up_homings: float = 1.5
    jitter_s: float = 0.0  # adds jitter x creep speed to the scatter
    speeds_mm_s: tuple[float, ...] = (2.0,)
    lattice_mm: float = 0.0  # the axis comes to rest on multiples of this
    gross_miss: tuple[int, int, str, float] | None = None  # set, homing, side, how far off [mm]
    verdict: str = ""  # what the planted truth deserves


PLANTED = (
    Planted(sensor="A", within_mm=0.026, between_mm=0.014, gross_miss=(6, 3, "R", 0.412), verdict="does not hold"),
    Planted(sensor="B", within_mm=0.0042, between_mm=0.0020, shared_mm=0.001, verdict="holds"),
    Planted(sensor="C", within_mm=0.0030, between_mm=0.0020, warm_up_mm=0.019, verdict="too close to call"),
    Planted(
        sensor="D", within_mm=0.0009, between_mm=0.0006, shared_mm=0.0005, resolution_mm=0.010, verdict="holds"
    ),
    Planted(sensor="E", within_mm=0.028, between_mm=0.015, lattice_mm=0.050, verdict="does not hold"),
    Planted(
        sensor="F",
        within_mm=0.0035,
        between_mm=0.0030,
        jitter_s=0.0030,
        speeds_mm_s=(2.0, 8.0, 1.0, 4.0, 2.0),
        verdict="too close to call",
    ),
)
