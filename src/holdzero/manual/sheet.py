"""Sheet: the files of the manual, pages with their frame, pictures, search and style, made when asked for."""

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from holdzero import __version__
from holdzero.manual.contents import CHAPTERS, HOME, docs, topic_named, topics
from holdzero.manual.pictures import picture_file, picture_names
from holdzero.manual.text import Text, set_text

HERE = Path(__file__).parent
STATIC = HERE.parent / "web" / "static"  # that of the app: one look
MEDIA = {
    "html": "text/html; charset=utf-8",
    "css": "text/css; charset=utf-8",
    "js": "text/javascript; charset=utf-8",
    "svg": "image/svg+xml",
    "png": "image/png",
    "ipynb": "application/x-ipynb+json",
}


def names() -> tuple[str, ...]:
    """Return the names of all files of the manual."""
    drawn = [f"pictures/{name}{layout}.svg" for name in picture_names() for layout in ("", "-narrow")]
    kept = [f"pictures/{path.name}" for path in sorted((docs() / "pictures").glob("*.[sp][vn]g"))]
    return (*(page.file for page in topics()), *_SCRIPTS, *drawn, *kept, "notebook.ipynb")


def file_of(name: str, *, book: str = "") -> bytes | None:
    """Return one file of the manual; None where there is none of that name.

    Parameters
    ----------
    name : str
        As pages link it, e.g. "methods.html".
    book : str
        Address of the open book that pages lead back to; empty: there is none.
    """
    if name in _SCRIPTS:
        return _SCRIPTS[name]()
    if name.startswith("pictures/"):
        own = name.removeprefix("pictures/")
        if own.removesuffix(".svg").removesuffix("-narrow") in picture_names():
            return picture_file(own)
    elif name != "notebook.ipynb":
        slug = name.removesuffix(".html")
        return _page(slug, book) if slug in {page.slug for page in topics()} and name != slug else None
    return (docs() / name).read_bytes() if name in names() else None


@cache
def _text(slug: str) -> Text:
    return set_text(topic_named(slug))


def _page(slug: str, book: str) -> bytes:
    pages = topics()
    at = next(number for number, page in enumerate(pages) if page.slug == slug)
    text = _text(slug)
    return (
        _templates()
        .get_template("sheet.html")
        .render(
            page=pages[at],
            text=text,
            before=pages[at - 1] if at else None,
            after=pages[at + 1] if at + 1 < len(pages) else None,
            home=topic_named(HOME),
            chapters={chapter: [page for page in pages if page.chapter == chapter] for chapter in CHAPTERS},
            parts=[heading for heading in text.headings if heading.level == 2],
            book=book,
            version=__version__,
        )
        .encode()
    )


@cache
def _templates() -> Environment:
    made = Environment(
        loader=FileSystemLoader(HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["HOME"] = HOME
    return made


@cache
def _words() -> bytes:
    """Everything that can be searched, as a script: a page opened from a folder may not read another file."""
    rows = [
        [page.title, f"{page.file}#{passage.anchor}", passage.heading, passage.words]
        for page in topics()
        for passage in _text(page.slug).passages
    ]
    return f"window.manualWords = {json.dumps(rows, ensure_ascii=False, separators=(',', ':'))};\n".encode()


_SCRIPTS: dict[str, Callable[[], bytes]] = {
    "holdzero.css": (STATIC / "holdzero.css").read_bytes,
    "icon.svg": (STATIC / "icon.svg").read_bytes,
    "manual.css": (HERE / "manual.css").read_bytes,
    "manual.js": (HERE / "manual.js").read_bytes,
    "words.js": _words,
}
