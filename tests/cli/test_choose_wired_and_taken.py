"""`holdzero choose` with circuits and with a book: what is ruled out as wired, and a decision that is kept."""

import json
import sys

import pytest

from holdzero.cli import main
from holdzero.demo import DEARER, INVENTED, WARMING, WINNER, machine_toml, readings_csv, sensors_toml, wiring_toml
from holdzero.store import open_book
from ready_books import keep_demo

FILES = ("--machine", "m.toml", "--sensors", "s.toml", "r.csv")
ONCE = "".join(line for line in readings_csv().splitlines(True) if not line.endswith(",yes,yes\n"))  # no repeats
FIVE_VOLT = """
[[circuit]]
name = "{axis} left"
axis = "{axis}"
supply.voltage = "5 V"
sensor.output = "dry contact"
sensor.contact = "NC"
[circuit.input]
kind = "logic"
supply = "5 V"
pull_up = "10 kohm"
"""


@pytest.fixture
def run(tmp_path, monkeypatch, capsys):
    """Run `choose` on the demo; return status, what was printed, and what it complained of."""
    monkeypatch.chdir(tmp_path)
    texts = {"m.toml": machine_toml(), "s.toml": sensors_toml(), "r.csv": readings_csv()}

    def choose(*words, **files):
        for name, text in (texts | {name.replace("_", "."): text for name, text in files.items()}).items():
            (tmp_path / name).write_text(text, encoding="utf-8")
        monkeypatch.setattr(sys, "argv", ["holdzero", "choose", *words])
        with pytest.raises(SystemExit) as left:
            main()
        return left.value.code, *capsys.readouterr()

    return choose


@pytest.fixture
def book(tmp_path):
    with open_book(tmp_path / "shed.holdzero") as opened:
        keep_demo(opened)
    return "shed.holdzero"


class TestWiring:
    """Electrical facts rule a candidate out, each with the reason."""

    def candidates(self, run, *words, **files):
        status, out, _ = run(*FILES, "--wiring", "w.toml", *words, "--json", **files)
        assert status == 0
        answer = json.loads(out)
        return answer, {one["sensor"]: one for one in answer["candidates"]}

    def test_the_demo_s_own_circuits_rule_nothing_out(self, run):
        answer, found = self.candidates(run, w_toml=wiring_toml())
        assert answer["choice"] == WINNER
        assert [one["ruled_out"] for one in found.values()] == [[]] * 6
        assert not any("As wired" in reason for reason in found[WINNER]["reasons"])  # it is the one wired now

    def test_an_input_that_can_be_changed_rules_nothing_out(self, run):
        """PNP on inputs with a common plus."""
        turned = wiring_toml().replace('common = "minus"', 'common = "plus"')
        _, found = self.candidates(run, w_toml=turned)
        assert any(
            reason.startswith("As wired: works once changed: join the input's common to 0")
            for reason in found[WARMING]["reasons"]
        )
        assert [candidate["ruled_out"] for candidate in found.values()] == [[]] * 6

    def test_a_supply_that_is_too_low(self, run):
        """Sensors for 10 V and more on 5 V: out, whatever their homings say."""
        _, found = self.candidates(run, w_toml=FIVE_VOLT.format(axis="Y"))
        out = {name: one["ruled_out"] for name, one in found.items() if one["ruled_out"]}
        assert sorted(out) == ["K", "M", "N"]
        assert out[WINNER][0].startswith("As wired: does not work: clear (5")
        assert out[WINNER][0].endswith("since B1 needs 10\u202fV and the supply gives 5\u202fV.")

    def test_the_cheapest_that_holds_is_out(self, run):
        """Then the next one is the choice, and the sentence says what became of the first."""
        low = sensors_toml().replace('"12 V to 28 V"\noutput = "PNP"', '"5 V to 28 V"\noutput = "NPN"')
        wired = (*FILES, "--wiring", "w.toml", "--full")
        status, out, _ = run(*wired, s_toml=low, w_toml=FIVE_VOLT.format(axis="Y"))
        text = " ".join(out.replace("\u202f", " ").split())
        assert status == 0
        choice = text.index(f"{DEARER} (47.00) is the only one that holds.")
        assert f"{WINNER} (21.00)" in text[choice : choice + 200]
        assert "ruled out" in text[choice : choice + 300]
        assert any(line.startswith(f"{WINNER} ") and "✗ ruled out" in line for line in out.splitlines())
        assert "– Ruled out. As wired: does not work: " in text

    def test_a_circuit_of_another_axis_says_nothing_of_this_one(self, run):
        _, found = self.candidates(run, w_toml=FIVE_VOLT.format(axis="X"))
        assert [one["ruled_out"] for one in found.values()] == [[]] * 6


