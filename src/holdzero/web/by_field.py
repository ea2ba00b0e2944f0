"""By field: a form that saves itself keeps the fields that were changed, each laid over what is kept by now.

Such a form says beside each field what stood there when it was given out. So two tabs or devices that change
different fields merge, and where both changed the same one the person is told and chooses; nothing is undone
silently. A form without that (of a script, say) is taken whole, as it was sent.
"""

from collections.abc import Callable, Iterable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass
from typing import Annotated, get_args

from fastapi import Depends, Request

from holdzero.errors import InputError
from holdzero.quantity import System, with_unit
from holdzero.web.case import OpenCase
from holdzero.web.forms import Answered, Field, FormTexts, texts_of

WAS = "was."  # before the name of a field: what stood there when the form was given out
SHOWN_IN = "shown_in"  # the system whose units the fields showed; a form that has it is kept by field
TAKE = "take"  # the field whose value of elsewhere is taken
CLASH, WRONG = 409, 422


@dataclass(frozen=True, slots=True)
class SentForm:
    """A form as it was sent: every field of it, the empty ones too."""

    texts: Mapping[str, str]

    @property
    def shown_in(self) -> System | None:
        """The system its fields showed; None where the form is taken whole."""
        return next((system for system in get_args(System) if system == self.texts.get(SHOWN_IN)), None)

    def get(self, name: str) -> str:
        """Return one text, empty where there is none."""
        return self.texts.get(name, "")


async def _sent(request: Request) -> SentForm:
    return SentForm(await texts_of(request))


Sent = Annotated[SentForm, Depends(_sent)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """What a form makes of what is kept.

    `texts`: every text as it would be kept; `changed`: names of the fields this form changes; `clashes`: what
    was typed where another changed the same field meanwhile; `stood`: what is kept now.
    """

    texts: FormTexts
    changed: frozenset[str]
    clashes: FormTexts
    stood: FormTexts

    @property
    def typed(self) -> FormTexts:
        """Every text as this person sees it."""
        return _filled(self.texts | self.clashes)

    def without(self, names: Iterable[str]) -> FormTexts:
        """Return the texts with what is kept in place of some."""
        return _filled(self.texts | {name: self.stood.get(name, "") for name in names})


@dataclass(frozen=True, slots=True, kw_only=True)
class SelfSaving:
    """How one form saves itself.

    `fields`: all of it for a case, as kept or with other texts; `keep`: keeps the texts, or raises an
    `InputError` that says why they cannot stand together.
    """

    fields: Callable[[OpenCase, FormTexts | None], Iterable[Field]]
    keep: Callable[[OpenCase, FormTexts], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """What came of it.

    `kept`: labels of the fields that were changed and kept; `answered`: what is shown again where a field waits
    for the person; `refusal`: why the whole cannot stand.
    """

    case: OpenCase
    kept: tuple[str, ...] = ()
    answered: Answered | None = None
    refusal: InputError | None = None

    @property
    def status(self) -> int:
        """200, 409 where another changed a field too, 422 where something cannot be kept."""
        if self.answered is None:
            return 200
        wrong = self.refusal is not None or not self.answered.elsewhere
        return WRONG if wrong else CLASH

    @property
    def why(self) -> str:
        """Why it cannot stand together, unless that is said at a field."""
        return "" if self.refusal is None or (self.answered and self.answered.errors) else str(self.refusal)

    @property
    def notice(self) -> str:
        """What was kept, in a sentence."""
        return f"Kept: {', '.join(self.kept)}." if self.kept else ""


def merge(sent: SentForm, kept: Iterable[Field]) -> Merged:
    """Lay what a form changed over what is kept now.

    Parameters
    ----------
    sent : SentForm
        The form, or the part of it that was changed.
    kept : iterable of Field
        All fields of the form as they are kept now.
    """
    fields = {field.name: field for field in kept}
    stood = {name: field.value for name, field in fields.items()}
    if sent.shown_in is None:
        changed = frozenset(name for name in fields if sent.get(name) != stood[name])
        return Merged(texts=_filled(sent.texts), changed=changed, clashes={}, stood=stood)
    beside = {name: text for name, text in sent.texts.items() if name not in fields and not name.startswith(WAS)}
    changes: FormTexts = {}
    clashes: FormTexts = {}
    for name in fields.keys() & sent.texts.keys():
        typed, was, now = sent.get(name), sent.get(WAS + name), stood[name]
        if typed == was or name == sent.get(TAKE):
            continue
        same = with_unit(typed, fields[name].unit) == now
        (changes if now == was or same else clashes)[name] = typed
    return Merged(
        texts=_filled(beside | stood | changes), changed=frozenset(changes), clashes=clashes, stood=stood
    )


def save(case: OpenCase, sent: SentForm, form: SelfSaving) -> Saved:
    """Keep what a form changed, as far as it can be kept.

    A field that cannot be read is not kept and keeps nobody else from it; so with one that was changed
    elsewhere meanwhile. Both come back with what was typed.
    """
    nobody_else = nullcontext() if case.book.read_only else case.book.together()
    with nobody_else:  # between reading what is kept and keeping it, be it another program
        case = _as_shown(case, sent)
        stood = tuple(form.fields(case, None))
        merged = merge(sent, stood)
        errors = {f.name: f.error for f in form.fields(case, merged.texts) if f.error and f.name in merged.changed}
        sound = merged.changed - errors.keys()
        if sent.shown_in is None and errors:
            return Saved(case=case, answered=Answered(merged.texts))
        if sound or sent.shown_in is None:
            try:
                form.keep(case, merged.without(errors))
            except InputError as refusal:
                return _refused(case, merged, refusal, by_field=sent.shown_in is not None)
        case = _as_shown(case, sent)
    labels = tuple(field.label for field in stood if field.name in sound)
    if not errors and not merged.clashes:
        return Saved(case=case, kept=labels)
    now = {field.name: field.value for field in form.fields(case, None)}
    elsewhere = {name: now.get(name, "") for name in merged.clashes}
    return Saved(case=case, kept=labels, answered=Answered(merged.typed, elsewhere=elsewhere))


def _refused(case: OpenCase, merged: Merged, refusal: InputError, *, by_field: bool) -> Saved:
    """Say at the field what cannot stand, where only one was changed."""
    names = tuple(merged.changed) if by_field else ()
    errors = {names[0]: str(refusal)} if len(names) == 1 else {}
    elsewhere = {name: merged.stood.get(name, "") for name in merged.clashes}
    return Saved(case=case, answered=Answered(merged.typed, errors=errors, elsewhere=elsewhere), refusal=refusal)


def _as_shown(case: OpenCase, sent: SentForm) -> OpenCase:
    """Return the case as kept now, in the units the form showed: a bare number means those."""
    return case.again(sent.shown_in)


def _filled(texts: Mapping[str, str]) -> FormTexts:
    return {name: text for name, text in texts.items() if text}
