"""The log of check homings of a machine in use."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    """Add the table of the log."""
    op.create_table(
        "logged",
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_logged"),
        sa.Column("machine_id", sa.Integer, nullable=False),
        sa.ForeignKeyConstraint(["machine_id"], ["machine.id"], name="fk_logged_machine_id"),
        sa.Column("moment_s", sa.Float, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False, server_default="") for name in _WORDS),
        *(sa.Column(name, sa.Float) for name in _FIGURES),
        sa.Column("ticket", sa.Text),
        sa.UniqueConstraint("ticket", name="uq_logged_ticket"),
    )
    op.create_index("ix_logged_machine_id", "logged", ["machine_id", "moment_s"])


_WORDS = (
    *("time", "axis", "side", "power_up", "homing", "condition", "event", "failed", "acknowledged", "note"),
    *("source", "added", "undone"),
)
_FIGURES = ("deviation_mm", "temperature_degc", "cycles", "false_trips", "hours", "resolution_mm")
