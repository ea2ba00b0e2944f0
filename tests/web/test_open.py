"""`holdzero open` and `serve`: loopback only, ends when told to."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero.cli import open_at
from holdzero.cli.open import command
from holdzero.errors import BookError, InputError
from holdzero.store import Book, open_book
from holdzero.web import serve


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C reaches a child in another way there")
def test_it_serves_the_book_and_ends_on_ctrl_c(tmp_path: Path):
    run = [sys.executable, "-m", "holdzero", "open", str(tmp_path / "new.holdzero"), "--no-browser", "--port"]
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    served = subprocess.Popen([*run, str(port)], stdout=subprocess.PIPE, text=True)
    assert served.stdout is not None
    said = served.stdout.readline()
    assert said == f"new.holdzero is open at http://127.0.0.1:{port}/ (Ctrl-C ends)\n"
    with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=20) as answer:
        assert b"Does this machine hold zero?" in answer.read()
    served.send_signal(signal.SIGINT)
    assert served.wait(timeout=20) in (0, -signal.SIGINT, 130)
    served.stdout.close()


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C reaches a child in another way there")
@pytest.mark.parametrize("words", [["open", "shed.holdzero"], ["demo"]], ids=["open", "demo"])
def test_ctrl_c_ends_it_at_once_and_quietly_with_a_page_open(tmp_path: Path, words: list[str]):
    """Its page holds a live stream open; that is neither waited for nor cut off with a traceback."""
    with open_book(tmp_path / "shed.holdzero") as book:
        book.add_trial(book.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": {}}}), name="First")
    run = [sys.executable, "-m", "holdzero", *words, "--no-browser"]
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE, "text": True}
    with subprocess.Popen(run, cwd=tmp_path, **pipes) as served:
        address = next(at[1] for line in served.stdout if (at := re.search(r"open at (http://\S+/)", line)))
        with urllib.request.urlopen(f"{address}trials/1/live", timeout=20) as stream:
            assert stream.readline() == b"event: changed\n"
            told = time.monotonic()
            served.send_signal(signal.SIGINT)
            stream.read()
            assert time.monotonic() - told < 2
        assert served.wait(timeout=20) in (0, -signal.SIGINT, 130)
        assert served.stderr.read().strip() == ""  # a line end after the ^C


@pytest.mark.skipif(sys.platform != "linux", reason="all of 127.0.0.0/8 is this computer there alone")
def test_it_opens_one_address_to_a_phone_and_tells_no_code(tmp_path: Path):
    run = [sys.executable, "-m", "holdzero", "open", str(tmp_path / "new.holdzero"), "--no-browser"]
    with subprocess.Popen([*run, "--phone", "127.0.0.3"], stdout=subprocess.PIPE, text=True) as served:
        lines = [served.stdout.readline() for _ in range(3)]
        address = re.search(r"One phone may come in at (http://127\.0\.0\.3:\d+/) for 4 h", lines[1])[1]
        assert "read along" in lines[2]
        assert not re.search(r"\b[0-9A-Z]{4} ?[0-9A-Z]{4}\b", "".join(lines))
        with pytest.raises(urllib.error.HTTPError, match="403"):
            urllib.request.urlopen(address, timeout=20)
        served.send_signal(signal.SIGTERM)
        assert served.wait(timeout=20) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["new.holdzero"]  # closed, its log merged


@pytest.mark.skipif(os.name != "posix", reason="a signal to oneself is of Unix")
def test_told_to_end_before_it_answers_it_puts_away_what_it_holds(book: Book):
    """A service that is stopped while it starts."""
    before = signal.getsignal(signal.SIGTERM)
    with pytest.raises(SystemExit) as ended:
        serve.serve(book, browser=False, say=lambda _line: os.kill(os.getpid(), signal.SIGTERM))
    assert ended.value.code == 0
    assert signal.getsignal(signal.SIGTERM) is before


def test_it_listens_on_loopback_only():
    with serve._listen(None) as listening:
        assert listening.getsockname()[0] == "127.0.0.1"


def test_a_taken_port_is_said_in_words(book: Book):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(InputError, match="taken"):
            serve.serve(book, port=taken.getsockname()[1])


@pytest.mark.skipif(os.name != "posix", reason="there the system lets go of a port at once")
def test_the_same_port_again_while_an_old_connection_fades():
    with serve._listen(None) as listening:
        port = listening.getsockname()[1]
        with socket.create_connection(("127.0.0.1", port)) as reader:
            listening.accept()[0].close()  # the server ends first: its side waits a minute (TIME_WAIT)
            reader.recv(1)
    with serve._listen(port) as again:
        assert again.getsockname()[1] == port


def test_a_book_comes_up_where_it_was_or_says_why_not(book: Book, tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("HOLDZERO_SETTINGS", str(tmp_path / "settings" / "settings.toml"))
    assert open_at.port_before(book.path) is None
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        open_at.keep_port(book.path, port)
        with pytest.raises(InputError, match=f"port {port} taken, where this book was open the last time"):
            serve.serve(book, before=open_at.port_before(book.path))
    with serve._listen(None, before=port) as listening:
        assert listening.getsockname()[1] == port


@pytest.mark.parametrize("text", ["[1]", "{", '{"book": "8047"}'])
def test_a_spoilt_list_of_ports_is_no_list(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, text: str):
    monkeypatch.setenv("HOLDZERO_SETTINGS", str(tmp_path / "settings.toml"))
    (tmp_path / open_at.FILE).write_text(text)
    assert open_at.port_before(tmp_path / "shed.holdzero") is None


def test_not_a_book(tmp_path: Path):
    path = tmp_path / "list.txt"
    path.write_text("milk, eggs\n" * 50)
    result = CliRunner().invoke(command, [str(path), "--no-browser"])
    assert isinstance(result.exception, BookError)
    assert "not a book" in str(result.exception)
