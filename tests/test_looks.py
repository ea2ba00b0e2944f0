"""In a browser no look follows an act at once: between them the test waits for what the act brings.

Read from the text of the tests: within one function, in the order of its calls, one that looks at the page or into
the book (`inner_text`, `evaluate`, `book.rows` and their like) may not come next after one that acts on the page
(`click`, `press` and their like). What waits is Playwright's `expect`, the words of `waiting.py`, loading a page,
and every function of tests/browser that ends with waiting. Which element has the focus is known at once, and
bringing one into view looks at nothing.
"""

import ast
from pathlib import Path

import pytest

BROWSER = Path(__file__).parent / "browser"
ACTS = frozenset(
    (
        "check",
        "click",
        "dblclick",
        "dispatch_event",
        "drag_to",
        "fill",
        "go_back",
        "insert_text",
        "press",
        "press_sequentially",
        "select_option",
        "set_input_files",
        "tap",
        "type",
        "uncheck",
    )
)
LOOKS = frozenset(
    (
        "all_inner_texts",
        "all_text_contents",
        "bounding_box",
        "content",
        "count",
        "evaluate",
        "evaluate_all",
        "get_attribute",
        "inner_html",
        "inner_text",
        "input_value",
        "is_checked",
        "is_disabled",
        "is_enabled",
        "is_hidden",
        "is_visible",
        "text_content",
        "title",
    )
)
WAITS = frozenset(
    (
        "after_news",
        "expect",
        "expect_download",
        "expect_event",
        "expect_navigation",
        "expect_popup",
        "expect_request",
        "expect_response",
        "goto",
        "reload",
        "until",
        "until_is",
        "wait_for",
        "wait_for_event",
        "wait_for_load_state",
        "wait_for_selector",
        "wait_for_url",
    )
)


def of(call: ast.Call) -> str:
    """Return the name that is called, without what it is called on."""
    return getattr(call.func, "attr", getattr(call.func, "id", ""))


def calls(function: ast.AST) -> list[ast.Call]:
    """Return calls in the order they are made; what is handed to a wait belongs to it."""
    found: list[ast.Call] = []
    for part in ast.iter_child_nodes(function):
        if not (isinstance(part, ast.Call) and of(part) in WAITS):
            found += calls(part)
        if isinstance(part, ast.Call):
            found.append(part)
    return found


def functions() -> dict[str, list[tuple[str, ast.FunctionDef]]]:
    """Return every function of the browser tests by its name, each with its file."""
    by_name: dict[str, list[tuple[str, ast.FunctionDef]]] = {}
    for file in sorted(BROWSER.glob("*.py")):
        for part in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(part, ast.FunctionDef):
                by_name.setdefault(part.name, []).append((file.name, part))
    return by_name


def waiting(by_name: dict[str, list[tuple[str, ast.FunctionDef]]]) -> frozenset[str]:
    """Return the names of functions whose last act or look is a wait, wherever they are defined."""
    known = WAITS
    while True:
        more = {
            name
            for name, all_of_it in by_name.items()
            if all(ends_with_waiting(function, known) for _, function in all_of_it)
        }
        if more <= known:
            return known
        known |= more


def ends_with_waiting(function: ast.FunctionDef, known: frozenset[str]) -> bool:
    telling = [of(call) for call in calls(function) if of(call) in ACTS | LOOKS | known]
    return bool(telling) and telling[-1] in known


def known_at_once(call: ast.Call) -> bool:
    return any(word in ast.unparse(call) for word in ("activeElement", "scrollIntoView"))


def too_early(function: ast.FunctionDef, known: frozenset[str]) -> list[int]:
    """Return the lines of looks that come next after an act."""
    lines, act = [], False
    for call in calls(function):
        if of(call) in known:
            act = False
        elif of(call) in ACTS:
            act = True
        elif act and (of(call) in LOOKS or ".book." in ast.unparse(call.func)) and not known_at_once(call):
            lines.append(call.lineno)
    return lines


def test_no_look_follows_an_act_at_once():
    by_name = functions()
    known = waiting(by_name)
    early = [
        f"tests/browser/{file}:{line}"
        for all_of_it in by_name.values()
        for file, function in all_of_it
        for line in too_early(function, known)
    ]
    assert not early, f"wait for what the act before brings (tests/browser/waiting.py): {', '.join(early)}"


@pytest.mark.parametrize(
    ("text", "lines"),
    [
        ("page.click('a')\n assert page.inner_text('b')", [3]),
        ("page.click('a')\n expect(page.locator('b')).to_have_text('c')\n assert page.inner_text('b')", []),
        ("page.keyboard.press('Tab')\n assert page.evaluate('document.activeElement.id')", []),
        ("page.click('a')\n until_is(page, lambda: page.inner_text('b'), 'c')", []),
        ("page.click('a')\n assert site.book.rows(1)", [3]),
        ("page.click('a')\n helped(page)\n assert page.inner_text('b')", []),
        ("page.click('a')\n idle(page)\n assert page.inner_text('b')", [4]),
    ],
)
def test_what_is_early_is_found(text, lines):
    helpers = "def helped(page):\n page.click('x')\n expect(page)\ndef idle(page):\n page.title()\n"
    whole = [part for part in ast.parse(helpers).body if isinstance(part, ast.FunctionDef)]
    known = waiting({function.name: [("", function)] for function in whole})
    (function,) = ast.parse(f"def test():\n {text}").body
    assert isinstance(function, ast.FunctionDef)
    assert too_early(function, known) == lines
