"""People: beyond this computer everything is refused over plain http, and to whoever has not signed in."""

import asyncio
import re
import shutil
import ssl
import subprocess
import threading
import time
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from holdzero.case.in_book import names_of_rows
from holdzero.cli.open import command as open_command
from holdzero.cli.people import command
from holdzero.errors import InputError
from holdzero.store import Book, NoAnswer, open_book, read_archive, rescue
from holdzero.store import secret as secret_kept
from holdzero.store.people import Person
from holdzero.store.who import acting, signed_in
from holdzero.tell.trail import tell_changes
from holdzero.web.app import create_app
from holdzero.web.bound import bound
from holdzero.web.people.beyond import ListenAsked, config_of
from holdzero.web.people.sessions import (
    LASTS_S,
    OF_ADDRESS,
    OF_NAME,
    UNUSED_S,
    WITHIN_S,
    Sessions,
    SignInTries,
)
from holdzero.web.people.signed import COOKIE, OPEN
from holdzero.web.serve import EndingServer

HOST, PASSWORD = "127.0.0.3", "four words of our own"
ANN = Person(1, "Ann", "")


@pytest.fixture(autouse=True)
def cheap(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(secret_kept, "_LOG_N", 4)  # the cost itself is not what these tests are about
    nobody = secret_kept.sealed("x" * 20)
    monkeypatch.setattr(secret_kept, "_NOBODY", nobody)


@pytest.fixture
def book(new_book: Path | str) -> Iterator[Book]:
    """In a file, and on a server."""
    with open_book(new_book) as opened:
        yield opened


@pytest.fixture
def club(book: Book) -> Iterator[TestClient]:
    """The pages as a network sees them; nobody is signed in yet."""
    book.add_person("Ann", PASSWORD)
    with TestClient(create_app(book, hosts=(HOST,), sign_in=True), base_url=f"https://{HOST}") as opened:
        yield opened


def signed(club: TestClient) -> TestClient:
    answer = club.post("/sign-in", data={"name": "Ann", "password": PASSWORD}, follow_redirects=False)
    assert answer.status_code == 303
    return club


def listed(app) -> list[tuple[str, str]]:
    """Every route of an app, those of included routers too: method and address."""
    routes: list[tuple[str, str]] = []
    waiting = list(app.routes)
    while waiting:
        route = waiting.pop()
        waiting += getattr(getattr(route, "original_router", None), "routes", [])
        routes += [(method, route.path) for method in getattr(route, "methods", None) or ()]
    return sorted({(method, re.sub(r"\{[^}]*\}", "1", path)) for method, path in routes})


class TestEveryRoute:
    """The route table is walked."""

    def test_refused_to_whoever_has_not_signed_in(self, club: TestClient, book: Book):
        files = ("holdzero.css", "holdzero.js", "icon.svg")
        assert ("/sign-in", *(f"/static/{name}" for name in files)) == OPEN
        routes = [route for route in listed(club.app) if route[1] not in OPEN]
        assert len(routes) > 150
        for method, path in routes:
            answer = club.request(method, path, follow_redirects=False)
            assert answer.status_code == 401, (method, path)
        assert book.machines() == ()
        assert club.get("/static/capture.js").status_code == 401

    def test_refused_over_plain_http_be_one_signed_in_or_not(self, club: TestClient):
        cookie = {"cookie": f"{COOKIE}={signed(club).cookies[COOKIE]}"}
        for method, path in listed(club.app):
            answer = club.request(method, f"http://{HOST}{path}", headers=cookie, follow_redirects=False)
            assert answer.status_code == 403, (method, path)

    @pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "evil.example", "127.0.0.30"])
    def test_refused_under_another_name(self, club: TestClient, host: str):
        assert signed(club).get("/", headers={"host": host}).status_code == 421

    def test_a_forged_change_is_refused(self, club: TestClient, book: Book):
        answer = signed(club).post("/demo", headers={"origin": "https://evil.example"})
        assert (answer.status_code, book.machines()) == (403, ())

    def test_no_phone_is_opened_from_a_network(self, club: TestClient):
        assert signed(club).get("/phone").status_code == 404


