"""A book served on loopback and a real browser in front of it."""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import expect, sync_playwright

from browser.serving import serving
from browser.waiting import LIMIT_MS
from holdzero.store import Book, open_book

FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
PROGRAMS = (
    "chromium-headless-shell",
    "chromium",
    "chromium-browser",
)  # the first draws no window of its own: quicker
NEEDED = os.environ.get("HOLDZERO_NEED_BROWSER") == "1"


@pytest.fixture(scope="session")
def chromium():
    """Debian's own Chromium, driven by Playwright."""
    program = next(filter(None, map(shutil.which, PROGRAMS)), None)
    if program is None:
        why = "no chromium on the path (Debian: apt install chromium-headless-shell, or chromium)"
        pytest.fail(why) if NEEDED else pytest.skip(why)
    expect.set_options(timeout=LIMIT_MS)
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(FLAGS))
        yield browser
        browser.close()


@dataclass
class Site:
    """A served book."""

    book: Book
    address: str
    trouble: list[str] = field(default_factory=list)


@pytest.fixture
def site(tmp_path: Path) -> Iterator[Site]:
    """An empty book, served; what a page complains about is collected and must stay empty."""
    with open_book(tmp_path / "shed.holdzero") as book, serving(book) as served:
        opened = Site(book, served.address)
        yield opened
    assert opened.trouble == []


@pytest.fixture
def open_page(chromium, site: Site):
    """Opens a page of the served book; every request, error and message of the console is watched."""
    contexts = []

    def opened(path: str = "/", *, width: int = 1280, dark: bool = False, script: bool = True):
        context = chromium.new_context(
            viewport={"width": width, "height": 844},
            color_scheme="dark" if dark else "light",
            reduced_motion="reduce",
            java_script_enabled=script,
            has_touch=width < 500,
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(LIMIT_MS)
        page.on("pageerror", lambda error: site.trouble.append(f"error: {error}"))
        page.on(
            "console",
            lambda said: said.type in ("error", "warning") and site.trouble.append(f"{said.type}: {said.text}"),
        )
        page.on(
            "request",
            lambda sent: sent.url.startswith((site.address, "data:")) or site.trouble.append(f"out: {sent.url}"),
        )
        page.goto(site.address + path)
        return page

    yield opened
    for context in contexts:
        context.close()
