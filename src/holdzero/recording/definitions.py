"""Definitions: the head of a value change dump, from the time scale to the variables.

IEEE 1364-2005, clause 18: declarations begin with a keyword and end with ``$end``; a variable has an
identifier code, and several variables may share one.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from holdzero.errors import InputError
from holdzero.form import did_you_mean
from holdzero.quantity import quoted
from holdzero.recording.source import Source

_POWERS = {"s": 0, "ms": -3, "us": -6, "ns": -9, "ps": -12, "fs": -15}
_SCALE = re.compile(r"(\d+)\s*([munpf]?s)")
_PIECE = re.compile(r"(.+?)\s*\[\s*(-?\d+)\s*\]", re.DOTALL)
_RANGE = re.compile(r"(.+?)\s*\[\s*(-?\d+)\s*:\s*(-?\d+)\s*\]", re.DOTALL)
_LARGEST = 1 << 26  # bytes of definitions: more is no capture of a home switch
_NO_LEVEL = frozenset({"real", "realtime", "string"})


@dataclass(frozen=True, slots=True)
class Variable:
    """One name of a dump: its scopes and name, its code, its bits (left and right index)."""

    scopes: tuple[str, ...]
    name: str
    code: bytes
    kind: str
    size: int
    left: int = 0
    right: int = 0

    @property
    def whole(self) -> str:
        """Name with its scopes."""
        return ".".join((*self.scopes, self.name))


@dataclass(frozen=True, slots=True)
class CodeBit:
    """Where a channel is found in the dump: an identifier code and which bit of it, from the right."""

    code: bytes
    bit: int = 0


@dataclass(frozen=True, slots=True)
class Definitions:
    """Head of a dump. `tick_s` None: no time scale stated. `start`: byte at which the changes begin."""

    tick_s: float | None
    variables: tuple[Variable, ...]
    start: int

    def wires(self, names: Sequence[str], *, where: str) -> tuple[CodeBit | None, ...]:
        """Return where each channel is found; None for an empty name.

        Raises
        ------
        InputError
            No such channel, one that is no level, a name that means several, or two names for one wire.
        """
        wires = tuple(self._wire(name, where) if name else None for name in names)
        seen: dict[CodeBit, str] = {}
        for name, wire in zip(names, wires, strict=True):
            if wire is not None and wire in seen:
                raise InputError(
                    where=where,
                    found=f"{quoted(seen[wire])} and {quoted(name)} on one wire",
                    need="a channel of its own for each",
                    do="put the names right in the map",
                )
            if wire is not None:
                seen[wire] = name
        return wires

    def _wire(self, name: str, where: str) -> CodeBit:
        fits = [variable for variable in self.variables if name in (variable.name, variable.whole)]
        bit, bit_of = 0, None
        piece = _PIECE.fullmatch(name)
        if not fits and piece:
            bit_of = piece[1]
            index = int(piece[2])
            fits = [
                variable
                for variable in self.variables
                if piece[1] in (variable.name, variable.whole)
                and min(variable.left, variable.right) <= index <= max(variable.left, variable.right)
            ]
            bit = abs(index - fits[0].right) if fits else 0
        if any(variable.kind in _NO_LEVEL for variable in fits):
            raise InputError(
                where=where,
                found=f"{quoted(name)} as a {fits[0].kind}",
                need="a channel that is 0 or 1",
                do="name the digital channel",
            )
        if bit_of is None and any(variable.size > 1 for variable in fits):
            variable = fits[0]
            raise InputError(
                where=where,
                found=f"{quoted(name)} with {variable.size} bits",
                need="one bit",
                do=f"write which, for instance {variable.name}[{variable.right}]",
            )
        if not fits:
            known = [variable.name for variable in self.variables]
            raise InputError(
                where=where,
                found=f"no channel {quoted(name)} among {listed(known)}",
                need="the names of the map in the capture",
                do=did_you_mean(name, known).removeprefix("; ") or "put the names right in the map",
            )
        if len({variable.code for variable in fits}) > 1:
            raise InputError(
                where=where,
                found=f"several channels {quoted(name)}: {listed(variable.whole for variable in fits)}",
                need="one",
                do="write its scopes too, with points between",
            )
        return CodeBit(fits[0].code, bit)


def listed(names: Iterable[str], most: int = 12) -> str:
    """Return names with commas between, not too many, each as a line can show it."""
    few = [quoted(name).strip('"') for name in dict.fromkeys(names)]
    return ", ".join(few[:most]) + (f" and {len(few) - most} more" if len(few) > most else "") or "none"


def read_definitions(source: Source) -> Definitions:
    """Read the head of a dump.

    Raises
    ------
    InputError
        A declaration that cannot be read, or no end of the definitions; names byte and line.
    """
    text = b""
    for block in source.blocks():
        text += block
        end = _end(text)
        if end is not None:
            return _read(source, text[:end], end)
        if len(text) > _LARGEST:
            break
    raise source.wrong(
        byte=max(len(text) - 1, 0),
        at_fault="no $enddefinitions" + (" before the file ends" if len(text) <= _LARGEST else ""),
        need="the whole head of a value change dump",
        do="export the capture again",
    )


_TOKEN = re.compile(rb"[^\x00-\x20]+")


def _end(text: bytes) -> int | None:
    """Byte after the ``$end`` of ``$enddefinitions``; a comment may hold the word."""
    if b"$enddefinitions" not in text:
        return None
    section = b""
    for match in _TOKEN.finditer(text):
        token = match[0]
        if token == b"$end":
            if section == b"$enddefinitions":
                return match.end()
            section = b""
        elif not section and token.startswith(b"$"):
            section = token
    return None


def _read(source: Source, text: bytes, end: int) -> Definitions:
    tick_s, scopes, variables = None, list[str](), list[Variable]()
    section: list[bytes] = []
    begins = 0
    for match in _TOKEN.finditer(text.removeprefix(b"\xef\xbb\xbf").rjust(len(text))):
        token = match[0]
        if not section:
            begins = match.start()
            if not token.startswith(b"$"):
                raise source.wrong(
                    byte=begins,
                    at_fault=quoted(_words(token)[:40]),
                    need="a declaration that begins with $",
                    do="export the capture again",
                )
        section.append(token)
        if token != b"$end":
            continue
        words = [_words(word) for word in section[1:-1]]
        keyword = section[0]
        if keyword == b"$timescale":
            tick_s = _scale(source, begins, " ".join(words))
        elif keyword == b"$scope":
            scopes.append(words[-1] if words else "")
        elif keyword == b"$upscope" and scopes:
            scopes.pop()
        elif keyword == b"$var":
            variables.append(_variable(source, begins, section[1:-1], tuple(scopes)))
        section = []
    _agree(source, variables, end)
    return Definitions(tick_s, tuple(variables), end)


def _scale(source: Source, byte: int, entered: str) -> float:
    scale = _SCALE.fullmatch(entered.strip())
    if scale is None or int(scale[1]) == 0:
        raise source.wrong(
            byte=byte,
            at_fault=f"the time scale {quoted(entered)}",
            need="a whole number with s, ms, us, ns, ps or fs",
            do="export the capture again",
        )
    return float(f"{scale[1]}e{_POWERS[scale[2]]}")


def _variable(source: Source, byte: int, words: list[bytes], scopes: tuple[str, ...]) -> Variable:
    if len(words) < 4 or not words[1].isdigit() or int(words[1]) < 1:
        raise source.wrong(
            byte=byte,
            at_fault=f"the declaration {quoted(_words(b' '.join(words))[:60])}",
            need="$var with kind, size, code and name",
            do="export the capture again",
        )
    kind, size, code = _words(words[0]), int(words[1]), words[2]
    name = _words(b" ".join(words[3:]))
    bits = _RANGE.fullmatch(name)
    if bits:
        return Variable(scopes, bits[1], code, kind, size, int(bits[2]), int(bits[3]))
    piece = _PIECE.fullmatch(name)
    if piece and size == 1:
        name = f"{piece[1]}[{piece[2]}]"
    return Variable(scopes, name, code, kind, size, size - 1, 0)


def _agree(source: Source, variables: Sequence[Variable], end: int) -> None:
    """Names that share a code share its size too."""
    sizes: Mapping[bytes, Variable] = {variable.code: variable for variable in variables}
    for variable in variables:
        namesake = sizes[variable.code]
        if namesake.size != variable.size:
            raise source.wrong(
                byte=end - 1,
                at_fault=f"{quoted(variable.whole)} and {quoted(namesake.whole)} with one code and two sizes",
                need="one size for each code",
                do="export the capture again",
            )


def _words(token: bytes) -> str:
    try:
        return token.decode("utf-8")
    except UnicodeDecodeError:
        return token.decode("latin-1")
