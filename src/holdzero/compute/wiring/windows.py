"""Windows: the values between which an added resistor must lie.

Each is a formula of its own, so that it can be checked by hand.
"""

from math import inf

PIN_OVER_V = 0.3  # most a logic pin may be above its supply, or below 0 V
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)


def e24(low: float = 1.0, high: float = 1e6) -> list[float]:
    """Return the E24 resistor values of a window (IEC 60063). [ohm]

    >>> e24(1000, 1300)
    [1000.0, 1100.0, 1200.0, 1300.0]
    """
    every = (float(f"{step}e{decade}") for decade in range(-1, 6) for step in E24)
    return [value for value in every if low * (1 - 1e-9) <= value <= high * (1 + 1e-9)]


def pull_up_window(
    *,
    supply_low_v: float,
    supply_high_v: float,
    v_il: float,
    v_ih: float,
    leak_a: float,
    pin_a: float,
    knee_v: float,
    ohm: float,
    out_a: float,
    wet_a: float | None = None,
) -> tuple[float, float]:
    """Window of a pull-up resistor; empty where low is above high.

    Parameters
    ----------
    supply_low_v, supply_high_v : float
        Supply of the logic at its corners. [V]
    v_il, v_ih : float
        Levels surely low and surely high. [V]
    leak_a, pin_a : float
        Leakage of the output that is off, and of the pin. [A]
    knee_v, ohm, out_a : float
        Output that is on: knee, slope, most current. [V, ohm, A]
    wet_a : float, optional
        Current that a contact needs. [A]

    Returns
    -------
    low, high : float
        Low end: the output must pull below V_IL and not be overloaded. High end: leakage must not pull it
        below V_IH. [ohm]

    Examples
    --------
    >>> low, high = pull_up_window(supply_low_v=3.135, supply_high_v=3.465, v_il=0.8, v_ih=2.4255, leak_a=1e-4,
    ...                            pin_a=1e-5, knee_v=0.3, ohm=10, out_a=0.1)
    >>> round(low), round(high)
    (53, 6450)
    """
    strong = (supply_high_v - v_il) * ohm / (v_il - knee_v) if v_il > knee_v else inf
    low = max((supply_high_v - knee_v) / out_a, strong)
    drain = leak_a + pin_a
    high = (supply_low_v - v_ih) / drain if drain else inf
    return low, min(high, supply_low_v / wet_a) if wet_a else high


def opto_series_window(
    *,
    supply_low_v: float,
    supply_high_v: float,
    drop_v: float,
    led_low_v: float,
    led_high_v: float,
    on_a: float,
    most_a: float,
) -> tuple[float, float]:
    """Window of the resistor in series with the LED of an opto-coupler. [ohm]

    >>> low, high = opto_series_window(supply_low_v=21.6, supply_high_v=26.4, drop_v=3.5, led_low_v=1.0,
    ...                                led_high_v=1.4, on_a=3e-3, most_a=20e-3)
    >>> round(low), round(high)
    (1270, 5567)
    """
    return (supply_high_v - led_low_v) / most_a, (supply_low_v - drop_v - led_high_v) / on_a


def divider_window(
    *,
    supply_low_v: float,
    supply_high_v: float,
    drop_v: float,
    v_il: float,
    v_ih: float,
    logic_low_v: float,
    leak_a: float,
) -> tuple[float, float, float]:
    """Window of the ratio R2/(R1 + R2) of a divider to a logic pin, and the most R2 may be.

    Returns
    -------
    low, high : float
        Ratio; empty where low is above high. [-]
    r2_most_ohm : float
        So that leakage does not lift the pin above V_IL. [ohm]

    Examples
    --------
    >>> low, high, most = divider_window(supply_low_v=21.6, supply_high_v=26.4, drop_v=3.5, v_il=0.8, v_ih=2.0,
    ...                                  logic_low_v=3.135, leak_a=0.5e-3)
    >>> round(low, 4), round(high, 4), round(most)
    (0.1105, 0.1301, 1600)
    """
    high = (logic_low_v + PIN_OVER_V) / supply_high_v
    return v_ih / (supply_low_v - drop_v), high, v_il / leak_a if leak_a else inf


def bleed_most_ohm(*, leak_a: float, off_a: float, off_v: float = 5.0) -> float:
    """Most that a resistor across an input may have, to keep leakage below its off level. [ohm]

    >>> round(bleed_most_ohm(leak_a=1.5e-3, off_a=0.5e-3))
    5000
    """
    return off_v / (leak_a - off_a) if leak_a > off_a else inf


def shunt_most_ohm(*, led_low_v: float, leak_a: float, off_a: float) -> float:
    """Most that a resistor across an LED may have, to keep leakage below its off current. [ohm]

    >>> round(shunt_most_ohm(led_low_v=1.0, leak_a=1.5e-3, off_a=0.5e-3))
    1000
    """
    return led_low_v / (leak_a - off_a) if leak_a > off_a else inf


def opto_limits(
    *,
    supply_low_v: float,
    supply_high_v: float,
    pull_up_ohm: float,
    ctr_low: float,
    ctr_high: float,
    v_il: float,
    v_ih: float,
) -> tuple[float, float]:
    """LED currents of an opto-coupler that are surely on and surely off, from its output side.

    Parameters
    ----------
    supply_low_v, supply_high_v : float
        Supply of the logic behind it. [V]
    pull_up_ohm : float
        Resistor from there to the coupler's output. [ohm]
    ctr_low, ctr_high : float
        Current transfer ratio, old and new. [-]
    v_il, v_ih : float
        Levels of the logic behind. [V]

    Examples
    --------
    >>> on, off = opto_limits(supply_low_v=3.135, supply_high_v=3.465, pull_up_ohm=10e3, ctr_low=0.25, ctr_high=3,
    ...                       v_il=0.4, v_ih=2.4255)
    >>> f"{on * 1e3:.2f} {off * 1e3:.3f}"
    '1.23 0.024'
    """
    return (supply_high_v - v_il) / (pull_up_ohm * ctr_low), (supply_low_v - v_ih) / (pull_up_ohm * ctr_high)
