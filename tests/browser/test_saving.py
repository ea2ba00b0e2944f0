"""In a browser: forms that save themselves, however fast one types, however slow the answer, from two tabs."""

import asyncio
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import parse_qs

import pytest
from playwright.sync_api import expect

from browser.serving import serving
from browser.waiting import LIMIT_MS, until
from holdzero.compute.wiring.presets import PRESETS
from holdzero.store import Book, open_book

pytestmark = pytest.mark.browser
AXIS = {"travel": "300 mm", "limit_trip": "4 mm", "home_trip": "8 mm", "differential_travel": "0.3 mm"}
MACHINE = {
    "machine": {"name": "Bench mill"},
    "requirement": {"position": "0.06 mm"},
    "axes": {"X": AXIS | {"delay": "12 ms"}},
}
AGAIN_MS = 3000  # later what could not be sent is sent again
GANTRY = {"travel": "900 mm", "motors": 2, "drive_distance": "800 mm"}


class Slow:
    """The app behind a server that answers late: the test's own hook."""

    def __init__(self, app) -> None:
        self._app, self.by_s = app, 0.0

    async def __call__(self, scope, receive, send) -> None:
        if scope["type"] == "http" and scope["method"] == "POST":
            await asyncio.sleep(self.by_s)
        await self._app(scope, receive, send)


@dataclass
class Bench:
    """One server and one browser context for all tests here."""

    book: Book
    address: str
    slow: Slow
    context: object
    page: object
    trouble: list[str]

    def machine(self, document=MACHINE) -> int:
        return self.book.add_machine(document)

    def at(self, address: str, page=None):
        page = page or self.page
        page.goto(self.address + address)
        page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
        return page

    def axis(self, machine: int, name: str = "X") -> dict:
        return self.book.machine(machine).document["axes"][name]


@pytest.fixture(scope="module")
def room(chromium, tmp_path_factory) -> Iterator[Bench]:
    path: Path = tmp_path_factory.mktemp("saving") / "shed.holdzero"
    slow = []
    with open_book(path) as book, serving(book, around=lambda app: slow.append(Slow(app)) or slow[0]) as served:
        context = chromium.new_context(viewport={"width": 1280, "height": 844}, reduced_motion="reduce")
        context.set_default_timeout(LIMIT_MS)
        page, trouble = context.new_page(), []
        page.on("pageerror", lambda error: trouble.append(str(error)))
        yield Bench(book, served.address, slow[0], context, page, trouble)
        context.close()


@pytest.fixture
def bench(room: Bench) -> Iterator[Bench]:
    room.slow.by_s = 0.0
    room.trouble.clear()
    yield room
    assert room.trouble == []


def texts(page, form: str) -> dict[str, str]:
    return page.evaluate(
        "(form) => Object.fromEntries([...document.querySelectorAll(form + ' input:not([type=hidden])')]"
        ".map((field) => [field.name, field.value]))",
        form,
    )


VALUES = {  # by key: what is typed, and then something else
    "top_speed": ("120 mm/s", "95"),
    "approach_speed": ("40 mm/s", "35"),
    "creep_speed": ("2.5 mm/s", "3.25"),
    "back_off_speed": ("5 mm/s", "4.5"),
    "acceleration": ("500 mm/s2", "480"),
    "jerk": ("9000 mm/s3", "8000"),
    "squareness": ("0.1 mm over 500 mm", "0.2 mm over 600 mm"),
    "position": ("0.05 mm", "0.075"),
    "risk": ("1 in 1000", "1 in 500"),
    "length": ("12.5 m", "3"),
    "section": ("0.25 mm2", "0.5"),
    "capacitance": ("100 pF/m", "120"),
    "drive_stiffness": ("50 N/um", "60 N/um"),
    "racking_stiffness": ("250 N m/mrad", "180 N m/mrad"),
    "natural_angle": ("0.1 mrad", "0.25"),
    "thrust": ("400 N", "350"),
    "left": ("12", "9.5"),
    "right": ("12.6", "10.25"),
    "supply": ("24", "23.9"),
    "minus_away": ("0.125", "0.25"),
    "minus_near": ("22.5", "21.75"),
    "hours": ("6", "5"),
}
SAVING = {
    "Machine": ("machine", "#machine"),
    "Travel": ("travel?axis=X", "#axis"),
    "Budget": ("budget?axis=X", "#axis"),
    "Choice": ("choice", "#asked"),
    "Square": ("square", "#gantry"),
    "Wiring": ("wiring", "#circuit"),
}
ASKING = {"From here": ("travel?axis=Y", "#stands"), "Bench test": ("wiring/unknown", "#measured")}


