"""Captures: the whole analysis of a dump against a bare tokeniser, an independent reader, and its own edge arrays.

`HOLDZERO_BENCH_MB` sets the size of the file (40 by default; 200 is the size the goals are meant for).
"""

import os
import subprocess
import sys
import tempfile
import tracemalloc
from collections.abc import Callable, Iterator
from itertools import chain
from pathlib import Path
from time import process_time
from typing import Any

import numpy as np

from bench._measure import row

MEGABYTES = float(os.environ.get("HOLDZERO_BENCH_MB", "40"))
BLOCK = 1 << 19
RUNS = 3
THEIRS_MB = 4.0  # the independent reader takes minutes for more; its time grows with the size
BYTES_AN_EDGE = 12  # tick and count
HEAD = b"""$timescale 1 us $end
$scope module rig $end
$var wire 1 ! A $end
$var wire 1 " B $end
$var wire 1 $ SW $end
$upscope $end
$enddefinitions $end
#0
$dumpvars
0!
0"
0$
$end
"""


def write(path: Path, megabytes: float) -> None:
    """Write homings of 3000 counts in and 3000 out, with a bouncing switch, until the file is large enough."""
    rng = np.random.default_rng(1)
    order = ((0, 0), (1, 0), (1, 1), (0, 1))
    now, count = 1000, 0
    with path.open("wb") as file:
        file.write(HEAD)
        while file.tell() < megabytes * 1e6:
            lines = []
            for way in (1, -1):
                ticks = (now + np.cumsum(rng.integers(300, 700, 3000))).tolist()
                trip = 2700 if way == 1 else 310
                for i, tick in enumerate(ticks):
                    before, count = order[count % 4], count + way
                    after = order[count % 4]
                    code, level = ("!", after[0]) if before[0] != after[0] else ('"', after[1])
                    lines.append(f"#{tick}\n{level}{code}\n")
                    if i == trip:
                        bounces = range(1 + 2 * int(rng.integers(0, 4)))
                        lines += [f"#{tick + 1 + 7 * k}\n{int(way == 1) ^ k % 2}$\n" for k in bounces]
                now = ticks[-1] + 80_000
            file.write("".join(lines).encode())


def bare(path: Path) -> int:
    """Split into tokens and read the times, with array operations: no codes, no checks, no counts."""
    changes = 0
    for text in _blocks(path):
        a = np.frombuffer(text, dtype=np.uint8)
        space = a <= 32
        edge = np.flatnonzero(space[1:] != space[:-1]) + 1
        start, end = edge[0::2], edge[1::2]
        first = a[start]
        times = np.flatnonzero(first == 35)
        digits = end[times] - start[times] - 1
        value = np.zeros(times.size, dtype=np.int64)
        for place in range(int(digits.max(initial=0)), 0, -1):
            digit = a[end[times] - place].astype(np.int64) - 48
            value = value * 10 + np.where(place <= digits, digit, 0)
        tick = np.repeat(value, np.diff(times, append=start.size) - 1)
        changes += tick.size
    return changes


def _blocks(path: Path) -> Iterator[bytes]:
    rest = b""
    with path.open("rb") as file:
        for block in chain(iter(lambda: file.read(BLOCK), b""), (b"\n",)):
            text = rest + block
            cut = text.rfind(b"\n#") + 1 if block != b"\n" else len(text)
            yield b" " * 24 + text[:cut]
            rest = text[cut:]


def analyse(path: Path) -> int:
    """Read, count, find every trip, every figure. Returns the edges that are kept."""
    from holdzero.compute.capture import CaptureMap, SwitchChannel, capture_findings
    from holdzero.recording import read_recording

    channels = CaptureMap(
        count_mm=0.01, first="A", second="B", switches=(SwitchChannel("SW"),), approach_mm_s=20.0
    )
    findings = capture_findings(read_recording(path, channels), channels)
    return findings.recorded.count.size + findings.recorded.switches[0].tick.size


def peak(path: str) -> None:
    """Print the edges kept and the most memory that the analysis held at once. [bytes]"""
    analyse(Path(path).with_name("small.vcd"))  # what the libraries take is no part of it
    tracemalloc.start()
    edges = analyse(Path(path))
    print(edges, tracemalloc.get_traced_memory()[1])


def core_seconds(job: Callable[[], object]) -> float:
    """Time one call on its core, whatever else the computer does. [s]"""
    start = process_time()
    job()
    return process_time() - start


def run() -> list[dict[str, Any]]:
    """Measure rates turn about, and memory in a process of its own."""
    from vcdvcd import VCDVCD

    with tempfile.TemporaryDirectory() as folder:
        path, small = Path(folder, "run.vcd"), Path(folder, "small.vcd")
        write(path, MEGABYTES)
        write(small, THEIRS_MB)
        pairs = [(core_seconds(lambda: analyse(path)), core_seconds(lambda: bare(path))) for _ in range(RUNS)]
        ours, reference = min(pair[0] for pair in pairs), min(pair[1] for pair in pairs)
        theirs = core_seconds(lambda: VCDVCD(str(small))) * path.stat().st_size / small.stat().st_size
        words = [sys.executable, "-c", f"from bench.capture import peak; peak({str(path)!r})"]
        edges, extra = map(int, subprocess.run(words, check=True, capture_output=True, text=True).stdout.split())
    size = f"{MEGABYTES:.0f} MB"
    return [
        row(f"capture {size}: whole analysis / bare tokeniser", ours, reference, most=2.0),
        row(f"capture {size}: whole analysis / other reader", ours, theirs, most=0.25),
        row(f"capture {size}: peak memory / edge arrays", float(extra), float(BYTES_AN_EDGE * edges), most=3.0),
    ]
