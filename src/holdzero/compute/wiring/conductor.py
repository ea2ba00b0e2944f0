"""Conductors: what a core of cable resists, stores and is called."""

COLOURS = {  # letters of IEC 60757, which gives them no use
    "BK": "black",
    "BN": "brown",
    "RD": "red",
    "OG": "orange",
    "YE": "yellow",
    "GN": "green",
    "BU": "blue",
    "VT": "violet",
    "GY": "grey",
    "WH": "white",
    "PK": "pink",
    "GD": "gold",
    "TQ": "turquoise",
    "SR": "silver",
    "GNYE": "green-yellow",
}
CORE_AT_PIN = {"1": "BN", "2": "WH", "3": "BU", "4": "BK"}  # of the plug of a DC sensor: IEC 60947-5-2
OHM_PER_KM = {  # largest at 20 degC, tinned fine strands: IEC 60228 class 5 and 6; below 0.5 mm2 DIN VDE 0295
    0.14: 138.0,
    0.25: 79.0,
    0.34: 56.0,
    0.5: 40.1,
    0.75: 26.7,
    1.0: 20.0,
    1.5: 13.7,
}
COPPER_MS_PER_M = 58.0  # IEC 60028
COPPER_PER_K = 0.00393  # IEC 60028, at 20 degC
CABLE_F_PER_M = (50e-12, 100e-12, 200e-12)  # core to core, least, usual, most: common practice, no source


def ohm_per_km(section_mm2: float) -> float:
    """Return the largest resistance of a copper core at 20 degC.

    Parameters
    ----------
    section_mm2 : float
        Cross-section. [mm2]

    Returns
    -------
    float
        The standard's limit for the sections it lists, else that of solid copper. [ohm/km]

    Examples
    --------
    >>> ohm_per_km(0.25), round(ohm_per_km(0.2047), 1)
    (79.0, 84.2)
    """
    for listed, ohm in OHM_PER_KM.items():
        if abs(section_mm2 - listed) < 0.005:
            return ohm
    return 1000 / COPPER_MS_PER_M / section_mm2


def core_ohm(length_m: float, section_mm2: float) -> float:
    """Return the resistance of a core of some length at 20 degC, at least that of its two ends. [ohm]

    >>> round(core_ohm(10.0, 0.25), 3), core_ohm(0.0, 0.25)
    (0.79, 0.001)
    """
    return max(length_m * ohm_per_km(section_mm2) / 1000, 1e-3)


def warm(temperature_degc: float) -> float:
    """Return how many times its 20 degC resistance copper has at a temperature.

    >>> round(warm(60), 4)
    1.1572
    """
    return 1 + COPPER_PER_K * (temperature_degc - 20)