def row_of_fields(page, form: str, most: int = 3) -> list[str]:
    """Return the names of fields that follow one another and can be typed in: Tab leads from each to the next."""
    names = page.evaluate(
        "(form) => [...document.querySelectorAll(form + ' :is(input:not([type=hidden]), select, summary)')]"
        ".map((field) => field.name ?? '')",
        form,
    )
    known = [name.rpartition(".")[2] in VALUES for name in names]
    at = max(range(len(names)), key=lambda i: min(most, next((n for n, k in enumerate(known[i:]) if not k), 99)))
    found = names[at : at + most]
    assert all(name.rpartition(".")[2] in VALUES for name in found[:2]), names
    return [name for name in found if name.rpartition(".")[2] in VALUES]


def type_in(page, names: list[str], form: str, *, turn: int, gap_ms: int, key_ms: int) -> dict[str, str]:
    """Type into each field, Tab to the next, a pause, and on; return what was typed."""
    typed = {}
    page.locator(f'{form} input[name="{names[0]}"]').focus()
    for name in names:
        assert page.evaluate("document.activeElement.name") == name
        text = typed[name] = VALUES[name.rpartition(".")[2]][turn % 2]
        page.keyboard.press("Control+A")
        page.keyboard.type(text, delay=key_ms)
        page.keyboard.press("Tab")
        page.wait_for_timeout(gap_ms)
    return typed


def as_typed(found: dict[str, str], typed: dict[str, str]) -> bool:
    """Whether each field holds what was typed; a bare number has its unit by now."""
    return all(found[name] == text or found[name].startswith(f"{text} ") for name, text in typed.items())


@pytest.fixture(scope="module")
def gantry(room: Bench) -> int:
    """A machine with what each of its forms needs to be shown."""
    places = AXIS | {"delay": "12 ms"}
    machine = room.book.add_machine(MACHINE | {"axes": {"X": dict(places), "Y": places | GANTRY}})
    room.page.request.post(
        f"{room.address}/machines/{machine}/wiring/circuits", form={"start": next(iter(PRESETS))}
    )
    return machine


@pytest.mark.parametrize("name", SAVING)
def test_nothing_typed_is_lost_however_fast_and_however_late_the_answer(bench: Bench, gantry: int, name: str):
    """At 0, 50, 150 and 300 ms after Tab, slow and fast keys; and nothing half-typed is ever sent."""
    address, form = SAVING[name]
    page = bench.at(f"/machines/{gantry}/{address}")
    sent = []
    page.on("request", lambda request: sent.append(request))
    for turn, (gap_ms, key_ms, late_s) in enumerate([(0, 0, 0.3), (50, 25, 0.15), (150, 0, 0.0), (300, 25, 0.15)]):
        names = row_of_fields(page, form)  # what was kept may ask for a figure more
        bench.slow.by_s = late_s
        typed = type_in(page, names, form, turn=turn, gap_ms=gap_ms, key_ms=key_ms)
        kept(page, names)
        assert as_typed(texts(page, form), typed), (gap_ms, key_ms, late_s)
    posts = [post for post in sent if post.method == "POST" and not post.url.endswith("/typed")]
    for post in posts:
        body = parse_qs(post.post_data, keep_blank_values=True)
        for name in names:
            for text in body.get(name, []):
                assert any(text == whole for whole in VALUES[name.rpartition(".")[2]]), post.post_data
    assert posts
    bench.slow.by_s = 0.0
    assert as_typed(texts(bench.at(f"/machines/{gantry}/{address}"), form), typed)


