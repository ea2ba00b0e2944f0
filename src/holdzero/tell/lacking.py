"""Lacking: what an answer about an axis still needs, in a clause before the names of its figures."""

from holdzero.case.lacking import NeededFor
from holdzero.tell.words import count_of

KNOWN = {
    "spread": "What spread the home switch of {axis} may have is known",
    "stops": "Whether {axis} stops in time: all given",
    "budget": "What else moves home on {axis}: all given",
}
ASKS = {
    "spread": "To know what spread the home switch of {axis} may have",
    "stops": "To know whether {axis} stops in time",
    "budget": "To know what else moves home on {axis}",
}


def tell_needed(needed: NeededFor, axis: str) -> str:
    """Say how many figures an answer still needs.

    Parameters
    ----------
    needed : NeededFor
        Of one answer.
    axis : str
        Its name.

    Examples
    --------
    >>> stops = NeededFor(question="stops", keys=("delay", "top_speed"), missing=("top_speed",))
    >>> tell_needed(stops, "Y")
    'To know whether Y stops in time I need 1 figure'
    """
    if needed.known:
        return KNOWN[needed.question].format(axis=axis)
    # squareness or position: one of them is enough
    figures = 1 if needed.question == "spread" else len(needed.missing)
    return f"{ASKS[needed.question].format(axis=axis)} I need {count_of(figures, 'figure')}"
