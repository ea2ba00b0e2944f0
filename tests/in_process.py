"""The command line without a process for each line: status, output and errors as a process of its own gives them.

The start of a process and the imports cost more than what most lines do. A few tests still start real ones.
"""

import io
import sys
from dataclasses import dataclass
from unittest.mock import patch

import pytest

from holdzero.cli import main


@dataclass(frozen=True)
class Done:
    """What a line answered."""

    returncode: int
    stdout: bytes
    stderr: bytes


def run(*words: str, stdin: bytes = b"") -> Done:
    """Run `holdzero` with these words and this standard input."""
    out, err = io.BytesIO(), io.BytesIO()
    streams = {
        "stdin": io.TextIOWrapper(io.BytesIO(stdin), encoding="utf-8"),
        "stdout": io.TextIOWrapper(out, encoding="utf-8", write_through=True),
        "stderr": io.TextIOWrapper(err, encoding="utf-8", write_through=True),
    }
    with patch.multiple(sys, argv=["holdzero", *words], **streams), pytest.raises(SystemExit) as ended:
        main()
    return Done(int(ended.value.code or 0), out.getvalue(), err.getvalue())
