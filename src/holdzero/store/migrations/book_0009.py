"""A view of every homing with its machine, trial and marks in words, for whoever asks by SQL.

SQLite looks through all views when a table is renamed: a later step that rebuilds one of these tables drops the
view first and makes it anew.
"""

revision = "0009"
down_revision = "0008"


def upgrade() -> None:
    """Add it."""
    from alembic import op  # `book check` asks for the text alone

    op.execute(view_of(op.get_bind().dialect.name))


def view_of(dialect: str) -> str:
    """Return the statement that makes it. `dialect`: "sqlite" or "postgresql"."""
    if dialect == "sqlite":  # the text of one machine that cannot be read does not hide the rest
        name, example = (
            f"case when json_valid(machine.document) then json_extract(machine.document, '$.machine.{key}') end"
            for key in ("name", "example")
        )
        example = f"coalesce({example}, 0) <> 0"
    else:
        name, example = (f"machine.document -> 'machine' ->> '{key}'" for key in ("name", "example"))
        example = f"coalesce({example}, 'false') = 'true'"
    return _VIEW.replace("MACHINE_NAME", name).replace("IS_EXAMPLE", example)


_VIEW = """
create view homings as
select
  reading.id as id,
  machine.id as machine_id,
  MACHINE_NAME as machine,
  trial.id as trial_id,
  trial.name as trial,
  coalesce(nullif(reading.kind, ''), trial.kind) as kind,
  series.sensor as sensor,
  series.axis as axis,
  series.side as side,
  power_up.label as power_up,
  reading.homing as homing,
  reading.deviation_mm as deviation_mm,
  series.resolution_mm as resolution_mm,
  series.protocol as protocol,
  reading.speed_mm_s as speed_mm_s,
  reading.temperature_degc as temperature_degc,
  reading.trip_to_index_mm as trip_to_index_mm,
  reading.direction as direction,
  reading."time" as "time",
  reading.condition as condition,
  reading.repeat as repeat,
  reading.set_aside as set_aside,
  coalesce(nullif(reading.left_out, ''), trial.left_out) as left_out,
  case when reading.undone = '' and reading.set_aside = '' and reading.left_out = '' and trial.left_out = ''
    and trial.removed = '' and machine.removed = '' and not reading.repeat then 1 else 0 end as counts,
  case when IS_EXAMPLE or reading.beside like '%"example"%' then 1 else 0 end as example
from reading
join series on series.id = reading.series_id
join power_up on power_up.id = reading.power_up_id
join trial on trial.id = series.trial_id
join machine on machine.id = trial.machine_id
"""
