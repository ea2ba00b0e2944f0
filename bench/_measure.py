"""One row of a bench: best of several runs, ours and the reference taken turn about."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from functools import partial
from math import inf
from typing import Any


def seconds(job: Callable[[], object]) -> float:
    """Time one call. [s]"""
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def cost(*words: str) -> tuple[float, float]:
    """Seconds on the cores, and most bytes held, of Python with these words in a fresh process."""
    started = subprocess.Popen([sys.executable, *words], stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL)
    _, status, used = os.wait4(started.pid, 0)
    started.returncode = os.waitstatus_to_exitcode(status)
    if started.returncode:
        raise subprocess.CalledProcessError(started.returncode, started.args)
    return used.ru_utime + used.ru_stime, used.ru_maxrss * (1 if sys.platform == "darwin" else 1024)


def least_cost(*words: str, runs: int = 5) -> float:
    """Seconds on the cores of the best of several processes."""
    return min(cost(*words)[0] for _ in range(runs))


def core_seconds(job: Callable[[], object]) -> float:
    """Time one call on its core, whatever else the computer does. [s]"""
    start = time.process_time()
    job()
    return time.process_time() - start


def two_workers(name: str, ours: Callable[[int], float], *, runs: int = 7, times: float = 1.7) -> dict[str, Any]:
    """Compare two workers over one with what two bare processes that only reckon make of this computer.

    Without a second core that is free nobody is faster, so `ours` (the seconds that a number of workers takes) and
    the processes take turns, and the best of each counts. On two free cores the processes come to 0.5, and the
    goal of ours to 1/`times`.
    """
    jobs = [partial(job, workers) for job in (ours, _bare) for workers in (1, 2)]
    least = [inf] * len(jobs)
    for _ in range(runs):
        least = [min(before, job()) for before, job in zip(least, jobs, strict=True)]
    one, two, bare_one, bare_two = least
    label = f"{name}: two workers / one, by the clock; two bare processes / one"
    return row(label, two / one, bare_two / bare_one, most=2 / times)


def _bare(processes: int) -> float:
    """Seconds that so much arithmetic takes, shared among processes."""
    start = time.perf_counter()
    sums = f"x = 0\nfor i in range({6_000_000 // processes}): x += i * i % 7"
    started = [subprocess.Popen([sys.executable, "-S", "-c", sums]) for _ in range(processes)]
    if any(process.wait() for process in started):
        raise RuntimeError("a bare process failed")
    return time.perf_counter() - start


def within(name: str, ours: Callable[[], object], *, limit_s: float, runs: int = 7) -> dict[str, Any]:
    """Compare a job with a stated limit; the best run counts. [s]"""
    ours()
    return row(name, min(seconds(ours) for _ in range(runs)), limit_s, most=1.0)


def row(name: str, ours: float, reference: float, *, most: float) -> dict[str, Any]:
    """Make one row; `ours / reference` must be at most `most`."""
    ratio = ours / reference
    return {
        "name": name,
        "ours": ours,
        "reference": reference,
        "ratio": ratio,
        "goal": f"<= {most:g}",
        "ok": ratio <= most,
    }
