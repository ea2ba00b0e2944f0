"""Findings of a capture: what some hundred homings in one sitting say of each switch."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.capture.debounce import debounce_times
from holdzero.compute.capture.doubts import of_capture, of_switch, sample_ticks
from holdzero.compute.capture.events import SwitchEvents, switch_events
from holdzero.compute.capture.place import Whereabouts, whereabouts
from holdzero.compute.capture.reference import Reference, reference
from holdzero.compute.capture.results import CaptureFindings, IndexFindings, SidesDifference, SwitchFindings
from holdzero.compute.capture.scatter import (
    AtSpeed,
    SpeedLine,
    at_speeds,
    jitter_s,
    speed_labels,
    speed_line,
    trip_scatter,
)
from holdzero.compute.capture.values import CaptureMap, Recorded, Ticks

Floats = NDArray[np.float64]


def capture_findings(recorded: Recorded, channels: CaptureMap) -> CaptureFindings:
    """Find trips, releases and pulses and what they say.

    Parameters
    ----------
    recorded : Recorded
        The capture.
    channels : CaptureMap
        What its channels are.

    Returns
    -------
    CaptureFindings
        Figures that the capture does not hold are None, with a caution where one may wonder.

    Notes
    -----
    Trips whose place is suspect are listed and count for no figure. docs/capture.md has the rules.
    """
    index = reference(recorded, channels)
    sample_s = sample_ticks(recorded) * recorded.tick_s
    switches = tuple(
        _switch(recorded, channels, place, index, sample_s=sample_s) for place in range(len(channels.switches))
    )
    return CaptureFindings(
        recorded=recorded,
        channels=channels,
        switches=switches,
        sides=_sides(switches, sample_s, channels.count_mm),
        index=_index(index, switches) if channels.index else None,
        sample_s=sample_s,
        cautions=of_capture(recorded, channels, switches),
    )


def _switch(
    recorded: Recorded, channels: CaptureMap, place: int, index: Reference, *, sample_s: float
) -> SwitchFindings:
    switch = channels.switches[place]
    events = switch_events(
        recorded.switches[place],
        active_low=switch.active_low,
        tick_s=recorded.tick_s,
        quiet_s=channels.quiet_s,
        ends_at=recorded.last_tick if recorded.cut_off else None,
    )
    counted = whereabouts(recorded, channels, events.first)
    at = Whereabouts(
        counted.position_mm + index.shift(events.first), counted.direction, counted.speed_mm_s, counted.between
    )
    suspect = index.suspect(events.first)
    inward = events.trip & ~suspect & (at.direction == 1)
    outward = ~events.trip & ~suspect & (at.direction == -1)
    delay = _line(at, inward, direction=1)
    release_delay = _line(at, outward, direction=-1)
    by_speed = tuple(
        group
        for kind, tripped, direction in (
            ("trip", True, 1),
            ("release", False, -1),
            ("trip", True, -1),
            ("release", False, 1),
        )
        for group in _by_speed(kind, direction, at, (events.trip == tripped) & ~suspect, sample_s)
    )
    home = [group for group in by_speed if group.kind == "trip" and group.direction == 1]
    home_mm_s = home[0].speed_mm_s if home else None
    bounce_s = np.asarray((events.last - events.first) * recorded.tick_s, dtype=np.float64)
    step_mm = channels.count_mm if home_mm_s is None else home_mm_s * sample_s  # that the places are known to
    trips = trip_scatter(at.position_mm[inward], at.speed_mm_s[inward], resolution_mm=step_mm)
    findings = SwitchFindings(
        switch=switch,
        events=events,
        at=at,
        to_index_mm=_to_index(events, at, index),
        suspect=suspect,
        by_speed=by_speed,
        trips=trips,
        differential_mm=_differential(events, at, inward, outward, delay, release_delay),
        delay=delay,
        release_delay=release_delay,
        jitter_s=_jitter(at, inward),
        bounce_longest_s=float(bounce_s.max()) if bounce_s.size else None,
        debounce=debounce_times(
            bounce_s,
            kinds=(channels.debounce,) if channels.debounce else ("first edge", "quiet"),
            approach_mm_s=channels.approach_mm_s,
            home_mm_s=home_mm_s,
        )
        if bounce_s.size
        else (),
    )
    return replace(findings, cautions=of_switch(findings, counted=bool(recorded.count_tick.size)))


def _line(at: Whereabouts, in_events: NDArray[np.bool_], *, direction: int) -> SpeedLine | None:
    usable = in_events & np.isfinite(at.speed_mm_s)
    return speed_line(at.position_mm[usable], at.speed_mm_s[usable], direction=direction)


def _by_speed(
    kind: str, direction: int, at: Whereabouts, in_events: NDArray[np.bool_], sample_s: float
) -> tuple[AtSpeed, ...]:
    usable = in_events & (at.direction == direction) & np.isfinite(at.speed_mm_s)
    return at_speeds(kind, direction, at.position_mm[usable], at.speed_mm_s[usable], resolution_s=sample_s)


def _jitter(at: Whereabouts, inward: NDArray[np.bool_]) -> float | None:
    usable = inward & np.isfinite(at.speed_mm_s)
    x, v = at.position_mm[usable], at.speed_mm_s[usable]
    labels = speed_labels(v)
    groups = [labels == label for label in np.unique(labels)]
    groups = [group for group in groups if group.sum() > 1]  # one trip has no variance
    split = jitter_s(
        np.array([np.median(v[group]) for group in groups]),
        np.array([x[group].var(ddof=1) for group in groups]),
        np.array([group.sum() for group in groups]),
    )
    return None if split is None else split[1]


def _differential(
    events: SwitchEvents,
    at: Whereabouts,
    inward: NDArray[np.bool_],
    outward: NDArray[np.bool_],
    delay: SpeedLine | None,
    release_delay: SpeedLine | None,
) -> float | None:
    """Mean of trip less the release that follows it, each taken back to no speed where its delay is known. [mm]"""
    pairs = np.flatnonzero(inward[:-1] & outward[1:])
    if not pairs.size:
        return None
    way = at.position_mm[pairs] - at.position_mm[pairs + 1]
    if delay is not None:
        out = release_delay.delay_s if release_delay is not None else delay.delay_s
        ran_on = delay.delay_s * at.speed_mm_s[pairs] + out * at.speed_mm_s[pairs + 1]
        way = (way - ran_on)[np.isfinite(ran_on)]
    return float(way.mean()) if way.size else None


def _to_index(events: SwitchEvents, at: Whereabouts, index: Reference) -> Floats:
    """Way from each trip to the first index after it and before the next trip. shape (n,)"""
    way = np.full(events.first.size, np.nan)
    trips = np.flatnonzero(events.trip)
    if not index.tick.size or not trips.size:
        return way
    first = np.searchsorted(index.tick, events.first[trips], side="right")
    never = np.iinfo(np.int64).max
    has_index = np.append(index.tick, never)[first] < np.append(events.first[trips][1:], never)
    came = first[has_index]
    way[trips[has_index]] = np.abs(index.position_mm[came] - at.position_mm[trips[has_index]])
    return way


def _index(index: Reference, switches: tuple[SwitchFindings, ...]) -> IndexFindings:
    if index.pitch_mm is None:
        return IndexFindings(None, None, None, index.tick.size)
    ways = [findings.to_index_mm[findings.good_trips] for findings in switches]
    phases, wrong, known = [], 0, False
    for way in (way[np.isfinite(way)] for way in ways):
        if not way.size:
            continue
        known = True
        usual = float(np.median(way))
        phases.append(usual / index.pitch_mm)
        wrong += int((np.abs(way - usual) > index.pitch_mm / 2).sum())
    return IndexFindings(index.pitch_mm, phases[0] if phases else None, wrong if known else None, index.tick.size)


def _sides(switches: tuple[SwitchFindings, ...], sample_s: float, count_mm: float) -> SidesDifference | None:
    """Right less left where each is the other's nearest trip."""
    by_side = {findings.switch.side: findings for findings in switches}
    if not {"L", "R"} <= set(by_side):
        return None
    left, right = ((findings, np.flatnonzero(findings.good_trips)) for findings in (by_side["L"], by_side["R"]))
    if not left[1].size or not right[1].size:
        return None
    when = [findings.events.first[trips] for findings, trips in (left, right)]
    to_right, to_left = _nearest(when[1], when[0]), _nearest(when[0], when[1])
    paired = np.flatnonzero(to_left[to_right] == np.arange(when[0].size))
    if not paired.size:
        return None
    l_place, r_place = left[1][paired], right[1][to_right[paired]]
    off = right[0].at.position_mm[r_place] - left[0].at.position_mm[l_place]
    speed = left[0].at.speed_mm_s[l_place]
    resolution = float(np.nanmedian(speed)) * sample_s if np.isfinite(speed).any() else count_mm
    return SidesDifference(off.size, float(off.mean()), trip_scatter(off, speed, resolution_mm=resolution))


def _nearest(of: Ticks, to: Ticks) -> NDArray[np.intp]:
    """For each of `to` the place of the nearest of `of`."""
    after = np.minimum(np.searchsorted(of, to), of.size - 1)
    before = np.maximum(after - 1, 0)
    return np.where(np.abs(of[before] - to) <= np.abs(of[after] - to), before, after)
