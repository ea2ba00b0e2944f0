"""Instrument: lines, settling, nothing twice; as a pure machine fed with time and bytes."""

import random

import pytest
from hypothesis import given

from fuzzed import texts
from holdzero.errors import InputError
from holdzero.instrument import Accepted, LineFormat, Listener, ListeningSettings, Noticed, Shown, checked_baud
from holdzero.instrument.settle import Settling

STILL = Settling(still_s=0.5, within_mm=0.001, away_mm=0.1)


def sent(listener: Listener, values, *, start_s: float = 0.0, every_s: float = 0.1, end: bytes = b"\r\n"):
    """Feed values as lines, one each tenth of a second."""
    events = []
    for i, value in enumerate(values):
        line = value if isinstance(value, str) else f"{value:+.3f}"
        events += listener.fed(start_s + i * every_s, line.encode() + end)
    return events


def accepted(events) -> list[float]:
    return [event.reading.value_mm for event in events if isinstance(event, Accepted)]


def noticed(events) -> list[str]:
    return [event.code for event in events if isinstance(event, Noticed)]


def connected(**how) -> Listener:
    listener = Listener(ListeningSettings(settling=STILL, ask=b"?\r", **how))
    listener.connected(0.0)
    return listener


class TestLine:
    """Any line format, by a pattern with a named value and unit."""

    @pytest.mark.parametrize(
        ("pattern", "line", "value_mm"),
        [
            ("", "+0.012", 0.012),
            ("", "-0,003 mm", -0.003),
            ("", "dial 2:  0.5 thou", 0.0127),  # 0.5 x 0.0254
            ("", '.0005"', 0.0127),
            ("", "01A-0000.0125", -0.0125),  # the sign stands right after a letter
            ("N1 {value}", "N1 +00000.012", 0.012),
            ("{value} {unit}", "   -12.5   um ", -0.0125),
            ("*X{value}*Y", "ch1 X 1.25 ok Y", 1.25),
            ("{unit}{value}", "in.0010", 0.0254),
        ],
    )
    def test_the_value_is_found(self, pattern, line, value_mm):
        reading = LineFormat(pattern).read(line).reading
        assert reading is not None
        assert reading.value_mm == pytest.approx(value_mm, rel=1e-12)

    def test_the_way_from_trip_to_index_beside_the_value(self):
        pattern = LineFormat("{value};{index} {unit}")
        reading = pattern.read("+0.012;2.105 mm").reading
        assert (reading.value_mm, reading.trip_to_index_mm) == (0.012, 2.105)
        assert pattern.read(".0005;0.1 in").reading.trip_to_index_mm == pytest.approx(2.54)
        assert pattern.logs_index
        assert not LineFormat("{value}").logs_index

    @pytest.mark.parametrize("line", ["", "-.---", "ERR 12 kg", "0.01.2", "1.2.3 mm"])
    def test_what_is_no_reading_is_none(self, line):
        found = LineFormat().read(line)
        assert found.reading is None
        assert found.why

    def test_another_line_says_why_it_does_not_fit(self):
        assert LineFormat("N1 {value}").read("N2 +1.0").why == 'it does not look like "N1 {value}"'

    @pytest.mark.parametrize("pattern", ["value", "{value}{value}", "{value} {size}"])
    def test_a_pattern_that_says_too_little(self, pattern):
        with pytest.raises(InputError, match="value} once"):
            LineFormat(pattern)


