"""`book add` and `book write`: what came of each file, what was not recognised, what is kept, what refused."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
import sqlalchemy as sa
from click.testing import CliRunner

from case.books import SENSORS, Trialled, one_motor, readings_csv
from holdzero import demo
from holdzero.cli import cli
from holdzero.form import write_toml
from holdzero.store import check, open_book

OWN = one_motor() | {"machine": {"name": "Mill"}}
READINGS = readings_csv(Trialled(axis="X", sensors=("K",)))
FILES = {
    "mill.toml": write_toml(OWN),
    "candidates.toml": write_toml({"sensors": {"K": SENSORS["K"], "P": SENSORS["P"]}}),
    "spring.csv": READINGS,
}


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(tmp_path)
    for name, text in FILES.items():
        Path(name).write_text(text, encoding="utf-8")

    def book(*words: str) -> tuple[int, list[str]]:
        ended = CliRunner().invoke(cli, ["book", *words], standalone_mode=False)
        points = f"\n{ended.output}".split("\n– ")[1:]  # set within 80 columns, a point each
        lines = [str(ended.exception)] if ended.exception else [" ".join(point.split()) for point in points]
        return (2 if ended.exception else ended.return_value or 0), lines

    return book


@contextmanager
def listening(asked: list[str]) -> Iterator[None]:
    """Note what any database is asked meanwhile."""

    def note(_connection: object, _cursor: object, text: str, *_: object) -> None:
        asked.append(text)

    sa.event.listen(sa.Engine, "before_cursor_execute", note)
    try:
        yield
    finally:
        sa.event.remove(sa.Engine, "before_cursor_execute", note)


def test_a_line_for_each_file_whatever_it_is_called(run):
    assert run("add", "b.holdzero", *FILES) == (
        0,
        [
            "mill.toml, machine: Mill new.",
            "candidates.toml, candidates: K, P new.",
            "spring.csv, readings: 32 readings new in the trial “spring”, which begins with them.",
        ],
    )


def test_very_many_candidates_are_a_line_and_a_few_questions(run):
    asked: list[str] = []
    run("add", "b.holdzero", "mill.toml")
    counts = []
    for first, last in ((0, 40), (40, 240)):
        Path("more.toml").write_text(
            write_toml({"sensors": {f"S{i}": {"price": "3"} for i in range(first, last)}})
        )
        with listening(asked):
            status, (line,) = run("add", "b.holdzero", "more.toml")
        counts.append(len(asked))
        asked.clear()
        names = ", ".join(f"S{i}" for i in range(first, first + 12))
        assert (status, line) == (0, f"more.toml, candidates: {names}, {last - first - 12} more new.")
    assert counts[1] < counts[0] + 10
    with open_book(Path("b.holdzero")) as book:
        assert [kept.sensor.name for kept in book.sensors(1)] == [f"S{i}" for i in range(240)]
        assert [(row.about, row.n) for row in book.trail()[:2]] == [("sensor", 200), ("sensor", 40)]
    assert check(Path("b.holdzero")).wrong == ()


def test_the_same_again_is_said_and_nothing_doubled(run):
    run("add", "b.holdzero", *FILES)
    Path("copy of spring.csv").write_text(READINGS, encoding="utf-8")
    code, lines = run("add", "b.holdzero", *FILES, "copy of spring.csv")
    assert code == 0
    assert lines == [
        "mill.toml, machine: Mill there already.",
        "candidates.toml, candidates: K, P there already.",
        *(
            f"{name}, readings: 32 readings there already in the trial “spring”, nothing doubled."
            for name in ("spring.csv", "copy of spring.csv")
        ),
    ]
    with open_book("b.holdzero") as book:
        assert [book.count(trial.id) for trial in book.trials(1)] == [32]


def test_a_file_that_has_grown_brings_what_is_new(run):
    head = "".join(READINGS.splitlines(keepends=True)[:25])
    Path("spring.csv").write_text(head, encoding="utf-8")
    run("add", "b.holdzero", *FILES)
    Path("spring.csv").write_text(READINGS, encoding="utf-8")
    assert run("add", "b.holdzero", "spring.csv")[1] == [
        "spring.csv, readings: 8 readings new in the trial “spring”; 24 readings there already, nothing doubled."
    ]


def test_what_the_book_says_otherwise_is_kept_until_it_is_replaced(run):
    run("add", "b.holdzero", *FILES)
    changed = {"sensors": {"K": SENSORS["K"] | {"price": 99.0}, "P": SENSORS["P"]}}
    Path("candidates.toml").write_text(write_toml(changed), encoding="utf-8")
    assert run("add", "b.holdzero", "candidates.toml")[1] == [
        (
            "candidates.toml, candidates: P there already; K kept as the book has it, the file says otherwise "
            "(--replace takes the file's)."
        )
    ]
    with open_book("b.holdzero") as book:
        assert book.sensors(1)[0].sensor.price == 18.0
    assert run("add", "b.holdzero", "candidates.toml", "--replace")[1] == [
        "candidates.toml, candidates: P there already; K replaced."
    ]
    with open_book("b.holdzero") as book:
        assert book.sensors(1)[0].sensor.price == 99.0
        assert [act.mark for act in book.acts("sensor", 1)] == ["document"]  # what it was stays among the acts


def test_a_homing_with_another_figure_is_refused_and_all_stays_as_it_was(run):
    """One transaction: the machine that came before the refused readings is not there either."""
    run("add", "b.holdzero", *FILES)
    rows = READINGS.splitlines()
    other = rows[3].replace(rows[3].split(",")[5], "0.444")
    Path("spring.csv").write_text("\n".join([*rows[:3], other, *rows[4:]]), encoding="utf-8")
    Path("lathe.toml").write_text(write_toml(OWN | {"machine": {"name": "Lathe"}}), encoding="utf-8")
    code, lines = run("add", "b.holdzero", "--machine", "Mill", "candidates.toml", "spring.csv")
    assert (code, "a second time" in lines[0]) == (2, True)
    Path("slip.toml").write_text('[[decision]]\nreason = "no sensor"\n', encoding="utf-8")
    code, lines = run("add", "b.holdzero", "lathe.toml", "slip.toml")
    assert (code, lines[0].startswith("slip.toml, decision: found no decision")) == (2, True)
    with open_book("b.holdzero") as book:
        assert [kept.machine.name for kept in book.machines()] == ["Mill"]
        assert [book.count(trial.id) for trial in book.trials(1)] == [32]


NOT_OURS = {
    "leaflet.pdf": (b"%PDF-1.7 ...", "a PDF"),
    "other.holdzero": (b"SQLite format 3\0", "a book"),
    "sweep.toml": (b"[vary]\n", "variants of a machine"),
    "fonts.toml": (b"[fonts]\nsize = 3\n", "tables of no file that is known"),
    "run.vcd": (b"$timescale 1 us $end", "the recording of a logic analyser"),
    "rows.csv": (b"time,axis,deviation_mm\n2026-01-02T08:00,X,0.1\n", "rows that may be readings"),
    "names.csv": (b"name,age\nn,3\n", "a table in which no heading names readings"),
    "empty.csv": (b" ", "nothing in it"),
}


def test_what_is_not_recognised_is_said_with_what_would_do(run):
    for name, (content, _) in NOT_OURS.items():
        Path(name).write_bytes(content)
    code, lines = run("add", "b.holdzero", *(name for name in NOT_OURS if name != "empty.csv"))
    assert code == 1, lines
    assert not Path("b.holdzero").exists()  # nothing came in, so none was made
    for line, (name, (_, found)) in zip(lines, NOT_OURS.items(), strict=False):
        assert line.startswith(f"{name}: not brought in, it is "), line
        assert found.split()[0] in line
        assert "What would do: " in line


def test_write_loses_nothing_that_lies_in_the_folder(run):
    run("add", "b.holdzero", *FILES)
    assert run("write", "b.holdzero", "out")[1][0].startswith("out: machine.toml, sensors.toml, readings.csv")
    assert run("write", "b.holdzero", "out")[1] == [
        "out: machine.toml, sensors.toml, readings.csv, book.toml there already, alike."
    ]
    Path("out/machine.toml").write_text("mine", encoding="utf-8")
    code, lines = run("write", "b.holdzero", "out")
    assert (code, "machine.toml there already, saying something else" in lines[0]) == (2, True)
    assert Path("out/machine.toml").read_text(encoding="utf-8") == "mine"
    assert run("write", "b.holdzero", "out", "--replace")[0] == 0


def test_several_machines_go_into_folders_of_their_own(run):
    run("add", "b.holdzero", *FILES)
    Path("lathe.toml").write_text(write_toml(OWN | {"machine": {"name": "Lathe"}}), encoding="utf-8")
    run("add", "b.holdzero", "lathe.toml")
    run("write", "b.holdzero", "out")
    assert sorted(path.name for path in Path("out").iterdir()) == ["lathe-2", "mill-1"]
    code, lines = run("add", "b.holdzero", "candidates.toml")
    assert (code, "--machine" in lines[0]) == (2, True)


def test_a_folder_without_files_is_refused(run):
    """What a book of several machines is written into holds folders alone: nothing would come in, unsaid."""
    Path("out/mill-1").mkdir(parents=True)
    for folder, words in (("out", f"such as {Path('out/mill-1')}"), ("out/mill-1", "an empty folder")):
        code, lines = run("add", "b.holdzero", folder)
        assert (code, words in lines[0]) == (2, True), lines
    assert not Path("b.holdzero").exists()


@pytest.mark.parametrize(
    "damage",
    [
        "update sensor set document = '{' where machine_id = 2",
        "insert into result (machine_id, kind, digest, version, document) values (2, 'record', '', '', '{')",
    ],
)
def test_of_a_book_that_cannot_be_read_nothing_is_written(run, damage: str):
    """Neither of the machine before, nor where only what stays in the book cannot be counted."""
    run("add", "b.holdzero", *FILES)
    Path("lathe.toml").write_text(write_toml(OWN | {"machine": {"name": "Lathe"}}), encoding="utf-8")
    run("add", "b.holdzero", "lathe.toml")
    run("add", "b.holdzero", "candidates.toml", "--machine", "Lathe")
    with closing(sqlite3.connect("b.holdzero", isolation_level=None)) as sqlite:
        sqlite.execute(damage)
    assert run("write", "b.holdzero", "out")[0] == 2
    assert not Path("out").exists()


EVIDENCE = {
    "log": ("log.csv", demo.log_csv()),
    "tests": ("t.toml", 'example = true\n[[check]]\nitem = "emergency-stop"\noutcome = "done"\n'),
    "decisions": ("d.toml", 'example = true\n[[decision]]\nsensor = "K"\nreason = "r"\n'),
}


@pytest.mark.parametrize("what", EVIDENCE)
def test_what_happened_at_an_example_never_becomes_a_machine_s_own(run, what: str):
    run("add", "b.holdzero", *FILES)
    name, text = EVIDENCE[what]
    Path(name).write_text(text, encoding="utf-8")
    code, lines = run("add", "b.holdzero", name)
    assert (code, "of an invented example; needed is" in lines[0]) == (2, True)
    with open_book("b.holdzero") as book:
        assert (book.log(1), book.checks(1), book.results(1, "decision")) == ((), (), ())
