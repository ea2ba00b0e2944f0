"""The trail: who changed what, and when."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"


def upgrade() -> None:
    """Add its table; what was changed before is not known."""
    op.create_table(
        "trail",
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_trail"),
        *(sa.Column(name, sa.Text, nullable=False, server_default="") for name in _WORDS),
        sa.Column("row_id", sa.Integer, nullable=False),
        sa.Column("n", sa.Integer, nullable=False),
    )


_WORDS = ("added", "actor", "did", "about", "field", "before", "after")
