"""`holdzero study` and `holdzero choose` as a person runs them: files and standard input in, figures out."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

import in_process
from holdzero import demo
from holdzero.case import Case
from holdzero.case.exchange import in_folder
from holdzero.quantity import plain
from holdzero.tell.choice import tell_choice
from holdzero.tell.findings import candidates_table
from trials import csv_of, rows

STUDY_KEYS = {"sensor", "axis", "side", "n", "sets", "spread_mm", "signatures", "cautions"}


def run(*words: str, stdin: str | bytes = "") -> in_process.Done:
    return in_process.run(*words, stdin=stdin if isinstance(stdin, bytes) else stdin.encode())


def of_its_own(*words: str) -> subprocess.CompletedProcess[bytes]:
    """The same in a process of its own, as a person's shell runs it."""
    return subprocess.run([sys.executable, "-m", "holdzero", *words], capture_output=True, check=False)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo")
    (folder / "machine.toml").write_text(demo.machine_toml(), encoding="utf-8")
    (folder / "sensors.toml").write_text(demo.sensors_toml(), encoding="utf-8")
    (folder / "readings.csv").write_text(demo.readings_csv(), encoding="utf-8")
    return folder


def asked(files: Path, *words: str) -> list[str]:
    return ["choose", "--machine", str(files / "machine.toml"), "--sensors", str(files / "sensors.toml"), *words]


def test_a_column_of_the_same_name_says_the_same_of_each_candidate(files: Path):
    """A choice counts what landed outside what is asked too, which a study does not know."""
    case = Case(in_folder(files))
    study, choice = candidates_table(case.study.findings), tell_choice(case).table
    assert set(study.head) & set(choice.head) == {"Candidate"}
    missed = {row[0]: row[choice.head.index("Missed")] for row in choice.rows}
    assert missed[demo.STRAYS] == f"3/{demo.POWER_UPS * demo.HOMINGS}"


class TestStudy:
    """`holdzero study READINGS [--json]`."""

    def test_json(self, files: Path):
        done = of_its_own("study", str(files / "readings.csv"), "--json")
        assert (done.returncode, done.stderr) == (0, b"")
        answer = json.loads(done.stdout)
        assert {(s["sensor"], s["side"]) for s in answer["sensors"]} == {
            (planted.sensor, side) for planted in demo.PLANTED for side in ("L", "R", "difference")
        }
        assert all(set(s) >= STUDY_KEYS for s in answer["sensors"])

    def test_text_has_figures_first_and_cautions_after(self, files: Path):
        own = files / "own.csv"  # without the line that an example costs
        own.write_text((files / "readings.csv").read_text().replace(",yes\n", ",\n"))
        lines = run("study", str(own)).stdout.decode().splitlines()
        assert lines[0].startswith("Gross misses first, find their cause: ")
        assert lines[0].endswith(f" of {demo.STRAYS}.")
        assert f" in {2 * demo.POWER_UPS * demo.HOMINGS} homings of " in lines[0]  # two sides of the one
        head = next(i for i, line in enumerate(lines) if line.startswith("Candidate "))
        rows = [line.split()[0] for line in lines[head:] if line and line[0] != " "]
        assert rows[1:7] == [planted.sensor for planted in demo.PLANTED]  # row 0 is the head
        explained = run("study", str(own), "--explain").stdout.decode().splitlines()
        assert explained[: len(lines) - 1] == lines[:-1]
        assert "Before trusting these figures" in explained

    def test_standard_input_and_options(self):
        text = csv_of(*rows([["0.01"] * 5] * 8))
        said, unsaid = (
            json.loads(run("study", "-", *options, "--json", stdin=text).stdout)["sensors"][0]
            for options in (["--resolution", "10 um"], [])
        )
        assert said["resolution_mm"] == pytest.approx(0.01)
        assert said["spread_high_mm"] == pytest.approx(
            0.00495, abs=5e-6
        )  # .495 r from 8 power-ups (docs/methods.md 2)
        assert unsaid["resolution_mm"] is None
        assert unsaid["spread_high_mm"] is None

    def test_protocol(self):
        text = csv_of(*rows([["0.002", "0.003"], ["0.001", "0.004"]]))
        answer = json.loads(run("study", "-", "--protocol", "first", "--json", stdin=text).stdout)
        (sensor,) = answer["sensors"]
        assert (sensor["n"], sensor["protocol"]) == (6, "first")

    def test_a_file_as_a_spreadsheet_saves_it(self):
        text = csv_of(*rows([["0.002", "0.003", "0.001"]]))
        for encoding in ("utf-8-sig", "utf-16"):
            done = run("study", "-", "--json", stdin=text.encode(encoding))
            assert json.loads(done.stdout)["sensors"][0]["n"] == 3

    def test_an_axis_with_one_motor_keeps_its_spread_beside_a_gantry(self):
        """The row of X is the one that X alone gets; its unit stands in the head of the short answer too."""
        head = "sensor,axis,side,set,homing,deviation_um,resolution_um\n"
        x = [f"A,X,,{k},{h},{(k * 7 + h * 5) % 9},1" for k in (1, 2, 3) for h in (1, 2, 3, 4)]
        y = [f"A,Y,{side},{k},{h},{(k * 5 + h * 7) % 11},1" for k in (1, 2) for h in (1, 2, 3) for side in "LR"]
        alone = run("study", "-", stdin=head + "\n".join(x)).stdout.decode()
        interval = next(line.split("  ") for line in alone.splitlines() if line.startswith("A  "))
        spread = next(cell.strip() for cell in interval[1:] if cell)
        both = run("study", "-", stdin=head + "\n".join(x + y)).stdout.decode()
        row = next(line for line in both.splitlines() if line.startswith("A, X"))
        assert "(" in spread
        assert f" {spread} " in row
        assert "spread µm" in alone
        assert "left µm" in both

    def test_readings_all_alike_ask_for_the_step_first(self):
        """Nothing can be said of them: that may not read like a candidate without faults."""
        said = run("study", "-", stdin="sensor,axis,set,deviation_um\n" + "C,X,1,0\n" * 12).stdout.decode()
        assert "What to do\n– C: Every reading is the same and no resolution was stated" in said


