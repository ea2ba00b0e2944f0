"""Bench: every job can be run; what it uses is held against our types, so a job cannot rot unseen."""

import importlib
import inspect
import pkgutil
import tomllib
from pathlib import Path

import bench
import pytest
from bench.__main__ import main

MODULES = sorted(module.name for module in pkgutil.iter_modules(bench.__path__))
JOBS = [name for name in MODULES if not name.startswith("_")]


@pytest.mark.parametrize("name", MODULES)
def test_every_module_can_be_loaded(name: str):
    module = importlib.import_module(f"bench.{name}")
    if name in JOBS:
        assert module.__doc__
        assert not inspect.signature(module.run).parameters


def test_types_of_the_bench_are_checked_too():
    project = tomllib.loads((Path(__file__).parents[1] / "pyproject.toml").read_text(encoding="utf-8"))
    assert "bench" in project["tool"]["mypy"]["packages"]
    assert len(JOBS) > 10


@pytest.mark.parametrize("words", [["--hlep"], ["-h"], ["nothing-of-that-name"], ["spread", "sprad"]])
def test_what_is_not_there_starts_no_job(words, capsys):
    assert main(words) == 2
    assert words[-1] in capsys.readouterr().err


def test_help_starts_no_job(capsys):
    assert main(["--help"]) == 0
    assert "--write" in capsys.readouterr().out
