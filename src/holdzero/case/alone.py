"""Alone: what a confirming trial of the sensor meant says, as JSON beside the choice it confirms."""

from typing import Any

from holdzero.case.on_axis import OnAxis


def alone_json(on_axis: OnAxis) -> dict[str, Any]:
    """Return `reservation` (text or null) and `confirming` (verdict and chances, or null) of an axis."""
    confirming = on_axis.confirming
    return {
        "reservation": on_axis.reservation or None,
        "confirming": confirming
        and {
            "sensor": confirming.sensor.name,
            "verdict": str(confirming.verdict),
            "chance_holds": confirming.chance_holds,
            "chance_holds_wide": confirming.chance_holds_wide,
            "share_outside": confirming.share_outside,
        },
    }
