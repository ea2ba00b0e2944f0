"""Unknown: what a sensor without markings is, from four voltages at its output.

The sensor is fed from a supply with a current limit; a resistor goes from its output first to 0 V, then
to plus, and the output is measured against 0 V each time, with the flag away and with the flag at it.
A PNP output lifts the resistor to plus, an NPN output pulls it to 0 V, a push-pull output does both.
"""

from dataclasses import dataclass

from holdzero.inputs.sensor.output import Contact, Output

TEST_OHM = 2200.0  # 0.5 W at 24 V; loads an output with 11 mA
LOW, HIGH = 0.25, 0.75  # shares of the supply that count as low and high
PULL_V = 0.8  # an output that is off lies no higher than this on the resistor, unless something inside lifts it


@dataclass(frozen=True, slots=True)
class Identified:
    """What the four voltages say."""

    output: Output | None  # None: it cannot be told
    contact: Contact | None
    pull_ohm: float | None  # resistor built in, to plus for NPN, to minus for PNP
    text: str


def identify(
    *, supply_v: float, minus_away_v: float, minus_near_v: float, plus_away_v: float, plus_near_v: float
) -> Identified:
    """Tell output and contact of a 3-wire sensor.

    Parameters
    ----------
    supply_v : float
        Between its plus and minus. [V]
    minus_away_v, minus_near_v : float
        Output against 0 V with the resistor (2.2 kohm) from it to 0 V; flag away, flag at it. [V]
    plus_away_v, plus_near_v : float
        The same with the resistor from the output to plus. [V]

    Returns
    -------
    Identified
        The keys `output` and `contact` of a wiring file, and the built-in resistor where there is one.

    Examples
    --------
    >>> identify(supply_v=24, minus_away_v=0.2, minus_near_v=23.2, plus_away_v=24, plus_near_v=24).text
    'PNP, NO: the output is lifted to plus with the flag at it.'
    """
    minus = [_level(volt, supply_v) for volt in (minus_away_v, minus_near_v)]
    plus = [_level(volt, supply_v) for volt in (plus_away_v, plus_near_v)]
    if minus == ["low", "high"] or minus == ["high", "low"]:
        contact = Contact.NO if minus[1] == "high" else Contact.NC
        when = "with the flag away" if contact.rests_closed else "with the flag at it"
        if plus == minus:
            return Identified(
                Output.PUSH_PULL,
                contact,
                None,
                f"Push-pull, {contact}: the output is lifted to plus {when}, and pulled to 0 V else.",
            )
        off_v = plus_near_v if contact.rests_closed else plus_away_v
        if "low" not in plus:
            inside = _inside(supply_v - off_v, off_v)
            return Identified(
                Output.PNP,
                contact,
                inside,
                f"PNP, {contact}: the output is lifted to plus {when}.{_built_in(inside, 'minus')}",
            )
    if sorted(plus) == ["high", "low"] and "high" not in minus:
        contact = Contact.NO if plus[1] == "low" else Contact.NC
        when = "with the flag away" if contact.rests_closed else "with the flag at it"
        off_v = minus_near_v if contact.rests_closed else minus_away_v
        inside = _inside(off_v, supply_v - off_v)
        return Identified(
            Output.NPN,
            contact,
            inside,
            f"NPN, {contact}: the output is pulled to 0 V {when}.{_built_in(inside, 'plus')}",
        )
    if minus[0] == minus[1] and plus[0] == plus[1]:
        text = (
            "Nothing changes with the flag: bring it closer, try steel, check the wires; else the sensor is dead."
        )
        return Identified(None, None, None, text)
    return Identified(
        None, None, None, "These four voltages fit no kind of output: measure again, one wire at a time."
    )


def _level(volt: float, supply_v: float) -> str:
    return "low" if volt <= LOW * supply_v else "high" if volt >= HIGH * supply_v else "between"


def _inside(across_test_v: float, across_inside_v: float) -> float | None:
    """Resistor inside the sensor that works against the one outside. [ohm]"""
    return TEST_OHM * across_inside_v / across_test_v if across_test_v > PULL_V else None


def _built_in(ohm: float | None, rail: str) -> str:
    return f" Inside is a resistor of about {ohm / 1000:.1f} kΩ to its own {rail}." if ohm else ""
