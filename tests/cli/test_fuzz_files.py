"""Every reader of files, with any bytes and with valid files spoiled: an answer or one line, never a slip."""

import io
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import openpyxl
import pytest
from click.exceptions import ClickException
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

from captures import homings, write_vcd
from fuzzed import mutated, mutated_within
from holdzero import demo
from holdzero.cli import cli
from holdzero.errors import HoldzeroError
from holdzero.files import WORKBOOK
from holdzero.store import open_book

MAP = '[capture]\ncount = "0.01 mm"\na = "A"\nb = "B"\nswitches = ["SW"]\napproach_speed = "20 mm/s"\n'
BENCH = {"machine": {"name": "Bench"}, "axes": {"Y": {"motors": "2"}}}
READINGS = (
    "sensor,axis,side,set,homing,deviation,unit,resolution,speed,temperature,direction,protocol,repeat,set_aside,event\n"
    "A,Y,L,1,1,0.012,mm,0.001 mm,5 mm/s,21,+,outside,,,\nA,Y,R,1,1,-0.003,mm,0.001 mm,5 mm/s,21,+,outside,,,\n"
    "A,Y,L,1,2,0.5 thou,mm,0.001 mm,5 mm/s,21,+,outside,yes,bumped,bracket moved\n"
)
SPANS = "sensor,axis,side,set,span_mm,n\nA,Y,L,1,0.004,5\nA,Y,R,2,0.006,10\n"
LOG = (
    "time,axis,side,deviation_mm,temperature_degc,event,cycles,hours\n2026-02-01T08:00,Y,L,0.003,21,,5,2\n"
    "2026-02-01T08:00,Y,R,-0.001,21,,5,2\n2026-02-02 08:00:30,Y,L,0.004,19.5,bracket touched,,\n"
)
WIDE = "Run no.;Dial (thou);Set 1;Set 2;Remarks\n1;0,5;0.1;0.2;cold\n2;0,7;0.1;0.3;\nmean;0,6;;;\n"


@cache
def begun(folder: Path) -> bytes:
    """A book with one machine, all of it in the one file."""
    with open_book(folder / "bench.holdzero") as book:
        book.add_machine(BENCH)
        book.back_up(folder / "begun.holdzero")
    return (folder / "begun.holdzero").read_bytes()


@cache
def archive(folder: Path) -> bytes:
    with open_book(folder / "whole.holdzero") as book:
        machine = book.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": {}}})
        book.add_sensor(machine, "A", {"price": "3"})
        book.export(folder / "whole.zip")
    return (folder / "whole.zip").read_bytes()


@cache
def capture(folder: Path) -> bytes:
    return write_vcd(folder / "run.vcd", homings(np.array([1.0, 2.0]))).read_bytes()


@cache
def workbook() -> bytes:
    made, out = openpyxl.Workbook(), io.BytesIO()
    for line in WIDE.replace(",", ".").splitlines():
        made.active.append([float(cell) if re.fullmatch(r"[\d.]+", cell) else cell for cell in line.split(";")])
    made.save(out)
    return out.getvalue()


Words = Callable[[Path], tuple[str, ...]]
IMPORT: Words = lambda file: ("import", file.name)  # noqa: E731
ADD: Words = lambda file: ("book", "add", "made.holdzero", file.name)  # noqa: E731
VALID: dict[str, tuple[Callable[[Path], bytes], Words]] = {
    "readings.csv": (lambda _: READINGS.encode(), IMPORT),
    "own.csv": (lambda _: WIDE.encode(), IMPORT),
    "book.xlsx": (lambda _: workbook(), IMPORT),
    "added.csv": (lambda _: READINGS.encode(), ADD),
    "spans.csv": (lambda _: SPANS.encode(), ADD),
    "machine.toml": (lambda _: demo.machine_toml().encode(), ADD),
    "sensors.toml": (lambda _: demo.sensors_toml().encode(), ADD),
    "wiring.toml": (lambda _: demo.wiring_toml().encode(), ADD),
    "square.toml": (lambda _: demo.square_toml().encode(), ADD),
    "watch.toml": (lambda _: demo.watch_toml().encode(), ADD),
    "log.csv": (lambda _: LOG.encode(), ADD),
    "shed.zip": (archive, lambda file: ("book", "import", file.name, "made.holdzero")),
    "run.vcd": (capture, lambda file: ("capture", file.name, "--map", "map.toml")),
    "edges.csv": (lambda _: CAPTURED.encode(), lambda file: ("capture", file.name, "--map", "map.toml")),
    "map.toml": (lambda _: MAP.encode(), lambda file: ("capture", "whole.vcd", "--map", file.name)),
}
CAPTURED = "Time,A,B,SW\n" + "".join(f"{t / 1e6:.6f},{t & 1},{t >> 1 & 1},{int(t > 9)}\n" for t in range(20))


def answered(folder: Path, name: str, raw: bytes, words: Words) -> int:
    """Run one command over one file; return its status. What slips through is raised."""
    for made in folder.glob("made.holdzero*"):
        made.unlink()
    if "add" in words(Path(name)):
        (folder / "made.holdzero").write_bytes(begun(folder))
    (folder / name).write_bytes(raw)
    with CliRunner().isolation():
        try:
            return int(cli.main(list(words(Path(name))), standalone_mode=False) or 0)
        except HoldzeroError as error:
            line = str(error)
        except ClickException as error:
            return error.exit_code
    assert "\n" not in line, f"more than one line: {line}"
    assert not re.search(r"Traceback|Error\(", line), line
    return 2


def openings(folder: Path) -> None:
    """What stands beside a file that is read."""
    (folder / "map.toml").write_text(MAP, encoding="utf-8")
    (folder / "whole.vcd").write_bytes(capture(folder))


def read_spoiled(folder: Path, *, files: int) -> None:
    openings(folder)
    for name in VALID:
        read_spoiled_one(folder, name, files=files)


def read_spoiled_one(folder: Path, name: str, *, files: int) -> None:
    make, words = VALID[name]
    whole, statuses = make(folder), set()
    assert answered(folder, name, whole, words) in (0, 1), f"{name} is not valid"

    @settings(settings.get_profile("fuzz"), max_examples=files)
    @given(data=st.data())
    def spoiled(data: st.DataObject) -> None:
        ways = ("bytes", *4 * ("file",), *4 * ("within" if whole.startswith(WORKBOOK) else "file",))
        way = data.draw(st.sampled_from(ways))
        if way == "bytes":
            raw = data.draw(st.binary(max_size=200))
        else:
            raw = (mutated if way == "file" else mutated_within)(data.draw, whole)
        statuses.add(answered(folder, name, raw, words))

    spoiled()
    (folder / name).write_bytes(whole)
    assert statuses <= {0, 1, 2}, (name, statuses)
    assert 2 in statuses, f"{name}: nothing was refused"


def test_spoiled_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    read_spoiled(tmp_path, files=20)


@pytest.mark.checks
def test_many_spoiled_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    read_spoiled(tmp_path, files=200)
