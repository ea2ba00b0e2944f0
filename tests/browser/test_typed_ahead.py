"""In a browser, of a trial whose answers take their time: nothing typed is lost, nothing counts twice."""

import re

import pytest
from playwright.sync_api import expect

from browser.held import hold, let_through, pass_time, stop_clock
from browser.waiting import after_news, until_is
from holdzero.store import NewReading
from ready_books import keep_demo

pytestmark = pytest.mark.browser
MACHINE = {"requirement": {"position": "0.05 mm"}, "axes": {"Y": {"motors": "1"}}}
INDEXED = {"machine": {"name": "Bench mill"}, "axes": {"X": {"travel": "300 mm", "index_pitch": "5 mm"}}}
READ_MS = 600  # a question is not answered sooner than it can be read
NEAR = ("0.101", "0.103", "0.102", "0.104")


@pytest.fixture
def machine(site) -> int:
    key = site.book.add_machine(MACHINE)
    for name in ("A", "B"):
        site.book.add_sensor(key, name, {"kind": "inductive"})
    return key


@pytest.fixture
def free(site, machine: int) -> str:
    """Address of a trial that no plan leads, at candidate A."""
    key = site.book.add_trial(machine, name="First", axis="Y", resolution="0.001 mm")
    return f"/machines/{machine}/trial?trial={key}&sensor=A&axis=Y"


def begun(open_page, machine: int):
    """A trial that the plan leads."""
    page = open_page(f"/machines/{machine}/trial")
    page.get_by_label("The emergency stop was tested today").check()
    page.get_by_role("button", name="Begin the trial").click()
    asked(page, "reading 1 of")
    return page


@pytest.fixture
def led(open_page, machine: int):
    return begun(open_page, machine)


def asked(page, text: str) -> None:
    page.locator("label[for=f-deviation]", has_text=text).wait_for()


def kept(site) -> list[float]:
    return [row.deviation_mm for row in site.book.rows(1)]


def field(page, text: str) -> None:
    """Wait until the field of the reading holds this."""
    expect(page.locator("#f-deviation")).to_have_value(text)


def without_answers(site) -> None:
    """What the console says of an answer that was meant to be a refusal is no trouble."""
    site.trouble[:] = [text for text in site.trouble if "422" not in text]


def near(site, n: int = 4) -> None:
    for homing, text in enumerate(NEAR[:n], 1):
        place = {"sensor": "A", "axis": "Y", "side": "", "set_label": "1", "homing": homing}
        site.book.add_reading(1, NewReading(deviation_mm=float(text), resolution_mm=0.001, **place))


