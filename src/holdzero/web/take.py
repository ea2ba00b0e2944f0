"""Take: what a person takes away of a page, its pictures, tables and figures, the homings, and the book."""

import csv
import re
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from io import BytesIO, StringIO
from pathlib import Path

from fastapi import APIRouter, Request, Response
from fastapi.responses import FileResponse
from starlette.background import BackgroundTask
from starlette.datastructures import URL
from starlette.exceptions import HTTPException
from starlette.routing import Match

from holdzero.chart import Picture
from holdzero.report.alone import picture_png, picture_svg
from holdzero.store.file import forget_people
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.download import attached
from holdzero.web.tables import TableShown, as_csv, tables_of

router = APIRouter()
ASKED = "take"  # of the query: "list", or one of the files named there
LIST = "list"
_SHEETS = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_EXAMPLE = ["example", "yes"]


@dataclass(frozen=True, slots=True)
class Takings:
    """What can be taken of one page.

    Parameters
    ----------
    page_name : str
        Its template without the ending.
    pictures : sequence of Picture
        In their order.
    tables : sequence of TableShown
        In their order.
    invented : str
        What is to be said of figures that are made up; it goes with every file. Empty: they are a machine's own.
    """

    page_name: str
    pictures: Sequence[Picture]
    tables: Sequence[TableShown]
    invented: str = ""

    @classmethod
    def of(cls, page_name: str, page: str, pictures: Sequence[Picture], case: OpenCase | None) -> "Takings":
        """Return what can be taken of a page that was set, of each picture and table once."""
        unlike = tuple({picture.digest: picture for picture in pictures}.values())
        return cls(page_name, unlike, tables_of(page), case.invented if case else "")

    def file(self, name: str) -> Response:
        """Return one of its files: `picture-1.svg`, `picture-1.png`, `table-1.csv`.

        Raises
        ------
        HTTPException
            It has none of that name.
        MissingExtra
            A PNG, and what draws it is not installed.
        """
        kind, number, ending = _asked(name)
        held: Sequence[Picture] | Sequence[TableShown] = self.pictures if kind == "picture" else self.tables
        if int(number) > len(held):
            raise HTTPException(404)
        thing = held[int(number) - 1]
        saved = f"{self.page_name}-{_short(thing.title) or name.partition('.')[0]}.{ending}"
        if isinstance(thing, TableShown) and ending == "csv":
            return attached(as_csv(thing, invented=bool(self.invented)), saved, "text/csv; charset=utf-8")
        if isinstance(thing, Picture) and ending == "svg":
            return attached(picture_svg(thing, invented=self.invented), saved, "image/svg+xml")
        if isinstance(thing, Picture) and ending == "png":
            return attached(picture_png(thing, invented=self.invented), saved, "image/png")
        raise HTTPException(404)


def local(url: URL) -> str:
    """Return the part of an address within this server."""
    return f"{url.path}?{url.query}" if url.query else url.path


def twin(request: Request) -> str:
    """Return the address of a page's figures as JSON; empty where it has none."""
    path = f"{request.url.path}.json" if request.url.path != "/" else "/machines.json"
    asked = {"type": "http", "method": "GET", "path": path, "headers": []}
    served = any(
        route.matches(asked)[0] == Match.FULL
        for route in request.app.routes
        if not getattr(route, "path", "").startswith("/manual")
    )
    return local(request.url.remove_query_params(ASKED).replace(path=path)) if served else ""


@router.get("/machines/{machine_id}/homings.csv")
def homings_csv(case: ThisCase) -> Response:
    """Every homing of a machine as a readings file, which reads back to the same homings."""
    return attached(_csv(_homings(case)), f"homings-{case.id}.csv", "text/csv; charset=utf-8")


@router.get("/machines/{machine_id}/homings.xlsx")
def homings_xlsx(case: ThisCase) -> Response:
    """The same as a workbook."""
    from openpyxl import Workbook  # a tenth of a second, and few ask for it

    workbook = Workbook(write_only=True)
    sheet = workbook.create_sheet("homings")
    for row in _homings(case):
        sheet.append([_number(cell) for cell in row])
    held = BytesIO()
    workbook.save(held)
    return attached(held.getvalue(), f"homings-{case.id}.xlsx", _SHEETS)


@router.get("/book/copy.holdzero")
def book_copy(book: OpenBook) -> Response:
    """A copy of the book, of this moment, without the people who may sign in."""
    place = Path(tempfile.mkdtemp(prefix="holdzero-")) / (
        book.path.name if book.path else f"{book.title}.holdzero"
    )
    book.back_up(place)
    forget_people(place)
    return _whole(place, "application/vnd.sqlite3")


@router.get("/book/archive.zip")
def book_archive(book: OpenBook) -> Response:
    """All of the book as one open archive."""
    place = Path(tempfile.mkdtemp(prefix="holdzero-")) / f"{book.title}.zip"
    book.export(place)
    return _whole(place, "application/zip")


def _whole(place: Path, media_type: str) -> FileResponse:
    def forget() -> None:
        place.unlink()
        place.parent.rmdir()

    return FileResponse(place, media_type=media_type, filename=place.name, background=BackgroundTask(forget))


def _homings(case: OpenCase) -> list[list[str]]:
    text = case.basis.texts.get("readings", "")
    if not text:
        raise HTTPException(404)
    rows = list(csv.reader(StringIO(text)))
    if case.invented and _EXAMPLE[0] not in rows[0]:
        rows = [[*row, _EXAMPLE[number > 0]] for number, row in enumerate(rows)]
    return rows


def _csv(rows: Sequence[Sequence[str]]) -> str:
    out = StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    return out.getvalue()


def _number(cell: str) -> str | float:
    try:
        return float(cell)
    except ValueError:
        return cell


def _short(title: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", title.lower())[:48].strip("-")


def _asked(name: str) -> tuple[str, str, str]:
    match = re.fullmatch(r"(picture|table)-([1-9]\d*)\.(svg|png|csv)", name)
    if match is None:
        raise HTTPException(404)
    kind, number, ending = match.groups()
    return kind, number, ending
