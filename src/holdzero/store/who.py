"""Who: on whose behalf a book is written to at this moment, for its trail."""

import getpass
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_acting: ContextVar[str] = ContextVar("acting", default="")


@contextmanager
def acting(name: str) -> Iterator[None]:
    """Write in a person's name meanwhile, in this thread or task and what it calls.

    Parameters
    ----------
    name : str
        Of the person who signed in; empty: nobody did.

    Examples
    --------
    >>> with acting("Ann"):
    ...     signed_in()
    'Ann'
    >>> signed_in()
    ''
    """
    token = _acting.set(name.strip())
    try:
        yield
    finally:
        _acting.reset(token)


def signed_in() -> str:
    """Return the name of the person who signed in; empty where nobody did."""
    return _acting.get()


def user_of_computer() -> str:
    """Return the name this person has on this computer; empty where the system knows none."""
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):
        return ""
