"""Phone: one device, by a code, for a short list of addresses and nothing else."""

import json
import logging
import re
from collections.abc import Iterator

import pytest
from starlette.testclient import TestClient

from holdzero.errors import InputError
from holdzero.store import Book
from holdzero.trial.coming import coming_freely
from holdzero.trial.next_homing import next_step
from holdzero.web.app import create_app
from holdzero.web.phone.address import checked_address
from holdzero.web.phone.gate import COOKIE
from holdzero.web.phone.pages import phone_app
from holdzero.web.phone.pairing import CODE_LASTS_S, MOST_WRONG, Pairing

HOST = "127.0.0.2:8048"
GANTRY = {
    "machine": {"name": "Bench mill"},
    "axes": {"Y": {"travel": "900 mm", "motors": 2, "drive_distance": "800 mm"}},
}
TOLD = {"name": "Monday", "unit": "mm", "resolution": "0.001", "protocol": "outside", "stop_tested": "on"}
OPEN_TO_PHONE = {  # the whole list
    "GET /",
    "GET /machines/{machine_id}/live",
    "GET /machines/{machine_id}/trial",
    "GET /pair",
    "GET /static/{name}",
    "GET /trials/{trial_id}/live",
    "POST /machines/{machine_id}/install/checks",
    "POST /machines/{machine_id}/trials",
    "POST /machines/{machine_id}/watch/entries",
    "POST /pair",
    "POST /readings/{reading_id}/confirm",
    "POST /readings/{reading_id}/undo",
    "POST /trials/{trial_id}/note",
    "POST /trials/{trial_id}/plan/skip",
    "POST /trials/{trial_id}/power-ups",
    "POST /trials/{trial_id}/readings",
}


class Hands:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.at_s = 1000.0

    def __call__(self) -> float:
        return self.at_s


@pytest.fixture
def clock() -> Hands:
    return Hands()


@pytest.fixture
def pairing(clock: Hands) -> Pairing:
    return Pairing(lasts_s=3600, clock=clock)


@pytest.fixture
def trial(book: Book) -> int:
    return book.add_trial(book.add_machine(GANTRY), name="First", axis="Y", resolution="0.001 mm")


@pytest.fixture
def phone(book: Book, trial: int, pairing: Pairing) -> Iterator[TestClient]:
    with TestClient(phone_app(book, pairing, host=HOST), base_url=f"http://{HOST}") as opened:
        yield opened


def paired(phone: TestClient, pairing: Pairing) -> TestClient:
    answer = phone.post("/pair", data={"code": pairing.code}, follow_redirects=False)
    assert answer.status_code == 303
    return phone


def reading(value: str, *, ticket: str, homing: int = 1, side: str = "L", **more: str) -> dict[str, str]:
    place = {"sensor": "", "axis": "Y", "sides": "both", "set": "1", "side": side, "homing": str(homing)}
    return place | {"deviation": value, "ticket": ticket, "ask": "yes"} | more


def listed(app) -> list[tuple[str, str]]:
    """Every route of an app, those of included routers too: method and path."""
    routes: list[tuple[str, str]] = []
    waiting = list(app.routes)
    while waiting:
        route = waiting.pop()
        waiting += getattr(getattr(route, "original_router", None), "routes", [])
        routes += [(method, route.path) for method in getattr(route, "methods", None) or () if method != "HEAD"]
    return sorted(routes)


def filled(path: str) -> str:
    return re.sub(r"\{[^}]*\}", "1", path)


class TestWhatIsOpen:
    """The route table is walked: what is not on the short list is not there, paired or not."""

    def test_the_list_is_the_whole_of_it(self, book: Book, pairing: Pairing):
        assert {
            f"{method} {path}" for method, path in listed(phone_app(book, pairing, host=HOST))
        } == OPEN_TO_PHONE

    def test_nothing_else_of_the_book_answers_a_paired_phone(
        self, phone: TestClient, pairing: Pairing, book: Book
    ):
        paired(phone, pairing)
        own = {re.sub(r"\{[^}]*\}", "{}", line) for line in OPEN_TO_PHONE}
        routes = [
            line for line in listed(create_app(book)) if re.sub(r"\{[^}]*\}", "{}", " ".join(line)) not in own
        ]
        assert len(routes) > 150
        for method, path in routes:
            answer = phone.request(method, filled(path), follow_redirects=False)
            assert answer.status_code in (404, 405), (method, path)
        assert "The rest is at the computer" in phone.get("/machines/1/findings").text

    def test_without_the_cookie_only_the_page_that_pairs_answers(
        self, phone: TestClient, book: Book, pairing: Pairing
    ):
        for method, path in [*listed(create_app(book)), *listed(phone_app(book, pairing, host=HOST))]:
            if path in ("/pair", "/static/{name}"):
                continue
            answer = phone.request(method, filled(path), follow_redirects=False)
            assert answer.status_code == 403, (method, path)
            assert "Bench mill" not in answer.text
        assert book.rows(1) == ()

    @pytest.mark.parametrize("host", ["127.0.0.1:8048", "127.0.0.2", "127.0.0.2:8047", "evil.example:8048", ""])
    def test_it_answers_to_its_own_address_and_port_alone(self, phone: TestClient, host: str):
        assert phone.get("/pair", headers={"host": host}).status_code == 421

    def test_a_forged_change_is_refused(self, phone: TestClient, pairing: Pairing, book: Book):
        paired(phone, pairing)
        answer = phone.post(
            "/trials/1/readings", data=reading("0.01", ticket="a"), headers={"origin": "http://evil.example"}
        )
        assert (answer.status_code, book.rows(1)) == (403, ())


