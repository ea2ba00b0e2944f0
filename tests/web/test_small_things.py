"""Small things that annoyed: units and currencies as people write them, forms that say what they did."""

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from holdzero import demo as invented
from holdzero import quantity
from holdzero.errors import InputError
from holdzero.store import Book, NewReading
from holdzero.tell.choice import bound_by
from holdzero.web.case import OpenCase


@pytest.mark.parametrize("text", ["40 EUR", "40 €", "€40", "40€", "EUR 40", "$ 40", "40", "40,00 CHF"])
def test_a_price_in_any_currency(client: TestClient, book: Book, demo: int, text: str):
    sensor = book.sensors(demo)[0]
    client.post(f"/machines/{demo}/sensors/{sensor.id}", data={"name": sensor.sensor.name, "price": text})
    assert book.sensor(sensor.id).sensor.price == 40.0


@pytest.mark.parametrize("text", ["forty", "40 pieces", "4O EUR", "EUR"])
def test_what_is_no_price_is_refused(text: str):
    with pytest.raises(InputError):
        quantity.read(text, "price")


@pytest.mark.parametrize("text", ["0.1 over 500", "0.1 over 500 mm", "0,1 mm over 500 mm"])
def test_squareness_without_units_is_in_those_of_its_field(client: TestClient, book: Book, demo: int, text: str):
    client.post(
        f"/machines/{demo}/choice", data={"requirement.squareness": text, "requirement.position": "0.1 mm"}
    )
    requirement = book.machine(demo).machine.requirement
    assert (requirement.squareness_mm, requirement.squareness_over_mm) == (0.1, 500.0)


def test_in_a_file_a_bare_limit_is_not_guessed():
    with pytest.raises(InputError, match="without a unit"):
        quantity.read_limit_over("0.1 over 500 mm")


def test_no_key_is_named_in_what_is_said_of_the_datum(book: Book, demo: int):
    document = dict(book.machine(demo).document)
    requirement = {key: text for key, text in document["requirement"].items() if key != "datum_homings"}
    book.change_machine(demo, document | {"requirement": requirement})
    sentence = bound_by(OpenCase(book, demo).chosen.allowed)
    assert "Average several power-ups, and say over how many." in sentence
    assert "datum_homings" not in sentence


def test_no_scale_of_volts_where_no_supply_is_known(client: TestClient, book: Book):
    machine = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    sensor = book.add_sensor(machine, "A", {})
    assert 'class="scale"' not in client.get(f"/machines/{machine}/sensors").text
    book.change_sensor(sensor, "A", {"supply": "5 V to 24 V"})
    assert 'class="scale"' in client.get(f"/machines/{machine}/sensors").text


def test_forms_say_what_they_did(client: TestClient, book: Book, demo: int):
    form = {"name": "Spring", "axis": "Y", "unit": "mm", "resolution": "0.002", "protocol": "outside"}
    kept = client.post("/trials/1", data=form).text
    assert "Spring: kept." in kept
    sensor = book.sensors(demo)[0]
    page = client.post(f"/machines/{demo}/sensors/{sensor.id}", data={"name": sensor.sensor.name}).text
    assert f"{sensor.sensor.name}: kept." in page
    row, back = book.rows(1)[0], f"/machines/{demo}/findings?sensor={invented.WINNER}"
    page = client.post(f"/readings/{row.id}/set-aside", data={"reason": "bumped", "back": back}).text
    assert "Set aside: bumped." in page


def test_no_cell_of_the_title_block_is_left_bright():
    """Its lines are drawn around the cells: what no cell covers is paper."""
    style = (Path(__file__).parents[2] / "src/holdzero/web/static/holdzero.css").read_text()
    assert "background" not in re.search(r"\.titleblock \{([^}]*)\}", style)[1]


def units_in(text: str) -> set[str]:
    """Which of micrometre and millimetre stand behind figures."""
    return set(re.findall(r"[\d?]\u202f(µm|mm)\b", re.sub("<[^>]+>", "", text)))


def picture_of(page: str, caption: str) -> str:
    """The drawing above a caption, both its layouts."""
    figures = [figure.partition("</figure>")[0] for figure in page.split("<figure")[1:]]
    return next(figure for figure in figures if f"<figcaption>{caption}" in figure)


