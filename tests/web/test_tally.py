"""Tally page: nothing starts before it is known to stop, each trip is in the book, and a fault ends it loudly."""

import re
import sys
import time
from html import unescape

import pytest
from starlette.testclient import TestClient

import stops_tried
from counter_board import Board
from holdzero.store import Book
from holdzero.store.values import Outcome
from holdzero.trial.long_run_asked import QUESTIONS

YES = {f"yes-{question.code}": "yes" for question in QUESTIONS}


def words(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", page[page.index("<main") :])))


@pytest.fixture
def mill(book: Book) -> int:
    return stops_tried.keep(book)


class TestBefore:
    """Offered, started and stopped only under the conditions of a long run."""

    def test_an_axis_that_was_not_shown_to_stop_is_not_offered(self, client: TestClient, book: Book):
        bare = book.add_machine({"machine": {"name": "Bare"}, "axes": {"X": {}}})
        book.add_sensor(bare, "A", {"kind": "lever"})
        page = client.get(f"/machines/{bare}/tally").text
        assert "Not offered on X" in words(page)
        assert 'value="start"' not in page
        data = {"do": "start", "axis": "X", "sensor": "A", "port": "/dev/null", **YES}
        answer = client.post(f"/machines/{bare}/tally", data=data)
        assert (answer.status_code, "stops: not" in words(answer.text)) == (422, True)
        assert book.trials(bare) == ()

    def test_a_test_that_failed_takes_the_offer_back(self, client: TestClient, book: Book, mill: int):
        assert 'value="start"' in client.get(f"/machines/{mill}/tally").text
        book.add_check(mill, item="emergency-stop", outcome=Outcome.FAILED)
        assert 'value="start"' not in client.get(f"/machines/{mill}/tally").text

    def test_every_question_is_to_be_answered_with_yes(self, client: TestClient, book: Book, mill: int):
        for question in QUESTIONS:
            yes = {name: value for name, value in YES.items() if name != f"yes-{question.code}"}
            data = {
                "do": "start",
                "axis": "X",
                "sensor": "A",
                "port": "/dev/null",
                "pattern": "trip {value}",
                **yes,
            }
            answer = client.post(f"/machines/{mill}/tally", data=data)
            assert (answer.status_code, question.text in words(answer.text)) == (422, True)
            assert 'value="trip {value}"' in answer.text  # what was typed stays
        assert book.trials(mill) == ()

    def test_the_life_it_takes_is_shown_before(self, client: TestClient, mill: int):
        said = words(client.get(f"/machines/{mill}/tally").text).replace("\u202f", " ")
        assert "of the 5 000 000 its sheet gives" in said
        assert "cannot stop the machine" in said

    @pytest.mark.parametrize("port", ["socket://127.0.0.1:9", ""])
    def test_only_a_port_of_this_computer(self, client: TestClient, mill: int, port: str):
        data = {"do": "start", "axis": "X", "sensor": "A", "port": port, **YES}
        assert "a serial port of this computer" in words(client.post(f"/machines/{mill}/tally", data=data).text)

    def test_a_pattern_is_tried_on_a_line(self, client: TestClient, mill: int):
        data = {"pattern": "trip {value}", "sample": "trip 3.0021"}
        assert "reads 3.0021 mm" in words(client.post(f"/machines/{mill}/tally", data=data).text).casefold()
        answer = client.post(f"/machines/{mill}/tally", data=data | {"pattern": "trip"})
        assert "{value} once" in words(answer.text)


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")
class TestCounting:
    """A board on a pseudo-terminal: kept before it is told; a line lost or a cable pulled loses no other."""

    @pytest.fixture
    def board(self, tmp_path):
        made = Board(tmp_path)
        made.plug()
        yield made
        made.pull()

    def start(self, client, mill, board, **texts):
        data = {
            "do": "start",
            "axis": "X",
            "sensor": "A",
            "port": str(board.port),
            "least": "20 s",
            **YES,
            **texts,
        }
        answer = client.post(f"/machines/{mill}/tally", data=data)
        assert answer.status_code == 200, words(answer.text)
        self.wait(client, mill, lambda state: state["notice"] == "The indicator is connected.")
        time.sleep(0.3)  # a first line after silence is whole

    def wait(self, client, mill, fits, most_s=20.0):
        until = time.monotonic() + most_s
        while not fits(state := client.get(f"/machines/{mill}/tally/state.json").json()):
            assert time.monotonic() < until, state
            time.sleep(0.02)
        return state

    def test_counted_kept_interrupted_and_ended(self, client: TestClient, book: Book, mill: int, board: Board):
        self.start(client, mill, board, pattern="trip {value}")
        places = [3.0, 3.002, 2.999, 3.001, 3.0]
        board.send("".join(f"trip {place:.3f}\n" for place in places).encode())
        self.wait(client, mill, lambda state: state["trips"] == 5)
        board.send(b"tr~\xff\ntrip 3.001\n")  # a line that is lost
        self.wait(client, mill, lambda state: (state["trips"], state["unread"]) == (6, 1))
        board.pull()
        self.wait(client, mill, lambda state: "gone" in state["notice"])
        board.plug()
        self.wait(client, mill, lambda state: "connected" in state["notice"])
        time.sleep(0.3)
        board.send(b"trip 2.998\ntrip 3.900\ntrip 3.000\n")
        state = self.wait(client, mill, lambda state: not state["on"])
        assert (state["trips"], state["gaps"], state["end"]["fault"]) == (8, 2, "late")
        page = client.get(f"/machines/{mill}/tally").text
        assert re.search(r'role="alert"><h1[^>]*>LATE\. Trip 8 came 0\.900 mm further in', page)
        (trial,) = book.trials(mill)
        (group,) = book.readings(trial.id).groups
        assert group.deviation_mm.tolist() == [*places, 3.001, 2.998, 3.9]
        assert (trial.kind, bool(trial.event), group.protocol) == ("long run", True, "encoder")
        (power_up,) = book.power_ups(trial.id)
        assert power_up.note.startswith("late: Trip 8")
        log = client.get(f"/machines/{mill}/tally/{trial.id}.log").text
        assert log.count("line '") == 9  # all but the one after the end
        assert "line 'tr~" in log
        assert 'value="trip {value}"' in page  # what was chosen comes back, no answer to a question does
        assert f'value="{trial.id}" selected' in page
        assert not re.search(r'name="yes-[^>]*checked', page)
        self.start(client, mill, board, run=str(trial.id), pattern="trip {value}", most="10")
        board.send(b"trip 3.001\ntrip 3.002\n")
        self.wait(client, mill, lambda state: not state["on"])
        assert [row.homing for row in book.rows(trial.id)] == list(range(1, 11))

    def test_one_run_at_a_time_and_stopped_by_hand(self, client: TestClient, book: Book, mill: int, board: Board):
        self.start(client, mill, board, count="0.01 mm")
        board.send(b"300\n301\n")
        self.wait(client, mill, lambda state: state["trips"] == 2)
        data = {"do": "start", "axis": "X", "sensor": "A", "port": str(board.port), **YES}
        assert "a run that is going on" in words(client.post(f"/machines/{mill}/tally", data=data).text)
        client.post(f"/machines/{mill}/tally", data={"do": "stop"})
        state = client.get(f"/machines/{mill}/tally/state.json").json()
        assert (state["on"], state["end"], state["trips"]) == (False, None, 2)
        (trial,) = book.trials(mill)
        (group,) = book.readings(trial.id).groups
        assert group.deviation_mm.tolist() == pytest.approx([3.0, 3.01])
        assert group.resolution_mm == 0.01

    def test_it_ends_when_a_trip_is_missed(self, client: TestClient, mill: int, board: Board):
        self.start(client, mill, board, least="0.6 s")
        for _ in range(6):
            board.send(b"3.000\n")
            time.sleep(0.03)
        state = self.wait(client, mill, lambda state: not state["on"])
        assert (state["end"]["fault"], state["trips"]) == ("missed", 6)
        assert "MISSED. No trip for" in words(client.get(f"/machines/{mill}/tally").text)
