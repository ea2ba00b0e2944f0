"""Case of: what Python hands over, a book or a machine with what belongs to it, as a case."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from os import PathLike, fspath
from typing import Any

from holdzero.case import Case, How, Texts
from holdzero.compute.findings.values import MissesElsewhere
from holdzero.door.brought import is_text, length_mm, toml_of
from holdzero.door.readings import readings_of
from holdzero.errors import InputError
from holdzero.files import is_book
from holdzero.inputs.reading import Protocol
from holdzero.quantity import System

KINDS = {  # part of a case: what it is called, and the table that its mapping may leave out
    "machine": ("machine", ""),
    "sensors": ("sensors", "sensors"),
    "wiring": ("wiring", ""),
    "square": ("squaring", ""),
    "checklist": ("checklist", ""),
}
HOW_READ = ("resolution", "step", "protocol")


def book_path(source: Any) -> str | None:
    """Return the path of a book, named by it or taken by `holdzero.book`; None where it is no book."""
    path = getattr(source, "book_path", source)
    if not isinstance(path, str | PathLike) or is_text(path):
        return None
    name = str(fspath(path))
    if path is source and "=" in name:  # a text of one line
        return None
    return name if is_book(name) else None


@contextmanager
def case_of(source: Any, *, main: str = "machine", beside: Mapping[str, Any]) -> Iterator[Case]:
    """Yield the case of a book, or of what is handed over.

    Parameters
    ----------
    source : object
        A book, or what `main` names.
    main : {"readings", "machine"}
        What a source is that is no book.
    beside : mapping of str
        By name: the parts of a case, how readings were read, and what is said beside it (`axis`, `sensor`,
        `units`, `confidence`, `price_limit`, `minutes`, `misses`, `day`). None: not said. Of a book, `machine`
        is the name of one of its machines.
    """
    asked = {name: value for name, value in beside.items() if value is not None}
    path = book_path(source)
    if path is None:
        if main in asked:
            raise InputError(
                where="name", found=f"{asked[main]!r} beside what is no book", need="a book", do="leave name out"
            )
        yield Case(_texts(asked | {main: source}))
        return
    from holdzero.case.in_book import InBook, machine_named
    from holdzero.store import open_book

    for name in ("readings", *KINDS, *HOW_READ):
        if name in asked and (name != "machine" or not isinstance(asked[name], str)):
            raise InputError(
                where=name,
                found=f"it beside the book {path}",
                need="a book alone",
                do=f"leave {name} out: the book has it",
            )
    with open_book(path, create=False) as book:
        basis = InBook(book, machine_named(book, asked.get("machine")))
        how = replace(basis.how, system=system_of(asked.get("units"), basis.how.system))
        yield Case(basis.with_how(_how(asked, how)))


def _texts(asked: Mapping[str, Any]) -> Texts:
    parts = {
        part: toml_of(asked[part], kind, table=table) for part, (kind, table) in KINDS.items() if part in asked
    }
    if "readings" in asked:
        parts["readings"] = readings_of(asked["readings"])
    return Texts(
        files={part: brought.text for part, brought in parts.items()},
        names={part: brought.where for part, brought in parts.items()},
        how=_how(
            asked,
            How(
                resolution_mm=length_mm(asked.get("resolution"), "resolution", zero=True),
                step_mm=length_mm(asked.get("step"), "step", zero=False),
                protocol=protocol_of(asked.get("protocol")),
                system=system_of(asked.get("units")),
            ),
        ),
    )


def protocol_of(name: str | None) -> str:
    """Return how the readings were taken; empty: not said.

    Raises
    ------
    InputError
        No such protocol.
    """
    ways = [str(way) for way in Protocol]
    if name is not None and name not in ways:
        raise InputError(
            where="protocol", found=repr(name), need=f"one of {', '.join(ways)}", do="name one of them"
        )
    return name or ""


def _how(asked: Mapping[str, Any], how: How) -> How:
    minutes = asked.get("minutes")
    return replace(
        how,
        axis=asked.get("axis", ""),
        day=asked.get("day"),
        sensor=asked.get("sensor", ""),
        confidence=asked.get("confidence"),
        price_limit=asked.get("price_limit"),
        minutes=None if minutes is None else (float(minutes[0]), float(minutes[1])),
        elsewhere=misses_of(asked.get("misses", {})),
    )


def misses_of(counts: Mapping[str, tuple[int, int]]) -> tuple[MissesElsewhere, ...]:
    """Return gross misses counted elsewhere: by candidate how many of how many homings.

    Raises
    ------
    InputError
        More misses than homings, or not two counts.
    """
    misses = []
    for sensor, counted in counts.items():
        count, n = counted if len(counted) == 2 else (1, 0)
        if not 0 <= count <= n:
            raise InputError(
                where="misses",
                found=f"{counted!r} of {sensor}",
                need="how many of how many homings",
                do=f'write {{"{sensor}": (1, 700)}}',
            )
        misses.append(MissesElsewhere(sensor=sensor, count=int(count), n=int(n), source=""))
    return tuple(misses)


def system_of(units: str | None, system: System = "metric") -> System:
    """Return the units to show: those named, else those of the book or `system`.

    Raises
    ------
    InputError
        No such units.
    """
    match units:
        case None:
            return system
        case "metric" | "inch":
            return units
    raise InputError(where="units", found=repr(units), need="metric or inch", do="name one of them")
