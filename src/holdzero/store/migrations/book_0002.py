"""Arrivals: which files and pastes came in, so that the same one is noticed when it comes again."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Add the table of arrivals."""
    words = (sa.Column(name, sa.Text, nullable=False, server_default="") for name in _WORDS)
    op.create_table(
        "arrival",
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_arrival"),
        sa.Column("trial_id", sa.Integer, nullable=False),
        sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name="fk_arrival_trial_id"),
        *words,
        sa.Column("readings", sa.Integer, nullable=False),
    )
    op.create_index("ix_arrival_trial_id", "arrival", ["trial_id"])


_WORDS = ("name", "digest", "rows_digest", "added")
