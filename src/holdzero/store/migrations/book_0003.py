"""What was checked at a machine, what a noise hunt counted, what is still to be asked about a reading."""

import sqlalchemy as sa
from alembic import op
from sqlalchemy.schema import SchemaItem

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the checklist, the noise counts and the open question of a reading; index a set's readings."""
    op.create_table(
        "checklist",
        *_row_of("checklist", "machine"),
        sa.Column("item", sa.Text, nullable=False),
        sa.Column("outcome", sa.Text, nullable=False),
        *_words("measured", "note", "checked_by", "added"),
    )
    op.create_table(
        "noise",
        *_row_of("noise", "trial"),
        sa.Column("condition", sa.Text, nullable=False),
        sa.Column("trips", sa.Integer, nullable=False),
        sa.Column("watched_s", sa.Float, nullable=False),
        *_words("note", "added", "undone"),
    )
    op.create_index("ix_checklist_machine_id", "checklist", ["machine_id"])
    op.create_index("ix_noise_trial_id", "noise", ["trial_id"])
    op.add_column("reading", *_words("doubt"))
    op.drop_index("ix_reading_power_up_id", "reading")
    op.create_index("ix_reading_power_up_id", "reading", ["power_up_id", "series_id", "undone", "homing"])


def _row_of(table: str, parent: str) -> tuple[SchemaItem, ...]:
    key = f"{parent}_id"
    return (
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name=f"pk_{table}"),
        sa.Column(key, sa.Integer, nullable=False),
        sa.ForeignKeyConstraint([key], [f"{parent}.id"], name=f"fk_{table}_{key}"),
    )


def _words(*names: str) -> tuple[sa.Column[str], ...]:
    return tuple(sa.Column(name, sa.Text, nullable=False, server_default="") for name in names)
