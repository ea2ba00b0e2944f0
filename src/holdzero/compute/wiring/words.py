"""Words: how figures and faults are said in a sentence, and the cautions that go with every circuit."""

from holdzero.caution import Caution

GAP = "\u202f"  # narrow, not to be broken
SAFETY = (
    Caution(
        "not-a-safety-function",
        "A switch used for homing or as a travel limit is an ordinary machine input: by itself it is no safety "
        "function, has no performance level and does not replace an emergency stop, a guard or a hard stop. A "
        "fault marked “stops” is not a safety function either.",
        "ISO 12100, ISO 13849-1, IEC 60204-1, ISO 13850",
    ),
    Caution(
        "before-wiring",
        "Switch off, unplug, and wait until stored energy is gone before touching a wire. Mains work: a "
        "licensed person; local codes come first. Pull wires for a test only switched off and unplugged; switch "
        "on again at low speed with the axis clear.",
    ),
    Caution(
        "design-aid",
        "The fault table is a design aid, not a certificate: it knows one fault at a time, and not how cables are "
        "laid.",
    ),
)
LAYOUT = (
    "Signal cable away from motor and spindle cables; where they must cross, at a right angle.",
    "Cores twisted, the signal together with its own return; screened from 3 m on.",
    "Screen joined to earth at one end only, in the cabinet; at the sensor cut back and insulated.",
    "One common earth point; 0 V joined to it at one place.",
    "Pull-up or filter at the controller end. 1 kΩ to 3.3 kΩ stands up to noise better than 10 kΩ.",
    "100 nF with 1 kΩ in series at the input helps most often of all; it delays the two edges differently.",
    "Strain relief at both ends, a drip loop, and no cable that bends sharper than its sheet allows.",
    "Where the cable moves: fine strands, in the chain with room to spare.",
)  # common practice, no source


def volts(volt: float, *, beside: float | None = None) -> str:
    """Say a voltage with three digits, or as many as tell it from the one `beside` it; a small one in millivolts.

    >>> [volts(volt).replace(GAP, " ") for volt in (12.3944, 0.713, 0.0269, 0.000667, 0.00002)]
    ['12.4 V', '0.713 V', '27 mV', '0.7 mV', '0 V']
    >>> volts(30.04, beside=30).replace(GAP, " "), volts(33, beside=30).replace(GAP, " ")
    ('30.04 V', '33 V')
    """
    small = round(volt * 1e3, 1)
    digits = 3
    while beside is not None and digits < 6 and f"{volt:.{digits}g}" == f"{beside:.{digits}g}":
        digits += 1
    return f"{volt:.{digits}g}{GAP}V" if abs(volt) >= 0.0995 else f"{small:.2g}{GAP}mV" if small else f"0{GAP}V"


def milliamps(amp: float) -> str:
    """Say a current in mA with three digits, a small one in whole microamperes, a large one in amperes.

    >>> [milliamps(amp).replace(GAP, " ") for amp in (0.0033052, 7.333e-5, 2e-6, 2e-7, 23.6)]
    ['3.31 mA', '73 µA', '2 µA', '0 mA', '23.6 A']
    """
    if abs(amp) >= 0.9995:
        return f"{amp:.3g}{GAP}A"
    small = round(amp * 1e6)
    return f"{amp * 1e3:.3g}{GAP}mA" if abs(amp) >= 99.5e-6 else f"{small}{GAP}µA" if small else f"0{GAP}mA"


def ohms(ohm: float) -> str:
    """Say a resistor as it is sold.

    >>> [ohms(ohm).replace(GAP, " ") for ohm in (470, 1000, 2200, 45e3, 1e6)]
    ['470 Ω', '1 kΩ', '2.2 kΩ', '45 kΩ', '1 MΩ']
    """
    size, unit = (ohm / 1e6, "MΩ") if ohm >= 1e6 else (ohm / 1e3, "kΩ") if ohm >= 1e3 else (ohm, "Ω")
    return f"{size:.3g}{GAP}{unit}"


def listed(items: list[str]) -> str:
    """Join items as one speaks.

    >>> listed(["BN", "BU", "BK"])
    'BN, BU and BK'
    """
    return items[0] if len(items) == 1 else ", ".join(items[:-1]) + " and " + items[-1]
