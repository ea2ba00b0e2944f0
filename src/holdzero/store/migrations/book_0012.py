"""Tickets of checks: what a phone sends twice is written down once."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"


def upgrade() -> None:
    """Add their column."""
    op.add_column("checklist", sa.Column("ticket", sa.Text))
    op.create_index("ix_checklist_ticket", "checklist", ["ticket"], unique=True)
