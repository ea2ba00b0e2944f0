"""How results look on a terminal and in a pipe."""

import io
import json
import math
import sys

import pytest

from holdzero import __version__
from holdzero.cli import show
from holdzero.compute.choose import Verdict
from holdzero.tell.blocks import Points, Table
from holdzero.tell.words import mark_of, marked

BLOCKS = (
    "First.",
    Table("", ("sensor", "n"), (("A", "5"), ("longer", "40"))),
    Points(("One.", "Two."), title="Why"),
)


def test_piped_is_plain_and_aligned(capsys: pytest.CaptureFixture[str]):
    show.page(*BLOCKS)
    assert capsys.readouterr().out == ("First.\n\nsensor   n\nA        5\nlonger  40\n\nWhy\n– One.\n– Two.\n")


def test_what_is_empty_is_left_out(capsys: pytest.CaptureFixture[str]):
    show.page("First.", Table("None", ("sensor",), ()), Points((), title="Why"))
    assert capsys.readouterr().out == "First.\n"


def test_on_a_terminal_the_same_words(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    show.page(*BLOCKS)
    out = capsys.readouterr().out
    for word in ("First.", "sensor", "longer", "40", "Why", "Two."):
        assert word in out


def test_a_terminal_that_knows_no_narrow_space_gets_plain_ones(monkeypatch: pytest.MonkeyPatch):
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding="ascii"))
    show.page("5.0\u202fµm ✓ holds")
    sys.stdout.flush()
    assert raw.getvalue().decode("ascii").startswith("5.0 um ")


def test_json_is_strict(capsys: pytest.CaptureFixture[str]):
    show.as_json({"a": 1.5, "b": None, "µ": "✓"})
    assert json.loads(capsys.readouterr().out) == {"version": __version__, "a": 1.5, "b": None, "µ": "✓"}
    with pytest.raises(ValueError, match="not JSON compliant"):
        show.as_json({"a": math.nan})


def test_a_verdict_has_a_mark_besides_its_colour():
    for verdict in Verdict:
        assert mark_of(marked(verdict)) in {"✓", "✗", "≈", "?"}
