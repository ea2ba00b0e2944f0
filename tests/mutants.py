"""Mutants: one small change at a time in a room's code, and whether the tests nearest to it notice.

    python tests/mutants.py choose --sample 300 --seed 1

The room's tests, and the examples in its docstrings, are collected once; each mutant is a fork in which the code
of one function, or one constant of a module, is exchanged, and in which the tests that run through its line are
called, quickest first, until one fails.
A mutant that none of them notices is listed: a test is missing, or the change changes nothing.
"""

import argparse
import ast
import gc
import os
import random
import signal
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import _lru_cache_wrapper
from itertools import accumulate
from pathlib import Path
from types import CodeType, FrameType, FunctionType

import pytest

from holdzero.memory import Remembered

HERE = Path(__file__).parent
ROOMS = HERE.parent / "src" / "holdzero" / "compute"
MOST_TESTS, MOST_S = 300, 20.0  # for one mutant, quickest first
SWAPS: dict[type, tuple[type, ...]] = {
    ast.Add: (ast.Sub,),
    ast.Sub: (ast.Add,),
    ast.Mult: (ast.Div,),
    ast.Div: (ast.Mult,),
    ast.Pow: (ast.Mult,),
    ast.FloorDiv: (ast.Mult,),
    ast.Lt: (ast.GtE,),
    ast.LtE: (ast.Gt,),
    ast.Gt: (ast.LtE,),
    ast.GtE: (ast.Lt,),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.And: (ast.Or,),
    ast.Or: (ast.And,),
}
EDGES: dict[type, type] = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt}  # of whole numbers
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum", "maximum": "minimum"}


@dataclass(frozen=True)
class Mutant:
    """One change: the node of so many in a file's tree, the change of so many that it can bear, and its line."""

    path: Path
    node: int
    change: int
    line: int

    def tree(self) -> tuple[ast.Module, ast.AST, str]:
        """The changed tree, its changed node, and what was changed."""
        tree = ast.parse(self.path.read_text(encoding="utf-8"))
        node = list(nodes(tree))[self.node]
        before = ast.unparse(node)
        changes(node)[self.change]()
        return tree, node, f"{before}  ->  {ast.unparse(node)}"


def nodes(tree: ast.AST) -> Iterator[ast.AST]:
    """All nodes whose change a figure could show: no annotations, no errors raised, no decorators."""
    for name, part in ast.iter_fields(tree):
        if name in ("annotation", "returns", "decorator_list", "format_spec", "type_comment"):
            continue
        for child in part if isinstance(part, list) else [part]:
            if isinstance(child, ast.AST) and not isinstance(child, ast.Raise | ast.JoinedStr | ast.Import):
                yield child
                yield from nodes(child)


def changes(node: ast.AST) -> list:
    """What can be changed of a node, each as a function that does it."""
    if isinstance(node, ast.BinOp) and not any(textual(side) for side in (node.left, node.right)):
        return [lambda to=to: setattr(node, "op", to()) for to in SWAPS.get(type(node.op), ())]
    if isinstance(node, ast.BoolOp):
        return [lambda to=to: setattr(node, "op", to()) for to in SWAPS[type(node.op)]]
    if isinstance(node, ast.Compare):
        right = node.comparators[0]
        whole = isinstance(right, ast.Constant) and isinstance(right.value, int)
        edge = [EDGES[type(node.ops[0])]] if whole and type(node.ops[0]) in EDGES else []
        to_others = [*SWAPS.get(type(node.ops[0]), ()), *edge]
        return [lambda to=to: node.ops.__setitem__(0, to()) for to in to_others]
    if isinstance(node, ast.Constant) and type(node.value) in (int, float):
        return [lambda: setattr(node, "value", node.value + 1)]
    if isinstance(node, ast.Constant) and isinstance(node.value, bool):
        return [lambda: setattr(node, "value", not node.value)]
    if (
        isinstance(node, ast.UnaryOp)
        and isinstance(node.op, ast.USub)
        and not isinstance(node.operand, ast.Constant)
    ):
        return [lambda: setattr(node, "op", ast.UAdd())]
    if isinstance(node, ast.If | ast.IfExp | ast.While):
        return [lambda: setattr(node, "test", ast.copy_location(ast.UnaryOp(ast.Not(), node.test), node.test))]
    if isinstance(node, ast.Call):
        name = node.func
        if isinstance(name, ast.Name) and name.id in CALLS:
            return [lambda: setattr(name, "id", CALLS[name.id])]
        if isinstance(name, ast.Attribute) and name.attr in CALLS:
            return [lambda: setattr(name, "attr", CALLS[name.attr])]
    return []


