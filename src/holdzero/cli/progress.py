"""Progress: how far a long job is, on a terminal only."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import TaskID


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
    with stages((label, total)) as (advance,):
        yield advance


@contextmanager
def stages(*named: tuple[str, int], quiet: bool = False) -> Iterator[tuple[Callable[[int], None], ...]]:
    """Show how far each stage of a job is, once it has begun; yields what is told how many more are done, of each.

    Parameters
    ----------
    named : (str, int)
        What they are, and how many.
    quiet : bool
        Show nothing, as where there is no terminal.
    """
    if quiet or not sys.stderr.isatty():
        yield tuple(_nothing for _ in named)
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        tasks = [
            bar.add_task(label, total=total, visible=number == 0) for number, (label, total) in enumerate(named)
        ]

        def of(task: "TaskID") -> Callable[[int], None]:
            return lambda count: bar.update(task, advance=count, visible=True)

        yield tuple(of(task) for task in tasks)


def _nothing(_: int) -> None:
    pass
