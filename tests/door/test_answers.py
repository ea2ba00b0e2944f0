"""Answers: what Python gets is what the terminal prints as JSON, printed short, shown as on the page."""

import json
import re
import sys
from xml.etree import ElementTree

import pytest

import holdzero as hz
from holdzero import demo
from holdzero.cli import main
from holdzero.errors import MissingExtra

NAMES = ("machine", "sensors", "wiring", "square")


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("door")
    for name in NAMES:
        (folder / f"{name}.toml").write_text(getattr(demo, f"{name}_toml")(), encoding="utf-8")
    (folder / "readings.csv").write_text(demo.readings_csv(), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def answers(files):
    """Every answer that files can give, with the words of the command that gives the same."""
    path = {name: files / f"{name}.toml" for name in NAMES} | {"readings": files / "readings.csv"}
    of_files = {"machine": path["machine"], "sensors": path["sensors"]}
    words = ["--machine", path["machine"], "--sensors", path["sensors"]]
    beside = ["--sensors", path["sensors"], "--wiring", path["wiring"], "--square", path["square"]]
    tried = {"readings": path["readings"], "sensors": path["sensors"]}
    wired = tried | {"wiring": path["wiring"], "square": path["square"]}
    return {
        "study": (hz.study(path["readings"], machine=path["machine"]), [path["readings"], *words[:2]]),
        "choose": (
            hz.choose(path["readings"], **of_files, wiring=path["wiring"]),
            [path["readings"], *words, "--wiring", path["wiring"]],
        ),
        "standing": (hz.standing(path["machine"], **wired), [path["machine"], path["readings"], *beside]),
        "record": (
            hz.record(path["readings"], **of_files, wiring=path["wiring"], square=path["square"]),
            [path["readings"], *words, *beside[2:]],
        ),
        "budget": (hz.budget(path["machine"], **tried), [path["machine"], path["readings"], *words[2:]]),
        "travel": (
            hz.travel(path["machine"], wiring=path["wiring"]),
            [path["machine"], "--wiring", path["wiring"]],
        ),
        "wiring": (hz.wiring(path["wiring"]), [path["wiring"]]),
        "square": (hz.square(path["square"]), [path["square"]]),
        "plan": (hz.plan(path["machine"], sensors=path["sensors"]), words),
        "install": (hz.install(path["machine"], **wired), [path["machine"], path["readings"], *beside]),
    }


QUESTIONS = ("study", "choose", "standing", "record", "budget", "travel", "wiring", "square", "plan", "install")


@pytest.mark.parametrize("question", QUESTIONS)
def test_it_is_the_json_of_the_command(answers, question, monkeypatch, capsys):
    answer, words = answers[question]
    monkeypatch.setattr(sys, "argv", ["holdzero", question, *map(str, words), "--json"])
    with pytest.raises(SystemExit):
        main()
    assert answer.to_dict() == json.loads(capsys.readouterr().out)


@pytest.mark.parametrize("question", QUESTIONS)
def test_it_prints_short_and_shows_in_a_notebook(answers, question):
    answer, _ = answers[question]
    lines = repr(answer).splitlines()
    assert 2 <= len(lines) <= 12
    assert max(map(len, lines)) <= 160
    shown = answer._repr_html_()
    ElementTree.fromstring(shown)  # well formed
    assert re.sub(r"\W", "", answer.headline.split(".")[0]) in re.sub(r"\W", "", shown)
    for name in answer.pictures[:4]:
        assert ElementTree.fromstring(answer.picture(name)).tag.endswith("svg")


@pytest.mark.parametrize("question", QUESTIONS)
def test_its_tables_carry_their_units(answers, question):
    answer, _ = answers[question]
    pandas = pytest.importorskip("pandas")
    for table in answer.tables:
        rows = answer.rows(table)
        assert len(answer.to_frame(table)) == len(rows)
        pandas.testing.assert_frame_equal(answer.to_frame(table), pandas.DataFrame(rows))
    assert answer.rows(), question


def test_made_up_figures_say_so(answers):
    for question in ("study", "choose", "plan", "travel"):
        answer, _ = answers[question]
        assert answer.to_dict()["invented"] is True
        assert answer.invented[:20] in repr(answer)


class TestByName:
    """Rows, tables and pictures are reached by name."""

    def test_a_candidate(self, answers):
        assert answers["choose"][0].of("K")["verdict"] == "holds"
        assert answers["study"][0].of("K", side="L")["n"] == 60
        assert answers["travel"][0].of("Y", check="home_overtravel")["ok"] is True

    def test_slips(self, answers):
        with pytest.raises(ValueError, match="needed is one of H, J, K"):
            answers["choose"][0].of("Z")
        with pytest.raises(ValueError, match="3 rows"):
            answers["study"][0].of("K")
        with pytest.raises(ValueError, match="did you mean faults"):
            answers["wiring"][0].rows("fault")
        with pytest.raises(ValueError, match="needed is one of"):
            answers["choose"][0].picture("portrait")
        with pytest.raises(ValueError, match="no picture"):
            answers["budget"][0].picture()

    def test_an_axis_that_is_not_there(self, files):
        with pytest.raises(ValueError, match="Q"):
            hz.travel(files / "machine.toml", axis="Q")


def test_without_pandas_it_says_what_to_install(answers, monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(MissingExtra, match=r"holdzero\[notebook\]"):
        answers["choose"][0].to_frame()


def test_the_record_is_written(answers, tmp_path):
    record = answers["record"][0]
    assert record.write(tmp_path / "record.html").read_bytes().startswith(b"<!doctype html>")
    with pytest.raises(ValueError, match=r"\.pdf or \.html"):
        record.write(tmp_path / "record.txt")


def test_a_picture_is_saved(answers, tmp_path):
    path = answers["square"][0].picture().save(tmp_path / "gantry.svg")
    assert path.read_text(encoding="utf-8").startswith("<svg")
