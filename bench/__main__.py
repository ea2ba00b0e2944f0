"""`python -m bench [NAME ...] [--json | --write]`: run every job, or those whose module holds a NAME; one table.

`--write` puts the rows that were measured into docs/speed.md, with the day; rows of other jobs stay as they are.
"""

import os

# as a command does, and before anything loads them
os.environ |= dict.fromkeys(("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"), "1")

import importlib
import json
import pkgutil
import sys

import bench
from bench._page import write

HEAD = ("Job", "What", "Ours", "Reference", "Ratio", "Goal", "")
FORM = "{:9s} {:58s} {:>10s} {:>10s} {:>7s}  {:8s} {}"


def main(words: list[str]) -> int:
    """Run the jobs and print them; status 1 when a goal is missed, 2 when something else was asked for."""
    if "--help" in words:
        print(__doc__)
        return 0
    jobs = sorted(m.name for m in pkgutil.iter_modules(bench.__path__) if not m.name.startswith("_"))
    wanted = [word for word in words if not word.startswith("-")]
    odd = [word for word in words if word.startswith("-") and word not in ("--json", "--write")]
    odd += [word for word in wanted if not any(word in job for job in jobs)]
    if odd:
        print(f"bench: no {odd[0]} here; jobs: {', '.join(jobs)}; options: --json, --write", file=sys.stderr)
        return 2
    rows = []
    if "--json" not in words:
        print(FORM.format(*HEAD))
    for module in jobs:
        if wanted and not any(word in module for word in wanted):
            continue
        for row in importlib.import_module(f"bench.{module}").run():
            rows.append({"job": module} | row)
            if "--json" not in words:
                figures = (f"{row['ours']:.4g}", f"{row['reference']:.4g}", f"{row['ratio']:.3f}", row["goal"])
                print(FORM.format(module, row["name"], *figures, "met" if row["ok"] else "NOT MET"), flush=True)
    if "--json" in words:
        print(json.dumps(rows, indent=1))
    if "--write" in words:
        write(rows)
    return 0 if all(row["ok"] for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
