"""Safety: the words that stand before the figures, in every record.

A switch read by a motion controller is not a safety function. The wording is ours; the standards named
are the ones it defers to.
"""

NOT_A_SAFETY_FUNCTION = (
    "A switch used for homing or as a travel limit is an ordinary machine input. By itself, and through this "
    "software, it is not a safety function, has no performance level, and does not replace an emergency stop, a "
    "guard or a mechanical end stop. Whether a limit must be a safety function is settled by the risk assessment "
    "of ISO 12100."
)
IN_SHORT = "A home or limit switch is not a safety function: see above."
NOT_A_CERTIFICATE = "Not a certificate; no performance level."
BEFORE_ANYTHING_ELSE = (
    "Emergency stop: hard-wired, and tested first (ISO 13850, IEC 60204-1).",
    "Guards and safety functions: by risk assessment (ISO 12100, ISO 13849-1), not by this record.",
    "Mains work: by a licensed person. Local codes come first.",
    "Keep clear of moving axes. Try at low speed with a hand on the stop.",
    "Switch off, unplug and wait until stored energy is gone before wiring.",
    "Fault tables are a design aid, not a certificate.",
)
_RACKED = "One side of a gantry can stop while the other drives: it is then racked with the force of"
TWO_MOTORS = f"{_RACKED} its motors."
A_GOOD_CHART = "A good chart is not a guarantee."
STANDARDS = (
    ("ISO 12100", "risk assessment and risk reduction, general principles"),
    ("ISO 13849-1", "performance level of safety-related parts of controls"),
    (
        "IEC 60204-1",
        (
            "electrical equipment of machines; stop categories: 0 power removed at once (uncontrolled); "
            "1 controlled stop, then power removed; 2 controlled stop, power stays"
        ),
    ),
    (
        "ISO 13850",
        "emergency stop function, by stop category 0 or 1; a complementary measure, no substitute for guarding",
    ),
    ("ISO 14119", "interlocking devices of guards: choice and defeat"),
    ("IEC 60947-5-1 annex K", "direct opening action of position switches"),
)


def racking_force(thrust_n: float | None) -> str:
    """Return the warning about two motors, with the force where it is known."""
    if thrust_n is None:
        return TWO_MOTORS
    return f"{_RACKED} one motor, up to {thrust_n:.0f} N."
