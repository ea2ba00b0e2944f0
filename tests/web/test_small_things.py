"""Small things that annoyed: units and currencies as people write them, forms that say what they did."""

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from holdzero import demo as invented
from holdzero import quantity
from holdzero.errors import InputError
from holdzero.store import Book
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
