"""TOML: text to nested tables, and tables to text."""

import json
import re
from collections.abc import Iterable, Mapping
from datetime import date, datetime, time
from typing import Any

from holdzero.errors import InputError
from holdzero.form.bounds import MOST_NESTED
from holdzero.form.files import refuse_other
from holdzero.quantity import quoted

_BARE = re.compile(r"[A-Za-z0-9_-]+")
_PLACE = re.compile(r" ?\(at (line [0-9]+, column [0-9]+|end of document)\)$")


def read_toml(text: str, *, where: str = "", kind: str = "") -> dict[str, Any]:
    """Read TOML text.

    Parameters
    ----------
    text : str
        The whole file.
    where : str, default ""
        Name of the file, for the message.
    kind : str, default ""
        Which file is needed, as in `holdzero.form.refuse_other`.

    Returns
    -------
    dict
        Nested tables.

    Raises
    ------
    InputError
        Not TOML; names the line. Or another file than is needed, or tables in tables without end.
    """
    import tomllib  # 3 ms that who reads a CSV file need not pay

    if kind:
        refuse_other(text, kind, where=where)
    try:
        document = tomllib.loads(text.removeprefix("\ufeff"))
    except (ValueError, RecursionError) as slip:  # tomllib's own is a ValueError, as is an integer too long
        message = str(slip)
        place = _PLACE.search(message)
        fault = _PLACE.sub("", message)
        raise InputError(
            where=", ".join(filter(None, (where, place[1] if place else ""))),
            found=f"a line that is not TOML ({quoted(fault)[1:-1]})",
            need='key = value, with texts and quantities in quotes, such as lead = "10 mm"',
            do="correct that line",
        ) from slip
    refuse_deep(document, where=where)
    return document


def refuse_deep(document: Any, *, where: str = "") -> None:
    """Refuse tables and lists in each other to a depth that nothing could write again.

    Raises
    ------
    InputError
        More than `MOST_NESTED`.
    """
    level = [document]
    for _ in range(MOST_NESTED + 1):
        parts = [value.values() if isinstance(value, Mapping) else value for value in level]
        level = [value for part in parts for value in part if isinstance(value, Mapping | list)]
        if not level:
            return
    raise InputError(
        where=where,
        found=f"more than {MOST_NESTED} tables or lists in each other",
        need="tables of keys with texts and figures",
        do="take out what is nested",
    )


def table(document: Mapping[str, Any], *names: str, where: str = "") -> Mapping[str, Any]:
    """Return the last of the tables called `names`, each inside the one before; empty where there is none.

    Raises
    ------
    InputError
        There is something else of that name.
    """
    for depth in range(1, len(names) + 1):
        value = document.get(names[depth - 1], {})
        if not isinstance(value, Mapping):
            raise InputError(
                where=dotted(where, *names[:depth]),
                found=quoted(value),
                need=f"a table [{dotted('', *names[:depth])}]",
                do=f"begin a line [{dotted('', *names[:depth])}] and put its keys below",
            )
        document = value
    return document


def dotted(where: str, *names: str) -> str:
    """Return where a key stands, as a message names it.

    >>> dotted("machine.toml", "axes", "Y", "lead"), dotted("", "axes", "Y 2")
    ('machine.toml, axes.Y.lead', 'axes."Y 2"')
    """
    return ", ".join(filter(None, (where, ".".join(map(_key, names)))))


def write_toml(document: Mapping[str, Any], *, head: str = "") -> str:
    """Write nested tables as TOML text that reads back equal.

    Parameters
    ----------
    document : mapping
        Texts, numbers, booleans, dates, lists and mappings of these; None is left out.
    head : str, default ""
        Lines to stand above as comments.

    Examples
    --------
    >>> print(write_toml({"machine": {"name": "Router"}, "axes": {"Y": {"motors": 2, "lead": "10 mm"}}}), end="")
    [machine]
    name = "Router"
    <BLANKLINE>
    [axes.Y]
    motors = 2
    lead = "10 mm"
    """
    comments = "".join(f"# {line}\n" for line in head.splitlines())
    return comments + "\n".join("\n".join(part) + "\n" for part in _parts(document, ()))


def _parts(content: Mapping[str, Any], path: tuple[str, ...], *, listed: bool = False) -> Iterable[list[str]]:
    inner = {name: value for name, value in content.items() if _is_table(value) or _is_list_of_tables(value)}
    lines = [
        f"{_key(name)} = {_value(value)}"
        for name, value in content.items()
        if name not in inner and value is not None
    ]
    if path and (lines or listed or not inner):
        header = ".".join(map(_key, path))
        lines.insert(0, f"[[{header}]]" if listed else f"[{header}]")
    if lines:
        yield lines
    for name, value in inner.items():
        if _is_table(value):
            yield from _parts(value, (*path, name))
        else:
            for item in value:
                yield from _parts(item, (*path, name), listed=True)


def _is_table(value: Any) -> bool:
    return isinstance(value, Mapping)


def _is_list_of_tables(value: Any) -> bool:
    return isinstance(value, list | tuple) and len(value) > 0 and all(_is_table(item) for item in value)


def _key(name: str) -> str:
    return name if _BARE.fullmatch(name) else _text(name)


def _text(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, date | datetime | time):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{_key(name)} = {_value(item)}" for name, item in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_value, value)) + "]"
    raise TypeError(f"TOML has no {type(value).__name__}")
