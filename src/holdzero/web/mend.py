"""Mend: the text of a machine or a candidate that cannot be read, to be put right on the page."""

import json
from collections.abc import Callable
from typing import Any

from fastapi import APIRouter, Response

from holdzero.errors import HoldzeroError, InputError
from holdzero.form import read_toml, refuse_deep, write_toml
from holdzero.web.case import OpenBook
from holdzero.web.forms import Typed
from holdzero.web.page import Page, ThisPage

router = APIRouter()


@router.get("/machines/{machine_id}/mend")
def machine(book: OpenBook, page: ThisPage, machine_id: int) -> Response:
    """What was typed of a machine, and why it cannot be read."""
    return _shown(page, f"Machine {machine_id}", book.machine_text(machine_id), lambda: book.machine(machine_id))


@router.post("/machines/{machine_id}/mend")
def mend_machine(texts: Typed, book: OpenBook, page: ThisPage, machine_id: int) -> Response:
    """Keep it as it was put right; what it was stays in the book."""
    try:
        book.mend_machine(machine_id, _document(texts.get("text", "")))
    except InputError as refused:
        return _again(page, f"Machine {machine_id}", texts, refused)
    return page.to(
        f"/machines/{machine_id}/machine", "The machine can be read again. What it was stays in the book."
    )


@router.get("/sensors/{sensor_id}/mend")
def sensor(book: OpenBook, page: ThisPage, sensor_id: int) -> Response:
    """What was typed of a candidate, and why it cannot be read."""
    text, name, _ = book.sensor_text(sensor_id)
    return _shown(page, f"Candidate {name}", text, lambda: book.sensor(sensor_id))


@router.post("/sensors/{sensor_id}/mend")
def mend_sensor(texts: Typed, book: OpenBook, page: ThisPage, sensor_id: int) -> Response:
    """Keep it as it was put right; what it was stays in the book."""
    _, name, machine_id = book.sensor_text(sensor_id)
    try:
        book.mend_sensor(sensor_id, _document(texts.get("text", "")))
    except InputError as refused:
        return _again(page, f"Candidate {name}", texts, refused)
    return page.to(f"/machines/{machine_id}/sensors", f"{name} can be read again. What it was stays in the book.")


def _shown(page: Page, name: str, text: str, read: Callable[[], object]) -> Response:
    fault = ""
    try:
        read()
    except HoldzeroError as refused:
        fault = str(refused)
    return page("mend.html", name=name, text=_to_mend(text), fault=fault)


def _again(page: Page, name: str, texts: Typed, refused: InputError) -> Response:
    return page("mend.html", status=422, name=name, text=texts.get("text", ""), fault=str(refused))


def _to_mend(text: str) -> str:
    """Return the text as a file is written, where it can be told apart at all; else as it lies in the book."""
    try:
        document = json.loads(text)
        return write_toml(document) if isinstance(document, dict) else text
    except (ValueError, TypeError, AttributeError, RecursionError, HoldzeroError):
        return text


def _document(text: str) -> dict[str, Any]:
    """Return what a text says: the keys as in a file, or as they lie in the book."""
    if not text.lstrip().startswith("{"):
        return read_toml(text)
    try:
        document: dict[str, Any] = json.loads(text)
    except (ValueError, RecursionError) as slip:
        raise InputError(
            found=f"a text that breaks off or is garbled ({slip})", need="keys as in a file", do="put it right"
        ) from slip
    refuse_deep(document)
    return document
