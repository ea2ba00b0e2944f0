"""Faults: a failed sync, a short write, a full disk, a torn page, a page that cannot be read; by `faults`.

What was acknowledged is there after a restart; what was not is said, with a status of its own, and comes in when
it is sent again. The server is a process of its own, asked as a browser asks it.
"""

import contextlib
import http.client
import os
import random
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode

import pytest

import faults
from holdzero.store import check, open_book

pytestmark = pytest.mark.usefixtures("_failing_files")
TESTS = Path(__file__).parents[1]
MACHINE = {"machine": {"name": "Bench mill"}, "axes": {"X": {}}}
FORKING = """
import os, socket, sys, tempfile
from pathlib import Path
import faults, uvicorn
import holdzero.cli.book, holdzero.cli.import_
from holdzero.cli import main
from holdzero.store import open_book
from holdzero.web.app import create_app
with tempfile.TemporaryDirectory() as folder:
    uvicorn.Config(create_app(open_book(folder + "/warm")), lifespan="off").load()
for line in sys.stdin:
    kind, book, *words = line.rstrip("\\n").split("\\t")
    child = os.fork()
    if child == 0:
        faults.install(book, Path(book).with_name("plan"))
        if kind == "serve":
            listening = socket.socket()
            listening.bind(("127.0.0.1", 0))
            listening.listen(16)
            app = create_app(open_book(book))
            print(listening.getsockname()[1], os.getpid(), flush=True)
            uvicorn.Server(uvicorn.Config(app, log_level="critical", lifespan="off")).run(sockets=[listening])
        with Path(book).with_name("aside").open("w") as aside:
            os.dup2(aside.fileno(), 2)
            os.dup2(aside.fileno(), 1)
        sys.argv = ["holdzero", *words]
        try:
            main()
        except SystemExit as ended:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(ended.code or 0)
    print(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), flush=True)
"""


@pytest.fixture(scope="module")
def _failing_files() -> None:
    faults.need_faults()


@pytest.fixture(scope="module")
def forking(_failing_files: None) -> Iterator[subprocess.Popen]:
    """A process that has loaded everything and forks what is asked for: a server of a book, or a command."""
    told = os.environ | {"PYTHONPATH": os.pathsep.join([str(TESTS), os.environ.get("PYTHONPATH", "")])}
    process = subprocess.Popen([sys.executable, "-c", FORKING], stdin=-1, stdout=-1, text=True, env=told)
    yield process
    process.stdin.close()
    process.wait(timeout=20)
    process.stdout.close()


def ask(process: subprocess.Popen, *words: object) -> str:
    process.stdin.write("\t".join(map(str, words)) + "\n")
    process.stdin.flush()
    return process.stdout.readline()


@pytest.fixture
def path(tmp_path: Path) -> Path:
    with open_book(tmp_path / "shed.holdzero") as book:
        machine = book.add_machine(MACHINE)
        book.add_sensor(machine, "A", {})
        book.add_trial(machine, name="First", axis="X")
    (tmp_path / "plan").write_text("")
    return tmp_path / "shed.holdzero"


class Asked:
    """A server of a book whose files fail as the plan says."""

    def __init__(self, port: int, plan: Path) -> None:
        self.port, self.plan = port, plan
        self.acknowledged: list[int] = []

    def enter(self, number: int) -> tuple[int, str]:
        """Send one homing, as its form does; return status and page, 0 where no answer came."""
        new = {"sensor": "A", "axis": "X", "set": "1", "deviation": f"{number / 1000} mm", "ticket": str(number)}
        client = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        try:
            kind = {"content-type": "application/x-www-form-urlencoded"}
            client.request("POST", "/trials/1/readings", urlencode(new), kind)
            answer = client.getresponse()
            page = answer.read().decode()
        except (ConnectionError, http.client.HTTPException):
            return 0, ""
        finally:
            client.close()
        if answer.status == 303:
            self.acknowledged.append(number)
        return answer.status, page


@contextmanager
def server(forking: subprocess.Popen, path: Path) -> Iterator[Asked]:
    port, pid = map(int, ask(forking, "serve", path).split())
    try:
        yield Asked(port, path.with_name("plan"))
    finally:
        with contextlib.suppress(ProcessLookupError):  # its power may be gone already
            os.kill(pid, signal.SIGKILL)  # nothing is put right on the way out
        assert forking.stdout.readline().strip() in ("-9", "137")


def kept(path: Path) -> list[int]:
    with open_book(path, create=False) as book:
        return [round(row.deviation_mm * 1000) for row in book.rows(1)]


def test_what_was_not_acknowledged_is_said_and_comes_in_when_it_is_sent_again(forking, path: Path):
    number = 1
    with server(forking, path) as asked:
        assert asked.enter(number)[0] == 303
        for fault, status, words in (
            ("sync", 503, "disk that does not answer"),
            ("full", 507, "no room left on the disk"),
            ("short", 507, "no room left on the disk"),
            ("write", 503, "disk that does not answer"),
        ):
            number += 1
            asked.plan.write_text(f"{fault} log 1")
            refused = asked.enter(number)
            assert refused[0] == status, fault
            assert words in refused[1].lower()
            assert "data-refused" in refused[1]  # the page's script says it beside the form, which stays as typed
            assert asked.enter(number)[0] == 303, fault
    assert asked.acknowledged == [1, 2, 3, 4, 5]
    assert kept(path) == asked.acknowledged
    assert check(path).wrong == ()


