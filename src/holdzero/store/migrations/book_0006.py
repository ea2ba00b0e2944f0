"""Marks of single rows of a readings file, and every act by which a trial or a reading counts or does not."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    """Add the marks to the readings, those kept before have none; and the table of acts."""
    for name in ("trial", "kind", "event", "left_out", "beside"):
        op.add_column("reading", _words(name))
    op.create_table(
        "act",
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_act"),
        sa.Column("about", sa.Text, nullable=False),
        sa.Column("row_id", sa.Integer, nullable=False),
        sa.Column("mark", sa.Text, nullable=False),
        *(_words(name) for name in ("before", "after", "added")),
    )
    op.create_index("ix_act_about", "act", ["about", "row_id"])


def _words(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False, server_default="")