class TestSigningIn:
    """In by name and password, out by a button or when taken away."""

    def test_it_opens_the_book_in_ones_name_and_ends(self, club: TestClient, book: Book):
        cookie = club.post(
            "/sign-in", data={"name": " ann ", "password": PASSWORD}, follow_redirects=False
        ).headers["set-cookie"]
        for part in ("__Host-", "HttpOnly", "Secure", "Path=/", "SameSite=strict"):
            assert part.lower() in cookie.lower()
        assert "Sign out Ann" in club.get("/").text
        word = club.cookies[COOKIE]
        club.post("/sign-out")
        assert club.get("/", headers={"cookie": f"{COOKIE}={word}"}).status_code == 401

    def test_what_is_changed_is_in_ones_name(self, club: TestClient, book: Book, monkeypatch: pytest.MonkeyPatch):
        names = []
        kept = Book.keep_setting
        monkeypatch.setattr(Book, "keep_setting", lambda self, *a: (names.append(signed_in()), kept(self, *a))[1])
        signed(club).post("/system", data={"system": "inch", "back": "/"})
        assert names == ["Ann"]
        assert signed_in() == ""
        assert (book.trail()[0].actor, book.trail()[0].after) == ("Ann", "inch")

    def test_a_wrong_password_and_a_wrong_name_read_the_same(self, club: TestClient):
        answers = [
            club.post("/sign-in", data={"name": name, "password": "not this one at all"})
            for name in ("Ann", "Nobody")
        ]
        assert {answer.status_code for answer in answers} == {403}
        assert len({answer.text.replace("Nobody", "Ann") for answer in answers}) == 1

    @pytest.mark.parametrize("name", ["Ann", "Nobody"])
    def test_too_many_tries_have_to_wait(self, club: TestClient, name: str):
        for _ in range(OF_NAME):
            assert club.post("/sign-in", data={"name": name, "password": "wrong"}).status_code == 403
        answer = club.post("/sign-in", data={"name": name, "password": PASSWORD})
        assert (answer.status_code, "wait 15 minutes" in answer.text) == (429, True)

    def test_who_is_taken_away_is_out_at_once(self, club: TestClient, book: Book):
        signed(club)
        book.remove_person("Ann")
        assert club.get("/").status_code == 401

    def test_who_is_taken_away_in_another_program_is_out_at_once(self, club: TestClient, book: Book):
        signed(club)
        with open_book(book.path or book.address, create=False) as other:
            with acting("Ben"):
                other.remove_person("ann")
            assert (other.trail()[0].actor, other.trail()[0].about) == ("Ben", "person")
        assert club.get("/").status_code == 401
        assert club.post("/demo").status_code == 401
        again = club.post("/sign-in", data={"name": "Ann", "password": PASSWORD})
        assert (again.status_code, book.machines(), book.people()) == (403, (), ())

    def test_another_password_ends_what_was_opened_with_the_one_before(self, club: TestClient, book: Book):
        signed(club)
        assert club.get("/").status_code == 200
        book.add_person("Ann", "quite other words than before")
        assert club.get("/").status_code == 401

    def test_two_programs_know_the_same_people(self, club: TestClient, book: Book):
        """One who was added or took another password in one signs in at the other; a session is of one alone."""
        word = signed(club).cookies[COOKIE]
        with open_book(book.path or book.address, create=False) as second:
            second.add_person("Ben", PASSWORD)
            second.add_person("Ann", "other words of ours")
            app = create_app(second, hosts=(HOST,), sign_in=True)
            with TestClient(app, base_url=f"https://{HOST}") as other:
                assert other.get("/", headers={"cookie": f"{COOKIE}={word}"}).status_code == 401
                refused = other.post("/sign-in", data={"name": "Ann", "password": PASSWORD})
                assert refused.status_code == 403
        club.post("/sign-out")
        ben = {"name": "Ben", "password": PASSWORD}
        assert club.post("/sign-in", data=ben, follow_redirects=False).status_code == 303
        assert "Sign out Ben" in club.get("/").text

    def test_a_server_that_goes_away_lets_nobody_in(self, club: TestClient, book: Book, monkeypatch):
        """Whether one still may cannot be known then: one line, and the session goes on once it is back."""

        def gone():
            raise NoAnswer(found="no answer from the server", need="the server", do="try again in a moment")

        signed(club)
        with monkeypatch.context() as away:
            away.setattr(book.shelf, "reading", gone)
            answer = club.get("/")
            assert (answer.status_code, "no answer from the server" in answer.text) == (503, True)
            assert "data-refused" in club.post("/system", data={"system": "inch", "back": "/"}).text
            trying = club.post("/sign-in", data={"name": "Ann", "password": PASSWORD})
            assert trying.status_code == 503
        assert club.get("/").status_code == 200
        assert book.system == "metric"

    def test_a_live_stream_ends_with_the_session(self, club: TestClient, book: Book):
        book.add_trial(book.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": {}}}), name="First")
        signed(club)
        word = club.cookies[COOKIE]
        with ThreadPoolExecutor(1) as beside:  # a browser's own loop may run in this thread
            beside.submit(asyncio.run, asyncio.wait_for(_stream_ended(club.app, word), timeout=20)).result()

    def test_a_forged_cookie_opens_nothing(self, club: TestClient):
        assert club.get("/", headers={"cookie": f"{COOKIE}=x; {COOKIE}="}).status_code == 401


async def _stream_ended(app, word: str) -> None:
    """Read a stream until its first line came, sign out, and read on until it ends."""
    headers = [(b"host", HOST.encode()), (b"cookie", f"{COOKIE}={word}".encode())]
    scope = {"type": "http", "method": "GET", "path": "/trials/1/live", "raw_path": b"/trials/1/live"}
    scope |= {
        "scheme": "https",
        "headers": headers,
        "query_string": b"",
        "client": (HOST, 1),
        "server": (HOST, 443),
    }
    scope |= {"http_version": "1.1", "root_path": "", "asgi": {"version": "3.0"}}
    lines = []

    async def send(message) -> None:
        if message.get("body"):
            lines.append(message["body"])
            app.state.sessions.end(word)

    async def receive():
        await asyncio.sleep(60)

    await app(scope, receive, send)
    assert lines[0].startswith(b"event: changed")


class TestSessions:
    """How long, and how often it may be tried."""

    def test_they_end_unused_and_in_any_case(self):
        now = [0.0]
        sessions = Sessions(clock=lambda: now[0])
        idle, used = sessions.begin(ANN), sessions.begin(ANN)
        while now[0] < LASTS_S - UNUSED_S / 2:
            assert sessions.of(used) is ANN
            now[0] += UNUSED_S / 2
        assert sessions.of(idle) is None
        assert sessions.of(used) is ANN
        now[0] = LASTS_S
        assert sessions.of(used) is None

    def test_an_address_may_not_try_name_after_name(self):
        now = [0.0]
        tries = SignInTries(clock=lambda: now[0])
        for number in range(OF_ADDRESS):
            assert tries.wait_s(f"name {number}", "192.0.2.9") == 0
            tries.wrong(f"name {number}", "192.0.2.9")
        assert tries.wait_s("another", "192.0.2.9") == WITHIN_S
        assert tries.wait_s("another", "192.0.2.8") == 0
        now[0] = WITHIN_S
        assert tries.wait_s("another", "192.0.2.9") == 0


class TestSecrets:
    """What is kept of a password checks it, and goes into nothing that leaves the book."""

    def test_scrypt_with_a_salt_of_its_own(self):
        first, second = secret_kept.sealed(PASSWORD), secret_kept.sealed(PASSWORD)
        assert first != second
        assert PASSWORD not in first
        assert secret_kept.fits(PASSWORD, first)
        assert not secret_kept.fits(PASSWORD + " ", first)
        assert not secret_kept.fits("x" * 20, "")

    def test_rfc_7914_section_12(self):
        """scrypt("password", "NaCl", N=1024, r=8, p=16), the first 32 bytes of the 64 printed."""
        made = secret_kept._made("password", b"NaCl", log_n=10, r=8, p=16)
        assert made.hex() == "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"

    @pytest.mark.parametrize("password", ["", "nine char", "x" * 1001])
    def test_its_length(self, book: Book, password: str):
        with pytest.raises(InputError, match="characters; needed is at"):
            book.add_person("Ann", password)

    def test_neither_archive_nor_rescue_nor_copy_has_it(self, club: TestClient, book: Book, tmp_path: Path):
        with book._engine.connect() as c:
            kept = c.exec_driver_sql("select secret from person").scalar()
        book.export(tmp_path / "out.zip")
        with zipfile.ZipFile(tmp_path / "out.zip") as archive:
            whole = b"".join(archive.read(name) for name in archive.namelist()).decode()
        assert "Ann" not in whole
        assert kept not in whole
        read_archive(tmp_path / "out.zip", tmp_path / "again.holdzero")
        (tmp_path / "copy.holdzero").write_bytes(signed(club).get("/book/copy.holdzero").content)
        if book.path is None:
            book.back_up(tmp_path / "saved.holdzero")
        else:
            rescue(book.path, tmp_path / "saved.holdzero")
        for name in ("again", "saved", "copy"):
            path = tmp_path / f"{name}.holdzero"
            assert kept.encode() not in path.read_bytes()
            with open_book(path) as other:
                assert other.people() == ()

    def test_no_page_has_it(self, club: TestClient, book: Book):
        for path in ("/", "/machines.json", "/files", "/keys"):
            assert "scrypt$" not in signed(club).get(path).text


class TestTerminal:
    """`holdzero people`."""

    def run(self, *words: str, typed: str = "") -> tuple[int, str, object]:
        done = CliRunner().invoke(command, list(words), input=typed)
        return done.exit_code, done.output, done.exception

    def test_add_list_and_take_away(self, new_book: Path | str):
        path = str(new_book)
        open_book(path).close()
        assert "Nobody yet" in self.run(path)[1]
        assert self.run(path, "--add", "Ann  Lee", typed=f"{PASSWORD}\n")[1] == "Ann Lee may sign in.\n"
        assert self.run(path)[1].startswith("Ann Lee, since 20")
        assert "no more" in self.run(path, "--take-away", "ann lee")[1]
        assert "Nobody yet" in self.run(path)[1]
        assert isinstance(self.run(path, "--take-away", "Ann Lee")[2], InputError)

    def test_the_trail_says_who_may_and_no_password(self, book: Book):
        with acting("Ann"):
            book.add_person("Ben", PASSWORD)
            book.add_person("Ben", "other words of ours")
            book.remove_person("Ben")
        told = [change.words for change in tell_changes(book.trail(), names_of_rows(book))]
        acts = ("may sign in no more", "has another password", "may sign in")
        assert told == [f"person 1 (Ben): {act}" for act in acts]
        assert {change.actor for change in book.trail()} == {"Ann"}
        assert not re.search(r"scrypt|words", str(book.trail()))

    def test_a_name_that_is_added_twice_at_once_is_one_person(self, book: Book):
        gate = threading.Barrier(2)
        with open_book(book.path or book.address, create=False) as other:

            def add(into: Book) -> None:
                gate.wait()
                into.add_person("Ann", PASSWORD)

            threads = [threading.Thread(target=add, args=(into,)) for into in (book, other)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
        assert [person.name for person in book.people()] == ["Ann"]

    def test_another_password_for_the_same_name(self, book: Book):
        assert book.add_person("Ann", PASSWORD) == book.add_person("ANN", "other words of our own")
        assert book.signing_in("Ann", PASSWORD) is None
        assert book.signing_in("ann", "other words of our own").name == "Ann"

    def test_it_takes_no_password_as_an_argument(self):
        assert all("password" not in option for parameter in command.params for option in parameter.opts)


class TestListening:
    """What is needed before a book is open to a network."""

    @pytest.mark.parametrize(
        "address", ["0.0.0.0", "0.0.0.0:8443", "[::]:8443", "shed", "127.0.0.3:port", "127.0.0.3:99999", ""]
    )
    def test_only_one_address(self, address: str):
        with pytest.raises(InputError, match="one address of this computer"):
            _ = ListenAsked(address=address).place

    @pytest.mark.parametrize(
        ("address", "place"),
        [
            ("127.0.0.3", ("127.0.0.3", 8443)),
            ("127.0.0.3:9000", ("127.0.0.3", 9000)),
            ("[fe80::1]:9000", ("fe80::1", 9000)),
        ],
    )
    def test_with_a_port_or_without(self, address: str, place: tuple[str, int]):
        assert ListenAsked(address=address).place == place

    def test_not_without_tls_nor_people(self, tmp_path: Path):
        asked = ListenAsked(address=HOST)
        with pytest.raises(InputError, match="no certificate"):
            asked.checked([ANN])
        with pytest.raises(InputError, match="nobody may sign in"):
            ListenAsked(address=HOST, proxy="127.0.0.1").checked([])
        missing = tmp_path / "no.pem"
        with pytest.raises(InputError, match="cannot be used"):
            ListenAsked(address=HOST, certificate=missing, key=missing).checked([ANN])
        done = CliRunner().invoke(open_command, [str(tmp_path / "b.holdzero"), "--listen", HOST])
        assert isinstance(done.exception, InputError)

    @pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl to make a certificate with")
    def test_over_tls(self, book: Book, tmp_path: Path):
        certificate, key = tmp_path / "c.pem", tmp_path / "k.pem"
        make = ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]
        make += ["-keyout", str(key), "-out", str(certificate), "-days", "2", "-subj", "/CN=shed"]
        subprocess.run([*make, "-addext", f"subjectAltName=IP:{HOST}"], check=True, capture_output=True)
        book.add_person("Ann", PASSWORD)
        asked = ListenAsked(address=f"{HOST}:0", certificate=certificate, key=key).checked(book.people())
        with (
            served(book, asked) as port,
            httpx.Client(
                verify=ssl.create_default_context(cafile=str(certificate)), base_url=f"https://{HOST}:{port}"
            ) as web,
        ):
            assert web.get("/").status_code == 401
            signing = {"name": "Ann", "password": PASSWORD}
            assert web.post("/sign-in", data=signing).headers["location"] == "/"
            assert "hold zero" in web.get("/").text

    def test_behind_a_proxy_only_the_proxy_says_whom_it_speaks_for(self, book: Book):
        book.add_person("Ann", PASSWORD)
        forwarded = {"x-forwarded-proto": "https", "x-forwarded-for": "192.0.2.9"}
        for proxy, status in (("127.0.0.1", 401), ("192.0.2.1", 403)):
            asked = ListenAsked(address=f"{HOST}:0", proxy=proxy).checked(book.people())
            with served(book, asked) as port, httpx.Client(base_url=f"http://{HOST}:{port}") as web:
                assert web.get("/", headers=forwarded).status_code == status
                assert web.get("/").status_code == 403


class served:  # noqa: N801 - reads as what it does
    """The pages as they are served, in a thread; gives the port."""

    def __init__(self, book: Book, asked: ListenAsked) -> None:
        app = create_app(book, hosts=(HOST,), sign_in=True)
        self.listening = bound(*asked.place)
        config = config_of(app, asked)
        config.lifespan = "off"
        self.server = EndingServer(config, ending=app.state.ending)
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.listening]})

    def __enter__(self) -> int:
        self.thread.start()
        while not self.server.started:
            time.sleep(0.01)
        return self.listening.getsockname()[1]

    def __exit__(self, *_: object) -> None:
        self.server.should_exit = True
        self.thread.join()
