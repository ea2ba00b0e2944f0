"""Memory: answers that are kept to be had again, bounded by the bytes they take.

Whatever is kept between two questions, in any room of the program, is kept here (docs/decisions/0015-memory.md).
"""

import gc
import marshal
import os
import sys
from collections import OrderedDict
from collections.abc import Callable, Hashable
from functools import wraps
from threading import Lock
from types import BuiltinFunctionType, FunctionType, MethodType, ModuleType
from typing import Any, ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")
MIB = 2**20
_SHARED = (type, ModuleType, FunctionType, BuiltinFunctionType, MethodType)  # of the program, not of an answer
_kinds: dict[type, str] = {}
_PLAIN = (str, bytes, int, float, complex)  # hold nothing else; None and True are ints' size at most


def weight(thing: object, *, enough: int = sys.maxsize) -> int:
    """Return the bytes that something takes with all it holds, each part once.

    Parameters
    ----------
    thing : object
        Values, arrays, tuples and objects of them.
    enough : int
        Where it is known to take more, counting stops. [bytes]

    Returns
    -------
    int
        [bytes]

    Examples
    --------
    >>> import numpy as np
    >>> 8000 < weight((np.zeros(1000), "a")) < 8400
    True
    """
    total, seen, level = 0, set[int](), [thing]
    levels = [level]  # held, so that no other thing gets the number of one that was seen
    while level and total <= enough:
        holders: list[object] = []
        bases: list[object] = []
        for part in level:
            if id(part) in seen:
                continue
            seen.add(id(part))
            kind = _kinds.get(type(part)) or _kind(type(part))
            if kind == "shared":
                continue
            total += (sys.getsizeof(part) + 15) & ~15  # so the allocator rounds
            if kind == "array" and (base := part.base) is not None:  # type: ignore[attr-defined]
                bases.append(base)
            elif kind != "plain":
                holders.append(part)
        level = bases + gc.get_referents(*holders)
        levels.append(level)
    return total


def _kind(of: type) -> str:
    """Return how things of a type are weighed."""
    if issubclass(of, _SHARED):
        kind = "shared"
    elif issubclass(of, _PLAIN):
        kind = "plain"
    else:
        kind = "array" if hasattr(of, "__array_interface__") else "holder"
    _kinds[of] = kind
    return kind


def exactly(rows: object) -> bytes:
    """Return a key for plain values in tuples and lists, in which 1, 1.0 and True are three things.

    Parameters
    ----------
    rows : object
        Of None, numbers, words and bytes.

    Returns
    -------
    bytes
        Equal for the same values alone.

    Examples
    --------
    >>> exactly([(1, "a")]) == exactly([(1, "a")]), exactly([(1, "a")]) == exactly([(1.0, "a")])
    (True, False)
    """
    # later versions of the format write the same values in several ways
    return marshal.dumps(rows, 2)  # type: ignore[arg-type]  # refuses what is none of these itself


class Same:
    """Part of a key: one very object, which is never changed; it is held as long as the key is.

    Parameters
    ----------
    thing : object
        Equal to itself alone, however alike another is.
    """

    __slots__ = ("_thing",)

    def __init__(self, thing: object) -> None:
        self._thing = thing

    def __eq__(self, second: object) -> bool:
        return isinstance(second, Same) and second._thing is self._thing

    def __hash__(self) -> int:
        return id(self._thing)


class Remembered:
    """The newest answers, as many as have room.

    Parameters
    ----------
    most_bytes : int
        Room for them and their keys. The newest is kept whatever it takes. [bytes]
    """

    def __init__(self, most_bytes: int) -> None:
        self._kept: OrderedDict[Hashable, tuple[object, int, Hashable]] = OrderedDict()
        self._most, self._taken, self._lock = most_bytes, 0, Lock()
        _every.append(self)

    @property
    def taken(self) -> int:
        """Room that is taken. [bytes]"""
        return self._taken

    def __call__(
        self, key: Hashable, make: Callable[[], T], *, mark: Hashable = None, weighs_as: Hashable = None
    ) -> T:
        """Return the answer kept under `key`, or make it.

        Parameters
        ----------
        key : hashable
            What is asked.
        make : callable
            Gives the answer.
        mark : hashable, optional
            Of what the answer was made from, as it is now: one of an earlier mark is made anew, in its place.
        weighs_as : hashable, optional
            Key of an answer that takes as much room at least, such as one of the same parts: while that is
            kept, it is not weighed again.
        """
        with self._lock:
            if self._has(key, mark):
                self._kept.move_to_end(key)
                return self._kept[key][0]  # type: ignore[return-value]  # what was kept under a key is what it made
        made = make()
        before, size, _ = self._kept.get(key, (None, 0, None))
        if before is not made or not isinstance(mark, str):  # else but for a word it is what was weighed already
            size = self._kept.get(weighs_as, (None, 0, None))[1] or weight((key, mark, made), enough=self._most)
        with self._lock:
            self._taken += size - self._kept.pop(key, (None, 0, None))[1]
            self._kept[key] = made, size, mark
            while self._taken > self._most and len(self._kept) > 1:
                self._taken -= self._kept.popitem(last=False)[1][1]
        return made

    def has(self, key: Hashable, *, mark: Hashable = None) -> bool:
        """Tell whether an answer is kept under `key`, and made from what has this mark."""
        with self._lock:
            return self._has(key, mark)

    def _has(self, key: Hashable, mark: Hashable) -> bool:
        return key in self._kept and self._kept[key][2] == mark

    def forget(self) -> None:
        """Keep nothing."""
        with self._lock:
            self._kept.clear()
            self._taken = 0


_every: list[Remembered] = []


def _unlocked() -> None:
    """Take new locks in a worker that was forked while another thread held one."""
    for kept in _every:
        kept._lock = Lock()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_unlocked)


def kept_within(most_bytes: int) -> Callable[[Callable[P, T]], Callable[P, T]]:
    """Return a decorator that keeps what a pure function gave, in so much room. [bytes]

    Parameters
    ----------
    most_bytes : int
        Room of this function's answers.
    """

    def decorate(function: Callable[P, T]) -> Callable[P, T]:
        answers = Remembered(most_bytes)

        @wraps(function)
        def remembering(*args: P.args, **kwargs: P.kwargs) -> T:
            key: Any = (args, tuple(sorted(kwargs.items())))
            return answers(key, lambda: function(*args, **kwargs))

        return remembering

    return decorate


def in_all() -> int:
    """Return the room that everything kept takes. [bytes]"""
    return sum(kept.taken for kept in _every)


def most_in_all() -> int:
    """Return the room that everything kept may take. [bytes]"""
    return sum(kept._most for kept in _every)
