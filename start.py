"""Start here: one file, nothing needed but Python 3.11 or newer.

    python3 start.py demo      make the environment, try the invented trial, open the pages
    python3 start.py open      open your own book in the browser
    python3 start.py test      run everything that is checked
    python3 start.py checks    the long simulations behind the methods; a file, a name or --shard 2/5 runs some
    python3 start.py bench     speed, as ratios in one run
    python3 start.py run ...   any holdzero command, e.g.  run study readings.csv

The environment lives in `.venv` beside this file. The second run finds it and starts at once.
"""

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
VENV = HERE / ".venv"


def program(name: str, *, windows: bool = os.name == "nt") -> Path:
    """Where an environment keeps a program: `bin/name`, or `Scripts/name.exe` on Windows."""
    return VENV / "Scripts" / f"{name}.exe" if windows else VENV / "bin" / name


PYTHON = program("python")
FIRST_USED = ("holdzero.cli.demo", "holdzero.report.whole", "holdzero.web.serve", "typst")


def main(words: list[str]) -> int:
    """Run one of the commands above; return its exit status."""
    if sys.version_info < (3, 11):
        return fail(
            f"This is Python {sys.version.split()[0]}; holdzero needs 3.11 or newer.",
            "Install a newer Python and start again with it, e.g.  python3.11 start.py demo",
        )
    jobs = {"demo": demo, "open": open_book, "test": test, "checks": checks, "bench": bench, "run": run}
    if not words or words[0] not in jobs:
        print(__doc__)
        return 0 if not words or words[0] in ("-h", "--help", "help") else 2
    try:
        return jobs[words[0]](words[1:])
    except KeyboardInterrupt:
        return 130


def demo(words: list[str]) -> int:
    """Print the invented trial's findings and choice, write its record, serve its pages."""
    return prepare("") or holdzero("demo", "--folder", str(HERE / "demo"), *words)


def open_book(words: list[str]) -> int:
    """Serve a book."""
    return prepare("") or holdzero("open", *words)


def run(words: list[str]) -> int:
    """Run any holdzero command."""
    return prepare("") or holdzero(*words)


def test(words: list[str]) -> int:
    """Lint, types, layers, then all tests but the long simulations. Words go to pytest."""
    if status := prepare("test"):
        return status
    if not words:
        for name, command in {
            "ruff check": ["ruff", "check", "."],
            "ruff format": ["ruff", "format", "--check", "."],
            "types": ["mypy"],
            "layers": ["import_linter"],
        }.items():
            print(f"== {name}", flush=True)
            line = [str(program("lint-imports"))] if name == "layers" else [str(PYTHON), "-m", *command]
            if status := subprocess.call(line, cwd=HERE):
                return fail(
                    f"{name} found something (above).", "Put it right and run  start.py test  again.", status
                )
    print("== tests", flush=True)
    spread = ["--dist", "loadfile", "--no-loadscope-reorder", "--max-worker-restart", "0"]
    at_once = min((os.cpu_count() or 1) + 1, 8)  # one more than processors: a browser's tests wait half their time
    workers = [] if words else ["-n", str(at_once), *spread]
    return pytest("not checks", *workers, *words)


def checks(words: list[str]) -> int:
    """Run the long simulations behind the methods (about an hour on two cores) and say how long each took.

    Words go to pytest: a file or a test by its name; `--shard 2/5`: the second of five shares; `--co`: names only.
    """
    return prepare("test") or pytest("checks", "--times", *words)


def pytest(marked: str, *words: str) -> int:
    """Call pytest on what is so marked; everything is compiled once, not in every process it starts."""
    subprocess.call([str(PYTHON), "-m", "compileall", "-q", str(HERE / "src")])
    return subprocess.call([str(PYTHON), "-m", "pytest", "-m", marked, *words], cwd=HERE, env=compiling())


def bench(words: list[str]) -> int:
    """Measure speed as ratios in one run; a word picks the jobs whose names hold it; --json for programs."""
    return prepare("test") or subprocess.call([str(PYTHON), "-m", "bench", *words], cwd=HERE)


def holdzero(*words: str) -> int:
    """Call the command line inside the environment."""
    return subprocess.call([str(PYTHON), "-m", "holdzero", *words])


def prepare(extra: str) -> int:
    """Make the environment if it is missing or out of date; return 0 when it is ready."""
    wanted = fingerprint(extra)
    stamp = VENV / f"ready-{extra or 'plain'}"
    if stamp.exists() and stamp.read_text() == wanted and PYTHON.exists():
        return 0
    if extra == "" and ready_with_tests():
        return 0
    if not PYTHON.exists():
        print("Making an environment in .venv ...", flush=True)
        if status := subprocess.call([sys.executable, "-m", "venv", str(VENV)]):
            return fail(
                "Python could not make an environment (above).",
                "On Debian and Ubuntu install the package python3-venv; then start again.",
                status,
            )
    print("Installing what holdzero needs (a minute or two, only this once) ...", flush=True)
    what = f".[{extra}]" if extra else "."
    pip = [str(PYTHON), "-m", "pip", "--disable-pip-version-check"]
    # Half of what pip would compile is never used: it would take 80 MB. What is used is compiled below.
    install = ["install", "--quiet", "--no-compile", "-c", "constraints.txt", "-e", what]
    if status := subprocess.call([*pip, *install], cwd=HERE):
        return fail(
            "Installing failed; what pip could not get or build stands above.",
            "Check the network (or the proxy settings pip uses), then run the same command again: it goes on\n"
            "where it stopped. If it fails in the same place, delete the folder .venv and try once more.",
            status,
        )
    if not extra:
        lighten(pip)
    subprocess.call([str(PYTHON), "-m", "compileall", "-q", str(HERE / "src")])
    first = [str(PYTHON), "-c", f"import {', '.join(FIRST_USED)}"]
    subprocess.call(first, env=compiling(), stderr=subprocess.DEVNULL)
    stamp.write_text(wanted)
    return 0


def compiling() -> dict[str, str]:
    """Return the environment without the word that no bytecode be kept: every start would compile all again."""
    return {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def lighten(pip: list[str]) -> None:
    """Take away what is not needed: setuptools and pip's own bytecode (18 MB), tests of the libraries (26 MB)."""
    subprocess.call([*pip, "uninstall", "--quiet", "--yes", "setuptools"], stderr=subprocess.DEVNULL)
    for folder in VENV.rglob("site-packages/pip"):
        for compiled in list(folder.rglob("__pycache__")):
            shutil.rmtree(compiled, ignore_errors=True)
    for library in ("numpy", "scipy"):
        for tests in list(VENV.rglob(f"site-packages/{library}/**/tests")):
            shutil.rmtree(tests, ignore_errors=True)


def ready_with_tests() -> bool:
    """Tell whether the environment was already made with the test tools, which hold all the rest."""
    stamp = VENV / "ready-test"
    return stamp.exists() and stamp.read_text() == fingerprint("test") and PYTHON.exists()


def fingerprint(extra: str) -> str:
    """Hash what decides the environment: pins, project file, Python, extra, and where it stands."""
    files = b"".join((HERE / name).read_bytes() for name in ("constraints.txt", "pyproject.toml"))
    return hashlib.sha256(files + f"{sys.version} {extra} {HERE}".encode()).hexdigest()


def fail(found: str, do: str, status: int = 2) -> int:
    """Say what went wrong and what to do; return the exit status."""
    print(f"\n{found}\n{do}", file=sys.stderr)
    return status


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
