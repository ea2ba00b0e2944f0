"""Twice: two readings of one homing that both count would halve the doubt; a book refuses them as a file does."""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

from holdzero.errors import InputError
from holdzero.inputs.reading.values import Readings
from holdzero.store.schema import power_up, reading, series

_ALIKE = ("direction", "condition", "speed_mm_s")  # in which two readings of one number may differ
_COUNTS = sa.and_(
    reading.c.undone == "", reading.c.set_aside == "", reading.c.left_out == "", reading.c.repeat == sa.false()
)
_PLACE = (series.c.sensor, series.c.axis, series.c.side, power_up.c.label, reading.c.homing)


def refuse_second(c: sa.Connection, reading_id: int) -> None:
    """Refuse to let a reading count again where another one counts in its place.

    Raises
    ------
    InputError
        Which one does.
    """
    columns = reading.c
    row = c.execute(sa.select(reading).where(columns.id == reading_id)).one()
    alike = [columns[name].is_not_distinct_from(getattr(row, name)) for name in _ALIKE]
    of_homing = [columns[name] == getattr(row, name) for name in ("series_id", "power_up_id", "homing")]
    wanted = sa.select(columns.entered, columns.deviation_mm).where(*of_homing, *alike, columns.id != reading_id)
    second = None if row.repeat else c.execute(wanted.where(_COUNTS).limit(1)).one_or_none()
    if second is not None:
        raise InputError(
            found=f"another reading of homing {row.homing} that counts: {second.entered or second.deviation_mm}",
            need="one reading a homing",
            do="take the other one back, set it aside or leave it out first",
        )


def taken(c: sa.Connection, trial_id: int) -> set[tuple[Any, ...]]:
    """Return the place of each reading of a trial that counts."""
    alike = [reading.c[column] for column in _ALIKE]
    joined = reading.join(series, reading.c.series_id == series.c.id).join(
        power_up, reading.c.power_up_id == power_up.c.id
    )
    wanted = sa.select(*_PLACE, *alike).select_from(joined).where(series.c.trial_id == trial_id, _COUNTS)
    return {tuple(row) for row in c.execute(wanted)}


def refuse_places(c: sa.Connection, places: set[tuple[Any, ...]], ids: Sequence[int]) -> None:
    """Refuse to let readings count again where other ones count in their places by now.

    Raises
    ------
    InputError
        The first of them.
    """
    if not places:
        return
    joined = reading.join(series, reading.c.series_id == series.c.id).join(
        power_up, reading.c.power_up_id == power_up.c.id
    )
    columns = (*_PLACE, *(reading.c[column] for column in _ALIKE))
    plain = (reading.c.set_aside == "", reading.c.left_out == "", reading.c.repeat == sa.false())
    wanted = sa.select(*columns).select_from(joined).where(reading.c.id.in_(ids), *plain)
    for place in c.execute(wanted.order_by(reading.c.id)):
        if tuple(place) in places:
            whose = " ".join(filter(None, place[:3])) or "no name"
            raise InputError(
                found=f"another reading of homing {place[4]} of set {place[3]} ({whose}) that counts by now",
                need="one reading a homing",
                do="take that one back first",
            )


def refuse_taken(places: set[tuple[Any, ...]], readings: Readings, *, name: str) -> None:
    """Refuse readings of homings whose places are taken.

    Raises
    ------
    InputError
        The first of them; `name` is what the readings are called in the message.
    """
    if not places:
        return
    for group in readings.groups:
        of_group = (group.sensor, group.axis, group.side)
        for counted, *place in zip(
            group.counted.tolist(),
            group.set_label.tolist(),
            group.homing.tolist(),
            group.direction.tolist(),
            group.condition.tolist(),
            map(_stated, group.speed_mm_s.tolist()),
            strict=True,
        ):
            if counted and (*of_group, *place) in places:
                whose = " ".join(filter(None, of_group))
                raise InputError(
                    where=name,
                    found=f"homing {place[1]} of set {place[0]} ({whose or 'no name'}) a second time",
                    need="one reading a homing",
                    do="bring them in as a trial of their own, or call their sets otherwise",
                )


def _stated(value: float) -> Any:
    return None if value != value else value  # nan: not stated
