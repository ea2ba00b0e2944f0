"""Keys: what a machine's form may say.

The one table from which files are read and pages and manuals are made: key, kind, fields, example,
meaning. Lengths along an axis count from the hard stop at the homing end into the work.
"""

from collections.abc import Mapping

from holdzero.form import (
    ANY,
    NOT_NEGATIVE,
    SURROUNDINGS,
    Key,
    between,
    choice,
    half_width,
    limit_over,
    one_quantity,
    text,
    whole,
    with_tolerance,
    words,
    yes_or_no,
)

GROWING = {  # what grows, and other ways to write it; how much is in `compute.material`
    "steel": (),
    "aluminium": ("aluminum",),
    "grey cast iron": ("cast iron", "gray cast iron"),
    "granite": (),
    "brass": (),
}

MACHINE_KEYS = (
    text("name", "name", "Plywood router", "What the machine is called"),
    between(
        "supply",
        "voltage",
        "supply_low_v",
        "supply_high_v",
        "24 V +- 10 %",
        "Voltage the machine offers its switches; a candidate that needs another is ruled out",
    ),
    one_quantity(
        "test_again_after",
        "time",
        "test_again_after_s",
        "26 weeks",
        "How long a test of stop, limit or broken wire counts before it has to be done again",
    ),
    yes_or_no("example", "example", "Whether the figures are an invented example's, not yet a machine's own"),
)

REQUIREMENT_KEYS = (
    limit_over(
        "squareness",
        "squareness_mm",
        "squareness_over_mm",
        "0.15 mm over 800 mm",
        "How far the gantry may be out of square, and over which length",
    ),
    one_quantity(
        "position", "length", "position_mm", "0.05 mm", "A homing lands within plus or minus this of the datum"
    ),
    one_quantity("risk", "share", "risk", "1 in 1000", "Share of homings allowed outside"),
    whole(
        "datum_homings",
        "datum_homings",
        "10",
        "Power-ups averaged when the datum was set; left out, the datum is taken as exact",
    ),
    one_quantity(
        "life",
        "cycles",
        "life_cycles",
        "20000 cycles",
        "Homings a switch has to last for; a candidate that lasts for fewer is ruled out",
    ),
    one_quantity(
        "homings_per_day", "number", "homings_per_day", "4", "How often it is homed, for the years a switch lasts"
    ),
    one_quantity(
        "years", "number", "years", "10", "Years a switch has to last for at that use, two trips a homing"
    ),
    one_quantity("price_limit", "price", "price_limit", "40.00", "Most that one switch may cost"),
)

RACKING_KEYS = (
    one_quantity(
        "drive_stiffness", "stiffness", "drive_stiffness_n_mm", "2000 N/mm", "Stiffness of one side's drive"
    ),
    one_quantity(
        "racking_stiffness",
        "racking stiffness",
        "racking_stiffness_n_mm_rad",
        "200 N m/mrad",
        "Stiffness of gantry and guides against racking",
        sign=NOT_NEGATIVE,
    ),
    one_quantity(
        "natural_angle",
        "angle",
        "natural_angle_rad",
        "0.3 mrad",
        "Angle out of square that the guides would take by themselves",
        sign=ANY,
    ),
)

