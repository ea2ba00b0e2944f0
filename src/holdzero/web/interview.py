"""Interview: what the page of the Machine asks of one axis, in the order of asking, and where.

First how it is built, then its lengths on a drawing, then the few figures that an answer lacks; all others stay
to be found by group. Each key stands in one place only.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from holdzero.case.lacking import NeededFor, needed_for
from holdzero.case.on_axis import OnAxis
from holdzero.chart.axis_sketch import AxisSketch, FieldPlace, axis_sketch
from holdzero.inputs.machine.keys import OF_TWO_MOTORS
from holdzero.web.axis_form import AxisForm, axis_form, before
from holdzero.web.case import OpenCase
from holdzero.web.forms import Field, FormTexts

BUILT = ("moves", "motors", "gravity")
MOTORS = (("1", "one"), ("2", "two"))
MOVES = (
    ("", "not said"),
    ("gantry", "a gantry"),
    ("carriage", "a carriage on a beam"),
    ("table", "the table"),
    ("head", "a head"),
)
LEVEL = (("", "level"), ("level", "level: it cannot fall"))
FALLS = (("towards home", "upright: falls towards home"), ("away from home", "upright: falls away from home"))
ASK = (("", "say which"), *LEVEL[1:], *FALLS)
LABELS = {"moves": "What moves", "motors": "Motors", "gravity": "Upright?"}


@dataclass(frozen=True, slots=True, kw_only=True)
class AskedFor:
    """The fields of one answer: those it rests on that stand nowhere else, and all keys it still lacks."""

    needed: NeededFor
    fields: Sequence[Field]


@dataclass(frozen=True, slots=True, kw_only=True)
class Interview:
    """One axis as it is asked.

    Parameters
    ----------
    on_axis : OnAxis
        The axis with its results.
    built : sequence of Field
        What moves, on how many motors, which way it falls.
    sketch : AxisSketch
    on_sketch : sequence of (FieldPlace, Field)
        Lengths, and where they lie on it.
    asked : sequence of AskedFor
        By answer.
    groups : mapping
        Every key by group: its field, and whether it stands here or further up.
    """

    on_axis: OnAxis
    built: Sequence[Field]
    sketch: AxisSketch
    on_sketch: Sequence[tuple[FieldPlace, Field]]
    asked: Sequence[AskedFor]
    groups: Mapping[str, Sequence[tuple[Field, bool]]]

    @property
    def name(self) -> str:
        """Of the axis."""
        return self.on_axis.name

    @property
    def falls_unsaid(self) -> bool:
        """Whether it has still to be said which way it falls."""
        return self.on_axis.entered.may_fall

    @property
    def waits(self) -> bool:
        """Whether a field of it waits for the person."""
        above = (*self.built, *(field for _, field in self.on_sketch))
        return any(field.waits for field in (*above, *(field for asked in self.asked for field in asked.fields)))


def interview(case: OpenCase, on_axis: OnAxis, texts: FormTexts | None = None) -> Interview:
    """Return what is asked of one axis.

    Parameters
    ----------
    case : OpenCase
        As kept.
    on_axis : OnAxis
        Which axis.
    texts : mapping, optional
        What was typed now, in place of what is kept.
    """
    form = axis_form(case, on_axis.entered, texts=texts)
    start = before(on_axis.name)
    fields = {field.name.removeprefix(start): field for field in form.fields}
    sketch = axis_sketch(on_axis.entered)
    taken = {*BUILT, *sketch.keys}
    asked = []
    for needed in needed_for(on_axis):
        keys = [key for key in needed.keys if key in fields and key not in taken]
        taken |= set(keys)
        asked.append(AskedFor(needed=needed, fields=[fields[key] for key in keys]))
    return Interview(
        on_axis=on_axis,
        built=[_built(on_axis, fields[key], key) for key in BUILT],
        sketch=sketch,
        on_sketch=[(place, fields[place.key]) for place in sketch.places],
        asked=asked,
        groups=_groups(form, on_axis, taken),
    )


def _groups(form: AxisForm, on_axis: OnAxis, taken: set[str]) -> dict[str, list[tuple[Field, bool]]]:
    start = before(on_axis.name)
    groups: dict[str, list[tuple[Field, bool]]] = {}
    for group, fields in form.groups.items():
        for field in fields:
            key = field.name.removeprefix(start)
            idle = on_axis.entered.motors == 1 and key in OF_TWO_MOTORS and not (field.value or field.stood)
            if not idle:
                groups.setdefault(group, []).append((field, key not in taken))
    return groups


def _built(on_axis: OnAxis, field: Field, key: str) -> Field:
    axis = on_axis.entered
    plain = field.with_(label=LABELS[key], hint="")
    if key == "moves":
        return plain.with_(choices=MOVES)
    if key == "gravity":
        stands = axis.may_fall or axis.moves == "head" or axis.name.upper().startswith("Z")
        hint = f"When the power goes: can {axis.name} fall, and which way?" if axis.may_fall else ""
        return plain.with_(hint=hint, choices=ASK if stands else (*LEVEL, *FALLS))
    return plain.with_(choices=MOTORS if field.value else (("", "not said: one"), *MOTORS))
