"""Value change dumps: what another wrote comes back, whatever the size of a block, cut off or damaged."""

import gzip
import re
from contextlib import suppress
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from captures import homings, write_vcd
from holdzero.compute.capture import CaptureMap, SwitchChannel
from holdzero.errors import HoldzeroError, InputError
from holdzero.recording import dump, read_recording, source
from holdzero.recording.definitions import read_definitions
from holdzero.recording.source import Source
from independent_dump import VCDVCD

MAP = CaptureMap(count_mm=0.01, first="A", second="B", switches=(SwitchChannel("SW"),))
HEAD = """$date now $end
$timescale 10 ns $end
$scope module rig $end
$var wire 1 ! A $end
$var wire 1 !a B $end
$var wire 1 "bb SW $end
$var wire 8 # BUS [7:0] $end
$var real 64 b TEMP $end
$upscope $end
$enddefinitions $end
"""
CODES = {"A": "!", "B": "!a", "SW": '"bb'}


@pytest.fixture
def read(tmp_path):
    """Read a dump given as text."""

    def read(text, channels=MAP):
        path = tmp_path / "capture.vcd"
        path.write_bytes(text if isinstance(text, bytes) else text.encode("latin-1"))
        return read_recording(path, channels)

    return read


def plainly(text, codes=CODES):
    """Changes of each channel, token by token: the slow way that one can check by eye."""
    body = text[text.index("$enddefinitions $end") + 20 :]
    tokens = re.sub(r"\$comment\s.*?\s\$end(?=\s)", " ", body, flags=re.DOTALL).split()
    level, changes, now, i = dict.fromkeys(codes), {name: [] for name in codes}, 0, 0
    names = {code: name for name, code in codes.items()}
    while i < len(tokens):
        token = tokens[i]
        if token[0] in "bBrR":
            i += 1
            value, code = token[1:], tokens[i]
            token = ("0" if token[0] in "rR" else value[-1]) + code if code in names else "$"
        if token[0] == "#":
            now = int(token[1:])
        elif token[0] in "01xzXZ" and token[1:] in names:
            name = names[token[1:]]
            if token[0] in "01":
                if level[name] is not None and level[name] != token[0]:
                    changes[name].append((now, int(token[0])))
                level[name] = token[0]
        i += 1
    return changes


def changes_of(recorded):
    switch = recorded.switches[0]
    return list(zip(switch.tick.tolist(), switch.level.tolist(), strict=True))


def counts_by_hand(changes):
    """Count of the quadrature at the end of each tick, from the changes of A and B."""
    level, count, seen = {"A": 0, "B": 0}, 0, []
    order = {(0, 0): 0, (1, 0): 1, (1, 1): 2, (0, 1): 3}
    ticks = sorted({tick for name in "AB" for tick, _ in changes[name]})
    for tick in ticks:
        before = order[level["A"], level["B"]]
        level |= {name: to for name in "AB" for at, to in changes[name] if at == tick}
        step = (order[level["A"], level["B"]] - before) % 4
        if step in (1, 3):
            count += 1 if step == 1 else -1
            seen.append((tick, count))
    return seen


class TestWrittenByAnother:
    """pyvcd writes, holdzero reads: the truth comes back exactly."""

    @pytest.mark.parametrize("timescale", ["1 us", "10 ns", "1 ps"])
    def test_every_change_comes_back(self, tmp_path, timescale):
        truth = homings([5.0] * 4, bounce=2e-4, index=1.0)
        channels = CaptureMap(count_mm=0.01, first="A", second="B", index="Z", switches=(SwitchChannel("SW"),))
        recorded = read_recording(
            write_vcd(tmp_path / "x.vcd", truth, timescale=timescale, aliases=True), channels
        )
        assert changes_of(recorded) == [(tick, to) for tick, name, to in truth.sorted() if name == "SW"]
        assert int(recorded.count[-1]) == truth.final_count
        assert recorded.changes == {
            name: sum(change[1] == name for change in truth.changes) for name in ["A", "B", "Z", "SW"]
        }
        assert recorded.tick_s == pytest.approx({"1 us": 1e-6, "10 ns": 1e-8, "1 ps": 1e-12}[timescale], rel=1e-12)
        assert not recorded.cut_off
        assert recorded.invalid_tick.size == 0

    def test_an_independent_reader_sees_the_same(self, tmp_path):
        """vcdvcd, another reader."""
        path = write_vcd(tmp_path / "x.vcd", homings([3.0, 8.0], bounce=2e-4))
        theirs = VCDVCD(str(path))["rig.SW"].tv
        recorded = read_recording(path, MAP)
        assert [(tick, int(value)) for tick, value in theirs[1:]] == changes_of(recorded)

    def test_packed_it_is_the_same(self, tmp_path):
        truth = homings([5.0] * 2)
        plain = read_recording(write_vcd(tmp_path / "x.vcd", truth), MAP)
        packed = read_recording(write_vcd(tmp_path / "x.vcd.gz", truth, packed=True), MAP)
        assert changes_of(packed) == changes_of(plain)
        assert (packed.count == plain.count).all()


