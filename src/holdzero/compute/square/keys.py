"""Keys: what a squaring's form may say.

The one table from which files are read and pages and manuals are made. Keys of a round may stand at the
top, for all rounds, or in a `[[round]]`.
"""

from collections.abc import Mapping

from holdzero.form import ANY, NOT_NEGATIVE, Key, choice, limit_over, one_quantity, text, whole
from holdzero.inputs.machine.keys import RACKING_KEYS

SETUP_KEYS = (
    one_quantity("drive_distance", "length", "drive_distance_mm", "1120 mm", "Distance between the two drives"),
    choice("homing_end", "homing_end", {"low": (), "high": ()}, "End of y at which the gantry homes"),
    one_quantity("spread", "length", "spread_mm", "0.004 mm", "Spread of one side's home position, from a trial"),
    choice(
        "adjust",
        "adjust",
        {"offset": (), "switch": ("flag", "screw")},
        "What is set: an offset commanded after the trip, or where a switch or its flag stands",
    ),
    one_quantity(
        "screw_pitch",
        "length",
        "screw_pitch_mm",
        "0.7 mm",
        "Pitch of the screw that moves the right side's switch",
    ),
    choice(
        "clockwise",
        "clockwise",
        {"back": (), "forward": ()},
        "Which way a clockwise turn of that screw makes the right side stop",
    ),
    limit_over(
        "squareness",
        "squareness_mm",
        "squareness_over_mm",
        "0.15 mm over 800 mm",
        "How far the gantry may be out of square, and over which length",
    ),
    *RACKING_KEYS,
    one_quantity("thrust", "force", "thrust_n", "600 N", "Greatest thrust of one drive"),
    one_quantity(
        "stop_spread",
        "length",
        "stop_spread_mm",
        "0.05 mm",
        "Spread of one side pushed against its stop before power, where that is how it is squared",
        sign=NOT_NEGATIVE,
    ),
    one_quantity(
        "lead", "length", "lead_mm", "10 mm", "Way per motor turn, for stepping motors without an encoder"
    ),
    whole("full_steps", "full_steps", "200", "Full steps per motor turn, for stepping motors without an encoder"),
)

ROUND_KEYS = (
    one_quantity("u", "length", "u_mm", "0.1 mm", "Standard uncertainty of one length read"),
    one_quantity(
        "setting",
        "length",
        "setting_mm",
        "0.20 mm",
        "Offset in force when it was measured; plus: right side brought back",
        sign=ANY,
    ),
    text("day", "day", "2026-03-14", "Day"),
    text("note", "note", "plywood test piece, 21 degC", "Remark"),
    text(
        "event",
        "event",
        "crash",
        "What happened since the round before (crash, bracket touched, belt changed, machine moved): a new "
        "baseline",
    ),
    one_quantity(
        "back_off_left",
        "length",
        "back_off_left_mm",
        "5.0 mm",
        "How far the left side was seen to back off its switch",
        sign=NOT_NEGATIVE,
    ),
    one_quantity(
        "back_off_right",
        "length",
        "back_off_right_mm",
        "5.0 mm",
        "How far the right side was seen to back off its switch",
        sign=NOT_NEGATIVE,
    ),
)

METHOD_KEYS: Mapping[str, tuple[Key, ...]] = {
    "diagonals": (
        one_quantity("a", "length", "a_mm", "1000 mm", "Side along x, A to B"),
        one_quantity("b", "length", "b_mm", "800 mm", "Side along y, B to C"),
        one_quantity("ac", "length", "ac_mm", "1280.82 mm", "Diagonal from the low left corner, A to C"),
        one_quantity("bd", "length", "bd_mm", "1280.43 mm", "Diagonal from the low right corner, B to D"),
        one_quantity(
            "a_opposite", "length", "a_opposite_mm", "1000 mm", "The other side along x, D to C; shows a trapezium"
        ),
        one_quantity(
            "b_opposite", "length", "b_opposite_mm", "800 mm", "The other side along y, A to D; shows a trapezium"
        ),
    ),
    "flip": (
        one_quantity("length", "length", "length_mm", "600 mm", "Length of the cut across"),
        one_quantity(
            "gap",
            "length",
            "gap_mm",
            "0.22 mm",
            "Gap at one end while the other touches; plus: it opens at the right",
            sign=ANY,
        ),
    ),
    "reversal": (
        one_quantity("length", "length", "length_mm", "200 mm", "Way along x"),
        one_quantity(
            "rise_1",
            "length",
            "rise_1_mm",
            "12 um",
            "Reading at the right end less reading at the left; plus: plunger pressed in",
            sign=ANY,
        ),
        one_quantity("rise_2", "length", "rise_2_mm", "4 um", "The same with the square turned over", sign=ANY),
    ),
    "grid": (),
    "distances": (),
}
NEEDED = {
    "diagonals": ("a", "b", "ac", "bd"),
    "flip": ("length", "gap"),
    "reversal": ("length", "rise_1", "rise_2"),
    "grid": ("hole",),
    "distances": ("hole", "distance"),
}

PLACE_KEYS = (
    one_quantity("x", "length", "x_mm", "400 mm", "Where the hole was commanded, along x", sign=ANY),
    one_quantity("y", "length", "y_mm", "300 mm", "Where the hole was commanded, along y", sign=ANY),
)
HOLE_KEYS = (
    *PLACE_KEYS,
    one_quantity("measured_x", "length", "measured_x_mm", "400.08 mm", "Where it was measured, along x", sign=ANY),
    one_quantity("measured_y", "length", "measured_y_mm", "300.02 mm", "Where it was measured, along y", sign=ANY),
)
DISTANCE_KEYS = (
    whole("from", "first", "1", "Number of a hole, counted from 1"),
    whole("to", "second", "3", "Number of another"),
    one_quantity("length", "length", "length_mm", "1000.19 mm", "Distance measured between them"),
)

METHODS = tuple(METHOD_KEYS)
EVENTS = (
    "crash",
    "bracket touched",
    "flag touched",
    "switch changed",
    "cable changed",
    "belt changed",
    "controller settings changed",
    "machine moved",
)
