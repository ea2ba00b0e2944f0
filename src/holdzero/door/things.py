"""Things: a machine, its candidates and a book, as Python holds them."""

import textwrap
from collections.abc import Mapping
from os import PathLike, fspath
from pathlib import Path
from typing import Any

from holdzero.door import later, paper, prove, trial
from holdzero.door.brought import Brought, toml_of
from holdzero.door.case_of import book_path
from holdzero.door.reply import Reply
from holdzero.errors import InputError
from holdzero.form import did_you_mean
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.entry import TABLES
from holdzero.inputs.machine.keys import MACHINE_KEYS, REQUIREMENT_KEYS
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.sensor import read_sensors
from holdzero.inputs.sensor.values import Sensor

MOST_NOTES = 4


class MachineFile:
    """A machine and what is asked of it, as its file says it; every question takes it.

    Parameters
    ----------
    brought : Brought
        The text of the file.
    """

    def __init__(self, brought: Brought) -> None:
        self.brought = brought
        self.machine: Machine = read_machine(brought.text, where=brought.where)

    @property
    def text(self) -> str:
        """The file, TOML."""
        return self.brought.text

    @property
    def name(self) -> str:
        """Of the machine."""
        return self.machine.name

    @property
    def axes(self) -> tuple[str, ...]:
        """Names of its axes."""
        return tuple(axis.name for axis in self.machine.axes)

    def axis(self, name: str) -> Axis:
        """Return one axis, in canonical units.

        Raises
        ------
        InputError
            It has none of that name.
        """
        return self.machine.axis(name)

    @property
    def notes(self) -> tuple[str, ...]:
        """Keys that are kept but mean nothing here."""
        return self.machine.notes

    def to_dict(self) -> dict[str, Any]:
        """Return what was entered, nested as in the file."""
        return {
            name: dict(table) if isinstance(table, Mapping) else table
            for name, table in self.machine.entered.items()
        }

    def write(self, path: str | Path) -> Path:
        """Write the file; returns its path."""
        target = Path(path)
        target.write_text(self.text, encoding="utf-8")
        return target

    def __repr__(self) -> str:
        asked = self.machine.entered.get("requirement") or {}
        listed = ", ".join(f"{name} {value}" for name, value in asked.items())
        axes = ", ".join(
            f"{axis.name} on {axis.motors} motor{'s' * (axis.motors > 1)}" for axis in self.machine.axes
        )
        lines = [f"{self.name}: {axes}", f"asked: {listed or 'nothing yet'}", *self.notes[:MOST_NOTES]]
        return "\n".join(textwrap.shorten(line, 100, placeholder=" …") for line in lines)


def machine(source: Any = None, /, **keys: Any) -> MachineFile:
    """Take a machine from its path, its text, a dict, or keywords.

    Parameters
    ----------
    source : path, str or dict, optional
        A machine file, or its tables.
    keys : object
        Without a source: the keys of the tables `machine` and `requirement` by their names, and each axis under
        its name as a dict, quantities as texts with units.

    Raises
    ------
    InputError
        A key that no machine has, or a value that its key cannot take.

    Examples
    --------
    >>> router = machine(
    ...     name="Router",
    ...     squareness="0.1 mm over 600 mm",
    ...     risk="1 in 1000",
    ...     Y={"motors": 2, "drive_distance": "980 mm", "lead": "10 mm"},
    ... )
    >>> router
    Router: Y on 2 motors
    asked: squareness 0.1 mm over 600 mm, risk 1 in 1000
    >>> router.axis("Y").drive.lead_mm
    10.0
    """
    if source is not None:
        if keys:
            raise InputError(
                where=next(iter(keys)),
                found="a file beside it",
                need="one of the two",
                do="leave the keywords out",
            )
        return source if isinstance(source, MachineFile) else MachineFile(toml_of(source, "machine"))
    about, asked = ({key.name for key in of_table} for of_table in (MACHINE_KEYS, REQUIREMENT_KEYS))
    tables: dict[str, dict[str, Any]] = {"machine": {}, "requirement": {}, "axes": {}}
    for name, value in keys.items():
        if name in TABLES and isinstance(value, Mapping):
            tables[name] |= value
        elif isinstance(value, Mapping):
            tables["axes"][name] = value
        elif name in about or name in asked:
            tables["machine" if name in about else "requirement"][name] = value
        else:
            raise InputError(
                where=name,
                found=f"a key no machine has{did_you_mean(name, about | asked)}",
                need=f"one of {', '.join(sorted(about | asked))}, or an axis as a dict",
                do="correct its name",
            )
    return MachineFile(toml_of(tables, "machine"))


