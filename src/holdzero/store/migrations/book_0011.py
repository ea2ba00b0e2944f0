"""Digests of what was written, so that a row that was altered past the book is found."""

from datetime import UTC, datetime

import sqlalchemy as sa
from alembic import op

from holdzero.store.digests import TABLES, afresh

revision = "0011"
down_revision = "0010"


def upgrade() -> None:
    """Add their table; of what is in the book they are kept since now."""
    words = (sa.Column(name, sa.Text, nullable=False) for name in ("about", "of_set"))
    op.create_table(
        "digest",
        sa.Column("id", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_digest"),
        *words,
        sa.Column("n", sa.Integer, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("since", sa.Text, nullable=False, server_default=""),
        sa.UniqueConstraint("about", "of_set", name="uq_digest_about"),
    )
    book = op.get_bind()
    tables = sa.MetaData()
    names = {table.name for table in TABLES}
    tables.reflect(book, only=lambda name, _: name in names)  # with the columns they have by now
    afresh(book, since=f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}", tables=list(tables.tables.values()))