class TestOneUnit:
    """Lengths that are compared stand in one unit: in a line, a row and a picture."""

    def test_of_what_is_asked_about_a_reading(self, client: TestClient, book: Book, demo: int):
        sensor = {"sensor": "new", "axis": "X"}
        for homing in range(1, 5):
            new = NewReading(
                deviation_mm=0.01, resolution_mm=0.001, set_label="1", homing=homing, side="", **sensor
            )
            book.add_reading(1, new)
        page = client.post(
            "/trials/1/readings", data=sensor | {"set": "1", "homing": "5", "deviation": "1.2", "ask": "yes"}
        )
        asked = re.search(r'id="f-deviation-asks".*?</p>', page.text, re.DOTALL)[0]
        assert "1.19\u202fmm away from the others, which lie around 0.01\u202fmm" in asked

    def test_of_what_the_machine_is_asked(self, client: TestClient, demo: int):
        lead = re.search(
            r'<p class="lead">Then all but.*?</p>', client.get(f"/machines/{demo}/machine").text, re.DOTALL
        )[0]
        assert units_in(lead) == {"mm"}
        assert ("0.09<" in lead, "0.18<" in lead) == (True, True)

    def test_of_the_ways_along_an_axis(self, demo_site):
        client, machine = demo_site
        page = client.get(f"/machines/{machine}/travel").text
        drawn = picture_of(page, "Axis Y along its rail")
        assert "0.0363\u202fmm past the trip" in drawn
        assert units_in(drawn) == {"mm"}

    def test_of_a_gantry_and_its_rounds(self, demo_site):
        client, machine = demo_site
        page = client.get(f"/machines/{machine}/square").text
        assert units_in(picture_of(page, "The gantry as it stands")) == {"mm"}
        rounds = page.partition('aria-label="Rounds"')[2].partition("</table>")[0]
        assert units_in(rounds) == {"mm"}
        assert "0.015<" in rounds


def test_a_reading_stands_in_the_unit_of_its_display(client: TestClient, book: Book, demo: int):
    """One that came in by file too, where it is kept and in the list: as on the paper beside it."""
    page = client.get(f"/machines/{demo}/trial", params={"sensor": invented.WINNER, "axis": "Y"}).text
    last = book.rows(1, sensor=invented.WINNER, axis="Y", newest=1)[0]
    shown = quantity.fixed(last.deviation_mm, "length", unit="mm", decimals=3)[0].rstrip("0")
    assert f"{shown}\u202fmm</b> is kept" in page
    assert 'class="number">Read, mm</th>' in page
    assert f"Newest readings of {invented.WINNER} on Y" in page


def test_without_a_reading_no_digest_is_shown(client: TestClient, book: Book):
    machine = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    assert "<dt>Readings</dt><dd><code>none yet</code>" in client.get(f"/machines/{machine}/machine").text


def test_no_candidate_is_taken_unasked(client: TestClient, book: Book, demo: int):
    """Where none holds the first of the list is not chosen for the person."""
    client.post(f"/machines/{demo}/choice", data={"requirement.squareness": "0.004 mm over 600 mm"})
    page = client.get(f"/machines/{demo}/choice").text
    assert '<option value="" selected>which one?</option>' in page
    answer = client.post(f"/machines/{demo}/choice/decision", data={"reason": "cheap", "by": "me"})
    field = answer.text.partition('for="f-taken"')[2].partition("</div>")[0]
    assert (answer.status_code, "choose a candidate" in field) == (422, True)
    assert 'value="cheap"' in answer.text
    assert not book.results(demo, "decision")


def test_of_a_candidate_name_and_price_come_first(client: TestClient, book: Book):
    machine = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    page = client.get(f"/machines/{machine}/sensors").text
    before, _, sheet = page.partition('<details id="new-sheet">')
    assert all(f'id="new-f-{name}"' in before for name in ("name", "kind", "price"))
    assert all(f'id="new-f-{name}"' in sheet for name in ("supply", "output", "remark"))
    page = client.post(f"/machines/{machine}/sensors", data={"name": "A", "supply": "5 bananas"}).text
    assert '<details id="new-sheet" open>' in page
    client.post(f"/machines/{machine}/sensors", data={"name": "A", "supply": "5 V to 24 V"})
    number = book.sensors(machine)[0].id
    assert f'<details id="s{number}-sheet" open>' in client.get(f"/machines/{machine}/sensors").text


def test_the_room_of_what_is_kept_is_there_from_the_start(client: TestClient, book: Book):
    machine = book.add_machine({"machine": {"name": "Mill"}, "axes": {"X": {}}})
    book.add_sensor(machine, "A", {})
    book.add_trial(machine, name="First", axis="X", resolution="0.001 mm")
    kept = re.search(r'<p class="kept".*?</p>', client.get(f"/machines/{machine}/trial").text, re.DOTALL)[0]
    assert "Nothing is kept yet" in kept
    assert "hidden" not in kept.partition(">")[0]