class SensorsFile:
    """The candidates, as their file says it; every question takes it.

    Parameters
    ----------
    brought : Brought
        The text of the file.
    """

    def __init__(self, brought: Brought) -> None:
        self.brought = brought
        self.sensors: tuple[Sensor, ...] = read_sensors(brought.text, where=brought.where)

    @property
    def text(self) -> str:
        """The file, TOML."""
        return self.brought.text

    @property
    def names(self) -> tuple[str, ...]:
        """Of the candidates."""
        return tuple(sensor.name for sensor in self.sensors)

    def __repr__(self) -> str:
        lines = [
            ", ".join(
                filter(
                    None,
                    (
                        f"{sensor.name}: {sensor.kind or 'a sensor'}",
                        "" if sensor.price is None else f"{sensor.price:g}",
                    ),
                )
            )
            for sensor in self.sensors
        ]
        more = [f"and {len(lines) - 10} more"] if len(lines) > 10 else []
        return "\n".join([*lines[:10], *more])


def sensors(source: Any = None, /, **named: Mapping[str, Any]) -> SensorsFile:
    """Take the candidates from a path, a text, a dict, or keywords.

    Parameters
    ----------
    source : path, str or dict, optional
        A sensors file, or its tables by name.
    named : dict
        Without a source: each candidate under its name.

    Examples
    --------
    >>> sensors(A={"kind": "inductive", "price": 24.0}, B={"kind": "roller position switch"})
    A: inductive, 24
    B: roller position switch
    """
    if source is not None and named:
        raise InputError(
            where=next(iter(named)), found="a file beside it", need="one of the two", do="leave the keywords out"
        )
    return SensorsFile(toml_of(named if source is None else source, "sensors", table="sensors"))


class WorkshopBook:
    """A book, opened for each question and closed after it; every question takes it.

    Parameters
    ----------
    book_path : str
        The file.
    """

    def __init__(self, book_path: str) -> None:
        self.book_path = book_path

    @property
    def machines(self) -> tuple[str, ...]:
        """Names of its machines."""
        from holdzero.store import open_book

        with open_book(self.book_path, create=False) as opened:
            return tuple(kept.machine.name for kept in opened.machines())

    def study(self, machine: str | None = None, **beside: Any) -> Reply:
        """As `holdzero.study`, of one machine by name."""
        return trial.study(self, machine=machine, **beside)

    def choose(self, machine: str | None = None, **beside: Any) -> Reply:
        """As `holdzero.choose`."""
        return trial.choose(self, machine=machine, **beside)

    def standing(self, machine: str | None = None, **beside: Any) -> Reply:
        """As `holdzero.standing`."""
        return prove.standing(self, name=machine, **beside)

    def budget(self, machine: str | None = None, **beside: Any) -> Reply:
        """As `holdzero.budget`."""
        return paper.budget(self, name=machine, **beside)

    def travel(self, machine: str | None = None, **beside: Any) -> Reply:
        """As `holdzero.travel`."""
        return paper.travel(self, name=machine, **beside)

    def install(self, machine: str | None = None, **beside: Any) -> Reply:
        """As `holdzero.install`."""
        return paper.install(self, name=machine, **beside)

    def record(self, machine: str | None = None, **beside: Any) -> prove.RecordReply:
        """As `holdzero.record`."""
        return prove.record(self, machine=machine, **beside)

    def watch(self, machine: str | None = None, **beside: Any) -> Reply:
        """As `holdzero.watch`, by the book's own log."""
        return later.watch(self, name=machine, **beside)

    def __repr__(self) -> str:
        names = self.machines
        listed = ", ".join(names[:8]) + (f" and {len(names) - 8} more" if names[8:] else "")
        return f"Book {self.book_path}: {listed or 'no machine yet'}"


def book(path: str | PathLike[str]) -> WorkshopBook:
    """Take a workshop's book.

    Parameters
    ----------
    path : path
        The file; it has to be there.

    Raises
    ------
    InputError
        It is not there, or is no book.
    """
    if book_path(path) is None:
        raise InputError(
            where=str(path), found="a file that is no book", need="a book", do="make one with holdzero open PATH"
        )
    return WorkshopBook(str(fspath(path)))
