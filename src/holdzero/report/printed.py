"""Printed: a document as it was asked for; where the PDF part is not installed, as a page that prints the same."""

from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Literal

from holdzero.errors import InputError
from holdzero.report.content import RecordContent
from holdzero.report.page import record_html
from holdzero.report.pdf import record_pdf

Ending = Literal["pdf", "html"]
NO_PDF = (
    "The PDF part (typst) is not installed here, so this is made as HTML, which a browser prints the same; "
    'for PDF: pip install "holdzero[pdf]".'
)
MEDIA: dict[Ending, str] = {"pdf": "application/pdf", "html": "text/html; charset=utf-8"}


@dataclass(frozen=True, slots=True)
class Printed:
    """A document, what it is, and what is to be said of that; `note` is empty where it is what was asked for."""

    made: bytes
    ending: Ending
    note: str = ""

    @property
    def media_type(self) -> str:
        """As a browser is told."""
        return MEDIA[self.ending]


def pdf_installed() -> bool:
    """Whether documents can be set as PDF here."""
    return find_spec("typst") is not None


def no_pdf() -> str:
    """What to say where no PDF can be had; empty where it can."""
    return "" if pdf_installed() else NO_PDF


def printed(content: RecordContent, ending: Ending) -> Printed:
    """Set a document, as PDF where that is asked for and can be had. The same document gives the same bytes."""
    if ending == "pdf" and pdf_installed():
        return Printed(record_pdf(content), "pdf")
    return Printed(record_html(content).encode(), "html", NO_PDF if ending == "pdf" else "")


def write_printed(path: str | Path, content: RecordContent) -> tuple[Path, str]:
    """Write a document to a name that ends in .pdf or .html.

    Returns
    -------
    path : Path
        Where it is: the same name with .html where no PDF can be had.
    note : str
        What is to be said of that.

    Raises
    ------
    InputError
        It cannot be written, or the page would stand in the place of a file that is there.
    """
    asked = Path(path)
    document = printed(content, "pdf" if asked.suffix.lower() == ".pdf" else "html")
    target = asked.with_suffix(".html") if document.note else asked
    if document.note and target.is_file() and not target.read_bytes().startswith(b"<!doctype html>"):
        raise InputError(
            where=str(path),
            found=f"{target}, another file",
            need="a name for a page",
            do="name one that ends in .html",
        )
    try:
        target.write_bytes(document.made)
    except OSError as error:
        raise InputError(
            where=str(path),
            found=(error.strerror or str(error)).lower(),
            need="a place that can be written to",
            do="check the folder",
        ) from error
    return target, document.note
