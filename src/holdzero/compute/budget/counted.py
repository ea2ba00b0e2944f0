"""Counted: from an axis, a sensor and its trial to the rows of the budget, and what could not be counted."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf, sqrt

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.budget.contribution import Contribution, NotCounted, Reaches
from holdzero.compute.budget.drive_line import drive_rows
from holdzero.compute.budget.gum import product_u
from holdzero.compute.index import phase_of
from holdzero.compute.material import has_sign, material_that_grows
from holdzero.compute.motion import Delay
from holdzero.inputs.machine.values import Axis
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, show

SWITCH = "switch"  # what is counted or not: its own scatter
EACH_SIDE = "trial, each side"
PICKS_INDEX = "switch, which picks the index"  # beside a trial of home after the index
TO_INDEX = "way from trip to index"

SAME_ROOM = Caution(
    "same-room",
    "Drift of the trip and growth of the frame follow the same room, so they add up before they are squared. Not "
    "both are written with a sign, so they are taken to go the same way: with + or − before each they may cancel.",
    "JCGM 100:2008, 5.2.2",
)
SHEET = Caution(
    "data-sheet",
    "The switch is counted by its data sheet. A trial on the machine says what it does there.",
)
IEC_UPPER = Caution(
    "iec-upper-limit",
    "Repeat accuracy by IEC 60947-5-2 is an upper limit over eight hours, supply and warming included: homings "
    "soon after each other scatter less.",
    "IEC 60947-5-2, from memory",
)
NOT_STATED = Caution(
    "convention-not-stated",
    "The data sheet does not say what its repeatability counts. It is taken as ±, the widest reading.",
)
IN_THE_TRIAL = Caution(
    "in-the-trial",
    "Jitter, poll and grid are inside the trial's figures and not counted again. Temperature and supply are, "
    "because a trial of a few days has not seen their whole range: part of them may be counted twice.",
)


UPPER_LIMIT = Caution(
    "trial-upper-limit",
    "The display of the trial was too coarse to tell the spread; its upper limit stands in.",
)
ONE_POWER_UP = Caution(
    "one-power-up",
    "The trial saw one power-up only: what changes from one to the next is not counted.",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialSpread:
    """What homings of one sensor on this axis say, by way of `findings`.

    Parameters
    ----------
    sensor : str
        Which one.
    own_mm : float
        Standard deviation of each side by itself: that of the sides' difference / √2 where both were read. [mm]
    own_dof : float
        Its degrees of freedom.
    common_mm : float or None
        Of what both sides share; None where only one side was read. [mm]
    common_dof : float
        Its degrees of freedom.
    speed_mm_s : float or None
        Creep speed of the trial, where it was noted. [mm/s]
    homings, power_ups : int
        How many it rests on.
    upper_limit : bool
        The display was too coarse for more than an upper limit, which stands in.
    within_mm, between_mm : float or None
        Of one side, from homing to homing and from power-up to power-up, where both could be told. [mm]
    ways_to_index_mm : tuple of tuple of float
        From trip to index at each homing where it was logged, in the direction of the search; one series a side.
        [mm]

    Notes
    -----
    On an axis with an index the readings are of home *after* the index: they say nothing of the switch.
    """

    sensor: str
    own_mm: float
    own_dof: float
    homings: int
    power_ups: int
    common_mm: float | None = None
    common_dof: float = inf
    speed_mm_s: float | None = None
    upper_limit: bool = False
    within_mm: float | None = None
    between_mm: float | None = None
    ways_to_index_mm: tuple[tuple[float, ...], ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """The rows, and what is not among them."""

    rows: tuple[Contribution, ...]
    not_counted: tuple[NotCounted, ...]
    cautions: tuple[Caution, ...]


def step_mm(axis: Axis) -> float | None:
    """Step of the grid on which home is stored: microstep, or encoder count. [mm]"""
    if axis.drive.lead_mm is None:
        return None
    if axis.drive.counts_per_turn is not None:
        return axis.drive.lead_mm / axis.drive.counts_per_turn
    if axis.drive.full_steps is not None:
        return axis.drive.lead_mm / (axis.drive.full_steps * (axis.drive.microsteps or 1))
    return None


def delay(axis: Axis, sensor: Sensor | None = None) -> Delay:
    """Delay from trip to reaction, poll and jitter apart; parts that are not known are nothing. [s]"""
    jitter = axis.reaction.delay_jitter_s
    if jitter is None and sensor is not None:
        jitter = sensor.response_jitter_s
    poll = axis.reaction.poll_s or 0.0
    if axis.reaction.delay_s is not None:
        return Delay(response_s=axis.reaction.delay_s - poll, poll_s=poll, jitter_s=jitter or 0.0)
    response = axis.reaction.response_s
    if response is None and sensor is not None:
        response = sensor.response_s
    return Delay(
        response_s=response or 0.0,
        edge_s=axis.reaction.edge_delay_s or 0.0,
        filter_s=axis.reaction.filter_s or 0.0,
        poll_s=poll,
        controller_s=axis.reaction.controller_s or 0.0,
        jitter_s=jitter or 0.0,
    )


def counted(
    axis: Axis,
    *,
    sensor: Sensor | None = None,
    trial: TrialSpread | None = None,
    supply_half_v: float | None = None,
    system: System = "metric",
) -> Counted:
    """Return the rows of the budget of one axis.

    Parameters
    ----------
    axis : Axis
        As read.
    sensor : Sensor or None
        Its data sheet serves where the axis and the trial say nothing.
    trial : TrialSpread or None
        Preferred to the data sheet; jitter, poll and grid are inside it.
    supply_half_v : float or None
        Half width of the machine's supply, where the axis has no `supply_variation`. [V]
    system : {"metric", "inch"}
        Units that sentences are worded in.

    Notes
    -----
    Each row is either common to both sides of a gantry or its own to each side, never half of both.
    """
    items = [
        *_home(axis, sensor, trial),
        *_electronics(axis, sensor, trial),
        *_supply(axis, sensor, supply_half_v),
        *_temperature(axis, sensor),
        *_frame(axis),
        *drive_rows(axis, measured=trial is not None),
    ]
    rows = tuple(item for item in items if isinstance(item, Contribution))
    cautions = dict.fromkeys(caution for row in rows for caution in row.cautions)
    if trial is not None:
        cautions[IN_THE_TRIAL] = None
        cautions |= dict.fromkeys([UPPER_LIMIT] * trial.upper_limit + [ONE_POWER_UP] * (trial.power_ups == 1))
        if trial.speed_mm_s is not None and trial.speed_mm_s != axis.speeds.creep_speed_mm_s:
            cautions[_other_speed(trial.speed_mm_s, system)] = None
    return Counted(
        rows=rows,
        not_counted=tuple(item for item in items if isinstance(item, NotCounted)),
        cautions=tuple(cautions),
    )


Items = Iterator[Contribution | NotCounted]


def _home(axis: Axis, sensor: Sensor | None, trial: TrialSpread | None) -> Items:
    """What was tried out, and the switch where that is not the same."""
    indexed = axis.index.index_pitch_mm is not None
    if trial is not None:
        source = f"trial of {trial.sensor}: {trial.homings} homings over {trial.power_ups} power-ups"
        yield _normal(EACH_SIDE, trial.own_mm, dof=trial.own_dof, common=False, source=source, reaches="home")
        if trial.common_mm is not None:
            yield _normal(
                "trial, both sides",
                trial.common_mm,
                dof=trial.common_dof,
                common=True,
                source=source,
                reaches="home",
            )
        if indexed and trial.ways_to_index_mm:
            yield to_index(trial, axis)
        elif indexed:
            yield from _switch(axis, sensor, PICKS_INDEX)
    else:
        yield from _switch(axis, sensor, SWITCH)


def _switch(axis: Axis, sensor: Sensor | None, name: str) -> Items:
    if axis.influences.switch_spread_mm is not None:
        dof = inf if axis.influences.switch_homings is None else axis.influences.switch_homings - 1.0
        source = (
            "switch_spread"
            if axis.influences.switch_homings is None
            else f"switch_spread, {axis.influences.switch_homings} homings"
        )
        yield _normal(name, axis.influences.switch_spread_mm, dof=dof, common=False, source=source)
    elif sensor is not None and sensor.repeatability_mm is not None:
        yield _sheet(sensor, sensor.repeatability_mm, name)
    else:
        yield NotCounted(name, ("switch_spread",))


def to_index(trial: TrialSpread, axis: Axis) -> Contribution:
    """Scatter of the way from trip to index: the switch, jitter and poll together.

    Parameters
    ----------
    trial : TrialSpread
        With at least one series of ways. [mm]
    axis : Axis
        With an index pitch. [mm]
    """
    series = [_about_the_index(ways_mm, axis.index.index_pitch_mm or 0.0) for ways_mm in trial.ways_to_index_mm]
    dof = sum(len(ways_mm) - 1.0 for ways_mm in trial.ways_to_index_mm)
    variance = sum(
        (len(ways_mm) - 1) * spread_mm**2
        for ways_mm, (_, spread_mm) in zip(trial.ways_to_index_mm, series, strict=True)
    )
    homings = sum(len(ways_mm) for ways_mm in trial.ways_to_index_mm)
    return _normal(
        TO_INDEX,
        sqrt(variance / dof),
        dof=dof,
        common=False,
        source=f"trial of {trial.sensor}: trip to index logged at {homings} homings",
    )


def _about_the_index(ways_mm: Sequence[float], pitch_mm: float) -> tuple[float, float]:
    return phase_of(np.array(ways_mm), pitch_mm=pitch_mm)


def index_phase(axis: Axis, trial: TrialSpread | None, *, stop_mm: float) -> float | None:
    """Phase as stated; else from the ways to the index that a trial logged; None where neither says it. [-]

    A search that goes on begins where the axis stops after its trip, `stop_mm` nearer to the index; one that goes
    back begins at the release, of which the way from the trip says nothing. Of two sides the one nearer to an
    index counts. [mm]
    """
    pitch = axis.index.index_pitch_mm
    if axis.index.index_phase is not None or pitch is None:
        return axis.index.index_phase
    if trial is None or axis.index.index_search != "on" or not trial.ways_to_index_mm:
        return None
    phases = [(_about_the_index(ways_mm, pitch)[0] - stop_mm / pitch) % 1.0 for ways_mm in trial.ways_to_index_mm]
    return min(phases, key=lambda phase: min(phase, 1 - phase))


def _normal(
    name: str, sd_mm: float, *, dof: float, common: bool, source: str, reaches: Reaches = "switch"
) -> Contribution:
    return Contribution(
        name=name,
        distribution="normal",
        value=sd_mm,
        unit="mm",
        sensitivity=1.0,
        common=common,
        varies="homing",
        dof=dof,
        reaches=reaches,
        source=source,
    )


def _sheet(sensor: Sensor, size_mm: float, name: str) -> Contribution:
    """Row of a data sheet's repeatability, by what the figure counts."""
    convention = sensor.repeatability_convention
    normal = convention is not None and convention.endswith("sigma")
    half = size_mm / 2 if convention in ("span", "iec") else size_mm
    cautions = {"iec": (SHEET, IEC_UPPER), None: (SHEET, NOT_STATED)}.get(convention, (SHEET,))
    return Contribution(
        name=name,
        distribution="normal" if normal else "rectangular",
        value=size_mm if normal else half,
        unit="mm",
        sensitivity=1.0,
        common=False,
        varies="homing",
        sigmas=float(convention.split()[0]) if convention is not None and normal else 1.0,
        source=f"data sheet of {sensor.name}, {convention or 'convention not stated'}",
        cautions=cautions,
    )


