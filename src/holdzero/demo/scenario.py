"""The demo's three files, as a person would have written them. All invented."""

from io import StringIO

import numpy as np

from holdzero.demo.planted import PLANTED, Planted

INVENTED = "Invented data: a made-up shed, machine and trial, to show what the figures look like."

_MACHINE = """\
# Invented example: no such shed or machine exists.
[machine]
name = "Plywood router"

[requirement]
squareness = "0.05 mm over 600 mm"
position = "0.10 mm"
risk = "1 in 1000"
datum_homings = 8

[axes.Y]
travel = "1300 mm"
motors = 2
drive_distance = "980 mm"
lead = "10 mm"
full_steps = 200
microsteps = 16
top_speed = "150 mm/s"
approach_speed = "40 mm/s"
creep_speed = "2 mm/s"
acceleration = "800 mm/s2"
jerk = "8000 mm/s3"
delay = "12 ms"
moving_mass = "28 kg"
rotor_inertia = "1.2e-4 kg m2"
friction = "70 N"
thrust = "600 N"
bumper_stroke = "5 mm"
limit_trip = "24 mm"
home_trip = "32 mm"
differential_travel = "0.3 mm +- 0.2 mm"
back_off = "5 mm"
back_off_from = "rest"
flag_home = "36 mm"
flag_limit = "28 mm"
temperature = "12 degC to 28 degC"

[axes.X]
travel = "900 mm"
motors = 1
lead = "40 mm"
full_steps = 200
microsteps = 16
top_speed = "250 mm/s"
approach_speed = "60 mm/s"
creep_speed = "3 mm/s"
acceleration = "2500 mm/s2"
"""

_SENSORS = """\
# Invented example: kinds and letters, prices in no particular money.
[sensors.A]
kind = "lever micro switch"
price = 3.0
output = "dry contact"
contact = "NC"
repeatability = "0.05 mm span"
life = "1e6 cycles"

[sensors.B]
kind = "slotted optical"
price = 9.0
supply = "5 V to 30 V"
output = "NPN"
contact = "NC"
repeatability = "0.01 mm span"

[sensors.C]
kind = "inductive, 3-wire"
price = 16.0
supply = "10 V to 30 V"
output = "PNP"
contact = "NC"

[sensors.D]
kind = "precision plunger"
price = 64.0
output = "dry contact"
contact = "NC"
repeatability = "0.001 mm 1 sigma"
life = "3e6 cycles"

[sensors.E]
kind = "Hall and magnet"
price = 5.0
supply = "5 V to 24 V"
output = "NPN"
contact = "NO"

[sensors.F]
kind = "reflective optical"
price = 12.0
supply = "10 V to 30 V"
output = "PNP"
contact = "NO"
"""

_CIRCUIT = """
[[circuit]]
name = "Y {side}"

[circuit.supply]
voltage = "24 V"

[circuit.sensor]
output = "NPN"
contact = "NC"
protection_diodes = false  # brown wire pulled: the input dropped

[circuit.input]
kind = "opto"
common = "plus"
series_resistor = "3.9 kohm"
i_on = "3 mA"
i_off = "1 mA"

[circuit.cable]
length = "{length}"
section = "0.25 mm2"
"""

_SQUARE = """\
# Invented example: two test pieces, before and after the offset was set.
drive_distance = "980 mm"
spread = "0.0049 mm"

[[round]]
method = "diagonals"
day = "2026-03-21"
a = "800 mm"
b = "600 mm"
ac = "1000.22 mm"
bd = "999.80 mm"
u = "0.1 mm"

[[round]]
method = "diagonals"
day = "2026-03-22"
a = "800 mm"
b = "600 mm"
ac = "1000.03 mm"
bd = "999.97 mm"
u = "0.1 mm"
setting = "0.43 mm"
"""

SETS, HOMINGS = 8, 5
DATES = ("2026-03-07", "2026-03-08", "2026-03-14", "2026-03-15")  # two power-ups a day


def machine_toml() -> str:
    """Return the invented machine as a machine file (text)."""
    return _MACHINE


def sensors_toml() -> str:
    """Return the six invented candidates as a sensors file (text)."""
    return _SENSORS


def wiring_toml() -> str:
    """Return how the chosen sensor is wired on each side, as a wiring file (text)."""
    sides = (("left", "5 m"), ("right", "5 m"))
    circuits = "".join(_CIRCUIT.format(side=side, length=length) for side, length in sides)
    return "# Invented example: the chosen sensor on each side, an input each.\n" + circuits


def square_toml() -> str:
    """Return two rounds of squaring as a file of measurements (text)."""
    return _SQUARE


def readings_csv(seed: int = 20260307) -> str:
    """Return the invented trial as a readings file (text): 6 candidates, 2 sides, 8 power-ups of 5 homings.

    Parameters
    ----------
    seed : int
        Seed of the generator; the demo everybody sees uses the default.
    """
    rng = np.random.default_rng(seed)
    out = StringIO()
    out.write("sensor,axis,side,set,homing,deviation_mm,speed_mm_s,temperature_degc,resolution_mm,time\n")
    for planted in PLANTED:
        for row in _homings(planted, rng):
            out.write(row)
    return out.getvalue()


def _homings(planted: Planted, rng: np.random.Generator) -> list[str]:
    rows = []
    grid_phase = rng.uniform(0.0, 1.0, 2)  # where the motor's steps lie on each side
    decimals = max(0, round(-np.log10(planted.resolution_mm)))
    minute = 9 * 60 + 7 * PLANTED.index(planted)
    for power_up in range(1, SETS + 1):
        shared = rng.normal(0.0, planted.shared_mm)
        own = rng.normal(0.0, planted.between_mm, 2)
        room_degc = 15.0 + 5.0 * rng.random()
        for homing in range(1, HOMINGS + 1):
            speed = planted.speeds_mm_s[(homing + power_up - 2) % len(planted.speeds_mm_s)]
            warm = planted.warm_up_mm * np.exp(-(homing - 1) / planted.warm_up_homings)
            scatter = np.hypot(planted.within_mm, planted.jitter_s * speed)
            for side, shift in enumerate(shared + own):
                place = shift + warm + rng.normal(0.0, scatter)
                if planted.lattice_mm:
                    phase = grid_phase[side] * planted.lattice_mm
                    place = phase + planted.lattice_mm * np.round((place - phase) / planted.lattice_mm)
                    place += rng.normal(0.0, 0.0015)
                miss = planted.gross_miss
                if miss and miss[:3] == (power_up, homing, "LR"[side]):
                    place += miss[3]
                shown = np.round(place / planted.resolution_mm) * planted.resolution_mm + 0.0
                clock = minute + 240 * ((power_up - 1) % 2) + homing
                time = f"{DATES[(power_up - 1) // 2]}T{clock // 60:02d}:{clock % 60:02d}"
                rows.append(
                    f"{planted.sensor},Y,{'LR'[side]},{power_up},{homing},{shown:.{decimals}f},"
                    f"{speed:g},{room_degc + 0.2 * homing:.1f},{planted.resolution_mm:g},{time}\n"
                )
    return rows
