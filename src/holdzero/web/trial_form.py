"""Trial form: what a trial is called, and how its readings are taken."""

from holdzero import quantity
from holdzero.errors import InputError
from holdzero.form import name_of
from holdzero.inputs.reading.allowed import refuse_display
from holdzero.inputs.reading.values import Protocol
from holdzero.store import Trial
from holdzero.web.case import OpenCase
from holdzero.web.forms import Field, FormTexts, chosen, needed

PROTOCOLS = (
    (Protocol.OUTSIDE.value, "an outside indicator, as it stands"),
    (Protocol.FIRST.value, "an indicator zeroed at the first homing of each set"),
    (Protocol.PREVIOUS.value, "an indicator zeroed at the homing before, by a button"),
    (Protocol.PREVIOUS_RESET.value, "differences to the homing before, each rounded"),
    (Protocol.ENCODER.value, "the axis encoder"),
)
UNITS = (("mm", "mm"), ("um", "µm"), ("in", "inch"), ("thou", "thou"), ("steps", "steps of the motor"))

SHOWN = dict(UNITS) | {"in": "in", "steps": "steps"}


def fields(case: OpenCase, texts: FormTexts | None = None, *, new: bool) -> list[Field]:
    """Return the fields of a trial as kept, or as typed with what is wrong.

    Parameters
    ----------
    case : OpenCase
        The machine and, unless `new`, its trial.
    texts : mapping, optional
        What was typed.
    new : bool
        For a trial that is to begin.
    """
    kept = None if new else case.trial
    at = _kept(kept) if kept else _usual(case)
    value = at if texts is None else {name: texts.get(name, "") for name in at}
    made = [
        Field(name="name", label="Name of the trial", value=value["name"]),
        Field(name="unit", label="The indicator shows", value=value["unit"], choices=UNITS),
        Field(
            name="resolution",
            label="Smallest step it shows",
            value=value["resolution"],
            unit=dict(UNITS).get(value["unit"], ""),
            example="0.001 mm",
        ),
        Field(name="protocol", label="Read with", value=value["protocol"], choices=PROTOCOLS),
    ]
    axes = [(axis.name, axis.name) for axis in case.machine.axes]
    if len(axes) > 1 or (value["axis"], value["axis"]) not in [*axes, ("", "")]:
        made.insert(1, Field(name="axis", label="Axis", value=value["axis"], choices=axes))
    return [_checked(field, value["unit"]) for field in made] if texts is not None or kept else made


def values(case: OpenCase, texts: FormTexts, *, new: bool) -> dict[str, str]:
    """Return what to keep of a form without errors."""
    kept = None if new else case.trial
    made = (_kept(kept) if kept else _usual(case)) | {name: texts[name] for name in _usual(case) if name in texts}
    if made["resolution"]:
        made["resolution"] = quantity.with_unit(made["resolution"], made["unit"])
    return made


def reading(trial: Trial, texts: FormTexts | None = None, error: InputError | None = None) -> Field:
    """Return the big field that takes the next reading."""
    made = Field(name="deviation", label="Reading", unit=SHOWN.get(trial.unit, trial.unit))
    return made if error is None else made.with_(value=(texts or {}).get("deviation", ""), error=needed(error))


def to_index(trial: Trial, texts: FormTexts | None = None, error: InputError | None = None) -> Field:
    """Return the field beside it, on an axis with an index pulse: the way from trip to index."""
    return Field(
        name="to_index",
        label="Way from trip to index",
        unit=SHOWN.get(trial.unit, trial.unit),
        value=(texts or {}).get("to_index", ""),
        error=needed(error) if error else "",
    )


def _kept(trial: Trial) -> dict[str, str]:
    return {name: getattr(trial, name) for name in ("name", "axis", "unit", "resolution", "protocol")}


def _usual(case: OpenCase) -> dict[str, str]:
    two_motors = [axis.name for axis in case.machine.axes if axis.motors == 2]
    axes = two_motors + [axis.name for axis in case.machine.axes]
    return {
        "name": f"Trial {len(case.trials) + 1}",
        "axis": axes[0] if axes else "",
        "unit": "mm" if case.system == "metric" else "in",
        "resolution": "",
        "protocol": Protocol.OUTSIDE.value,
    }


def _checked(field: Field, unit: str) -> Field:
    if field.name == "name" and not field.value:
        return field.with_(error="a trial needs a name")
    if field.name == "name":
        try:
            name_of(field.value)
        except InputError as error:
            return field.with_(error=needed(error))
    if field.name == "resolution" and unit in dict(UNITS):
        try:
            refuse_display(field.value, unit=unit)
        except InputError as error:
            return field.with_(error=needed(error))
    return field if field.name == "axis" and not field.value else chosen(field)
