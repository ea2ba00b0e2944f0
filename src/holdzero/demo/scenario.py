"""The demo's three files, as a person would have written them. All invented."""

from io import StringIO

import numpy as np

from holdzero.demo.planted import CREEP_MM_S, PLANTED, WINNER, Planted

INVENTED = "Invented data: a made-up shed, machine and trial, to show how figures look."
REMARKS = (  # of a book's machine that is the demo's: as it is written now, and as it was before
    INVENTED,
    "Invented data: a made-up shed, machine and trial, to show what the figures look like.",
)

_MACHINE = """\
# Invented example: no such shed or machine exists.
[machine]
name = "Plywood router"
example = true

[requirement]
squareness = "0.09 mm over 700 mm"
position = "0.18 mm"
risk = "1 in 500"
datum_homings = 12

[axes.Y]
moves = "gantry"
travel = "1300 mm"
motors = 2
drive_distance = "1070 mm"
lead = "16 mm"
full_steps = 200
microsteps = 32
top_speed = "120 mm/s"
approach_speed = "35 mm/s"
creep_speed = "1.5 mm/s"
acceleration = "650 mm/s2"
jerk = "6500 mm/s3"
delay = "9 ms"
moving_mass = "33 kg"
rotor_inertia = "1.7e-4 kg m2"
friction = "85 N"
thrust = "480 N"
bumper_stroke = "8 mm"
limit_trip = "26 mm"
home_trip = "35 mm"
differential_travel = "0.4 mm +- 0.15 mm"
back_off = "4 mm"
back_off_from = "rest"
flag_home = "39 mm"
flag_limit = "30 mm"
temperature = "8 degC to 27 degC"

[axes.X]
moves = "carriage"
travel = "900 mm"
motors = 1
lead = "50 mm"
full_steps = 200
microsteps = 32
top_speed = "220 mm/s"
approach_speed = "55 mm/s"
creep_speed = "2.5 mm/s"
acceleration = "2100 mm/s2"
"""

_SENSORS = """\
# Invented example: kinds and letters, prices in no particular money.
example = true

[sensors.H]
kind = "roller position switch"
price = 14.5
output = "dry contact"
contact = "NC"
repeatability = "+- 0.06 mm"
life = "5e6 cycles"

[sensors.J]
kind = "reed and magnet"
price = 6.2
output = "dry contact"
contact = "NO"
life = "2e7 cycles"

[sensors.K]
kind = "inductive"
price = 21.0
supply = "10 V to 36 V"
output = "PNP"
contact = "NC"
repeatability = "0.2 mm iec"

[sensors.M]
kind = "capacitive"
price = 33.0
supply = "12 V to 35 V"
output = "PNP"
contact = "NO"

[sensors.N]
kind = "through-beam pair"
price = 47.0
supply = "12 V to 28 V"
output = "PNP"
contact = "NC"
repeatability = "0.03 mm span"

[sensors.P]
kind = "gauge contact"
price = 88.0
output = "dry contact"
contact = "NC"
repeatability = "0.006 mm 3 sigma"
life = "8e6 cycles"
"""

_CIRCUIT = """
[[circuit]]
name = "Y {side}"
axis = "Y"
side = "{letter}"

[circuit.supply]
voltage = "24 V"

[circuit.sensor]
output = "PNP"
contact = "NC"
protection_diodes = false  # blue wire pulled: the input dropped

[circuit.input]
kind = "opto"
common = "minus"
series_resistor = "3.3 kohm"
i_on = "4 mA"
i_off = "1.2 mA"

[circuit.cable]
length = "{length}"
section = "0.34 mm2"
"""

_SQUARE = """\
# Invented example: one board cut and flipped, before and after the offset was set.
example = true
drive_distance = "1070 mm"
spread = "{spread}"

[[round]]
method = "flip"
day = "2025-02-22"
length = "720 mm"
gap = "0.62 mm"
u = "0.02 mm"

[[round]]
method = "flip"
day = "2025-02-23"
length = "720 mm"
gap = "0.02 mm"
u = "0.02 mm"
setting = "0.46 mm"
"""

