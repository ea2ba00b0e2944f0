"""Keys: what a candidate's form may say.

The one table from which files are read and pages and manuals are made.
"""

import re
from typing import Any

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.form import (
    ANY,
    NOT_NEGATIVE,
    SURROUNDINGS,
    Key,
    between,
    choice,
    one_quantity,
    text,
    with_tolerance,
    words,
    yes_or_no,
)
from holdzero.inputs.sensor.output import CHANGEOVER_WAYS, CONTACT_WAYS, OUTPUT_WAYS
from holdzero.quantity import quoted, tidy

CONVENTIONS = ("span", "+-", "1 sigma", "2 sigma", "3 sigma", "iec")

_CONVENTION = re.compile(
    r"(?P<span>span|total|peak to peak|peak-to-peak|p-p)"
    r"|(?P<sigma>[123]) ?(?:sigma|σ|sd|s)"
    r"|(?P<one>sd|sigma|σ|standard deviation)"
    r"|(?P<iec>iec(?: 60947-5-2)?)",
    re.IGNORECASE,
)


def read_repeatability(entered: Any, where: str = "") -> tuple[float, str | None]:
    """Read the repeatability a data sheet states, and what the figure counts.

    Parameters
    ----------
    entered : str
        ``"0.04 mm span"``, ``"+- 0.005 mm"``, ``"0.002 mm 1 sigma"``, ``"0.05 mm iec"`` (repeat accuracy of
        IEC 60947-5-2), or a length alone where the sheet does not say.
    where : str, default ""
        For messages.

    Returns
    -------
    size_mm : float
        [mm]
    convention : str or None
        One of `CONVENTIONS`; None where the sheet does not say.

    Examples
    --------
    >>> read_repeatability("0.04 mm span"), read_repeatability("± 5 µm"), read_repeatability("2 um 1 sigma")
    ((0.04, 'span'), (0.005, '+-'), (0.002, '1 sigma'))
    """
    tidied = tidy(entered) if isinstance(entered, str) else ""
    figure, convention = tidied, None
    for at in [match.start() for match in re.finditer(" ", tidied)]:
        stated = _CONVENTION.fullmatch(tidied, at + 1)
        if stated:
            figure, convention = tidied[:at].rstrip(","), _word(stated)
            break
    if figure.startswith("+-"):
        if convention is not None:
            raise InputError(
                where=where,
                found=quoted(entered),
                need="one convention, +- or a word",
                do="write the one that the sheet states",
            )
        figure, convention = figure.removeprefix("+-").strip(), "+-"
    size_mm = quantity.read(figure if isinstance(entered, str) else entered, "length", where=where)
    if size_mm <= 0:
        raise InputError(where=where, found=quoted(entered), need="a repeatability above zero", do="give its size")
    return size_mm, convention


def _word(stated: re.Match[str]) -> str:
    if stated["span"]:
        return "span"
    return "iec" if stated["iec"] else f"{stated['sigma'] or 1} sigma"


KEYS: tuple[Key, ...] = (
    text("kind", "kind", "inductive", "What kind of switch or sensor it is"),
    one_quantity("price", "price", "price", "24.50", "What one costs; one currency for all", sign=NOT_NEGATIVE),
    between(
        "supply",
        "voltage",
        "supply_low_v",
        "supply_high_v",
        "5 V to 24 V",
        "Supply it works on",
        sign=NOT_NEGATIVE,
    ),
    choice(
        "output",
        "output",
        OUTPUT_WAYS,
        "What its output is",
    ),
    choice(
        "contact",
        "contact",
        {**CONTACT_WAYS, **CHANGEOVER_WAYS},
        "Whether it opens or closes when it trips",
    ),
    Key(
        "repeatability",
        ("repeatability_mm", "repeatability_convention"),
        "Repeatability of the data sheet and what it counts: span, +-, 1, 2 or 3 sigma, iec",
        "0.04 mm span",
        read_repeatability,
        "length",
        CONVENTIONS,
    ),
    one_quantity("life", "cycles", "life_cycles", "5e6 cycles", "Cycles it lasts for"),
    one_quantity(
        "overtravel",
        "length",
        "overtravel_mm",
        "3 mm",
        "How far beyond its trip it can be pressed before it breaks",
    ),
    words(
        "not_in",
        "not_in",
        SURROUNDINGS,
        "ferrous dust, coolant",
        "Surroundings it does not stand",
    ),
    with_tolerance(
        "differential_travel",
        "length",
        "differential_travel_mm",
        "differential_travel_half_width_mm",
        "0.3 mm +- 0.2 mm",
        "Between trip and release",
        sign=NOT_NEGATIVE,
    ),
    one_quantity("response", "time", "response_s", "0.5 ms", "Response time", sign=NOT_NEGATIVE),
    one_quantity(
        "response_jitter",
        "time",
        "response_jitter_s",
        "0.1 ms",
        "Standard deviation of the response time",
        sign=NOT_NEGATIVE,
    ),
    one_quantity(
        "trip_drift",
        "drift",
        "trip_drift_mm_k",
        "1 um/K",
        "Drift of the trip with temperature, as it is mounted: + further from the hard stop as it warms up, − "
        "nearer to it; without a sign it is taken to go the way of growth",
        sign=ANY,
    ),
    one_quantity(
        "supply_drift",
        "supply drift",
        "supply_drift_mm_v",
        "0.5 um/V",
        "Drift of the trip with the supply",
        sign=ANY,
    ),
    one_quantity(
        "drop", "voltage", "drop_v", "1.5 V", "Voltage across its output while that is on", sign=NOT_NEGATIVE
    ),
    one_quantity(
        "leakage",
        "current",
        "leakage_a",
        "0.1 mA",
        "Current through its output while that is off",
        sign=NOT_NEGATIVE,
    ),
    text("remark", "remark", "bracket to be made", "Anything worth remembering"),
    yes_or_no("example", "example", "Whether the figures are an invented example's, not of a data sheet"),
)
