"""Spans in a book: the same figures as from the file, and nothing of them lost on any way out."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero.case import Case, Texts
from holdzero.case.in_book import InBook, machine_named
from holdzero.cli.book import command
from holdzero.demo import machine_toml, sensors_toml
from holdzero.errors import InputError
from holdzero.form import read_toml
from holdzero.inputs.reading import read_readings
from holdzero.store import Book, check, open_book, read_archive, rescue

SPANS = "sensor,axis,side,set,least_mm,greatest_mm,n,resolution_mm,shift\n" + "".join(
    f"{sensor},Y,{side},{i},{-0.001 * i},{0.004 + 0.001 * (i % 3)},6,0.001,night\n"
    for sensor in "HK"
    for side in "LR"
    for i in range(1, 9)
)
OWN = "sensor,axis,side,set,span_mm,n,protocol,set_aside\nH,Y,L,1,0.004,6,first,\nH,Y,L,2,0.005,5,first,bumped\n"


@pytest.fixture
def book(tmp_path: Path) -> Book:
    with open_book(tmp_path / "shed.holdzero") as opened:
        machine = opened.add_machine(read_toml(machine_toml()))
        for name, keys in read_toml(sensors_toml())["sensors"].items():
            opened.add_sensor(machine, name, keys)
        opened.add_trial(machine, name="Spans", axis="Y")
        yield opened


def case_of(book: Book) -> Case:
    return Case(InBook(book, machine_named(book, None)))


def kept(book: Book) -> tuple:
    return tuple(span for trial in book.trials(1) for span in book.spans(trial.id, undone=True))


def test_the_figures_are_those_of_the_file(book: Book):
    done = book.import_readings(1, read_readings(SPANS), name="spans.csv")
    assert (done.readings, done.spans) == (0, 32)
    in_files = Case(Texts(files={"machine": machine_toml(), "sensors": sensors_toml(), "spans": SPANS}))
    for of in (lambda case: case.study.spans, lambda case: case.on("Y").choice):
        here, there = of(case_of(book)), of(in_files)
        assert _figures(here) == _figures(there)


def _figures(answer):
    if hasattr(answer, "candidates"):
        return [
            (str(c.verdict), c.chance_holds, c.share_outside, c.reasons, [s.sigma_mm for s in c.spans])
            for c in answer.candidates
        ]
    return [
        (s.sensor, s.side, s.n, s.sigma_mm, s.spread.low, s.spread.high, s.wander_mm, s.sentences) for s in answer
    ]


def test_written_and_read_back_it_is_the_same_case(book: Book):
    """Files of the book, read as files: what a record carries."""
    book.import_readings(1, read_readings(SPANS), name="spans.csv")
    case = case_of(book)
    again = Case(Texts(files=dict(case.basis.texts)))
    assert again.readings.spans[0].extra["shift"].tolist() == ["night"] * 8
    assert _figures(again.study.spans) == _figures(case.study.spans)
    assert again.basis.digests["spans"] == case.basis.digests["spans"]


@pytest.mark.parametrize("text", [SPANS, OWN])
def test_archive_and_rescue_keep_every_row(book: Book, tmp_path: Path, text: str):
    book.import_readings(1, read_readings(text))
    book.undo_span(1)
    rows = kept(book)
    assert len(rows) == text.count("\n") - 1
    book.export(tmp_path / "book.zip")
    book.back_up(tmp_path / "copy.holdzero")
    read_archive(tmp_path / "book.zip", tmp_path / "again.holdzero")
    assert rescue(tmp_path / "copy.holdzero", tmp_path / "saved.holdzero").lost == ()
    for name in ("again", "saved"):
        assert check(tmp_path / f"{name}.holdzero").wrong == ()
        with open_book(tmp_path / f"{name}.holdzero") as opened:
            assert kept(opened) == rows


def test_one_span_a_power_up(book: Book):
    """The file again, in another form too; a row of a set that is there; a row taken back and counted again."""
    book.import_readings(1, read_readings(SPANS))
    same = SPANS.replace(",shift\n", "\n").replace(",night", "")
    with pytest.raises(InputError, match="came in before"):
        book.import_readings(1, read_readings(same))
    row = "sensor,axis,side,set,least_mm,greatest_mm,n\nH,Y,L,1,0,0.009,4\n"
    with pytest.raises(InputError, match="a second span of set 1"):
        book.import_readings(1, read_readings(row))
    book.undo_span(1)
    book.import_readings(1, read_readings(row))
    assert book.readings(1).spans[0].span_mm.tolist()[-1] == 0.009
    with pytest.raises(InputError, match="a second span of set 1"):
        book.redo_span(1)


def test_a_file_of_other_spans_is_another_file(book: Book):
    book.import_readings(1, read_readings(SPANS))
    second = book.add_trial(1, name="Again", axis="Y")
    other_spans = SPANS.replace("0.004", "0.005").replace("-0.001", "-0.002")
    assert book.import_readings(second, read_readings(other_spans)).before is None


def test_two_trials_are_one_case_and_one_left_out_is_gone(book: Book):
    """Worked by hand: 8 spans and 8 more of H left, in two trials: 16, whose zeros are not one zero."""
    book.import_readings(1, read_readings(SPANS))
    second = book.add_trial(1, name="Again", axis="Y")
    book.import_readings(second, read_readings(SPANS.replace("-0.001", "-0.002")))
    (left, *_) = case_of(book).study.spans
    assert (left.side, left.sets, left.n, left.wander_mm) == ("L", 16, 96, None)
    book.label_trial(second, left_out="wrong switch")
    case = case_of(book)
    (left, *_) = case.study.spans
    assert (left.sets, left.n) == (8, 48)
    assert left.wander_mm is not None
    assert case.basis.texts["spans"].count("wrong switch") == 32  # none is lost on the way out


def test_a_row_that_no_file_could_hold_is_refused_by_name(book: Book, tmp_path: Path):
    book.import_readings(1, read_readings(SPANS))
    with book._writing() as c:
        c.exec_driver_sql("update span set n = 1 where id = 3")
    assert "span 3" in check(book.path).wrong[0]
    with pytest.raises(Exception, match="span 3"):
        book.readings(1)


def test_folder_out_and_in_again(book: Book, tmp_path: Path):
    """`book write`, then `book add` twice: the same figures, no span doubled."""
    book.import_readings(1, read_readings(SPANS), name="spans.csv")
    runner = CliRunner()
    out = str(tmp_path / "out")
    assert runner.invoke(command, ["write", str(book.path), out]).exit_code == 0
    again = tmp_path / "again.holdzero"
    for turn in (1, 2):
        added = runner.invoke(command, ["add", str(again), out])
        assert added.exit_code == 0, (turn, added.output, added.exception)
    with open_book(again) as opened:
        assert _figures(case_of(opened).study.spans) == _figures(case_of(book).study.spans)
        assert _figures(case_of(opened).on("Y").choice) == _figures(case_of(book).on("Y").choice)