class TestTypedAhead:
    """Keys of the time until the answer came go on where the person meant them, or are told."""

    def test_they_go_on_at_the_next_reading(self, led, site):
        hold(led)
        led.keyboard.type("0.01\n0.02\n0.034")
        led.keyboard.press("Backspace")
        let_through(led)
        asked(led, "reading 3 of")
        field(led, "0.03")
        after_news(led)  # which changes nothing
        field(led, "0.03")
        led.keyboard.press("Enter")
        asked(led, "reading 4 of")
        assert kept(site) == [0.01, 0.02, 0.03]

    def test_after_a_reading_that_is_refused_they_are_told(self, led, site):
        hold(led)
        led.keyboard.type("0.01x\n0.02\n")
        let_through(led)
        led.locator("#f-deviation-error").wait_for()
        led.locator("#said", has_text="Typed meanwhile and not taken: 0.02").wait_for()
        field(led, "0.01x")
        assert not site.book.rows(1)
        without_answers(site)
        led.keyboard.type("0.01\n")  # over what was refused
        asked(led, "reading 2 of")
        assert kept(site) == [0.01]

    def test_after_one_that_is_asked_about_they_are_told(self, open_page, site, free):
        near(site)
        page = hold(open_page(free))
        page.keyboard.type("1.03\n0.102\n")
        let_through(page)
        page.get_by_text("a slipped decimal point?").wait_for()
        page.locator("#said", has_text="Typed meanwhile and not taken: 0.102").wait_for()
        assert kept(site) == [float(text) for text in NEAR]

    def test_they_do_not_go_to_another_candidate(self, open_page, site, led):
        first = led.locator("label[for=f-deviation]").inner_text()[0]
        for _ in range(9):
            new = {"sensor": first, "axis": "Y", "side": "", "set_label": "1", "homing": 1, "repeat": True}
            site.book.add_reading(1, NewReading(deviation_mm=0.01, resolution_mm=0.001, **new))
        asked(led, "reading 10 of")
        hold(led)
        led.keyboard.type("0.01\n0.03\n")
        let_through(led)
        led.locator("#said", has_text="Typed meanwhile and not taken: 0.03").wait_for()
        expect(led.locator("label[for=f-deviation]")).not_to_have_text(re.compile(f"^{first}"))
        field(led, "")
        assert len(site.book.rows(1)) == 10

    def test_nor_to_a_power_up_that_has_to_be_switched_on_first(self, open_page, site, machine: int):
        """Of the same candidate, in a set of the same name."""
        site.book.remove_sensor(next(kept.id for kept in site.book.sensors(machine) if kept.sensor.name == "B"))
        page = begun(open_page, machine)
        for _ in range(9):
            new = {"sensor": "A", "axis": "Y", "side": "", "set_label": "1", "homing": 1, "repeat": True}
            site.book.add_reading(1, NewReading(deviation_mm=0.01, resolution_mm=0.001, **new))
        asked(page, "A, reading 10 of")
        hold(page)
        page.keyboard.type("0.01\n0.03\n")
        let_through(page)
        page.locator("h1", has_text="switch off").wait_for()
        page.locator("#said", has_text="Typed meanwhile and not taken: 0.03").wait_for()
        assert len(site.book.rows(1)) == 10

    def test_reading_and_way_from_trip_to_index_in_turn(self, open_page, site):
        key = site.book.add_machine(INDEXED)
        site.book.add_sensor(key, "A", {"kind": "lever"})
        site.book.add_trial(key, name="First", axis="X", resolution="0.001 mm")
        page = hold(open_page(f"/machines/{key}/trial?trial=1"))
        page.keyboard.type("0.01\n2.1\n0.02\n2.2\n0.03\n\n0.04\n2.4")
        let_through(page)
        asked(page, "homing 4")
        expect(page.locator("#f-to_index")).to_have_value("2.4")
        page.keyboard.press("Enter")
        asked(page, "homing 5")
        expected = [(0.01, 2.1), (0.02, 2.2), (0.03, None), (0.04, 2.4)]
        assert [(row.deviation_mm, row.trip_to_index_mm) for row in site.book.rows(1)] == expected

    def test_taps_of_the_keypad_too(self, open_page, site, free):
        page = hold(open_page(free, width=390))
        for taps in ("0.01", "0.02"):
            for key in taps:
                page.locator(f'[data-key="{key}"]').tap()
            page.locator(".accept-key").tap()
        let_through(page)
        asked(page, "homing 3")
        assert kept(site) == [0.01, 0.02]


