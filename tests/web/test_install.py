"""Install page: ticking the tests at the machine."""

import re

import pytest
from starlette.testclient import TestClient

from holdzero.store import Book, Outcome
from ready_books import keep_demo


@pytest.fixture
def fitted(book: Book) -> int:
    """The invented machine, wired and squared."""
    return keep_demo(book)


def lead(page: str) -> str:
    return re.search(r'<p class="lead">(.*?)</p>', page, re.DOTALL)[1]


def heading(page: str) -> str:
    return re.search(r"<h1>(.*?)</h1>", page, re.DOTALL)[1]


def tick(client: TestClient, machine: int, item: str, outcome: str = "done", **said: str):
    return client.post(f"/machines/{machine}/install/checks", data={"item": item, "outcome": outcome, **said})


class TestTicking:
    """Done, failed, does not apply; measured, note and name; nothing lost."""

    def test_begins_with_the_stop_and_has_a_form_for_each_test(self, client: TestClient, fitted: int):
        page = client.get(f"/machines/{fitted}/install").text
        assert lead(page).startswith("None of the tests is done yet: begin with “Emergency stop”.")
        assert page.count('name="item"') == len(client.get(f"/machines/{fitted}/install.json").json()["tests"])
        assert page.index("The emergency stop is tested before anything moves") < page.index('name="item"')

    def test_kept_as_written_and_shown_with_its_date(self, client: TestClient, book: Book, fitted: int):
        said = {"measured-0": "0,3", "note": "twice", "by": "Ada"}
        page = tick(client, fitted, "emergency-stop", **said).text
        assert lead(page).startswith("1 of 34 tests done; next is “By hand from end to end (Y)”.")
        (kept,) = book.checks(fitted)
        assert (kept.outcome, kept.measured, kept.note, kept.checked_by) == (Outcome.DONE, "0,3 s", "twice", "Ada")
        assert f"done {kept.added[:10]}: 0,3 s; twice; by Ada" in page
        assert 'value="Ada"' in page  # the next test is by the same person

    def test_two_blanks_are_named(self, client: TestClient, book: Book, fitted: int):
        tick(client, fitted, "y-both-sides-back-off", **{"measured-0": "5.1", "measured-1": "0.2 in"})
        assert book.checks(fitted)[0].measured == "left 5.1 mm; right 0.2 in"

    def test_what_failed_comes_first_and_later_entries_leave_it_there(
        self, client: TestClient, book: Book, fitted: int
    ):
        item = "y-wire-break-y-left-bk-at-b1-2"
        page = tick(client, fitted, item, "failed", note="input stays on").text
        assert "“Wire break, Y left, BK at -B1:2” failed: put that right first" in lead(page)
        page = tick(client, fitted, item).text
        assert lead(page).startswith("1 of 34 tests done; next is “Emergency stop”")
        assert "failed" in page
        assert "input stays on" in page
        tick(client, fitted, item, "open")
        assert [one.outcome for one in book.checks(fitted)] == ["failed", "done", "open"]

    def test_twin(self, client: TestClient, fitted: int):
        tick(client, fitted, "emergency-stop", **{"measured-0": "0.3"})
        twin = client.get(f"/machines/{fitted}/install.json").json()
        assert twin["checklist"]["counts"] == {"done": 1, "failed": 0, "not applicable": 0, "open": 33}
        first = twin["checklist"]["tests"][0]
        assert (first["outcome"], first["entries"][0]["measured"]) == ("done", "0.3 s")
        assert twin["wiring"]["Y"][0]["circuit"] == "Y left"

    @pytest.mark.parametrize(
        ("item", "outcome", "status"), [("no-such-test", "done", 404), ("emergency-stop", "perhaps", 422)]
    )
    def test_what_is_no_test_or_outcome_is_refused(
        self, client: TestClient, book: Book, fitted: int, item: str, outcome: str, status: int
    ):
        assert tick(client, fitted, item, outcome).status_code == status
        assert book.checks(fitted) == ()

    def test_markup_is_text(self, client: TestClient, fitted: int):
        page = tick(client, fitted, "emergency-stop", note="<b>loud</b>", by="</li>").text
        assert "<b>loud</b>" not in page
        assert "&lt;b&gt;loud" in page

    def test_from_another_site_it_is_refused(self, client: TestClient, book: Book, fitted: int):
        sent = {"item": "emergency-stop", "outcome": "done"}
        address = f"/machines/{fitted}/install/checks"
        assert client.post(address, data=sent, headers={"origin": "http://evil.example"}).status_code == 403
        assert book.checks(fitted) == ()


class TestSheet:
    """What to set, where each wire goes, and the same on paper."""

    def test_paper_has_terminals_and_what_was_written_down(self, client: TestClient, fitted: int):
        tick(client, fitted, "emergency-stop", **{"measured-0": "0.3"}, by="Ada")
        tick(client, fitted, "y-limit-slowly", "failed", note="too late")
        page = client.get(f"/machines/{fitted}/install.html").text
        assert "Terminals of Y left: -B1, PNP NC" in page
        assert "Switched off and unplugged, open -B1:2 to -X1:2; re-power" in page
        assert re.search(r"DONE \d{4}-\d\d-\d\d: 0\.3 s; by Ada\.", page)
        assert re.search(r"FAILED \d{4}-\d\d-\d\d: too late\.", page)
        assert "☑" in page
        assert "☒" in page
        assert client.get(f"/machines/{fitted}/install.pdf").content.startswith(b"%PDF")

    def test_an_axis_without_a_circuit_says_so(self, client: TestClient, demo: int):
        page = client.get(f"/machines/{demo}/install").text
        assert "Where its wires go is not known yet" in page
        assert "Wire break" in page

    def test_inches(self, client: TestClient, demo: int):
        client.post("/system", data={"system": "inch", "back": "/"})
        page = client.get(f"/machines/{demo}/install").text
        assert "82.68\u202fin/min" in page
        assert 'Limit trip to hard stop <span class="hint">in</span>' in page
