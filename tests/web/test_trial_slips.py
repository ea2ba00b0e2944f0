"""Trial: slips are asked about once, nothing is refused, nothing doubled."""

import os
import re
import time
from dataclasses import replace

import numpy as np
import pytest
from starlette.testclient import TestClient

from bringing_in import bring_in
from holdzero import demo as invented
from holdzero.errors import InputError
from holdzero.form import read_toml
from holdzero.inputs.reading import read_readings
from holdzero.store import Book, NewReading
from holdzero.trial.slip import slip
from holdzero.web.stations.trial import MANY


@pytest.fixture
def trial(client: TestClient, book: Book) -> int:
    machine = book.add_machine(read_toml(invented.machine_toml()))
    book.add_sensor(machine, "A", {"kind": "lever", "price": "3"})
    return book.add_trial(machine, name="First", axis="Y", resolution="0.001 mm")


def form(html: str) -> dict[str, str]:
    """What the form of the next homing would send besides the reading."""
    part = html.partition('id="entry"')[2].partition("</form>")[0]
    return dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', part))


def type_in(client: TestClient, *readings: str, sides: str = "L", again: str = "") -> str:
    page = client.get(f"/machines/1/trial?sensor=A&axis=Y&sides={sides}&again={again}").text
    for reading in readings:
        page = client.post("/trials/1/readings", data=form(page) | {"deviation": reading}).text
    return page


class TestSlip:
    """Robust against the set so far; the shares of false questions by simulation."""

    @pytest.mark.parametrize(("n", "most"), [(3, 0.01), (5, 0.003), (8, 0.001)])
    def test_regular_readings_are_hardly_ever_asked_about(self, n: int, most: float):
        rng = np.random.default_rng(6)
        series = rng.normal(0, 0.01, (3000, n + 1))
        asked = sum(slip(float(one[-1]), set_so_far=one[:-1].tolist()) is not None for one in series)
        assert asked / 3000 <= most + 0.002  # two standard errors of the simulation at 0.003

    def test_a_wild_reading_kept_before_does_not_hide_the_next(self):
        assert slip(1.0, set_so_far=[0.001, 0.002, 0.003, 0.002, 0.9]) is not None

    def test_it_says_what_it_looks_like(self):
        near = [0.250, 0.252, 0.249, 0.251]
        assert "25.4 times less" in slip(0.2505 / 25.4, set_so_far=near).why  # type: ignore[union-attr]
        assert "decimal point" in slip(2.51, set_so_far=near).why  # type: ignore[union-attr]
        assert "sign" in slip(-0.25, set_so_far=near).why  # type: ignore[union-attr]

    def test_the_first_of_a_set_is_held_against_the_other_sets_and_more_room_is_given(self):
        other = [0.001, 0.002, 0.003, 0.002, 0.001]
        assert slip(0.020, set_so_far=[], other_sets=other) is None  # a power-up may shift it
        assert slip(0.200, set_so_far=[], other_sets=other) is not None
        assert slip(9.0, set_so_far=[0.0, 0.0]) is None  # nothing to hold it against


