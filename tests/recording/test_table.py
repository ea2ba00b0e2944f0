"""Captures as CSV: the same as the dump of the same machine, in every shape a table may have."""

import gzip
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from captures import homings, write_csv, write_vcd
from holdzero.compute.capture import CaptureMap, SwitchChannel
from holdzero.errors import HoldzeroError, InputError
from holdzero.recording import read_recording, source

MAP = CaptureMap(count_mm=0.01, first="A", second="B", switches=(SwitchChannel("SW"),))
ROWS = "time_s,A,B,SW\n0,0,0,0\n0.000003,1,0,0\n0.000005,1,1,0\n0.000010,0,1,1\n0.000016,0,1,0\n"


def same(one, other):
    """Whether two captures hold the same edges and counts, tick by tick."""
    return (
        (one.count_tick == other.count_tick).all()
        and (one.count == other.count).all()
        and (one.switches[0].tick == other.switches[0].tick).all()
        and (one.switches[0].level == other.switches[0].level).all()
    )


@pytest.fixture
def read(tmp_path):
    def read(text, channels=MAP):
        path = tmp_path / "capture.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_recording(path, channels)

    return read


@pytest.fixture(scope="module")
def truth():
    """Two homings that bounce."""
    return homings([5.0, 9.0], bounce=2e-4)


class TestShapes:
    """One truth, written in many ways."""

    @pytest.fixture
    def dump(self, truth, tmp_path):
        return read_recording(write_vcd(tmp_path / "x.vcd", truth), MAP)

    @pytest.mark.parametrize("how", ["rows", "list", "samples"])
    @pytest.mark.parametrize("block", [37, 1 << 19])
    def test_like_the_dump(self, truth, dump, tmp_path, how, block, monkeypatch):
        monkeypatch.setattr(source, "BLOCK", block if how != "rows" else max(block, 4000))
        channels = replace(MAP, rate_hz=1e6) if how == "samples" else MAP
        recorded = read_recording(write_csv(tmp_path / "x.csv", truth, how=how), channels)
        assert same(recorded, dump)
        assert recorded.tick_s == pytest.approx(1e-6, rel=1e-9)
        assert recorded.changes == dump.changes
        assert not recorded.cut_off

    def test_every_sample_a_row_and_no_clock(self, read):
        """A sample every microsecond, 0 to 12: the row is the tick."""
        levels = ["0,0,0"] * 3 + ["1,0,0"] * 2 + ["1,1,0"] * 5 + ["0,1,1"] * 2
        recorded = read("A,B,SW\n" + "\n".join(levels) + "\n", replace(MAP, rate_hz=1e6))
        assert recorded.count_tick.tolist() == [3, 5, 10]
        assert recorded.switches[0].tick.tolist() == [10]
        assert recorded.last_tick == 11

    @pytest.mark.parametrize(
        "text",
        [
            ROWS.replace("\n", "\r\n"),
            ROWS.replace(",", ";").replace(".", ","),
            ROWS.replace(",", "\t"),
            ROWS.replace("\n", "\n\n"),
            "\ufeff" + ROWS,
            "; made up\n# for a test\n" + ROWS,
            ROWS.replace("time_s", "Time [s]").replace(",", ", "),
            "\n".join(",".join(f'"{cell}"' for cell in line.split(",")) for line in ROWS.split("\n")[:-1]) + "\n",
            ROWS.replace("0.000003", "3e-6").replace("0.000005", "5E-06"),
            ROWS.replace(",0,1,1", ",low,high,high"),
        ],
    )
    def test_written_otherwise(self, read, text):
        recorded = read(text)
        assert recorded.count_tick.tolist() == [3, 5, 10]
        assert recorded.switches[0].tick.tolist() == [10, 16]
        assert recorded.tick_s == pytest.approx(1e-6, rel=1e-9)

    def test_a_list_of_edges_alone(self, read):
        """No level at the start: the first edge of each channel is one."""
        edges = [(3, "A", "rising"), (5, "B", "rising"), (10, "SW", "rising"), (10, "A", "falling")]
        rows = [f"{tick}e-6,{channel},{edge}\n" for tick, channel, edge in (*edges, (16, "SW", "falling"))]
        recorded = read("time_s,channel,edge\n" + "".join(rows))
        assert recorded.count_tick.tolist() == [3, 5, 10]
        assert recorded.switches[0].tick.tolist() == [10, 16]

    def test_packed(self, read):
        assert same(read(gzip.compress(ROWS.encode())), read(ROWS))


