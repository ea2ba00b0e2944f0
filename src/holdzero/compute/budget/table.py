"""Table: the contributions combined to first order, for position and for squareness (JCGM 100).

Every row has a part that both sides of a gantry share, c, and a part of each side alone, q; never one
sigma for both. Position at y along the gantry, u = y/W, varies by c² + ((1 − u)² + u²) q²; squareness over
L by √2 q L/W, where c drops out.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import hypot, inf, sqrt
from typing import Any

from holdzero.caution import Caution
from holdzero.compute.budget.allowed import AllowedOwn, allowed_own, one_outside
from holdzero.compute.budget.contribution import Contribution, NotCounted
from holdzero.compute.budget.counted import (
    PICKS_INDEX,
    SWITCH,
    TrialSpread,
    counted,
    delay,
    index_phase,
    step_mm,
)
from holdzero.compute.budget.grid import StepGrid, grid
from holdzero.compute.budget.gum import DIVISORS, coverage_factor, effective_dof
from holdzero.compute.budget.together import joint, shares, total_mm
from holdzero.compute.index import (
    IndexPlace,
    Wander,
    allowed_scatter_mm,
    electrical_cycle_mm,
    fastest_polled_mm_s,
    index_place,
)
from holdzero.compute.racking import Racking, racking
from holdzero.inputs.machine.values import Axis, Requirement
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, show

COVERAGE = 0.95
INDEX_NOT_KNOWN = Caution(
    "index-not-known",
    "Whether the right index is taken is not known: the chance of the wrong one needs the phase and the scatter "
    "of the switch. Without them the search is drawn as if it began half-way between two indexes.",
)
INDEX_RISK = 1e-6  # one homing in a million on the wrong index: a whole turn off is a crash


@dataclass(frozen=True, slots=True, kw_only=True)
class Combined:
    """One figure of the table: position or squareness. [mm]"""

    u_mm: float
    dof: float
    limit_mm: float | None  # what is asked; None: nothing
    wrong_index: float = 0.0  # chance that a side takes the wrong index, which is outside

    @property
    def factor(self) -> float:
        """Coverage factor. [-]"""
        return coverage_factor(self.dof, coverage=COVERAGE)

    @property
    def expanded_mm(self) -> float:
        """Expanded uncertainty, 95 %. [mm]"""
        return self.factor * self.u_mm

    @property
    def share_outside(self) -> float | None:
        """Share of homings beyond the limit, taken as normal; on a wrong index is outside. [-]"""
        if self.limit_mm is None:
            return None
        right = one_outside(sd_mm=self.u_mm, limit_mm=self.limit_mm)
        return 1 - (1 - right) * (1 - self.wrong_index) if self.wrong_index else right

    def as_json(self) -> dict[str, Any]:
        """Return the figures with their units in the keys."""
        return {
            "u_mm": self.u_mm,
            "expanded_mm": self.expanded_mm,
            "coverage": COVERAGE,
            "factor": self.factor,
            "degrees_of_freedom": None if self.dof == inf else self.dof,
            "limit_mm": self.limit_mm,
            "share_outside": self.share_outside,
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class Budget:
    """What home position of one axis is made of, to first order.

    Parameters
    ----------
    axis, requirement : Axis, Requirement
        As read.
    rows : tuple of Contribution
        All that was counted. With an index, rows that only move the switch stay but do not reach home.
    gantry : Racking or None
        Of two motors whose distance is known.
    measured : bool
        Home is counted by a trial, grid included.
    phase : float or None
        From the start of the search to the next index, as a share of the pitch, where it is known. [-]
    not_counted, cautions
        What may be missing, and what is assumed.
    system : {"metric", "inch"}
        What sentences are worded in.
    """

    axis: Axis
    requirement: Requirement
    rows: tuple[Contribution, ...]
    gantry: Racking | None
    measured: bool
    not_counted: tuple[NotCounted, ...]
    cautions: tuple[Caution, ...]
    phase: float | None = None
    system: System = "metric"

    @property
    def used(self) -> tuple[Contribution, ...]:
        """The rows as they reach home: those that only decide on the index have sensitivity 0."""
        if self.axis.index.index_pitch_mm is None:
            return self.rows
        return tuple(
            replace(row, sensitivity=0.0, cause="") if row.reaches == "switch" else row for row in self.rows
        )

    @property
    def deciding(self) -> tuple[Contribution, ...]:
        """The rows that move the start of the search for the index; none without an index."""
        if self.axis.index.index_pitch_mm is None:
            return ()
        return tuple(row for row in self.rows if row.reaches != "home")

    @property
    def counts_switch(self) -> bool:
        """Whether the scatter of the switch itself is known; all else is small beside it."""
        return all(not_counted.name != SWITCH for not_counted in self.not_counted)

    @property
    def common_mm(self) -> float:
        """What both sides share. [mm]"""
        return total_mm(self.used, lambda row: row.common_mm)

    @property
    def own_mm(self) -> float:
        """Of each side by itself. [mm]"""
        return total_mm(self.used, lambda row: row.own_mm)

    @property
    def day_mm(self) -> float:
        """Position at the worse end, only what changes from day to day. [mm]"""
        return total_mm([row for row in self.used if row.varies == "day"], self.at_worse_end_mm)

    @property
    def ratio(self) -> float | None:
        """Squareness error over the requirement's length for one mm between the trips. [-]"""
        over = self.requirement.squareness_over_mm
        if self.gantry is None or over is None:
            return None
        return self.gantry.trip_share * over / self.gantry.drive_distance_mm

    def at_worse_end_mm(self, contribution: Contribution) -> float:
        """Standard uncertainty of position at the worse end from one row. [mm]"""
        return contribution.u_mm if self.axis.motors < 2 else contribution.along_mm(self.axis.reach)

    @property
    def position(self) -> Combined:
        """Position at the worse end. [mm]"""
        return self._combined(self.at_worse_end_mm, self.position_limit_mm)

    @property
    def middle_mm(self) -> float | None:
        """Position half-way between two drives; None with one motor. [mm]"""
        if self.axis.motors < 2:
            return None
        return total_mm(self.used, lambda row: row.along_mm(0.5))

    @property
    def squareness(self) -> Combined | None:
        """Squareness over the length of the requirement; None with one motor, or without such a length. [mm]"""
        ratio = self.ratio
        if ratio is None:
            return None
        return self._combined(
            lambda contribution: sqrt(2) * contribution.own_mm * ratio, self.requirement.squareness_mm
        )

    @property
    def shares(self) -> tuple[float, ...]:
        """Share of each row in the variance of position at the worse end. [-]"""
        return shares(self.used, self.at_worse_end_mm)

    @property
    def shares_squareness(self) -> tuple[float, ...]:
        """Share of each row in the variance of squareness. [-]"""
        return shares(self.used, lambda row: row.own_mm)

    @property
    def position_limit_mm(self) -> float | None:
        """Position tolerance after the datum's own error, t/√(1 + 1/k). [mm]"""
        return self.requirement.position_limit_mm

    @property
    def difference_limit_mm(self) -> float | None:
        """What the trips of the two sides may differ by for squareness. [mm]"""
        ratio, asked = self.ratio, self.requirement.squareness_mm
        return None if ratio is None or asked is None else asked / ratio

    @property
    def allowed(self) -> AllowedOwn | None:
        """What each side may scatter by itself, given what both share; None where nothing is asked."""
        return allowed_own(
            sides=self.axis.motors,
            common_mm=self.common_mm,
            risk=self.requirement.risk,
            position_limit_mm=self.position_limit_mm,
            squareness_limit_mm=self.difference_limit_mm,
            reach=self.axis.reach,
        )

    @property
    def binds(self) -> str:
        """Which requirement is the harder one for what there is, "position" where neither is made."""
        position, square = self.position, self.squareness
        if square is None or square.limit_mm is None:
            return "position"
        if position.limit_mm is None or square.u_mm / square.limit_mm > position.u_mm / position.limit_mm:
            return "squareness"
        return "position"

    @property
    def grid(self) -> StepGrid | None:
        """What the place within a step does; None without a grid, or where it is inside the trial."""
        step = step_mm(self.axis)
        if step is None or self.measured:
            return None
        before = total_mm([row for row in self.used if row.varies == "homing"], lambda row: row.side_mm)
        return grid(sd_mm=before, step_mm=step, phase=self.axis.drive.step_phase, system=self.system)

    @property
    def index(self) -> IndexPlace | None:
        """Where the switch sits between two index pulses; None without an index, its phase or any scatter."""
        axis = self.axis
        wanders = self.wanders
        if axis.index.index_pitch_mm is None or self.phase is None or not wanders:
            return None
        plain = [wander.size_mm for wander in wanders if not wander.bounded and wander.dof == inf]
        return index_place(
            phase=self.phase,
            pitch_mm=axis.index.index_pitch_mm,
            spread_mm=hypot(*plain, 0.0),
            wanders=[wander for wander in wanders if wander.bounded or wander.dof < inf],
            shift_mm=axis.index.index_shift_mm or 0.0,
            risk=INDEX_RISK,
            search=axis.index.index_search,
            not_counted=self.index_not_counted,
            system=self.system,
        )

    @property
    def wanders(self) -> tuple[Wander, ...]:
        """What moves the start of one side's search for the index, each cause once."""
        return tuple(
            Wander(
                distribution=together.rows[0].distribution,
                size_mm=together.total(lambda row: row.side_mm) * _bound(together.rows[0]),
                dof=together.rows[0].dof,
            )
            for together in joint(self.deciding)
            if together.total(lambda row: row.side_mm) > 0
        )

    @property
    def index_not_counted(self) -> tuple[str, ...]:
        """What may make the wrong index likelier and is not in its chance: names of rows, and of keys."""
        axis = self.axis
        if axis.index.index_pitch_mm is None:
            return ()
        of_rows = (missing.name for missing in self.not_counted if missing.name not in ("grid", "grid of steps"))
        of_keys = (
            ("phase", self.phase),
            ("shift since the datum was set", axis.index.index_shift_mm),
            ("wear of the trip", axis.influences.trip_wear_mm),
            ("bracket", axis.influences.bracket_flex_mm),
        )
        return (*of_rows, *(name for name, value in of_keys if value is None))

    @property
    def index_known(self) -> bool:
        """Whether the chance of the wrong index rests on the phase and on the scatter of the switch."""
        switch = (SWITCH, PICKS_INDEX)
        return self.index is not None and all(missing.name not in switch for missing in self.not_counted)

    @property
    def index_scatter_allowed_mm(self) -> float | None:
        """Largest scatter of the start of the search that still finds the right index; None if not known. [mm]"""
        pitch = self.axis.index.index_pitch_mm
        if pitch is None or self.phase is None:
            return None
        bounded = sum(wander.size_mm for wander in self.wanders if wander.bounded)
        return allowed_scatter_mm(
            phase=self.phase,
            pitch_mm=pitch,
            shift_mm=(self.axis.index.index_shift_mm or 0.0) + bounded,
            risk=INDEX_RISK,
        )

    @property
    def cycle(self) -> IndexPlace | None:
        """The electrical cycle of an open-loop motor as if it were an index, at its best place; None without one.

        The shift is twice what changes from day to day.
        """
        axis = self.axis
        spread = total_mm([row for row in self.rows if row.varies == "homing"], lambda row: row.side_mm)
        if (
            axis.drive.counts_per_turn is not None
            or axis.drive.lead_mm is None
            or axis.drive.full_steps is None
            or spread == 0
        ):
            return None
        return index_place(
            phase=0.5,
            pitch_mm=electrical_cycle_mm(lead_mm=axis.drive.lead_mm, full_steps=axis.drive.full_steps),
            spread_mm=spread,
            shift_mm=2 * self.day_mm,
            risk=INDEX_RISK,
            system=self.system,
        )

    def as_json(self) -> dict[str, Any]:
        """Return the contract's shape with what we add to it."""
        square, allowed, cycle = self.squareness, self.allowed, self.cycle
        return {
            "position_mm": self.position.u_mm,
            "squareness_mm": None if square is None else square.u_mm,
            "common_mm": self.common_mm,
            "own_mm": self.own_mm,
            "middle_mm": self.middle_mm,
            "contributions": [
                contribution.as_json() | {"share": share, "share_squareness": share_squareness}
                for contribution, share, share_squareness in zip(
                    self.used, self.shares, self.shares_squareness, strict=True
                )
            ],
            "position": self.position.as_json(),
            "squareness": None if square is None else square.as_json(),
            "squareness_over_mm": self.requirement.squareness_over_mm,
            "bound_by": self.binds,
            "own_allowed_mm": None if allowed is None else allowed.own_mm,
            "wrong_index": self._wrong_index_json(),
            "electrical_cycle_mm": None if cycle is None else cycle.pitch_mm,
            "wrong_cycle": None if cycle is None else cycle.wrong,
            "not_counted": [
                {"name": not_counted.name, "needs": list(not_counted.keys)} for not_counted in self.not_counted
            ],
            "cautions": [caution.as_json() for caution in self.all_cautions],
        }

    def _wrong_index_json(self) -> dict[str, Any] | None:
        if self.axis.index.index_pitch_mm is None:
            return None
        place = self.index
        return {
            "chance": None if place is None else place.wrong,
            "chance_on_worst_day": None if place is None else place.wrong_on_worst_day,
            "phase": self.phase,
            "room_mm": None if place is None else place.room_mm,
            "scatter_mm": None if place is None else place.spread_mm,
            "scatter_allowed_mm": self.index_scatter_allowed_mm,
            "shift_mm": None if place is None else place.shift_mm,
            "not_counted": list(self.index_not_counted),
        }

    @property
    def all_cautions(self) -> tuple[Caution, ...]:
        """Cautions of the rows, the grid and the index together."""
        of_grid = () if self.grid is None else self.grid.cautions
        of_index = () if self.index is None else self.index.cautions
        of_index += () if self.index_known or self.axis.index.index_pitch_mm is None else (INDEX_NOT_KNOWN,)
        return tuple(dict.fromkeys((*self.cautions, *of_grid, *of_index, *self._polled())))

    def _polled(self) -> tuple[Caution, ...]:
        """The index is one count wide: a controller that polls it may creep past."""
        axis, count = self.axis, step_mm(self.axis)
        if (
            axis.index.index_pitch_mm is None
            or count is None
            or not axis.reaction.poll_s
            or axis.speeds.creep_speed_mm_s is None
        ):
            return ()
        limit = fastest_polled_mm_s(count_mm=count, poll_s=axis.reaction.poll_s)
        if axis.speeds.creep_speed_mm_s <= limit:
            return ()
        below = show(limit, "speed", system=self.system, digits=3)
        text = f"The index must be latched by hardware: polled, it is only found below {below}."
        return (Caution("index-polled", text),)

    def _combined(self, size: Callable[[Contribution], float], limit_mm: float | None) -> Combined:
        parts = [(together.total(size), min(row.dof for row in together.rows)) for together in joint(self.used)]
        wrong = 0.0 if self.index is None else self.index.wrong
        return Combined(
            u_mm=sqrt(sum(u * u for u, _ in parts)),
            dof=effective_dof(parts),
            limit_mm=limit_mm,
            wrong_index=1 - (1 - wrong) ** self.axis.motors,
        )


