"""Every form and route, as found in the pages, with what nobody types: never a 5xx, and the book stays whole."""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import quote

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.routing import Route
from starlette.testclient import TestClient

from every_page import pages
from fuzzed import numbers, texts
from holdzero.case.demo_book import keep_demo
from holdzero.store import check, open_book
from holdzero.web.app import create_app
from two_sides import Read, kept_trial

pytestmark = pytest.mark.usefixtures("coarse_budgets")
SLOW = (".pdf", "/record.html", "/manual", "/demo")
ENDLESS = ("/live",)  # answers as long as someone listens
OPENS_PORT = ("/instrument",)


@dataclass
class Form:
    """One form of a page: where it goes, and what it would send untouched."""

    action: str
    method: str
    typed: list[tuple[str, str]] = field(default_factory=list)
    files: list[str] = field(default_factory=list)


class Forms(HTMLParser):
    """The forms of a page and its links into the book."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self.links: list[str] = []
        self._list = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        name = given.get("name", "")
        if tag == "form":
            self.forms.append(Form(given.get("action", ""), given.get("method", "get").lower()))
        elif tag == "a" and given.get("href", "").startswith("/"):
            self.links.append(given["href"].partition("#")[0])
        elif tag == "select":
            self._list = name
        elif not self.forms:
            return
        elif tag in ("input", "textarea", "button") and name:
            if given.get("type") == "file":
                self.forms[-1].files.append(name)
            else:
                self._add(name, given.get("value", ""), chosen="checked" in given)
        elif tag == "option" and self._list:
            self._add(self._list, given.get("value", ""), chosen="selected" in given)

    def _add(self, name: str, value: str, *, chosen: bool) -> None:
        """Take the field as a browser would send it: of several of a name the chosen one, else the first."""
        typed = self.forms[-1].typed
        at = next((i for i, (known, _) in enumerate(typed) if known == name), None)
        if at is None:
            typed.append((name, value))
        elif chosen:
            typed[at] = (name, value)


@dataclass
class Site:
    """A book's pages: how to ask, every form found, every route."""

    client: TestClient
    path: Path
    forms: list[Form]
    routes: list[tuple[str, str]]


def crawled(client: TestClient, machine: int) -> list[Form]:
    """Return the forms of every page, each address and set of names once."""
    forms: dict[tuple[str, ...], Form] = {}
    for address in pages(machine, twins=False):
        answer = client.get(address)
        found = Forms()
        found.feed(answer.text)
        for form in found.forms:
            form.action = form.action or address
            if form.action.startswith("/"):
                forms.setdefault((form.action, *(name for name, _ in form.typed)), form)
    return list(forms.values())


@contextmanager
def site_of(path: Path, *, whole: bool) -> Iterator[Site]:
    """A machine with a trial, or the whole demo, and beside it one of which nothing is known yet."""
    with open_book(path) as book:
        reads = (Read(side, str(at), 1, 0.004 * at) for at in range(1, 4) for side in "LR")
        tried = keep_demo(book) if whole else kept_trial(book, tuple(reads))
        bare = book.add_machine({"machine": {"name": "Bare"}, "axes": {"X": {}}})
        app = create_app(book)
        left_out = ENDLESS if whole else (*ENDLESS, *SLOW)
        with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
            routes = {
                (method, route.path)
                for included in app.routes
                for route in getattr(getattr(included, "original_router", included), "routes", ())
                if isinstance(route, Route) and not route.path.endswith(left_out)
                for method in route.methods or ()
            }
            forms = [
                form for form in crawled(client, tried) + crawled(client, bare) if form.action not in left_out
            ]
            yield Site(client, path, forms, sorted(routes))