class TestPairing:
    """One device, one code, a set time."""

    def test_the_code_lets_one_in_and_is_used_up(self, phone: TestClient, pairing: Pairing):
        code = pairing.code
        cookie = phone.post("/pair", data={"code": code.lower()}, follow_redirects=False).headers["set-cookie"]
        assert re.match(rf"{COOKIE}=[\w-]{{43}};", cookie)
        assert "HttpOnly" in cookie
        assert "samesite=strict" in cookie.lower()
        assert phone.get("/machines/1/trial").status_code == 200
        phone.cookies.clear()
        second = phone.post("/pair", data={"code": code})
        assert second.status_code == 403
        assert "another phone that is let in" in second.text

    def test_letters_that_are_read_as_others_are_taken_as_those(self, clock: Hands):
        pairing = Pairing(lasts_s=10, clock=clock)
        pairing._code = "01Z01Z01"
        assert pairing.pair("oIz-0lz oi")

    def test_wrong_codes_run_out(self, pairing: Pairing):
        code = pairing.code
        for _ in range(MOST_WRONG - 1):
            with pytest.raises(InputError, match="another code than the one shown"):
                pairing.pair("00000000")
        with pytest.raises(InputError, match=f"{MOST_WRONG} wrong codes"):
            pairing.pair("00000000")
        with pytest.raises(InputError, match="no code that lets a phone in"):
            pairing.pair(code)
        pairing.renew()
        assert pairing.pair(pairing.code)

    def test_a_code_ages(self, pairing: Pairing, clock: Hands):
        code = pairing.code
        clock.at_s += CODE_LASTS_S
        with pytest.raises(InputError, match="no code that lets a phone in"):
            pairing.pair(code)
        assert pairing.state == "no code"

    def test_it_ends_by_itself_and_when_told(self, phone: TestClient, pairing: Pairing, clock: Hands):
        paired(phone, pairing)
        clock.at_s += 3600
        answer = phone.get("/machines/1/trial")
        assert (answer.status_code, "The time for a phone is over" in answer.text) == (403, True)
        assert phone.get("/pair").status_code == 403

    def test_a_new_code_at_the_computer_ends_the_phone_before(self, phone: TestClient, pairing: Pairing):
        paired(phone, pairing)
        pairing.renew()
        assert phone.get("/machines/1/trial").status_code == 403

    def test_the_code_is_in_no_log(self, phone: TestClient, pairing: Pairing, caplog: pytest.LogCaptureFixture):
        code = pairing.code
        with caplog.at_level(logging.DEBUG):
            answer = phone.post("/pair", data={"code": code})
        assert code not in "".join(record.getMessage() for record in caplog.records if record.name != "httpx")
        assert code not in str(answer.url) + answer.text


