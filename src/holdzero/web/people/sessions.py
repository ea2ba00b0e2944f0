"""Sessions: who is signed in, for how long; and how often it may be tried."""

import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from hashlib import sha256

from holdzero.store.people import Person

LASTS_S = 12 * 3600.0
UNUSED_S = 2 * 3600.0
WITHIN_S = 15 * 60.0  # in which wrong tries are counted
OF_NAME, OF_ADDRESS = 5, 20  # wrong tries before it has to be waited
MOST_KNOWN = 10_000  # names and addresses that are counted at once


@dataclass(slots=True)
class SignedIn:
    """One session. Times of a clock that only rises. [s]"""

    person: Person
    since_s: float
    used_s: float


class Sessions:
    """Who is signed in; in memory, and of what the browser holds only the digest.

    Parameters
    ----------
    clock : callable
        Gives a time that only rises. [s]
    """

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._open: dict[str, SignedIn] = {}

    def begin(self, person: Person) -> str:
        """Begin a session; returns what its cookie holds."""
        word, now = secrets.token_urlsafe(32), self._clock()
        with self._lock:
            self._open = {key: kept for key, kept in self._open.items() if self._lasts(kept, now)}
            self._open[_digest(word)] = SignedIn(person, now, now)
        return word

    def of(self, word: str) -> Person | None:
        """Return who holds a cookie; None where nobody does any more."""
        now = self._clock()
        with self._lock:
            kept = self._open.get(_digest(word))
            if kept is None or not self._lasts(kept, now):
                return None
            kept.used_s = now
            return kept.person

    def lasts(self, word: str) -> bool:
        """Tell whether a session is open, without using it."""
        with self._lock:
            kept = self._open.get(_digest(word))
        return kept is not None and self._lasts(kept, self._clock())

    def end(self, word: str) -> None:
        """End a session."""
        with self._lock:
            self._open.pop(_digest(word), None)

    def _lasts(self, kept: SignedIn, now: float) -> bool:
        return now - kept.since_s < LASTS_S and now - kept.used_s < UNUSED_S


class SignInTries:
    """Counts wrong tries, by name and by address alike, whether there is anyone of that name or not.

    Parameters
    ----------
    clock : callable
        Gives a time that only rises. [s]
    """

    def __init__(self, *, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._wrong: dict[tuple[str, str], list[float]] = {}

    def wait_s(self, name: str, address: str) -> float:
        """Return how long has to be waited before it may be tried again. [s]"""
        now = self._clock()
        with self._lock:
            return max(self._wait(key, most, now) for key, most in _keys(name, address))

    def wrong(self, name: str, address: str) -> None:
        """Count a wrong try."""
        now = self._clock()
        with self._lock:
            if len(self._wrong) > MOST_KNOWN:
                self._wrong = {key: at for key, at in self._wrong.items() if now - at[-1] < WITHIN_S}
            for key, most in _keys(name, address):
                self._wrong[key] = [*self._wrong.get(key, ()), now][-most:]

    def right(self, name: str, address: str) -> None:
        """Forget the wrong tries of a name that has signed in."""
        with self._lock:
            self._wrong.pop(_keys(name, address)[0][0], None)

    def _wait(self, key: tuple[str, str], most: int, now: float) -> float:
        wrong = self._wrong.get(key, [])
        return max(0.0, wrong[0] + WITHIN_S - now) if len(wrong) >= most else 0.0


def _keys(name: str, address: str) -> tuple[tuple[tuple[str, str], int], ...]:
    alike = sha256(" ".join(name.split()).casefold().encode()).hexdigest()
    return (("name", alike), OF_NAME), (("address", address), OF_ADDRESS)


def _digest(word: str) -> str:
    return sha256(word.encode()).hexdigest()
