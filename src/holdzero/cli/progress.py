"""Progress: how far a long job is, on a terminal only."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress(total: int, label: str) -> Iterator[Callable[[int], None]]:
    """Show how far it is; yields what is told how many more are done.

    Parameters
    ----------
    total : int
        How many there are.
    label : str
        What they are.
    """
    if not sys.stderr.isatty():
        yield lambda count: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(label, total=total)
        yield lambda count: bar.advance(task, count)