def kept(page, names: list[str]) -> None:
    until(
        page,
        "(names) => names.every((name) => document.getElementsByName(name)[0].closest('.field')"
        ".querySelector('[data-fate=kept]'))",
        names,
    )


@pytest.mark.parametrize("name", ASKING)
def test_a_form_that_only_asks_leaves_the_fields_alone_too(bench: Bench, gantry: int, name: str):
    address, form = ASKING[name]
    page = bench.at(f"/machines/{gantry}/{address}")
    names = row_of_fields(page, form)
    for turn, (gap_ms, key_ms) in enumerate([(0, 25), (50, 0), (150, 25)]):
        typed = type_in(page, names, form, turn=turn, gap_ms=gap_ms, key_ms=key_ms)
        until(page, "(text) => location.search.includes(text)", f"={typed[names[-1]]}")
        assert as_typed(texts(page, form), typed), (gap_ms, key_ms)


@pytest.fixture
def two_tabs(bench: Bench) -> Iterator[tuple[int, object, object]]:
    machine = bench.machine()
    other = bench.context.new_page()
    yield machine, bench.at(f"/machines/{machine}/machine"), bench.at(f"/machines/{machine}/machine", other)
    other.close()


def put(page, key: str, text: str) -> None:
    field = page.locator(f"#f-axes-X-{key}")
    field.fill(text)
    field.press("Tab")


def test_two_tabs_that_change_different_fields_merge(bench: Bench, two_tabs):
    machine, here, there = two_tabs
    put(here, "travel", "310 mm")
    kept(here, ["axes.X.travel"])
    put(there, "delay", "9 ms")
    kept(there, ["axes.X.delay"])
    axis = bench.axis(machine)
    assert (axis["travel"], axis["delay"]) == ("310 mm", "9 ms")
    expect(there.locator("#f-axes-X-travel")).to_have_value("310 mm")  # the answer shows it, marked
    expect(there.locator(".field", has=there.locator("#f-axes-X-travel"))).to_contain_text("changed elsewhere")
    expect(there.locator("#heard")).to_contain_text("Delay: kept.")


@pytest.mark.parametrize("take", [False, True], ids=["keep mine", "take the other"])
def test_the_same_field_changed_in_both_is_told_and_the_person_chooses(bench: Bench, two_tabs, take: bool):
    machine, here, there = two_tabs
    put(here, "travel", "310 mm")
    kept(here, ["axes.X.travel"])
    put(there, "travel", "305 mm")
    field = there.locator(".field", has=there.locator("#f-axes-X-travel"))
    field.get_by_text("Changed elsewhere meanwhile: 310 mm is kept there").wait_for()
    assert bench.axis(machine)["travel"] == "310 mm"
    put(there, "delay", "9 ms")  # another field is kept all the same, and the question stays
    kept(there, ["axes.X.delay"])
    expect(there.locator("#f-axes-X-travel")).to_have_value("305 mm")
    field.get_by_role("button", name="Take 310 mm" if take else "Keep 305 mm").click()
    until(there, "() => !document.querySelector('.elsewhere')")
    if not take:
        kept(there, ["axes.X.travel"])
    wanted = "310 mm" if take else "305 mm"
    expect(there.locator("#f-axes-X-travel")).to_have_value(wanted)
    assert bench.axis(machine)["travel"] == wanted


def test_a_tab_come_back_to_shows_what_others_kept_and_undoes_nothing(bench: Bench, two_tabs):
    """Also from the browser's memory of the page: gone on to another one and back."""
    machine, here, there = two_tabs
    there.goto(bench.address + "/")
    put(here, "travel", "310 mm")
    kept(here, ["axes.X.travel"])
    there.go_back()
    there.locator("#f-axes-X-travel[value='310 mm']").wait_for(state="attached")
    there.evaluate("for (const part of document.querySelectorAll('details')) part.open = true")
    put(there, "delay", "9 ms")
    kept(there, ["axes.X.delay"])
    assert bench.axis(machine)["travel"] == "310 mm"