def asked(site: Site, data: st.DataObject) -> tuple[str, int, str]:
    """Send one request nobody would; return what was sent, its status and the answer."""
    draw = data.draw
    if draw(st.booleans()):
        form = draw(st.sampled_from(site.forms))
        method, address, typed, files = form.method.upper(), form.action, list(form.typed), form.files
    else:
        method, path = draw(st.sampled_from(site.routes))
        address = re.sub(r"\{[^}]*\}", lambda _: quote(draw(numbers), safe=""), path)
        alike = [form for form in site.forms if re.fullmatch(re.sub(r"\{[^}]*\}", "[^/]+", path), form.action)]
        typed, files = (list(alike[0].typed), alike[0].files) if alike else ([], [])
    if address.endswith(OPENS_PORT):
        typed = [(name, text) for name, text in typed if name != "port"]
    for _ in range(draw(st.integers(0, 3))):
        at = draw(st.integers(0, max(0, len(typed) - 1)))
        act = draw(st.sampled_from(("change", "change", "change", "drop", "repeat", "add")))
        if act == "add" or not typed:
            typed.append((draw(texts)[:40] or "x", draw(texts)))
        elif act == "drop":
            del typed[at]
        else:
            new = (typed[at][0], draw(texts))
            typed[at : at + (act == "change")] = [new]
    return sent(site.client, method, address, typed, files, draw)


def sent(
    client: TestClient,
    method: str,
    address: str,
    typed: list[tuple[str, str]],
    files: list[str],
    draw: st.DrawFn,
) -> tuple[str, int, str]:
    body = "&".join(f"{_quoted(name)}={_quoted(text)}" for name, text in typed)
    headers = {"content-type": "application/x-www-form-urlencoded"}
    if method == "POST" and files:
        content = draw(st.one_of(st.binary(max_size=40), texts.map(lambda text: text.encode("utf-8", "replace"))))
        upload = {name: (_sendable(draw(texts)[:30]) or "a.csv", content) for name in files}
        fields = {name: _sendable(text) for name, text in typed}
        answer = client.post(address, data=fields, files=upload, follow_redirects=False)
    elif method == "POST":
        kind = draw(st.sampled_from(("form", "form", "form", "form", "form", "bytes", "json")))
        raw = body.encode("latin-1") if kind == "form" else draw(st.binary(max_size=60))
        headers = {"content-type": "application/json"} if kind == "json" else headers
        answer = client.post(address, content=raw, headers=headers, follow_redirects=False)
    else:
        address = f"{address}{'&' if '?' in address else '?'}{body[:6000]}"
        answer = client.request(method, address, follow_redirects=False)
    return f"{method} {address[:200]} {typed!r:.1500}", answer.status_code, answer.text


def _sendable(text: str) -> str:
    """As a browser would send it: half a character becomes a question mark."""
    return text.encode("utf-8", "replace").decode()


def _quoted(text: str) -> str:
    return quote(text.encode("utf-8", "surrogatepass"), safe="")


def fuzzed(site: Site, data: st.DataObject) -> None:
    what, status, answer = asked(site, data)
    assert status < 500, (what, re.sub(r"(?s).*<main", "<main", answer)[:1500])
    assert "Traceback (most" not in answer, what


def hold(path: Path, *, requests: int, whole: bool) -> None:
    """Send so many requests, then look whether the book is whole."""

    @settings(settings.get_profile("fuzz"), max_examples=requests)
    @given(data=st.data())
    def send(data: st.DataObject) -> None:
        fuzzed(site, data)

    with site_of(path, whole=whole) as site:
        assert len(site.forms) > 40
        assert len(site.routes) > 100
        send()
    assert check(path).wrong == ()
    with open_book(path) as book:
        for machine in book.machines():
            book.trials(machine.id)


def test_forms_and_routes(tmp_path: Path):
    hold(tmp_path / "shed.holdzero", requests=300, whole=False)


@pytest.mark.checks
def test_forms_and_routes_of_the_demo(tmp_path: Path):
    hold(tmp_path / "shed.holdzero", requests=3000, whole=True)