def _electronics(axis: Axis, sensor: Sensor | None, trial: TrialSpread | None) -> Items:
    """Jitter, poll, ripple and grid: what the controller adds, where no trial has it inside."""
    if trial is not None and (axis.index.index_pitch_mm is None or trial.ways_to_index_mm):
        return
    yield from _timing(axis, sensor)
    if trial is None:
        yield from _stand(axis)


def _timing(axis: Axis, sensor: Sensor | None) -> Items:
    speed, chain = axis.speeds.creep_speed_mm_s, delay(axis, sensor)
    for name, key, size, distribution, value, stepped in (
        ("jitter of the delay", "delay_jitter", chain.jitter_s, "normal", chain.jitter_s, "jitter"),
        ("poll", "poll", chain.poll_s, "rectangular", chain.poll_s / 2, "poll"),
    ):
        if speed is None or not size:
            keys = ((key, size or None), ("creep_speed", speed))
            yield NotCounted(name, tuple(key for key, value in keys if value is None))
            continue
        yield Contribution(
            name=name,
            distribution=distribution,
            value=value,
            unit="s",
            sensitivity=speed,
            common=False,
            varies="homing",
            per_speed_s=size if distribution == "normal" else size / sqrt(12),
            stepped=stepped,
            source=key,
        )
    if axis.influences.speed_ripple is not None and speed is not None:
        runs_on = (
            speed / axis.speeds.acceleration_mm_s2
            if axis.reaction.position_taken == "rest" and axis.speeds.acceleration_mm_s2
            else 0.0
        )
        seconds = chain.mean_s + runs_on
        yield Contribution(
            name="ripple of the speed",
            distribution="normal",
            value=axis.influences.speed_ripple * speed,
            unit="mm/s",
            sensitivity=seconds,
            common=False,
            varies="homing",
            per_speed_s=axis.influences.speed_ripple * seconds,
            source="speed_ripple and the mean delay",
        )