class TestEntries:
    """What a phone sends is kept once, in its place, and asked about where it looks like a slip."""

    def test_sent_twice_is_kept_once_though_its_place_is_taken(
        self, phone: TestClient, pairing: Pairing, book: Book
    ):
        paired(phone, pairing)
        for _ in range(2):
            assert phone.post("/trials/1/readings", data=reading("0.012", ticket="a")).json() == {"kept": True}
        assert [row.entered for row in book.rows(1)] == ["0.012"]

    def test_a_place_taken_meanwhile_is_asked_about(self, phone: TestClient, pairing: Pairing, book: Book):
        paired(phone, pairing)
        phone.post("/trials/1/readings", data=reading("0.012", ticket="a"))
        asked = phone.post("/trials/1/readings", data=reading("0.013", ticket="b"))
        assert "was entered meanwhile: 0.012" in asked.json()["asks"]
        sure = phone.post("/trials/1/readings", data=reading("0.013", ticket="b", sure="0.013"))
        assert sure.json() == {"kept": True}
        assert [(row.homing, row.entered) for row in book.rows(1)] == [(1, "0.012"), (2, "0.013")]

    def test_what_cannot_be_read_says_why(self, phone: TestClient, pairing: Pairing):
        answer = paired(phone, pairing).post("/trials/1/readings", data=reading("twelve", ticket="a"))
        assert (answer.status_code, "twelve" in answer.json()["wrong"]) == (422, True)

    def test_what_waited_has_the_time_it_was_typed_at(self, phone: TestClient, pairing: Pairing, book: Book):
        paired(phone, pairing)
        phone.post("/trials/1/readings", data=reading("0.01", ticket="a", age_s="7200"))
        phone.post("/trials/1/readings", data=reading("0.01", ticket="b", homing=2, age_s="3"))
        early, late = (row.time for row in book.rows(1))
        assert early < late
        assert early[:10] <= late[:10]

    def test_a_test_and_a_check_homing_count_once(self, phone: TestClient, pairing: Pairing, book: Book):
        paired(phone, pairing)
        page = phone.get("/machines/1/trial").text
        item = re.search(r'name="item" value="([^"]+)"', page)[1]
        for _ in range(2):
            check = {"item": item, "outcome": "done", "by": "", "ticket": "t", "age_s": "0"}
            assert phone.post("/machines/1/install/checks", data=check).json() == {"kept": True}
            entry = {"left.Y": "0.004", "right.Y": "-0.002", "ticket": "w", "event": "crash"}
            assert phone.post("/machines/1/watch/entries", data=entry).json() == {"kept": True}
        assert [check.item for check in book.checks(1)] == [item]
        assert [(kept.entry.side, kept.entry.event) for kept in book.log(1)] == [("L", ""), ("R", "")]

    def test_a_check_homing_after_another_is_one_more(self, phone: TestClient, pairing: Pairing, book: Book):
        paired(phone, pairing)
        for ticket in "ab":
            phone.post("/machines/1/watch/entries", data={"left.Y": "0.004", "ticket": ticket})
        assert len(book.log(1)) == 2


class TestBegin:
    """The planned trial begins at the machine, once its stop was tested."""

    @pytest.fixture
    def at_machine(self, book: Book, pairing: Pairing) -> Iterator[TestClient]:
        """A phone that is let in, before any trial; two candidates."""
        machine = book.add_machine(GANTRY | {"axes": {"X": {}, **GANTRY["axes"]}})
        for name in "AB":
            book.add_sensor(machine, name, {"kind": "inductive"})
        with TestClient(phone_app(book, pairing, host=HOST), base_url=f"http://{HOST}") as opened:
            yield paired(opened, pairing)

    def test_the_plan_stands_there_and_leads(self, at_machine: TestClient, book: Book):
        page = at_machine.get("/machines/1/trial").text
        assert re.search(r"<h1>Planned on Y: A and B, \d+ power-ups of \d+ homings each</h1>", page)
        assert "The emergency stop was tested today" in page
        began = at_machine.post("/machines/1/trials", data=TOLD).text
        assert "Before the first power-up" in began
        assert [(trial.name, trial.axis, trial.resolution) for trial in book.trials(1)] == [
            ("Monday", "Y", "0.001 mm")
        ]

    def test_not_before_the_stop_was_tested(self, at_machine: TestClient, book: Book):
        told = {name: text for name, text in TOLD.items() if name != "stop_tested"}
        answer = at_machine.post("/machines/1/trials", data=told)
        assert (answer.status_code, book.trials(1)) == (422, ())
        assert 'name="stop_tested" required aria-invalid="true"' in answer.text
        assert 'value="Monday"' in answer.text

    def test_what_cannot_be_read_is_said_at_its_field(self, at_machine: TestClient, book: Book):
        answer = at_machine.post("/machines/1/trials", data=TOLD | {"resolution": "fine"})
        assert (answer.status_code, book.trials(1)) == (422, ())
        assert 'id="b-f-resolution-error"' in answer.text

    def test_tapped_twice_it_begins_once(self, at_machine: TestClient, book: Book):
        for name in ("Monday", "Once more"):
            at_machine.post("/machines/1/trials", data=TOLD | {"name": name})
        assert [trial.name for trial in book.trials(1)] == ["Monday"]

    def test_a_plan_made_at_the_computer_is_the_one(self, at_machine: TestClient, book: Book, client: TestClient):
        client.post("/machines/1/plan/follow", data={"axis": "X", "minutes": "40"})
        steps = client.get("/machines/1/plan.json?axis=X&minutes=40").json()["power_ups"]
        assert f"Planned on X: A and B, {steps} power-ups" in at_machine.get("/machines/1/trial").text
        at_machine.post("/machines/1/trials", data=TOLD)
        assert [trial.axis for trial in book.trials(1)] == ["X"]

    def test_without_candidates_there_is_none(self, at_machine: TestClient, book: Book):
        for kept in book.sensors(1):
            book.remove_sensor(kept.id)
        page = at_machine.get("/machines/1/trial").text
        assert "Name the candidates at the computer" in page
        assert "Begin the trial" not in page


