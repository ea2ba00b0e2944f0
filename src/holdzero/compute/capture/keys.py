"""Keys: what the map of a capture may say."""

from collections.abc import Sequence
from typing import Any

from holdzero.errors import InputError
from holdzero.form import Key, choice, one_quantity, text
from holdzero.quantity import quoted

SIDES = ("L", "R")


def read_switches(entered: Any, where: str) -> tuple[tuple[tuple[str, str], ...]]:
    """Read the switches: a list of channels, or a table of the two sides. Gives pairs of channel and side.

    >>> read_switches(["SW"], ""), read_switches({"L": "SW_L", "R": "SW_R"}, "")
    (((('SW', ''),),), ((('SW_L', 'L'), ('SW_R', 'R')),))
    """
    pairs: list[tuple[Any, str]] = []
    if isinstance(entered, str):
        pairs = [(name, "") for name in entered.split(",")]
    elif isinstance(entered, dict) and set(entered) <= set(SIDES):
        pairs = [(entered[side], side) for side in SIDES if side in entered]
    elif isinstance(entered, Sequence):
        pairs = [(name, "") for name in entered]
    names = [" ".join(name.split()) if isinstance(name, str) else "" for name, _ in pairs]
    if not pairs or not all(names) or len(set(names)) < len(names):
        raise InputError(
            where=where,
            found=quoted(entered),
            need="one channel or more, each once",
            do='write it like ["SW"] or { L = "SW_L", R = "SW_R" }',
        )
    return (tuple((name, side) for name, (_, side) in zip(names, pairs, strict=True)),)


def _names(entered: Any, where: str) -> tuple[tuple[str, ...]]:
    if isinstance(entered, str):
        entered = entered.split(",")
    if not isinstance(entered, list | tuple) or not all(isinstance(name, str) for name in entered):
        raise InputError(where=where, found=quoted(entered), need="a list of channels", do='write it like ["SW"]')
    return (tuple(" ".join(name.split()) for name in entered),)


CAPTURE_KEYS = (
    one_quantity(
        "count",
        "length",
        "count_mm",
        "0.01 mm",
        "Way of one count (four to a cycle of an encoder) or of one step",
    ),
    text("a", "a", "A", "Channel of encoder signal A"),
    text("b", "b", "B", "Channel of encoder signal B"),
    text("step", "step", "STEP", "Channel of the step signal, instead of a and b; it counts as it rises"),
    text("direction", "direction", "DIR", "Channel of the direction signal"),
    text("index", "index", "Z", "Channel of the index pulse"),
    Key("switches", ("switches",), "Channels of the switches, in a list or by side L and R", "SW", read_switches),
    Key("active_low", ("active_low",), "Switches that read 0 when tripped", "SW", _names),
    choice("inward", "inward", {"+": ("plus",), "-": ("minus",)}, "Whether the count rises on the way in"),
    one_quantity("quiet", "time", "quiet_s", "20 ms", "Edges nearer to each other than this belong to one event"),
    one_quantity("rate", "frequency", "rate_hz", "1 MHz", "Samples a second, where the file carries no time"),
    choice(
        "debounce",
        "debounce",
        {"first edge": ("first",), "quiet": ()},
        "What the controller does: take the first edge and lock out, or wait until it is quiet",
    ),
    one_quantity("approach_speed", "speed", "approach_mm_s", "20 mm/s", "Speed of the search for the switch"),
)