class TestBeforeHolds:
    """What the plan asks for stands beside a `holds`; nothing where all of it was done."""

    def test_of_files(self, run):
        _, out, _ = run(*FILES, r_csv=ONCE)
        assert "– Before “holds” may stand: 10 readings without homing in between" in out
        asks = json.loads(run(*FILES, "--json", r_csv=ONCE)[1])["asked_before_holds"]
        assert [ask["code"] for ask in asks if not ask["done"]] == ["repeat"]


class TestTaken:
    """A decision is kept with a reason and the digests of what it rests on."""

    TAKE = ("shed.holdzero", "--take", DEARER, "--because", "nobody has to clean it", "--by", "the keeper")

    def test_kept_and_shown(self, run, book):
        kept = f"{DEARER} is taken (holds): nobody has to clean it. Kept in shed.holdzero."
        assert run(*self.TAKE)[:2] == (0, f"{kept}\n{INVENTED}\n")
        with open_book(book) as opened:
            (kept,) = opened.results(1, "decision")
        assert (kept.document["sensor"], kept.document["recommended"], len(kept.digest)) == (DEARER, WINNER, 64)
        out = run(book, "--full")[1]
        assert out.startswith(f"{DEARER} is taken; {WINNER} is the cheapest that holds.\n{DEARER} holds zero on Y")
        text = " ".join(out.split())
        assert f"{WINNER} (21.00) is the cheapest that holds." in text
        assert "by the keeper: nobody has to clean it. Nothing it rests on has changed since." in text
        (told,) = json.loads(run(book, "--json")[1])["decisions"]
        assert (told["by"], told["digest"]) == ("the keeper", kept.digest)

    def test_says_what_changed_since(self, run, book):
        run(*self.TAKE)
        with open_book(book) as opened:
            opened.set_aside(opened.rows(1)[0].id, "slip")
        (told,) = json.loads(run(book, "--json")[1])["decisions"]
        assert told["standing"] == "What it rests on has changed since: readings."

    def test_in_the_units_of_the_book(self, run, book):
        with open_book(book) as opened:
            opened.keep_setting("system", "inch")
        assert "\u202fthou" in run(book)[1]
        assert "\u202fthou" not in run(book, "--units", "metric")[1]

    @pytest.mark.parametrize(
        ("words", "says"),
        [
            (("shed.holdzero", "--take", WINNER), "--because: found nothing; needed is a reason"),
            (("shed.holdzero", "--take", WINNER, "--because", " "), "--because: found nothing"),
            (("shed.holdzero", "--take", "Q", "--because", "x"), "needed is one of H, J, K, M, N, P"),
            (("shed.holdzero", "--because", "x"), "add --take SENSOR"),
            ((*FILES, "--take", WINNER, "--because", "x"), "--take: found r.csv, which is not a book"),
            (
                ("shed.holdzero", "--take", WINNER, "--because", "x", "--price-limit", "9"),
                "a decision rests on the book",
            ),
            (("shed.holdzero", "--wiring", "w.toml"), "leave --wiring out: the book has it"),
            (("r.csv",), "--machine: found nothing, and r.csv, which is not a book"),
            (("none.csv",), "no such file or directory"),
        ],
    )
    def test_bad_input_is_one_line_and_status_2(self, run, book, words, says):
        status, _, line = run(*words)
        assert status == 2
        assert says in line
        assert line.count("\n") == 1
        with open_book(book) as opened:
            assert opened.results(1, "decision") == ()
