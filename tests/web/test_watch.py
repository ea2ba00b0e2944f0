"""Watch page: the morning's homing by hand, paste, file and program; what the log says; each entry once."""

import re
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from starlette.testclient import TestClient

from holdzero.store import Book

MACHINE = {
    "machine": {"name": "Router"},
    "requirement": {"squareness": "0.1 mm over 600 mm", "position": "0.08 mm", "risk": "1 in 1000"},
    "axes": {"Y": {"motors": 2, "drive_distance": "900 mm"}},
}


@pytest.fixture
def machine(book: Book) -> int:
    return book.add_machine(MACHINE)


def log(n, *, seed=1, sd=0.003, days_ago=0.0, right=0.0):
    draw = np.random.default_rng(seed)
    last = datetime.now(UTC) - timedelta(days=days_ago)
    times = [(last - timedelta(days=n - 1 - day)).isoformat() for day in range(n)]
    rows = [f"{time},Y,{draw.normal(0, sd):.4f},{draw.normal(right, sd):.4f}" for time in times]
    return "time,axis,left_mm,right_mm\n" + "\n".join(rows) + "\n"


def heading(text: str) -> str:
    return re.sub("<[^>]+>", "", re.search(r"<h1>(.*?)</h1>", text, re.S)[1]).strip()


def hidden(text: str, form: str) -> dict[str, str]:
    part = text.partition(f'id="{form}"')[2].partition("</form>")[0]
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', part))


class TestEntry:
    """One tap in the morning."""

    def test_a_morning(self, client: TestClient, book: Book, machine: int):
        page = client.get(f"/machines/{machine}/watch").text
        assert heading(page).startswith("No check homing was logged yet")
        form = hidden(page, "check") | {"left.Y": "0.004", "right.Y": "-2 um", "temperature": "17,5"}
        for _ in range(2):  # a tap too many
            assert client.post(f"/machines/{machine}/watch/entries", data=form).status_code == 200
        left, right = (kept.entry for kept in book.log(machine))
        assert (left.axis, left.side, left.deviation_mm, left.temperature_degc) == ("Y", "L", 0.004, 17.5)
        assert (right.side, right.deviation_mm) == ("R", -0.002)

    def test_in_inches_a_bare_number_is_in_thou_or_inches_as_shown(self, client: TestClient, book: Book, machine):
        client.post("/system", data={"system": "inch", "back": "/"})
        page = client.get(f"/machines/{machine}/watch").text
        assert "[in]" in page
        client.post(f"/machines/{machine}/watch/entries", data=hidden(page, "check") | {"left.Y": "0.001"})
        assert book.log(machine)[0].entry.deviation_mm == pytest.approx(0.0254)

    def test_what_cannot_be_read_is_said_and_stays_typed(self, client: TestClient, book: Book, machine: int):
        page = client.get(f"/machines/{machine}/watch").text
        form = hidden(page, "check") | {"left.Y": "a hair", "note": "cold"}
        answer = client.post(f"/machines/{machine}/watch/entries", data=form)
        assert answer.status_code == 422
        assert 'value="a hair"' in answer.text
        assert 'value="cold"' in answer.text
        assert "a hair" in re.search(r'role="alert">(.*?)</p>', answer.text, re.S)[1]
        assert book.log(machine) == ()

    def test_taken_back_it_counts_no_more_and_stays_in_the_file(self, client: TestClient, book: Book, machine):
        client.post(f"/machines/{machine}/watch/entries", data={"left.Y": "0.1", "right.Y": "0.1"})
        first = book.log(machine)[0].id
        client.post(f"/machines/{machine}/watch/entries/{first}/take-back")
        assert len(book.log(machine)) == 1
        assert len(book.log(machine, undone=True)) == 2
        assert client.post(f"/machines/{machine}/watch/entries/99/take-back").status_code == 404
        client.post(f"/machines/{machine}/watch/entries/{first}/count-again")
        assert len(book.log(machine)) == 2
        assert client.post(f"/machines/{machine}/watch/entries/99/count-again").status_code == 404

    def test_of_a_machine_that_another_tab_took_out_of_sight(self, client: TestClient, book: Book, machine: int):
        book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
        form = hidden(client.get(f"/machines/{machine}/watch").text, "check") | {"left.Y": "0.004", "right.Y": "0"}
        book.remove_machine(machine)
        answer = client.post(f"/machines/{machine}/watch/entries", data=form)
        assert answer.status_code in (404, 422)
        assert "out of sight" in answer.text
        book.show_machine(machine)
        assert not book.log(machine)
        assert client.post(f"/machines/{machine}/watch/entries", data=form).status_code == 200
        assert len(book.log(machine)) == 2

    def test_counts_and_words_are_an_entry_of_their_own(self, client: TestClient, book: Book, machine: int):
        form = {"left.Y": "0.1", "right.Y": "0.1", "false_trips": "2", "hours": "5", "condition": "spindle on"}
        client.post(f"/machines/{machine}/watch/entries", data=form | {"axis": "Y"})
        left, _, counts = (kept.entry for kept in book.log(machine))
        assert (left.false_trips, left.condition) == (None, "spindle on")
        assert (counts.deviation_mm, counts.false_trips, counts.hours, counts.axis) == (None, 2, 5, "Y")
        (trips,) = client.get(f"/machines/{machine}/watch.json").json()["machines"][0]["false_trips"]
        assert trips["per_hour"] == pytest.approx(0.4)

    def test_nothing_is_not_kept(self, client: TestClient, book: Book, machine: int):
        assert client.post(f"/machines/{machine}/watch/entries", data={}).status_code == 422
        assert book.log(machine) == ()