class TestAsked:
    """A value far out is asked about once; a yes keeps it."""

    NEAR = ("0.101", "0.103", "0.102", "0.104")

    def test_asked_once_then_kept(self, client: TestClient, book: Book, trial: int):
        page = type_in(client, *self.NEAR, "1.02")
        assert len(book.rows(trial)) == 4
        assert "1.02: is that right?" in page
        assert "Discard 1.02" in page
        assert "Take back" not in page.partition('id="now"')[2].partition("</section>")[0]  # not the one before
        assert "About ten times" in page
        client.post("/trials/1/readings", data=form(page) | {"deviation": "1.02"})
        assert book.rows(trial)[-1].deviation_mm == 1.02

    def test_another_figure_after_the_question_is_judged_anew(self, client: TestClient, book: Book, trial: int):
        page = type_in(client, *self.NEAR, "1.02")
        page = client.post("/trials/1/readings", data=form(page) | {"deviation": "10.2"}).text
        assert "10.2: is that right?" in page
        client.post("/trials/1/readings", data=form(page) | {"deviation": "0.102"})
        assert [row.deviation_mm for row in book.rows(trial)][4:] == [0.102]

    def test_a_program_is_not_asked(self, client: TestClient, book: Book, trial: int):
        page = type_in(client, *self.NEAR)
        given = {name: value for name, value in form(page).items() if name != "ask"}
        client.post("/trials/1/readings", data=given | {"deviation": "9"})
        assert book.rows(trial)[-1].deviation_mm == 9

    def test_a_switched_unit_is_said_at_the_first_reading(self, client: TestClient, trial: int):
        page = type_in(client, *self.NEAR, "0.0041")  # 0.104 mm on a display that shows inches
        assert "was the indicator switched between inch and mm?" in page

    def test_a_switched_unit_shows_in_the_series(self, client: TestClient, trial: int):
        """Where the readings lie around zero no single one looks odd."""
        mm = (0.31, -0.18, 0.25, 0.09, -0.28, 0.15, 0.22, -0.30)
        page = type_in(client, *map(str, mm), *(f"{reading / 25.4:.4f}" for reading in mm))
        assert "Look at the unit." in page
        assert "From homing 9 of set 1 on, the readings are 25.4 times smaller" in page

    def test_a_homing_entered_on_another_device_is_asked_about(self, client: TestClient, book: Book, trial: int):
        seen = form(type_in(client))
        type_in(client, "0.010")
        page = client.post("/trials/1/readings", data=seen | {"deviation": "0.020"}).text
        assert "Set 1, homing 1, left side was entered meanwhile: 0.010" in page
        assert len(book.rows(trial)) == 1
        client.post("/trials/1/readings", data=form(page) | {"deviation": "0.020"})
        assert [row.homing for row in book.rows(trial)] == [1, 2]

    def test_one_power_up_told_by_two_devices_is_one(self, client: TestClient, book: Book, trial: int):
        type_in(client, "0.01")
        seen = {"sensor": "A", "axis": "Y", "sides": "L", "set": "1"}
        client.post("/trials/1/power-ups", data=seen)
        type_in(client, "0.02")
        client.post("/trials/1/power-ups", data=seen)
        assert [one.label for one in book.power_ups(trial)] == ["1", "2"]


