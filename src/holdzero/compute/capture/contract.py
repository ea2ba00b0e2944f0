"""Contract: the findings of a capture as JSON-ready values (docs/capture.md)."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero import __version__
from holdzero.compute.capture.results import CaptureFindings, SwitchFindings


def capture_as_json(findings: CaptureFindings) -> dict[str, Any]:
    """Return the findings as JSON-ready values; what cannot be had is None."""
    recorded, channels = findings.recorded, findings.channels
    final = int(recorded.count[-1]) * channels.inward if recorded.count.size else 0
    return {
        "version": __version__,
        "tick_s": recorded.tick_s,
        "sample_s": findings.sample_s,
        "changes": sum(recorded.changes.values()),
        "channels": [{"channel": name, "changes": n} for name, n in recorded.changes.items()],
        "cut_off": recorded.cut_off,
        "invalid_transitions": int(recorded.invalid_tick.size),
        "final_count": final,
        "switches": [_switch(switch) for switch in findings.switches],
        "difference": None
        if findings.sides is None
        else {
            "n": findings.sides.n,
            "spread_mm": _middle(findings.sides.scatter.interval),
            "mean_mm": findings.sides.mean_mm,
        },
        "index": None
        if findings.index is None
        else {
            "pitch_mm": findings.index.pitch_mm,
            "phase": findings.index.phase,
            "wrong": findings.index.wrong,
            "passes": findings.index.passes,
        },
        "cautions": [caution.as_json() for caution in findings.cautions],
        "notes": list(recorded.notes),
    }


def _switch(findings: SwitchFindings) -> dict[str, Any]:
    events, at, interval, delay = findings.events, findings.at, findings.trips.interval, findings.delay
    counted = at.direction != 0
    columns = zip(
        events.trip.tolist(),
        events.first.tolist(),
        events.last.tolist(),
        events.edges.tolist(),
        _numbers(np.where(counted, at.position_mm, np.nan)),
        at.direction.tolist(),
        _numbers(at.speed_mm_s),
        _numbers(findings.to_index_mm),
        findings.suspect.tolist(),
        strict=True,
    )
    return {
        "switch": findings.switch.name,
        "side": findings.switch.side or None,
        "events": [
            {
                "kind": "trip" if trip else "release",
                "first_tick": first,
                "last_tick": last,
                "edges": edges,
                "position_mm": position,
                "direction": direction or None,
                "speed_mm_s": speed,
                "trip_to_index_mm": to_index,
                "suspect": suspect,
            }
            for trip, first, last, edges, position, direction, speed, to_index, suspect in columns
        ],
        "pulses": [
            {"tick": tick, "width_ticks": width}
            for tick, width in zip(events.pulse_tick.tolist(), events.pulse_width.tolist(), strict=True)
        ],
        "by_speed": [
            {
                "kind": group.kind,
                "direction": group.direction,
                "speed_mm_s": group.speed_mm_s,
                "n": group.n,
                "mean_mm": group.mean_mm,
                "spread_mm": _middle(group.spread),
            }
            for group in findings.by_speed
        ],
        "trip_spread_mm": _middle(interval),
        "trip_spread_low_mm": None if interval is None else interval.low,
        "trip_spread_high_mm": None if interval is None else interval.high,
        "n_effective": findings.trips.effective,
        "differential_mm": findings.differential_mm,
        "latency_s": None if delay is None else delay.delay_s,
        "latency_low_s": None if delay is None else delay.low_s,
        "latency_high_s": None if delay is None else delay.high_s,
        "jitter_s": findings.jitter_s,
        "bounce_longest_s": findings.bounce_longest_s,
        "debounce": [
            {
                "kind": row.kind,
                "miss_rate": row.miss_rate,
                "time_s": row.time_s,
                "overtravel_mm": row.overtravel_mm,
                "spread_mm": row.spread_mm,
                "rests_on": row.rests_on,
            }
            for row in findings.debounce
        ],
        "cautions": [caution.as_json() for caution in findings.cautions],
    }


def _middle(interval: Any) -> float | None:
    return None if interval is None else interval.middle


def _numbers(values: NDArray[np.float64]) -> list[float | None]:
    return [value if value == value else None for value in values.tolist()]
