"""Trial: readings come in by hand, by paste and as a file, and nothing slips."""

import re

import numpy as np
import pytest
from starlette.testclient import TestClient

from bringing_in import bring_in
from holdzero import demo as invented
from holdzero.errors import InputError
from holdzero.form import read_toml
from holdzero.inputs.importing.paste import lines_of
from holdzero.store import Book, KeptReading, PowerUp
from holdzero.trial.next_homing import HOMINGS_A_SET, next_step


@pytest.fixture
def machine(book: Book) -> int:
    """A gantry without a trial, and one candidate."""
    key = book.add_machine(read_toml(invented.machine_toml()))
    book.add_sensor(key, "A", {"kind": "lever", "price": "3"})
    return key


@pytest.fixture
def trial(client: TestClient, machine: int) -> int:
    begun = {"name": "First", "axis": "Y", "unit": "mm", "resolution": "0.001", "protocol": "outside"}
    answer = client.post(f"/machines/{machine}/trials", data=begun)
    assert answer.status_code == 200
    return 1


def form(html: str) -> dict[str, str]:
    """What the form of the next homing would send besides the reading."""
    part = html.partition('id="entry"')[2].partition("</form>")[0]
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', part))


def heading(html: str) -> str:
    return " ".join(re.sub("<[^>]+>", "", html.partition("<h1>")[2].partition("</h1>")[0]).split())


class TestByHand:
    """Accepted means on disk; the next step is always shown."""

    def test_left_then_right_homing_by_homing(self, client: TestClient, book: Book, trial: int):
        page = client.get("/machines/1/trial").text
        assert heading(page) == "Set 1: switch off, wait, switch on, home Y on A, then read the left side"
        asked = []
        for reading in ("0.010", "-0.002", "0,011", "0.5 thou"):
            asked.append((form(page)["side"], form(page)["homing"]))
            page = client.post(f"/trials/{trial}/readings", data=form(page) | {"deviation": reading}).text
        assert asked == [("L", "1"), ("R", "1"), ("L", "2"), ("R", "2")]
        kept = [(row.side, row.homing, row.deviation_mm, row.entered) for row in book.rows(trial)]
        assert kept == [
            ("L", 1, 0.010, "0.010"),
            ("R", 1, -0.002, "-0.002"),
            ("L", 2, 0.011, "0,011"),
            ("R", 2, 0.0127, "0.5 thou"),
        ]
        assert book.readings(trial).groups[0].resolution_mm == 0.001

    def test_the_same_form_sent_twice_counts_once(self, client: TestClient, book: Book, trial: int):
        given = form(client.get("/machines/1/trial").text) | {"deviation": "0.01"}
        client.post(f"/trials/{trial}/readings", data=given)
        client.post(f"/trials/{trial}/readings", data=given)
        assert len(book.rows(trial)) == 1

    def test_what_cannot_be_read_is_said_at_the_field_and_kept_there(
        self, client: TestClient, book: Book, trial: int
    ):
        given = form(client.get("/machines/1/trial").text)
        answer = client.post(f"/trials/{trial}/readings", data=given | {"deviation": "0.01 V"})
        assert answer.status_code == 422
        assert book.rows(trial) == ()
        field = re.search(r'<input id="f-deviation"[^>]*>', answer.text)
        assert field
        assert 'value="0.01 V"' in field[0]
        assert 'aria-invalid="true"' in field[0]

    def test_speed_temperature_and_condition_stay_for_the_next(self, client: TestClient, book: Book, trial: int):
        given = form(client.get("/machines/1/trial").text) | {"deviation": "0.01"}
        more = {"speed": "120 mm/min", "temperature": "18", "condition": "spindle on"}
        page = client.post(f"/trials/{trial}/readings", data=given | more).text
        (row,) = book.rows(trial)
        assert (row.speed_mm_s, row.temperature_degc, row.condition) == (2.0, 18.0, "spindle on")
        assert 'value="spindle on"' in page
        assert 'value="120 mm/min"' in page

    @pytest.mark.parametrize(
        ("field", "said"),
        [
            ("deviation", "may mean 1 or 1000"),
            ("speed", "a speed of zero or below"),
            ("temperature", "below -273.15"),
        ],
    )
    def test_what_is_doubtful_or_cannot_be_is_asked_about(
        self, client: TestClient, book: Book, trial: int, field: str, said: str
    ):
        typed = {"deviation": "1,000", "speed": "-2", "temperature": "-300"}
        given = form(client.get("/machines/1/trial").text) | {"deviation": "0.01", field: typed[field]}
        answer = client.post(f"/trials/{trial}/readings", data=given)
        assert (answer.status_code, book.rows(trial)) == (422, ())
        assert said in answer.text

    def test_a_power_up_begins_the_next_set(self, client: TestClient, book: Book, trial: int):
        page = client.get("/machines/1/trial").text
        client.post(f"/trials/{trial}/readings", data=form(page) | {"deviation": "0.01"})
        page = client.post(f"/trials/{trial}/power-ups", data={"sensor": "A", "axis": "Y", "sides": "both"}).text
        assert form(page)["set"] == "2"
        assert form(page)["homing"] == "1"

    def test_taken_back_and_counted_again(self, client: TestClient, book: Book, trial: int):
        page = client.get("/machines/1/trial").text
        client.post(f"/trials/{trial}/readings", data=form(page) | {"deviation": "9"})
        page = client.post("/readings/1/undo", data={"back": "/machines/1/trial"}).text
        assert (form(page)["side"], form(page)["homing"]) == ("L", "1")
        assert "taken back" in page
        assert book.rows(trial) == ()
        client.post("/readings/1/redo", data={"back": "/machines/1/trial"})
        assert len(book.rows(trial)) == 1

    def test_findings_follow(self, client: TestClient, trial: int):
        page = client.get("/machines/1/trial").text
        assert "Spread so far" not in page
        for reading in ("0.010", "-0.002", "0.011", "0.001", "0.014", "0.002"):
            page = client.post(f"/trials/{trial}/readings", data=form(page) | {"deviation": reading}).text
        assert "Spread so far" in page
        twin = client.get("/machines/1/findings.json").json()
        assert [(one["side"], one["n"]) for one in twin["sensors"]] == [("L", 3), ("R", 3), ("difference", 3)]