class TestSettling:
    """Debounced acceptance: stable for a time, and a move in between."""

    def test_each_rest_counts_once(self):
        rests = [*[0.012] * 30, 2.0, 5.0, 1.0, *[-0.003] * 30]
        assert accepted(sent(connected(), rests)) == [0.012, -0.003]

    def test_not_before_it_stands_still_long_enough(self):
        assert accepted(sent(connected(), [0.010, 0.012, 0.014] * 20)) == []
        assert accepted(sent(connected(), [0.012] * 5)) == []  # 0.4 s
        assert accepted(sent(connected(), [0.012] * 6)) == [0.012]  # 0.5 s

    def test_the_value_shown_most_counts_where_the_last_digit_flickers(self):
        assert accepted(sent(connected(), [0.012, 0.013, 0.012, 0.012, 0.013, 0.012])) == [0.012]

    def test_a_silence_is_no_rest(self):
        listener = connected()
        assert accepted(sent(listener, [0.012] * 2) + sent(listener, [0.012] * 2, start_s=60)) == []

    def test_hanging_free_is_no_homing(self):
        """While the carriage is away the indicator rests too, far out."""
        events = sent(connected(), [*[0.012] * 10, *[-4.31] * 50, *[0.010] * 10])
        assert accepted(events) == [0.012, 0.010]
        assert noticed(events) == ["far"]

    def test_a_creep_at_rest_is_not_another_homing(self):
        creep = [0.012 + 0.001 * (i // 20) for i in range(400)]  # 20 um in 40 s
        assert accepted(sent(connected(), creep)) == [0.012]

    def test_a_button_counts_each_press_once(self):
        listener = Listener(ListeningSettings(settling=Settling(still_s=0), ask=b"?\r"))
        listener.connected(0)
        events = sent(listener, [0.012, 0.012, 0.012], every_s=0.1) + sent(listener, [0.012], start_s=5)
        assert accepted(events) == [0.012, 0.012]


class TestPlug:
    """Reconnecting after unplugging; nothing accepted twice."""

    def test_what_counted_before_does_not_count_again(self):
        listener = connected()
        events = sent(listener, [0.012] * 10) + listener.lost(1.0) + listener.connected(5.0)
        events += sent(listener, [0.012] * 30, start_s=5.0)
        assert accepted(events) == [0.012]
        events = sent(listener, [3.0, *[0.011] * 10], start_s=10)
        assert accepted(events) == [0.011]
        assert [event.number for event in events if isinstance(event, Accepted)] == [2]

    def test_a_rest_does_not_span_the_gap(self):
        listener = connected()
        events = sent(listener, [0.012] * 4) + listener.lost(0.4) + listener.connected(0.5)
        assert accepted(events + sent(listener, [0.012] * 4, start_s=0.5)) == []

    def test_the_end_of_a_line_is_not_a_line(self):
        """Plugged in in the midst of "-0.012" the rest would read as 2."""
        listener = Listener(ListeningSettings(settling=Settling(still_s=0)))
        listener.connected(0)
        events = listener.fed(0.1, b"2\r\n") + listener.fed(1.0, b"-0.0") + listener.fed(1.1, b"13\r\n")
        assert accepted(events) == [-0.013]

    def test_a_line_after_silence_is_whole(self):
        """The first press of the button is the zeroing homing: without it every number shifts."""
        listener = Listener(ListeningSettings(settling=Settling(still_s=0)))
        for at_s, value in ((0.0, 0.000), (9.0, 0.012)):
            listener.connected(at_s)
            for _ in range(3):
                listener.silent(0.05)
            assert accepted(listener.fed(at_s + 3.0, f"{value:+.3f}\r\n".encode())) == [value]

    @pytest.mark.parametrize("baud", [9600, 50])
    def test_bytes_that_flow_already_may_be_the_end_of_a_line(self, baud: int):
        """A pause shorter than an adapter's, or than five characters of a slow port, is no silence."""
        listener = Listener(ListeningSettings(settling=Settling(still_s=0), baud=baud))
        listener.connected(0)
        listener.silent(0.05 if baud == 9600 else 0.9)
        assert accepted(listener.fed(1.0, b"2\r\n")) == []
        assert accepted(listener.fed(2.0, b"-0.013\r\n")) == [-0.013]

    def test_half_a_line_and_then_silence_is_still_half_a_line(self):
        listener = Listener(ListeningSettings(settling=Settling(still_s=0)))
        listener.connected(0)
        events = listener.fed(0.01, b".01")
        listener.silent(0.5)
        assert accepted(events + listener.fed(0.6, b"2\r\n") + listener.fed(0.7, b"-0.013\r\n")) == [-0.013]


class TestUnit:
    """A unit switched in mid-series is a real slip, a factor of 25.4."""

    def test_a_switch_is_noticed_and_the_value_converted(self):
        listener = connected()
        events = sent(listener, [*["0.0127 mm"] * 10, "2.0 mm", "0.08 in", *["0.0005 in"] * 10])
        assert noticed(events) == ["unit"]
        assert accepted(events) == [0.0127, 0.0127]

    def test_the_same_system_is_no_switch(self):
        assert noticed(sent(connected(), ["1 thou", "0.001 in", '0.001"'])) == []


def test_however_the_bytes_fall_the_same_readings_count():
    """Bursts and partial lines: cut anywhere, noise lines between."""
    rng = random.Random(6)
    lines = []
    for value in (0.012, -0.003, 0.007):
        lines += [f"{value:+.3f}"] * 12 + ["ERR", "\xff\xfe~", ""] + [f"{value + 3:+.3f}"] * 3
    whole = "\r\n".join(lines).encode("latin-1") + b"\r\n"
    for _ in range(20):
        listener = connected()
        cuts = sorted(rng.sample(range(len(whole)), 60))
        events = []
        for a, b in zip([0, *cuts], [*cuts, len(whole)], strict=True):
            events += listener.fed(b / len(whole) * len(lines) * 0.1, whole[a:b])
        assert accepted(events) == [0.012, -0.003, 0.007]


def test_a_flood_without_an_end_takes_no_memory_and_counts_for_nothing():
    listener = connected()
    for i in range(1000):
        assert listener.fed(i / 100, b"0" * 512) == []
    assert len(listener._lines._rest) <= 512 + 400
    assert isinstance(sent(listener, ["0.1", "0.1"], start_s=11)[-1], Shown)


def test_lines_that_cannot_be_read_are_noticed_at_the_first_and_the_tenth():
    assert noticed(sent(connected(), ["-.---"])) == ["noise"]
    assert noticed(sent(connected(), ["-.---"] * 9)) == ["noise"]
    assert noticed(sent(connected(), ["-.---"] * 25)) == ["noise", "noise"]


@pytest.mark.parametrize(
    "odd", ["1e99", "9" * 300, "0.01 ly", "1,2,3", "\x00", "\ud800", "\u00bd", "- 0.", "1e-99 mm"]
)
def test_after_an_odd_line_the_next_reading_counts(odd: str):
    listener = connected()
    lines = [odd.encode("utf-8", "surrogatepass") + b"\r", *[b"0.012\r"] * 12]
    events = [event for at, line in enumerate(lines) for event in listener.fed(at / 10, line)]
    assert accepted(events) == [0.012]


@given(texts)
def test_no_line_ends_the_listening(line: str):
    for pattern in ("", "{value}", "*{value}*", "{value} {unit}", "{value};{index}"):
        LineFormat(pattern).read(line)


@pytest.mark.parametrize(
    ("baud", "near"), [(960, "600 or 1200"), (12345, "9600 or 14400"), (5e6, "3500000 or 4000000")]
)
def test_a_speed_that_no_port_has_is_refused_with_its_neighbours(baud: float, near: str):
    with pytest.raises(InputError, match=f"such as {near}"):
        checked_baud(baud, where="--baud")
    assert checked_baud(115200.0, where="--baud") == 115200