def _stand(axis: Axis) -> Items:
    """The grid that it stands on."""
    step = step_mm(axis)
    if step is None:
        wanted = (
            ("lead", axis.drive.lead_mm),
            ("full_steps", axis.drive.full_steps or axis.drive.counts_per_turn),
        )
        yield NotCounted("grid", tuple(key for key, value in wanted if value is None))
        return
    yield Contribution(
        name="grid of counts" if axis.drive.counts_per_turn is not None else "grid of steps",
        distribution="rectangular",
        value=step / 2,
        unit="mm",
        sensitivity=1.0,
        common=False,
        varies="fixed",
        stepped="grid",
        reaches="home",
        source="lead and steps, place within a step not known"
        if axis.drive.step_phase is None
        else "lead and steps",
    )


def _supply(axis: Axis, sensor: Sensor | None, supply_half_v: float | None) -> Items:
    drift = (
        axis.influences.supply_drift_mm_v
        if axis.influences.supply_drift_mm_v is not None or sensor is None
        else sensor.supply_drift_mm_v
    )
    half = supply_half_v if axis.influences.supply_variation_v is None else axis.influences.supply_variation_v
    if drift is None or half is None:
        keys = (("supply_drift", drift), ("supply_variation", half))
        yield NotCounted("supply", tuple(key for key, value in keys if value is None))
        return
    yield Contribution(
        name="supply",
        distribution="rectangular",
        value=half,
        unit="V",
        sensitivity=drift,
        common=True,
        varies="day",
        source="supply_drift and supply_variation",
    )


