"""A long run: every trip kept, ended at the first that is missed, early or late, whatever happens to the cable."""

import re
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

import stops_tried
from counter_board import Board
from holdzero.case import Case
from holdzero.case.in_book import InBook
from holdzero.cli import cli
from holdzero.errors import InputError
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.instrument import LongRun, RunLimits
from holdzero.store import open_book
from holdzero.store.values import Outcome
from holdzero.trial.long_run_asked import EVERY

LIMITS = RunLimits(reach_mm=0.5)
CHECKED = [word for question in EVERY for word in ("--checked", question.code)]
SHORT = [word for word in CHECKED if word != "--checked" and word != "stops"]  # what a book does not say


def run_of(places, *, every_s=10.0, limits=LIMITS):
    """Feed a run trips of even time; return it and the first end."""
    run, end = LongRun(limits), None
    for number, place in enumerate(places):
        _, end = run.tripped(every_s * number, place)
        if end:
            break
    return run, end


class TestEnds:
    """Missed by time; early and late by place."""

    def test_late_and_early(self):
        run, end = run_of([3.0, 3.01, 2.99, 3.0, 3.6, 3.0])
        assert (end.fault, run.count) == ("late", 5)  # the late one is kept too
        assert run_of([3.0, 3.01, 2.99, 2.4])[1].fault == "early"
        assert run_of([3.0, 3.01, 2.99, 3.49])[1] is None

    def test_inward_may_be_down(self):
        assert run_of([-3.0, -3.01, -3.6], limits=RunLimits(reach_mm=0.5, inward=-1))[1].fault == "late"

    def test_missed_after_twice_the_usual_time(self):
        run, _ = run_of([3.0] * 10)
        assert run.patience_s == 20.0
        assert run.overdue(90.0 + 20.0) is None
        assert run.overdue(90.0 + 20.1).fault == "missed"

    def test_nothing_is_missed_before_the_usual_time_is_known(self):
        run, _ = run_of([3.0] * 3)
        assert run.overdue(1e6) is None

    def test_while_the_board_is_away_nothing_is_missed(self):
        """How many trips went by nobody knows; the next says that it comes after a gap."""
        run, _ = run_of([3.0] * 10)
        run.interrupted()
        assert run.overdue(1e6) is None
        trip, end = run.tripped(2e6, 3.0)
        assert (trip.after_gap, end) == (True, None)
        assert run.tripped(2e6 + 10, 3.0)[0].after_gap is False
        assert run.patience_s == 20.0

    def test_goes_on_from_what_is_kept(self):
        run = LongRun(LIMITS, [3.0, 3.01, 2.99])
        assert run.tripped(0.0, 3.9)[1].fault == "late"


@pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")
class TestOnAPort:
    """A counter board on a pseudo-terminal, behind a name that stays when it is plugged in again."""

    @pytest.fixture
    def board(self, tmp_path):
        made = Board(tmp_path)
        yield made
        made.pull()

    def tally(self, board, out, *words, checked=CHECKED):
        return cli.main(
            ["tally", str(board.port), "--readings", str(out), "--sensor", "A", "--axis", "Y", *checked, *words],
            standalone_mode=False,
        )

    def heard(self, out, before=0):
        """Wait until the board is listened to, and long enough for a first line after silence to be whole."""
        log = Path(f"{out}.log")
        while not log.exists() or log.read_text().count("connected") <= before:
            time.sleep(0.02)
        time.sleep(0.4)

    def rows(self, out):
        return out.read_text().splitlines()[1:] if out.exists() else []

    def wait_for(self, out, many, most_s=20.0):
        until = time.monotonic() + most_s
        while len(self.rows(out)) < many and time.monotonic() < until:
            time.sleep(0.005)
        assert len(self.rows(out)) >= many

    @pytest.mark.parametrize("many", [200, pytest.param(1000, marks=pytest.mark.checks)])
    def test_trips_with_cuts(self, board, tmp_path, capsys, many):
        """Lines in pieces, one garbled, the board pulled out twice: every other place is kept, as it was sent."""
        garbled, cuts = 3 * many // 10, (4 * many // 10, 7 * many // 10)
        out = tmp_path / "run.csv"
        places = np.random.default_rng(1).normal(3.0, 0.002, many).round(4)
        board.plug()

        def play():
            self.heard(out)
            for number, place in enumerate(places):
                line = f"trip {place:.4f}\r\n".encode()
                if number == garbled:
                    line = b"tr~\xff\r\n"
                for piece in (line[:6], line[6:]):
                    board.send(piece)
                if number in cuts:
                    self.wait_for(out, number)
                    board.pull()
                    time.sleep(0.1)
                    board.plug()
                    time.sleep(1.2)

        player = threading.Thread(target=play)
        player.start()
        status = self.tally(board, out, "-n", str(many - 1), "--pattern", "trip {value}", "--least", "10")
        player.join()
        assert status == 0
        (group,) = read_readings(out.read_text()).groups
        assert group.deviation_mm == pytest.approx(np.delete(places, garbled), abs=1e-9)
        assert group.homing.tolist() == list(range(1, many))
        assert group.protocol == Protocol.ENCODER
        gaps = [i for i, row in enumerate(self.rows(out)) if row.endswith(",yes")]
        assert gaps == [garbled, *cuts]  # behind the garbled line, and behind each cut
        log = Path(f"{out}.log").read_text()
        assert log.count("The indicator is gone") == 2
        assert log.count("+00:00 line '") == many
        assert f"{many - 1} trips" in capsys.readouterr().out

    def test_it_ends_at_a_late_trip_and_goes_on_when_started_again(self, board, tmp_path, capsys):
        out = tmp_path / "run.csv"
        board.plug()

        def play(places, before=0):
            self.heard(out, before)
            board.send("".join(f"{place}\n" for place in places).encode())

        player = threading.Thread(target=play, args=([3.0, 3.01, 2.99, 3.0, 3.9, 3.0],))
        player.start()
        assert self.tally(board, out) == 1
        player.join()
        said = capsys.readouterr()
        assert "LATE. Trip 5 came 0.900 mm further in" in said.out
        assert "never left alone" in said.err
        assert len(self.rows(out)) == 5
        with out.open("a") as file:
            file.write("A,Y,,1,6,3.0")  # torn by a crash
        player = threading.Thread(target=play, args=([3.0, 3.01], 1))
        player.start()
        assert self.tally(board, out, "-n", "7") == 0
        player.join()
        assert [row.split(",")[4] for row in self.rows(out)] == list("1234567")
        assert "torn off" in Path(f"{out}.log").read_text()
        assert "5 trips of power-up 1 are there" in capsys.readouterr().err

    def test_it_ends_when_a_trip_is_missed(self, board, tmp_path, capsys):
        out = tmp_path / "run.csv"
        board.plug()

        def play():
            self.heard(out)
            for _ in range(6):
                board.send(b"1500\n")
                time.sleep(0.03)

        player = threading.Thread(target=play)
        player.start()
        assert self.tally(board, out, "--least", "0.5", "--count", "0.002 mm") == 1
        player.join()
        assert "MISSED" in capsys.readouterr().out
        assert read_readings(out.read_text()).groups[0].deviation_mm == pytest.approx([3.0] * 6)

    def test_killed_it_has_lost_nothing(self, board, tmp_path):
        """What was told before the kill is on disk."""
        out = tmp_path / "run.csv"
        board.plug()
        words = ["-m", "holdzero", "tally", str(board.port), "--readings", str(out), *CHECKED]
        process = subprocess.Popen([sys.executable, *words], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL)
        try:
            while b"connected" not in (line := process.stderr.readline()):
                assert line, "it ended before the board was heard"
            time.sleep(0.3)
            board.send(b"".join(b"3.%03d\n" % k for k in range(50)))
            assert b"50 trips" in process.stderr.readline()
        finally:
            process.kill()
            process.communicate()
        assert len(self.rows(out)) == 50

    def test_another_file_is_not_written_over(self, board, tmp_path):
        out = tmp_path / "notes.csv"
        out.write_text("a,b\n1,2\n")
        board.plug()
        with pytest.raises(Exception, match="another file"):
            self.tally(board, out)
        assert out.read_text() == "a,b\n1,2\n"

    @pytest.fixture
    def shed(self, tmp_path):
        return stops_tried.make(tmp_path / "shed.holdzero")

    def into(self, board, out, shed, *words):
        checked = [word for code in SHORT for word in ("--checked", code)]
        given = ["--sensor", "A", "--axis", "X", "--into", str(shed), *checked, *words]
        return cli.main(["tally", str(board.port), "--readings", str(out), *given], standalone_mode=False)

    def test_nothing_starts_before_every_question_was_answered(self, board, tmp_path):
        out = tmp_path / "run.csv"
        board.plug()
        for left in EVERY:
            checked = [w for q in EVERY if q is not left for w in ("--checked", q.code)]
            with pytest.raises(InputError, match=re.escape(left.text)):
                self.tally(board, out, checked=checked)
        assert not out.exists()

    def test_into_a_book_it_is_one_power_up_of_the_kind_long_run(self, board, tmp_path, shed, capsys):
        out = tmp_path / "run.csv"
        places = np.random.default_rng(3).normal(3.0, 0.002, 60).round(4)
        board.plug()
        for part in (places[:40], places[40:]):
            player = threading.Thread(target=self.play, args=(board, part, Path(f"{out}.log")))
            player.start()
            many = 40 if part.size == 40 else 60
            assert self.into(board, out, shed, "-n", str(many)) == 0
            player.join()
        said = capsys.readouterr()
        assert "60 times of the 5\u202f000\u202f000" in said.err
        assert "20 homings are in the trial Long run, run.csv" in said.out
        with open_book(shed) as book:
            (trial,) = book.trials(1)
            (group,) = book.readings(trial.id).groups
            found = Case(InBook(book, book.machine(1))).study.of("A", "X", "")
        assert (trial.kind, bool(trial.event)) == ("long run", True)
        assert group.deviation_mm.tolist() == places.tolist()
        assert set(group.kind.tolist()) == {"long run"}
        assert (found.n, found.power_ups) == (60, 1)

    def play(self, board, places, log):
        """Send once the board is heard, however long the book took to open."""
        self.heard(log.with_suffix(""), log.read_text().count("connected") if log.exists() else 0)
        board.send("".join(f"{place:.4f}\n" for place in places).encode())

    def test_a_book_that_does_not_know_that_it_stops_lets_nothing_start(self, board, tmp_path, shed):
        with open_book(shed) as book:
            book.add_check(1, item="emergency-stop", outcome=Outcome.FAILED)
        out = tmp_path / "run.csv"
        board.plug()
        with pytest.raises(InputError, match="stops: not good"):
            self.into(board, out, shed)
        assert not out.exists()
