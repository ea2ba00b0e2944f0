"""Pairing: one phone is let in by a code that is shown at the computer, once, and until a set time."""

import hmac
import secrets
import threading
import time
from collections.abc import Callable
from hashlib import sha256

from holdzero.errors import InputError

LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # none that is read as another
ALIKE = str.maketrans("OIL", "011")
CODE_LENGTH = 8  # 40 bits, and five tries
CODE_LASTS_S = 600.0
MOST_WRONG = 5
AT_COMPUTER = "the code on the page “A phone at the machine” at the computer"


class Pairing:
    """Who may come in, and until when.

    Parameters
    ----------
    lasts_s : float
        When all ends, from now. [s]
    clock : callable
        Gives a time that only rises. [s]
    """

    def __init__(self, *, lasts_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._ends_at = clock() + lasts_s
        self._device = ""  # digest of what the phone's cookie holds
        self._ended = False
        self.renew()

    @property
    def left_s(self) -> float:
        """How long it still lasts. [s]"""
        return 0.0 if self._ended else max(0.0, self._ends_at - self._clock())

    @property
    def paired(self) -> bool:
        """Whether a phone is let in."""
        return bool(self._device) and self.left_s > 0

    @property
    def code(self) -> str:
        """The code that lets a phone in; empty where none does."""
        return self._code if self._code and self._clock() < self._code_until and self.left_s > 0 else ""

    @property
    def state(self) -> str:
        """How it stands: "ended", "paired", "open" or "no code"."""
        if not self.left_s:
            return "ended"
        return "paired" if self._device else "open" if self.code else "no code"

    def renew(self) -> None:
        """Make a new code; a phone that was let in before is so no more."""
        with self._lock:
            self._code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
            self._code_until, self._wrong, self._device = self._clock() + CODE_LASTS_S, 0, ""

    def pair(self, typed: str) -> str:
        """Let a phone in by the code; returns what its cookie holds.

        Raises
        ------
        InputError
            Another phone is in, or the code is wrong, used up or too old.
        """
        with self._lock:
            if self._device:
                raise _refused(
                    "another phone that is let in", "one phone at a time", "end that one at the computer"
                )
            if not self.code:
                raise _refused("no code that lets a phone in", "a new code", "make one at the computer")
            if not hmac.compare_digest(_plain(typed).encode(), self._code.encode()):
                self._wrong += 1
                if self._wrong >= MOST_WRONG:
                    self._code = ""
                    raise _refused(f"{MOST_WRONG} wrong codes", "a new code", "make one at the computer")
                raise _refused("another code than the one shown", AT_COMPUTER, "look there and type it once more")
            word = secrets.token_urlsafe(32)
            self._device, self._code = _digest(word), ""
            return word

    def knows(self, word: str) -> bool:
        """Tell whether a cookie is that of the phone that was let in."""
        return self.paired and hmac.compare_digest(_digest(word), self._device)

    def end(self) -> None:
        """Let nobody in any more."""
        with self._lock:
            self._ended, self._device, self._code = True, "", ""


def _plain(typed: str) -> str:
    return "".join(typed.upper().translate(ALIKE).replace("-", " ").split())


def _digest(word: str) -> str:
    return sha256(word.encode()).hexdigest()


def _refused(found_words: str, need: str, do: str) -> InputError:
    return InputError(where="pairing", found=found_words, need=need, do=do)
