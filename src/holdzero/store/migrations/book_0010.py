"""Spans: least and greatest reading of a power-up, where nobody kept the readings."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"


def upgrade() -> None:
    """Add their table."""
    op.create_table(
        "span",
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_span"),
        sa.Column("trial_id", sa.Integer, nullable=False),
        sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name="fk_span_trial_id"),
        *(sa.Column(name, sa.Text, nullable=False, server_default="") for name in _WORDS),
        sa.Column("least_mm", sa.Float),
        sa.Column("greatest_mm", sa.Float),
        sa.Column("span_mm", sa.Float, nullable=False),
        sa.Column("n", sa.Integer, nullable=False),
        sa.Column("resolution_mm", sa.Float),
        sa.Column("own_zeros", sa.Boolean, nullable=False, server_default=sa.false()),
    )
    op.create_index("ix_span_trial_id", "span", ["trial_id"])


_WORDS = ("sensor", "axis", "side", "label", "set_aside", "undone", "beside", "added")
