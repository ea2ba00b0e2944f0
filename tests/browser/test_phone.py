"""In a browser: the computer on 127.0.0.1, the phone on 127.0.0.2, and the connection between them cut."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import expect

from browser.accessibility import faults_and_width
from browser.serving import serving
from browser.waiting import LIMIT_MS, until, until_is
from holdzero.store import Book, open_book

pytestmark = pytest.mark.browser
AXIS = {"travel": "900 mm", "motors": 2, "drive_distance": "800 mm"}
NEWS_COMES_LATE = """  // right after what was typed meanwhile has been sent
const quick = window.fetch;
const until = async (true_) => { while (!true_()) await new Promise((over) => setTimeout(over, 5)); };
window.fetch = async (to, how) => {
  const answer = await quick(to, how);
  if (how?.method || window.late) return answer;
  window.late = 'waits';
  await until(() => !document.getElementById('unsent').hidden);
  await until(() => document.getElementById('unsent').hidden);
  const text = answer.text.bind(answer);
  const came = () => { window.late = 'came'; };
  answer.text = async () => { try { return await text(); } finally { setTimeout(came); } };
  return answer;
};
true"""
GANTRY = {"machine": {"name": "Bench mill"}, "axes": {"Y": AXIS}}


@dataclass
class Shed:
    """A served book, the computer's page and the phone's."""

    book: Book
    door: object
    address: str
    computer: object
    phone: object
    chromium: object

    @property
    def code(self) -> str:
        return self.door.opened.pairing.code

    @property
    def url(self) -> str:
        return self.door.opened.url

    def cut(self, *, off: bool = True) -> None:
        self.phone.context.set_offline(off)

    def entered(self) -> list[tuple[str, int, str, str]]:
        return [(row.set_label, row.homing, row.side, row.entered) for row in self.book.rows(1)]

    def accept(self, text: str) -> None:
        self.phone.fill("#f-deviation", text)
        self.phone.press("#f-deviation", "Enter")

    def until_entered(self, number: int) -> None:
        until_is(self.phone, lambda: len(self.entered()), number)

    def until_sent(self) -> None:
        expect(self.phone.locator("#unsent")).to_be_hidden()

    def asks(self, heading: str) -> None:
        expect(self.phone.locator("#now h1")).to_have_text(heading)


@pytest.fixture
def shed(chromium, tmp_path: Path) -> Iterator[Shed]:
    with open_book(tmp_path / "shed.holdzero") as book, serving(book) as served:
        book.add_trial(book.add_machine(GANTRY), name="First", axis="Y", resolution="0.001 mm")
        at_desk = chromium.new_context(viewport={"width": 1280, "height": 844}, reduced_motion="reduce")
        in_hand = chromium.new_context(
            viewport={"width": 390, "height": 844}, reduced_motion="reduce", has_touch=True, is_mobile=True
        )
        computer, phone = at_desk.new_page(), in_hand.new_page()
        for page in (computer, phone):
            page.set_default_timeout(LIMIT_MS)
        yield Shed(book, served.app.state.phone, served.address, computer, phone, chromium)
        at_desk.close()
        in_hand.close()


def let_in(shed: Shed, shows: str) -> Shed:
    """The phone is let in by the code that the computer shows."""
    shed.computer.goto(f"{shed.address}/phone")
    shed.computer.evaluate(  # the address of a test is none that the page proposes
        "document.querySelector('#f-address').outerHTML = '<input id=f-address name=address value=127.0.0.2>'"
    )
    shed.computer.click("text=Open it to one phone")
    shed.computer.wait_for_selector(".drawn-code svg")
    shed.phone.goto(f"{shed.url}pair#{shed.code}")
    shed.phone.wait_for_selector(shows)
    return shed


@pytest.fixture
def paired(shed: Shed) -> Shed:
    return let_in(shed, "#f-deviation")


def test_the_code_pairs_one_phone_and_is_in_no_address(paired: Shed):
    expect(paired.phone).to_have_url(f"{paired.url}machines/1/trial")
    paired.computer.wait_for_selector("text=One phone is let in")
    paired.phone.go_back()
    assert "#" not in paired.phone.url
    second = paired.chromium.new_context().new_page()
    second.set_default_timeout(LIMIT_MS)
    second.goto(f"{paired.url}pair#ABCDEFGH")
    expect(second.locator("h1")).to_have_text("Another phone is let in")
    assert second.goto(f"{paired.url}machines/1/trial").status == 403
    second.context.close()


def test_what_is_typed_without_a_connection_arrives_once_and_in_order(paired: Shed):
    paired.accept("0.001")
    paired.until_entered(1)
    paired.until_sent()
    paired.asks("Same homing: now read the right side")
    paired.cut()
    for text in ("0.002", "0.003", "0.004"):
        paired.accept(text)
    paired.phone.wait_for_selector("text=3 not sent yet. No connection")
    expect(paired.phone.locator("#unsent li").first).to_contain_text("0.002, Set 1, homing 1, right side")
    expect(paired.phone.locator("#entry label").first).to_have_text("Set 1, homing 3, left side")
    paired.phone.click("[data-tab=check]")
    paired.phone.fill("#check-entry input[name='left.Y']", "0.007")
    paired.phone.click("#check-entry button")
    paired.phone.wait_for_selector("text=4 not sent yet")
    assert (len(paired.entered()), paired.book.log(1)) == (1, ())
    paired.cut(off=False)
    paired.until_sent()
    assert paired.entered() == [
        ("1", 1, "L", "0.001"),
        ("1", 1, "R", "0.002"),
        ("1", 2, "L", "0.003"),
        ("1", 2, "R", "0.004"),
    ]
    assert [kept.entry.deviation_mm for kept in paired.book.log(1)] == [0.007]
    paired.phone.click("[data-tab=trial]")
    expect(paired.phone.locator("#now .kept .tick-mark")).to_have_text("✓")
    expect(paired.phone.locator("#kept")).to_contain_text("0.004")


def test_news_older_than_what_was_sent_does_not_bring_back_the_step_before(paired: Shed):
    paired.phone.evaluate(NEWS_COMES_LATE)
    with paired.phone.expect_response("**/trial*"):
        paired.book.add_sensor(1, "B", {"kind": "inductive"})  # at the computer; the phone looks for news
    paired.accept("0.001")
    until(paired.phone, "window.late === 'came'")
    heading = paired.phone.evaluate("document.querySelector('#now h1').textContent")  # at this moment
    assert heading == "Same homing: now read the right side"
    assert paired.entered() == [("1", 1, "L", "0.001")]


def test_an_answer_that_is_lost_counts_once_and_a_reload_loses_nothing(paired: Shed):
    lost = []

    def lose(route) -> None:
        route.fetch()  # the computer has it; the phone does not hear so
        lost.append(route.request.url)
        route.abort()

    paired.phone.route("**/readings", lose)
    paired.accept("0.001")
    paired.accept("0.002")
    until_is(paired.phone, lambda: len(lost) >= 2, True)
    expect(paired.phone.locator("#unsent li")).to_have_count(2)
    paired.phone.unroute_all(behavior="wait")
    paired.phone.on("dialog", lambda dialog: dialog.accept())
    paired.phone.reload()
    paired.until_entered(2)
    paired.until_sent()
    assert paired.entered() == [("1", 1, "L", "0.001"), ("1", 1, "R", "0.002")]


def test_the_planned_trial_begins_at_the_machine(shed: Shed):
    shed.book.remove_trial(1)
    shed.book.add_sensor(1, "A", {"kind": "inductive"})
    let_in(shed, "#begin")
    assert faults_and_width(shed.phone) == []
    shed.phone.fill("#b-f-resolution", "fine")
    shed.phone.get_by_label("The emergency stop was tested today").check()
    shed.phone.click("text=Begin the trial")
    shed.phone.wait_for_selector("#b-f-resolution-error")
    expect(shed.phone.locator("#b-f-resolution")).to_be_focused()
    shed.phone.fill("#b-f-resolution", "0.001")
    shed.phone.get_by_label("The emergency stop was tested today").check()
    shed.phone.click("text=Begin the trial")
    shed.phone.wait_for_selector("#f-deviation")
    shed.asks("Before the first power-up, A: home once, then read 10 times without homing")
    shed.accept("0.001")
    until_is(shed.phone, lambda: len(shed.book.rows(2)), 1)


def test_one_that_is_begun_at_the_computer_comes_to_the_phone(shed: Shed):
    shed.book.remove_trial(1)
    let_in(shed, "#begin")
    shed.book.add_trial(1, name="Second", axis="Y", resolution="0.001 mm")
    shed.phone.wait_for_selector("#f-deviation")
    shed.accept("0.001")
    until_is(shed.phone, lambda: len(shed.book.rows(2)), 1)


def test_a_slip_is_asked_about_and_holds_up_what_follows(paired: Shed):
    for number in range(1, 9):
        paired.accept(f"0.00{(number + 1) // 2}")
        paired.until_entered(number)
    paired.until_sent()
    paired.cut()
    paired.accept("0.5")
    paired.accept("0.006")
    paired.cut(off=False)
    asked = paired.phone.locator("#unsent li[role=alert]")
    expect(asked).to_contain_text("Is that right?")
    assert len(paired.entered()) == 8
    asked.locator("input").fill("0.005")
    asked.get_by_text("Keep it").click()
    paired.until_entered(10)
    assert paired.entered()[8:] == [("1", 5, "L", "0.005"), ("1", 5, "R", "0.006")]


def test_a_test_of_the_sheet_is_written_down_at_the_machine(paired: Shed):
    paired.phone.click("[data-tab=tests]")
    paired.phone.locator("#tests details[open] button.primary").first.click()
    until_is(paired.phone, lambda: len(paired.book.checks(1)), 1)
    paired.phone.wait_for_selector("#tests details.done")


def test_the_pairing_ends_at_the_computer_and_what_waits_stays(paired: Shed):
    paired.cut()
    paired.accept("0.001")
    paired.computer.wait_for_selector("text=End that one, pair another")
    paired.computer.click("text=End that one, pair another")
    paired.computer.wait_for_selector(".drawn-code svg")
    paired.cut(off=False)
    paired.phone.wait_for_selector("text=pair it again at the computer")
    assert paired.entered() == []
    paired.phone.on("dialog", lambda dialog: dialog.accept())
    paired.phone.goto(f"{paired.url}pair#{paired.code}")
    until_is(paired.phone, paired.entered, [("1", 1, "L", "0.001")])


def test_axe_finds_nothing_and_nothing_is_wider_than_the_phone(paired: Shed):
    faults = faults_and_width(paired.computer)
    for tab in ("trial", "tests", "check"):
        paired.phone.click(f"[data-tab={tab}]")
        expect(paired.phone.locator(f"#{tab}")).to_be_visible()
        faults += [(tab, fault) for fault in faults_and_width(paired.phone)]
    assert faults == []
