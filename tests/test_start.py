"""start.py: the one file a person runs on a bare machine."""

import ast
import importlib
import importlib.util
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

START = Path(__file__).parent.parent / "start.py"


@pytest.fixture
def start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """The module, with its environment moved to an empty folder."""
    spec = importlib.util.spec_from_file_location("start", START)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    monkeypatch.setattr(module, "VENV", tmp_path / "env")
    monkeypatch.setattr(module, "PYTHON", tmp_path / "env" / "bin" / "python")
    return module


def test_needs_nothing_but_python():
    names = set()
    for node in ast.walk(ast.parse(START.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add((node.module or "").split(".")[0])
    assert names <= set(sys.stdlib_module_names)


def test_an_unknown_word_shows_the_commands(start: ModuleType, capsys: pytest.CaptureFixture[str]):
    assert start.main(["dmeo"]) == 2
    assert "start.py demo" in capsys.readouterr().out


def test_programs_lie_in_scripts_on_windows(start: ModuleType):
    assert start.program("python", windows=True).parts[-2:] == ("Scripts", "python.exe")
    assert start.program("python", windows=False).parts[-2:] == ("bin", "python")


def test_a_failed_install_says_what_failed_and_how_to_retry(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    def call(command: list[str], **_: object) -> int:
        return 1 if "pip" in command else 0

    monkeypatch.setattr(subprocess, "call", call)
    assert start.main(["demo"]) == 1
    said = capsys.readouterr().err
    assert "Installing failed" in said
    assert "run the same command again" in said


def test_a_missing_venv_module_names_the_package(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setattr(subprocess, "call", lambda *_, **__: 1)
    assert start.main(["demo"]) == 1
    assert "python3-venv" in capsys.readouterr().err


def test_the_second_run_installs_nothing(start: ModuleType, monkeypatch: pytest.MonkeyPatch):
    calls: list[list[str]] = []

    def call(command: list[str], **_: object) -> int:
        calls.append(command)
        start.PYTHON.parent.mkdir(parents=True, exist_ok=True)
        start.PYTHON.touch()
        return 0

    monkeypatch.setattr(subprocess, "call", call)
    assert start.main(["demo", "--once"]) == 0
    steps = ["venv", "install", "uninstall", "compileall", "-c", "demo"]
    assert [step in call for step, call in zip(steps, calls, strict=True)] == [True] * 6
    calls.clear()
    assert start.main(["demo", "--once"]) == 0
    assert len(calls) == 1
    assert calls[0][1:4] == ["-m", "holdzero", "demo"]


def test_an_environment_with_the_test_tools_serves_the_demo_too(start: ModuleType):
    start.PYTHON.parent.mkdir(parents=True)
    start.PYTHON.touch()
    (start.VENV / "ready-test").write_text(start.fingerprint("test"))
    assert start.prepare("") == 0


def test_an_old_python_is_told_so(
    start: ModuleType, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    monkeypatch.setattr(sys, "version_info", (3, 10, 1))
    assert start.main(["demo"]) == 2
    assert "3.11" in capsys.readouterr().err


def test_what_is_compiled_first_can_be_imported(start: ModuleType):
    for name in start.FIRST_USED:
        assert importlib.import_module(name)


def test_lighten_leaves_the_sources_of_pip(start: ModuleType, monkeypatch: pytest.MonkeyPatch):
    pip = start.VENV / "lib" / "python3.11" / "site-packages" / "pip"
    (pip / "part" / "__pycache__").mkdir(parents=True)
    (pip / "part" / "__pycache__" / "a.pyc").touch()
    (pip / "part" / "a.py").touch()
    monkeypatch.setattr(subprocess, "call", lambda *_, **__: 0)
    start.lighten(["pip"])
    assert [path.name for path in pip.rglob("*")] == ["part", "a.py"]
