"""Circuits that tests of wiring share: every combination, and the shapes a diagram can take."""

from itertools import product

OUTPUTS = {
    "dry contact": {"output": "dry contact"},
    "NPN": {"output": "NPN"},
    "NPN, pull-up inside": {"output": "NPN", "pull_up": "10 kohm"},
    "PNP": {"output": "PNP"},
    "push-pull": {"output": "push-pull"},
    "2-wire": {"output": "2-wire"},
}
INPUTS = {
    "IEC type 1": {"kind": "IEC 61131-2 type 1"},
    "IEC type 2": {"kind": "IEC 61131-2 type 2"},
    "IEC type 3": {"kind": "IEC 61131-2 type 3"},
    "opto, common minus": {"kind": "opto", "common": "minus", "series_resistor": "2.2 kohm"},
    "opto, common plus": {"kind": "opto", "common": "plus", "series_resistor": "2.2 kohm"},
    "3.3 V pull-up": {"kind": "logic", "supply": "3.3 V", "pull_up": "4.7 kohm"},
    "5 V pull-up": {"kind": "logic", "supply": "5 V", "pull_up": "2.2 kohm", "series_resistor": "1 kohm"},
    "5 V divider": {"kind": "logic", "supply": "5 V", "series_resistor": "8.2 kohm", "pull_down": "1.8 kohm"},
}
CABLE = {"length": "10 m", "section": "0.25 mm2"}


def every():
    """Every sensor kind x input kind x NO/NC, named."""
    for output, one, contact in product(OUTPUTS, INPUTS, ("NO", "NC")):
        sensor = {**OUTPUTS[output], "contact": contact}
        yield (
            (output, one, contact),
            {"supply": {"voltage": "24 V"}, "sensor": sensor, "input": INPUTS[one], "cable": CABLE},
        )


DRAWN = {f"{output} > {one} {contact}": circuit for (output, one, contact), circuit in every()}
DRAWN |= {
    "two contacts in series, filtered": {
        "name": "X home and limit",
        "machine": "Plywood router",
        "axis": "X",
        "supply": {"voltage": "24 V", "fuse": "1 A"},
        "sensor": {"output": "dry contact", "contact": "NC"},
        "chain": {"count": 2, "join": "series"},
        "input": {"kind": "opto", "filter": "220 nF", "filter_resistor": "1 kohm", "name": "IN3"},
        "cable": {**CABLE, "screened": True},
    },
    "three contacts to 0 V in series": {
        "sensor": {"output": "dry contact", "contact": "NC"},
        "chain": {"count": 3, "join": "series"},
        "input": {"kind": "logic", "supply": "3.3 V", "pull_up": "1 kohm"},
    },
    "four NPN in parallel, shunt and reverse diode": {
        "sensor": {"output": "NPN", "contact": "NO"},
        "chain": {"count": 4, "join": "parallel"},
        "input": {"kind": "opto", "common": "plus", "shunt": "1 kohm", "reverse_diode": True},
        "cable": CABLE,
    },
    "everything round a pin": {
        "sensor": {
            "output": "NPN",
            "contact": "NC",
            "pull_up": "10 kohm",
            "pull_down": "100 kohm",
            "drop": "0.4 V",
        },
        "input": {
            "kind": "logic",
            "supply": "5 V",
            "pull_up": "1 kohm",
            "series_resistor": "1 kohm",
            "pull_down": "100 kohm",
            "filter": "100 nF",
        },
        "cable": {**CABLE, "screened": True},
    },
    "bleed": {
        "sensor": {"output": "2-wire", "contact": "NO"},
        "input": {"kind": "IEC 61131-2 type 1", "bleed": "4.7 kohm"},
        "cable": CABLE,
    },
    "bleed, common plus": {
        "sensor": {"output": "2-wire", "contact": "NO", "feed": "0 V"},
        "input": {"kind": "opto", "common": "plus", "bleed": "4.7 kohm", "pull_down": "10 kohm"},
        "cable": CABLE,
    },
    "two PNP in series": {
        "sensor": {"output": "PNP", "contact": "NC"},
        "chain": {"count": 2, "join": "series"},
        "input": {"kind": "IEC 61131-2 type 3"},
        "cable": CABLE,
    },
    "two NPN in series": {
        "sensor": {"output": "NPN", "contact": "NC"},
        "chain": {"count": 2, "join": "series"},
        "input": {"kind": "opto"},
    },
    "against the grain": {
        "sensor": {"output": "NPN", "contact": "NC"},
        "input": {"kind": "IEC 61131-2 type 3", "pull_up": "1.8 kohm"},
    },
    "against the grain, PNP": {
        "sensor": {"output": "PNP", "contact": "NC"},
        "input": {"kind": "opto", "common": "plus", "pull_down": "1.8 kohm"},
    },
    "one supply of 5 V": {
        "supply": {"voltage": "5 V"},
        "sensor": {"output": "NPN", "contact": "NC", "supply": "5 V to 24 V"},
        "input": {"kind": "logic", "supply": "5 V", "pull_up": "1 kohm"},
        "cable": CABLE,
    },
    "contact from the logic supply": {
        "sensor": {"output": "dry contact", "contact": "NC"},
        "input": {"kind": "logic", "supply": "3.3 V", "pull_down": "2.2 kohm"},
        "cable": {**CABLE, "colours": ["WH", "GN"]},
    },
    "0 V not joined": {
        "supply": {"voltage": "24 V", "joined": False, "earthed": False},
        "sensor": {"output": "NPN", "contact": "NO"},
        "input": {"kind": "logic", "supply": "5 V", "pull_up": "2.2 kohm"},
    },
    "both sides on one input": {
        "sensor": [
            {"output": "dry contact", "contact": "NC", "name": "left", "side": "L"},
            {"output": "dry contact", "contact": "NC", "name": "right", "side": "R"},
        ],
        "input": {"kind": "IEC 61131-2 type 3"},
        "cable": CABLE,
    },
    "input on a supply of its own, common minus": {
        "sensor": {"output": "PNP", "contact": "NC"},
        "input": {"kind": "IEC 61131-2 type 3", "supply": "24 V"},
        "cable": CABLE,
    },
    "input on a supply of its own, common plus": {
        "sensor": {"output": "NPN", "contact": "NC"},
        "input": {"kind": "opto", "common": "plus", "supply": "12 V"},
        "cable": CABLE,
    },
}
