"""Nothing public in the package is without a caller in the package: what only tests call belongs to the tests."""

import ast
import re
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import holdzero
from holdzero.door.reply import Reply

SOURCE = Path(__file__).parents[1] / "src" / "holdzero"
DOORS = {*holdzero.__all__, *(f"Reply.{name}" for name in vars(Reply))}  # for a person who writes Python
CALLED_FROM_OUTSIDE = (  # by what is not ours: parent classes of the libraries, a migration by its runner
    *(
        "Lazy.list_commands",
        "Lazy.get_command",
        "Lazy.format_commands",
        "Lazy.resolve_command",
        "Lazy.shell_complete",
    ),
    *("NameOnTheLine.get_metavar", "EndingServer.handle_exit", "BookName.convert", "most_in_all", "upgrade"),
    *("_Reader.handle_starttag", "_Reader.handle_endtag", "_Reader.handle_data"),
    *("signed_in", "user_of_computer"),  # of store/who.py, for whoever serves or runs a book for several people
)
TURNED = {"property", "classmethod", "staticmethod", "dataclass", "abstractmethod", "cache", "lru_cache"}
Definition = ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef


@cache
def _trees() -> dict[Path, ast.Module]:
    return {path: ast.parse(path.read_text(encoding="utf-8")) for path in SOURCE.rglob("*.py")}


@cache
def _skins() -> str:
    return " ".join(
        path.read_text(encoding="utf-8") for end in ("html", "typ") for path in SOURCE.rglob(f"*.{end}")
    )


def _names(tree: ast.AST) -> Counter[str]:
    """Every name that is read, as a name or behind a dot; what is merely brought in or listed does not count."""
    return Counter(
        node.id if isinstance(node, ast.Name) else node.attr
        for node in ast.walk(tree)
        if isinstance(node, ast.Name | ast.Attribute)
    )


def _defined(body: list[ast.stmt], owner: str = "") -> Iterator[tuple[str, Definition]]:
    for node in body:
        if isinstance(node, Definition):
            yield owner + node.name, node
        if isinstance(node, ast.ClassDef):
            yield from _defined(node.body, f"{node.name}.")


def _by_its_decorator(node: Definition) -> bool:
    """A route, a command: its decorator takes it to where it is called."""
    turned = {
        "property",
        "staticmethod",
        "classmethod",
        "cached_property",
        "dataclass",
        "abstractmethod",
        "lru_cache",
    }
    return any(ast.unparse(mark).split("(")[0].split(".")[-1] not in turned for mark in node.decorator_list)


def unused(trees: dict[Path, ast.Module], skins: str) -> list[str]:
    """Public functions, classes and methods that nothing names but themselves."""
    everywhere = Counter(re.findall(r"\w+", skins))
    for tree in trees.values():
        everywhere.update(_names(tree))
    return [
        f"{path.name}: {name}"
        for path, tree in trees.items()
        for name, node in _defined(tree.body)
        if not node.name.startswith("_") and not _by_its_decorator(node)
        if name not in DOORS and name not in CALLED_FROM_OUTSIDE
        if everywhere[node.name] == _names(node)[node.name]
    ]


def test_everything_public_is_called_by_something():
    assert unused(_trees(), _skins()) == []


def test_no_exception_outlives_its_reason():
    defined = {name for tree in _trees().values() for name, _ in _defined(tree.body)}
    assert set(CALLED_FROM_OUTSIDE) <= defined


def test_a_function_without_a_caller_is_seen():
    alone = ast.parse(
        "def fold(n):\n    return fold(n - 1)\n__all__ = ['fold']\nclass Kept:\n    def of(self): ...\n"
    )
    assert unused({Path("a.py"): alone}, "") == ["a.py: fold", "a.py: Kept", "a.py: Kept.of"]
    user = ast.parse("from a import Kept, fold\nKept(fold(3)).of()\n")
    assert unused({Path("a.py"): alone, Path("b.py"): user}, "") == []
    assert unused({Path("a.py"): alone}, "{{ fold(3) }} {{ Kept.of }}") == []
