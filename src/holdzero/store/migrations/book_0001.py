"""The first tables: machines, sensors, trials with their readings, other sheets, results."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables in an empty file."""
    op.create_table(
        "setting",
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_setting"),
    )
    op.create_table(
        "machine",
        *_row("machine"),
        sa.Column("document", sa.JSON, nullable=False),
        *_words("remark", "added", "removed"),
    )
    op.create_table(
        "sensor",
        *_row("sensor"),
        *_of("sensor", "machine"),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("document", sa.JSON, nullable=False),
        *_words("added", "removed"),
    )
    op.create_table(
        "trial",
        *_row("trial"),
        *_of("trial", "machine"),
        *_words("name", "note", "axis", "unit", "resolution", "protocol", "added", "removed"),
    )
    op.create_table(
        "series",
        *_row("series"),
        *_of("series", "trial"),
        *_words("sensor", "axis", "side"),
        sa.Column("resolution_mm", sa.Float),
        *_words("protocol"),
        sa.UniqueConstraint("trial_id", "sensor", "axis", "side", name="uq_series_trial_id"),
    )
    op.create_table(
        "power_up",
        *_row("power_up"),
        *_of("power_up", "trial"),
        *_words("sensor", "axis", "label", "note", "begun"),
        sa.UniqueConstraint("trial_id", "sensor", "axis", "label", name="uq_power_up_trial_id"),
    )
    op.create_table(
        "reading",
        *_row("reading"),
        *_of("reading", "series"),
        *_of("reading", "power_up"),
        sa.Column("homing", sa.Integer, nullable=False),
        sa.Column("deviation_mm", sa.Float, nullable=False),
        *_words("entered"),
        sa.Column("speed_mm_s", sa.Float),
        sa.Column("temperature_degc", sa.Float),
        *_words("direction", "time", "condition"),
        sa.Column("repeat", sa.Boolean, nullable=False, server_default=sa.false()),
        *_words("set_aside", "undone"),
        sa.Column("ticket", sa.Text),
        sa.UniqueConstraint("ticket", name="uq_reading_ticket"),
    )
    op.create_table(
        "sheet",
        *_row("sheet"),
        *_of("sheet", "machine"),
        sa.Column("station", sa.Text, nullable=False),
        sa.Column("document", sa.JSON, nullable=False),
        *_words("added"),
    )
    op.create_table(
        "result",
        *_row("result"),
        *_of("result", "machine"),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("kind", "digest", "version")),
        sa.Column("document", sa.JSON, nullable=False),
        *_words("added"),
    )
    for table, parent in (
        ("sensor", "machine"),
        ("trial", "machine"),
        ("series", "trial"),
        ("power_up", "trial"),
        ("reading", "series"),
        ("reading", "power_up"),
        ("sheet", "machine"),
        ("result", "machine"),
    ):
        op.create_index(f"ix_{table}_{parent}_id", table, [f"{parent}_id"])


def _row(table: str) -> tuple[SchemaItem, ...]:
    return sa.Column("id", sa.Integer, nullable=False), sa.PrimaryKeyConstraint("id", name=f"pk_{table}")


def _of(table: str, parent: str) -> tuple[SchemaItem, ...]:
    key = f"{parent}_id"
    points_at = sa.ForeignKeyConstraint([key], [f"{parent}.id"], name=f"fk_{table}_{key}")
    return sa.Column(key, sa.Integer, nullable=False), points_at


def _words(*names: str) -> tuple[SchemaItem, ...]:
    return tuple(sa.Column(name, sa.Text, nullable=False, server_default="") for name in names)
