"""Holm: several questions asked at once, and one limit for all of them."""

from collections.abc import Sequence


def holm(chances: Sequence[float]) -> list[float]:
    """Adjust chances of several questions asked at once, so that they can be held against one limit.

    The smallest is multiplied by their number, the next by one less, and so on, none falling below the one before
    (Holm).

    Examples
    --------
    >>> [round(p, 2) for p in holm([0.01, 0.04, 0.03, 0.005])]
    [0.03, 0.06, 0.06, 0.02]
    """
    adjusted = [0.0] * len(chances)
    reached = 0.0
    for rank, place in enumerate(sorted(range(len(chances)), key=lambda i: chances[i])):
        reached = max(reached, min(1.0, (len(chances) - rank) * chances[place]))
        adjusted[place] = reached
    return adjusted
