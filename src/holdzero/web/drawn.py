"""Drawn: the pictures of a page, gathered while it is set for somebody who takes them away."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from holdzero.chart import Picture

_gathered: ContextVar[list[Picture] | None] = ContextVar("gathered", default=None)


@contextmanager
def gathering() -> Iterator[list[Picture]]:
    """Gather every picture that is set meanwhile, in the order of the page."""
    pictures: list[Picture] = []
    before = _gathered.set(pictures)
    try:
        yield pictures
    finally:
        _gathered.reset(before)


def gather(picture: Picture) -> None:
    """Note a picture that is set; nobody may be gathering."""
    pictures = _gathered.get()
    if pictures is not None:
        pictures.append(picture)
