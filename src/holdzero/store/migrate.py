"""Migrate: bring the tables of a book to today's schema, from code."""

from pathlib import Path
from typing import Any

import sqlalchemy as sa

from holdzero.store.schema import SCHEMA, metadata

APPLICATION_ID = 0x485A424B  # "HZBK", in the header of the file
_FOLDER = str(Path(__file__).parent / "migrations")


def migrate(connection: sa.Connection, *, to: int = SCHEMA) -> None:
    """Run the steps that are still missing, up to number `to`, within the caller's transaction.

    On SQLite the connection must have foreign keys off: a table that is rebuilt would otherwise take
    its children with it. They are checked at the end instead.
    """
    from alembic.config import Config  # takes a quarter of a second, and most books are as they should be
    from alembic.runtime.environment import EnvironmentContext
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(_FOLDER, version_locations=[_FOLDER])

    def steps(revision: Any, _context: Any) -> Any:
        return script._upgrade_revs(f"{to:04d}", revision)  # what alembic's own `upgrade` command runs

    with EnvironmentContext(Config(), script, fn=steps) as environment:
        environment.configure(connection=connection, target_metadata=metadata, render_as_batch=True)
        environment.run_migrations()
    if connection.dialect.name == "sqlite":
        orphans = connection.exec_driver_sql("pragma foreign_key_check").all()
        assert not orphans, f"a migration left rows without their parents: {orphans[:3]}"
        connection.exec_driver_sql(f"pragma application_id = {APPLICATION_ID}")
        connection.exec_driver_sql(f"pragma user_version = {to}")
