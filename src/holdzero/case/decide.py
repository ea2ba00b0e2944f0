"""Decide: a decision is kept in the book, with the digests of what it rests on."""

from holdzero import __version__
from holdzero.case.case import Case
from holdzero.compute.choose import decision, digest_of_inputs
from holdzero.compute.choose.decision import KIND
from holdzero.store import Book


def decide(book: Book, machine_id: int, case: Case, *, sensor: str, reason: str, by: str) -> None:
    """Keep that a candidate was taken for the axis that is meant.

    Raises
    ------
    HoldzeroError
        No choice can be made yet, no such candidate, or no reason.
    """
    digests = case.basis.digests
    document = decision(case.chosen, sensor=sensor, reason=reason, by=by, digests=digests)
    digest = digest_of_inputs(digests)
    book.add_result(machine_id, kind=KIND, digest=digest, version=__version__, document=document)