def textual(node: ast.AST) -> bool:
    """Whether a term is a text, as far as its form tells."""
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def mutants(path: Path) -> list[Mutant]:
    """Every change of a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return [
        Mutant(path, place, which, node.lineno)
        for place, node in enumerate(nodes(tree))
        if hasattr(node, "lineno")
        for which in range(len(changes(node)))
    ]


def put_in(mutant: Mutant, tree: ast.Module) -> bool:
    """Exchange the code that holds a mutant in this process; False where it cannot be."""
    ast.fix_missing_locations(tree)
    for statement in tree.body:
        if statement.lineno <= mutant.line <= (statement.end_lineno or 0) and isinstance(statement, ast.Assign):
            return put_constant(mutant, statement)
    where = str(mutant.path)
    inside = [
        node
        for node in ast.walk(tree)
        if isinstance(node, ast.FunctionDef) and node.lineno <= mutant.line <= (node.end_lineno or 0)
    ]
    if not inside:
        return False
    outermost = min(inside, key=lambda node: node.lineno)
    first = min([outermost.lineno, *(node.lineno for node in outermost.decorator_list)])
    new = next((code for code in codes(compile(tree, where, "exec")) if code.co_firstlineno == first), None)
    held = [f for f in gc.get_objects() if isinstance(f, FunctionType) and f.__code__.co_filename == where]
    held = [f for f in held if f.__code__.co_firstlineno == first and new and f.__qualname__ == new.co_qualname]
    for function in held:
        function.__code__ = new
        put_defaults(function, outermost.args)
    return bool(held)


def put_defaults(function: FunctionType, arguments: ast.arguments) -> None:
    """Exchange the numbers that a function takes where its caller gives none."""

    def value(node: ast.expr | None, now: object) -> object:
        if isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.USub):
            return -node.operand.value if isinstance(node.operand, ast.Constant) else now
        return node.value if isinstance(node, ast.Constant) else now

    pairs = zip(arguments.defaults, function.__defaults__ or (), strict=True)
    function.__defaults__ = tuple(value(node, now) for node, now in pairs) or None
    named = zip(arguments.kwonlyargs, arguments.kw_defaults, strict=True)
    held = function.__kwdefaults__ or {}
    function.__kwdefaults__ = {a.arg: value(node, held[a.arg]) for a, node in named if a.arg in held} or None


def put_constant(mutant: Mutant, statement: ast.Assign) -> bool:
    """Exchange a module's constant wherever the package has taken it over by its name."""
    module = next((m for m in list(sys.modules.values()) if getattr(m, "__file__", "") == str(mutant.path)), None)
    names = [target.id for target in statement.targets if isinstance(target, ast.Name)]
    if module is None or not names:
        return False
    made = dict(vars(module))
    exec(compile(ast.Module([statement], []), str(mutant.path), "exec"), made)
    for other in [m for name, m in list(sys.modules.items()) if name.startswith("holdzero")]:
        for name in names:
            if getattr(other, name, made) is getattr(module, name) and other is not module:
                setattr(other, name, made[name])
    vars(module).update({name: made[name] for name in names})
    return True


def codes(code: CodeType) -> Iterator[CodeType]:
    """A code and those within it, outermost first."""
    for const in code.co_consts:
        if isinstance(const, CodeType):
            yield const
            yield from codes(const)


def caches() -> list[Callable[[], None]]:
    """What empties each cache of the package: a test does not run through what it finds in one."""
    of_functions = [kept for kept in gc.get_objects() if isinstance(kept, _lru_cache_wrapper)]
    return [
        *(kept.cache_clear for kept in of_functions if kept.__module__.startswith("holdzero")),
        *(kept.forget for kept in gc.get_objects() if isinstance(kept, Remembered)),
    ]


def quickest(tests: Iterable[int], took: dict[int, float]) -> list[int]:
    """So many of the quickest tests as are tried on one mutant."""
    ordered = sorted(tests, key=took.__getitem__)[:MOST_TESTS]
    together = accumulate(took[test] for test in ordered)
    return [test for test, so_far in zip(ordered, together, strict=True) if so_far <= MOST_S]


def silence() -> None:
    """Let this process print nothing any more."""
    silent = os.open(os.devnull, os.O_WRONLY)
    for stream in (1, 2):
        os.dup2(silent, stream)


