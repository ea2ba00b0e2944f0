"""What kind of trial it is, what happened before it, why it is left out; what a test was done on."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the marks of a trial, and the digest a test keeps."""
    for name in ("kind", "event", "left_out"):
        op.add_column("trial", sa.Column(name, sa.Text, nullable=False, server_default=""))
    op.add_column("trial", sa.Column("joined_to", sa.Integer))
    op.add_column("checklist", sa.Column("rests_on", sa.Text, nullable=False, server_default=""))