class TestTick:
    """The smallest step of the time column, where all times are multiples of it; else the greatest that is."""

    def test_a_rate_that_is_no_round_decimal(self, read):
        """3 MHz, times written to the last bit."""
        rows = [f"{i / 3e6!r},{i % 4 // 2},{(i + 1) % 4 // 2},{int(i > 9)}" for i in range(5000)]
        recorded = read("time_s,A,B,SW\n" + "\n".join(rows) + "\n")
        assert recorded.tick_s == pytest.approx(1 / 3e6, rel=1e-9)
        assert recorded.switches[0].tick.tolist() == [10]
        assert recorded.count_tick.tolist() == list(range(1, 5000))

    def test_rows_at_changes_only(self, read):
        """Steps of 4, 6 and 10: the smallest divides not all, so the tick is 2 us."""
        recorded = read("time_s,A,B,SW\n0,0,0,0\n0.000004,1,0,0\n0.000010,1,1,0\n0.000020,1,1,1\n")
        assert recorded.tick_s == pytest.approx(2e-6, rel=1e-9)
        assert recorded.count_tick.tolist() == [2, 5]

    def test_times_before_the_trigger_are_negative(self, read):
        recorded = read("time_s,A,B,SW\n-0.000004,0,0,0\n-0.000001,1,0,0\n0,1,1,0\n0.000003,1,1,1\n")
        assert recorded.count_tick.tolist() == [-1, 0]
        assert recorded.switches[0].tick.tolist() == [3]

    def test_small_times_with_an_exponent_among_others(self, read):
        """As a program prints them: 5e-06 beside 0.00015."""
        times = [0.0, 5e-06, 1.5e-05, 0.00015, 0.000155, 0.01]
        rows = [f"{time!r},{i % 2},0,{int(i > 3)}" for i, time in enumerate(times)]
        recorded = read("time_s,A,B,SW\n" + "\n".join(rows) + "\n")
        assert recorded.count_tick * recorded.tick_s == pytest.approx(times[1:], abs=1e-12)
        assert recorded.tick_s == pytest.approx(5e-6, rel=1e-9)

    def test_in_milliseconds(self, read):
        recorded = read("time (ms),A,B,SW\n0,0,0,0\n0.001,1,0,0\n0.002,1,1,1\n")
        assert recorded.tick_s == pytest.approx(1e-6, rel=1e-9)

    @given(st.lists(st.integers(1, 500), min_size=3, max_size=200), st.sampled_from([1e-6, 2.5e-7, 1e-4]))
    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_places_on_the_grid_come_back(self, tmp_path_factory, gaps, grid):
        """Whatever the gaps, tick times length is the time that was written."""
        whole = np.cumsum([0, *gaps])
        rows = [f"{k * grid:.9f},{i % 2},0,0" for i, k in enumerate(whole)]
        path = tmp_path_factory.mktemp("grid") / "x.csv"
        path.write_text("time_s,A,B,SW\n" + "\n".join(rows) + "\n")
        recorded = read_recording(path, MAP)
        assert recorded.count_tick * recorded.tick_s == pytest.approx(whole[1:] * grid, abs=1e-9)


class TestCutAndRefused:
    """What was whole is given; what cannot be read is named."""

    @pytest.mark.parametrize("cut", range(ROWS.index("\n") + 2, len(ROWS)))
    def test_cut_anywhere(self, read, cut):
        """Whole rows count; a level at the end of a row is whole, a time is not."""
        part = ROWS[:cut]
        whole = [line for line in part.split("\n")[1:] if line.count(",") == 3 and line[-1] in "01"]
        if len(whole) < 2:
            return
        recorded = read(part)
        assert round(recorded.last_tick * recorded.tick_s * 1e6) == [0, 3, 5, 10, 16][len(whole) - 1]
        assert recorded.cut_off == (not part.endswith("\n") and part.split("\n")[-1] not in whole)

    @pytest.mark.parametrize(
        ("text", "what"),
        [
            (ROWS + "0.00002,1,0\n", rf"byte {len(ROWS) + 1}, line 7: found 3 cells; needed is 4"),
            (ROWS + "0.00002,1,0,5\n", r"line 7: found \"5\"; needed is a level"),
            (ROWS + "soon,1,0,1\n", r"line 7: found \"soon\"; needed is a time"),
            (ROWS + "0.000001,1,0,1\n", r"line 7: found the time 0.000001 after a later one"),
            (ROWS + "0.00002,1,0,\0\n", r"line 7: found a zero byte"),
            (ROWS.replace("SW", "SV"), r'no column "SW" among time_s, A, B, SV'),
            (ROWS.replace("SW", "S\x1b]0;x\x07"), r'no column "SW" among time_s, A, B, S \]0;x;'),
            (ROWS.replace("time_s", "when"), r"no column of time.*rate"),
            (ROWS.replace("time_s", "sample"), r"sample numbers.*rate"),
            ("time_s,A,B,SW\n", "a heading and no row"),
            ("time_s,A,A,B,SW\n0,0,0,0,0\n", r'two columns "A"'),
            ("time_s,channel,level\n0,A,0\n1,B,1\n", r'no change of "SW" among A, B'),
        ],
    )
    def test_named_with_its_line(self, read, text, what):
        with pytest.raises(InputError, match=what):
            read(text)

    def test_line_numbers_hold_over_blocks_and_blank_lines(self, read, monkeypatch):
        monkeypatch.setattr(source, "BLOCK", 64)
        with pytest.raises(InputError, match=r"line 203: "):
            read("time_s,A,B,SW\n\n" + "".join(f"{i}e-6,0,0,{i % 2}\n" for i in range(200)) + "9,9,9,9\n")

    @given(st.binary(max_size=40), st.integers(15, len(ROWS)), st.booleans())
    @settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_damage_never_crashes(self, tmp_path_factory, noise, at, over):
        path = tmp_path_factory.mktemp("noise") / "x.csv"
        text = ROWS.encode()
        path.write_bytes(text[:at] + noise + text[at + (len(noise) if over else 0) :])
        with suppress(HoldzeroError):
            recorded = read_recording(path, MAP)
            assert (np.diff(recorded.count_tick) > 0).all()


def test_a_line_end_inside_the_headings_is_said(read):
    with pytest.raises(InputError, match="headings that cannot be read"):
        read(b"time_s,A,B,S\x00\rW\n0,0,0,0\n")
