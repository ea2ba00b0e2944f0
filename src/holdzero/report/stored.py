"""Stored: what a record carries inside, so that it can be reckoned again years later.

A record holds one block for machines (`record.json`: version, what was said beside the inputs, their
digests, and every figure) and, where they are not too long, the inputs themselves. In a PDF these are
attachments, which any reader of PDF shows; in a page they are one block of data that is never run.
"""

import json
import re
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import Any

from holdzero import __version__
from holdzero.case import FILES, Case, How, Texts, digest_of, how_from
from holdzero.errors import InputError
from holdzero.report.content import Attached

SHAPE = 1  # of the block; a later one is a new number
BLOCK = "record.json"
MOST_CHARACTERS = 4_000_000  # of inputs that are carried along: some 50 000 readings
DIGITS = 9  # of a figure
VERDICTS = {"verdict", "choice", "bound_by", "tails", "effect", "reads", "reads_clear", "reads_tripped", "grade"}
NAMES = ("sensor", "part", "check", "name", "fault", "axis", "code", "at")  # what tells rows of a list apart
_EMBEDDED = re.compile(rb"/Type\s*/EmbeddedFile\b.*?\bstream\r?\n(.*?)\r?\nendstream", re.DOTALL)
_IN_PAGE = re.compile(r'<script type="application/json" id="files">(.*?)</script>', re.DOTALL)

Figure = float | bool | str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stored:
    """What a record says of itself.

    Parameters
    ----------
    version : str
        Version that reckoned it.
    how : How
        What was said beside the inputs.
    digests : mapping of str
        SHA-256 of each input.
    figures : mapping of str
        Every figure and verdict, by its place in the stations' JSON.
    texts : mapping of str
        The inputs, as far as they are carried along.
    """

    version: str
    how: How
    digests: Mapping[str, str]
    figures: Mapping[str, Figure]
    texts: Mapping[str, str]

    @property
    def digest(self) -> str:
        """SHA-256 of all inputs and of what was said beside them."""
        return digest_of(repr((sorted(self.digests.items()), sorted(self.how.as_json().items()))))

    @property
    def basis(self) -> Texts:
        """The inputs it carries.

        Raises
        ------
        InputError
            One of them is not in it, or is not the one that its digest names.
        """
        for name in self.digests:
            if name not in self.texts:
                raise InputError(
                    where=f"{name} in the record",
                    found="a digest without the text it belongs to",
                    need="the text",
                    do="name the book or the files it was made from as well",
                )
        return Texts(files=self.texts, how=self.how)

    def attached(self) -> tuple[Attached, ...]:
        """Return the files a document carries."""
        block = {
            "holdzero_record": SHAPE,
            "version": self.version,
            "how": self.how.as_json(),
            "digests": dict(self.digests),
            "figures": dict(self.figures),
        }
        files = [
            Attached(BLOCK, _written(block), "Figures and digests of this record, for holdzero record --verify")
        ]
        files += [
            Attached(FILES[name], text, f"Input of this record: {name}") for name, text in self.texts.items()
        ]
        return tuple(files)


def stored_of(case: Case) -> Stored:
    """Return what the record of a case says of itself."""
    basis = case.basis
    texts = {name: basis.texts[name] for name in FILES if name in basis.texts}
    fits = sum(map(len, texts.values())) <= MOST_CHARACTERS
    return Stored(
        version=__version__,
        how=basis.how,
        digests=basis.digests,
        figures=dict(figures(case.as_json())),
        texts=texts if fits else {},
    )


def read_stored(raw: bytes, *, where: str = "") -> Stored:
    """Read what a record says of itself out of the file.

    Parameters
    ----------
    raw : bytes
        A PDF or a page that `holdzero record` wrote. A PDF may have been signed or written on since.
    where : str
        Name of the file, for the message.

    Raises
    ------
    InputError
        There is no such block in it.
    """
    files = list(_of_pdf(raw) if raw.startswith(b"%PDF") else _of_page(raw))
    by_digest = {digest_of(text): text for text in files}
    for text in files:
        if not text.startswith('{"holdzero_record"'):
            continue
        block = json.loads(text)
        if block["holdzero_record"] > SHAPE:
            raise InputError(
                where=where,
                found=f"a record of version {block['version']}",
                need=f"one this version ({__version__}) knows",
                do="update holdzero",
            )
        return Stored(
            version=block["version"],
            how=how_from(block["how"]),
            digests=block["digests"],
            figures=block["figures"],
            texts={name: by_digest[sha] for name, sha in block["digests"].items() if sha in by_digest},
        )
    raise InputError(
        where=where,
        found="no figures that can be checked",
        need="a PDF or a page written by holdzero record",
        do="name the file as it was written, not a print or a scan of it",
    )


def figures(value: Any, place: str = "") -> Iterator[tuple[str, Figure]]:
    """Yield every number, yes or no, and verdict of a JSON-ready value with its place; sentences are left out.

    >>> dict(figures({"candidates": [{"sensor": "B", "verdict": "holds", "chance": 0.12345678901}]}))
    {'candidates.B.verdict': 'holds', 'candidates.B.chance': 0.123456789}
    """
    if isinstance(value, Mapping):
        for key, part in value.items():
            if isinstance(part, str) and key not in VERDICTS:
                continue
            yield from figures(part, f"{place}.{key}" if place else str(key))
    elif isinstance(value, list | tuple):
        names = [_name(part, number) for number, part in enumerate(value)]
        for number, (name, part) in enumerate(zip(names, value, strict=True)):
            if not (isinstance(part, str)):
                alone = names.count(name) == 1
                yield from figures(part, f"{place}.{name if alone else f'{name} {number}'}")
    elif isinstance(value, float) and isfinite(value):
        yield place, float(f"{value:.{DIGITS}g}")
    elif value is None or isinstance(value, bool | int | str):
        yield place, value


def _name(part: Any, number: int) -> str:
    """What a row of a list is called: by its names, else by its number from 1."""
    if not isinstance(part, Mapping):
        return str(number + 1)
    names = [str(part[key]) for key in (*NAMES, "side") if part.get(key) and isinstance(part[key], str)]
    return " ".join(names) or str(number + 1)


def _written(block: Mapping[str, Any]) -> str:
    return json.dumps(block, ensure_ascii=False, allow_nan=False)


def _of_pdf(raw: bytes) -> Iterator[str]:
    for match in _EMBEDDED.finditer(raw):
        try:
            yield (zlib.decompress(match[1]) if match[1][:1] == b"\x78" else match[1]).decode("utf-8")
        except (zlib.error, UnicodeDecodeError):
            continue  # some other program's attachment


def _of_page(raw: bytes) -> Iterator[str]:
    match = _IN_PAGE.search(raw.decode("utf-8", "replace"))
    if match:
        yield from json.loads(match[1]).values()
