"""Motion program: the cycles of a set as a program in plain RS-274.

The words are those of NISTIR 6556 (The NIST RS274NGC Interpreter, version 3) and no others: G1, G4, G17, G20,
G21, G53, G90, G94, M0, M2, N words and comments, a comment that begins with MSG being shown to the person.

The language has no word for a reference run. G28 and G30 only travel, at full speed, to a place remembered in
machine coordinates: they trust the very zero that is on trial and never touch the switch. So the person homes,
in a pause. Moves use G1, which the feed override slows down, and G53, which no work offset shifts.
"""

from textwrap import wrap

from holdzero.compute.plan.cycles import Cycles
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import System, plain
from holdzero.tell.safety import NOT_A_SAFETY_FUNCTION, racking_force

MOVES_BY_ITSELF = (
    "Moves by itself. First run in the air at 10 % speed, with a hand on the stop.",
    "Clear of fixtures, no tool, spindle off, nobody in reach of the axes.",
    "Emergency stop tested today? If not, test it first.",
    "Local codes come first; work on mains is for a licensed person.",
)
"""Before the program, on the page and in its header (common practice, no source; the words are ours)."""

INCH_MM = 25.4
NO_WORDS = str.maketrans({"(": "[", ")": "]", "%": "per cent", ";": ","})


def motion_program(cycles: Cycles, *, system: System = "metric", notes: tuple[str, ...] = ()) -> str:
    """Write the program.

    Parameters
    ----------
    cycles : Cycles
        Places checked against the stated travel.
    system : {"metric", "inch"}
        G21 or G20.
    notes : tuple of str
        Further cautions for the header, e.g. of a gantry or a vertical axis.

    Returns
    -------
    str
        Lines that end in a line feed; ASCII.

    Notes
    -----
    Each cycle says its modal words again and begins with a line number in hundreds, so that the program can be
    started at any cycle: homing may have changed them, and not every control homes in a pause.
    """
    axis, reach = cycles.reach.axis, cycles.reach
    units = _Units(system)
    modal = f"G17 {units.word} G90 G94"
    lines = [*_comments("CAUTION"), *(line for text in MOVES_BY_ITSELF for line in _comments(text))]
    lines += [line for text in (*notes, NOT_A_SAFETY_FUNCTION) for line in _comments(text)]
    lines += [
        *_comments(f"Axis {axis}, machine coordinates, {units.name}"),
        *_comments(f"stated travel {units.place(reach.low_mm)} to {units.place(reach.high_mm)}"),
        *_comments(f"home at {units.place(cycles.home_mm)}"),
        *_comments(f"set {cycles.set_number}: {len(cycles.starts_mm)} homings; seed {cycles.seed}"),
    ]
    rise = _rise(cycles, units)
    lines += _comments("Not for a machine whose travel or home differs from these. Home all axes first.")
    if not rise and axis != "Z":
        lines += _comments("No dry-run height was given: raise the tool clear of everything by hand.")
    lines += ["N10 (MSG, READ THE HEADER. STOP TESTED TODAY? ALL AXES HOMED? THEN GO ON)", "N20 M0"]
    for number, start_mm in enumerate(cycles.starts_mm, 1):
        at, count = 100 * number, f"{number} OF {len(cycles.starts_mm)}"
        lines += [
            f"N{at} {modal}",
            *(f"N{at + 10} {move}" for move in rise),
            (
                f"N{at + 20} G53 G1 {axis}{units.inside(start_mm, reach.low_mm, reach.high_mm)} "
                f"F{units.feed(cycles.feed_mm_s)}"
            ),
            f"N{at + 30} G4 P{cycles.settle_s:.1f}",
            f"N{at + 40} (MSG, {count}: HOME {axis} NOW)",
            f"N{at + 50} M0",
            f"N{at + 60} G4 P{cycles.settle_s:.1f}",
            f"N{at + 70} (MSG, {count}: HANDS OFF, READ, WRITE, THEN GO ON)",
            f"N{at + 80} M0",
        ]
    end = 100 * (len(cycles.starts_mm) + 1)
    return "\n".join([*lines, f"N{end} (MSG, SET DONE)", f"N{end + 10} M2"]) + "\n"


def notes_for(axis: Axis | None) -> tuple[str, ...]:
    """Return the further cautions of an axis: two motors, or one that falls.

    Parameters
    ----------
    axis : Axis or None
        None: no machine is known.
    """
    sentences = [racking_force(axis.moving.thrust_n)] if axis and axis.motors == 2 else []
    sentences += ["Drives off: it may fall; support it."] if axis and axis.moving.vertical else []
    return tuple(sentences)


class _Units:
    """Lengths as the program writes them."""

    def __init__(self, system: System) -> None:
        self.inch = system == "inch"
        self.word, self.name = ("G20", "inch") if self.inch else ("G21", "mm")

    def place(self, place_mm: float) -> str:
        """A place, to 0.0001 inch or 0.001 mm."""
        size, decimals = (place_mm / INCH_MM, 4) if self.inch else (place_mm, 3)
        return f"{size + 0.0:.{decimals}f}"

    def inside(self, place_mm: float, low_mm: float, high_mm: float) -> str:
        """A place that rounding does not carry out of the travel."""
        step, size = (1e-4, INCH_MM) if self.inch else (1e-3, 1.0)
        written = float(self.place(place_mm))
        if written * size > high_mm:
            written -= step
        elif written * size < low_mm:
            written += step
        return f"{written + 0.0:.{4 if self.inch else 3}f}"

    def feed(self, feed_mm_s: float) -> str:
        """Feed per minute, as G94 takes it."""
        return f"{60 * feed_mm_s / INCH_MM:.2f}" if self.inch else f"{60 * feed_mm_s:.1f}"


def _rise(cycles: Cycles, units: _Units) -> tuple[str, ...]:
    """The move to the dry-run height, where there is one."""
    if cycles.height_mm is None or cycles.height_reach is None:
        return ()
    height = units.inside(cycles.height_mm, cycles.height_reach.low_mm, cycles.height_reach.high_mm)
    return (f"G53 G1 Z{height} F{units.feed(cycles.feed_mm_s)}",)


def _comments(text: str) -> list[str]:
    """Text as comments: ASCII, in lines a small display can show, without signs a control may take for its own."""
    readable = plain(text).encode("ascii", "replace").decode().translate(NO_WORDS)
    return [f"({line})" for line in wrap(readable, 68)]
