"""Where figures are from: docs/checks.md names tests that exist, and no check hides its source behind a code."""

import ast
import re
import tomllib
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from holdzero import __version__

ROOT = Path(__file__).parents[1]
CHECKS = ROOT / "docs" / "checks.md"
ROOMS = ("src", "tests", "docs", "bench", ".ci")
TEXTS = {".py", ".md", ".html", ".js", ".css", ".typ", ".toml", ".svg", ".sh", ""}

# What only those could resolve who hold papers that are not in this repository.
CODES = re.compile(
    r"(?:\b|_|Test)(?:CV|EN)[-_]?[0-9]{2}(?![0-9])"
    r"|\bissues? #?[0-9]|\bissue \"|\bpoint [0-9]+ of\b"
    r"|\b(?:design|engineering|shop[ -]notes?|stack[ -]notes?|check[ -]values?)(?:,? section)?:? [0-9]"
    r"|\bshop[ -]notes\b|\bstack-notes\b|\bcheck-values\b|\bmethods_tails\b|\bdesign\.md\b|\bengineering\.md\b"
    r"|(?:\b|_)(?:design|engineering|methods|issue)_[0-9]"
    r"|(?<!docs/)\b[Mm]ethods,? (?:section )?[0-9](?!\.)",
    re.IGNORECASE,
)
STANDARD = re.compile(r"\bEN [0-9]{5}")  # withdrawn European standards are written with a space and five digits


def _texts() -> list[Path]:
    files = [path for room in ROOMS for path in (ROOT / room).rglob("*") if path.suffix in TEXTS]
    files += [ROOT / name for name in ("README.md", "CONTRIBUTING.md", "CHANGELOG.md", "pyproject.toml")]
    return sorted(path for path in files if path.is_file() and "__pycache__" not in path.parts)


@cache
def _tests(path: Path) -> frozenset[str]:
    """Names of the test functions and classes of a module, and `Class::method`."""
    names = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.add(node.name)
        if isinstance(node, ast.ClassDef):
            names |= {f"{node.name}::{part.name}" for part in node.body if isinstance(part, ast.FunctionDef)}
    return frozenset(name for name in names if name.rpartition("::")[2].startswith(("test", "Test")))


def test_no_code_without_its_paper():
    """A source is a standard and its clause, a book, a sum, a simulation, or "common practice, no source"."""
    left = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:90]}"
        for path in _texts()
        if path != Path(__file__)
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if CODES.search(line)
    ]
    assert left == []


@pytest.mark.parametrize(
    "line",
    [
        "as in " + "CV" + "-36",
        "EN" + "-36 drawn",
        "test_en_01_does",
        "class TestCV53:",
        "Issue 6, item 2",
        "(design 5.9)",
        "engineering 1.6",
        "Methods 10: x",
    ],
)
def test_a_code_is_found(line):
    assert CODES.search(line)


@pytest.mark.parametrize(
    "line", ["EN 50005", "e-Handbook of Statistical Methods, section 7.2", "docs/methods.md 4", "OPEN_OHM = 1e10"]
)
def test_a_source_is_none(line):
    assert not CODES.search(line)


def _rows() -> list[tuple[str, ...]]:
    """Rows of the tables of docs/checks.md that end with a test."""
    lines = CHECKS.read_text(encoding="utf-8").splitlines()
    cells = [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in lines if line.startswith("|")]
    return [row for row in cells if row[-1].startswith("`tests/")]


@pytest.mark.parametrize("row", _rows(), ids=lambda row: row[0])
def test_every_check_named_exists(row):
    what, value, source, seen, held_by = row
    assert all((what, value, source))
    assert any(word in seen for word in ("opened", "quoted", "memory", "own"))
    for name in re.findall(r"`([^`]+)`", held_by):
        file, _, test = name.partition("::")
        assert (ROOT / file).is_file(), name
        assert not test or test in _tests(ROOT / file), name


def test_there_are_checks():
    assert len(_rows()) > 80


def test_every_page_and_section_that_a_source_cites_is_there():
    """`docs/methods.md, section 7` in a source: the page is in the repository, and has a heading 7."""
    cited = re.compile(r"(docs/[a-z/-]+\.md)(?:,? (?:sections? )?([0-9]+)(?![0-9.]))?")
    for path in _texts():
        for page, section in cited.findall(path.read_text(encoding="utf-8")):
            assert (ROOT / page).is_file(), f"{path.relative_to(ROOT)}: {page}"
            if section:
                heads = re.findall(r"^#+ ([0-9]+)\. ", (ROOT / page).read_text(encoding="utf-8"), re.MULTILINE)
                assert section in heads, f"{path.relative_to(ROOT)}: {page} has no section {section}"


def test_what_is_cited_is_in_the_package():
    """Pages and records cite docs/: the wheel carries them."""
    wheel = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["hatch"]["build"][
        "targets"
    ]
    assert wheel["wheel"]["force-include"] == {"docs": "holdzero/docs"}


def test_every_published_data_set_is_named_with_its_origin():
    """Each array of `tests/nist.py` and `tests/published.py` says in its docstring what page it is from."""
    for name in ("nist.py", "published.py"):
        body = ast.parse((ROOT / "tests" / name).read_text(encoding="utf-8")).body
        for node, after in pairwise(body):
            if isinstance(node, ast.Assign) and isinstance(node.value, ast.Call):
                target = ast.unparse(node.targets[0])
                words = (
                    after.value.value
                    if isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant)
                    else ""
                )
                assert re.match(r"StRD|e-Handbook|The same", str(words)) or target == "NORRIS_Y", target


def test_how_to_cite_names_the_project_and_this_version():
    cite = dict(
        re.findall(
            r"^(?:  - )?([a-z-]+): *(.+)$", (ROOT / "CITATION.cff").read_text(encoding="utf-8"), re.MULTILINE
        )
    )
    assert (cite["cff-version"], cite["type"], cite["license"]) == ("1.2.0", "software", "MIT")
    assert (cite["name"], cite["version"]) == ("the holdzero project", __version__)
