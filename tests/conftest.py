"""Settings of all tests."""

import os
import signal
from collections import Counter
from collections.abc import Generator, Iterator

import pytest
from _pytest.doctest import DoctestModule
from hypothesis import settings

from holdzero.store import file
from ready_books import at_once

settings.register_profile("holdzero", deadline=None)  # a loaded computer is not a failure
settings.load_profile("holdzero")

os.environ["HOLDZERO_SETTINGS"] = os.devnull  # what a person keeps on this computer decides no test
for _name in ("UNITS", "BOOK", "FOLDER"):
    os.environ.pop(f"HOLDZERO_{_name}", None)


@pytest.fixture(scope="session", autouse=True)
def _tables_of_a_new_book_at_once() -> Iterator[None]:
    """Those of a new book are made in one go; tests/store takes every step."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(file, "migrate", at_once(file.migrate))
        yield


def pytest_addoption(parser: pytest.Parser) -> None:
    """Take a share of the tests, and say how long each took."""
    ours = parser.getgroup("holdzero")
    ours.addoption("--shard", metavar="K/N", type=_shard, help="run the K-th of N shares of what is selected")
    ours.addoption("--times", action="store_true", help="say how long each file and each test took")


def _shard(text: str) -> tuple[int, int]:
    k, _, n = text.partition("/")
    if not (k.isdecimal() and n.isdecimal() and 1 <= int(k) <= int(n)):
        raise pytest.UsageError(f"--shard {text}: needs K/N with K from 1 to N, e.g. --shard 2/5")
    return int(k), int(n)


@pytest.hookimpl(wrapper=True)
def pytest_collect_file() -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """Look for examples in docstrings of the program only: every file here would be read twice."""
    return [collector for collector in (yield) if not isinstance(collector, DoctestModule)]


@pytest.hookimpl(trylast=True)  # what is not selected is gone by then
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Begin with the browser's files: they take longest, no worker shall end alone with them."""
    items.sort(key=lambda item: "browser" not in item.path.parts)
    if shard := config.getoption("shard"):
        k, n = shard
        others = [item for i, item in enumerate(items) if i % n != k - 1]
        config.hook.pytest_deselected(items=others)
        items[:] = items[k - 1 :: n]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say how long each took, the longest first, where that was asked for."""
    if not config.getoption("times"):
        return
    took_s: Counter[str] = Counter()
    for reports in terminalreporter.stats.values():
        for report in reports:
            if isinstance(report, pytest.TestReport):
                took_s[report.nodeid] += report.duration
    files_s: Counter[str] = Counter()
    for name, duration_s in took_s.items():
        files_s[name.partition("::")[0]] += duration_s
    for title, durations_s in (("each file", files_s), ("each test", took_s)):
        terminalreporter.section(f"how long {title} took [s]")
        for name, duration_s in durations_s.most_common():
            terminalreporter.write_line(f"{duration_s:9.1f}  {name}")


def pytest_collection_finish() -> None:
    """Refuse to begin where some import made a closed pipe deadly: workers would vanish without a word."""
    pipe = getattr(signal, "SIGPIPE", None)
    if pipe and signal.getsignal(pipe) != signal.SIG_IGN:
        raise pytest.UsageError("an imported library reset SIGPIPE: a peer that hangs up would end the process")
