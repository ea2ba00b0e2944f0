"""Circuit presets: common ways to wire a home switch, to start from. Figures are class-typical, no source."""

from collections.abc import Mapping
from typing import Any

_IEC = {"kind": "IEC 61131-2 type 3"}
_24_V = {"voltage": "24 V +- 10 %"}

PRESETS: Mapping[str, tuple[str, Mapping[str, Any]]] = {
    "contact": (
        "NC contact, 24 V input",
        {"supply": _24_V, "sensor": {"output": "dry contact", "contact": "NC"}, "input": _IEC},
    ),
    "pnp": (
        "PNP sensor, NC, 24 V input",
        {"supply": _24_V, "sensor": {"output": "PNP", "contact": "NC", "supply": "10 V to 30 V"}, "input": _IEC},
    ),
    "two-wire": (
        "2-wire sensor, NC, 24 V input",
        {
            "supply": _24_V,
            "sensor": {"output": "2-wire", "contact": "NC", "supply": "10 V to 30 V"},
            "input": {"kind": "IEC 61131-2 type 2"},  # takes enough for a 2-wire sensor to hold itself on
        },
    ),
    "npn-opto": (
        "NPN sensor, NC, opto-coupled input",
        {
            "supply": _24_V,
            "sensor": {"output": "NPN", "contact": "NC", "supply": "10 V to 30 V"},
            "input": {"kind": "opto", "common": "plus", "series_resistor": "2.2 kohm"},
        },
    ),
    "contact-logic": (
        "NC contact, 5 V logic pin with pull-up and filter",
        {
            "supply": {"voltage": "5 V", "shared": "yes"},
            "sensor": {"output": "dry contact", "contact": "NC", "material": "gold"},
            "input": {
                "kind": "logic",
                "supply": "5 V",
                "pull_up": "2.2 kohm",
                "series_resistor": "1 kohm",
                "filter": "100 nF",
            },
        },
    ),
    "optical-logic": (
        "Light barrier, NPN, 5 V logic pin",
        {
            "supply": {"voltage": "5 V", "shared": "yes"},
            "sensor": {
                "output": "NPN",
                "contact": "NC",
                "supply": "4.5 V to 24 V",
                "drop": "0.4 V",
                "drop_at": "5 mA",
            },
            "input": {"kind": "logic", "supply": "5 V", "pull_up": "2.2 kohm"},
        },
    ),
    "both-sides": (
        "Two NC contacts, left and right, on one input",
        {
            "supply": _24_V,
            "sensor": [
                {"name": "B1", "output": "dry contact", "contact": "NC", "side": "L"},
                {"name": "B2", "output": "dry contact", "contact": "NC", "side": "R"},
            ],
            "chain": {"join": "series"},
            "input": _IEC,
        },
    ),
}
