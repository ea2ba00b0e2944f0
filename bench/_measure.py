"""One row of a bench: best of several runs, ours and the reference taken turn about."""

import os
import subprocess
import sys
import time
from collections.abc import Callable
from typing import Any


def seconds(job: Callable[[], object]) -> float:
    """Time one call. [s]"""
    start = time.perf_counter()
    job()
    return time.perf_counter() - start


def process(*words: str) -> Callable[[], object]:
    """Make a job that runs Python with these words in a fresh process."""

    def job() -> None:
        subprocess.run([sys.executable, *words], check=True, stdout=subprocess.DEVNULL, stdin=subprocess.DEVNULL)

    return job


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


def against(
    name: str, ours: Callable[[], object], reference: Callable[[], object], *, most: float, runs: int = 7
) -> dict[str, Any]:
    """Compare two jobs, turn about; the best of each counts. Ratio must not exceed `most`. [s]"""
    pairs = [(seconds(ours), seconds(reference)) for _ in range(runs)]
    best_ours, best_reference = min(p[0] for p in pairs), min(p[1] for p in pairs)
    return row(name, best_ours, best_reference, most=most)


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