class TestMore:
    """A slip may be left as it is, mended, or set aside with its reason."""

    def test_ten_readings_without_homing_then_homing_goes_on(self, client: TestClient, book: Book, trial: int):
        page = type_in(client, *(f"0.00{i}" for i in range(10)), again="yes")
        assert all(row.repeat for row in book.rows(trial))
        assert form(page)["homing"] == "1"
        assert "repeat" not in form(page)

    def test_readings_in_steps(self, client: TestClient, book: Book, trial: int):
        drive = book.machine(1).machine.axis("Y").drive
        step_mm = drive.lead_mm / drive.full_steps / drive.microsteps
        type_in(client, "12 steps")
        book.change_trial(trial, unit="steps", resolution="")
        type_in(client, "3")
        assert [row.deviation_mm for row in book.rows(trial)] == [12 * step_mm, 3 * step_mm]

    def test_a_note_for_a_set_and_a_reading_set_aside(self, client: TestClient, book: Book, trial: int):
        type_in(client, "0.01", "0.02")
        place = {"sensor": "A", "axis": "Y", "sides": "L", "set": "1"}
        page = client.post("/trials/1/note", data=place | {"note": "door was open"}).text
        assert 'value="door was open"' in page
        client.post("/trials/1/set-aside", data=place | {"reading": "2", "reason": "misread"})
        assert [row.set_aside for row in book.rows(trial)] == ["", "misread"]

    def test_a_reading_is_left_out_and_counted_again(self, client: TestClient, book: Book, trial: int):
        type_in(client, "0.01", "0.02", "0.03")
        assert 'href="/readings/2"' in client.get("/machines/1/trial").text
        page = client.post("/readings/2/leave-out", data={"reason": "bumped"}).text
        assert "It is left out: bumped." in page
        assert "2 homings of 1 candidate, 1 trial; 1 left out." in page
        assert book.rows(trial)[1].left_out == "bumped"
        listed = client.get("/machines/1/trials").text
        assert "left out: bumped" in listed
        assert '<a href="/readings/2">' in listed
        page = client.post("/readings/2/count-again").text
        assert "3 homings of 1 candidate, 1 trial." in page
        assert "left out no more (was “bumped”)" in page
        assert client.get("/readings/2.json").json()["acts"][0]["after"] == "bumped"

    def test_something_was_moved_before_a_reading(self, client: TestClient, book: Book, trial: int):
        type_in(client, "0.01", "0.02")
        client.post("/readings/2/level", data={"event": "a flag was touched"})
        assert book.readings(trial).groups[0].event.tolist() == ["", "a flag was touched"]
        client.post("/readings/2/level", data={"event": "nothing"})
        assert book.readings(trial).groups[0].event is None

    def test_a_plain_form_asks_before_a_homing_is_read_twice(self, client: TestClient, book: Book, trial: int):
        """Without a script, or from elsewhere: the same homing again is asked about, and kept as the next one."""
        place = {"sensor": "A", "axis": "Y", "side": "L", "set": "1", "homing": "1", "deviation": "0.010"}
        client.post("/trials/1/readings", data=place)
        page = client.post("/trials/1/readings", data=place).text
        assert "was entered meanwhile: 0.010. Is yours the homing after it?" in page
        assert len(book.rows(trial)) == 1
        client.post("/trials/1/readings", data=place | {"sure": "0.010"})
        assert [row.homing for row in book.rows(trial)] == [1, 2]

    def test_a_reading_taken_back_whose_homing_was_read_again_stays_back(
        self, client: TestClient, book: Book, trial: int
    ):
        type_in(client, "0.01")
        for way in ("/readings/{}/undo", "/readings/{}/leave-out", "/readings/{}/set-aside"):
            newest = book.rows(trial, undone=True)[-1].id
            client.post(way.format(newest), data={"reason": "bumped", "back": "/"})
            book.add_reading(
                trial, NewReading(sensor="A", axis="Y", side="L", set_label="1", homing=1, deviation_mm=0.02)
            )
        for again, mark in ((book.redo, ()), (book.leave_out, ("",)), (book.set_aside, ("",))):
            reading_id = next(
                row.id
                for row in book.rows(trial, undone=True)
                if {book.redo: row.undone, book.leave_out: row.left_out, book.set_aside: row.set_aside}[again]
            )
            with pytest.raises(InputError, match="one reading a homing"):
                again(reading_id, *mark)
        assert client.post("/readings/1/redo", data={"back": "/"}).status_code == 422

    def test_resolution_and_protocol_are_corrected_afterwards(self, client: TestClient, book: Book, trial: int):
        type_in(client, "0.01", "0.02")
        given = {"name": "First", "axis": "Y", "unit": "mm", "resolution": "0.01", "protocol": "first"}
        client.post("/trials/1", data=given)
        assert book.readings(trial).groups[0].resolution_mm == 0.001
        client.post("/trials/1", data=given | {"taken": "on"})
        (group,) = book.readings(trial).groups
        assert (group.resolution_mm, str(group.protocol)) == (0.01, "first")

    def test_results_as_text(self, client: TestClient, trial: int):
        page = type_in(client, "0.010", "0.012", "0.011")
        assert "Not enough yet: " in page


class TestPasteWords:
    """The last number of each line, with words on both sides."""

    @pytest.mark.parametrize(
        ("line", "figure_mm"),
        [
            ("homing 3: 0.012 mm at 20 degC, fine", 0.012),
            ("0.012 (10:32)", 0.012),
            ("10:32 0,012", 0.012),
            ("1 - 0.012", 0.012),
            ("home 1 − 0.012", 0.012),  # a minus with spaces around it is a dash between words
            ("home 1: - 0.012", -0.012),  # but a sign where the number begins
            ("- 0.012", -0.012),
            ("home 1 −0.012", -0.012),
            ("–0.012", -0.012),  # what a phone makes of a minus
            ("got -0.004 today", -0.004),
            ("5 thou low", 0.127),
        ],
    )
    def test_words_on_both_sides(self, client: TestClient, book: Book, trial: int, line: str, figure_mm: float):
        bring_in(client, "/trials/1/paste", data={"text": line, "sensor": "A", "axis": "Y", "side": "L"})
        assert [row.deviation_mm for row in book.rows(trial)] == [figure_mm]


