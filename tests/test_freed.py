"""Freed: memory that a process gives back or keeps, where the C library can be told."""

import os
import platform
import subprocess
import sys

import pytest

from holdzero.freed import give_back, keep_freed

GNU = platform.libc_ver()[0] == "glibc"
HELD_MB = """
import re
from pathlib import Path

import numpy as np

from holdzero.freed import give_back, keep_freed


def held_mb():
    return int(re.search(r"VmRSS:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) * 1024 / 1e6


{told}
first = np.ones(8 * 2**20, dtype="u1")
del first  # from now on the library takes arrays of up to so much out of a heap
before = held_mb()
large, small = [], []
for _ in range(20):
    large.append(np.ones(2 * 2**20, dtype="u1"))
    small.append(bytes(50_000))  # stays, behind each
large.clear()
print(held_mb() - before)
"""


def _still_held_mb(told: str) -> float:
    """Of 42 MB of arrays that were freed, with something small behind each that stays."""
    words = (sys.executable, "-c", HELD_MB.format(told=told))
    # without what Dask tells the workers it starts
    untold = {name: value for name, value in os.environ.items() if not name.startswith("MALLOC_")}
    return float(subprocess.run(words, capture_output=True, text=True, check=True, env=untold).stdout)


@pytest.mark.skipif(not GNU or not sys.platform.startswith("linux"), reason="not the GNU C library of Linux")
def test_a_book_that_is_open_gives_arrays_back():
    assert _still_held_mb("give_back()") < 4
    assert _still_held_mb("") > 25  # what it does by itself
    assert _still_held_mb("keep_freed()") > 25


def test_it_says_whether_the_c_library_does_so():
    """In a process of its own: what it is told stays so."""
    words = "from holdzero.freed import give_back, keep_freed; print(keep_freed(), give_back())"
    said = subprocess.run((sys.executable, "-c", words), capture_output=True, text=True, check=True).stdout
    assert said.split() == [str(GNU)] * 2


@pytest.mark.parametrize("tell", [give_back, keep_freed])
def test_a_c_library_of_another_kind_is_left_as_it_is(monkeypatch, tell):
    monkeypatch.setattr("ctypes.CDLL", lambda name: object())
    assert not tell()
