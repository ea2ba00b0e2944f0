"""What the command line refuses (status 2, one line that says found, needed, do), and what it must not.

Each case was found by trying: doubtful numbers, values no workshop has, wrong files, lost outputs, idle options.
"""

import json
import sys
from pathlib import Path

import pytest

from holdzero import cli, demo


@pytest.fixture
def ran(monkeypatch, capsys):
    """Run a command line in this process; give status, output, errors."""

    def run_it(*words):
        monkeypatch.setattr(sys, "argv", ["holdzero", *map(str, words)])
        with pytest.raises(SystemExit) as left:
            cli.main()
        shown = capsys.readouterr()
        return left.value.code, shown.out, shown.err

    return run_it


@pytest.fixture
def refused(ran):
    """Run a command line that must be refused; give its one line."""

    def run_it(*words):
        status, out, err = ran(*words)
        assert (status, out, len(err.splitlines())) == (2, "", 1)
        return err

    return run_it


@pytest.fixture(scope="module")
def files(tmp_path_factory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("files")
    made = {
        "machine": demo.machine_toml(),
        "sensors": demo.sensors_toml(),
        "readings": demo.readings_csv(),
        "wiring": demo.wiring_toml(),
        "squaring": demo.square_toml(),
        "variants": 'machine = "machine"\n[vary]\nmicrosteps = [8, 16]\n',
    }
    for name, text in made.items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "book").write_bytes(b"SQLite format 3\0" + bytes(range(256)))
    (folder / "PDF").write_bytes(b"%PDF-1.7\n\xe2\xe3\xcf\xd3")
    (folder / "web page").write_text("<!doctype html>\n<title>deviation_mm</title>")
    return {one.name: one for one in folder.iterdir()}


class TestNumbers:
    """A decimal comma where it is unambiguous; what has two readings is refused with both."""

    @pytest.mark.parametrize(
        "text",
        [
            'deviation_um\n"1,000"\n',
            "deviation_um\n1,000\n250\n",
            "deviation_um;speed_mm_s\n1,000;2.5\n",
            'set,deviation_um\n1,"1,000"\n',
        ],
    )
    def test_thousand_or_one(self, refused, tmp_path, text):
        (tmp_path / "r.csv").write_text(text)
        line = refused("study", tmp_path / "r.csv")
        assert 'r.csv, line 2, column deviation_um: found "1,000", which may mean 1 or 1000; needed is' in line
        assert 'write "1" or "1000"' in line

    @pytest.mark.parametrize(
        "text",
        [
            "deviation_um\n1,000\n0,500\n",
            "deviation_um;temperature_degc\n1,000;20,5\n0,5;20,5\n",
            'set,deviation_um\n1,"1,000"\n1,"0,5"\n',
        ],
    )
    def test_other_cells_settle_it(self, ran, tmp_path, text):
        (tmp_path / "r.csv").write_text(text)
        status, out, _ = ran("study", tmp_path / "r.csv", "--json")
        assert (status, json.loads(out)["sensors"][0]["span_mm"]) == (0, pytest.approx(0.0005))

    def test_import(self, ran, refused, tmp_path):
        (tmp_path / "r.csv").write_text("No;Dial (um)\n1;1,000\n2;2,000\n")
        assert 'line 2, column deviation: found "1,000", which may mean 1 or 1000' in refused(
            "import", tmp_path / "r.csv"
        )
        (tmp_path / "r.csv").write_text("No;Dial (um)\n1;1,000\n2;0,500\n")
        assert ran("import", tmp_path / "r.csv")[0] == 0


@pytest.mark.parametrize(
    ("column", "cell", "said"),
    [
        ("temperature_degc", "-300", 'found "-300", below -273.15 °C; needed is a temperature'),
        ("temperature_degc", "1200", 'found "1200", above 1000 °C; needed is a temperature'),
        ("temperature_degf", "-500", 'found "-500", below -273.15 °C'),
        ("speed_mm_s", "-2", "found a speed of zero or below; needed is the speed at the switch, above zero"),
        ("speed_mm_s", "0", "found a speed of zero or below"),
        ("direction", "sideways", 'found "sideways"; needed is a way along the axis: + or -'),
        ("time", "banana", 'found "banana"; needed is a day and time, or a time; write it like 2026-03-07T09:01'),
        ("time", "25:61", 'found "25:61"'),
        ("time", "2026-02-30", 'found "2026-02-30"'),
    ],
)
def test_what_no_workshop_has(refused, tmp_path, column, cell, said):
    (tmp_path / "r.csv").write_text(f"deviation_mm,{column}\n0.001,\n0.002,{cell}\n")
    line = refused("study", tmp_path / "r.csv")
    assert f"r.csv, line 3, column {column}: {said}" in line


