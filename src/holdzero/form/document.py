"""Document: what every JSON answer carries, whatever it answers."""

from collections.abc import Mapping
from typing import Any

from holdzero import __version__


def marked(answer: Mapping[str, Any], *, invented: bool = False) -> dict[str, Any]:
    """Return an answer with the version that gave it first, and last that it was made from invented data.

    >>> list(marked({"axes": {}}, invented=True))
    ['version', 'axes', 'invented']
    """
    return {"version": __version__, **answer} | ({"invented": True} if invented else {})
