"""Names say what the thing is: no pronoun as a name, no class name twice, no import renamed; short modules."""

import ast
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from jinja2 import Environment, nodes

SOURCE = Path(__file__).parents[1] / "src" / "holdzero"
PRONOUNS = {
    *("one", "ones", "other", "others", "each", "both", "some", "none", "mine", "ours"),
    *("this", "that", "here", "there", "what", "which", "who", "whom"),
    *("found", "given", "said", "told", "put", "got"),
}
# Published words: the arguments of the errors, and what an event of a book's squaring log is stored under.
KEPT = {"errors.py": {"found", "got", "what"}, "store/sound.py": {"found"}, "compute/square/values.py": {"what"}}
SHORT = {("numpy", "np"), ("sqlalchemy", "sa")}  # as everyone writes them
MOST_LINES = 600
WIDEST_TEMPLATE = 200  # characters of a line


def _room(path: Path) -> str:
    return path.relative_to(SOURCE).as_posix()


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


MODULES = sorted(SOURCE.rglob("*.py"), key=_room)
TEMPLATES = sorted(SOURCE.rglob("*.html"), key=_room)


def _named(tree: ast.AST) -> Iterator[tuple[str, int]]:
    """Every name that a module makes, with its line: variables, arguments, fields, functions."""
    for node in ast.walk(tree):
        match node:
            case ast.Name(id=name, ctx=ast.Store()) | ast.arg(arg=name):
                yield name, node.lineno
            case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name) | ast.ClassDef(name=name):
                yield name.strip("_").lower(), node.lineno
            case ast.ExceptHandler(name=str(name)) | ast.MatchAs(name=str(name)) | ast.MatchStar(name=str(name)):
                yield name, node.lineno
            case ast.Attribute(attr=name, ctx=ast.Store()):
                yield name, node.lineno


def _pronouns(tree: ast.AST) -> list[tuple[str, int]]:
    return [(name, line) for name, line in _named(tree) if name in PRONOUNS]


def _renamed(tree: ast.AST) -> list[tuple[str, str]]:
    return [
        (alias.name, alias.asname)
        for node in ast.walk(tree)
        if isinstance(node, ast.Import | ast.ImportFrom)
        for alias in node.names
        if alias.asname and (alias.name, alias.asname) not in SHORT
    ]


@pytest.mark.parametrize("path", MODULES, ids=_room)
def test_no_identifier_is_a_pronoun(path):
    kept = KEPT.get(_room(path), set())
    pronouns = [(name, line) for name, line in _pronouns(_tree(path)) if name not in kept]
    assert not pronouns, f"{_room(path)}: say what the thing is instead of {pronouns}"


@pytest.mark.parametrize("path", MODULES, ids=_room)
def test_nothing_is_imported_under_a_second_name(path):
    assert not _renamed(_tree(path)), f"{_room(path)}: names that need telling apart"


def test_no_class_name_stands_twice():
    homes = defaultdict(list)
    for path in MODULES:
        for node in ast.walk(_tree(path)):
            if isinstance(node, ast.ClassDef):
                homes[node.name].append(f"{_room(path)}:{node.lineno}")
    assert not {name: places for name, places in homes.items() if len(places) > 1}


def test_no_module_is_too_long_to_read():
    lines = {_room(path): path.read_text(encoding="utf-8").count("\n") for path in MODULES}
    assert not {room: count for room, count in lines.items() if count > MOST_LINES}


def _template_pronouns(text: str) -> set[str]:
    """Pronouns that a template names something, or takes from the page."""
    tree = Environment().parse(text)
    return PRONOUNS & {node.name for node in tree.find_all((nodes.Name, nodes.Macro))}


@pytest.mark.parametrize("path", TEMPLATES, ids=_room)
def test_no_name_in_a_template_is_a_pronoun(path):
    assert not _template_pronouns(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", TEMPLATES, ids=_room)
def test_no_line_of_a_template_is_too_long_to_read(path):
    lines = enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
    assert not {number: len(line) for number, line in lines if len(line) > WIDEST_TEMPLATE}


@pytest.mark.parametrize(
    "text",
    [
        "{% for one in rows %}{% endfor %}",
        "{% set found = 1 %}",
        "{% macro cell(given) %}{% endmacro %}",
        "{% macro which() %}{% endmacro %}",
        "{{ said.where }}",
    ],
)
def test_a_pronoun_is_seen_wherever_a_template_makes_or_takes_a_name(text):
    assert len(_template_pronouns(text)) == 1


@pytest.mark.parametrize(
    "text",
    [
        "one = 1",
        "def f(found): ...",
        "for given, k in []: ...",
        "[said for said in []]",
        "class A:\n    other: int",
        "def _told(): ...",
        "self.here = 1",
        "with f() as what: ...",
        "match 1:\n    case both: ...",
        "x = (lambda which: 0)",
    ],
)
def test_a_pronoun_is_seen_wherever_a_name_is_made(text):
    assert len(_pronouns(ast.parse(text))) == 1


def test_what_merely_reads_like_one_is_left_alone():
    assert not _pronouns(ast.parse("one_outside = f(found='x').other\nraise E(found=text)"))
    renamed = _renamed(ast.parse("import a.b as c\nfrom x import Y as Z\nimport numpy as np"))
    assert renamed == [("a.b", "c"), ("Y", "Z")]
