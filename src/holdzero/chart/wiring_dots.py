"""Dots: where three or more lines of one node meet, the drawing needs a dot."""

import itertools
from collections.abc import Iterable, Sequence
from math import atan2, degrees, hypot

from holdzero.chart.sheet import Point

NEAR_PX = 0.6
Path = tuple[str, Sequence[Point]]  # node, and the points of a line of it


def missing_dots(paths: Sequence[Path], marked: Iterable[Point]) -> list[Point]:
    """Where lines of one node meet without a mark.

    Parameters
    ----------
    paths : sequence of (str, points)
        Lines, each of one node; the lead of a part counts as a line from its end inwards. [px]
    marked : iterable of Point
        Dots and terminals that are drawn already. [px]

    Returns
    -------
    list of Point
        In the order of the lines.

    Examples
    --------
    >>> bus, branch = ("in", [(0, 0), (0, 20)]), ("in", [(0, 10), (30, 10)])
    >>> missing_dots([bus, branch], [])
    [(0, 10)]
    >>> missing_dots([bus, branch], [(0, 10)]), missing_dots([bus, ("V", branch[1])], [])
    ([], [])
    """
    seen = list(marked)
    missing: list[Point] = []
    for node, points in paths:
        for point in points:
            if any(_near(point, dot) for dot in seen):
                continue
            ways = {way for at, line in paths if at == node for way in _ways(point, line)}
            if len(ways) >= 3:
                missing.append(point)
                seen.append(point)
    return missing


def _ways(point: Point, line: Sequence[Point]) -> set[int]:
    """Directions in which a line leaves a point that it touches. [deg]"""
    ways = set()
    for start, end in itertools.pairwise(line):
        if _near(start, end):
            continue
        if _near(point, start):
            ways.add(_towards(point, end))
        elif _near(point, end):
            ways.add(_towards(point, start))
        elif _between(point, start, end):
            ways |= {_towards(point, start), _towards(point, end)}
    return ways


def _towards(point: Point, toward: Point) -> int:
    return round(degrees(atan2(toward[1] - point[1], toward[0] - point[0]))) % 360


def _near(point: Point, toward: Point) -> bool:
    return hypot(point[0] - toward[0], point[1] - toward[1]) < NEAR_PX


def _between(point: Point, start: Point, end: Point) -> bool:
    whole = hypot(end[0] - start[0], end[1] - start[1])
    parts = hypot(point[0] - start[0], point[1] - start[1]) + hypot(end[0] - point[0], end[1] - point[1])
    return parts - whole < 0.05
