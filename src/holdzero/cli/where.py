"""`holdzero where`: what is remembered, and where everything lies."""

import sys
from importlib.util import find_spec
from pathlib import Path

import click

from holdzero import __version__
from holdzero.cli import kept, show
from holdzero.cli.options import json_too
from holdzero.errors import InputError
from holdzero.form.address import is_database
from holdzero.tell.blocks import Table


@click.command("where")
@click.option(
    "--keep",
    "changes",
    multiple=True,
    metavar="NAME=VALUE",
    help=f"Remember {', '.join(kept.NAMES)}; an empty value forgets it.",
)
@json_too
def command(changes: tuple[str, ...], json_wanted: bool) -> int:
    """What is remembered between commands, and where everything lies.

    Units, book and folder stand in a small file; the environment variables HOLDZERO_UNITS, HOLDZERO_BOOK and
    HOLDZERO_FOLDER come before it, and what a command is given comes before both.
    """
    if changes:
        kept.keep(dict(map(_change, changes)))
    settings = [kept.setting(name) for name in kept.NAMES]
    places = {
        "settings": str(kept.settings_file()),
        "workshop": str(kept.workshop()),
        "program": str(Path(__file__).parents[1]),
        "python": sys.executable,
    }
    pdf = find_spec("typst") is not None  # as holdzero.report.printed, which takes longer to load
    if json_wanted:
        show.as_json(
            {
                "settings": [
                    {"name": setting.name, "value": setting.value, "from": setting.origin} for setting in settings
                ],
                "places": places,
                "pdf": pdf,
            }
        )
        return 0
    records = "PDF and HTML" if pdf else "HTML: the PDF part is not installed"
    rows = tuple(
        (setting.name, setting.value or "–", setting.origin, kept.NAMES[setting.name]) for setting in settings
    )
    show.page(
        f"holdzero {__version__}; records come as {records}.",
        Table("", ("remembered", "value", "from", "what it is"), rows, align="llll"),
        Table("", ("place", ""), tuple(places.items()), align="ll"),
    )
    return 0


def _change(entered: str) -> tuple[str, str]:
    name, equals, value = entered.partition("=")
    if not equals:
        raise InputError(
            where="--keep", found=entered, need="a name, = and a value", do="write it like --keep units=inch"
        )
    path = name.strip() in ("book", "folder") and value.strip() and not is_database(value.strip())
    return name.strip(), str(Path(value.strip()).expanduser().resolve()) if path else value.strip()
