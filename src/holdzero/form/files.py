"""Files: which kind of file a text looks like, so that a wrong one is called by its name."""

import re

from holdzero.errors import InputError

_KINDS = {  # kind: how one is known, and the names that stand at its top
    "machine": ("TOML, with [axes.NAME]", {"axes", "requirement"}),
    "sensors": ("TOML, with [sensors.NAME]", {"sensors"}),
    "wiring": ("TOML, with [sensor] and [input]", {"supply", "input", "cable", "chain", "circuit"}),
    "squaring": ("TOML, with method", {"method", "round", "hole", "distance"}),
    "checklist": ("TOML, with [[check]]", {"check"}),
    "capture map": ("TOML, with [capture]", {"capture"}),
    "variants": ("TOML, with [vary] or [[variant]]", {"vary", "variant"}),
    "readings": ("CSV, with a column such as deviation_mm", set[str]()),
}
_OTHERS = {  # how a file begins that no reader here takes
    "SQLite format 3\0": "a book",
    "%PDF-": "a PDF",
    "PK\x03\x04": "a workbook or an archive (ZIP)",
    "<": "a web page",
}
NEVER_READ = frozenset(_OTHERS.values())
TELLS = 10_000  # characters that show which file it is
_TABLE = re.compile(r"^\s*\[\[?\s*[\"']?([\w-]+)", re.MULTILINE)
_KEY = re.compile(r"^\s*([\w-]+)[\w.\"' -]*=", re.MULTILINE)
_READINGS = re.compile(r"\bdeviation[\W_]*(?:mm|um|µm|μm|in|thou|steps)\b", re.IGNORECASE)


def refuse_other(text: str, kind: str, *, where: str = "") -> None:
    """Refuse a text that looks like another file than is needed.

    Parameters
    ----------
    text : str
        The whole file. One that looks like nothing known passes: its reader says what is wrong.
    kind : str
        What is needed: "machine", "sensors", "wiring", "squaring", "checklist", "capture map", "variants" or
        "readings".
    where : str, default ""
        Name of the file, for the message.

    Raises
    ------
    InputError
        Says which file it looks like and which is needed.

    Examples
    --------
    >>> refuse_other("[sensors.A]", "machine", where="s.toml")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    holdzero.errors.InputError: s.toml: found what looks like a sensors file; needed is ...
    """
    seems = looks_like(text)
    if seems and f"a {kind} file" not in seems:
        raise InputError(
            where=where,
            found=f"what looks like {' and '.join(sorted(seems))}",
            need=f"a {kind} file ({_KINDS[kind][0]})",
            do="name that one here",
        )


def looks_like(text: str) -> set[str]:
    r"""Return the kinds of file a text may be, with their articles; none if it looks like nothing known.

    >>> looks_like("deviation_mm\n0.012"), looks_like("drop = 2"), looks_like("<html>")
    ({'a readings file'}, set(), {'a web page'})
    """
    text = text.removeprefix("\ufeff").lstrip()
    file_kind = next((called for mark, called in _OTHERS.items() if text.startswith(mark)), "")
    if file_kind:
        return {file_kind}
    first = next((line for line in map(str.strip, text.splitlines()) if line and line[0] != "#"), "")
    if not (first.startswith("[") or _KEY.match(first)):
        return {"a readings file"} if _READINGS.search(first) else set()
    table = _TABLE.search(text)
    tops = {*_TABLE.findall(text), *_KEY.findall(text[: table.start() if table else None])}
    return {f"a {kind} file" for kind, (_, known) in _KINDS.items() if known & tops}