def _temperature(axis: Axis, sensor: Sensor | None) -> Items:
    """Drift of the trip, growth between sensor and datum; the room for both sides, what differs for each."""
    own = axis.influences
    drift = own.trip_drift_mm_k if own.trip_drift_mm_k is not None or sensor is None else sensor.trip_drift_mm_k
    drift_entered = (sensor if sensor is not None and own.trip_drift_mm_k is None else axis).entered
    metal = material_that_grows(axis)
    length = own.growth_length_mm
    half = None
    if axis.temperature_low_degc is not None and axis.temperature_high_degc is not None:
        half = (axis.temperature_high_degc - axis.temperature_low_degc) / 2
    swing = "arcsine" if axis.temperature_swing == "daily" else "rectangular"
    growth = None if metal is None or length is None else metal.per_k * length
    drift_signed, growth_signed = has_sign(drift_entered, "trip_drift"), has_sign(axis.entered, "growth_length")
    room_note = (SAME_ROOM,) if drift and growth and not (drift_signed and growth_signed) else ()
    growth_keys = (("growth_length", length), ("growth_material", metal))
    reach: tuple[Reaches, Reaches] = ("switch", "both")
    for name, sensitivity, signed, needs, reaches in (
        ("drift of the trip", drift, drift_signed, (("trip_drift", drift),), reach[0]),
        ("growth", growth, growth_signed, growth_keys, reach[1]),
    ):
        for text, kelvin, distribution, key, common in (
            ("", half, swing, "temperature", True),
            (", sides differ", own.side_temperature_k, "rectangular", "side_temperature", False),
        ):
            if not common and axis.motors < 2:
                continue
            if sensitivity is None or kelvin is None:
                missing = tuple(key for key, value in (*needs, (key, kelvin)) if value is None)
                yield NotCounted(name + text, missing, cause=name)
                continue
            yield Contribution(
                name=name + text,
                distribution=distribution,
                value=kelvin,
                unit="K",
                sensitivity=sensitivity,
                common=common,
                apart=not common,
                varies="day",
                cause="the room" if common else "the sides' temperatures",
                signed=signed,
                reaches=reaches,
                source=key if metal is None or reaches == "switch" else f"{key}; {metal.source}",
                cautions=room_note,
            )
    if metal is not None and length is not None and half is not None and metal.half_width_per_k:
        u_kelvin = half / (sqrt(2) if swing == "arcsine" else sqrt(3))
        u = product_u(x=0.0, u_x=metal.half_width_per_k / sqrt(3), y=0.0, u_y=u_kelvin) * abs(length)
        yield Contribution(
            name="growth, coefficient not exact",
            distribution="normal",
            value=u,
            unit="mm",
            sensitivity=1.0,
            common=True,
            varies="day",
            reaches="both",
            source=f"second order, JCGM 100:2008, 5.1.2 note; {metal.source}",
        )


def _frame(axis: Axis) -> Items:
    if axis.influences.trip_wear_mm is not None:
        yield Contribution(
            name="wear of the trip",
            distribution="rectangular",
            value=axis.influences.trip_wear_mm,
            unit="mm",
            sensitivity=1.0,
            common=False,
            varies="fixed",
            source="trip_wear",
        )
    if axis.influences.bracket_flex_mm is not None:
        yield Contribution(
            name="bracket",
            distribution="rectangular",
            value=axis.influences.bracket_flex_mm,
            unit="mm",
            sensitivity=1.0,
            common=False,
            varies="homing",
            source="bracket_flex",
        )


def _other_speed(speed_mm_s: float, system: System) -> Caution:
    crept = show(speed_mm_s, "speed", system=system)
    return Caution(
        "trial-at-another-speed",
        f"The trial crept at {crept}, the machine does not: jitter and poll grow with speed.",
    )