def test_a_refused_value_stays_with_its_message_while_others_are_kept(bench: Bench):
    machine = bench.machine()
    page = bench.at(f"/machines/{machine}/machine")
    put(page, "travel", "3oo mm")
    page.locator("#f-axes-X-travel-error").wait_for()
    put(page, "delay", "9 ms")
    kept(page, ["axes.X.delay"])
    expect(page.locator("#f-axes-X-travel")).to_have_value("3oo mm")
    expect(page.locator("#f-axes-X-travel-error")).to_be_visible()
    assert (bench.axis(machine)["travel"], bench.axis(machine)["delay"]) == ("300 mm", "9 ms")
    put(page, "travel", "320")
    kept(page, ["axes.X.travel"])
    expect(page.locator("#f-axes-X-travel")).to_have_value("320 mm")
    expect(page.locator("#f-axes-X-travel-error")).to_have_count(0)


def test_while_the_server_is_away_nothing_is_lost(bench: Bench):
    machine = bench.machine()
    page = bench.context.new_page()
    page.clock.install()
    bench.at(f"/machines/{machine}/machine", page)
    page.route("**/machine", lambda route: route.abort() if route.request.method == "POST" else route.continue_())
    put(page, "travel", "333 mm")
    page.locator("[data-fate=waits]").wait_for()
    expect(page.locator("#said")).to_contain_text("does not answer")
    page.unroute("**/machine")
    page.clock.fast_forward(AGAIN_MS)
    kept(page, ["axes.X.travel"])  # sent again by itself
    assert bench.axis(machine)["travel"] == "333 mm"
    page.close()


def test_a_link_waits_until_what_was_typed_is_kept(bench: Bench):
    machine = bench.machine()
    page = bench.at(f"/machines/{machine}/machine")
    bench.slow.by_s = 0.3
    page.locator("#f-axes-X-travel").fill("345 mm")
    page.get_by_role("navigation", name="Stations").get_by_role("link", name="Travel").click()
    page.wait_for_url("**/travel")
    assert bench.axis(machine)["travel"] == "345 mm"


def test_without_script_a_form_merges_by_field_too(bench: Bench, chromium):
    machine = bench.machine()
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{bench.address}/machines/{machine}/travel")
    document = bench.book.machine(machine).document
    changed = {"X": document["axes"]["X"] | {"travel": "310 mm", "delay": "7 ms"}}
    bench.book.change_machine(machine, document | {"axes": changed})
    for name in ("Axis", "From trip to reaction"):
        page.locator("summary", has_text=name).first.click()
    page.locator("#f-axes-X-travel").fill("305 mm")
    page.get_by_role("button", name="Keep", exact=True).click()
    expect(page.get_by_text("310 mm is kept there").first).to_be_visible()
    assert (bench.axis(machine)["travel"], bench.axis(machine)["delay"]) == ("310 mm", "7 ms")
    page.get_by_role("button", name="Keep 305 mm").click()
    expect(page.locator(".told")).to_contain_text("Kept: Travel.")
    assert bench.axis(machine)["travel"] == "305 mm"
    context.close()


@pytest.mark.skipif(sys.platform == "win32", reason="an open file cannot be moved there")
def test_a_book_that_was_moved_is_said_at_the_field_and_saved_from_there(bench: Bench):
    """What was typed stays in its field, marked as not kept, until the book is in its place again."""
    machine = bench.machine()
    page = bench.at(f"/machines/{machine}/machine")
    moved = bench.book.path.with_name("tidied away.holdzero")
    bench.book.path.rename(moved)
    field = page.locator("#f-axes-X-travel")
    put(page, "travel", "410 mm")
    page.get_by_role("button", name="Write what is open to a new file").wait_for()
    expect(page.locator("#said")).to_contain_text("Not kept")
    expect(field).to_have_value("410 mm")
    moved.rename(bench.book.path)
    put(page, "travel", "411 mm")
    kept(page, ["axes.X.travel"])
    assert bench.axis(machine)["travel"] == "411 mm"