def test_after_a_failed_sync_nothing_is_taken_until_all_is_written_anew(forking, path: Path):
    """The system may hold for written what is not: the next sync alone proves nothing."""
    with server(forking, path) as asked:
        asked.enter(1)
        asked.plan.write_text("sync log 1")
        assert asked.enter(2)[0] == 503
        log = path.with_name(path.name + "-wal")
        assert log.stat().st_size
        asked.plan.write_text("sync book 1\nsync book 1")  # as the last connection goes, and anew
        assert asked.enter(2)[0] == 503
        assert asked.enter(2)[0] == 303
    assert kept(path) == [1, 2]


def test_a_page_torn_by_the_end_of_the_power(forking, path: Path):
    """Half a page is written, then nothing more: of the log, and of the book while the log goes into it."""
    acknowledged: list[int] = []
    for plan in ("torn log 60", "torn log 75", "torn book 2"):
        with server(forking, path) as asked:
            asked.plan.write_text(plan)
            if "book" in plan:  # the log goes into the book after a failed sync
                asked.enter(acknowledged[-1] + 1)
                asked.plan.write_text("sync log 1")
                assert asked.enter(acknowledged[-1] + 2)[0] in (503, 303)
                asked.plan.write_text(plan)
            number = max([*acknowledged, *asked.acknowledged], default=0) + 1
            while asked.enter(number)[0]:
                number += 1
                assert number < 60, f"{plan}: the power did not go"
            acknowledged += asked.acknowledged
        asked.plan.write_text("")
        assert set(acknowledged) <= set(kept(path)) <= {*acknowledged, number}
        assert check(path).wrong == ()


def by_chance(forking, path: Path, seed: int, *, rounds: int) -> None:
    rng, sent = random.Random(seed), 0
    with server(forking, path) as asked:
        for _ in range(rounds):
            place = rng.choice(("log", "log", "log", "book"))
            asked.plan.write_text(f"{rng.choice(('sync', 'full', 'short', 'write'))} {place} {rng.randint(1, 4)}")
            sent += 1
            while asked.enter(sent)[0] != 303:
                pass
    assert asked.acknowledged == list(range(1, sent + 1))
    assert kept(path) == asked.acknowledged
    assert check(path).wrong == ()


def test_30_faults_by_chance(forking, path: Path):
    by_chance(forking, path, 1, rounds=30)


@pytest.mark.checks
@pytest.mark.parametrize("seed", range(2, 12))
def test_1000_faults_by_chance(forking, path: Path, seed: int):
    by_chance(forking, path, seed, rounds=100)


def many(path: Path) -> Path:
    text = "sensor,axis,set,deviation_mm\n" + "".join(f"A,X,{i // 40},{i / 1e4}\n" for i in range(2000))
    path.with_name("many.csv").write_text(text)
    return path.with_name("many.csv")


class TestImport:
    """Readings come in with their trial, all of them or none."""

    def trials(self, path: Path) -> list[tuple[str, int]]:
        with open_book(path, create=False) as book:
            return [(trial.name, len(book.rows(trial.id))) for trial in book.trials(1)]

    @pytest.mark.parametrize("plan", ["full log 20", "torn log 20", "sync log 1"])
    def test_a_fault_in_the_midst(self, forking, path: Path, plan: str):
        path.with_name("plan").write_text(plan)
        status = ask(forking, "run", path, "import", many(path), "--book", path)
        text = path.with_name("aside").read_text()
        assert (status.strip(), text.count("\n")) == (("137", 0) if "torn" in plan else ("2", 1)), text
        assert self.trials(path) == [("First", 0)]
        assert check(path).wrong == ()

    def test_a_slip_of_ours_in_the_midst(self, path: Path, monkeypatch: pytest.MonkeyPatch):
        """After the trial is made and its readings are in, before it is said."""
        from damaged import told
        from holdzero.store.book import Book

        own = Book.import_readings

        def slips(self, *args, **kwargs):
            own(self, *args, **kwargs)
            raise ZeroDivisionError

        monkeypatch.setattr(Book, "import_readings", slips)
        with pytest.raises(ZeroDivisionError):
            told("import", many(path), "--book", path)
        assert self.trials(path) == [("First", 0)]


@pytest.mark.parametrize("number", [1, 3, 9])
def test_a_page_that_cannot_be_read_is_said_in_one_sentence(forking, path: Path, number: int):
    path.with_name("plan").write_text(f"read book {number}")
    status = ask(forking, "run", path, "book", "export", path, path.with_name("out.zip"))
    text = path.with_name("aside").read_text()
    assert (status.strip(), text.count("\n")) == ("2", 1), text
    assert re.search("found a (disk that does not answer|damaged file);", text)
    assert not path.with_name("out.zip").exists()