class TestOnce:
    """What is pressed twice, sent twice or comes back after a reload counts once."""

    def test_enter_twice(self, open_page, site, free):
        page = hold(open_page(free))
        page.keyboard.type("0.01\n\n")
        let_through(page)
        asked(page, "homing 2")
        after_news(page)
        expect(page.locator("#said")).to_have_text("")
        assert kept(site) == [0.01]

    def test_enter_twice_answers_no_question(self, open_page, site, free):
        near(site)
        page = open_page(free)
        stop_clock(page)
        page.keyboard.type("1.03\n")
        page.locator(".asks").wait_for()
        page.keyboard.press("Enter")  # was on its way before the question could be read
        after_news(page)
        assert len(kept(site)) == 4
        pass_time(page, ms=READ_MS)
        page.keyboard.press("Enter")
        asked(page, "homing 6")
        assert kept(site)[4:] == [1.03]

    def test_enter_held_down_answers_no_question(self, open_page, site, free):
        near(site)
        page = open_page(free)
        page.keyboard.type("1.03")
        for _ in range(3):
            page.keyboard.down("Enter")
        page.locator(".asks").wait_for()
        pass_time(page, ms=READ_MS)
        for _ in range(3):
            page.keyboard.down("Enter")
        page.keyboard.up("Enter")
        after_news(page)
        expect(page.locator(".asks")).to_be_visible()
        assert len(kept(site)) == 4

    def test_an_answer_that_is_lost_counts_once(self, open_page, site, free):
        page = open_page(free)

        def lose(route) -> None:
            route.fetch(max_redirects=0)  # the computer has it, the page does not hear so
            route.abort()

        page.route("**/readings", lose)
        page.keyboard.type("0.01\n")
        page.locator("#said", has_text="does not answer").wait_for()
        page.unroute("**/readings")
        site.trouble.clear()
        field(page, "0.01")
        page.keyboard.press("Enter")
        asked(page, "homing 2")
        assert kept(site) == [0.01]

    def test_a_reload_while_it_is_on_its_way(self, open_page, site, free):
        page = hold(open_page(free))
        page.keyboard.type("0.01\n")
        until_is(page, lambda: kept(site), [0.01])
        page.reload()
        page.locator("#said", has_text="0.01 was typed before, for Set 1, homing 1").wait_for()
        field(page, "")
        asked(page, "homing 2")
        assert kept(site) == [0.01]

    def test_typed_and_not_accepted_it_is_there_again_after_a_reload(self, open_page, site):
        key = site.book.add_machine(INDEXED)
        site.book.add_sensor(key, "A", {"kind": "lever"})
        site.book.add_trial(key, name="First", axis="X", resolution="0.001 mm")
        page = open_page(f"/machines/{key}/trial?trial=1")
        page.keyboard.type("0.01\n2.1")
        page.reload()
        page.locator("#said", has_text="0.01, 2.1 was typed before and is not kept yet").wait_for()
        field(page, "0.01")
        expect(page.locator("#f-to_index")).to_have_value("2.1")
        page.locator("#f-to_index").press("Enter")
        asked(page, "homing 2")
        assert [(row.deviation_mm, row.trip_to_index_mm) for row in site.book.rows(1)] == [(0.01, 2.1)]
        page.reload()
        field(page, "")

    def test_two_tabs_at_one_place(self, open_page, site, free):
        """The other tab is one homing ahead when what was typed on here comes to its turn: it is asked about."""
        here, there = hold(open_page(free)), open_page(free)
        here.keyboard.type("0.01\n0.02\n")
        asked(there, "homing 2")  # heard of it while here its answer is still on its way
        there.keyboard.type("0.03\n")
        until_is(there, lambda: kept(site), [0.01, 0.03])
        let_through(here)
        here.get_by_text("was entered meanwhile: 0.03").wait_for()
        assert kept(site) == [0.01, 0.03]
        pass_time(here, ms=READ_MS)
        here.keyboard.press("Enter")
        asked(here, "homing 4")
        assert kept(site) == [0.01, 0.03, 0.02]


