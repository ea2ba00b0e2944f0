"""Pressing inch: other words, no other figures, and nothing computed again."""

import re
from collections import Counter
from importlib import import_module

import pytest
from starlette.testclient import TestClient
from tests.every_page import pages

from holdzero.case import remembered
from holdzero.case.demo_book import keep_demo
from holdzero.memory import MIB, Remembered
from holdzero.store import Book

THOU = re.compile(r"\bthou\b")
WAYS_IN = {
    "find": "holdzero.compute.findings.study",
    "find_in": "holdzero.compute.findings.study",
    "judge": "holdzero.compute.choose.decide",
    "budget": "holdzero.compute.design.assessment",
    "assess_all": "holdzero.case.circuits",
}


@pytest.fixture
def computed(monkeypatch) -> Counter:
    """How often each way into the computing was entered."""
    calls: Counter = Counter()
    monkeypatch.setattr(remembered, "_answers", Remembered(64 * MIB))

    def counted(name, real):
        def enter(*words, **how):
            calls[name] += 1
            return real(*words, **how)

        return enter

    for name, module in WAYS_IN.items():
        inside = import_module(module)
        monkeypatch.setattr(inside, name, counted(name, getattr(inside, name)))
    return calls


def test_pressing_inch_computes_nothing_again_on_any_page(client: TestClient, book: Book, computed: Counter):
    demo = keep_demo(book)
    addresses = pages(demo, twins=False)
    for address in addresses:
        assert client.get(address).status_code == 200
    assert THOU.search(client.get(findings := f"/machines/{demo}/findings").text) is None
    assert min(computed[name] for name in ("find", "find_in", "judge", "budget")) > 0
    computed.clear()
    book.keep_setting("system", "inch")
    for address in addresses:
        text = client.get(address).text
        assert "\x02" not in text, address
    assert THOU.search(client.get(findings).text)
    assert computed == {}