class TestAnyBlock:
    """Tokens across block borders: whatever the size of the block, the plain reader's answer."""

    token = st.one_of(
        st.sampled_from(["0!", "1!", "0!a", "1!a", '0"bb', '1"bb', 'x"bb', 'Z"bb', "b1 !", "b0 !a", 'B1 "bb']),
        st.sampled_from(["b1010 #", "bx1 #", "r-1.5e3 b", "b0 #", "$dumpall", "$end", "$comment 1! b0 # #7 $end"]),
        st.integers(0, 400).map(lambda step: f"+{step}"),
    )
    space = st.sampled_from(["\n", " ", "\r\n", "\t", "  \n"])

    @given(st.lists(st.tuples(token, space), max_size=60), st.integers(1, 50), st.integers(0, 10**9))
    @settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_like_a_plain_reader(self, tmp_path_factory, tokens, block, now):
        body = ['0! 0!a 0"bb\n']
        for token, space in tokens:
            if token[0] == "+":
                now += int(token[1:])
                token = f"#{now}"
            body.append(token + space)
        text = HEAD + f"#{now if not tokens else 0}\n" + "".join(body) + "\n"
        path = tmp_path_factory.mktemp("dump") / "x.vcd"
        path.write_bytes(text.encode())
        with pytest.MonkeyPatch.context() as patched:
            patched.setattr(source, "BLOCK", block)
            recorded = read_recording(path, MAP)
        by_hand = plainly(text)
        assert changes_of(recorded) == by_hand["SW"]
        counted = list(zip(recorded.count_tick.tolist(), recorded.count.tolist(), strict=True))
        assert counted == counts_by_hand(by_hand)
        assert recorded.changes == {name: len(changes) for name, changes in by_hand.items()}

    @given(st.lists(st.integers(0, 10**18 - 1), min_size=1, max_size=30))
    def test_numbers_of_up_to_18_digits(self, values):
        text = b" " * 32 + b" ".join(b"#%d" % value for value in values) + b" " * 8
        ends = np.array([match.end() for match in re.finditer(rb"\d+", text)])
        digits = np.array([len(str(value)) for value in values])
        read, sound = dump.numbers(dump.eight(text), ends, digits)
        assert sound
        assert read.tolist() == values

    @given(st.lists(st.integers(0, 10**9), min_size=1, max_size=5), st.data())
    def test_what_is_no_digit_is_seen(self, values, data):
        words = [str(value) for value in values]
        which = data.draw(st.integers(0, len(words) - 1))
        place = data.draw(st.integers(0, len(words[which]) - 1))
        odd = data.draw(st.sampled_from([chr(c) for c in range(33, 256) if not chr(c).isdigit()]))
        words[which] = words[which][:place] + odd + words[which][place + 1 :]
        text = (" " * 32 + " ".join("#" + word for word in words) + " " * 8).encode("latin-1")
        ends = np.cumsum([len(word) + 2 for word in words]) + 31
        assert not dump.numbers(dump.eight(text), ends, np.array([len(word) for word in words]))[1]


