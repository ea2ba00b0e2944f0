"""Settings of all tests."""

import os
import signal

import pytest
from hypothesis import settings

settings.register_profile("holdzero", deadline=None)  # a loaded computer is not a failure
settings.load_profile("holdzero")

os.environ["HOLDZERO_SETTINGS"] = os.devnull  # what a person keeps on this computer decides no test
for _name in ("UNITS", "BOOK", "FOLDER"):
    os.environ.pop(f"HOLDZERO_{_name}", None)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the browser's files: they take longest, no worker shall end alone with them."""
    items.sort(key=lambda item: "browser" not in item.path.parts)


def pytest_collection_finish() -> None:
    """Refuse to begin where some import made a closed pipe deadly: workers would vanish without a word."""
    pipe = getattr(signal, "SIGPIPE", None)
    if pipe and signal.getsignal(pipe) != signal.SIG_IGN:
        raise pytest.UsageError("an imported library reset SIGPIPE: a peer that hangs up would end the process")