class TestTable:
    """Preview, column chooser, unit, protocol, what was left out; twice is noticed."""

    TABLE = "Run;Power cycle;Dial (thou)\n1;1;0,5\n2;1;-0,2\n1;2;0,3\nmean;;0,2\n"

    def test_looked_at_then_brought_in(self, client: TestClient, book: Book, trial: int):
        page = client.post("/trials/1/paste", data={"text": self.TABLE, "sensor": "A", "axis": "Y"})
        assert "/import/" in page.url.path
        assert "3 readings in paste, of A: taken right?" in page.text
        assert "it looks like a summary" in page.text
        chosen = dict(re.findall(r'name="(column-\d)".*?value="(\w*)" selected', page.text, re.DOTALL))
        assert chosen == {"column-0": "homing", "column-1": "set", "column-2": "deviation"}
        given = chosen | {
            "chosen": "yes",
            "header": "yes",
            "unit": "thou",
            "resolution": "0.1",
            "protocol": "outside",
        }
        given |= {"sensor": "A", "axis": "Y", "side": "L", "into": "1"}
        client.post(page.url.path, data=given | {"do": "keep"})
        rows = [(row.set_label, row.homing, row.deviation_mm) for row in book.rows(trial)]
        assert rows == [("1", 1, 0.0127), ("1", 2, pytest.approx(-0.00508)), ("2", 1, pytest.approx(0.00762))]
        assert book.readings(trial).groups[0].resolution_mm == pytest.approx(0.00254)
        again = client.post(page.url.path, data=given | {"do": "keep"})
        assert again.status_code == 422
        assert "These readings came in before" in again.text
        assert len(book.rows(trial)) == 3

    def test_a_table_without_readings_asks_for_the_column(self, client: TestClient, book: Book, trial: int):
        files = {"file": ("odd.csv", b"name;colour\nA;red\nB;blue\n", "text/csv")}
        page = client.post("/machines/1/import", files=files)
        assert "choose the column of readings" in page.text
        assert book.trials(1) == (replace(book.trial(trial)),)


