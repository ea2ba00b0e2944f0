"""The page on Python and the notebook run as they stand."""

import ast
import doctest
import json
from pathlib import Path

import pytest

from holdzero import demo
from holdzero.store import open_book
from ready_books import keep_demo

DOCS = Path(__file__).parents[2] / "docs"
FLAGS = doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE


class Plain(doctest.OutputChecker):
    """A page is typed with plain spaces; figures stand a narrow one before their unit."""

    def check_output(self, want, got, optionflags):
        return super().check_output(want, got.replace("\u202f", " "), optionflags)


@pytest.fixture(scope="module")
def demo_folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("python")
    for name, text in {
        "machine.toml": demo.machine_toml(),
        "sensors.toml": demo.sensors_toml(),
        "readings.csv": demo.readings_csv(),
        "wiring.toml": demo.wiring_toml(),
        "measured.toml": demo.square_toml(),
    }.items():
        (folder / name).write_text(text, encoding="utf-8")
    with open_book(folder / "demo.holdzero") as book:
        keep_demo(book)
    return folder


def test_the_page_says_what_python_says(demo_folder, monkeypatch):
    monkeypatch.chdir(demo_folder)
    text = (DOCS / "python.md").read_text(encoding="utf-8").replace("```", "\n")
    page = doctest.DocTestParser().get_doctest(text, {}, "python.md", str(DOCS / "python.md"), 0)
    slips: list[str] = []
    results = doctest.DocTestRunner(Plain(), optionflags=FLAGS).run(page, out=slips.append)
    assert results.attempted > 30
    assert results.failed == 0, "".join(slips)


def test_the_notebook_runs_and_shows_something(demo_folder, monkeypatch):
    monkeypatch.chdir(demo_folder)
    notebook = json.loads((DOCS / "notebook.ipynb").read_text(encoding="utf-8"))
    assert (notebook["nbformat"], len({cell["id"] for cell in notebook["cells"]})) == (4, len(notebook["cells"]))
    names: dict[str, object] = {}
    for cell in notebook["cells"]:
        if cell["cell_type"] != "code":
            continue
        assert cell["outputs"] == []
        *lines, last = ast.parse("".join(cell["source"])).body
        exec(compile(ast.Module(lines, []), cell["id"], "exec"), names)
        assert isinstance(last, ast.Expr), cell["source"]
        shown = eval(compile(ast.Expression(last.value), cell["id"], "eval"), names)
        assert repr(shown)
        if hasattr(shown, "_repr_html_"):
            assert shown._repr_html_().startswith("<div>")
    assert names["verdicts"]["K"] == "holds"