class TestNextStep:
    """Next step always shown, whatever order the sides were read in."""

    POWER_UPS = (PowerUp(id=1, sensor="A", axis="Y", label="1"), PowerUp(id=2, sensor="A", axis="Y", label="2"))

    @staticmethod
    def rows(*taken: tuple[str, int]) -> list[KeptReading]:
        blank = dict.fromkeys(("entered", "direction", "time", "condition", "set_aside", "undone"), "")
        blank |= dict.fromkeys(("speed_mm_s", "temperature_degc"), None) | {"repeat": False}
        place = {"sensor": "A", "axis": "Y", "set_label": "2", "deviation_mm": 0.0}
        return [
            KeptReading(id=i, side=side, homing=homing, **place, **blank) for i, (side, homing) in enumerate(taken)
        ]

    @pytest.mark.parametrize(
        ("taken", "sides", "expected"),
        [
            ([], "both", ("L", 1)),
            ([("L", 1)], "both", ("R", 1)),
            ([("L", 1), ("R", 1)], "both", ("L", 2)),
            ([("L", 1), ("L", 2), ("R", 1)], "both", ("R", 2)),  # the right side catches up
            ([("R", 1)], "both", ("L", 2)),
            ([("L", 1)], "R", ("R", 1)),
            ([("", 1), ("", 2)], "", ("", 3)),
        ],
    )
    def test_the_newest_set_goes_on_where_it_stands(self, taken, sides, expected):
        step = next_step(self.rows(*taken), self.POWER_UPS, sensor="A", axis="Y", sides=sides)
        assert (step.set_label, step.side, step.homing) == ("2", *expected)

    def test_a_full_set_asks_for_a_power_up(self):
        taken = [(side, homing) for homing in range(1, HOMINGS_A_SET + 1) for side in "LR"]
        step = next_step(self.rows(*taken), self.POWER_UPS, sensor="A", axis="Y", sides="both")
        assert step.full
        assert step.sentence == "Set 2 is full: switch off, wait, switch on"
        last_right = next_step(self.rows(*taken[:-1]), self.POWER_UPS, sensor="A", axis="Y", sides="both")
        assert (last_right.full, last_right.side) == (False, "R")

    def test_another_candidate_begins_its_own_sets(self):
        step = next_step([], self.POWER_UPS, sensor="B", axis="Y", sides="L")
        assert (step.set_label, step.begun) == ("1", False)


