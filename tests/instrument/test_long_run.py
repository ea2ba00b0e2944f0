"""A long run: every trip kept, ended at the first that is missed, early or late, whatever happens to the cable."""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import numpy as np
import pytest

from holdzero.cli import cli
from holdzero.inputs.reading import Protocol, read_readings
from holdzero.instrument import LongRun, RunLimits

LIMITS = RunLimits(reach_mm=0.5)


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
        import pty
        import tty

        class Board:
            port = tmp_path / "board"
            ends = None

            def plug(self):
                ours, theirs = pty.openpty()
                tty.setraw(ours)
                tty.setraw(theirs)
                self.port.unlink(missing_ok=True)
                self.port.symlink_to(os.ttyname(theirs))
                self.ends = ours, theirs

            def send(self, data):
                os.write(self.ends[0], data)

            def pull(self):
                if self.ends:
                    self.port.unlink()
                    for end in self.ends:
                        os.close(end)
                    self.ends = None

        made = Board()
        yield made
        made.pull()

    def tally(self, board, out, *words):
        return cli.main(
            ["tally", str(board.port), "--readings", str(out), "--sensor", "A", "--axis", "Y", *words],
            standalone_mode=False,
        )

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
            time.sleep(0.4)  # a first line after silence is whole
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
        assert log.count("line ") == many
        assert f"{many - 1} trips" in capsys.readouterr().out

    def test_it_ends_at_a_late_trip_and_goes_on_when_started_again(self, board, tmp_path, capsys):
        out = tmp_path / "run.csv"
        board.plug()

        def play(places):
            time.sleep(0.4)
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
        player = threading.Thread(target=play, args=([3.0, 3.01],))
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
            time.sleep(0.4)
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
        words = ["-m", "holdzero", "tally", str(board.port), "--readings", str(out)]
        process = subprocess.Popen([sys.executable, *words], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL)
        try:
            while b"connected" not in process.stderr.readline():
                pass
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
