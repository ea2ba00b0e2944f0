"""A machine says itself that it is invented: those that only a remark said it of say it in their own text."""

import json

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
REMARK = "Invented data: "  # how the remark of the demo began


def upgrade() -> None:
    """Mark them; a text that cannot be read is left as it is."""
    book = op.get_bind()
    wanted = sa.text("select id, document from machine where remark like :remark")
    for key, text in book.execute(wanted, {"remark": f"{REMARK}%"}).all():
        try:
            document = json.loads(text) if isinstance(text, str) else text
            document["machine"]["example"] = True
        except (ValueError, TypeError, KeyError):
            continue
        book.execute(_MACHINE.update().where(_MACHINE.c.id == key).values(document=document))


_MACHINE = sa.table("machine", sa.column("id", sa.Integer), sa.column("document", sa.JSON))