AXIS_GROUPS: Mapping[str, tuple[Key, ...]] = {
    "Axis": (
        choice(
            "moves",
            "moves",
            {"gantry": (), "carriage": (), "table": (), "head": ()},
            "What moves along the axis; a head may fall, and is asked which way weight pulls it",
        ),
        one_quantity("travel", "length", "travel_mm", "1300 mm", "Way from end to end"),
        whole("motors", "motors", "2", "Motors that drive it side by side, 1 or 2"),
        one_quantity(
            "drive_distance", "length", "drive_distance_mm", "1120 mm", "Distance between the two drives"
        ),
        words(
            "surroundings",
            "surroundings",
            SURROUNDINGS,
            "chips, coolant",
            "What gets at the switch; a candidate that does not stand it is ruled out",
        ),
        between(
            "temperature",
            "temperature",
            "temperature_low_degc",
            "temperature_high_degc",
            "15 degC to 30 degC",
            "Between which temperatures the machine has to hold",
        ),
        choice(
            "temperature_swing",
            "temperature_swing",
            {"range": (), "daily": ()},
            "Whether any temperature of the range is as likely as another, or it swings up and down every day",
        ),
    ),
    "Drive": (
        one_quantity("lead", "length", "lead_mm", "10 mm", "Way per motor turn"),
        one_quantity(
            "screw_lead",
            "length",
            "screw_lead_mm",
            "5 mm",
            "Way per turn of the screw, where a gear or belt makes it another than that of a motor turn",
        ),
        one_quantity("belt_pitch", "length", "belt_pitch_mm", "3 mm", "From one tooth of the belt to the next"),
        whole("full_steps", "full_steps", "200", "Full steps per motor turn"),
        whole("microsteps", "microsteps", "16", "Microsteps per full step"),
        whole(
            "counts_per_turn", "counts_per_turn", "4000", "Encoder counts per motor turn, all four edges counted"
        ),
        one_quantity(
            "step_phase",
            "share",
            "step_phase",
            "0.5",
            "Where in a step of the grid the mean trip lies, from 0 to 1; left out, unknown",
            sign=NOT_NEGATIVE,
        ),
    ),
    "Index pulse": (
        one_quantity("index_pitch", "length", "index_pitch_mm", "5 mm", "Way from one index pulse to the next"),
        one_quantity(
            "index_phase",
            "share",
            "index_phase",
            "0.5",
            "From the start of the search to the next index, as a share of the pitch",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "index_shift",
            "length",
            "index_shift_mm",
            "0.05 mm",
            "Largest shift of the switch against the index since the datum was set",
            sign=NOT_NEGATIVE,
        ),
        choice(
            "index_search",
            "index_search",
            {"on": (), "back": ()},
            "Which way the index is searched: on towards the hard stop, or back on the way out",
        ),
    ),
    "Speeds": (
        one_quantity(
            "top_speed", "speed", "top_speed_mm_s", "150 mm/s", "Fastest that anyone can move it before homing"
        ),
        one_quantity(
            "approach_speed", "speed", "approach_speed_mm_s", "40 mm/s", "Speed of the search for the switch"
        ),
        one_quantity("creep_speed", "speed", "creep_speed_mm_s", "2 mm/s", "Speed of the search for zero"),
        one_quantity("back_off_speed", "speed", "back_off_speed_mm_s", "10 mm/s", "Speed away from the switch"),
        one_quantity(
            "acceleration", "acceleration", "acceleration_mm_s2", "800 mm/s2", "Acceleration, and braking"
        ),
        one_quantity("jerk", "jerk", "jerk_mm_s3", "8000 mm/s3", "Jerk, where the controller limits it"),
    ),
    "From trip to reaction": (
        one_quantity(
            "delay", "time", "delay_s", "12 ms", "Longest time from trip to reaction, all parts", sign=NOT_NEGATIVE
        ),
        one_quantity(
            "response", "time", "response_s", "0.1 ms", "Part of the delay: the sensor", sign=NOT_NEGATIVE
        ),
        one_quantity(
            "edge_delay",
            "time",
            "edge_delay_s",
            "0.9 ms",
            "Part of the delay: the slower edge to the input's threshold",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "filter", "time", "filter_s", "5 ms", "Part of the delay: input filter or debounce", sign=NOT_NEGATIVE
        ),
        one_quantity(
            "poll",
            "time",
            "poll_s",
            "1 ms",
            "Part of the delay: from one look at the input to the next",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "controller_delay",
            "time",
            "controller_s",
            "2 ms",
            "Part of the delay: from what the controller reads to the brake",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "delay_jitter",
            "time",
            "delay_jitter_s",
            "0.1 ms",
            "Standard deviation of the delay, polling left out",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "limit_delay",
            "time",
            "limit_delay_s",
            "12 ms",
            "Longest delay of the limit input, where it is another",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "limit_brake",
            "acceleration",
            "limit_brake_mm_s2",
            "800 mm/s2",
            "Braking after a limit trips, where it is not the acceleration",
        ),
        choice(
            "position_taken",
            "position_taken",
            {"edge": (), "rest": ()},
            "What becomes zero: the count stored at the edge, or where the axis comes to rest",
        ),
        yes_or_no("proves_release", "proves_release", "Whether homing also demands to see the switch release"),
    ),
    "What moves": (
        one_quantity("moving_mass", "mass", "moving_mass_kg", "28 kg", "Mass that moves along the axis"),
        one_quantity(
            "rotor_inertia",
            "inertia",
            "rotor_inertia_kg_m2",
            "1.2e-4 kg m2",
            "Inertia of what turns at one motor, seen there; of two motors both count",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "friction",
            "force",
            "friction_n",
            "40 N",
            "Friction of the guides and of all drives of the axis together",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "thrust", "force", "thrust_n", "600 N", "Greatest thrust of one motor; of two motors both count"
        ),
        choice(
            "gravity",
            "gravity",
            {"towards home": (), "away from home": (), "level": ("none",)},
            "Which way weight pulls a vertical axis; left out, the axis is level, but one called Z is asked",
        ),
        one_quantity(
            "bumper_stroke", "length", "bumper_stroke_mm", "5 mm", "Way the bumper gives at the hard stop"
        ),
        one_quantity("bumper_energy", "energy", "bumper_energy_j", "2 J", "Energy the bumper may take in one hit"),
    ),
    "Places": (
        one_quantity(
            "limit_trip",
            "length",
            "limit_trip_mm",
            "6 mm",
            "Hard stop to where the limit trips",
            sign=NOT_NEGATIVE,
        ),
        one_quantity("home_trip", "length", "home_trip_mm", "12 mm", "Hard stop to where the home switch trips"),
        with_tolerance(
            "differential_travel",
            "length",
            "differential_travel_mm",
            "differential_travel_half_width_mm",
            "0.3 mm +- 0.2 mm",
            "Between trip and release of the home switch",
            sign=NOT_NEGATIVE,
        ),
        one_quantity("back_off", "length", "back_off_mm", "5 mm", "Way back before the search for zero"),
        choice(
            "back_off_from",
            "back_off_from",
            {"rest": (), "trip": ()},
            "Where the way back counts from: rest, or the trip",
        ),
        one_quantity(
            "flag_home", "length", "flag_home_mm", "14 mm", "Length over which the flag keeps the home switch made"
        ),
        one_quantity(
            "flag_limit", "length", "flag_limit_mm", "8 mm", "Length over which the flag keeps the limit made"
        ),
        one_quantity(
            "sensor_overtravel",
            "length",
            "sensor_overtravel_mm",
            "10 mm",
            "How far beyond its trip the home switch can be pressed before it breaks",
        ),
        choice(
            "limit_switch",
            "limit_switch",
            {"own": (), "shared": (), "none": ()},
            "Whether the limit has a switch of its own, shares the home switch, or there is none",
        ),
        choice(
            "home_switch_ends",
            "home_switch_ends",
            {"one": (), "both": ()},
            "Whether the home input is made at one end, or at both",
        ),
        between(
            "soft_limits",
            "length",
            "soft_limit_low_mm",
            "soft_limit_high_mm",
            "20 mm to 1280 mm",
            "Between which places the controller keeps the axis once it is homed",
            sign=NOT_NEGATIVE,
        ),
        between(
            "work_zone",
            "length",
            "work_low_mm",
            "work_high_mm",
            "30 mm to 1270 mm",
            "Between which places the work lies",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "far_limit_trip",
            "length",
            "far_limit_trip_mm",
            "6 mm",
            "At the other end: its hard stop to where the limit trips",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "far_flag_limit",
            "length",
            "far_flag_limit_mm",
            "8 mm",
            "At the other end: length over which the flag keeps the limit made",
        ),
    ),
    "The flag as a target": (
        one_quantity(
            "rated_distance",
            "length",
            "rated_distance_mm",
            "4 mm",
            "Rated operating distance of a proximity sensor",
        ),
        one_quantity("sensor_face", "length", "sensor_face_mm", "12 mm", "Diameter of its face"),
        text("flag_material", "flag_material", "mild steel", "What the flag is made of"),
        one_quantity(
            "flag_factor",
            "number",
            "flag_factor",
            "0.4",
            "Reduction factor for the flag's material from the sensor's sheet, instead of the material",
        ),
        one_quantity("flag_side", "length", "flag_side_mm", "12 mm", "Shorter side of the flag's face"),
        one_quantity("flag_thickness", "length", "flag_thickness_mm", "1 mm", "Thickness of the flag"),
        with_tolerance(
            "flag_gap",
            "length",
            "flag_gap_mm",
            "flag_gap_half_width_mm",
            "2 mm +- 0.3 mm",
            "Gap from the sensor's face to the flag as it passes",
        ),
        choice(
            "flag_approach",
            "flag_approach",
            {"side": (), "end": ()},
            "Whether the flag passes the face from the side, or comes at it",
        ),
        one_quantity(
            "clear_gap",
            "length",
            "clear_gap_mm",
            "12 mm",
            "Gap from the face to the nearest metal while the flag is away",
        ),
    ),
    "Two sides": (
        one_quantity("abort_window", "length", "abort_window_mm", "1 mm", "Skew at which the controller gives up"),
        one_quantity(
            "start_skew",
            "length",
            "start_skew_mm",
            "0.2 mm",
            "Largest skew a homing may start with",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "delay_spread",
            "time",
            "delay_spread_s",
            "1 ms",
            "Largest difference of delay between the sides",
            sign=NOT_NEGATIVE,
        ),
        *RACKING_KEYS,
        one_quantity(
            "overhang",
            "length",
            "overhang_mm",
            "100 mm",
            "How far the tool reaches beyond a drive",
            sign=NOT_NEGATIVE,
        ),
    ),
    "What moves the trip": (
        one_quantity(
            "switch_spread",
            "length",
            "switch_spread_mm",
            "0.003 mm",
            "Standard deviation of the trip itself, where it is known otherwise than from a trial",
            sign=NOT_NEGATIVE,
        ),
        whole("switch_homings", "switch_homings", "30", "Homings that this standard deviation was found from"),
        one_quantity(
            "supply_drift",
            "supply drift",
            "supply_drift_mm_v",
            "0.5 um/V",
            "Drift of the trip with the supply",
            sign=ANY,
        ),
        half_width("supply_variation", "voltage", "supply_variation_v", "+- 0.5 V", "How far the supply varies"),
        one_quantity(
            "trip_drift",
            "drift",
            "trip_drift_mm_k",
            "+1 um/K",
            "Drift of the trip with temperature: + further from the hard stop as it warms up, − nearer to it; "
            "without a sign it is taken to go the same way as growth",
            sign=ANY,
        ),
        half_width(
            "side_temperature",
            "temperature difference",
            "side_temperature_k",
            "+- 0.5 K",
            "How far the temperature of the right side may differ from that of the left: their difference",
        ),
        one_quantity(
            "growth_length",
            "length",
            "growth_length_mm",
            "+300 mm",
            "Length that grows with temperature between the sensor and the datum: + where that carries the trip "
            "further from the hard stop, − nearer to it; without a sign it is taken to go the way of the drift",
            sign=ANY,
        ),
        choice("growth_material", "growth_material", GROWING, "What grows"),
        with_tolerance(
            "growth_coefficient",
            "expansion",
            "growth_per_k",
            "growth_half_width_per_k",
            "11.5e-6/K +- 2e-6/K",
            "Its expansion coefficient, instead of the material",
            sign=ANY,
        ),
        half_width("bracket_flex", "length", "bracket_flex_mm", "+- 2 um", "How far the sensor's bracket gives"),
        half_width(
            "trip_wear",
            "length",
            "trip_wear_mm",
            "+- 5 um",
            "How far wear of switch, roller and flag moves the trip before the datum is set anew",
        ),
        one_quantity(
            "backlash",
            "length",
            "backlash_mm",
            "0.02 mm",
            "Lost on a reversal: what the axis lacks, by an indicator, when it comes back by the same steps",
            sign=NOT_NEGATIVE,
        ),
        half_width(
            "belt_stretch",
            "length",
            "belt_stretch_mm",
            "+- 5 um",
            "How far belts give, from homing to homing, under the friction there is",
        ),
        half_width(
            "coupling_wind_up",
            "length",
            "coupling_wind_up_mm",
            "+- 2 um",
            "How far coupling and screw wind up, from homing to homing, seen along the axis",
        ),
        one_quantity(
            "drive_warming",
            "temperature difference",
            "drive_warming_k",
            "10 K",
            "How much warmer screw or rack gets in use than it is at the first homing",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "drive_growth_length",
            "length",
            "drive_growth_length_mm",
            "200 mm",
            "Length of screw or rack that gets warmer, from where it is held to the table at home",
            sign=NOT_NEGATIVE,
        ),
        choice("drive_growth_material", "drive_growth_material", GROWING, "What screw or rack is made of"),
        one_quantity(
            "flag_stiffness",
            "stiffness",
            "flag_stiffness_n_mm",
            "50 N/mm",
            "Stiffness of flag and bracket against a switch that is pressed",
        ),
        with_tolerance(
            "switch_force",
            "force",
            "switch_force_n",
            "switch_force_half_width_n",
            "1.2 N +- 0.3 N",
            "Force that trips the switch, and how far it varies; without a tolerance all of it may",
            sign=NOT_NEGATIVE,
        ),
        one_quantity(
            "speed_ripple",
            "share",
            "speed_ripple",
            "2 %",
            "Standard deviation of the speed, as a share of it",
            sign=NOT_NEGATIVE,
        ),
    ),
}

AXIS_KEYS = tuple(key for group in AXIS_GROUPS.values() for key in group)
OF_TWO_MOTORS = frozenset(  # say nothing of an axis on one
    {"drive_distance", "side_temperature"} | {key.name for key in AXIS_GROUPS["Two sides"]}
)