class TestAhead:
    """The readings a phone may be asked for without the computer are those the computer would ask for."""

    def test_without_a_plan_set_by_set(self):
        step = next_step((), (), sensor="A", axis="Y", sides="both")
        coming = coming_freely(step, (), (), most=12)
        places = [(reading.step.set_label, reading.step.homing, reading.step.side) for reading in coming]
        assert places == [("1", homing, side) for homing in range(1, 6) for side in "LR"] + [
            ("2", 1, "L"),
            ("2", 1, "R"),
        ]

    def test_with_a_plan_as_it_goes_on(self, phone: TestClient, pairing: Pairing, book: Book, client: TestClient):
        for name in "AB":
            book.add_sensor(1, name, {"kind": "inductive"})
        began = {
            "name": "Led",
            "axis": "Y",
            "unit": "mm",
            "resolution": "0.001",
            "protocol": "outside",
            "follow": "yes",
        }
        client.post("/machines/1/trials", data=began)
        paired(phone, pairing)
        for _ in range(3):
            ahead = json.loads(_coming(phone.get("/machines/1/trial?trial=2").text))
            first, second = ahead[:2]
            sent = first["fields"] | {"deviation": "0.01", "ticket": first["at"]}
            sent |= {"repeat": "yes", "again": "yes"} if first["again"] else {}
            assert phone.post("/trials/2/readings", data=sent).json() == {"kept": True}
            then = json.loads(_coming(phone.get("/machines/1/trial?trial=2").text))
            assert then[0] == second
            assert then[0]["says"] in phone.get("/machines/1/trial?trial=2").text


def _coming(page: str) -> str:
    from html import unescape

    return unescape(re.search(r'data-coming="([^"]*)"', page)[1])


class TestAddress:
    """One address in a network of one's own."""

    @pytest.mark.parametrize("text", ["192.168.1.20", "10.0.0.5", "192.0.2.7", "169.254.1.1", "127.0.0.2"])
    def test_of_ones_own_network(self, text: str):
        assert checked_address(text) == text

    @pytest.mark.parametrize(
        "text", ["0.0.0.0", "127.0.0.1", "8.8.8.8", "224.0.0.1", "255.255.255.255", "shed", "::", "1.2.3"]
    )
    def test_any_other(self, text: str):
        with pytest.raises(InputError, match="one address of this computer"):
            checked_address(text)


class TestDesk:
    """The page at the computer opens it, shows the code and ends it."""

    def test_open_then_end(self, book: Book):
        app = create_app(book)
        with TestClient(app, base_url="http://127.0.0.1") as computer:
            assert "No phone can reach this book" in computer.get("/phone").text
            shown = computer.post("/phone", data={"address": "127.0.0.3", "hours": "2"}).text
            door = app.state.phone.opened
            assert (door.address, "<svg" in shown, door.pairing.code[:4] in shown) == ("127.0.0.3", True, True)
            assert "anyone in that network" in shown.lower()
            assert door.pairing.code not in computer.get("/phone.json").text
            door.pairing.pair(door.pairing.code)
            assert "One phone is let in" in computer.get("/phone").text
            assert "Scan this" in computer.post("/phone/code").text
            computer.post("/phone/end")
            assert app.state.phone.opened is None
            assert not door.thread.is_alive()

    @pytest.mark.parametrize(
        ("address", "hours"), [("0.0.0.0", "4"), ("192.0.2.7", "4"), ("127.0.0.3", "0"), ("127.0.0.3", "99")]
    )
    def test_what_cannot_be_opened_says_why(self, client: TestClient, address: str, hours: str):
        answer = client.post("/phone", data={"address": address, "hours": hours})
        assert (answer.status_code, 'role="alert"' in answer.text) == (422, True)


def test_the_script_uses_nothing_that_plain_http_lacks():
    from holdzero.web.page import HERE

    script = (HERE / "static" / "phone.js").read_text(encoding="utf-8")
    assert not re.search(r"randomUUID|crypto\.subtle|serviceWorker|wakeLock|navigator\.clipboard|caches\.", script)
