"""One answer: whatever is asked of a book, page, terminal, Python and record say the same, and so do its files."""

import json
import sys
from collections.abc import Iterator, Mapping
from math import isclose
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

import holdzero as hz
from case.books import BOOKS, FAILS, Trialled, make, one_motor, readings_csv
from holdzero.case import Case, How, Texts
from holdzero.case.in_book import InBook
from holdzero.cli import main
from holdzero.inputs.reading import read_readings
from holdzero.quantity import show_foretold
from holdzero.report.stored import stored_of
from holdzero.store import open_book
from holdzero.web.app import create_app

NAMES = tuple(BOOKS)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Mapping[str, tuple[Path, int]]:
    folder = tmp_path_factory.mktemp("books")
    return {
        name: (folder / f"{number}.holdzero", make(folder / f"{number}.holdzero", told))
        for number, (name, told) in enumerate(BOOKS.items())
    }


@pytest.fixture
def terminal(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def run(*words: object) -> Any:
        monkeypatch.setattr(sys, "argv", ["holdzero", *map(str, words)])
        with pytest.raises(SystemExit):
            main()
        return json.loads(capsys.readouterr().out)

    return run


def pages(path: Path) -> TestClient:
    return TestClient(create_app(open_book(path)), base_url="http://127.0.0.1")


def differences(here: Any, there: Any, place: str = "") -> Iterator[str]:
    """Yield where two JSON values differ, keys that only one has left out."""
    if isinstance(here, dict) and isinstance(there, dict):
        for key in here.keys() & there.keys():
            yield from differences(here[key], there[key], f"{place}.{key}")
    elif isinstance(here, list) and isinstance(there, list):
        if len(here) != len(there):
            yield f"{place}: {len(here)} against {len(there)}"
        for number, (first, second) in enumerate(zip(here, there, strict=False)):
            yield from differences(first, second, f"{place}[{number}]")
    elif isinstance(here, float) and isinstance(there, float):
        if not isclose(here, there, rel_tol=1e-9, abs_tol=1e-15):
            yield f"{place}: {here} against {there}"
    elif here != there:
        yield f"{place}: {here!r} against {there!r}"


@pytest.mark.parametrize("name", NAMES)
def test_page_terminal_and_record_agree(made, terminal, name):
    """Every figure, verdict and headline that two of them have."""
    path, machine_id = made[name]
    axis = ("--axis", BOOKS[name].axis) if BOOKS[name].axis else ()
    choose = terminal("choose", path, *axis, "--json")
    record = terminal("record", path, *axis, "--json")
    standing = terminal("standing", path, *axis, "--json")
    results = record["results"]
    assert list(differences(choose, results["choice"])) == []
    assert list(differences({key: standing[key] for key in ("standing", "standings")}, record)) == []
    assert list(differences({key: choose[key] for key in ("standing", "standings")}, record)) == []
    install = terminal("install", path, *axis, "--json")
    travel, budget = terminal("travel", path, "--json"), terminal("budget", path, "--json")
    assert list(differences(travel["axes"], results["travel"])) == []
    assert list(differences(budget["axes"], results["budget"])) == []
    of_axis = {"axis": BOOKS[name].axis} if BOOKS[name].axis else {}
    book = hz.book(path)
    assert book.choose(**of_axis).to_dict() == choose
    assert book.standing(**of_axis).to_dict() == standing
    assert book.record(**of_axis).to_dict() == record
    assert book.install(**of_axis).to_dict() == install
    assert (book.travel().to_dict(), book.budget().to_dict()) == (travel, budget)
    with pages(path) as client:
        address = f"/machines/{machine_id}"
        if not axis:  # the page means the axis that stands out
            assert list(differences(client.get(f"{address}/record.json").json()["figures"], results)) == []
            assert list(differences(client.get(f"{address}/install.json").json(), install)) == []
            assert list(differences(client.get(f"{address}/choice.json").json(), choose)) == []
        assert list(differences(client.get(f"{address}/travel.json").json()["axes"], travel["axes"])) == []
        assert (
            list(differences(client.get(f"{address}/machine.json").json()["standings"], standing["standings"]))
            == []
        )
        wiring, square = (client.get(f"{address}/{page}.json").json() for page in ("wiring", "square"))
        assert list(differences(wiring["circuits"], results["wiring"])) == []
        assert list(differences(square, results["square"] or {})) == []


@pytest.mark.parametrize("name", NAMES)
def test_headlines_stand_on_every_page_that_has_one(made, terminal, name):
    path, machine_id = made[name]
    if BOOKS[name].axis:
        pytest.skip("the axis has to be named at the terminal, the page shows what is missing")
    headline = terminal("standing", path, "--json")["standings"]["machine"]["headline"]
    with pages(path) as client:
        for page in ("machine", "choice"):
            assert headline.replace("’", "'") in client.get(f"/machines/{machine_id}/{page}").text.replace(
                "&#39;", "'"
            )


@pytest.mark.parametrize("name", NAMES)
def test_a_book_written_as_files_gives_the_same(made, name):
    path, machine_id = made[name]
    with open_book(path) as book:
        in_book = InBook(book, book.machine(machine_id))
        how = How(system=in_book.how.system, axis=BOOKS[name].axis, invented=in_book.how.invented)
        there = Case(in_book.with_how(how))
        here = Case(Texts(files=there.basis.texts, how=how))
        assert list(differences(here.as_json(), there.as_json())) == []
        assert stored_of(here).digests == stored_of(there).digests
        day = there.basis.today
        assert list(differences(here.standings_on(day).as_json(), there.standings_on(day).as_json())) == []


class TestContradictionsOfBefore:
    """Each was seen before the results were put together in one room."""

    def test_the_chance_of_a_wrong_index_is_one_figure(self, made, terminal):
        """In choice, budget and standing; and a machine that picks it too often is not called one that holds."""
        path, machine_id = made["an index pulse near the switch"]
        choose, budget = terminal("choose", path, "--json"), terminal("budget", path, "--json")
        candidate = next(c for c in choose["candidates"] if c["sensor"] == "K")
        chance = candidate["wrong_index"]["chance"]
        assert chance == budget["axes"]["X"]["wrong_index"]["chance"] > 1e-3
        assert candidate["verdict"] == choose["standing"]["answer"] == "does not hold"
        with pages(path) as client:
            page = client.get(f"/machines/{machine_id}/choice").text
            assert show_foretold(chance) in page.replace("&#8239;", "\u202f")

    def test_a_circuit_of_another_axis_rules_nothing_out(self, made):
        path, machine_id = made["one motor, a circuit of another axis fails"]
        with open_book(path) as book:
            case = Case(InBook(book, book.machine(machine_id)))
            assert case.judged.name == "X"
            assert [c.sensor.name for c in case.chosen.candidates if c.ruled_out] == []
            assert case.on("Z").circuits
            assert not case.on("X").circuits

    def test_install_and_squaring_go_by_the_sensor_that_was_taken(self, made):
        path, machine_id = made["decided against the recommendation"]
        with open_book(path) as book:
            case = Case(InBook(book, book.machine(machine_id)))
            assert case.chosen.choice == "K"
            assert case.sensor.name == "M"
            told = [
                setting.text for axis in case.sheet.axes for setting in axis.settings if setting.origin == "choice"
            ]
            assert len(told) == 1
            assert told[0].startswith("M, ")
            apart = case.study.of("M", "Y", "difference")
            assert case.squared.setup.spread_mm == pytest.approx(apart.spread.middle / 2**0.5, rel=0.01)

    def test_what_the_budget_says_no_to_does_not_hold(self, tmp_path):
        machine = one_motor()
        machine["axes"]["X"] |= {
            "temperature": "0 degC to 45 degC",
            "growth_length": "900 mm",
            "growth_material": "aluminium",
        }
        with open_book(tmp_path / "hot.holdzero") as book:
            machine_id = book.add_machine(machine)
            book.add_sensor(machine_id, "M", {"kind": "gauge contact"})
            trial_id = book.add_trial(machine_id, name="One")
            book.import_readings(trial_id, read_readings(readings_csv(Trialled(axis="X", sensors=("M",)))))
            standing = Case(InBook(book, book.machine(machine_id))).standing
        told = {part.part: part.answer for part in standing.parts}
        assert (told["trial"], told["budget"], standing.answer) == ("good", "not good", "does not hold")

    def test_a_file_brought_in_adds_to_what_there_is(self, made):
        path, machine_id = made["two trials, one begins a new level"]
        with open_book(path) as book:
            case = Case(InBook(book, book.machine(machine_id)))
            assert case.rests_on == "128 homings of 2 candidates, 2 trials."
            assert case.study.of("K", "X", "").n == 64
            with TestClient(create_app(book), base_url="http://127.0.0.1") as client:
                first, second = (
                    client.get(f"/machines/{machine_id}/choice.json", params={"trial": trial.id}).json()
                    for trial in case.basis.trials
                )
            assert first == second

    def test_a_trial_left_out_is_out_everywhere_and_comes_back(self, tmp_path):
        path = tmp_path / "left.holdzero"
        machine_id = make(path, BOOKS["two trials, one begins a new level"])
        with open_book(path) as book, TestClient(create_app(book), base_url="http://127.0.0.1") as client:
            older = book.trials(machine_id)[-1].id
            client.post(f"/trials/{older}/leave-out", data={"reason": "the stand was loose"})
            page = client.get(f"/machines/{machine_id}/choice").text
            assert "64 homings of 2 candidates, 1 trial; 64 left out." in page
            client.post(f"/trials/{older}/count-again")
            assert "128 homings of 2 candidates, 2 trials." in client.get(f"/machines/{machine_id}/choice").text


def test_wiring_of_the_axis_that_is_judged_counts(made):
    path, machine_id = made["wiring that fails"]
    with open_book(path) as book:
        case = Case(InBook(book, book.machine(machine_id)))
        assert [circuit.verdict for circuit in case.judged.circuits] != ["works"]
    assert FAILS["sensor"]["output"] == "NPN"  # which an input of type 3 does not see


class TestInputFits:
    """Judged for the sensor meant, put into the circuit of its axis, and said which."""

    def case_of(self, tmp_path, **sensor):
        with open_book(tmp_path / "shed.holdzero") as book:
            machine_id = book.add_machine(one_motor())
            book.add_sensor(machine_id, "K", {"kind": "inductive", **sensor})
            book.add_sheet(machine_id, "wiring", {"circuit": [FAILS | {"name": "X home", "axis": "X"}]})
            trial_id = book.add_trial(machine_id, name="One")
            book.import_readings(trial_id, read_readings(readings_csv(Trialled(axis="X", sensors=("K",)))))
            case = Case(InBook(book, book.machine(machine_id)).with_how(How(axis="X", sensor="K")))
            (part,) = (part for part in case.standing.parts if part.part == "wiring")
            (line,) = (row for axis in case.sheet.axes for row in axis.settings if row.name == "Input of X home")
            return part, line, case

    def test_another_sensor_than_the_circuit_was_described_with(self, tmp_path):
        part, line, case = self.case_of(tmp_path, output="dry contact", contact="NC")
        assert (part.answer, line.ok) == ("good", True)
        assert "With K" in part.sentence
        assert "With K" in line.note
        assert not case.judged.circuits[0].passes  # as it was described it does not work
        assert case.sheet.axes[0].wired[0].switches == ("-B1, dry contact NC",)

    def test_the_same_kind_of_sensor(self, tmp_path):
        part, line, _ = self.case_of(tmp_path, output="NPN", contact="NO", supply="10 V to 30 V")
        assert (part.answer, line.ok) == ("not good", False)
        assert "With K" not in part.sentence + line.note

    def test_a_sensor_whose_sheet_says_nothing(self, tmp_path):
        """What is not known of it is not taken for good, nor for bad: the circuit stays as it was described."""
        part, line, _ = self.case_of(tmp_path)
        assert (part.answer, line.ok) == ("not good", False)


def test_a_file_in_another_order_of_rows_says_the_same_in_a_book(tmp_path):
    """Sorted by deviation, as a spreadsheet may have left it: homing numbers and times say how it was."""
    head, *rows = readings_csv(Trialled(axis="X", sensors=("K",))).splitlines()
    answers = []
    for name, order in (("taken", rows), ("sorted", sorted(rows, key=lambda row: float(row.split(",")[5])))):
        with open_book(tmp_path / f"{name}.holdzero") as book:
            machine_id = book.add_machine(one_motor())
            book.add_sensor(machine_id, "K", {"kind": "inductive"})
            trial_id = book.add_trial(machine_id, name="One")
            book.import_readings(trial_id, read_readings("\n".join([head, *order]) + "\n"))
            answers.append(Case(InBook(book, book.machine(machine_id))).as_json())
    assert list(differences(*answers)) == []


class TestConfirming:
    """Best of several: the reservation stands until a trial of the one chosen, alone, has held too."""

    def book(self, path, *, wide=False):
        machine_id = make(path, BOOKS["one motor, a circuit of another axis fails"])
        with open_book(path) as book:
            trial_id = book.add_trial(machine_id, name="Once more", axis="X", kind="confirming")
            again = Trialled(axis="X", sensors=("P" if wide else "K",), seed=9)
            text = readings_csv(again).replace("P,X", "K,X")
            book.import_readings(trial_id, read_readings(text))
        return machine_id

    def test_several_tried_leave_a_reservation(self, made):
        path, machine_id = made["one motor, a circuit of another axis fails"]
        with open_book(path) as book:
            case = Case(InBook(book, book.machine(machine_id)))
            assert case.chosen.choice == "K"
            assert case.judged.reservation == "Of 2 tried, one may hold by luck: try K once more, alone."
            assert case.standing.answer == "holds so far"

    def test_alone_it_holds_too(self, tmp_path):
        machine_id = self.book(tmp_path / "again.holdzero")
        with open_book(tmp_path / "again.holdzero") as book:
            case = Case(InBook(book, book.machine(machine_id)))
            assert case.judged.confirming.verdict == "holds"
            assert case.judged.reservation == ""

    def test_alone_it_does_not(self, tmp_path):
        machine_id = self.book(tmp_path / "not.holdzero", wide=True)
        with open_book(tmp_path / "not.holdzero") as book:
            on_axis = Case(InBook(book, book.machine(machine_id), How(sensor="K"))).judged
            assert on_axis.confirming.verdict == "does not hold"
