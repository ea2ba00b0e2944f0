"""Forms: fields made from the tables of keys; they keep what was typed and say at the field what is wrong."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

from fastapi import Depends, Request

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.form import Key, remark_of
from holdzero.quantity import System, quoted

FormTexts = dict[str, str]
WHOLE_FILES = ("text",)  # fields that take a whole file, which its own reader looks at


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """One field as drawn: what it asks, what was typed, what is wrong with that.

    `unit` is what a bare number takes; `choices` makes it a list of (value, words). `stood` is what is kept;
    `elsewhere` is that too, where another tab or device changed it while this one was being typed in.
    """

    name: str
    label: str
    value: str = ""
    unit: str = ""
    hint: str = ""
    example: str = ""
    error: str = ""
    choices: Sequence[tuple[str, str]] = ()
    stood: str = ""
    elsewhere: str | None = None

    @property
    def id(self) -> str:
        """Name in the page."""
        return "f-" + re.sub(r"\W+", "-", self.name)

    @property
    def waits(self) -> bool:
        """Whether it waits for the person: it cannot be read, or another changed it too."""
        return bool(self.error) or self.elsewhere is not None

    def with_(self, **changes: Any) -> "Field":
        """Return the field with something changed."""
        return replace(self, **changes)


class Answered(FormTexts):
    """The texts of a form shown again, with what its fields cannot say by themselves.

    `errors`: what is wrong at a field although it reads; `elsewhere`: what another kept there meanwhile.
    """

    def __init__(
        self, texts: FormTexts, *, errors: FormTexts | None = None, elsewhere: FormTexts | None = None
    ) -> None:
        super().__init__(texts)
        self.errors, self.elsewhere = errors or {}, elsewhere or {}


async def texts_of(request: Request) -> FormTexts:
    """Return the texts of a form, without spaces around them; a page that refuses it holds them all.

    Raises
    ------
    InputError
        A field twice, a control character, or far more than anyone says in it.
    """
    form = await request.form()
    sent = [(name, value.strip()) for name, value in form.multi_items() if isinstance(value, str)]
    request.state.typed = tuple((name, text) for name, text in sent if name != "password")
    return _once_each(sent)


def _once_each(typed: Sequence[tuple[str, str]]) -> FormTexts:
    texts: FormTexts = {}
    for name, text in typed:
        if name in texts:
            raise InputError(where=name, found="this field twice", need="each field once", do="send one of them")
        texts[name] = text if name in WHOLE_FILES else remark_of(text, where=name)
    return texts


async def _typed(request: Request) -> FormTexts:
    return {name: text for name, text in (await texts_of(request)).items() if text}


Typed = Annotated[FormTexts, Depends(_typed)]
"""The texts of a form, without spaces around them; what was left empty is left out."""


def fields(
    keys: Iterable[Key],
    entered: Mapping[str, Any],
    *,
    system: System,
    prefix: str = "",
    texts: FormTexts | None = None,
) -> list[Field]:
    """Return the fields of a table of keys.

    Parameters
    ----------
    keys : iterable of Key
        What may be entered.
    entered : mapping
        What is kept, as it was typed.
    system : {"metric", "inch"}
        Which unit a bare number takes.
    prefix : str
        Put before each name, where a page holds several tables.
    texts : mapping, optional
        What was typed now, in place of what is kept; each field says what is wrong with it.
    """
    made = []
    again = texts if isinstance(texts, Answered) else Answered({})
    for key in keys:
        stood, name = _text(entered.get(key.name)), prefix + key.name
        value = stood if texts is None else texts.get(name, "")
        error = again.errors.get(name, "")
        if not error and texts is not None and value:
            error = _wrong(key, value, system)
        made.append(
            Field(
                name=name,
                label=key.name.replace("_", " ").capitalize(),
                value=value,
                unit=_unit(key, system),
                hint=key.meaning,
                example=key.example,
                error=error,
                choices=[("", ""), *((word, word) for word in key.choices)] if _one_of(key) else (),
                stood=stood,
                elsewhere=again.elsewhere.get(name),
            )
        )
    return made


def kept(keys: Iterable[Key], texts: FormTexts, *, system: System, prefix: str = "") -> dict[str, str]:
    """Return what to keep of a form: as typed, a bare number with the unit its field showed."""
    return {
        key.name: quantity.with_unit(texts[prefix + key.name], _unit(key, system))
        for key in keys
        if texts.get(prefix + key.name)
    }


def merged(before: Mapping[str, Any], keys: Iterable[Key], now: Mapping[str, Any]) -> dict[str, Any]:
    """Return a table with the lines of some keys exchanged; lines no key of the form has are left alone."""
    asked = {key.name for key in keys}
    return {name: value for name, value in before.items() if name not in asked} | dict(now)


def number_in(texts: FormTexts, name: str, need: str) -> int:
    """Return a whole number that a page sent, e.g. of a row.

    Raises
    ------
    InputError
        It is none, or has more digits than any.
    """
    text = texts.get(name, "")
    if not text.isdecimal() or len(text) > 18:
        raise InputError(
            where=name, found=quoted(text) if text else "nothing", need=need, do="choose it on the page"
        )
    return int(text)


def chosen(field: Field) -> Field:
    """Return a field of choices; with what is wrong where it says none of them."""
    known = [value for value, _ in field.choices]
    if not known or field.value in known:
        return field
    why = f"found {quoted(field.value)}; needed is one of {', '.join(filter(None, known))}; choose one"
    return field.with_(error=why, choices=[(field.value, field.value), *field.choices])


def needed(error: InputError) -> str:
    """Say at a field what is wrong there: the field itself says where."""
    return f"found {error.found}; needed is {error.need}; {error.do}"


def _wrong(key: Key, value: str, system: System) -> str:
    try:
        key.read(quantity.with_unit(value, _unit(key, system)), "")
    except InputError as error:
        return needed(error)
    return ""


def _unit(key: Key, system: System) -> str:
    """Return what a bare number takes; nothing where a text says more than one quantity."""
    if not key.kind or quantity.KINDS[key.kind].bare:
        return ""
    return quantity.plain(quantity.field_unit(key.kind, system=system))


def _one_of(key: Key) -> bool:
    return key.example in key.choices


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(map(str, value))
    return "" if value is None else str(value)