class TestLog:
    """What comes in by the hundred, and what it says."""

    def test_paste_and_file_each_entry_once(self, client: TestClient, book: Book, machine: int):
        text = log(40)
        client.post(f"/machines/{machine}/watch/files", data={"text": text})
        answer = client.post(f"/machines/{machine}/watch/files", files={"file": ("log.csv", text, "text/csv")})
        assert "80 were there before" in answer.text
        assert len(book.log(machine)) == 80
        assert heading(answer.text) == "In limits."

    def test_an_alarm_is_a_flag_a_step_to_do_and_closed_by_a_note(self, client: TestClient, machine: int):
        lines = log(40, days_ago=3) + log(3, seed=2, right=0.06).partition("\n")[2]
        client.post(f"/machines/{machine}/watch/files", data={"text": lines})
        page = client.get(f"/machines/{machine}/watch").text
        assert heading(page).startswith("Look at Router Y")
        assert "right minus left was off by" in page
        assert "Do: home again three times" in page
        assert "someone has to look" in page.partition("<nav")[2].partition("</nav>")[0]
        form = hidden(page, "acknowledge") | {"acknowledged": "screw tightened"}
        answer = client.post(f"/machines/{machine}/watch/entries", data=form)
        assert heading(answer.text) == "In limits."

    def test_a_gap_is_not_known_and_flagged(self, client: TestClient, machine: int):
        client.post(f"/machines/{machine}/watch/files", data={"text": log(40, days_ago=9)})
        page = client.get(f"/machines/{machine}/watch").text
        assert "not known: no check homing" in heading(page)
        assert "no check homing for too long" in page.partition("<nav")[2].partition("</nav>")[0]

    def test_the_whole_log_comes_out_as_it_went_in(self, client: TestClient, book: Book, machine: int):
        client.post(f"/machines/{machine}/watch/files", data={"text": log(5)})
        text = client.get(f"/machines/{machine}/watch/log.csv").text
        before = book.log(machine)
        client.post(f"/machines/{machine}/watch/files", data={"text": text})
        assert book.log(machine) == before

    def test_a_wrong_file_is_said_and_nothing_kept(self, client: TestClient, book: Book, machine: int):
        answer = client.post(f"/machines/{machine}/watch/files", data={"text": "time,left_mm\nnoon,0.1\n"})
        assert answer.status_code == 422
        assert "noon" in answer.text
        assert book.log(machine) == ()

    def test_settings_are_kept_and_refused(self, client: TestClient, book: Book, machine: int):
        client.post(f"/machines/{machine}/watch/settings", data={"baseline": "12", "every": "1 week"})
        assert book.sheets(machine, "watch")[0] == {"baseline": "12", "every": "1 week"}
        assert client.post(f"/machines/{machine}/watch/settings", data={"baseline": "3"}).status_code == 422
        assert len(book.sheets(machine, "watch")) == 1