class TestBesideIt:
    """What was typed stays where something else is done meanwhile."""

    def test_a_reading_stays_when_the_one_before_is_taken_back(self, open_page, site, free):
        page = open_page(free)
        page.keyboard.type("0.01\n")
        asked(page, "homing 2")
        page.keyboard.type("0.02")
        page.get_by_role("button", name=re.compile("^Take back 0.01")).click()
        asked(page, "homing 1")
        field(page, "0.02")
        page.locator("#f-deviation").press("Enter")
        asked(page, "homing 2")
        assert kept(site) == [0.02]

    def test_one_that_is_refused_stays_when_something_else_was_pressed_at_once(self, open_page, site, free):
        page = open_page(free)
        page.keyboard.type("0.01\n")
        asked(page, "homing 2")
        hold(page)
        page.keyboard.type("0.02x\n")
        page.get_by_role("button", name=re.compile("^Take back 0.01")).click()
        let_through(page)
        asked(page, "homing 1")
        field(page, "0.02x")
        assert kept(site) == []
        without_answers(site)

    def test_one_that_is_kept_is_not_typed_any_more(self, open_page, site, free):
        """Though something else was pressed before its answer came."""
        page = open_page(free)
        page.keyboard.type("0.01\n")
        asked(page, "homing 2")
        hold(page)
        page.keyboard.type("0.02\n")
        page.get_by_role("button", name=re.compile("^Take back 0.01")).click()
        let_through(page)
        page.get_by_role("button", name=re.compile("^Take back 0.02")).wait_for()
        until_is(page, lambda: kept(site), [0.02])
        after_news(page)
        field(page, "")
        assert kept(site) == [0.02]

    def test_it_does_not_follow_to_another_candidate(self, open_page, site, free):
        page = open_page(free)
        page.keyboard.type("0.02")
        page.locator("#f-sensor").select_option("B")
        page.locator("#said", has_text="Typed meanwhile and not taken: 0.02").wait_for()
        field(page, "")

    def test_a_note_stays_when_the_answer_comes(self, open_page, site, free):
        page = hold(open_page(free))
        page.keyboard.type("0.01\n")
        page.get_by_text("Note for set 1").click()
        page.locator("#f-note").fill("fan on")
        let_through(page)
        asked(page, "homing 2")
        expect(page.locator("#f-note")).to_have_value("fan on")
        expect(page.locator("#f-note")).to_be_focused()

    def test_read_again_stays_ticked_under_a_question(self, open_page, site, free):
        near(site)
        page = open_page(free)
        page.get_by_text("Creep speed, temperature, condition").click()
        page.get_by_label("Read again without homing").check()
        page.locator("#f-deviation").fill("1.03")
        page.locator("#f-deviation").press("Enter")
        page.locator(".asks").wait_for()
        pass_time(page, ms=READ_MS)
        page.locator("#f-deviation").press("Enter")
        page.locator(".asks").wait_for(state="detached")
        assert [row.repeat for row in site.book.rows(1)][4:] == [True]

    def test_the_keypad_types_over_what_is_asked_about(self, open_page, site, free):
        near(site)
        page = open_page(free, width=390)
        for key in "1.03":
            page.locator(f'[data-key="{key}"]').tap()
        page.locator(".accept-key").tap()
        page.locator(".asks").wait_for()
        for key in "0.103":
            page.locator(f'[data-key="{key}"]').tap()
        field(page, "0.103")
        page.locator(".accept-key").tap()
        asked(page, "homing 6")
        assert kept(site)[4:] == [0.103]

    def test_a_check_homing_stays_when_alarms_are_closed(self, open_page, site):
        """The form of the page Watch, beside another that is sent."""
        key = keep_demo(site.book)
        page = hold(open_page(f"/machines/{key}/watch"))
        page.locator("#check [name='left.Y']").fill("0.012")
        page.get_by_label("What was looked at").fill("screws were loose")
        page.get_by_role("button", name="Close the alarms").click()
        let_through(page)
        page.get_by_role("button", name="Close the alarms").wait_for(state="detached")
        expect(page.locator("#check [name='left.Y']")).to_have_value("0.012")

    def test_the_rail_stays_where_it_was_scrolled_to(self, open_page, site, free):
        page = open_page(free, width=390)
        along = "document.querySelector('.track').scrollLeft"
        before = page.evaluate(along)
        assert before > 0
        page.locator("#f-deviation").fill("0.01")
        page.locator("#f-deviation").press("Enter")
        page.locator("#newest tbody tr").wait_for()
        assert page.evaluate(along) == before
