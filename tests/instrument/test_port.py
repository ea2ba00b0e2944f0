"""Port: a pseudo-terminal that asks, chatters, cuts lines and is pulled out."""

import os
import select
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import serialx

from holdzero.errors import InputError
from holdzero.instrument import Accepted, ListeningSettings, Noticed, listen, port
from holdzero.instrument.settle import Settling

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals there")
QUICK = Settling(still_s=0.15, within_mm=0.001)


class FakeGauge:
    """An indicator behind a name that stays the same when it is plugged in again, as a port's does."""

    def __init__(self, port: Path):
        self.port, self.stream, self.told = port, False, 0
        self.shows: float | Callable[[int], float] = 0.0  # or what it shows on its way, by lines told
        self._ends: tuple[int, int] | None = None
        self._pulled = threading.Event()

    def plug(self) -> None:
        import pty
        import tty

        ours, theirs = pty.openpty()
        tty.setraw(ours)
        tty.setraw(theirs)  # else it echoes and edits lines
        self.port.unlink(missing_ok=True)
        self.port.symlink_to(os.ttyname(theirs))
        self._ends = (ours, theirs)
        self._pulled.clear()
        self._thread = threading.Thread(target=self._run, args=(ours,))
        self._thread.start()

    def unplug(self) -> None:
        if self._ends is None:
            return
        self._pulled.set()
        self._thread.join()
        self.port.unlink()
        for end in self._ends:
            os.close(end)
        self._ends = None

    def _run(self, ours: int) -> None:
        """Answer each question, or chatter; in two pieces, with noise between the lines."""
        while not self._pulled.is_set():
            asked = select.select([ours], [], [], 0.02)[0] and os.read(ours, 64)
            if self.stream or (asked and b"?" in asked):
                shows = self.shows
                sent = f"{shows(self.told) if callable(shows) else shows:+.3f} mm\r\n".encode()
                for piece in (b"~\xff\r\n", sent[:3], sent[3:]):
                    os.write(ours, piece)
                    time.sleep(0.003)
                self.told += 1


@pytest.fixture
def gauge(tmp_path: Path):
    made = FakeGauge(tmp_path / "gauge")
    yield made
    made.unplug()


def heard(gauge: FakeGauge, how: ListeningSettings, script, *, most_s: float = 20.0) -> list:
    """Listen while the script moves the gauge; the script is stepped at each reading that counts."""
    stop = threading.Event()
    timer = threading.Timer(most_s, stop.set)
    timer.start()
    events = []
    steps = iter(script)
    for event in listen(str(gauge.port), how, stop=stop):
        events.append(event)
        if isinstance(event, Accepted) or (isinstance(event, Noticed) and event.code == "lost"):
            step = next(steps, None)
            if step is None:
                stop.set()
            else:
                step()
    timer.cancel()
    assert next(steps, None) is None, "it took too long"
    return events


def moved(gauge: FakeGauge, to: float):
    """Move away, never at rest, until it has been seen; then to the next home position."""

    def run() -> None:
        gauge.shows = lambda told: 0.3 + 0.05 * (told % 8)
        until, most = gauge.told + 5, time.monotonic() + 20
        while gauge.told < until and time.monotonic() < most:
            time.sleep(0.002)
        gauge.shows = to

    return lambda: threading.Thread(target=run).start()


@pytest.mark.parametrize("stream", [False, True], ids=["asked", "by itself"])
def test_homings_are_heard_through_noise_and_unplugging(gauge: FakeGauge, stream: bool):
    gauge.stream, gauge.shows = stream, 0.012
    gauge.plug()
    how = ListeningSettings(settling=QUICK, ask=b"" if stream else b"?\r", every_s=0.02)

    def unplugged() -> None:
        gauge.unplug()
        threading.Timer(0.3, gauge.plug).start()

    def back_at_the_same_value() -> None:
        threading.Timer(1.2, moved(gauge, 0.015)).start()  # long enough at rest to count again, if it could

    events = heard(gauge, how, [moved(gauge, -0.003), unplugged, back_at_the_same_value])
    assert [event.reading.value_mm for event in events if isinstance(event, Accepted)] == [0.012, -0.003, 0.015]
    assert [event.number for event in events if isinstance(event, Accepted)] == [1, 2, 3]
    codes = [event.code for event in events if isinstance(event, Noticed) and event.code != "noise"]
    assert codes == ["connected", "lost", "connected"]


def test_the_first_press_after_connecting_counts_and_half_a_line_does_not(gauge: FakeGauge):
    """It sends a line when its button is pressed; the end of an earlier one was on its way already."""
    gauge.plug()
    ours = gauge._ends[0] if gauge._ends else -1
    os.write(ours, b"2 mm\r\n")
    stop, kept = threading.Event(), []
    presses = iter([b"+0.000 mm\r\n", b"+0.012 mm\r\n"])

    def press() -> None:
        line = next(presses, None)
        if line is None:
            stop.set()
        else:
            os.write(ours, line)

    for event in listen(str(gauge.port), ListeningSettings(settling=Settling(still_s=0)), stop=stop):
        if isinstance(event, Noticed):
            threading.Timer(0.4, press).start()
        elif isinstance(event, Accepted):
            kept.append(event.reading.value_mm)
            press()
    assert kept == [0.0, 0.012]


def test_no_such_port_says_which_there_are(tmp_path: Path):
    with pytest.raises(InputError, match=r"no such port.*plug the indicator in"):
        next(listen(str(tmp_path / "nothing"), ListeningSettings()))


class TestSpeed:
    """A speed that the port does not take is refused before anything is read at another."""

    @pytest.mark.skipif(sys.platform != "linux", reason="told on Linux")
    @pytest.mark.parametrize("baud", [9600, 115200, 250000])
    def test_what_a_port_runs_at_is_known(self, gauge: FakeGauge, baud: int):
        gauge.plug()
        with serialx.serial_for_url(str(gauge.port), baudrate=baud, read_timeout=0.05) as opened:
            assert port.speed_of(opened.fileno()) == baud

    def test_one_that_takes_another_speed(self, gauge: FakeGauge, monkeypatch: pytest.MonkeyPatch):
        gauge.plug()
        monkeypatch.setattr(port, "speed_of", lambda _: 9600)
        with pytest.raises(InputError, match="runs at 9600 bits a second when 250000 are asked for"):
            next(listen(str(gauge.port), ListeningSettings(baud=250000)))

    def test_one_that_does_not_open_at_it(self, gauge: FakeGauge, monkeypatch: pytest.MonkeyPatch):
        gauge.plug()
        own = serialx.serial_for_url

        def opened(address: str, *, baudrate: int, **more: object) -> serialx.BaseSerial:
            if baudrate > 1_000_000:
                raise OSError(22, "Invalid argument")
            return own(address, baudrate=baudrate, **more)

        monkeypatch.setattr(port.serialx, "serial_for_url", opened)
        with pytest.raises(InputError, match="does not open at 4000000 bits a second, but at 9600"):
            next(listen(str(gauge.port), ListeningSettings(baud=4_000_000)))
