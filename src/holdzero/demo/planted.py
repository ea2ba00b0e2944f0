"""What the demo's readings were made from: one row a candidate, all invented."""

from dataclasses import dataclass

WINNER = "K"  # inductive: holds, and is the cheapest that does
DEARER = "N"  # through-beam pair: holds, and costs more for nothing that is needed
COARSE = "H"  # roller position switch: read with a display too coarse to tell
ON_STEPS = "J"  # reed and magnet: lands on full steps
WARMING = "M"  # capacitive: warms up after power-up, and its scatter grows with speed
STRAYS = "P"  # gauge contact: the tightest, but for chips under its tip

CREEP_MM_S = 1.5
FULL_STEP_MM = 0.08  # lead 16 mm, 200 full steps a turn
DISPLAY_MM = 0.002  # of the indicator that all but one were read with


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantedStray:
    """One homing of one side that lands elsewhere: a chip."""

    power_up: int
    homing: int
    side: str
    by_mm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Planted:
    """The truth behind one invented candidate.

    `within_mm` and `between_mm` are standard deviations on each side; `shared_mm` is the part of a
    power-up's shift that both sides have in common (it moves the datum but does not rack the gantry).
    """

    sensor: str
    within_mm: float
    between_mm: float
    shared_mm: float
    verdict: str  # what the planted truth deserves
    resolution_mm: float = DISPLAY_MM
    rest_mm: float = 0.0  # mean place on the display, where the display is coarse enough for it to matter
    warm_up_mm: float = 0.0  # shift at the first homing after power-up; dies away over `warm_up_homings`
    warm_up_homings: float = 1.8
    latency_s: float = 0.0  # trips late by latency x creep speed,
    jitter_s: float = 0.0  # and scatters by jitter x creep speed more
    speeds_mm_s: tuple[float, ...] = (CREEP_MM_S,)
    lattice_mm: float = 0.0  # the axis comes to rest on multiples of this
    strays: tuple[PlantedStray, ...] = ()
    read_again: bool = False  # the last homing of each power-up, without homing: what indicator and stand add

    @property
    def spread_mm(self) -> float:
        """Standard deviation from day to day on one side: what is shared, between, within and the steps add."""
        parts = (self.within_mm, self.between_mm, self.shared_mm, self.lattice_mm / 12**0.5)
        return float(sum(part**2 for part in parts) ** 0.5)


PLANTED = (
    Planted(
        sensor=COARSE,
        within_mm=0.019,
        between_mm=0.011,
        shared_mm=0.004,
        resolution_mm=0.1,
        rest_mm=0.022,
        verdict="cannot say",
    ),
    Planted(
        sensor=ON_STEPS,
        within_mm=0.052,
        between_mm=0.024,
        shared_mm=0.006,
        lattice_mm=FULL_STEP_MM,
        verdict="does not hold",
    ),
    Planted(
        sensor=WINNER, within_mm=0.0084, between_mm=0.0031, shared_mm=0.0033, verdict="holds", read_again=True
    ),
    Planted(
        sensor=WARMING,
        within_mm=0.036,
        between_mm=0.018,
        shared_mm=0.012,
        warm_up_mm=0.26,
        latency_s=0.007,
        jitter_s=0.014,
        speeds_mm_s=(1.5, 6.0, 3.0, 12.0),
        verdict="does not hold",
    ),
    Planted(sensor=DEARER, within_mm=0.0052, between_mm=0.0021, shared_mm=0.0013, verdict="holds"),
    Planted(
        sensor=STRAYS,
        within_mm=0.0017,
        between_mm=0.0008,
        shared_mm=0.0006,
        strays=(
            PlantedStray(power_up=3, homing=5, side="L", by_mm=0.287),
            PlantedStray(power_up=7, homing=2, side="R", by_mm=0.461),
            PlantedStray(power_up=9, homing=4, side="L", by_mm=0.194),
        ),
        verdict="does not hold",
    ),
)
