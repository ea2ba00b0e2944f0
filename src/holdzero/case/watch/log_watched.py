"""Log watched: every series of a log against its baseline, and against what is asked of the machine."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from hashlib import sha256
from math import inf

from scipy.special import gammaincinv

from holdzero.case.watch.asked import AskedOfAxes, WatchAsked
from holdzero.case.watch.sides import LoggedAxis, LoggedSide, logged_axes
from holdzero.compute.choose import AllowedSpread
from holdzero.compute.watch import (
    WatchBaseline,
    Watched,
    WatchedSeries,
    chart_limits,
    gone_quiet,
    lost_after_days,
    room_mm,
    share_beyond,
    watch,
)
from holdzero.compute.watch.alarms import no_alarms
from holdzero.compute.watch.drift import DAY_S
from holdzero.compute.watch.life import FEWEST_FAILED, WeibullLife, weibull_life
from holdzero.compute.watch.limits import MOST_HOMINGS, ChartLimits
from holdzero.compute.watch.outside import chance_above_risk
from holdzero.errors import InputError
from holdzero.inputs.log import Log
from holdzero.memory import MIB, Remembered

SOON_DAYS = 30.0
SURE = 0.95  # chance from which more outside than allowed is a fact
NO_LIVES: Mapping[str, float] = {}
_answers = Remembered(32 * MIB)
WORST_FIRST = ("alarm", "not known", "not compensated", "learning", "in limits")


@dataclass(frozen=True, slots=True)
class FalseTrips:
    """False trips under one condition, per hour, with a 95 % interval (Poisson)."""

    condition: str
    count: float
    hours: float

    @property
    def per_hour(self) -> float:
        """Rate. [1/h]"""
        return self.count / self.hours

    @property
    def interval_per_hour(self) -> tuple[float, float]:
        """Exact limits of the rate: the gamma points of the count and the count plus one. [1/h]"""
        low = float(gammaincinv(self.count, 0.025)) if self.count else 0.0
        return low / self.hours, float(gammaincinv(self.count + 1, 0.975)) / self.hours


@dataclass(frozen=True, slots=True)
class ConfirmedBaseline:
    """Baselines of a trial that a person confirmed.

    Parameters
    ----------
    homes : mapping of (str, str) to WatchBaseline
        By axis and side.
    until_s : float
        End of the day on which they were confirmed: they count for the stretch that this lies in. [s]
    """

    homes: Mapping[tuple[str, str], WatchBaseline]
    until_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class SideWatched:
    """One row of the answer.

    Parameters
    ----------
    logged : LoggedSide
    watched : Watched
    limits : ChartLimits
        Of this series: the false alarms asked for are those of the whole machine.
    nuisance_weeks : float or None
        One false alarm of the machine in so many weeks, at its usual rate. [week]
    share_outside : float or None
        Expected now; None where nothing is asked or there is no baseline. [-]
    lost_s : (float, float) or None
        When what is asked is lost, earliest and latest. [s]
    now_s : float
    chance_outside : float or None
        Chance that more homings land outside than are allowed. [-]
    limit_mm : float or None
        What is asked, either way. [mm]
    risk : float or None
        Share that may lie outside. [-]
    event_s : tuple of float
        When events split the baseline. [s]
    life_used : float or None
    life : WeibullLife or None
        How long switches last here; None with fewer than two failures at known counts.
    false_trips : tuple of FalseTrips
    """

    logged: LoggedSide
    watched: Watched
    limits: ChartLimits
    nuisance_weeks: float | None
    now_s: float
    share_outside: float | None = None
    chance_outside: float | None = None
    limit_mm: float | None = None
    risk: float | None = None
    event_s: tuple[float, ...] = ()
    lost_s: tuple[float, float] | None = None
    life_used: float | None = None
    life: WeibullLife | None = None
    false_trips: tuple[FalseTrips, ...] = ()

    @property
    def needs_look(self) -> bool:
        """Whether someone has to look: an alarm, what is asked surely not kept, or perhaps lost in 30 days."""
        lost_soon = self.lost_s is not None and self.lost_s[0] <= self.now_s + SOON_DAYS * DAY_S
        return bool(self.watched.state == "alarm" or lost_soon or self.surely_outside)

    @property
    def above_risk(self) -> bool:
        """Whether more homings are expected outside now than are allowed."""
        return self.share_outside is not None and self.risk is not None and self.share_outside > self.risk

    @property
    def surely_outside(self) -> bool:
        """Whether more land outside than are allowed, with a chance of 0.95 or more."""
        return (self.chance_outside or 0.0) >= SURE

    @property
    def lost_on(self) -> tuple[date | None, date | None] | None:
        """Days between which what is asked is lost; None at an end that no calendar has."""
        return None if self.lost_s is None else (_day(self.lost_s[0]), _day(self.lost_s[1]))


@dataclass(frozen=True, slots=True)
class LogWatched:
    """Every row, worst first, and what was noticed."""

    rows: tuple[SideWatched, ...]
    now_s: float
    nuisance_homings: float
    notes: tuple[str, ...]
    axes: tuple[LoggedAxis, ...] = ()

    def unsettled_s(self, axis: str) -> float:
        """When the first alarm or event of an axis came that no note has closed; infinity: none. [s]"""
        of_axis = [logged for logged in self.axes if logged.axis == axis]
        noted_s = max((moment_s for logged in of_axis for moment_s in logged.noted_s), default=-inf)
        moments = [moment_s for logged in of_axis for moment_s in logged.event_s if moment_s > noted_s]
        for row in self.rows:
            if row.logged.axis == axis and row.logged.charted:
                raised = (float(row.logged.series.moment_s[alarm.row]) for alarm in row.watched.alarms)
                moments += [moment_s for moment_s in raised if moment_s > noted_s]
        return min(moments, default=inf)

    @property
    def needs_look(self) -> bool:
        """Whether someone has to look at some machine."""
        return any(row.needs_look for row in self.rows)


def watch_log(
    log: Log,
    *,
    axes: Sequence[LoggedAxis] | None = None,
    asked: WatchAsked | None = None,
    baseline: int = 30,
    nuisance_homings: float = 500.0,
    now_s: float | None = None,
    resolution_mm: float | None = None,
    life_cycles: float | None = None,
    life_cycles_of: Mapping[str, float] | None = None,
    machine: str = "",
    machines: tuple[str, ...] = (),
    every_s: float | None = None,
    confirmed: ConfirmedBaseline | None = None,
) -> LogWatched:
    """Watch every machine of a log.

    Parameters
    ----------
    log : Log
    axes : sequence of LoggedAxis, optional
        Its series, where it was split into them before.
    asked : WatchAsked, optional
        What is asked of the machine; without it no share outside and no day on which it is lost.
    baseline : int, default 30
        Power-ups that make a baseline.
    nuisance_homings : float, default 500
        One false alarm of a machine in so many of its homings. [homings]
    now_s : float, optional
        When it is asked; by default the time of the last entry. [s]
    resolution_mm : float, optional
        Step of the display, where the log does not say. [mm]
    life_cycles : float, optional
        Cycles a switch is rated for. [cycles]
    life_cycles_of : mapping of str to float, optional
        The same by axis, where a machine has several kinds. [cycles]
    machine : str, default ""
        Name of the machine, where the log says none.
    machines : tuple of str, optional
        Names of all machines, where the log is a part of theirs.
    every_s : float, optional
        How often a check homing is made; by default as often as usual. [s]
    confirmed : ConfirmedBaseline, optional
        Baselines of a trial.

    Returns
    -------
    LogWatched

    Raises
    ------
    InputError
        No reading in the log, or it ends after `now_s`.
    """
    if axes is None:
        axes = logged_axes(log, resolution_mm=resolution_mm)
    if machine:
        axes = [axis.named(machine) for axis in axes]
    if not axes:
        raise InputError(
            where="the log", found="no reading", need="check homings", do="log a deviation with each time"
        )
    last_s = log.entries[-1].moment_s
    now_s = last_s if now_s is None else now_s
    if now_s < last_s:
        raise InputError(
            where="--now",
            found=f"a time before the last entry ({log.entries[-1].time})",
            need="the time of asking",
            do="leave it out, or put the clock of the log right",
        )
    machines = machines or tuple(dict.fromkeys(axis.machine for axis in axes))
    of_axes = asked.of_axes(machines) if asked else None
    notes = list(log.notes)
    asking = WatchAsking(now_s, baseline, nuisance_homings, every_s, confirmed)
    rows = watch_axes(axes, asking, of_axes, notes, life_cycles=life_cycles, life_cycles_of=life_cycles_of or {})
    rows.sort(key=worst_first)
    return LogWatched(tuple(rows), now_s, nuisance_homings, tuple(notes), tuple(axes))


@dataclass(frozen=True, slots=True)
class WatchAsking:
    """How a watch is asked for.

    Parameters
    ----------
    now_s : float
        [s]
    baseline : int
        Power-ups.
    nuisance_homings : float
        [homings]
    every_s : float or None
        [s]
    confirmed : ConfirmedBaseline or None
    remembered : bool
        Whether what was worked out for the same readings before is found again.
    """

    now_s: float
    baseline: int
    nuisance_homings: float
    every_s: float | None = None
    confirmed: ConfirmedBaseline | None = None
    remembered: bool = True


def watch_axes(
    axes: Sequence[LoggedAxis],
    asking: WatchAsking,
    of_axes: AskedOfAxes | None,
    notes: list[str],
    *,
    life_cycles: float | None = None,
    life_cycles_of: Mapping[str, float] = NO_LIVES,
) -> list[SideWatched]:
    """Watch axes: all those of each machine, which share its false alarms.

    Parameters
    ----------
    axes : sequence of LoggedAxis
    asking : WatchAsking
    of_axes : AskedOfAxes or None
        What is asked of them.
    notes : list of str
        Told what was noticed.
    life_cycles : float, optional
        Cycles a switch is rated for. [cycles]
    life_cycles_of : mapping of str to float
        The same by axis. [cycles]
    """
    charted = defaultdict[str, int](int)
    for axis in axes:
        charted[axis.machine] += sum(side.charted for side in axis.sides)
    rows: list[SideWatched] = []
    for axis in axes:
        limits = chart_limits(min(asking.nuisance_homings * charted[axis.machine], MOST_HOMINGS))
        allowed, why = of_axes.of(axis.axis, axis.machine) if of_axes else (None, "")
        notes += [why] if why and why not in notes else []
        if axis.alone:
            notes.append(f"{_name(axis)}: {axis.alone} readings of one side without the other; not charted.")
        rows += _rows(axis, limits, allowed, asking, life_cycles_of.get(axis.axis, life_cycles))
    return rows


def _rows(
    axis: LoggedAxis,
    limits: ChartLimits,
    allowed: AllowedSpread | None,
    asking: WatchAsking,
    life_cycles: float | None,
) -> list[SideWatched]:
    confirmed = asking.confirmed
    watched = {
        side.side: _held(
            side.series,
            limits,
            asking,
            home=confirmed.homes.get((axis.axis, side.side)) if confirmed else None,
            home_stretch=sum(moment_s < confirmed.until_s for moment_s in axis.event_s) if confirmed else 0,
        )
        for side in axis.sides
    }
    pair = [watched[name] for name in ("difference", "mean") if name in watched]
    life = _life_used(axis, life_cycles)
    lived = _lived(axis)
    trips = _false_trips(axis)
    rows = []
    for side in axis.sides:
        own = watched[side.side]
        if not side.charted:  # one of two sides is judged by their difference and mean, never by itself
            worst = min(pair, key=lambda of_pair: WORST_FIRST.index(of_pair.state))
            own = replace(own, state=worst.state, why=worst.why, alarms=no_alarms())
        interval = own.interval_days
        row = SideWatched(
            logged=side,
            watched=own,
            limits=limits,
            nuisance_weeks=None if interval is None else asking.nuisance_homings * interval / 7,
            now_s=asking.now_s,
            event_s=axis.event_s,
            life=lived,
            life_used=life,
            false_trips=trips,
        )
        if allowed is not None and own.baseline is not None:
            row = replace(
                row,
                share_outside=_share(side.side, watched, allowed),
                chance_outside=_chance(side.side, watched, allowed),
                limit_mm=_limit_mm(side.side, allowed),
                risk=allowed.risk,
                lost_s=_lost(side.side, watched, allowed) if side.charted else None,
            )
        rows.append(row)
    return rows


def _held(
    series: WatchedSeries,
    limits: ChartLimits,
    asking: WatchAsking,
    *,
    home: WatchBaseline | None,
    home_stretch: int,
) -> Watched:
    """Watch a series; what was worked out for the same readings before is found again."""
    last_s = float(series.moment_s[-1]) if series.moment_s.size else 0.0

    def worked_out() -> Watched:
        return watch(series, limits, now_s=last_s, baseline=asking.baseline, home=home, home_stretch=home_stretch)

    if not asking.remembered:
        return gone_quiet(worked_out(), series, now_s=asking.now_s, every_s=asking.every_s)
    arrays = (series.moment_s, series.deviation_mm, series.power_up, series.stretch, series.temperature_degc)
    content = sha256(b"".join(values.tobytes() for values in arrays)).hexdigest()
    marks = (series.events, series.acknowledged_s, series.resolution_mm)
    key = ("watch", content, marks, limits, asking.baseline, repr(home), home_stretch)
    return gone_quiet(_answers(key, worked_out), series, now_s=asking.now_s, every_s=asking.every_s)


def _limit_mm(side: str, allowed: AllowedSpread) -> float | None:
    return allowed.squareness_limit_mm if side == "difference" else allowed.position_limit_mm


def _share(side: str, watched: dict[str, Watched], allowed: AllowedSpread) -> float | None:
    """Share outside now: of a side or the difference beyond its limit; of the mean, of either end."""
    limit_mm = _limit_mm(side, allowed)
    if limit_mm is None:
        return None
    outside = 0.0  # summed, not taken from 1: small shares keep their digits
    for own in [watched["L"], watched["R"]] if side == "mean" else [watched[side]]:
        if own.baseline is None or own.level_mm is None:
            return None
        beyond = share_beyond(own.level_mm, spread_mm=own.baseline.total_mm, limit_mm=limit_mm)
        outside += (1 - outside) * beyond
    return outside


def _chance(side: str, watched: dict[str, Watched], allowed: AllowedSpread) -> float | None:
    """Chance that more than the risk lies outside now: of the mean, at the worse of its two ends."""
    limit_mm = _limit_mm(side, allowed)
    if limit_mm is None:
        return None
    chances = []
    for own in [watched["L"], watched["R"]] if side == "mean" else [watched[side]]:
        home = own.baseline
        if home is None or own.level_mm is None:
            return None
        level_u_mm = own.level_u_mm if own.level_u_mm is not None else home.sd_mm
        chances.append(
            chance_above_risk(
                level_mm=own.level_mm,
                level_u_mm=level_u_mm,
                spread_mm=home.total_mm,
                power_ups=home.n,
                limit_mm=limit_mm,
                risk=allowed.risk,
            )
        )
    return max(chances)


def _lost(side: str, watched: dict[str, Watched], allowed: AllowedSpread) -> tuple[float, float] | None:
    limit_mm, own = _limit_mm(side, allowed), watched[side]
    if limit_mm is None or own.baseline is None or own.trend is None:
        return None
    ends = [watched["L"], watched["R"]] if side == "mean" else [own]
    spread_mm = max(end.baseline.total_mm for end in ends if end.baseline is not None)
    days = lost_after_days(
        own.trend,
        reference_mm=own.baseline.mean_mm,
        room_mm=room_mm(limit_mm, spread_mm=spread_mm, risk=allowed.risk),
    )
    return None if days is None else (own.trend_from_s + days[0] * DAY_S, own.trend_from_s + days[1] * DAY_S)


def _life_used(axis: LoggedAxis, life_cycles: float | None) -> float | None:
    """Cycles counted since the switch was new, or since the last one failed, over those it is rated for."""
    cycles: list[float] = []
    for entry in axis.entries:
        if entry.failed:
            cycles = [entry.cycles] if entry.cycles is not None else []
        elif entry.cycles is not None:
            cycles.append(entry.cycles)
    if life_cycles is None or not cycles:
        return None
    replaced = any(entry.failed for entry in axis.entries)
    return (cycles[-1] - (cycles[0] if replaced else 0.0)) / life_cycles


def _lived(axis: LoggedAxis) -> WeibullLife | None:
    """Life of the switches of an axis, side by side or one after another, from the counter at each failure."""
    begun: dict[str, float] = {}
    ended, newest = [], 0.0
    for entry in axis.entries:
        if entry.cycles is None:
            continue
        newest = entry.cycles
        if entry.failed:
            ended.append(entry.cycles - begun.get(entry.failed, 0.0))
            begun[entry.failed] = entry.cycles
    running = [newest - start for start in begun.values() if newest > start]
    if len(set(ended)) < FEWEST_FAILED or min(ended) <= 0:
        return None
    return weibull_life(ended, running)


def _false_trips(axis: LoggedAxis) -> tuple[FalseTrips, ...]:
    counts: dict[str, list[float]] = {}
    seen = set()
    for entry in axis.entries:
        key = (entry.moment_s, entry.condition, entry.false_trips, entry.hours)
        if entry.hours and entry.false_trips is not None and key not in seen:
            seen.add(key)  # a row with both sides is two entries
            total = counts.setdefault(entry.condition, [0.0, 0.0])
            total[0] += entry.false_trips
            total[1] += entry.hours
    return tuple(FalseTrips(condition, *total) for condition, total in sorted(counts.items()))


def worst_first(row: SideWatched) -> tuple[object, ...]:
    """Order of the rows: by share outside, then by state, then by name."""
    share = -1.0 if row.share_outside is None else row.share_outside
    logged = row.logged
    shown = ("difference", "mean", "", "L", "R").index(logged.side)
    return (-share, WORST_FIRST.index(row.watched.state), logged.machine, logged.axis, shown)


def _name(axis: LoggedAxis) -> str:
    return " ".join(filter(None, (axis.machine, axis.axis))) or "The log"


def _day(moment_s: float) -> date | None:
    try:
        return datetime.fromtimestamp(moment_s, UTC).date()
    except (OverflowError, ValueError, OSError):
        return None
