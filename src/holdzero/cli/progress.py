"""Progress: that a job goes on, and how far it is where that is known; on a terminal only, after two seconds."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock, Timer
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

PATIENCE_S = 2.0  # a job that is done by then shows nothing


@contextmanager
def at_work(label: str, *, quiet: bool) -> Iterator[None]:
    """Show that a job goes on, and for how long.

    Parameters
    ----------
    label : str
        What is being done.
    quiet : bool
        Show nothing, as where there is no terminal.
    """
    with stages((label, None), quiet=quiet):
        yield


@contextmanager
def progress(total: int, label: str, *, quiet: bool = False) -> Iterator[Callable[[int], None]]:
    """Show how far it is; yields what is told how many more are done.

    Parameters
    ----------
    total : int
        How many there are.
    label : str
        What they are.
    quiet : bool
        Show nothing, as where there is no terminal.
    """
    with stages((label, total), quiet=quiet) as (advance,):
        yield advance


@contextmanager
def stages(*named: tuple[str, int | None], quiet: bool = False) -> Iterator[tuple[Callable[[int], None], ...]]:
    """Show how far each stage of a job is, once it has begun; yields what is told how many more are done, of each.

    Parameters
    ----------
    named : (str, int or None)
        What they are, and how many; None where nobody knows.
    quiet : bool
        Show nothing, as where there is no terminal.
    """
    if quiet or not sys.stderr.isatty():
        yield tuple(_nothing for _ in named)
        return
    bars = Bars(named)
    timer = Timer(PATIENCE_S, bars.show)
    timer.daemon = True
    timer.start()
    try:
        yield tuple(bars.advance_of(number) for number in range(len(named)))
    finally:
        timer.cancel()
        timer.join()
        bars.end()


class Bars:
    """One bar a stage, drawn from when they are shown."""

    def __init__(self, named: tuple[tuple[str, int | None], ...]) -> None:
        self._named, self._done = named, [0] * len(named)
        self._lock = Lock()
        self._tasks: list[TaskID] = []
        self.drawn: Progress | None = None

    def show(self) -> None:
        """Begin to draw them."""
        from rich.console import Console
        from rich.progress import BarColumn, Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

        columns = (SpinnerColumn(), TextColumn("{task.description}"), BarColumn(), TimeElapsedColumn())
        with self._lock:
            drawn = Progress(*columns, console=Console(stderr=True), transient=True, redirect_stdout=False)
            self._tasks = [
                drawn.add_task(label, total=total, completed=done, visible=number == 0 or done > 0)
                for number, ((label, total), done) in enumerate(zip(self._named, self._done, strict=True))
            ]
            drawn.start()
            self.drawn = drawn

    def advance_of(self, number: int) -> Callable[[int], None]:
        """Return what is told how many more of a stage are done."""

        def advance(count: int) -> None:
            with self._lock:
                self._done[number] += count
                if self.drawn:
                    self.drawn.update(self._tasks[number], completed=self._done[number], visible=True)

        return advance

    def end(self) -> None:
        """Wipe them away."""
        if self.drawn:
            self.drawn.stop()


def _nothing(_: int) -> None:
    pass
