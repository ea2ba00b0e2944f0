"""Files: a page beside the Machine station. Each of a machine's files is given out, and brought in."""

import io
import zipfile

from fastapi import APIRouter, Request, Response
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from holdzero.case.exchange import ReadFile, bring, files_of, left_behind, recognised
from holdzero.errors import InputError
from holdzero.quantity import quoted
from holdzero.store import Book, NotInBook
from holdzero.tell.exchanged import WHAT_THEY_HOLD, brought_line, stays_line, unread_line
from holdzero.web.case import OpenBook, OpenCase, ThisCase
from holdzero.web.page import Page, ThisPage
from holdzero.web.rail import Subpage

router = APIRouter()
PAGE = Subpage("files", router)
ALL = "all.zip"
TAKES_IT = "tick “take what the file says” to have it replaced"
KINDS = {"toml": "application/toml", "csv": "text/csv", "zip": "application/zip"}  # of media, by ending


@router.get("/machines/{machine_id}/files")
@router.get("/machines/{machine_id}/files.json")
def files(case: ThisCase, page: ThisPage) -> Response:
    """Every file of the machine, to be saved or brought in."""
    return _shown(case, page)


@router.get("/machines/{machine_id}/files/{name}")
def give(case: ThisCase, name: str) -> Response:
    """One file of the machine, or all of them in a ZIP."""
    texts = files_of(case.basis)
    if name == ALL:
        content = _zipped(texts)
    elif name in texts:
        content = texts[name].encode()
    else:
        need = f"one of {', '.join(texts)}"
        raise NotInBook(where=case.machine.name, found=f"no file {quoted(name)}", need=need, do="go back")
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(content, media_type=KINDS[name.rpartition(".")[2]], headers=headers)


@router.post("/machines/{machine_id}/files")
async def bring_in(book: OpenBook, case: ThisCase, page: ThisPage, request: Request) -> Response:
    """Bring in files as one transaction; what each is, is known by what stands in it."""
    async with request.form() as form:
        sent = [file for file in form.getlist("file") if isinstance(file, UploadFile) and file.filename]
        contents = [(file.filename or "", await file.read()) for file in sent]
        replace = bool(form.get("replace"))
    return await run_in_threadpool(_brought_in, book, case, page, contents, replace)  # other pages go on meanwhile


def _brought_in(
    book: Book, case: OpenCase, page: Page, contents: list[tuple[str, bytes]], replace: bool
) -> Response:
    if not contents:
        return _shown(case, page, error="Choose a file first.", status=422)
    try:
        known = [recognised(name, content) for name, content in contents]
        read = [file for file in known if isinstance(file, ReadFile)]
        parts = bring(book, read, machine=case.machine.name, replace=replace) if read else ()
    except InputError as refused:
        return _shown(case, page, error=f"Nothing was brought in. {refused}", status=422)
    lines = [brought_line(part, replace=TAKES_IT) for part in parts]
    lines += [note for part in parts for note in part.notes]
    lines += [unread_line(file) for file in known if not isinstance(file, ReadFile)]
    return _shown(OpenCase(book, case.id), page, lines=lines)


def _zipped(texts: dict[str, str]) -> bytes:
    content = io.BytesIO()
    with zipfile.ZipFile(content, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in texts.items():
            archive.writestr(name, text)
    return content.getvalue()


def _shown(
    case: OpenCase, page: ThisPage, *, lines: list[str] | None = None, error: str = "", status: int = 200
) -> Response:
    texts = files_of(case.basis)
    return page(
        "files.html",
        case,
        data=lambda: {"files": {name: len(text.encode()) for name, text in texts.items()}},
        status=status,
        rows=[(name, WHAT_THEY_HOLD[name], len(text.encode())) for name, text in texts.items()],
        everything=ALL,
        stays=stays_line(left_behind(case.basis)),
        lines=lines or (),
        error=error,
    )
