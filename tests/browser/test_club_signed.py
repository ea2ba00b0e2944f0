"""Two people of a club, each at a browser of their own, in one book on a server, over TLS."""

import shutil
import subprocess
from collections.abc import Iterator

import pytest
from playwright.sync_api import expect

from browser.serving import late_in
from browser.waiting import LIMIT_MS
from holdzero.store import Book, open_book
from opened import opened
from postgres import Server

pytestmark = [
    pytest.mark.postgres,
    pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl to make a certificate with"),
]
HOST, PASSWORD = "127.0.0.30", "a few words of ours"
MILL = {"machine": {"name": "Mill"}, "requirement": {"position": "0.05 mm"}, "axes": {"X": {"travel": "300 mm"}}}


@pytest.fixture(scope="module")
def book(club_server: Server) -> Iterator[Book]:
    with open_book(club_server.made("club_signed", template="book")) as made:
        made.add_sensor(made.add_machine(MILL), "A", {})
        made.add_trial(1, name="Saturday", axis="X", resolution="0.001 mm")
        for name in ("Ann", "Ben"):
            made.add_person(name, PASSWORD)
        yield made


@pytest.fixture(scope="module")
def address(book: Book, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("keys")
    certificate, key = folder / "c.pem", folder / "k.pem"
    make = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
    make += ["-keyout", str(key), "-out", str(certificate), "-days", "2", "-subj", "/CN=shed"]
    subprocess.run([*make, "-addext", f"subjectAltName=IP:{HOST}"], check=True, capture_output=True)
    tls = ("--certificate", str(certificate), "--key", str(key))
    with opened(book.address, "--listen", f"{HOST}:0", *tls) as program:
        yield program.address


def signs_in(page, name: str) -> None:
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("button", name=f"Sign out {name}").wait_for()


@pytest.fixture
def people(chromium, address: str) -> Iterator[tuple]:
    """Ann and Ben, signed in."""
    contexts = [chromium.new_context(ignore_https_errors=True) for _ in range(2)]
    pages = [context.new_page() for context in contexts]
    for page, name in zip(pages, ("Ann", "Ben"), strict=True):
        page.set_default_timeout(LIMIT_MS)
        late_in(page)
        page.goto(f"{address}/machines/1/trial")
        page.get_by_role("link", name="Sign in").click()
        page.wait_for_url("**/sign-in")
        signs_in(page, name)
    yield tuple(pages)
    for context in contexts:
        context.close()


def test_what_one_enters_the_other_sees_and_who_is_taken_away_keeps_what_is_typed(
    people, address: str, book: Book
):
    ann, ben = people
    for page in people:
        page.goto(f"{address}/machines/1/trial")
        page.locator("#entry").wait_for()
    ann.locator('[name="deviation"]').fill("0.004")
    ann.locator('[name="deviation"]').press("Enter")
    expect(ben.locator("#now")).to_contain_text("0.004 is kept")
    assert book.trail()[0].actor == "Ann"

    book.remove_person("Ben")
    ben.locator('[name="deviation"]').fill("0.009")
    ben.locator('[name="deviation"]').press("Enter")
    expect(ben.locator("#said")).to_contain_text(
        "Not kept: Nobody is signed in here. To do: sign in, in another tab"
    )
    assert "<" not in ben.locator("#said").inner_text()
    expect(ben.locator('[name="deviation"]')).to_have_value("0.009")
    assert len(book.rows(1)) == 1

    book.add_person("Ben", PASSWORD)  # let in again: he signs in beside it, and goes on where he was
    with ben.context.expect_page() as beside:
        ben.locator("#said").get_by_role("link", name="Sign in").click()
    signs_in(beside.value, "Ben")
    ben.locator('[name="deviation"]').press("Enter")
    expect(ann.locator("#now")).to_contain_text("0.009 is kept")
    expect(ben.locator('[name="deviation"]')).to_have_value("")
    assert [(row.homing, row.deviation_mm) for row in book.rows(1)] == [(1, 0.004), (2, 0.009)]
    assert book.trail()[0].actor == "Ben"


def test_a_field_that_both_change_shows_both_values_and_who_signs_out_is_out(people, address: str, book: Book):
    ann, ben = people
    for page in people:
        page.goto(f"{address}/machines/1/machine")
        page.locator('[name="axes.X.travel"]').wait_for(state="attached")
        page.evaluate("document.querySelectorAll('details').forEach((part) => { part.open = true; })")
    for page, travel in ((ann, "310 mm"), (ben, "320 mm")):
        field = page.locator('[name="axes.X.travel"]')
        field.fill(travel)
        field.blur()
        if page is ann:
            expect(page.locator("main")).to_contain_text("one motor, 310")
    expect(ben.locator("main")).to_contain_text("310 mm is kept there")
    assert book.machine(1).document["axes"]["X"]["travel"] == "310 mm"
    ben.get_by_role("button", name="Keep 320 mm").click()
    expect(ben.locator("main")).not_to_contain_text("310 mm is kept there")
    assert book.machine(1).document["axes"]["X"]["travel"] == "320 mm"
    ann.get_by_role("button", name="Sign out Ann").click()
    ann.get_by_role("button", name="Sign in").wait_for()
    ann.goto(f"{address}/machines/1/machine")
    expect(ann.get_by_text("Nobody is signed in here.")).to_be_visible()