class TestPaste:
    """People paste what they have."""

    def test_the_last_number_of_each_line_counts_and_an_empty_line_is_a_power_up(
        self, client: TestClient, book: Book, trial: int
    ):
        text = "home 1   0.010\nhome 2   -0,004 mm\n\nhome 1   0.5 thou;\nnothing here\n"
        given = {"text": text, "sensor": "A", "axis": "Y", "side": "L"}
        page = bring_in(client, f"/trials/{trial}/paste", data=given).text
        rows = [(row.set_label, row.homing, row.deviation_mm) for row in book.rows(trial)]
        assert rows == [("1", 1, 0.010), ("1", 2, -0.004), ("2", 1, 0.0127)]
        assert "3 readings came in" in page
        assert "1 row was left out" in page

    def test_a_second_paste_goes_on_with_the_next_set(self, client: TestClient, book: Book, trial: int):
        given = {"text": "0.001\n0.002", "sensor": "A", "axis": "Y", "side": "L"}
        bring_in(client, f"/trials/{trial}/paste", data=given)
        bring_in(client, f"/trials/{trial}/paste", data=given | {"text": "0.001\n0.003"})
        assert [row.set_label for row in book.rows(trial)] == ["1", "1", "2", "2"]

    def test_right_pasted_after_left_joins_the_same_power_ups(self, client: TestClient, book: Book, trial: int):
        left = {"text": "0.001\n0.002\n\n0.003", "sensor": "A", "axis": "Y", "side": "L"}
        bring_in(client, f"/trials/{trial}/paste", data=left)
        page = bring_in(
            client, f"/trials/{trial}/paste", data=left | {"text": "0.01\n0.02\n\n0.03", "side": "R"}
        ).text
        assert "They join the power-ups of the other side" in page
        rows = [(row.side, row.set_label, row.homing) for row in book.rows(trial)]
        assert rows == [(side, *at) for side in "LR" for at in (("1", 1), ("1", 2), ("2", 1))]

    def test_left_and_right_in_two_columns(self, client: TestClient, book: Book, trial: int):
        """Looked at first; both columns are taken, each for its side."""
        text = "Power-up;Homing;Left (um);Right (um)\n1;1;10;-4\n1;2;11;-5\n2;1;9;-3\n"
        page = client.post(f"/trials/{trial}/paste", data={"text": text, "sensor": "A", "axis": "Y"}).text
        assert "its heading names the side" in page

    def test_a_table_with_its_header_row(self, client: TestClient, book: Book, trial: int):
        text = "sensor,axis,side,set,deviation_um\nA,Y,L,1,10\nA,Y,R,1,-4\n"
        bring_in(client, f"/trials/{trial}/paste", data={"text": text})
        assert [(row.side, row.deviation_mm) for row in book.rows(trial)] == [("L", 0.010), ("R", -0.004)]

    def test_what_cannot_be_read_stays_in_the_area(self, client: TestClient, book: Book, trial: int):
        answer = client.post(f"/trials/{trial}/paste", data={"text": "no numbers\nat all", "sensor": "A"})
        assert answer.status_code == 422
        assert "no numbers\nat all</textarea>" in answer.text
        assert book.rows(trial) == ()

    def test_it_reads_numbers_as_people_write_them(self):
        found, _ = lines_of("-3\n−3\n+0.5\n.25", unit="um")
        assert [line.deviation_mm for line in found] == [-0.003, -0.003, 0.0005, 0.00025]

    def test_a_wrong_unit_names_its_line(self):
        with pytest.raises(InputError, match="line 2"):
            lines_of("0.1\n0.2 V", unit="mm")


class TestFile:
    """The readings file, through a page."""

    def test_a_file_becomes_a_trial_of_its_own(self, client: TestClient, book: Book, machine: int):
        files = {"file": ("saturday.csv", invented.readings_csv().encode(), "text/csv")}
        answer = bring_in(client, f"/machines/{machine}/import", files=files)
        assert answer.url.path == f"/machines/{machine}/findings"
        assert f"{invented.READINGS} readings came in" in answer.text
        assert "New among the candidates, without price or data sheet: H, J, K, M, N, P." in answer.text
        assert book.trial(1).name == "saturday.csv"
        assert len(book.rows(1)) == invented.READINGS

    def test_a_bad_file_leaves_nothing_and_says_line_and_column(
        self, client: TestClient, book: Book, machine: int
    ):
        files = {"file": ("bad.csv", b"deviation_mm\n0.1\nhello\n", "text/csv")}
        answer = client.post(f"/machines/{machine}/import", files=files)
        assert answer.status_code == 422
        assert "bad.csv" in answer.text
        assert "line 3" in answer.text
        assert book.trials(machine) == ()

    def test_no_file_and_no_text(self, client: TestClient, machine: int):
        assert "choose a file first" in client.post(f"/machines/{machine}/import").text.lower()
        files = {"file": ("photo.jpg", b"\xff\xd8\xff\xe0\0" * 9, "image/jpeg")}
        assert "a file that is no text" in client.post(f"/machines/{machine}/import", files=files).text


