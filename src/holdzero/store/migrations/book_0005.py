"""The way from trip to index pulse, logged beside a reading."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    """Add it to the readings; those kept before have none."""
    op.add_column("reading", sa.Column("trip_to_index_mm", sa.Float))