class TestCutOff:
    """A file cut in the middle gives what was whole, and says so."""

    TEXT = (
        HEAD
        + '#0\n$dumpvars\n0!\n0!a\n0"bb\n$end\n'
        + "".join(
            f"#{1000 + 7 * i}\n{i % 2}!\n#{1003 + 7 * i} {i % 2}!a b10 #\n"
            + (f'{i // 5 % 2}"bb\n' if i % 5 == 0 else "")
            for i in range(12)
        )
    )

    def test_at_every_byte(self, read):
        """Cut anywhere, the changes are a beginning of the whole ones, and cut tokens are noticed."""
        whole = read(self.TEXT)
        start = self.TEXT.index("$enddefinitions $end") + 20
        for cut in range(start, len(self.TEXT)):
            part = read(self.TEXT[:cut])
            n = len(changes_of(part))
            assert changes_of(part) == changes_of(whole)[:n]
            assert part.count.tolist() == whole.count[: part.count.size].tolist()
            assert part.count_tick.tolist() == whole.count_tick[: part.count.size].tolist()
            assert part.cut_off or self.TEXT[cut - 1] == "\n"  # at a line end nobody can tell
        assert not whole.cut_off

    def test_in_the_head_there_is_nothing_to_give(self, read):
        for cut in range(1, self.TEXT.index("$enddefinitions $end") + 19):
            with pytest.raises(InputError, match=r"byte \d+, line \d+"):
                read(self.TEXT[:cut])

    def test_a_last_change_without_a_line_end_counts(self, read):
        """It is whole, as no other code begins so; but a writer ends its last line, so more was to come."""
        recorded = read(HEAD + '#0\n0!\n0!a\n0"bb\n#5\n1"bb')
        assert changes_of(recorded) == [(5, 1)]
        assert recorded.cut_off
        assert "line end" in recorded.notes[0]

    def test_a_code_that_another_begins_with_does_not(self, read):
        """`1!` may be a cut `1!a`."""
        recorded = read(HEAD + '#0\n0!\n0!a\n0"bb\n#5\n1!')
        assert recorded.cut_off
        assert recorded.count.size == 0

    def test_a_time_that_falls_was_cut(self, read):
        """`#50` is what is left of `#5001`: no time that falls, and nothing to refuse."""
        recorded = read(HEAD + '#0\n0!\n0!a\n0"bb\n#500\n1!\n#50')
        assert recorded.cut_off
        assert recorded.last_tick == 500

    @pytest.mark.parametrize("part", [0.3, 0.6, 0.95])
    def test_packed_and_cut(self, tmp_path, part):
        path = write_vcd(tmp_path / "x.vcd", homings([5.0] * 4))
        whole = changes_of(read_recording(path, MAP))
        data = gzip.compress(path.read_bytes())
        path.write_bytes(data[: int(part * len(data))])
        recorded = read_recording(path, MAP)
        assert recorded.cut_off
        assert changes_of(recorded) == whole[: len(changes_of(recorded))]

    def test_packed_and_damaged_is_refused(self, tmp_path):
        path = write_vcd(tmp_path / "x.vcd", homings([5.0] * 4))
        data = bytearray(gzip.compress(path.read_bytes()))
        data[len(data) // 2] ^= 0xFF
        path.write_bytes(bytes(data))
        with pytest.raises(InputError, match=r"packed byte .* damage"):
            read_recording(path, MAP)


class TestRefused:
    """What no dump may hold is named with byte and line; nothing is guessed."""

    @pytest.mark.parametrize(
        ("token", "what"),
        [
            ("Q!", "Q!"),
            ("1?", r"1\?"),
            ("1", '"1"'),
            ("#12x", "#12x"),
            ("#", '"#"'),
            ("#3", "after #100"),
            ("b1 ?", r"\?"),
            ("b1y !", "b1y"),
            ("#1234567890123456789", "18 digits"),
            ("r1.5 !", "r1.5"),
        ],
    )
    def test_with_byte_and_line(self, read, token, what):
        before = HEAD + "#100\n0!\n0!a\n"
        with pytest.raises(InputError, match=what) as raised:
            read(before + token + "\n1!\n")
        at = len(before) + (3 if token == "b1 ?" else 0)
        assert f"byte {at + 1}, line {before.count(chr(10)) + 1}:" in str(raised.value)

    def test_a_zero_byte(self, read):
        with pytest.raises(InputError, match="a zero byte"):
            read(HEAD + "#0\n0!\n\0\0\0\n")

    def test_names(self, read):
        def channels(**names):
            return replace(MAP, **names)

        body = HEAD + "#0\n"
        with pytest.raises(InputError, match=r'no channel "SV" among A, B, SW, BUS, TEMP'):
            read(body, channels(switches=(SwitchChannel("SV"),)))
        with pytest.raises(InputError, match=r"with 8 bits.*BUS"):
            read(body, channels(index="BUS"))
        with pytest.raises(InputError, match="as a real"):
            read(body, channels(index="TEMP"))
        with pytest.raises(InputError, match="on one wire"):
            read(body, channels(index="rig.SW"))

    def test_two_scopes_with_one_name_are_told_apart(self, read):
        head = (
            "$timescale 1us $end $scope module l $end $var wire 1 ! A $end $var wire 1 % B $end "
            "$var wire 1 & SW $end $upscope $end "
            "$scope module r $end $var wire 1 ' SW $end $upscope $end $enddefinitions $end\n"
        )
        body = "#0 0! 0% 0& 0'\n#5 1'\n#9 1&\n"
        with pytest.raises(InputError, match=r'several channels "SW": l.SW, r.SW'):
            read(head + body)
        right = CaptureMap(count_mm=0.01, first="A", second="B", switches=(SwitchChannel("r.SW"),))
        assert changes_of(read(head + body, right)) == [(5, 1)]

    def test_without_a_time_scale_the_rate_is_asked_for(self, read):
        text = HEAD.replace("$timescale 10 ns $end\n", "") + "#0\n"
        with pytest.raises(InputError, match=r"no \$timescale.*rate"):
            read(text)
        with_rate = CaptureMap(count_mm=0.01, first="A", second="B", switches=(SwitchChannel("SW"),), rate_hz=1e6)
        assert read(text, with_rate).tick_s == pytest.approx(1e-6)

    @given(st.binary(max_size=300), st.integers(0, 3000), st.randoms(use_true_random=False))
    @settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
    def test_damage_never_crashes(self, tmp_path_factory, noise, at, random):
        """Noise put over or into a dump gives an answer or a message, never another end."""
        text = TestCutOff.TEXT.encode()
        at %= len(text)
        over = random.choice([0, len(noise)])
        path = tmp_path_factory.mktemp("noise") / "x.vcd"
        path.write_bytes(text[:at] + noise + text[at + over :])
        with suppress(HoldzeroError):
            recorded = read_recording(path, MAP)
            assert (np.diff(recorded.count_tick) > 0).all()
            assert (np.diff(recorded.switches[0].tick) >= 0).all()


class TestTheRest:
    """Odd but legal."""

    def test_bits_of_a_bus(self, read):
        """b10 is 0000 0010: bit 1 is 1; bx0 is x to the left."""
        channels = CaptureMap(
            count_mm=0.01, first="A", second="B", switches=(SwitchChannel("BUS[1]"), SwitchChannel("BUS[7]"))
        )
        recorded = read(HEAD + "#0\n0!\n0!a\nb0 #\n#3 b10 #\n#4 b11111111 #\n#6 bx0 #\n#8 b0 #\n", channels)
        assert changes_of(recorded) == [(3, 1), (8, 0)]
        assert recorded.switches[1].tick.tolist() == [4, 8]

    def test_dump_switched_off_leaves_a_gap(self, read):
        recorded = read(
            HEAD + '#0\n0!\n0!a\n0"bb\n#5\n1!\n#6 $dumpoff x! x!a x"bb $end\n#9 $dumpon 1! 1!a 0"bb $end\n#12 0!\n'
        )
        assert recorded.gap_tick.tolist() == [6]
        assert recorded.count.tolist() == [1, 2, 3]

    def test_a_vector_of_one_bit_is_a_level(self, read):
        assert changes_of(read(HEAD + '#0\nb0 "bb\n#4\nb1 "bb\n')) == [(4, 1)]

    def test_the_head_in_one_line_and_codes_that_look_like_more(self, tmp_path):
        path = tmp_path / "x.vcd"
        path.write_text(
            "$timescale\n1\nns\n$end $var wire 1 # A $end $var wire 1 $ B $end $var wire 1 b SW $end "
            "$enddefinitions $end #1 0# 0$ 0b b0 b b0 $ b1 # #2 1$ #3 b1 b\n"
        )
        recorded = read_recording(path, MAP)
        assert recorded.count.tolist() == [1, 2]
        assert changes_of(recorded) == [(3, 1)]

    def test_long_codes(self, tmp_path):
        """Beyond eight characters."""
        codes = ["aVeryLongCode1", "aVeryLongCode2", "aVeryLongCode3"]
        head = "$timescale 1us $end " + "".join(
            f"$var wire 1 {code} {name} $end " for code, name in zip(codes, ("A", "B", "SW"), strict=True)
        )
        path = tmp_path / "x.vcd"
        path.write_text(
            head + "$enddefinitions $end\n#0 " + " ".join(f"0{c}" for c in codes) + f" #7 1{codes[2]}\n"
        )
        assert changes_of(read_recording(path, MAP)) == [(7, 1)]
        path.write_text(head + "$enddefinitions $end\n#0 0aVeryLongCode4\n")
        with pytest.raises(InputError, match="aVeryLongCode4"):
            read_recording(path, MAP)

    def test_definitions(self, tmp_path):
        path = tmp_path / "x.vcd"
        path.write_text(HEAD)
        definitions = read_definitions(Source(path))
        assert definitions.tick_s == pytest.approx(1e-8)
        assert [(v.whole, v.size, v.left, v.right) for v in definitions.variables][3] == ("rig.BUS", 8, 7, 0)

    @pytest.mark.parametrize(
        ("content", "what"),
        [(b"", "nothing in it"), (b"%PDF-1.7\n", "a PDF"), (b"PK\x03\x04rest", "ZIP"), (b"\xff\xfet\0", "UTF-16")],
    )
    def test_other_files_are_called_by_their_name(self, read, content, what):
        with pytest.raises(InputError, match=what):
            read(content)

    def test_no_such_file(self, tmp_path):
        with pytest.raises(InputError, match="no such file"):
            read_recording(tmp_path / "none.vcd", MAP)
        with pytest.raises(InputError, match="a folder"):
            read_recording(tmp_path, MAP)