class Runner:
    """Takes pytest's loop over: what each test runs through, then every mutant in a fork of its own."""

    def __init__(self, paths: list[Path], chosen: list[Mutant], at_once: int) -> None:
        self.paths, self.chosen, self.at_once = {str(path) for path in paths}, chosen, at_once
        self.failed = False
        self.survived: list[tuple[Mutant, str]] = []
        self.counts = dict.fromkeys(("noticed", "survived", "no test", "not put in"), 0)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember that one failed."""
        self.failed = self.failed or report.failed

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Trace once, then one fork a mutant."""
        gc.unfreeze()  # what is set aside (tests/conftest.py) would not be found
        lines, took = self.traced(session)
        running: dict[int, tuple[Mutant, str]] = {}
        for number, mutant in enumerate(self.chosen):
            tree, _, words = mutant.tree()
            through = quickest(lines.get((str(mutant.path), mutant.line), ()), took)
            if not through:  # of a module's own lines, all tests that run through any other of them
                of_file = [tests for (path, _), tests in lines.items() if path == str(mutant.path)]
                through = quickest(set().union(*of_file), took)
            if not through:
                self.tell(mutant, words, "no test")
                continue
            while len(running) >= self.at_once:
                self.gather(running)
            pid = os.fork()
            if not pid:
                self.child(session, mutant, tree, {test: 10 + round(10 * took[test]) for test in through}, number)
            running[pid] = (mutant, words)
        while running:
            self.gather(running)
        return True

    def traced(self, session: pytest.Session) -> tuple[dict[tuple[str, int], set[int]], dict[int, float]]:
        """Which tests, by their number, run through which lines, and how long each takes."""
        lines: dict[tuple[str, int], set[int]] = defaultdict(set)
        took: dict[int, float] = {}
        read, write = os.pipe()
        if not os.fork():
            os.close(read)
            silence()
            forgetting = caches()
            with os.fdopen(write, "w") as out:
                for number, item in enumerate(session.items):
                    for forget in forgetting:
                        forget()
                    seen: set[tuple[str, int]] = set()

                    def within(frame: FrameType, event: str, _: object, seen: set = seen):
                        if event == "line":
                            seen.add((frame.f_code.co_filename, frame.f_lineno))
                        return within

                    def called(frame: FrameType, *_: object, within=within):
                        return within if frame.f_code.co_filename in self.paths else None

                    start, self.failed = time.perf_counter(), False
                    sys.settrace(called)
                    try:
                        item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
                    finally:
                        sys.settrace(None)
                    if self.failed:
                        print("FAILS", number, file=out)
                        continue
                    print("TOOK", number, time.perf_counter() - start, file=out)
                    for path, line in seen:
                        print("LINE", number, line, path, file=out)
            os._exit(0)
        os.close(write)
        with os.fdopen(read) as told:
            for text in told:
                kind, number, *rest = text.rstrip("\n").split(" ", 3)
                if kind == "TOOK":
                    took[int(number)] = float(rest[0])
                elif kind == "LINE":
                    lines[rest[1], int(rest[0])].add(int(number))
                else:
                    print(f"left out, as it fails unchanged: {session.items[int(number)].nodeid}", file=sys.stderr)
        os.wait()
        return lines, took

    def child(
        self, session: pytest.Session, mutant: Mutant, tree: ast.Module, through: dict[int, int], number: int
    ) -> None:
        """Be the mutant: end with 1 when a test fails, 0 when none does, 2 when it could not be put in.

        `through` holds the tests and the seconds after which each counts as hanging, which ends the process too.
        """
        signal.alarm(10)
        silence()
        random.seed(number)
        try:
            if not put_in(mutant, tree):
                os._exit(2)
        except BaseException:
            os._exit(1)  # it does not even load
        for test, longest_s in through.items():
            signal.alarm(longest_s)
            try:
                item = session.items[test]
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
            except BaseException:
                os._exit(1)
            if self.failed:
                os._exit(1)
        os._exit(0)

    def gather(self, running: dict[int, tuple[Mutant, str]]) -> None:
        """Wait for one of them."""
        pid, status = os.wait()
        mutant, words = running.pop(pid)
        code = os.waitstatus_to_exitcode(status)
        self.tell(mutant, words, {0: "survived", 2: "not put in"}.get(code, "noticed"))

    def tell(self, mutant: Mutant, words: str, fate: str) -> None:
        """Count a mutant, and list it where no test has noticed it."""
        self.counts[fate] += 1
        if fate in ("survived", "no test"):
            short = words if len(words) < 160 else f"{words[:78]} ... {words[-78:]}"
            print(f"{fate}: {mutant.path.relative_to(ROOMS)}:{mutant.line}: {' '.join(short.split())}", flush=True)


def main() -> int:
    """Draw a sample of a room's mutants and try them."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("room", help="a folder of src/holdzero/compute, or a file in one: choose, wiring/delay.py")
    asked.add_argument("--tests", nargs="*", help="the tests nearest to it; without: tests/ROOM and its examples")
    asked.add_argument("--sample", type=int, default=300)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--at-once", type=int, default=os.cpu_count() or 1)
    sent = asked.parse_args()
    place = ROOMS / sent.room
    paths = [place] if place.is_file() else sorted(place.rglob("*.py"))
    every = [mutant for path in paths for mutant in mutants(path)]
    chosen = random.Random(sent.seed).sample(every, min(sent.sample, len(every)))
    runner = Runner(paths, chosen, sent.at_once)
    room = place.relative_to(ROOMS).parts[0]
    tests = sent.tests or [str(HERE / room), str(ROOMS / room)]
    words = ["-m", "not checks", "-p", "no:cacheprovider", "-p", "no:terminal"]
    how = "addopts=--import-mode=importlib --doctest-modules"
    status = pytest.main([*tests, *words, "-o", how], plugins=[runner])
    tried = sum(runner.counts.values()) - runner.counts["not put in"]
    share = runner.counts["noticed"] / tried if tried else 0.0
    print(f"{sent.room}: {tried} of {len(every)} mutants, {share:.3f} noticed; {runner.counts}")
    return int(status)


if __name__ == "__main__":
    sys.exit(main())
