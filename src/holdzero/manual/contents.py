"""Contents: the pages of the manual in the order they are read, by chapter."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from holdzero.errors import InputError
from holdzero.form import did_you_mean

HOME = "index"
CHAPTERS: dict[str, tuple[str, ...]] = {
    "Begin": (HOME, "first-machine", "how-to"),
    "Before a trial": ("wiring", "travel", "budget", "plan"),
    "The trial": ("trial", "instruments", "capture"),
    "Decide and prove": ("findings", "square", "record"),
    "In use": ("watch", "timers", "book", "tables"),
    "Look up": ("glossary", "commands", "keys", "python", "shell", "methods", "checks", "platforms", "speed"),
    "Add to it": ("adding",),  # and every decision
}


@dataclass(frozen=True, slots=True)
class Topic:
    """One page of the manual.

    Parameters
    ----------
    slug : str
        As it is asked for.
    source : Path
        Its text, below the folder docs.
    chapter : str
        Where it stands.
    title : str
        Its first heading.
    """

    slug: str
    source: Path
    chapter: str
    title: str

    @property
    def file(self) -> str:
        """Name of the page."""
        return f"{self.slug}.html"


def docs() -> Path:
    """Return the folder of the texts: in the package, or beside the source it is run from."""
    package = Path(__file__).parents[1]
    return next(path for path in (package / "docs", package.parents[1] / "docs") if (path / "methods.md").exists())


@cache
def topics() -> tuple[Topic, ...]:
    """Return every page in reading order."""
    decisions = sorted(f"decisions/{path.stem}" for path in (docs() / "decisions").glob("*.md"))
    named = [(name, chapter) for chapter, names in CHAPTERS.items() for name in names]
    return tuple(_topic(*page) for page in (*named, *((name, list(CHAPTERS)[-1]) for name in decisions)))


def topic_named(slug: str) -> Topic:
    """Return a page by its name.

    Raises
    ------
    InputError
        There is none of that name.
    """
    known = {page.slug: page for page in topics()}
    if slug not in known:
        raise InputError(
            where="the manual",
            found=f"no page {slug}{did_you_mean(slug, known)}",
            need="one of its pages",
            do=f"name one of {', '.join(list(known)[:24])}",
        )
    return known[slug]


def _topic(name: str, chapter: str) -> Topic:
    source = docs() / f"{name}.md"
    first, _, _ = source.read_text(encoding="utf-8").partition("\n")
    return Topic(source.stem, source, chapter, first.removeprefix("# "))