class TestChoose:
    """`holdzero choose --machine M --sensors S [--axis Y] READINGS [--json]`."""

    def test_json(self, files: Path):
        done = run(*asked(files, str(files / "readings.csv"), "--json"))
        assert (done.returncode, done.stderr) == (0, b"")
        answer = json.loads(done.stdout)
        assert answer["choice"] == demo.WINNER
        assert {c["sensor"]: c["verdict"] for c in answer["candidates"]} == {
            planted.sensor: planted.verdict for planted in demo.PLANTED
        }

    def test_text_says_the_choice_first(self, files: Path):
        lines = run(*asked(files, str(files / "readings.csv"))).stdout.decode().splitlines()
        assert lines[0] == f"{demo.WINNER} is the cheapest that holds so far."
        assert lines[1].startswith(f"{demo.WINNER} holds zero on Y so far.")
        assert any(line.startswith(f"{demo.WINNER} ") and "✓ holds" in line for line in lines)
        everything = run(*asked(files, str(files / "readings.csv"), "--full")).stdout.decode()
        text = " ".join(everything.split())
        assert f"{demo.WINNER} (21.00) is the cheapest that holds." in text
        assert "At most 1 in 500 if the scatter stays as regular as it looks" in text

    def test_a_risk_of_a_hundredth_is_a_share_of_homings(self, files: Path, tmp_path: Path):
        risky = (files / "machine.toml").read_text(encoding="utf-8").replace("1 in 500", "1 %")
        (tmp_path / "machine.toml").write_text(risky, encoding="utf-8")
        done = run(
            "choose",
            "--machine",
            str(tmp_path / "machine.toml"),
            "--sensors",
            str(files / "sensors.toml"),
            str(files / "readings.csv"),
        )
        assert "but for 1.0 % of homings: a spread of" in " ".join(plain(done.stdout.decode()).split())

    def test_an_unknown_axis(self, files: Path):
        done = run(*asked(files, "--axis", "Q", str(files / "readings.csv")))
        assert done.returncode == 2
        assert (
            done.stderr.decode()
            == "holdzero: axis: found Q; needed is one of Y, X; name one of the machine file.\n"
        )


