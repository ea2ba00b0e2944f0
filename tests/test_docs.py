"""The manuals cannot drift: every command and station is documented, and the reference is the help text itself."""

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest

from holdzero.cli import COMMANDS, cli

DOCS = Path(__file__).parent.parent / "docs"
REFERENCE = DOCS / "commands.md"
PAGES = [*DOCS.glob("*.md"), DOCS.parent / "README.md"]


def reference() -> str:
    """The help text of every command, as docs/commands.md holds it."""
    pages = ["# Commands\n\nWhat `holdzero COMMAND --help` says; a test compares this page with it.\n"]
    for name in COMMANDS:
        command = cli.get_command(click.Context(cli), name)
        assert command is not None
        pages.append(_help(command, f"holdzero {name}"))
        subs = getattr(command, "commands", {}).values()
        pages += [_help(sub, f"holdzero {name} {sub.name}") for sub in subs]
    return "\n".join(pages)


def _help(command: click.Command, path: str) -> str:
    names = ["-h", "--help"]
    context = click.Context(
        command, info_name=path, terminal_width=100, max_content_width=100, help_option_names=names
    )
    text = "\n".join(line.rstrip() for line in command.get_help(context).splitlines())
    home = str(Path.home())
    return f"## {path}\n\n```text\n{text.replace(home, '~')}\n```\n"


def test_the_reference_is_the_help_text():
    """Run with HOLDZERO_WRITE_DOCS=1 to write the page anew.

    In a process of its own: click keeps the help option a command was first asked for with.
    """
    said = subprocess.run([sys.executable, __file__], capture_output=True, check=True).stdout.decode()
    if os.environ.get("HOLDZERO_WRITE_DOCS") == "1":
        REFERENCE.write_text(said, encoding="utf-8")
    assert REFERENCE.read_text(encoding="utf-8") == said


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_is_told_of_outside_the_reference(name: str):
    told = "".join(page.read_text(encoding="utf-8") for page in PAGES if page != REFERENCE)
    assert f"holdzero {name}" in told


def test_every_decision_says_what_would_change_our_mind():
    for page in (DOCS / "decisions").glob("*.md"):
        assert "change our mind" in page.read_text(encoding="utf-8").lower(), page.name


def test_nothing_committed_is_from_elsewhere():
    """Decision 2: no fonts, no minified scripts."""
    root = DOCS.parent / "src"
    assert not [path for end in ("*.min.js", "*.woff*", "*.ttf", "*.otf") for path in root.rglob(end)]


if __name__ == "__main__":
    sys.stdout.buffer.write(reference().encode())
