"""Rail: the ten stations as places along an axis, and how far the job has come at each."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from fastapi import APIRouter

from holdzero.errors import HoldzeroError
from holdzero.web.case import OpenCase
from holdzero.web.contained import worked_out


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
class Subpage:
    """A page beside a station, reached from it.

    `template` is its name without the ending; `router` None: its routes are among those of the station.
    """

    template: str
    router: APIRouter | None = None


@dataclass(frozen=True, slots=True)
class Station:
    """One step of the job: a page, and perhaps pages beside it.

    Parameters
    ----------
    name : str
        As on the rail; in lower case it is the page's address and its template.
    router : APIRouter or None
        Its routes; None: its place on the rail is kept, the page is still to come.
    mark : callable
        Says how it stands for a machine.
    subpages : tuple of Subpage
        What is reached from it; the carriage stands at the station on these too.
    """

    name: str
    router: APIRouter | None = None
    mark: Callable[[OpenCase], Mark] = lambda case: OPEN
    subpages: tuple[Subpage, ...] = ()

    def beside(self, *subpages: Subpage) -> "Station":
        """Return the station with pages beside it."""
        return replace(self, subpages=subpages)

    @property
    def routers(self) -> tuple[APIRouter, ...]:
        """Routes of the station and of what is beside it."""
        return (*((self.router,) if self.router else ()), *(page.router for page in self.subpages if page.router))

    @property
    def slug(self) -> str:
        """Name in an address."""
        return self.name.lower()


def _marked(station: Station, case: OpenCase) -> Mark:
    """Return how a station stands; where that cannot be worked out, its place on the rail says so."""
    mark = worked_out(f"how {station.name} stands", lambda: station.mark(case))
    return flag(f"found {mark.found}") if isinstance(mark, HoldzeroError) else mark


@dataclass(frozen=True, slots=True)
class Place:
    """A station as drawn on the rail of one page."""

    name: str
    href: str  # empty: no page yet
    state: str  # "done", "open", "flag" or "coming"
    why: str
    current: bool
    beside: bool  # here, at a page beside the station


def places(
    stations: Sequence[Station], case: OpenCase, page_name: str, *, marked: bool = True
) -> tuple[Place, ...]:
    """Return the rail of one page: every station, and the carriage at it or at the one that the page is beside.

    `page_name` is the name of the page's template.
    `marked` False: how the stations stand is left open, because to say it all figures would have to be there.
    """
    drawn = []
    for station in stations:
        mark = OPEN if not marked else _marked(station, case)
        mark = mark if station.router else Mark("coming", "still to come")
        href = case.href(station.slug) if station.router else ""
        beside = page_name in (page.template for page in station.subpages)
        drawn.append(Place(station.name, href, mark.state, mark.why, beside or station.slug == page_name, beside))
    return tuple(drawn)