class TestProgram:
    """A program of this computer logs with the word made on the page, and with no other."""

    @pytest.fixture
    def word(self, client: TestClient, machine: int) -> str:
        page = client.post(f"/machines/{machine}/watch/token").text
        return re.search(r"shown this once: <code>([^<]+)</code>", page)[1]

    def send(self, client, machine, word, **body):
        return client.post(f"/machines/{machine}/log.json", headers={"authorization": f"Bearer {word}"}, **body)

    def test_json_and_csv(self, client: TestClient, book: Book, machine: int, word: str):
        answer = self.send(client, machine, word, json={"left_mm": 0.002, "right_mm": -0.001})
        assert answer.json()["new"] == 2
        text = log(3)
        body = {"content": text, "headers": {"authorization": f"Bearer {word}", "content-type": "text/csv"}}
        assert client.post(f"/machines/{machine}/log.json", **body).json()["new"] == 6
        assert client.post(f"/machines/{machine}/log.json", **body).json()["before"] == 6
        assert {kept.source for kept in book.log(machine)} == {"program"}

    @pytest.mark.parametrize("word", ["", "wrong"])
    def test_no_other_word(self, client: TestClient, book: Book, machine: int, word: str):
        assert self.send(client, machine, word, json={"left_mm": 0.002}).status_code == 401
        client.post(f"/machines/{machine}/watch/token")
        assert self.send(client, machine, word, json={"left_mm": 0.002}).status_code == 401
        assert book.log(machine) == ()

    def test_a_new_word_ends_the_one_before_and_neither_lies_in_the_book(self, client, book, machine, word):
        client.post(f"/machines/{machine}/watch/token")
        assert self.send(client, machine, word, json={"left_mm": 0.002}).status_code == 401
        assert word.encode() not in book.path.read_bytes()

    def test_a_ticket_counts_once(self, client: TestClient, book: Book, machine: int, word: str):
        headers = {"authorization": f"Bearer {word}", "x-ticket": "7", "content-type": "application/json"}
        body = '{"time": "2026-03-07T08:00Z", "left_mm": 0.002, "right_mm": 0.001}'
        for _ in range(2):
            client.post(f"/machines/{machine}/log.json", headers=headers, content=body)
        assert len(book.log(machine)) == 2

    @pytest.mark.parametrize(
        "body", ["[]", "3", '{"left_mm": [1]}', "not json", "[" * 100_000, '{"left_mm": "a hair"}']
    )
    def test_what_is_no_entry_is_refused(self, client: TestClient, book: Book, machine: int, word: str, body: str):
        headers = {"authorization": f"Bearer {word}", "content-type": "application/json"}
        answer = client.post(f"/machines/{machine}/log.json", headers=headers, content=body)
        assert answer.status_code == 422
        assert answer.json()["error"]["do"]
        assert book.log(machine) == ()


def test_the_trial_proposes_a_baseline_and_the_person_confirms_it(client: TestClient, book: Book, demo: int):
    book.add_sheet(demo, "watch", {"sensor": "K"})
    page = client.get(f"/machines/{demo}/watch").text
    assert "The trial proposes a baseline" in page
    client.post(f"/machines/{demo}/watch/baseline", data={"from": "trial"})
    client.post(
        f"/machines/{demo}/watch/entries", data={"left.Y": "0.001", "right.Y": "0.002", "deviation.X": "0.01"}
    )
    rows = client.get(f"/machines/{demo}/watch.json").json()["machines"]
    apart = next(row for row in rows if row["side"] == "difference")
    assert {row["axis"] for row in rows} == {"X", "Y"}
    assert (apart["state"], apart["baseline"]["from"], apart["baseline"]["n"]) == ("in limits", "trial", 10)
    client.post(f"/machines/{demo}/watch/baseline", data={"from": "log"})
    rows = client.get(f"/machines/{demo}/watch.json").json()["machines"]
    assert {row["state"] for row in rows} == {"learning"}
