"""Lean: what a command leaves out because nobody asked for it."""

import ast
import gc
import os
import subprocess
import sys
from pathlib import Path

import pytest

import holdzero
from holdzero import cli, demo
from holdzero.cli import ONE_CORE, import_, main
from holdzero.store import migrations


@pytest.fixture
def terminal(monkeypatch, capsys):
    def run(*words):
        monkeypatch.setattr(sys, "argv", ["holdzero", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            main()
        return ended.value.code, *capsys.readouterr()

    return run


def test_matrix_products_keep_to_one_core_unless_told_otherwise(monkeypatch, terminal):
    for name in ONE_CORE:
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv(ONE_CORE[1], "4")
    assert terminal("--version")[0] == 0
    assert [os.environ[name] for name in ONE_CORE] == ["1", "4", "1"]


def test_the_columns_of_a_readings_file_are_told_from_its_first_rows(monkeypatch, terminal, tmp_path):
    read_grid, seen = import_.read_grid, []

    def watched(*words, **how):
        seen.append(read_grid(*words, **how))
        return seen[-1]

    monkeypatch.setattr(import_, "read_grid", watched)
    table = tmp_path / "long.csv"
    table.write_text("set,deviation_mm\n" + "".join(f"{i // 100 + 1},{i % 7 / 1000}\n" for i in range(2000)))
    status, out, _ = terminal("import", table)
    assert status == 0
    assert "2000 readings" in out
    assert [len(grid.rows) for grid in seen] == [401]
    table.write_text(table.read_text().replace("deviation_mm", "Dial (mm)"))
    assert "2000 readings" in terminal("import", table)[1]
    assert len(seen[-1].rows) == 2001


NEVER_LOADED = {  # by a command that reads files: each takes longer than what the command is asked
    "study": ("sqlalchemy", "scipy.optimize", "http", "holdzero.inputs.machine", "holdzero.compute.choose"),
    "choose": ("sqlalchemy", "scipy.optimize", "scipy.linalg", "http"),
}
LOADED_BY = """
import atexit, sys
atexit.register(lambda: sys.stderr.write(" ".join(sys.modules)))
from holdzero.cli import main
main()
"""


@pytest.mark.parametrize("command", NEVER_LOADED)
def test_files_are_answered_without_what_only_a_book_or_a_log_needs(command, tmp_path):
    files = {"readings": demo.readings_csv(), "machine": demo.machine_toml(), "sensors": demo.sensors_toml()}
    for name, text in files.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    asked = ["--machine", "machine", "--sensors", "sensors"] if command == "choose" else []
    words = [sys.executable, "-c", LOADED_BY, command, "readings", *asked]
    done = subprocess.run(words, cwd=tmp_path, capture_output=True, encoding="utf-8", check=True)
    loaded = done.stderr.split()
    assert "holdzero.compute.findings" in loaded
    assert [name for name in NEVER_LOADED[command] if name in loaded] == []


def test_a_book_that_is_as_it_should_be_opens_without_what_changes_tables():
    """Alembic takes a quarter of a second to load: only steps that nothing else imports name it at their top."""

    def at_top(path: Path) -> set[str]:
        body = ast.parse(path.read_text(encoding="utf-8")).body
        return {
            name
            for line in body
            for name in (
                [f"{line.module}.{part.name}" for part in line.names]
                if isinstance(line, ast.ImportFrom)
                else [part.name for part in line.names]
                if isinstance(line, ast.Import)
                else []
            )
        }

    imported = {path: at_top(path) for path in Path(holdzero.__file__).parent.rglob("*.py")}
    steps = {path for path, names in imported.items() if any(name.startswith("alembic") for name in names)}
    assert {path.parent for path in steps} == {Path(migrations.__file__).parent}
    named = {f"{migrations.__name__}.{path.stem}" for path in steps}
    assert named.isdisjoint(set().union(*imported.values()))


def test_what_was_loaded_is_not_looked_through_again(terminal):
    gc.unfreeze()
    cli._set_aside.cache_clear()  # as in a process that has run no command
    assert terminal("where")[0] == 0
    assert gc.isenabled()
    frozen = gc.get_freeze_count()
    assert frozen > 0
    assert terminal("where")[0] == 0
    assert gc.get_freeze_count() <= frozen  # what a second command finds may be garbage


ENDING = """
import atexit, sys, threading
class Last:
    def __del__(self, say=sys.stderr.write):
        say("taken apart ")
last = Last()
atexit.register(sys.stderr.write, "put away ")
if sys.argv[1] == "book":
    sys.modules["sqlalchemy"] = sys
if sys.argv[1] == "thread":
    threading.Thread(target=threading.Event().wait, daemon=True).start()
sys.argv[1:] = ["--version"]
from holdzero.__main__ import run
run()
"""


@pytest.mark.parametrize(
    ("kind", "said"), [("", "put away "), ("book", "put away taken apart "), ("thread", "put away taken apart ")]
)
def test_a_command_that_only_read_files_is_not_taken_apart(kind, said):
    done = subprocess.run(
        [sys.executable, "-S", "-c", ENDING, kind],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        capture_output=True,
        encoding="utf-8",
        check=True,
    )
    assert done.stdout.startswith("holdzero, version ")
    assert done.stderr == said


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no disk that is always full")
def test_what_could_not_be_printed_is_not_taken_for_printed():
    with open("/dev/full", "w") as full:
        done = subprocess.run([sys.executable, "-m", "holdzero", "--version"], stdout=full, stderr=subprocess.PIPE)
    assert done.returncode != 0
    assert b"No space left" in done.stderr or b"no space left" in done.stderr
