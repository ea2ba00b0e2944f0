"""Book name: how a book is named on the command line, by its file or by the address of its database."""

from pathlib import Path
from typing import Any

import click
from click.shell_completion import CompletionItem

from holdzero.form.address import database_address, is_database

Named = Path | str  # a file; an address, without a password


class BookName(click.ParamType[Named]):
    """A book in a file, or one on a server: ``postgresql://user@host/database``."""

    name = "path"

    def shell_complete(self, ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
        """Let the shell fill in a file."""
        return [CompletionItem(incomplete, type="file")]

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Named:
        """Return a path or an address; one with a password in it is refused, and not repeated."""
        if isinstance(value, str) and is_database(value):
            return database_address(value, where=param.human_readable_name if param else "BOOK")
        return Path(value)
