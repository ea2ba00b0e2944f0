"""Our own options of pytest: `--shard K/N` takes a share of the tests, `--times` says how long each took."""

from collections import Counter

import pytest


def add(parser: pytest.Parser) -> None:
    """Add both."""
    ours = parser.getgroup("holdzero")
    ours.addoption("--shard", metavar="K/N", type=_share, help="run the K-th of N shares of what is selected")
    ours.addoption("--times", action="store_true", help="say how long each file and each test took")


def _share(text: str) -> tuple[int, int]:
    k, _, n = text.partition("/")
    if not (k.isdecimal() and n.isdecimal() and 1 <= int(k) <= int(n)):
        raise pytest.UsageError(f"--shard {text}: needs K/N with K from 1 to N, e.g. --shard 2/5")
    return int(k), int(n)


class SharesAndTimes:
    """Does what both ask for."""

    @pytest.hookimpl(trylast=True)  # what is not selected is gone by then
    def pytest_collection_modifyitems(self, config: pytest.Config, items: list[pytest.Item]) -> None:
        """Keep every N-th test from the K-th on: neighbours take about as long as each other."""
        if share := config.getoption("shard"):
            k, n = share
            config.hook.pytest_deselected(items=[item for i, item in enumerate(items) if i % n != k - 1])
            items[:] = items[k - 1 :: n]

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
        """Say how long each took with its fixtures, the longest first."""
        if not config.getoption("times"):
            return
        files_s: Counter[str] = Counter()
        tests_s: Counter[str] = Counter()
        for reports in terminalreporter.stats.values():
            for report in reports:
                if isinstance(report, pytest.TestReport):
                    files_s[report.nodeid.partition("::")[0]] += report.duration
                    tests_s[report.nodeid] += report.duration
        for what, took_s in (("each file", files_s), ("each test", tests_s)):
            terminalreporter.section(f"how long {what} took [s]")
            for name, duration_s in took_s.most_common():
                terminalreporter.write_line(f"{duration_s:9.1f}  {name}")
