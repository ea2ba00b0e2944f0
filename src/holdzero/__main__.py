"""`python -m holdzero` is `holdzero`: one command in a process of its own."""

import atexit
import os
import sys
import threading

from holdzero.cli import main

# Who has one of them may still have something to close: a book, workers.
_CLOSE_THEMSELVES = ("sqlalchemy", "multiprocessing.process")


def run() -> None:
    """Run the command line, and end the process.

    A command that only read files ends at once (docs/decisions/0016-ending.md): to take apart all that was
    loaded takes a tenth of its time, and the system does it anyway.
    """
    try:
        main()
    except SystemExit as ended:
        if isinstance(ended.code, int) and _nothing_open():
            _end_at_once(ended.code)
        raise


def _nothing_open() -> bool:
    return threading.active_count() == 1 and not any(name in sys.modules for name in _CLOSE_THEMSELVES)


def _end_at_once(status: int) -> None:
    """End, unless what was printed cannot be written: then Python says so."""
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    except (OSError, ValueError):
        return
    atexit._run_exitfuncs()
    os._exit(status)


if __name__ == "__main__":
    run()
