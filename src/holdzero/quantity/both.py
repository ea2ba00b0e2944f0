"""Both: a text in which each length stands in both systems, until it is known who reads it.

What was computed once is then shown in millimetres or in inches without being computed again.
"""

import re
from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import Any, Literal, TypeVar

T = TypeVar("T")
System = Literal["metric", "inch", "both"]
_MARKED = re.compile("\x02([^\x02\x1f\x03]*)\x1f([^\x02\x1f\x03]*)\x03")


def side_by_side(metric: str, inch: str) -> str:
    """Put two texts in one, of which `in_system` picks one."""
    return metric if metric == inch else f"\x02{metric}\x1f{inch}\x03"


def in_both(shown: Callable[[System], str]) -> str:
    """Show something in both systems, side by side."""
    return side_by_side(shown("metric"), shown("inch"))


def in_system(result: T, system: System) -> T:
    r"""Return a result with every text in the units of one reader; what holds no such text is the same object.

    Parameters
    ----------
    result : dataclass, exception, tuple, list, dict or str
        What was made with `system="both"`. Arrays and other objects stay as they are.
    system : {"metric", "inch"}
        Whose units. "both" leaves everything as it is.

    Examples
    --------
    >>> in_system(("at " + side_by_side("25.4 mm", "1 in"), 3), "inch")
    ('at 1 in', 3)
    """
    done: dict[int, Any] = {}
    group = 2 if system == "inch" else 1

    def picked(value: Any) -> Any:
        kind = _kinds.get(type(value)) or _kind(type(value))
        if kind == "kept":
            return value
        if kind == "text":
            text = str(value)
            return _MARKED.sub(rf"\g<{group}>", text) if "\x02" in text else value
        if id(value) not in done:
            done[id(value)] = _whole(value, kind)
        return done[id(value)]

    def _whole(value: Any, kind: str) -> Any:
        if kind == "dict":
            pairs = {picked(key): picked(member) for key, member in value.items()}
            same = all(old is new for old, new in zip(value.values(), pairs.values(), strict=False))
            return value if same and list(pairs) == list(value) else pairs
        if kind == "list":
            members = [picked(member) for member in value]
            if all(old is new for old, new in zip(value, members, strict=True)):
                return value
            return type(value)(*members) if hasattr(value, "_fields") else type(value)(members)
        if kind == "error":
            of: Any = type(value)
            own = of.__new__(of)
            own.args = picked(value.args)
            vars(own).update({name: picked(member) for name, member in vars(value).items()})
            return own
        return _of_fields(value)

    def _of_fields(value: Any) -> Any:
        members = [(name, getattr(value, name)) for name in _names(type(value))]
        replaced = {}
        for name, member in members:
            if _kinds.get(type(member)) == "kept":  # most are: numbers
                continue
            of_reader = system if name == "system" and member == "both" else picked(member)
            if of_reader is not member:
                replaced[name] = of_reader
        if not replaced:
            return value
        own = object.__new__(type(value))  # nothing is worked out anew, as a constructor might
        for name, member in members:
            object.__setattr__(own, name, replaced.get(name, member))
        return own

    return result if system == "both" else picked(result)


def _names(of: type[Any]) -> tuple[str, ...]:
    if of not in _known:
        _known[of] = tuple(field.name for field in fields(of))
    return _known[of]


def _kind(of: type[Any]) -> str:
    """Return what is done to things of a type."""
    holders = {str: "text", dict: "dict", tuple: "list", list: "list", BaseException: "error"}
    kinds = [kind for holder, kind in holders.items() if issubclass(of, holder)]
    _kinds[of] = kinds[0] if kinds else "fields" if is_dataclass(of) else "kept"
    return _kinds[of]


_kinds: dict[type, str] = {}
_known: dict[type, tuple[str, ...]] = {}