TAKE_BOOKS = ("study {}", "travel {}", "budget {}", "wiring {}", "square {}")  # whose file may be a book
WRONG = {  # where each file goes, and which is right there
    "study {}": "readings",
    "study {readings} --machine {}": "machine",
    "choose {readings} --machine {machine} --sensors {}": "sensors",
    "choose {readings} --machine {machine} --sensors {sensors} --wiring {}": "wiring",
    "wiring {}": "wiring",
    "travel {}": "machine",
    "budget {}": "machine",
    "plan --sensors {}": "sensors",
    "square {}": "squaring",
    "sweep {}": "variants",
    "install {machine} --square {}": "squaring",
    "record {readings} --machine {} --sensors {sensors} -o {}.html": "machine",
    "import {}": "readings",
}


@pytest.mark.parametrize("words", WRONG)
def test_another_file_is_called_by_its_name(refused, files, words):
    kinds = ("machine", "sensors", "readings", "wiring", "squaring", "variants", "web page")
    more = () if words.startswith("import") else ("PDF",) if words in TAKE_BOOKS else ("book", "PDF")
    for kind in (*kinds, *more):
        if kind != WRONG[words]:
            line = refused(*(word.format(files[kind], **files) for word in words.split()))
            called = f"{kind} file" if kind in kinds and kind != "web page" else kind
            assert f"{kind}: found what looks like a {called}; needed is a {WRONG[words]} file" in line


class TestOutputs:
    """Refused before anything is reckoned, and never over a file of inputs."""

    @pytest.mark.parametrize(
        "words",
        [
            "plan --sheet {}/s.pdf",
            "plan --motion {}/y.nc --stop-tested --reach 0..900",
            "wiring {files[wiring]} --svg {}/w.svg",
            "record {files[readings]} --machine {files[machine]} --sensors {files[sensors]} -o {}/r.pdf",
        ],
    )
    def test_no_such_folder(self, refused, files, tmp_path, words):
        line = refused(*words.format(tmp_path / "nowhere", files=files).split())
        assert f"found no folder {tmp_path / 'nowhere'}; needed is a folder that is there; make it" in line

    def test_drawings(self, refused, files):
        line = refused("travel", files["machine"], "--drawings", files["readings"])
        assert "--drawings: found" in line
        assert "a file; needed is a folder" in line
        assert "no folder" in refused("budget", files["machine"], "--drawings", files["readings"] / "d")

    def test_inputs_are_never_written_over(self, refused, tmp_path):
        kept = tmp_path / "machine-01.toml"
        kept.write_text(demo.machine_toml())
        line = refused(
            "plan",
            "--machine",
            kept,
            "--motion",
            tmp_path / "machine.toml",
            "--stop-tested",
            "--reach",
            "0 to 900 mm",
        )
        assert "which holds what looks like a machine file; needed is a file that may be written over" in line
        assert kept.read_text() == demo.machine_toml()
        kept.write_text(demo.wiring_toml())
        assert "what looks like a wiring file" in refused("wiring", kept, "--svg", kept)

    def test_a_folder_is_no_file(self, refused, tmp_path):
        (tmp_path / "s.pdf").mkdir()
        assert "s.pdf, a folder; needed is a file" in refused("plan", "--sheet", tmp_path / "s.pdf")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("plan --reach foo", "--reach: found no --motion; needed is --motion beside it; add --motion, or leave"),
        ("plan --z-reach foo", "--z-reach: found no --motion"),
        ("plan --axis Y", "--axis: found no --machine"),
        ("budget {machine} --resolution 1", "--resolution: found no READINGS"),
        ("install {machine} --step 1", "--step: found no READINGS"),
        ("install {machine} {readings} --sensors {sensors} --sensor B", "--sensor: found READINGS beside it"),
        ("record --verify {readings} --day 2026-03-07", "--day: found no BOOK or READINGS"),
        ("import {readings} --trial T", "--trial: found no --book"),
        ("listen --baud 1200", "--baud: found no PORT"),
        ("listen nowhere --set 1", "--set: found no --book"),
        ("listen nowhere --try --book {machine}", "--book: found --try beside it; needed is one of the two"),
        ("sweep {variants} --cluster a:1 --workers 2", "--workers: found --cluster beside it"),
        ("travel {machine} --axis Y --from 1 --from 2 --from 3", "--from: found 3 places; needed is one, or two"),
    ],
)
def test_an_option_that_would_do_nothing(refused, files, words, said):
    assert said in refused(*words.format(**files).split())


def test_there_is_nothing_to_rescue_from_no_book(refused, tmp_path):
    assert "nope: found no such file; needed is a damaged book" in refused(
        "book", "rescue", tmp_path / "nope", tmp_path / "b"
    )
    assert not (tmp_path / "b").exists()


@pytest.mark.parametrize(("word", "said"), [("choos", "choos. Did you mean choose?"), ("xyzzy", "xyzzy.\n")])
def test_a_mistyped_command(refused, word, said):
    assert f"No such command: {said}" in refused(word)


@pytest.mark.parametrize("words", [("book", "check"), ("study",), ("fleet",), ("log",)])
def test_a_name_that_no_file_can_have(refused, words):
    assert "too long" in refused(*words, "x" * 300)


def test_a_line_end_in_a_name_makes_no_second_line(refused, tmp_path):
    assert "a b: found no such file" in refused("book", "check", tmp_path / "a\nb")
