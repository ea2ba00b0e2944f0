"""People who may sign in where a book is open to a network."""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"


def upgrade() -> None:
    """Add their table."""
    op.create_table(
        "person",
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_person"),
        sa.Column("name", sa.Text, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False, server_default="") for name in ("secret", "added", "removed")),
    )
