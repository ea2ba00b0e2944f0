"""Record: what a record that was written says, and where it lies; all of it is in the document."""

from collections.abc import Sequence
from pathlib import Path

from holdzero.case import Case
from holdzero.tell.blocks import Answer, Points, Section
from holdzero.tell.choice import what_is_open
from holdzero.tell.method import method
from holdzero.tell.standing import axis_section
from holdzero.tell.words import listed


def tell_record(
    case: Case, *, verdict: str, reason: str, written: Sequence[str | Path], kept: Sequence[str] = ()
) -> Answer:
    """Tell what a record says, where it was written, and what is open.

    Parameters
    ----------
    case : Case
        What it was made of.
    verdict, reason : str
        What it comes to, and why.
    written : sequence of str or Path
        The files.
    kept : sequence of str
        Whether it was kept in a book.
    """
    choice, axis = case.chosen, case.standing
    return Answer(
        headline=verdict,
        lead=(f"Written: {listed([str(path) for path in written])}.", *kept, reason),
        to_do=Points(what_is_open(choice, case.asks, following=axis.next), title="What is open"),
        more=(axis_section(axis, system=case.system),),
        explained=(Section("How the figures were worked out", method(choice.confidence)),),
    )
