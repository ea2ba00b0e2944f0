"""Guard: loopback only, Host header checked, same-origin checked on every change, body limit."""

import pytest
from starlette.testclient import TestClient

from holdzero.web import app
from holdzero.web.app import create_app
from holdzero.web.guard import HEADERS, LOOPBACK, refusal


def refused(method: str = "GET", **headers: str) -> int | None:
    given = {name.replace("_", "-"): value for name, value in headers.items()}
    answer = refusal(method, given, LOOPBACK)
    return answer.status_code if answer else None


class TestHost:
    """A foreign name in the Host header is a rebound name service entry."""

    @pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8047", "localhost:1", "[::1]:8047", "LOCALHOST"])
    def test_this_computer_by_its_own_names(self, host: str):
        assert refused(host=host) is None

    @pytest.mark.parametrize(
        "host",
        ["", "evil.example", "evil.example:8047", "127.0.0.1.evil.example", "10.0.0.5", "[", "[::1", "\u2100"],
    )
    def test_any_other_name_is_a_rebound_one(self, host: str):
        assert refused(host=host) == 421


class TestChanges:
    """Sec-Fetch-Site and Origin, as the Fetch standard has browsers send them."""

    HOST = "127.0.0.1:8047"

    def test_from_our_own_pages(self):
        own = {"host": self.HOST, "origin": f"http://{self.HOST}", "sec_fetch_site": "same-origin"}
        assert refused("POST", **own) is None

    def test_from_a_program_that_is_no_browser(self):
        assert refused("POST", host=self.HOST) is None

    @pytest.mark.parametrize("site", ["cross-site", "same-site", "none"])
    def test_from_another_site(self, site: str):
        assert refused("POST", host=self.HOST, sec_fetch_site=site) == 403

    @pytest.mark.parametrize(
        "origin", ["http://evil.example", "null", "http://127.0.0.1:9999", "http://localhost:8047", "http://["]
    )
    def test_from_another_origin(self, origin: str):
        assert refused("POST", host=self.HOST, origin=origin) == 403

    @pytest.mark.parametrize(("referer", "status"), [("http://evil.example/page", 403), (f"http://{HOST}/", None)])
    def test_from_a_page_that_sends_no_origin(self, referer: str, status: int | None):
        assert refused("POST", host=self.HOST, referer=referer) == status

    def test_an_address_that_is_none_is_no_slip(self, client: TestClient):
        own = {"origin": "http://127.0.0.1", "referer": "http://["}
        assert client.post("/system", data={"system": "inch"}, headers=own).status_code == 200

    def test_reading_is_not_asked_for_its_origin(self):
        assert refused("GET", host=self.HOST, sec_fetch_site="cross-site") is None


class TestInTheApp:
    """The same through a whole request."""

    def test_every_answer_carries_the_policy(self, client: TestClient):
        for address in ("/", "/static/holdzero.css", "/nowhere"):
            headers = client.get(address).headers
            assert {name: headers[name] for name in HEADERS} == HEADERS, address

    @pytest.mark.parametrize("address", ["/", "/static/holdzero.css", "/nowhere", "/keys"])
    def test_head_is_answered_as_get_without_a_body(self, client: TestClient, address: str):
        head, whole = client.head(address), client.get(address)
        assert (head.status_code, head.content) == (whole.status_code, b"")
        assert head.headers["content-length"] == whole.headers["content-length"]

    def test_head_of_a_live_stream_ends(self, client: TestClient, book):
        book.add_trial(book.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": {}}}), name="First")
        assert client.head("/trials/1/live").status_code == 200

    def test_no_data_is_kept_by_a_browser(self, client: TestClient):
        for address in ("/", "/nowhere", "/keys"):
            assert client.get(address).headers["cache-control"] == "no-store", address

    def test_a_forged_change_changes_nothing(self, client: TestClient, book):
        answer = client.post("/demo", headers={"origin": "http://evil.example"})
        assert answer.status_code == 403
        assert book.machines() == ()

    def test_a_rebound_name_sees_nothing(self, client: TestClient):
        answer = client.get("/", headers={"host": "evil.example"})
        assert answer.status_code == 421
        assert "hold zero" not in answer.text

    def test_too_much_at_once_is_refused_in_words(self, book, monkeypatch: pytest.MonkeyPatch):
        monkeypatch.setattr(app, "MOST_BYTES", 1000)
        with TestClient(create_app(book), base_url="http://127.0.0.1") as small:
            answer = small.post("/machines", data={"name": "x" * 2000})
        assert answer.status_code == 413
