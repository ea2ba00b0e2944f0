"""Tally: how a long run without an analyser stands or ended, and what to do then."""

from statistics import stdev

from holdzero import quantity
from holdzero.compute.spread import effective_n
from holdzero.instrument.long_run import LATE_TIMES, LEARNED
from holdzero.quantity import System
from holdzero.tell.blocks import Answer, Facts, Points, Section
from holdzero.tell.words import count_of
from holdzero.trial.long_run_asked import COUNTS_ONLY
from holdzero.trial.tallying import Tallied

LOOK = "Stop the machine and look before going on."
RULES = (
    (
        f"Missed: no trip for {LATE_TIMES:g} times the usual time between the latest, and not before the least "
        "time said. Early or late: further from the usual place than the reach. "
        f"The usual is told from {LEARNED} trips on."
    ),
    (
        "A line that cannot be read, or a board that is away, ends nothing: how many trips went by nobody knows, "
        "so the next one is marked as coming after a gap, and time is counted anew."
    ),
    "Every trip is kept before it is told, the one that ended the run too; so is every line as it was sent.",
)


def tell_tally(tallied: Tallied, *, kept_in: str = "", system: System = "metric") -> Answer:
    """Tell how a run stands: why it ended, its trips, and what was lost on the way.

    Parameters
    ----------
    tallied : Tallied
    kept_in : str
        Where its trips are kept.
    system : {"metric", "inch"}
        Units shown.
    """
    counted = f"{count_of(tallied.trips, 'trip')}{f' in {kept_in}' if kept_in else ''}"
    counted += f", {count_of(tallied.unread, 'line')} not read"
    ended = () if tallied.end is None else (f"{tallied.end.fault.upper()}. {tallied.end.text} {LOOK}",)
    return Answer(
        headline=ended[0] if ended else f"{counted}.",
        lead=(f"{counted}.",) if ended else (),
        to_do=Points(
            (LOOK, "Find out what made it; then go on: the count goes on where it was.") if ended else ()
        ),
        more=(Section("The run", (Facts(_facts(tallied, system)),)),) if tallied.trips else (),
        explained=(Section("When a run ends", (*RULES, COUNTS_ONLY)),),
    )


def _facts(tallied: Tallied, system: System) -> tuple[tuple[str, str], ...]:
    places = tallied.places_mm
    rows = [
        ("Trips", str(tallied.trips)),
        ("Lines not read", str(tallied.unread)),
        ("Gaps, where trips may be missing", str(tallied.gaps)),
    ]
    if tallied.wait_s is not None:
        rows.append(("Usual time between trips", quantity.show(tallied.wait_s, "time", digits=3)))
    span = quantity.show(max(places) - min(places), "length", system=system, digits=3)
    rows.append(("From the least place to the greatest", span))
    if tallied.trips > 2:
        sd = stdev(places)
        rows.append(("Standard deviation of the places", quantity.show(sd, "length", system=system, digits=2)))
        worth = effective_n(places) if sd > 0 else None
        rows.append(("Worth, in independent trips", "not known" if worth is None else f"{worth:.0f}"))
    return tuple(rows)
