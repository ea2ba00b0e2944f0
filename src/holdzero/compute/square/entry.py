"""Entry: a squaring from what a person entered, in a file or on a page."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from holdzero.compute.index import power_up_jump
from holdzero.compute.racking import racking
from holdzero.compute.square.diagonals import Diagonals
from holdzero.compute.square.distances import Distance, Distances
from holdzero.compute.square.flip import Flip
from holdzero.compute.square.grid import Hole, HoleGrid
from holdzero.compute.square.keys import (
    DISTANCE_KEYS,
    HOLE_KEYS,
    METHOD_KEYS,
    METHODS,
    NEEDED,
    PLACE_KEYS,
    ROUND_KEYS,
    SETUP_KEYS,
)
from holdzero.compute.square.last_digit import finest_mm
from holdzero.compute.square.reversal import Reversal
from holdzero.compute.square.values import Event, GantrySetup, Method, Round
from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY, Key, close_to, did_you_mean, dotted, is_example, read_keys, read_toml
from holdzero.quantity import quoted

READ_OFF = {  # what each method reads off, and the tables that it stands in
    "diagonals": ("", ("ac", "bd")),
    "flip": ("", ("gap",)),
    "reversal": ("", ("rise_1", "rise_2")),
    "grid": ("hole", ("measured_x", "measured_y")),
    "distances": ("distance", ("length",)),
}
OF_ALL = {"method", "round", "hole", "distance"}


@dataclass(frozen=True, slots=True)
class SquareStated:
    """What a file asks: the gantry, its rounds, and keys that were kept but are not used."""

    setup: GantrySetup
    rounds: tuple[Round, ...]
    notes: tuple[str, ...] = ()
    example: bool = False  # marked as an invented example


def read_square(text: str, *, where: str = "") -> SquareStated:
    r"""Read a squaring file.

    Parameters
    ----------
    text : str
        TOML with `method`, the keys of the gantry, and the keys of one round, or several `[[round]]`; what
        stands at the top counts for all rounds.
    where : str, default ""
        Name of the file, for messages.

    Raises
    ------
    InputError
        Not TOML, a key missing, or a value its key cannot take; names file and dotted key.

    Examples
    --------
    >>> asked = read_square('method = "flip"\ndrive_distance = "1120 mm"\nlength = "600 mm"\ngap = "0.22 mm"')
    >>> asked.rounds[0].name, asked.setup.drive_distance_mm
    ('flip', 1120.0)
    """
    return square_from(read_toml(text, where=where, kind="squaring"), where=where)


def square_from(entered: Mapping[str, Any], *, where: str = "") -> SquareStated:
    """Make a squaring of what was entered, nested as in the file."""
    setup_names = {key.name for key in SETUP_KEYS}
    method_names = {key.name for keys in METHOD_KEYS.values() for key in keys}
    known = setup_names | {key.name for key in ROUND_KEYS} | method_names | OF_ALL
    notes = tuple(
        f"{dotted(where, name)} is kept but not used{did_you_mean(name, known)}."
        for name in entered
        if name not in known and name != EXAMPLE_KEY
    )
    return SquareStated(
        setup=setup_from(entered, where=where),
        rounds=rounds_from(entered, where=where),
        notes=notes,
        example=is_example(entered),
    )


def rounds_from(entered: Mapping[str, Any], *, where: str = "") -> tuple[Round, ...]:
    """Make the rounds of a squaring file; what stands at the top counts for all of them.

    Raises
    ------
    InputError
        `round` is no list of tables, or a round lacks something.
    """
    setup_names = {key.name for key in SETUP_KEYS}
    not_of_a_round = {*setup_names, "round", EXAMPLE_KEY}
    for_all = {name: value for name, value in entered.items() if name not in not_of_a_round}
    rounds = entered.get("round", [{}])
    if not isinstance(rounds, Sequence) or not rounds or not all(isinstance(row, Mapping) for row in rounds):
        raise InputError(
            where=dotted(where, "round"),
            found=quoted(rounds),
            need="tables [[round]]",
            do="begin each round with a line [[round]]",
        )
    several = "round" in entered
    return tuple(
        round_from(for_all | dict(table), where=where, path=(f"round {number}",) if several else ())
        for number, table in enumerate(rounds, 1)
    )


def setup_from(entered: Mapping[str, Any], *, where: str = "") -> GantrySetup:
    """Make the gantry of what was entered; keys of rounds are passed over.

    Raises
    ------
    InputError
        Without the distance between the drives.
    """
    values, _ = read_keys(_of(entered, SETUP_KEYS), SETUP_KEYS, where=where)
    if "drive_distance_mm" not in values:
        raise _missing("drive_distance", SETUP_KEYS, where=where)
    stiffness = values.pop("drive_stiffness_n_mm", None)
    lead_mm, full_steps = values.pop("lead_mm", None), values.pop("full_steps", None)
    if "screw_pitch_mm" in values:
        values.setdefault("adjust", "switch")
    return GantrySetup(
        racking=racking(
            drive_distance_mm=values.pop("drive_distance_mm"),
            left_n_mm=stiffness,
            right_n_mm=stiffness,
            guides_n_mm_rad=values.pop("racking_stiffness_n_mm_rad", None),
            natural_rad=values.pop("natural_angle_rad", None),
        ),
        power_up_jump_mm=None
        if lead_mm is None or full_steps is None
        else power_up_jump(lead_mm=lead_mm, full_steps=full_steps).skew_sd_mm,
        **values,
    )


def round_from(entered: Mapping[str, Any], *, where: str = "", path: tuple[str, ...] = ()) -> Round:
    """Make one round of what was entered; keys of other methods and of the gantry are passed over.

    Raises
    ------
    InputError
        No method, or a key missing that it needs.
    """
    name = entered.get("method")
    if name not in METHODS:
        near = close_to(str(name), METHODS)
        raise InputError(
            where=dotted(where, *path, "method"),
            found="nothing" if name is None else quoted(name),
            need=f"one of {', '.join(METHODS)}",
            do=f"did you mean {' or '.join(near)}" if near else "say how it was measured",
        )
    values, _ = read_keys(_of(entered, ROUND_KEYS), ROUND_KEYS, path=path, where=where)
    return Round(
        name=name,
        method=_method(name, entered, where, path),
        where=dotted(where, *path),
        digit_mm=_digit_mm(name, entered),
        **values,
    )


def _digit_mm(name: str, entered: Mapping[str, Any]) -> float | None:
    """Coarsest last digit that the readings of a method were written to. [mm]"""
    table, names = READ_OFF[name]
    tables = [entered] if not table else [row for row in entered.get(table, ()) if isinstance(row, Mapping)]
    return finest_mm(tables, names)


def event_from(entered: Mapping[str, Any], *, where: str = "") -> Event:
    """Make an event of what was entered.

    Raises
    ------
    InputError
        It does not say what happened.
    """
    values, _ = read_keys({"event": entered.get("what"), "day": entered.get("day")}, ROUND_KEYS, where=where)
    if not values.get("event"):
        raise InputError(
            where=dotted(where, "what"), found="nothing", need="what happened", do='write it like "crash"'
        )
    return Event(what=values["event"], day=values.get("day", ""), note=str(entered.get("note") or ""))


def step_from(sheet: Mapping[str, Any], *, where: str = "") -> Round | Event | GantrySetup | int:
    """Make one step of a squaring kept in a book: a round, an event, the gantry, or which step is taken back.

    Raises
    ------
    InputError
        It is none of these, or does not say what it needs.
    """
    for name, read in (("round", round_from), ("event", event_from), ("setup", _setup_alone)):
        if name in sheet:
            if not isinstance(sheet[name], Mapping):
                raise InputError(
                    where=where, found=quoted(sheet[name]), need=f"the keys of the {name}", do="take it back"
                )
            return read(sheet[name], where=where)
    number = sheet.get("take back")
    if type(number) is not int or number < 0:
        raise InputError(
            where=where,
            found=quoted(", ".join(map(str, sheet))) if sheet else "nothing",
            need="a round, an event, the gantry, or which of them is taken back",
            do="take it back",
        )
    return number


def _setup_alone(entered: Mapping[str, Any], *, where: str = "") -> GantrySetup:
    return setup_from({"drive_distance": "1 m"} | dict(entered), where=where)  # the machine says its own


def _method(name: str, entered: Mapping[str, Any], where: str, path: tuple[str, ...]) -> Method:
    for needed in NEEDED[name]:
        value = entered.get(needed)
        if value in (None, []) or (isinstance(value, str) and not value.strip()):
            raise _missing(needed, METHOD_KEYS[name], where=where, path=path)
    if name == "grid":
        return HoleGrid(tuple(Hole(**hole) for hole in _tables(entered, "hole", HOLE_KEYS, where, path)))
    if name == "distances":
        holes = _tables(entered, "hole", PLACE_KEYS, where, path)
        return Distances(
            holes_mm=tuple((hole["x_mm"], hole["y_mm"]) for hole in holes),
            distances=tuple(
                Distance(**table) for table in _tables(entered, "distance", DISTANCE_KEYS, where, path)
            ),
        )
    keys = METHOD_KEYS[name]
    values, _ = read_keys(_of(entered, keys), keys, path=path, where=where)
    if name == "diagonals":
        return Diagonals(**values)
    return Flip(**values) if name == "flip" else Reversal(**values)


def _tables(
    entered: Mapping[str, Any], name: str, keys: tuple[Key, ...], where: str, path: tuple[str, ...]
) -> list[dict[str, Any]]:
    """Read `[[name]]` tables, of which every key is needed."""
    rows = entered[name]
    if not isinstance(rows, Sequence) or not all(isinstance(row, Mapping) for row in rows):
        raise InputError(
            where=dotted(where, *path, name),
            found=quoted(rows),
            need=f"tables [[{name}]]",
            do=f"begin each with a line [[{name}]]",
        )
    tables = []
    for number, row in enumerate(rows, 1):
        place = (*path, f"{name} {number}")
        values, _ = read_keys(_of(row, keys), keys, path=place, where=where)
        for key in keys:
            if key.fields[0] not in values:
                raise _missing(key.name, keys, where=where, path=place)
        tables.append(values)
    return tables


def _of(entered: Mapping[str, Any], keys: tuple[Key, ...]) -> dict[str, Any]:
    return {key.name: entered[key.name] for key in keys if key.name in entered}


def _missing(name: str, keys: tuple[Key, ...], *, where: str, path: tuple[str, ...] = ()) -> InputError:
    key = next((key for key in keys if key.name == name), None)
    if key is None:
        need, do = f"tables [[{name}]]", f"begin each with a line [[{name}]]"
    else:
        need, do = f"{name} ({key.meaning[0].lower()}{key.meaning[1:]})", f'write {name} = "{key.example}"'
    return InputError(where=dotted(where, *path, name), found="nothing", need=need, do=do)
