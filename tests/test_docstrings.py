"""Docstrings are a promise: where one lists parameters it lists each, numbers with a unit, arrays with a shape."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src" / "holdzero"
ROOMS = ("compute", "inputs", "quantity", "case", "trial", "recording")
MODULES = sorted(path for room in ROOMS for path in (SOURCE / room).rglob("*.py"))
UNITS = (
    "_mm",
    "_s",
    "_v",
    "_a",
    "_n",
    "_hz",
    "_ohm",
    "_f",
    "_kg",
    "_j",
    "_degc",
    "_rad",
    "_k",
    "_um",
    "_m2",
    "_mm2",
)
ARRAY = re.compile(r"\b(NDArray|ArrayLike|Floats|Words|Flags|Codes|Rows)\b")
NUMBER = re.compile(r"^(float|float \| None)$")
HEADING = re.compile(r"\n +(Parameters)\n +-+\n(.*?)(?=\n +[A-Z][a-z]+\n +---|\Z)", re.DOTALL)


def functions(tree: ast.AST) -> Iterator[ast.FunctionDef]:
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def entries(text: str) -> dict[str, str]:
    """Name of each parameter in a section, and what is said of it; `a, b : kind` is said of both."""
    lines = text.splitlines()
    depth = min((len(line) - len(line.lstrip()) for line in lines if line.strip()), default=0)
    said: dict[str, str] = {}
    names: list[str] = []
    for line in lines:
        if line.strip() and len(line) - len(line.lstrip()) == depth:
            head = line.strip().partition(" : ")[0]
            names = [name.strip().lstrip("*") for name in head.split(",")]
        for name in names:
            said[name] = said.get(name, "") + " " + line.strip()
    return said


def slips(node: ast.FunctionDef) -> Iterator[str]:
    """What one function's list of parameters lacks."""
    section = HEADING.search(ast.get_docstring(node, clean=False) or "")
    if section is None:
        return
    said = entries(section[2])
    arguments = [*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs]
    for argument in arguments:
        if argument.arg in ("self", "cls"):
            continue
        if argument.arg not in said:
            yield f"{argument.arg} is not told of"
            continue
        kind, text = ast.unparse(argument.annotation or ast.Constant("")).strip("'\""), said[argument.arg]
        elsewhere = re.search(r"\bas (in|for)\b", text, re.IGNORECASE) is not None  # another's docstring says it
        if ARRAY.search(kind) and "shape" not in text and not elsewhere:
            yield f"{argument.arg}: no shape"
        unit = "[" in text or argument.arg.endswith(UNITS) or elsewhere
        if NUMBER.match(kind) and not unit:
            yield f"{argument.arg}: no unit"
    known = {argument.arg for argument in arguments} | {
        extra.arg for extra in (node.args.vararg, node.args.kwarg) if extra is not None
    }
    for name in said:
        if name not in known:
            yield f"{name} is told of and is no argument"


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(SOURCE)))
def test_each_parameter_is_told_of(path: Path):
    tree = ast.parse(path.read_text(encoding="utf-8"))
    lacking = {node.name: list(slips(node)) for node in functions(tree)}
    assert {name: said for name, said in lacking.items() if said} == {}


def test_it_sees_what_is_missing():
    text = '''
def reach(travel_mm: float, share: float, at: "Floats") -> float:
    """Say how far.

    Parameters
    ----------
    share : float
        Of the way.
    at : ndarray
        Places.
    """
'''
    (node,) = functions(ast.parse(text))
    assert list(slips(node)) == ["travel_mm is not told of", "share: no unit", "at: no shape"]
