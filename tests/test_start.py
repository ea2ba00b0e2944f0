"""start.py: the one file a person runs on a bare machine."""

import ast
import importlib
import importlib.util
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import pytest

pytest_plugins = ["pytester"]
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


class TestChecks:
    """Each says how long it took; one file, one test or one share runs alone."""

    @pytest.fixture
    def called(self, start: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
        """What start.py calls, in an environment that is ready."""
        calls: list[list[str]] = []
        monkeypatch.setenv("PYTHONDONTWRITEBYTECODE", "1")
        monkeypatch.setattr(start, "prepare", lambda _: 0)

        def call(command: list[str], *, env: dict[str, str] | None = None, **_: object) -> int:
            calls.append(command[1:])
            assert "pytest" not in command or "PYTHONDONTWRITEBYTECODE" not in (
                env or {"PYTHONDONTWRITEBYTECODE": ""}
            )
            return 0

        monkeypatch.setattr(subprocess, "call", call)
        return calls

    def test_words_go_to_pytest_and_times_are_asked_for(self, start: ModuleType, called: list[list[str]]):
        assert start.main(["checks", "tests/spread", "--shard", "2/5"]) == 0
        assert called[-1] == ["-m", "pytest", "-m", "checks", "--times", "tests/spread", "--shard", "2/5"]
        assert start.main(["test", "tests/spread"]) == 0
        assert called[-1] == ["-m", "pytest", "-m", "not checks", "tests/spread"]

    @pytest.fixture
    def run(self, pytester: pytest.Pytester) -> Callable[..., tuple[set[str], str]]:
        """Run a small suite that has our options: which tests ran, and what was printed."""
        pytester.makeconftest(
            "import our_options\n"
            "pytest_addoption = our_options.add\n"
            "def pytest_configure(config): config.pluginmanager.register(our_options.SharesAndTimes())"
        )
        tests = "\n".join(f"@pytest.mark.checks\ndef test_{i}(): ran({i})" for i in range(7))
        ran = "def ran(i):\n    with open('ran', 'a') as file: file.write(f'{i} ')"
        pytester.makepyfile(test_small=f"import pytest\n{ran}\n{tests}\ndef test_short(): ran('short')")
        pytester.makeini("[pytest]\nmarkers = checks: long")

        def run(*words: str) -> tuple[set[str], str]:
            (pytester.path / "ran").write_text("")
            said = pytester.runpytest_inprocess("-m", "checks", "-p", "no:cacheprovider", *words)
            return set((pytester.path / "ran").read_text().split()), said.stdout.str() + said.stderr.str()

        return run

    def test_the_shares_together_are_all_and_none_runs_twice(self, run):
        shares = [run("--shard", f"{k}/3")[0] for k in (1, 2, 3)]
        assert [len(share) for share in shares] == [3, 2, 2]
        assert set.union(*shares) == {str(i) for i in range(7)}

    def test_one_runs_alone(self, run):
        ran, said = run("--times", "test_small.py::test_3")
        assert ran == {"3"}
        assert re.search(r"\d\.\d  test_small\.py::test_3\n", said)
        assert re.search(r"\d\.\d  test_small\.py\n", said)
        assert "how long" not in run("test_small.py::test_3")[1]

    @pytest.mark.parametrize("share", ["0/3", "4/3", "2", "a/b", "1/0"])
    def test_a_share_that_is_none_is_refused(self, run, share: str):
        ran, said = run("--shard", share)
        assert ran == set()
        assert "needs K/N with K from 1 to N" in said
