"""Record: the page to print, sign and keep with the machine; what is in it, and what is still missing."""

from dataclasses import replace
from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from holdzero import __version__
from holdzero.case.in_book import RECORD
from holdzero.chart.comparison import comparison_picture
from holdzero.errors import HoldzeroError, InputError
from holdzero.report.kept import keep, same
from holdzero.report.printed import printed
from holdzero.report.record import record_verdict
from holdzero.report.stored import Stored, stored_of
from holdzero.report.whole import PARTS, RecordPart, record_of, set_in
from holdzero.store import Result
from holdzero.tell.acts import record_kept
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.contained import NotWorkedOut
from holdzero.web.download import download
from holdzero.web.page import ThisPage
from holdzero.web.rail import DONE, OPEN, Mark, Station, flag

router = APIRouter()


def mark(case: OpenCase) -> Mark:
    """Done once kept; flagged when something it was made from, or this program, has changed since."""
    kept = case.book.results(case.id, RECORD)
    if not kept or case.trial is None:
        return OPEN
    return DONE if _stands(case, kept[0]) else flag("what the kept record was made from has changed")


STATION = Station("Record", router, mark)


@router.get("/machines/{machine_id}/record")
@router.get("/machines/{machine_id}/record.json")
def record(case: ThisCase, page: ThisPage) -> Response:
    """What the record says, what it holds and what is missing, and the records kept before."""
    if isinstance(case.missing, NotWorkedOut):
        raise case.missing
    parts = [(part, *_standing(part, case)) for part in PARTS] if case.choice else []
    results = case.book.results(case.id, RECORD)
    kept = [(result, case.choice is not None and _stands(case, result)) for result in results]
    return page(
        "record.html",
        case,
        data=lambda: _twin(case, kept),
        choice=case.choice,
        headline=_headline(case) if case.choice else "",
        picture=comparison_picture(case.choice, system=case.system) if case.choice else None,
        digests=case.basis.digests if case.choice else {},
        parts=parts,
        addresses={place.slug for place in page.request.app.state.stations if place.router},
        kept=kept,
    )


def _headline(case: OpenCase) -> str:
    return record_verdict(case.study, case.chosen, asks=case.asks, standing=case.standing)


@router.get("/machines/{machine_id}/record.pdf")
def as_pdf(case: ThisCase) -> Response:
    """The record to print and sign."""
    return download(printed(record_of(_needed(case)), "pdf"), f"record-{case.id}")


@router.get("/machines/{machine_id}/record.html")
def as_html(case: ThisCase) -> Response:
    """The record as one page that needs nothing else."""
    return HTMLResponse(set_in("html", record_of(_needed(case))))


@router.post("/machines/{machine_id}/record")
def keep_it(book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep today's figures with the digests of what they were made from and the version that reckoned them."""
    fresh = keep(book, case.id, stored_of(_needed(case)))
    return page.to(case.href("record"), record_kept(fresh))


def _needed(case: OpenCase) -> OpenCase:
    if case.choice is None:
        raise case.missing or InputError(
            where="record",
            found="no choice",
            need="a machine, candidates and a trial",
            do="go on with those first",
        )
    return case.naming_its_axis()


def _standing(part: RecordPart, case: OpenCase) -> tuple[bool, str]:
    """Whether a part is in the record, and what to do where it is not."""
    try:
        applies = part.applies(case)
    except HoldzeroError as wrong:
        return False, f"found {wrong.found}"
    return applies, "" if applies else part.missing


def _stands(case: OpenCase, kept: Result) -> bool:
    basis = case.basis
    axis = kept.document.get("how", {}).get("axis", "")  # the one it is about, whatever is looked at
    how = replace(basis.how, axis=axis)
    bare = Stored(version=__version__, how=how, digests=basis.digests, figures={}, texts={})
    return same(kept, bare)


def _twin(case: OpenCase, kept: list[tuple[Result, bool]]) -> dict[str, Any]:
    if case.choice is None:
        return {}
    return {
        "digests": case.basis.digests,
        "parts": {part.name: _standing(part, case)[0] for part in PARTS},
        "figures": case.as_json(),
        "kept": [{"added": result.added, "version": result.version, "stands": stands} for result, stands in kept],
    }
