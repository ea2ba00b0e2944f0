"""`holdzero open` as a process of its own, as a person starts it."""

import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True)
class Program:
    """A running one, and where its pages are."""

    process: "subprocess.Popen[str]"
    address: str

    def killed(self) -> None:
        """End it by force, as a crash would."""
        self.process.kill()
        self.process.wait()


@contextmanager
def opened(book: Path | str, *words: str, port: int = 0) -> Iterator[Program]:
    """Open a book; ended as by Ctrl-C when the test is done, if it runs still."""
    run = [sys.executable, "-m", "holdzero", "open", str(book), *words, "--no-browser"]
    run += ["--port", str(port)] if port else []
    process = subprocess.Popen(run, stdout=subprocess.PIPE, text=True, env=os.environ | {"PYTHONUNBUFFERED": "1"})
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"https?://[\d.:]+/", line)
        assert found, line
        yield Program(process, found[0].rstrip("/"))
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        process.wait(30)
        process.stdout.close()