class TestInstrument:
    """The pattern is tried on a line; ports of this computer only."""

    def test_the_pattern_is_tried(self, client: TestClient, trial: int):
        given = {"pattern": "N1 {value}", "sample": "N1 +0.0125"}
        assert "Reads +0.0125" in client.post("/trials/1/instrument", data=given).text
        bad = client.post("/trials/1/instrument", data={"pattern": "01A", "sample": "x"})
        assert bad.status_code == 422
        assert "{value} once" in bad.text

    def test_no_address_in_the_network(self, client: TestClient, trial: int):
        answer = client.post("/trials/1/instrument", data={"do": "listen", "port": "socket://192.0.2.1:9"})
        assert "a serial port of this computer" in answer.text

    def test_what_an_indicator_sends_is_kept_where_the_next_homing_is_asked_for(
        self, client: TestClient, book: Book, trial: int, indicator: "Indicator"
    ):
        client.post("/trials/1/instrument", data=indicator.given | {"do": "listen"})
        indicator.sends("0.010", "0.012")
        page = client.post("/trials/1/instrument", data={"do": "stop"}).text
        assert [(row.homing, row.deviation_mm) for row in book.rows(trial)] == [(1, 0.010), (2, 0.012)]
        assert 'value="stop"' not in page

    def test_the_first_press_of_its_button_is_kept(
        self, client: TestClient, book: Book, trial: int, indicator: "Indicator"
    ):
        """It is the homing that sets the zero: without it every number shifts."""
        client.post("/trials/1/instrument", data=indicator.given | {"ask": "", "do": "listen"})
        time.sleep(0.4)
        for value in ("0.000", "0.012"):
            indicator.presses(value)
        client.post("/trials/1/instrument", data={"do": "stop"})
        assert [(row.homing, row.deviation_mm) for row in book.rows(trial)] == [(1, 0.0), (2, 0.012)]

    def test_one_far_out_is_kept_and_asked_about_once(
        self, client: TestClient, book: Book, trial: int, indicator: "Indicator"
    ):
        """The next homing comes while nobody looks: it counts until someone says that it is wrong."""
        client.post("/trials/1/instrument", data=indicator.given | {"do": "listen"})
        indicator.sends("0.101", "0.103", "0.102", "1.03", "0.104")
        client.post("/trials/1/instrument", data={"do": "stop"})
        assert [row.homing for row in book.rows(trial)] == [1, 2, 3, 4, 5]
        (far,) = [row for row in book.rows(trial) if row.asked]
        page = client.get("/machines/1/trial?trial=1&sensor=A&axis=Y&sides=L").text
        assert "<b>1.03: is that right?</b>" in page
        assert "a slipped decimal point?" in page
        page = client.post(f"/readings/{far.id}/confirm", data={"back": "/machines/1/trial"}).text
        assert "is that right?" not in page
        assert [row.deviation_mm for row in book.rows(trial)][3] == 1.03

    def test_a_pattern_is_tried_on_the_lines_as_they_come(
        self, client: TestClient, book: Book, trial: int, indicator: "Indicator"
    ):
        """Nothing is kept; the lines that came already are read anew with each change of the pattern."""
        at = indicator.given | {"pattern": "02B{value}"}
        client.post("/trials/1/instrument", data=at | {"do": "try"})
        indicator.sends("N1 +0.010", "N1 +0.012")
        page = client.post("/trials/1/instrument", data=at).text
        assert "<code>N1 +0.012</code></td><td>– no reading: it does not look like" in page
        page = client.post("/trials/1/instrument", data=at | {"pattern": "N1 {value}"}).text
        assert "<code>N1 +0.012</code></td><td>✓ reads +0.012" in page
        client.post("/trials/1/instrument", data={"do": "stop"})
        assert book.rows(trial) == ()


class Indicator:
    """One on a pseudo-terminal; it is asked, and its button counts each line."""

    def __init__(self, ours: int, port: str) -> None:
        self._ours = ours
        self.given = {"port": port, "still": "0 s", "ask": "?\\r", "sensor": "A", "axis": "Y", "sides": "L"}

    def presses(self, line: str) -> None:
        """Send a line that nobody asked for, as by its button."""
        os.write(self._ours, f"{line}\r\n".encode())
        time.sleep(0.25)

    def sends(self, *lines: str) -> None:
        """Answer each question with the next line; then wait until the last was taken."""
        for line in lines:
            os.read(self._ours, 64)
            os.write(self._ours, f"{line}\r\n".encode())
        os.read(self._ours, 64)  # asked again: what was sent before is read
        time.sleep(0.25)


@pytest.fixture
def indicator():
    pty = pytest.importorskip("pty", reason="pseudo-terminals are of Unix")
    ours, theirs = pty.openpty()
    yield Indicator(ours, os.ttyname(theirs))
    os.close(ours)
    os.close(theirs)


def test_in_a_large_trial_the_next_homing_does_not_wait_for_the_figures(
    client: TestClient, book: Book, trial: int
):
    """10 000 homings. The script asks for the figures next; without it a link does."""
    rows = "".join(f"A,Y,L,{i // 5 + 1},{i % 7 / 1000}\n" for i in range(MANY + 1))
    book.import_readings(trial, read_readings(f"sensor,axis,side,set,deviation_mm\n{rows}", resolution_mm=0.001))
    at = "/machines/1/trial?trial=1&sensor=A&axis=Y&sides=L"
    first = client.get(at).text
    assert 'id="f-deviation"' in first
    assert "data-late" in first
    assert "homings over" not in first
    for whole in (client.get(f"{at}&figures=yes").text, client.get(at, headers={"x-swap": "sheet"}).text):
        assert f"{MANY + 1} homings over" in whole
        assert "data-late" not in whole
