"""Waiting: until something holds in a page.

The pages let no text be run as script, so the browser cannot look again and again by itself: it is asked.
"""

import time

LIMIT_S = 60.0
LIMIT_MS = 1000 * LIMIT_S


def until(page, script: str, arg: object = None) -> None:
    """Returns once `script` is true in the page; fails with the script after a minute."""
    end = time.monotonic() + LIMIT_S
    while not page.evaluate(script, arg):
        assert time.monotonic() < end, f"never true: {script}"
        page.wait_for_timeout(20)
