"""Secret: what is kept of a password, so that it can be checked and not read.

scrypt (RFC 7914) with a salt of its own for each; its cost stands beside it, so that it can be raised later.
"""

import hmac
import secrets
from base64 import b64decode, b64encode
from hashlib import scrypt

from holdzero.errors import InputError

LEAST, MOST = 10, 1000  # characters
_LOG_N, _R, _P = 15, 8, 1  # 32 MB and about a tenth of a second
_MOST_MEMORY = 96 * 2**20


def sealed(password: str) -> str:
    """Return what is kept of a password.

    Raises
    ------
    InputError
        It is too short, or longer than anyone types.
    """
    if not LEAST <= len(password) <= MOST:
        raise InputError(
            where="password",
            found=f"{len(password)} characters",
            need=f"at least {LEAST}" if len(password) < LEAST else f"at most {MOST}",
            do="take a few words that do not belong together",
        )
    salt = secrets.token_bytes(16)
    made = _made(password, salt, log_n=_LOG_N, r=_R, p=_P)
    return "$".join(("scrypt", str(_LOG_N), str(_R), str(_P), _text(salt), _text(made)))


def fits(password: str, secret: str) -> bool:
    """Tell whether a password is the one of a secret; it takes as long where there is no secret."""
    kind, log_n, r, p, salt, made = (secret or _NOBODY).split("$")
    assert kind == "scrypt"
    again = _made(password[:MOST], b64decode(salt), log_n=int(log_n), r=int(r), p=int(p))
    return hmac.compare_digest(again, b64decode(made)) and bool(secret)


def _made(password: str, salt: bytes, *, log_n: int, r: int, p: int) -> bytes:
    return scrypt(password.encode(), salt=salt, n=2**log_n, r=r, p=p, maxmem=_MOST_MEMORY, dklen=32)


def _text(raw: bytes) -> str:
    return b64encode(raw).decode()


_NOBODY = "$".join(("scrypt", str(_LOG_N), str(_R), str(_P), _text(bytes(16)), _text(bytes(32))))
