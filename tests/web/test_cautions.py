"""Cautions: once, before what they guard; below a page that says it in full stands one short line."""

import pytest
from starlette.testclient import TestClient

import every_page
from holdzero.caution import HOMING_MOVES
from holdzero.demo import ON_STEPS, WINNER
from holdzero.store import Book
from holdzero.tell import safety
from ready_books import keep_demo

IN_FULL = ("travel", "wiring", "plan")  # these say it themselves, before anything else


@pytest.mark.parametrize("slug", every_page.SLUGS)
def test_every_page_says_what_a_switch_is_not(client: TestClient, book: Book, slug: str):
    page = client.get(f"/machines/{keep_demo(book)}/{slug}").text
    assert (safety.IN_SHORT in page) == (slug in IN_FULL)
    assert page.count(safety.NOT_A_SAFETY_FUNCTION) <= (2 if slug == "record" else 1)
    assert "safety function" in page.split(safety.IN_SHORT)[0]


def test_the_plan_says_it_before_its_steps(client: TestClient, demo: int):
    page = client.get(f"/machines/{demo}/plan").text
    assert page.count(HOMING_MOVES) == 1
    assert page.index(HOMING_MOVES) < page.index("Ten readings without homing")


def test_watch_says_it_before_the_check_homing(client: TestClient, book: Book):
    page = client.get(f"/machines/{keep_demo(book)}/watch").text
    assert page.count(HOMING_MOVES) == 1
    assert page.index("This morning") < page.index(HOMING_MOVES) < page.index("Keep it")


def test_findings_say_it_before_their_checks(client: TestClient, demo: int):
    """Of one that lands on full steps; of one without a pattern there is nothing to guard."""
    page = client.get(f"/machines/{demo}/findings", params={"sensor": ON_STEPS}).text
    assert page.count(HOMING_MOVES) == 1
    assert page.index(HOMING_MOVES) < page.index("To tell them apart")
    steady = client.get(f"/machines/{demo}/findings", params={"sensor": WINNER}).text
    assert HOMING_MOVES not in steady