def budget(
    axis: Axis,
    requirement: Requirement,
    *,
    sensor: Sensor | None = None,
    trial: TrialSpread | None = None,
    supply_half_v: float | None = None,
    system: System = "metric",
) -> Budget:
    """Combine what moves home on one axis, to first order.

    Parameters
    ----------
    axis, requirement : Axis, Requirement
        As read.
    sensor : Sensor or None
        Its data sheet serves where the axis and the trial say nothing.
    trial : TrialSpread or None
        Preferred to the data sheet.
    supply_half_v : float or None
        Half width of the machine's supply, where the axis has no `supply_variation`. [V]
    system : {"metric", "inch"}
        Units that sentences are worded in.

    Returns
    -------
    Budget
        Rows, position at the worse end, squareness over the length of the requirement.

    References
    ----------
    JCGM 100:2008.
    """
    terms = counted(axis, sensor=sensor, trial=trial, supply_half_v=supply_half_v, system=system)
    gantry = None
    if axis.motors == 2 and axis.drive_distance_mm is not None:
        gantry = racking(
            drive_distance_mm=axis.drive_distance_mm,
            left_n_mm=axis.sides.drive_stiffness_n_mm,
            right_n_mm=axis.sides.drive_stiffness_n_mm,
            guides_n_mm_rad=axis.sides.racking_stiffness_n_mm_rad,
        )
    return Budget(
        axis=axis,
        requirement=requirement,
        rows=terms.rows,
        gantry=gantry,
        measured=trial is not None,
        not_counted=terms.not_counted,
        cautions=terms.cautions + (() if gantry is None else gantry.cautions),
        phase=index_phase(axis, trial, stop_mm=_stop_mm(axis, sensor)),
        system=system,
    )


def _stop_mm(axis: Axis, sensor: Sensor | None) -> float:
    """Way from a trip at creep speed to rest; what is not known is nothing. [mm]"""
    speed = axis.speeds.creep_speed_mm_s or 0.0
    brake = speed**2 / (2 * axis.speeds.acceleration_mm_s2) if axis.speeds.acceleration_mm_s2 else 0.0
    return speed * delay(axis, sensor).mean_s + brake


def _bound(contribution: Contribution) -> float:
    """Half width for one standard deviation, where it has one."""
    return 1.0 if contribution.distribution == "normal" else DIVISORS[contribution.distribution]