SEED = 20260645
POWER_UPS, HOMINGS = 10, 6
TRIAL = "Ten power-ups of six"
DATES = ("2025-02-14", "2025-02-15", "2025-02-17", "2025-02-20", "2025-02-21")  # two power-ups a day
SETUP_MM = 0.0008  # what indicator and stand scatter by themselves
READINGS = 2 * POWER_UPS * sum(HOMINGS + planted.read_again for planted in PLANTED)


def machine_toml() -> str:
    """Return the invented machine as a machine file (text)."""
    return _MACHINE


def sensors_toml() -> str:
    """Return the six invented candidates as a sensors file (text)."""
    return _SENSORS


def wiring_toml() -> str:
    """Return how the chosen sensor is wired on each side, as a wiring file (text)."""
    sides = (("left", "6 m"), ("right", "6 m"))
    circuits = "".join(_CIRCUIT.format(side=side, letter=side[0].upper(), length=length) for side, length in sides)
    return "# Invented example: the chosen sensor on each side, an input each.\nexample = true\n" + circuits


def square_toml() -> str:
    """Return two rounds of squaring as a file of measurements (text)."""
    winner = next(planted for planted in PLANTED if planted.sensor == WINNER)
    return _SQUARE.format(spread=f"{winner.spread_mm:.4f} mm")


def readings_csv(seed: int = SEED) -> str:
    """Return the invented trial as a readings file (text): 6 candidates, 2 sides, 10 power-ups of 6 homings.

    With one of them the last homing of each power-up is read once more without homing: what indicator and
    stand scatter by themselves.

    Parameters
    ----------
    seed : int
        Seed of the generator; the demo everybody sees uses the default.
    """
    rng = np.random.default_rng(seed)
    out = StringIO()
    out.write(
        "sensor,axis,side,set,homing,deviation_mm,speed_mm_s,temperature_degc,resolution_mm,time,repeat,example\n"
    )
    for planted in PLANTED:
        for row in _readings(planted, rng):
            out.write(row)
    return out.getvalue()


def _readings(planted: Planted, rng: np.random.Generator) -> list[str]:
    rows = []
    grid_phase = rng.uniform(0.0, 1.0, 2)  # where the motor's steps lie on each side
    decimals = max(0, round(-np.log10(planted.resolution_mm)))
    minute = 10 * 60 + 11 * PLANTED.index(planted)
    for power_up in range(1, POWER_UPS + 1):
        shared = rng.normal(0.0, planted.shared_mm)
        own = rng.normal(0.0, planted.between_mm, 2)
        room_degc = 9.0 + 7.0 * rng.random()
        for homing in range(1, HOMINGS + 1):
            speed = planted.speeds_mm_s[(homing + power_up - 2) % len(planted.speeds_mm_s)]
            late = planted.latency_s * (speed - CREEP_MM_S)
            warm = planted.warm_up_mm * np.exp(-(homing - 1) / planted.warm_up_homings)
            scatter = np.hypot(planted.within_mm, planted.jitter_s * speed)
            clock = minute + 190 * ((power_up - 1) % 2) + homing
            time = f"{DATES[(power_up - 1) // 2]}T{clock // 60:02d}:{clock % 60:02d}"
            for side, shift in zip("LR", shared + own, strict=True):
                place = planted.rest_mm + shift + warm - late + rng.normal(0.0, scatter)
                if planted.lattice_mm:
                    phase = grid_phase["LR".index(side)] * planted.lattice_mm
                    place = phase + planted.lattice_mm * np.round((place - phase) / planted.lattice_mm)
                place += sum(
                    stray.by_mm
                    for stray in planted.strays
                    if (stray.power_up, stray.homing, stray.side) == (power_up, homing, side)
                )
                twice = planted.read_again and homing == HOMINGS
                for repeat, wobble_mm in zip(
                    ("no", "yes")[: 1 + twice], rng.normal(0.0, SETUP_MM, 2), strict=False
                ):
                    shown = np.round((place + wobble_mm) / planted.resolution_mm) * planted.resolution_mm + 0.0
                    rows.append(
                        f"{planted.sensor},Y,{side},{power_up},{homing},{shown:.{decimals}f},{speed:g},"
                        f"{room_degc + 0.2 * homing:.1f},{planted.resolution_mm:g},{time},{repeat},yes\n"
                    )
    return rows
