"""A fleet: many machines against DuckDB's plain figures of the same file; two Dask workers against one.

`HOLDZERO_BENCH_ROWS` sets the number of rows, 20 million by default, of machines with 10 000 each. Times are
those on the cores, the whole command with its start counted, whatever else the computer does.
"""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from bench._measure import row, two_workers

ROWS = int(os.environ.get("HOLDZERO_BENCH_ROWS", 20_000_000))
OF_A_MACHINE = 10_000
FIGURES = "count(*), avg(deviation_mm), stddev_samp(deviation_mm)"
PLAIN = f"import duckdb; duckdb.sql(\"select {FIGURES} from '{{}}'\").fetchall()"
NOTHING = "import duckdb; duckdb.sql('select 1').fetchall()"
MOST_BYTES = 2e9
ON_CLUSTER = """
import sys, time
from distributed import Client, LocalCluster
from holdzero.case.watch.fleet import FleetAsked, watch_fleet
from holdzero.case.watch.workers import watched_parts
from holdzero.recording.fleet import FleetFiles

if __name__ == "__main__":
    own_port = "127.0.0.1:0"
    with LocalCluster(n_workers=int(sys.argv[2]), threads_per_worker=1, dashboard_address=own_port) as cluster:
        source = FleetFiles([sys.argv[1]])
        asked = FleetAsked(now_s=source.last_s)
        with Client(cluster) as client:  # what a worker loads once is not its speed
            client.run(__import__, "holdzero.case.watch.workers")
        start = time.perf_counter()
        rows = watch_fleet(watched_parts(source, asked, cluster=cluster.scheduler_address), asked).rows
        print(time.perf_counter() - start, len(rows))
"""


def write(path: Path, *, rows: int, order: str) -> Path:
    """Write a log of so many rows: normal scatter, one machine in twenty with wear."""
    made = f"""copy (select 'machine ' || lpad(cast(m as varchar), 5, '0') as machine, 'Y' as axis,
        timestamp '2024-01-01' + interval (k * 3600 + m % 60) second as time,
        0.004 * sqrt(-2 * ln(1 - random())) * cos(6.283185307 * random())
        + case when m % 20 = 0 then k * 1e-6 else 0 end as deviation_mm
        from range({rows // OF_A_MACHINE}) machines(m), range({OF_A_MACHINE}) homings(k) order by {order})
        to '{path.as_posix()}' (format parquet)"""
    cost(
        "-c", "import duckdb, sys; duckdb.sql(sys.argv[1])", made
    )  # elsewhere: a child is as large as who starts it
    return path


def cost(*words: str) -> tuple[float, float]:
    """Seconds on the cores, and most bytes held, of a Python process and its children."""
    process = subprocess.Popen([sys.executable, *words], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 1):  # 1: some machine needs a look
        raise subprocess.CalledProcessError(process.returncode, process.args)
    return used.ru_utime + used.ru_stime, used.ru_maxrss * (1 if sys.platform == "darwin" else 1024)


def run() -> Iterator[dict[str, Any]]:
    """Seconds for a fleet in order of time within each machine, not in order, and on one and two workers."""
    with TemporaryDirectory(prefix="holdzero-bench-") as folder:
        for name, order, most in (("in order of time", "k, m", 25.0), ("in no order", "random()", 40.0)):
            path = write(Path(folder) / "log.parquet", rows=ROWS, order=order)
            runs = [(cost("-m", "holdzero", "fleet", str(path), "--workers", "1"), plain(path)) for _ in range(3)]
            ours, reference = min(seconds for (seconds, _), _ in runs), min(seconds for _, seconds in runs)
            yield row(f"fleet, {ROWS / 1e6:g} M rows {name} / plain", ours, reference, most=most)
            held = max(held for (_, held), _ in runs)
            yield row(f"fleet, {name}: bytes held / 2 GB", held, MOST_BYTES, most=1.0)
        path = write(Path(folder) / "log.parquet", rows=min(ROWS, 10_000_000), order="k, m")
        (Path(folder) / "on_cluster.py").write_text(ON_CLUSTER, encoding="utf-8")
        yield two_workers("fleet on Dask", lambda workers: on_workers(path, workers), runs=3, times=1.6)


def plain(path: Path) -> float:
    """Seconds on the cores of count, mean and standard deviation, without what starting takes."""
    return cost("-c", PLAIN.format(path.as_posix()))[0] - cost("-c", NOTHING)[0]


def on_workers(path: Path, workers: int) -> float:
    """Seconds that so many Dask workers of one thread each take, by the clock."""
    words = [sys.executable, str(path.with_name("on_cluster.py")), str(path), str(workers)]
    done = subprocess.run(words, check=True, capture_output=True, text=True)
    return float(done.stdout.split()[0])
