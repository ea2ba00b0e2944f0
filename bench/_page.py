"""The page docs/speed.md: the last measured row of each job, with its day and the kind of machine."""

import os
import platform
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

PAGE = Path(__file__).parents[1] / "docs" / "speed.md"
TOP = """# Speed

What a person waits for, each job against a reference that was measured in the same run, or against a stated
limit. Times are in seconds on the cores, unless a row says that it goes by the clock or counts bytes. Ratios to a
reference depend little on the computer; a limit in seconds is meant for a quiet one, and a busy one takes up to
twice as long. `python3 start.py bench --write` measures all of it anew (half an hour),
`python3 start.py bench pages --write` one job; jobs that are not in the table were not measured for it.

| Job | What | Ours | Reference or limit | Ratio | Goal | Met | Measured |
|---|---|--:|--:|--:|---|---|---|
"""


def write(rows: Sequence[Mapping[str, Any]], *, page: Path = PAGE, day: date | None = None) -> None:
    """Put these rows in the place of those of their jobs."""
    kept = [line for line in page.read_text(encoding="utf-8").splitlines() if line.startswith("| ")][1:]
    jobs = {row["job"] for row in rows}
    lines = [line for line in kept if line.split("|")[1].strip() not in jobs]
    when = f"{day or date.today()}, {kind_of_machine()}"
    lines += [_line(row, when) for row in rows]
    page.write_text(TOP + "\n".join(sorted(lines, key=lambda line: line.split("|")[1])) + "\n", encoding="utf-8")


def kind_of_machine() -> str:
    """Return cores, system and Python, and whether it was busy: never a name of the computer, nor a path."""
    version, cores = ".".join(platform.python_version_tuple()[:2]), os.cpu_count() or 1
    busy = ", busy" if hasattr(os, "getloadavg") and os.getloadavg()[1] > cores + 1 else ""
    return f"{cores} cores, {platform.system()} {platform.machine()}, Python {version}{busy}"


def _line(row: Mapping[str, Any], when: str) -> str:
    figures = (f"{row['ours']:.3g}", f"{row['reference']:.3g}", f"{row['ratio']:.2f}", row["goal"])
    return f"| {' | '.join((row['job'], row['name'], *figures, 'yes' if row['ok'] else '**no**', when))} |"
