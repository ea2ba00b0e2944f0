"""Entry: a machine from what a person entered, in a file or on a page, and back."""

from collections.abc import Mapping
from typing import Any

from holdzero.errors import InputError
from holdzero.form import did_you_mean, dotted, name_of, read_keys, read_toml, table, write_toml
from holdzero.form.bounds import refuse_many_axes
from holdzero.inputs.machine.keys import AXIS_KEYS, MACHINE_KEYS, REQUIREMENT_KEYS
from holdzero.inputs.machine.values import Axis, Machine, Requirement

TABLES = ("machine", "requirement", "axes")
FORMER_NAMES = {"planner": "controller_delay"}  # keys of an axis as first called, and as called now


def read_machine(text: str, *, where: str = "") -> Machine:
    r"""Read a machine file.

    Parameters
    ----------
    text : str
        TOML with the tables ``[machine]``, ``[requirement]`` and one ``[axes.NAME]`` an axis.
    where : str, default ""
        Name of the file, for messages.

    Returns
    -------
    Machine
        Canonical units; what was written stays in `entered`, unknown keys are named in `notes`.

    Raises
    ------
    InputError
        Not TOML, no axis, or a value its key cannot take; names file and dotted key.

    Examples
    --------
    >>> read_machine('[axes.Y]\nlead = "0.5 in"').axis("Y").drive.lead_mm
    12.7
    """
    return machine_from(read_toml(text, where=where, kind="machine"), where=where)


def machine_from(entered: Mapping[str, Any], *, where: str = "") -> Machine:
    """Make a machine of what was entered.

    Parameters
    ----------
    entered : mapping
        Nested as in the file; the values as texts, numbers or booleans. An empty text counts as not given.
    where : str, default ""
        File or page, for messages.

    Returns
    -------
    Machine
        As `read_machine`.
    """
    entered = _by_present_names(entered)
    about, notes = read_keys(table(entered, "machine", where=where), MACHINE_KEYS, path=("machine",), where=where)
    asked, more = read_keys(
        table(entered, "requirement", where=where), REQUIREMENT_KEYS, path=("requirement",), where=where
    )
    if asked.get("risk") == 1:
        raise InputError(
            where=dotted(where, "requirement", "risk"),
            found="a share of 1",
            need="a share of homings allowed outside below 1",
            do="write it like 1 in 1000",
        )
    named = table(entered, "axes", where=where)
    if not named:
        raise InputError(
            where=where,
            found="no axis",
            need="a table [axes.NAME] for at least one axis",
            do="begin a line such as [axes.Y] and put its keys below",
        )
    refuse_many_axes(len(named), where=where)
    strays = tuple(
        f"{dotted(where, name)} is kept but not used{did_you_mean(name, TABLES)}."
        for name in entered
        if name not in TABLES
    )
    axes, of_axes = zip(*(_axis(entered, name, where) for name in named), strict=True)
    return Machine(
        name=about.pop("name", "machine"),
        requirement=Requirement(**asked),
        axes=axes,
        notes=(*strays, *notes, *more, *(note for notes in of_axes for note in notes)),
        entered=entered,
        **about,
    )


def write_machine(machine: Machine) -> str:
    """Write what was entered as a machine file that reads back equal.

    Parameters
    ----------
    machine : Machine
        With `entered`, as `read_machine` and `machine_from` give it.

    Returns
    -------
    str
        TOML.
    """
    return write_toml(machine.entered)


def _by_present_names(entered: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return what was entered, a key of an axis that has another name now under that name."""
    axes = entered.get("axes")
    if not isinstance(axes, Mapping):
        return entered
    return {**entered, "axes": {name: _renamed(keys) for name, keys in axes.items()}}


def _renamed(keys: Any) -> Any:
    if not isinstance(keys, Mapping):
        return keys
    free = {old: new for old, new in FORMER_NAMES.items() if new not in keys}
    return {free.get(name, name): value for name, value in keys.items()}


def _axis(entered: Mapping[str, Any], name: str, where: str) -> tuple[Axis, tuple[str, ...]]:
    name_of(name, where=dotted(where, "axes"))
    keys = table(entered, "axes", name, where=where)
    fields, notes = read_keys(keys, AXIS_KEYS, path=("axes", name), where=where)
    if fields.get("motors", 1) > 2:
        raise InputError(
            where=dotted(where, "axes", name, "motors"),
            found=str(fields["motors"]),
            need="1 or 2 motors side by side",
            do="write 2 for a gantry driven on both sides",
        )
    return Axis.of(name, entered=keys, **fields), notes
