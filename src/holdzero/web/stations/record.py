"""Record: the page to print, sign and keep with the machine."""

from hashlib import sha256
from typing import Any

from fastapi import APIRouter, Response
from fastapi.responses import HTMLResponse

from holdzero import __version__
from holdzero.chart.comparison import comparison_picture
from holdzero.choose import as_json
from holdzero.choose.values import Choice
from holdzero.errors import InputError
from holdzero.machine import write_machine
from holdzero.report import RecordContent, record_content, record_html, record_pdf
from holdzero.report.record import last_day
from holdzero.sensor import write_sensors
from holdzero.web.case import Case, OpenBook, ThisCase
from holdzero.web.page import ThisPage
from holdzero.web.rail import DONE, OPEN, Mark, Station, flag

router = APIRouter()
KIND = "record"


def mark(case: Case) -> Mark:
    """Done once kept; flagged when the figures have changed since."""
    kept = case.book.results(case.id, KIND)
    if not kept:
        return OPEN
    same = case.choice is not None and kept[0].document == as_json(case.choice)
    return DONE if same else flag("the figures have changed since the record was kept")


STATION = Station("Record", router, mark)


@router.get("/machines/{machine_id}/record")
@router.get("/machines/{machine_id}/record.json")
def record(case: ThisCase, page: ThisPage) -> Response:
    """What the record says, and the records kept before."""
    figures = as_json(case.choice) if case.choice else {}
    kept = [(one, one.document == figures) for one in case.book.results(case.id, KIND)]
    return page(
        "record.html",
        case,
        data=lambda: figures,
        choice=case.choice,
        picture=comparison_picture(case.choice, system=case.system) if case.choice else None,
        digests=_digests(case),
        kept=kept,
    )


@router.get("/machines/{machine_id}/record.pdf")
def as_pdf(case: ThisCase) -> Response:
    """The record to print and sign."""
    name = f'attachment; filename="record-{case.id}.pdf"'
    return Response(
        record_pdf(_content(case)), media_type="application/pdf", headers={"content-disposition": name}
    )


@router.get("/machines/{machine_id}/record.html")
def as_html(case: ThisCase) -> Response:
    """The record as one page that needs nothing else."""
    return HTMLResponse(record_html(_content(case)))


@router.post("/machines/{machine_id}/record")
def keep(book: OpenBook, case: ThisCase, page: ThisPage) -> Response:
    """Keep today's figures with the digest of the readings and the version that computed them."""
    figures: dict[str, Any] = as_json(_choice(case))
    book.add_result(case.id, kind=KIND, digest=case.readings.digest, version=__version__, document=figures)
    return page.to(case.href("record"), "Kept in the book.")


def _content(case: Case) -> RecordContent:
    sensors = [kept.sensor for kept in case.sensors]
    return record_content(
        case.machine,
        sensors,
        case.study,
        _choice(case),
        digests=_digests(case),
        version=__version__,
        invented=case.kept.remark,
        day=last_day(case.study),
        system=case.system,
    )


def _digests(case: Case) -> dict[str, str]:
    files = {
        "machine": write_machine(case.machine),
        "sensors": write_sensors(kept.sensor for kept in case.sensors),
    }
    return {name: sha256(text.encode()).hexdigest() for name, text in files.items()} | {
        "readings": case.readings.digest
    }


def _choice(case: Case) -> Choice:
    if case.choice is None:
        raise case.missing or InputError(
            where="record",
            found="no choice",
            need="a machine, candidates and a trial",
            do="go on with those first",
        )
    return case.choice
