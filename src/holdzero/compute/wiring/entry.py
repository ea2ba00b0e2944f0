"""Entry: circuits from what a person entered, in a file or on a page, and back."""

from collections.abc import Mapping, Sequence
from typing import Any

from holdzero.compute.wiring.assume import circuit_of
from holdzero.compute.wiring.keys import HEAD_KEYS, WIRING_KEYS
from holdzero.compute.wiring.values import Circuit, Unsaid
from holdzero.errors import InputError
from holdzero.form import EXAMPLE_KEY, did_you_mean, dotted, read_keys, read_toml, table
from holdzero.quantity import quoted

TABLES = tuple(name for name in WIRING_KEYS if name)
WRITE = {
    "sensor": '[sensor] with output = "NPN" below',
    "input": '[input] with kind = "IEC 61131-2 type 3" below',
}
_HEAD = tuple(key.name for key in HEAD_KEYS)


def read_wiring(text: str, *, where: str = "") -> tuple[Circuit | Unsaid, ...]:
    r"""Read a wiring file.

    Parameters
    ----------
    text : str
        TOML with the tables ``[supply]``, ``[sensor]`` or several ``[[sensor]]``, ``[chain]``, ``[input]``
        and ``[cable]``; or a list ``[[circuit]]`` of these, where a table above the list serves every circuit
        that has none of its own.
    where : str, default ""
        Name of the file, for messages.

    Returns
    -------
    tuple of Circuit or Unsaid
        `Unsaid` where the kind of sensor output or of input is not said; what else is missing is assumed and
        named.

    Raises
    ------
    InputError
        Not TOML, no wiring file, a circuit without sensor or input, or a value its key cannot take; names file
        and dotted key.

    Examples
    --------
    >>> (circuit,) = read_wiring('[sensor]\noutput = "PNP"\n[input]\nkind = "IEC 61131-2 type 3"')
    >>> circuit.assumed[0]
    'supply 24 V, since none is stated'
    """
    return circuits_from(read_toml(text, where=where, kind="wiring"), where=where)


def circuits_from(entered: Mapping[str, Any], *, where: str = "") -> tuple[Circuit | Unsaid, ...]:
    """Make circuits of what was entered, nested as in a file.

    Parameters
    ----------
    entered : mapping
        Values as texts, numbers or booleans. An empty text counts as not given.
    where : str, default ""
        File or page, for messages.

    Returns
    -------
    tuple of Circuit or Unsaid
        As `read_wiring`.
    """
    if not any(name in entered for name in (*TABLES, "circuit")):
        raise InputError(
            where=where,
            found="no table of a circuit" + did_you_mean(next(iter(entered), ""), (*TABLES, "circuit")),
            need="a wiring file, with the tables [sensor] and [input]",
            do=f"name the wiring file instead, or write one: {' and '.join(WRITE.values())}",
        )
    entered = {
        name: value for name, value in entered.items() if name != EXAMPLE_KEY
    }  # of the file, not of a circuit
    several = entered.get("circuit")
    if several is None:
        return (_circuit(entered, (), where),)
    common = {name: value for name, value in entered.items() if name != "circuit"}
    rows = _list(several, "circuit", where)
    return tuple(
        _circuit({**common, **row}, ("circuit", str(row.get("name", number))), where)
        for number, row in enumerate(rows, 1)
    )


def _list(entered: Any, name: str, where: str) -> Sequence[Mapping[str, Any]]:
    if isinstance(entered, Mapping):
        return [entered]
    if isinstance(entered, Sequence) and entered and all(isinstance(row, Mapping) for row in entered):
        return entered
    raise InputError(
        where=dotted(where, name),
        found=quoted(entered),
        need=f"a list of tables [[{name}]]",
        do=f"write [[{name}]]",
    )


def _circuit(entered: Mapping[str, Any], path: tuple[str, ...], where: str) -> Circuit | Unsaid:
    for name, write in WRITE.items():
        if name not in entered:
            raise InputError(
                where=dotted(where, *path),
                found=f"no table [{name}]",
                need="[sensor] and [input]",
                do=f"write {write}",
            )
    stated: dict[str, Any] = {}
    notes = [
        f"{dotted(where, *path, name)} is kept but not used{did_you_mean(name, (*TABLES, *_HEAD))}."
        for name in entered
        if name not in (*TABLES, *_HEAD)
    ]
    for name, keys in WIRING_KEYS.items():
        if name == "sensor":
            rows = _list(entered.get("sensor", {}), "sensor", where)
            stated[name] = []
            for number, row in enumerate(rows, 1):
                place = (*path, "sensor") if len(rows) == 1 else (*path, "sensor", str(number))
                fields, more = read_keys(row, keys, path=place, where=where)
                stated[name].append(fields)
                notes += more
            continue
        rows_of = (
            {k: v for k, v in entered.items() if k in _HEAD} if not name else table(entered, name, where=where)
        )
        stated[name], more = read_keys(rows_of, keys, path=(*path, name) if name else path, where=where)
        notes += more
    return circuit_of(
        stated, entered=entered, notes=tuple(notes), place=lambda *names: dotted(where, *path, *names)
    )