@pytest.mark.parametrize(
    ("words", "stdin", "said"),
    [
        (
            ["study", "nowhere.csv"],
            "",
            "nowhere.csv: found no such file or directory; needed is a book or a readings file",
        ),
        (["study", "-"], "", "standard input"),
        (["study", "-"], "deviation_mm\nabc\n", "abc"),
        (["study", "-"], "sensor,set\nA,1\n", "deviation"),
        (["study", "-", "--resolution", "fine"], "deviation_mm\n1\n", "--resolution"),
        (["study", "-"], b"deviation_mm\n\xff\xfe\xfa\n", "no text"),
        (["study"], "", "found nothing to look at; needed is a book or a file"),
        (["choose", "-"], "deviation_mm\n1\n", "--machine"),
    ],
)
def test_bad_input_ends_with_status_2_and_one_line(words: list[str], stdin: str | bytes, said: str):
    done = run(*words, stdin=stdin)
    assert done.returncode == 2
    assert done.stdout == b""
    (line,) = done.stderr.decode().splitlines()
    assert line.startswith("holdzero: ")
    assert said in line


def test_bad_input_ends_so_in_a_process_of_its_own_too():
    words = ("study", "nowhere.csv")
    done, own = run(*words), of_its_own(*words)
    assert (own.returncode, own.stdout, own.stderr) == (done.returncode, done.stdout, done.stderr)


class TestMoreOfIt:
    """What the terminal shows beyond the contract: set-up, conditions, misses counted elsewhere, prices."""

    def test_conditions_and_set_up(self):
        lines = ["set,homing,deviation_mm,condition,repeat"]
        for number in range(1, 5):
            word = "spindle on" if number % 2 else "spindle off"
            lines += [f"{number},{homing},{0.001 * (homing * number % 5):.3f},{word}," for homing in range(1, 6)]
            lines += [f"{number},5,{0.001 * (number % 2):.3f},{word},yes"]
        answer = run("study", "-", "--resolution", "1 um", "--full", stdin="\n".join([*lines, ""]))
        said = " ".join(answer.stdout.decode().split())
        assert "under each condition alone" in said
        assert "Read again without homing, the set-up scatters" in said

    def test_misses_counted_elsewhere(self, files: Path):
        done = run("study", str(files / "readings.csv"), "--misses", f"{demo.WINNER}: 1 in 900 watch log")
        n = 2 * (900 + demo.POWER_UPS * demo.HOMINGS)
        (row,) = [line for line in done.stdout.decode().splitlines() if line.startswith(f"{demo.WINNER} ")]
        assert f" 2/{n} " in row
        wrong = run("study", str(files / "readings.csv"), "--misses", f"{demo.WINNER}: 9 in 3")
        assert (wrong.returncode, wrong.stdout) == (2, b"")
        assert "how many of how many homings" in wrong.stderr.decode()

    def test_after_gross_misses_the_next_thing_is_their_cause(self, files: Path):
        """P has three chips under its tip planted in 60 homings: not simply another candidate, as for J and M."""
        lines = demo.readings_csv().splitlines()
        of_p = "\n".join(line for line in lines if line.startswith(("#", "sensor,", "P,")))
        said = " ".join(run(*asked(files, "-"), stdin=of_p).stdout.decode().split())
        assert "P does not hold in its trial: 3 homings of 60 landed far from all others." in said
        assert "Next: Find what sent 3 homings far from all others, then try P again" in said

    def test_price_limit_and_inches(self, files: Path):
        options = ("--price-limit", "18", "--units", "inch", "--full")
        said = run(*asked(files, *options, str(files / "readings.csv"))).stdout.decode()
        assert "It costs 21.00; the limit is 18.00." in said
        assert "a spread of at most 1.24 thou for a side." in " ".join(said.split()).replace("\u202f", " ")
        assert "µm" not in said.replace("10 µm", "")
