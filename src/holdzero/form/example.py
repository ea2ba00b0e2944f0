"""Example: the mark in a file that its figures are an invented example's."""

from collections.abc import Mapping
from typing import Any

EXAMPLE_KEY = "example"  # at the top of a file of tables, or a column of a file of rows
EXAMPLE = "An invented example to start from: replace every figure by your own."
_MEANS_IT = ("true", "yes", "1")


def is_example(entered: Mapping[str, Any]) -> bool:
    """Whether what was entered is marked as an invented example.

    >>> is_example({"example": True}), is_example({"example": "no"}), is_example({})
    (True, False, False)
    """
    return means_it(entered.get(EXAMPLE_KEY, False))


def means_it(word: object) -> bool:
    """Whether the mark itself says so.

    >>> means_it("yes"), means_it(""), means_it(False)
    (True, False, False)
    """
    return str(word).strip().casefold() in _MEANS_IT
