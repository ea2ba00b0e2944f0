"""Entry: the map of a capture from what a person entered, in a file or on a page."""

from collections.abc import Mapping
from typing import Any

from holdzero.compute.capture.keys import CAPTURE_KEYS
from holdzero.compute.capture.values import CaptureMap, SwitchChannel
from holdzero.errors import InputError
from holdzero.form import did_you_mean, dotted, read_keys, read_toml, table
from holdzero.quantity import quoted

_PLACE = ("capture",)


def read_capture_map(text: str, *, where: str = "") -> CaptureMap:
    r"""Read the map of a capture.

    Parameters
    ----------
    text : str
        TOML with the table ``[capture]``.
    where : str, default ""
        Name of the file, for messages.

    Raises
    ------
    InputError
        Not TOML, a key missing, or a value its key cannot take; names file and dotted key.

    Examples
    --------
    >>> channels = read_capture_map('[capture]\ncount = "0.01 mm"\na = "A"\nb = "B"\nswitches = ["SW"]')
    >>> channels.channels, channels.count_mm
    (('A', 'B', '', 'SW'), 0.01)
    """
    return capture_map_from(read_toml(text, where=where, kind="capture map"), where=where)


def capture_map_from(entered: Mapping[str, Any], *, where: str = "") -> CaptureMap:
    """Make a map of what was entered, nested as in the file."""
    if "capture" not in entered:
        raise InputError(
            where=where,
            found="no table [capture]" + did_you_mean(next(iter(entered), ""), _PLACE),
            need="a capture map (TOML, with [capture])",
            do='write [capture] with count = "0.01 mm" below',
        )
    fields, notes = read_keys(table(entered, "capture", where=where), CAPTURE_KEYS, path=_PLACE, where=where)
    unused = tuple(
        f"{dotted(where, name)} is kept but not used." for name in entered if name not in ("capture", "tap")
    )
    pairs = {names: [name for name in names if name in fields] for names in (("a", "b"), ("step", "direction"))}
    for first, second in pairs:
        written = pairs[first, second]
        if len(written) == 1:
            raise _missing(second if written == [first] else first, where, f"{first} and {second} together")
    if all(pairs.values()):
        raise InputError(
            where=dotted(where, *_PLACE, "step"),
            found="a and b, and step and direction",
            need="one of the two",
            do="leave out what the file does not count by",
        )
    if not any(pairs.values()):
        raise _missing("a", where, "channels that count: a and b of an encoder, or step and direction")
    for name, key in (("count", "count_mm"), ("switches", "switches")):
        if key not in fields:
            meaning = next(line.meaning for line in CAPTURE_KEYS if line.name == name)
            raise _missing(name, where, f"{name} ({meaning[0].lower()}{meaning[1:]})")
    steps = bool(pairs["step", "direction"])
    names = [name for name, _ in fields["switches"]]
    low = fields.get("active_low", ())
    for name in low:
        if name not in names:
            raise InputError(
                where=dotted(where, *_PLACE, "active_low"),
                found=quoted(name) + did_you_mean(name, names),
                need=f"some of the switches: {', '.join(names)}",
                do="put the name right",
            )
    channels = CaptureMap(
        count_mm=fields["count_mm"],
        first=fields["step" if steps else "a"],
        second=fields["direction" if steps else "b"],
        switches=tuple(SwitchChannel(name, side, name in low) for name, side in fields["switches"]),
        steps=steps,
        index=fields.get("index", ""),
        inward=-1 if fields.get("inward") == "-" else 1,
        quiet_s=fields.get("quiet_s"),
        rate_hz=fields.get("rate_hz"),
        debounce=fields.get("debounce"),
        approach_mm_s=fields.get("approach_mm_s"),
        notes=(*notes, *unused),
    )
    used = [name for name in channels.channels if name]
    doubled = next((name for name in used if used.count(name) > 1), None)
    if doubled:
        raise InputError(
            where=dotted(where, *_PLACE),
            found=f"{quoted(doubled)} twice",
            need="a channel of its own for each signal",
            do="put the names right",
        )
    return channels


def _missing(name: str, where: str, need: str) -> InputError:
    example = next(key.example for key in CAPTURE_KEYS if key.name == name)
    return InputError(
        where=dotted(where, *_PLACE, name), found="nothing", need=need, do=f'write {name} = "{example}"'
    )
