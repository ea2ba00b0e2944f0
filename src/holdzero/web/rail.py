"""Rail: the ten stations as places along an axis, and how far the job has come at each."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fastapi import APIRouter

from holdzero.web.case import Case


@dataclass(frozen=True, slots=True)
class Mark:
    """How a station stands.

    Parameters
    ----------
    state : str
        "done", "open" (nothing there yet) or "flag" (needs a look).
    why : str
        One clause for the person; needed with a flag.
    """

    state: str
    why: str = ""


DONE, OPEN = Mark("done"), Mark("open")


def flag(why: str) -> Mark:
    """Return the mark of a station that needs a look, and why."""
    return Mark("flag", why)


@dataclass(frozen=True, slots=True)
class Station:
    """One step of the job, one page.

    Parameters
    ----------
    name : str
        As on the rail; in lower case it is the page's address and its template.
    router : APIRouter or None
        Its routes; None: its place on the rail is kept, the page is still to come.
    mark : callable
        Says how it stands for a machine.
    """

    name: str
    router: APIRouter | None = None
    mark: Callable[[Case], Mark] = lambda case: OPEN

    @property
    def slug(self) -> str:
        """Name in an address."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Place:
    """A station as drawn on the rail of one page."""

    name: str
    href: str  # empty: no page yet
    state: str  # "done", "open", "flag" or "coming"
    why: str
    here: bool


def places(stations: Sequence[Station], case: Case, here: str, *, marked: bool = True) -> tuple[Place, ...]:
    """Return the rail of one page: every station, and the carriage at `here` (a slug).

    `marked` False: how the stations stand is left open, because to say it all figures would have to be there.
    """
    drawn = []
    for station in stations:
        mark = OPEN if not marked else station.mark(case)
        mark = mark if station.router else Mark("coming", "still to come")
        href = case.href(station.slug) if station.router else ""
        drawn.append(Place(station.name, href, mark.state, mark.why, station.slug == here))
    return tuple(drawn)
