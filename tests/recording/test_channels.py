"""What a file has on offer: the names that a map may use, and never a crash."""

import gzip

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from holdzero.compute.capture import CaptureMap, SwitchChannel
from holdzero.errors import HoldzeroError
from holdzero.recording import channels_of, read_recording

HEAD = """$timescale 1 us $end
$scope module rig $end
$var wire 1 ! A $end
$var wire 1 " B $end
$var wire 4 # BUS [3:0] $end
$var real 64 % volts $end
$scope module copy $end
$var wire 1 ! A_too $end
$var wire 1 & A $end
$upscope $end
$upscope $end
$enddefinitions $end
#0
"""


@pytest.fixture
def seen(tmp_path):
    def seen(content, name="x"):
        path = tmp_path / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return channels_of(path)

    return seen


def test_of_a_dump_one_name_a_wire_with_scopes_where_two_are_alike(seen):
    """Two wires are called A, so both go by their scopes; a second name of a wire and a real are left out."""
    found = seen(HEAD)
    assert found.names == ("rig.A", "B", "BUS[3]", "BUS[2]", "BUS[1]", "BUS[0]", "rig.copy.A")
    assert (found.kind, found.timed) == ("VCD", True)
    assert seen(HEAD.replace("$timescale 1 us $end\n", "")).timed is False


def test_what_it_names_a_map_may_use(tmp_path):
    path = tmp_path / "x.vcd"
    path.write_text(HEAD + '0!\n0"\nb0000 #\n0&\n#5\n1!\n#6\n1&\n')
    names = channels_of(path).names
    channels = CaptureMap(count_mm=0.01, first=names[0], second=names[1], switches=(SwitchChannel(names[2]),))
    assert read_recording(path, channels).count.tolist() == [1]


@pytest.mark.parametrize(
    ("text", "names", "timed"),
    [
        ("time_s,A,B,SW\n0,0,0,0\n", ("A", "B", "SW"), True),
        ("A;B;SW\n0;0;0\n", ("A", "B", "SW"), False),
        ("sample\tA\tSW\n0\t0\t0\n", ("A", "SW"), False),
        ("time_s,channel,level\n0,A,0\n0,SW,1\n5,A,1\n", ("A", "SW"), True),
        ("# made by hand\nTime [s],A\n0,1\n", ("A",), True),
    ],
)
def test_of_a_table(seen, text, names, timed):
    found = seen(text)
    assert (found.kind, found.names, found.timed) == ("CSV", names, timed)
    assert seen(gzip.compress(text.encode())).names == names


@settings(max_examples=60, deadline=None)
@given(noise=st.binary(max_size=60), at=st.integers(0, 200), over=st.booleans())
def test_damage_never_crashes(tmp_path_factory, noise, at, over):
    path = tmp_path_factory.mktemp("x") / "x"
    data = (HEAD if over else 'time_s,"A",B\n0,0,0\n').encode()
    path.write_bytes(data[:at] + noise + data[at:])
    try:
        found = channels_of(path)
    except HoldzeroError:
        return
    assert len(found.names) <= 200
