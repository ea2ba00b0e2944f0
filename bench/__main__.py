"""`python -m bench [NAME] [--json]`: run every job (or those whose module or name holds NAME), one line each."""

import importlib
import json
import pkgutil
import sys

import bench


def main(words: list[str]) -> int:
    """Run the jobs and print them; status 1 when a goal is missed."""
    as_json = "--json" in words
    wanted = [word for word in words if word != "--json"]
    rows = []
    for module in sorted(m.name for m in pkgutil.iter_modules(bench.__path__) if not m.name.startswith("_")):
        found = importlib.import_module(f"bench.{module}").run
        if wanted and not any(word in module for word in wanted):
            continue
        for row in found():
            rows.append(row)
            if not as_json:
                print(
                    f"{row['name']:44s} ours {row['ours']:>11.5g}   reference {row['reference']:>11.5g}   "
                    f"ratio {row['ratio']:7.3f}   goal {row['goal']:<9s} {'ok' if row['ok'] else 'MISSED'}",
                    flush=True,
                )
    if as_json:
        print(json.dumps(rows, indent=1))
    return 0 if all(row["ok"] for row in rows) else 1


sys.exit(main(sys.argv[1:]))