class TestTheTrialItself:
    """The caution stands before the button it guards."""

    def test_the_stop_is_asked_for_before_a_trial_begins(self, client: TestClient, machine: int):
        page = client.get(f"/machines/{machine}/trial").text
        assert re.search(r'name="stop_tested" required', page)
        assert "First run in the air at 10 % speed" in page

    def test_an_odd_resolution_is_said_at_its_field(self, client: TestClient, book: Book, machine: int):
        given = {"name": "First", "unit": "mm", "resolution": "fine", "protocol": "outside"}
        answer = client.post(f"/machines/{machine}/trials", data=given)
        assert answer.status_code == 422
        assert 'value="fine"' in answer.text
        assert book.trials(machine) == ()

    def test_the_indicator_may_show_thou(self, client: TestClient, book: Book, machine: int):
        begun = {"name": "Inch", "axis": "Y", "unit": "thou", "resolution": "0.5", "protocol": "outside"}
        page = client.post(f"/machines/{machine}/trials", data=begun).text
        client.post("/trials/1/readings", data=form(page) | {"deviation": "2"})
        assert book.rows(1)[0].deviation_mm == pytest.approx(0.0508)  # 2 x 25.4 / 1000
        assert book.readings(1).groups[0].resolution_mm == pytest.approx(0.0127)


class TestWayToIndex:
    """On an axis with an index pulse the way from trip to index is logged at each homing: the switch's series."""

    @pytest.fixture
    def indexed(self, book: Book) -> int:
        axis = {
            "travel": "300 mm",
            "lead": "5 mm",
            "index_pitch": "5 mm",
            "index_search": "on",
            "creep_speed": "2 mm/s",
        }
        key = book.add_machine(
            {"machine": {"name": "Bench mill"}, "requirement": {"position": "0.05 mm"}, "axes": {"X": axis}}
        )
        book.add_sensor(key, "A", {"kind": "lever"})
        return book.add_trial(key, name="First", axis="X", resolution="0.001 mm")

    def test_it_is_asked_for_kept_shown_and_used(self, client: TestClient, book: Book, indexed: int):
        ways = ("2.1", "2.12", "2.08", "2.11", "2.09")
        page = client.get("/machines/1/trial").text
        for number, way in enumerate(ways):
            given = form(page) | {"deviation": f"0.00{number}", "to_index": way}
            page = client.post(f"/trials/{indexed}/readings", data=given).text
        assert [row.trip_to_index_mm for row in book.rows(indexed)] == [float(way) for way in ways]
        page = client.get("/machines/1/trial").text
        assert "Trip to index" in page
        assert "trip to index logged at 5 homings" in page
        (axis,) = client.get("/machines/1/budget.json").json()["axes"].values()
        (row,) = (row for row in axis["contributions"] if row["name"] == "way from trip to index")
        assert row["value"] == pytest.approx(np.std([float(way) for way in ways], ddof=1))

    def test_without_one_the_reading_is_kept_alone(self, client: TestClient, book: Book, indexed: int):
        page = client.get("/machines/1/trial").text
        client.post(f"/trials/{indexed}/readings", data=form(page) | {"deviation": "0.001"})
        assert [row.trip_to_index_mm for row in book.rows(indexed)] == [None]

    def test_a_wrong_one_is_said_at_its_field(self, client: TestClient, book: Book, indexed: int):
        given = form(client.get("/machines/1/trial").text) | {"deviation": "0.001", "to_index": "2 V"}
        answer = client.post(f"/trials/{indexed}/readings", data=given)
        assert answer.status_code == 422
        field = re.search(r'<input id="f-to_index"[^>]*>', answer.text)
        assert field
        assert 'value="2 V"' in field[0]
        assert 'aria-invalid="true"' in field[0]
        assert 'value="0.001"' in answer.text
        assert book.rows(indexed) == ()

    def test_an_axis_without_an_index_is_not_asked(self, client: TestClient, trial: int):
        assert "f-to_index" not in client.get("/machines/1/trial").text
