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
    "two contacts in series, each with its own cable": {
        "supply": {"voltage": "24 V", "fuse": "1 A"},
        "sensor": [
            {"name": "home", "output": "dry contact", "contact": "NC", "cable_length": "3 m"},
            {"name": "limit", "output": "dry contact", "contact": "NC", "colours": ["WH", "GN"]},
        ],
        "chain": {"join": "series"},
        "input": {"kind": "IEC 61131-2 type 3"},
        "cable": {**CABLE, "length": "14.5 m"},
    },
    "three NPN in series, screened": {
        "sensor": {"output": "NPN", "contact": "NC"},
        "chain": {"count": 3, "join": "series"},
        "input": {"kind": "opto", "common": "plus"},
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
    "contacts that open directly": {
        "sensor": {"output": "dry contact", "contact": "NC", "direct_opening": True},
        "chain": {"count": 2, "join": "series"},
        "input": {"kind": "IEC 61131-2 type 3"},
        "cable": CABLE,
    },
    "plugs of two kinds": {
        "sensor": [
            {"output": "push-pull", "contact": "NC", "name": "near", "plug": "M12"},
            {"output": "push-pull", "contact": "NO", "name": "far", "plug": "M12"},
        ],
        "chain": {"join": "parallel"},
        "input": {"kind": "IEC 61131-2 type 3"},
        "cable": CABLE,
    },
    "contact to the 0 V of the input's own supply": {
        "sensor": {"output": "dry contact", "contact": "NC"},
        "input": {"kind": "opto", "common": "plus", "supply": "12 V"},
        "cable": CABLE,
    },
    "straight across the supply": {
        "sensor": {"output": "2-wire", "contact": "NO"},
        "input": {"kind": "opto", "series_resistor": "1 ohm"},
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

CHOICES = {  # what a random file may say: sensible, silly and contradictory alike
    "supply": {
        "voltage": ("24 V", "5 V", "3.3 V", "-12 V", "48 V", "0.5 V", "20 V to 28 V", "12 V +- 5 %"),
        "resistance": ("0 ohm", "100 ohm"),
        "fuse": ("1 A",),
        "earthed": (True, False),
        "joined": (True, False),
        "join_resistance": ("2 ohm", "0 ohm"),
        "shared": (True, False),
    },
    "sensor": {
        "contact": ("NO", "NC", "changeover"),
        "drop": ("0.2 V", "0.7 V", "3 V", "8 V"),
        "drop_at": ("1 mA", "200 mA"),
        "leakage": ("0 mA", "0.1 mA", "1.5 mA", "5 mA"),
        "own_current": ("1 mA", "10 mA +- 5 mA"),
        "output_current": ("5 mA", "100 mA"),
        "least_current": ("0 mA", "10 mA"),
        "supply": ("5 V to 24 V", "10 V to 30 V", "24 V", "30 V to 40 V"),
        "pull_up": ("1 kohm", "10 kohm"),
        "pull_down": ("10 kohm",),
        "protection_diodes": (True, False),
        "feed": ("plus", "minus", "logic"),
        "material": ("silver", "gold"),
        "side": ("L",),
    },
    "input": {
        "common": ("plus", "minus"),
        "supply": ("3.3 V", "5 V", "24 V", "12 V +- 1 V"),
        "pull_up": ("470 ohm", "4.7 kohm", "100 kohm"),
        "pull_down": ("1 kohm", "47 kohm"),
        "series_resistor": ("1 ohm", "1 kohm", "8.2 kohm"),
        "bleed": ("1 kohm", "4.7 kohm"),
        "shunt": ("1 kohm",),
        "filter": ("100 nF", "5 ms", "10 uF"),
        "filter_resistor": ("1 kohm",),
        "threshold_rising": ("1.9 V +- 0.3 V",),
        "clamp": (True, False, "1 mA"),
        "i_on": ("3 mA", "8 mA"),
        "i_off": ("0.02 mA", "1 mA"),
        "reverse_diode": (True,),
        "use": ("home", "limit"),
        "name": ("IN 3 with a rather long name",),
    },
    "cable": {
        "length": ("0.1 m", "10 m", "300 m"),
        "section": ("0.14 mm2", "24 AWG", "1.5 mm2"),
        "capacitance": ("100 pF/m", "3 nF"),
        "screened": (True, False),
        "shared_by": (1, 4),
        "colours": ("WH, GN", "BN, WH, GY"),
    },
    "chain": {"join": ("series", "parallel"), "count": (1, 2, 3, 5)},
}
KINDS = ("logic", "opto", "IEC 61131-2 type 1", "IEC 61131-2 type 2", "IEC 61131-2 type 3", "3.3 V logic")


def anything(random):
    """A wiring file that says some of all keys, by a `random.Random`."""
    found = {
        table: {key: random.choice(values) for key, values in keys.items() if random.random() < 0.45}
        for table, keys in CHOICES.items()
    }
    found["sensor"]["output"] = random.choice(("dry contact", "NPN", "PNP", "push-pull", "2-wire"))
    found["input"]["kind"] = random.choice(KINDS)
    return found
