"""Axis form: the keys of an axis as several pages carry them, and the case as it would be with what is typed."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from holdzero.errors import InputError
from holdzero.form import Key
from holdzero.inputs.machine import AXIS_GROUPS, machine_from
from holdzero.inputs.machine.values import Axis
from holdzero.quantity import quoted
from holdzero.store import NotInBook
from holdzero.web import forms
from holdzero.web.by_field import SelfSaving
from holdzero.web.case import OpenCase
from holdzero.web.forms import Field, FormTexts

MOTORS = (("", ""), ("1", "one"), ("2", "two, side by side"))


def before(axis_name: str) -> str:
    """Return what stands before the name of each key of an axis in a form."""
    return f"axes.{axis_name}."


def keys_of(groups: Iterable[str]) -> tuple[Key, ...]:
    """Return the keys of some groups."""
    return tuple(key for group in groups for key in AXIS_GROUPS[group])


def anchor(axis_name: str, key: str) -> str:
    """Return the name in the page of one key's field, for a link to it."""
    return Field(name=before(axis_name) + key, label="").id


@dataclass(frozen=True, slots=True)
class AxisForm:
    """Fields of an axis: first those still asked for, then the others by group."""

    axis: Axis
    asked: Sequence[Field]
    groups: Mapping[str, Sequence[Field]]

    @property
    def fields(self) -> list[Field]:
        """All of them."""
        return [*self.asked, *(field for fields in self.groups.values() for field in fields)]


def axis_form(
    case: OpenCase,
    axis: Axis,
    groups: Iterable[str] = tuple(AXIS_GROUPS),
    *,
    needs: Collection[str] = (),
    texts: FormTexts | None = None,
) -> AxisForm:
    """Return the form of one axis.

    Parameters
    ----------
    case, axis
        Whose keys.
    groups : iterable of str
        Of `AXIS_GROUPS`, in the order shown.
    needs : collection of str
        Keys a page cannot do without: they come first.
    texts : mapping, optional
        What was typed now, in place of what is kept.
    """
    entered: Mapping[str, Any] = case.kept.document["axes"][axis.name]
    start = before(axis.name)
    fields = {
        group: [
            field.with_(choices=MOTORS)
            if field.name == f"{start}motors" and field.value in ("", "1", "2")
            else field
            for field in forms.fields(AXIS_GROUPS[group], entered, system=case.system, prefix=start, texts=texts)
        ]
        for group in groups
    }
    wanted = {start + key for key in needs}
    return AxisForm(
        axis,
        asked=[field for group in fields.values() for field in group if field.name in wanted],
        groups={
            group: left
            for group, all_of in fields.items()
            if (left := [f for f in all_of if f.name not in wanted])
        },
    )


def with_axis_texts(case: OpenCase, axis_name: str, keys: Collection[Key], texts: FormTexts) -> dict[str, Any]:
    """Return the machine's document with what was typed for one axis; keys no field stands for stay."""
    document = case.kept.document
    now = forms.kept(keys, texts, system=case.system, prefix=before(axis_name))
    return {
        **document,
        "axes": {**document["axes"], axis_name: forms.merged(document["axes"][axis_name], keys, now)},
    }


def refused(document: Mapping[str, Any]) -> str:
    """Say why a machine cannot be kept as it stands, or nothing."""
    try:
        machine_from(document)
    except InputError as error:
        return str(error)
    return ""


def self_saving(axis_name: str, groups: Sequence[str]) -> SelfSaving:
    """Return how the form of one axis saves itself."""

    def keep(case: OpenCase, texts: FormTexts) -> None:
        case.book.change_machine(case.id, with_axis_texts(case, axis_name, keys_of(groups), texts))

    return SelfSaving(
        fields=lambda case, texts: axis_form(case, axis_named(case, axis_name), groups, texts=texts).fields,
        keep=keep,
    )


def readable(fields: Iterable[Field], kept: Iterable[Field], typed: FormTexts) -> FormTexts:
    """Return what was typed, with what is kept in place of what cannot be read (yet)."""
    stood = {field.name: field.value for field in kept}
    texts = typed | {field.name: stood.get(field.name, "") for field in fields if field.error}
    return {name: text for name, text in texts.items() if text}


def as_if(case: OpenCase, document: dict[str, Any]) -> OpenCase:
    """Return the case as it would be with another document of its machine; nothing is kept."""
    return case.as_if(document, machine_from(document))


def typed_axis(case: OpenCase, axis: Axis, groups: Sequence[str], texts: FormTexts) -> OpenCase:
    """Return the case as it would be with what is typed for one axis now, as far as it can be read."""
    typed, stood = (axis_form(case, axis, groups, texts=filled) for filled in (texts, None))
    sound = readable(typed.fields, stood.fields, texts)
    document = with_axis_texts(case, axis.name, keys_of(groups), sound)
    return case if refused(document) else as_if(case, document)


def axis_named(case: OpenCase, name: str) -> Axis:
    """Return the axis of that name; else the one on two motors, else the first."""
    axes = case.machine.axes
    named = [axis for axis in axes if axis.name == name]
    return next(iter([*named, *(axis for axis in axes if axis.motors == 2), *axes]))


def axis_of_form(case: OpenCase, name: str) -> Axis:
    """Return the axis a form is of.

    Raises
    ------
    NotInBook
        The machine has none of that name: nothing must be written into another.
    """
    if name and all(axis.name != name for axis in case.machine.axes):
        raise NotInBook(
            where=case.machine.name, found=f"no axis {quoted(name)}", need="an axis of this machine", do="go back"
        )
    return axis_named(case, name)


def words_of(key: str) -> str:
    """Return a key as people read it."""
    return key.replace("_", " ")
