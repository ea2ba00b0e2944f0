"""What is shown is decided from fields: no sentence is compared or taken apart, in code or in a template."""

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from jinja2 import Environment, nodes

SOURCE = Path(__file__).parents[1] / "src" / "holdzero"
# Fields that hold words for a person; of a `Caution` its code decides.
SHOWN = {"sentence", "sentences", "headline", "reason", "lead", "about_zero", "about_stops"}
TAKES_APART = {  # methods of a text
    *("partition", "rpartition", "split", "rsplit", "find", "index", "startswith", "endswith", "removeprefix"),
}
PATTERN = {"match", "search", "fullmatch", "findall", "sub", "split"}  # of the module `re`
# An error of another library has no code of its own: typst of a page it cannot set, SQLite of a disk.
OTHERS = {"report/pdf.py", "store/file.py"}


def _is_sentence(node: object) -> bool:
    """A text of four words or more, or one that ends like a sentence; a name in capitals is SQL."""
    text = getattr(node, "value", None)
    if not isinstance(text, str) or text.isupper():
        return False
    return len(text.split()) > 3 or bool(re.search(r"\w \w.*[.:;]$", text))


def _is_shown(node: ast.AST) -> bool:
    return isinstance(node, ast.Attribute) and node.attr in SHOWN


def _of_both(sides: list, shown: Callable, literal: type) -> bool:
    """Whether words for a person are held against a text of ours that is not empty."""
    return any(map(shown, sides)) and any(isinstance(side, literal) and side.value for side in sides)


def faults(text: str) -> Iterator[tuple[int, str]]:
    """Places of a module that take words for data, each with its line."""
    for node in ast.walk(ast.parse(text)):
        match node:
            case ast.Compare():
                sides = [node.left, *node.comparators]
                if _of_both(sides, _is_shown, ast.Constant) or any(map(_is_sentence, sides)):
                    yield node.lineno, ast.unparse(node)
            case ast.Call(func=ast.Attribute(value=receiver, attr=name), args=arguments):
                if name in TAKES_APART and (_is_shown(receiver) or any(_is_sentence(each) for each in arguments)):
                    yield node.lineno, ast.unparse(node)
                if name in PATTERN and any(_is_shown(each) for each in arguments):
                    yield node.lineno, ast.unparse(node)


def template_faults(text: str) -> Iterator[tuple[int, str]]:
    """The same of a template, whose filter `replace` takes words apart too."""

    def shown(node: nodes.Node) -> bool:
        return isinstance(node, nodes.Getattr) and node.attr in SHOWN

    tree = Environment().parse(text)
    for node in tree.find_all((nodes.Compare, nodes.Filter, nodes.Call)):
        match node:
            case nodes.Compare(expr=left, ops=operands):
                sides = [left, *(operand.expr for operand in operands)]
                if _of_both(sides, shown, nodes.Const) or any(map(_is_sentence, sides)):
                    yield node.lineno, "compared"
            case nodes.Filter(node=nodes.Getattr(), name="replace" | "split"):
                if shown(node.node):
                    yield node.lineno, "replaced"
            case nodes.Call(node=nodes.Getattr(node=receiver, attr=name)):
                if name in TAKES_APART and shown(receiver):
                    yield node.lineno, name


def test_no_module_takes_a_sentence_for_data():
    rooms = {path.relative_to(SOURCE).as_posix(): path for path in SOURCE.rglob("*.py")}
    seen = {
        name: list(faults(path.read_text(encoding="utf-8"))) for name, path in rooms.items() if name not in OTHERS
    }
    assert not {name: places for name, places in seen.items() if places}


def test_no_template_takes_a_sentence_for_data():
    seen = {path.name: list(template_faults(path.read_text(encoding="utf-8"))) for path in SOURCE.rglob("*.html")}
    assert not {name: places for name, places in seen.items() if places}


@pytest.mark.parametrize(
    "text",
    [
        "if 'Solved again:' in remedy.sentence: pass",
        "head = axis.headline.partition('. ')[0]",
        "if part.reason.startswith('not known'): pass",
        "words = re.sub('a', 'b', part.sentence)",
        "if text == 'The input goes off: it reads tripped at once.': pass",
        "rest = text.split('Nothing is kept:')",
    ],
)
def test_a_module_that_does_is_seen(text):
    assert list(faults(text))


@pytest.mark.parametrize("text", ["if part.answer == 'not good': pass", "if first.sentence != first.next: pass"])
def test_fields_and_texts_held_against_each_other_are_none_of_it(text):
    assert not list(faults(text))


@pytest.mark.parametrize(
    "text",
    [
        '{% if "Solved again:" in remedy.sentence %}x{% endif %}',
        '{{ answer.headline | replace("holds", "stays") }}',
        '{% if answer.headline.startswith("No") %}x{% endif %}',
        '{% if words == "Nothing is kept, name a book." %}x{% endif %}',
    ],
)
def test_a_template_that_does_is_seen(text):
    assert list(template_faults(text))
