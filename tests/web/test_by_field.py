"""Saving by field: what was changed is laid over what is kept by now; the same field changed twice is told."""

import re
import threading

import pytest
from starlette.testclient import TestClient

from holdzero.store import Book
from holdzero.web.by_field import SentForm, merge
from holdzero.web.forms import Field

KEPT = [Field(name="a", label="A", value="1 mm", unit="mm"), Field(name="b", label="B", value="2 mm", unit="mm")]
SHOWN = {"shown_in": "metric"}


@pytest.fixture
def mill(book: Book) -> int:
    return book.add_machine({"requirement": {"position": "0.05 mm"}, "axes": {"X": {"travel": "300 mm"}}})


def sent(**texts: str) -> SentForm:
    return SentForm(SHOWN | {name.replace("was_", "was."): text for name, text in texts.items()})


class TestMerge:
    """Each field by itself: what stood there when it was given out, what was typed, what is kept by now."""

    @pytest.mark.parametrize(
        ("texts", "given", "clashes"),
        [
            ({"a": "5", "was_a": "1 mm"}, {"a": "5", "b": "2 mm"}, {}),  # changed here only
            ({"a": "", "was_a": "1 mm"}, {"b": "2 mm"}, {}),  # emptied
            ({"a": "9 mm", "was_a": "9 mm"}, {"a": "1 mm", "b": "2 mm"}, {}),  # untouched here, changed elsewhere
            ({"a": "5", "was_a": "9 mm"}, {"a": "1 mm", "b": "2 mm"}, {"a": "5"}),  # changed in both
            ({"a": "1", "was_a": "9 mm"}, {"a": "1", "b": "2 mm"}, {}),  # in both, to the same
            ({"a": "5", "was_a": "9 mm", "take": "a"}, {"a": "1 mm", "b": "2 mm"}, {}),  # the other is taken
        ],
    )
    def test_by_field(self, texts: dict[str, str], given: dict[str, str], clashes: dict[str, str]):
        merged = merge(sent(**texts), KEPT)
        assert {name: merged.texts[name] for name in "ab" if name in merged.texts} == given
        assert merged.clashes == clashes

    def test_a_form_that_does_not_say_what_stood_is_taken_whole(self):
        assert merge(SentForm({"a": "5", "b": ""}), KEPT).texts == {"a": "5"}


def test_one_field_sent_changes_that_one_only(client: TestClient, book: Book, mill: int):
    given = SHOWN | {"axes.X.travel": "310", "was.axes.X.travel": "300 mm"}
    assert client.post(f"/machines/{mill}/machine", data=given).status_code == 200
    document = book.machine(mill).document
    assert (document["axes"]["X"], document["requirement"]) == ({"travel": "310 mm"}, {"position": "0.05 mm"})


def test_a_bare_number_means_the_unit_its_field_showed(client: TestClient, book: Book, mill: int):
    """Another tab has switched to inches meanwhile."""
    book.keep_setting("system", "inch")
    client.post(f"/machines/{mill}/machine", data=SHOWN | {"axes.X.travel": "310", "was.axes.X.travel": "300 mm"})
    assert book.machine(mill).document["axes"]["X"]["travel"] == "310 mm"


def test_the_same_field_changed_twice_keeps_the_first_and_shows_both(client: TestClient, book: Book, mill: int):
    given = SHOWN | {
        "axes.X.travel": "310 mm",
        "was.axes.X.travel": "280 mm",
        "axes.X.lead": "5 mm",
        "was.axes.X.lead": "",
    }
    answer = client.post(f"/machines/{mill}/machine", data=given)
    assert answer.status_code == 409
    assert "300 mm is kept there" in answer.text
    assert re.search(r'name="axes.X.travel" value="310 mm"', answer.text)
    assert 'name="was.axes.X.travel" value="300 mm"' in answer.text
    assert book.machine(mill).document["axes"]["X"] == {"travel": "300 mm", "lead": "5 mm"}


def test_what_cannot_be_read_keeps_no_other_field_from_it(client: TestClient, book: Book, mill: int):
    given = SHOWN | {
        "axes.X.travel": "3oo",
        "was.axes.X.travel": "300 mm",
        "axes.X.lead": "5 mm",
        "was.axes.X.lead": "",
    }
    answer = client.post(f"/machines/{mill}/machine", data=given)
    assert answer.status_code == 422
    assert 'id="f-axes-X-travel-error"' in answer.text
    assert book.machine(mill).document["axes"]["X"] == {"travel": "300 mm", "lead": "5 mm"}


def test_what_cannot_stand_with_the_rest_is_said_at_the_field_that_was_changed(
    client: TestClient, book: Book, demo: int
):
    """A logic pin whose high level lies below its low one."""
    client.post(f"/machines/{demo}/wiring/circuits", data={"start": "contact-logic"})
    page = client.get(f"/machines/{demo}/wiring").text
    shown = SHOWN | {"shown_as": re.search(r'name="shown_as" value="([^"]*)"', page)[1]}
    before = {
        key: re.search(rf'name="was.input.{key}" value="([^"]*)"', page)[1] for key in ("kind", "v_il", "v_ih")
    }
    client.post(f"/machines/{demo}/wiring/1", data=shown | {"input.v_il": "2 V", "was.input.v_il": before["v_il"]})
    refused = client.post(
        f"/machines/{demo}/wiring/1", data=shown | {"input.v_ih": "1 V", "was.input.v_ih": before["v_ih"]}
    )
    assert refused.status_code == 422
    assert 'id="f-input-v_ih-error"' in refused.text


def test_fields_sent_at_the_same_moment_all_stand(client: TestClient, book: Book, mill: int):
    """Reading what is kept and keeping it again is one step: nobody's change falls in between."""
    keys = (
        "lead",
        "home_trip",
        "limit_trip",
        "back_off",
        "flag_home",
        "flag_limit",
        "index_pitch",
        "bumper_stroke",
    )

    def change(key: str) -> None:
        name = f"axes.X.{key}"
        client.post(f"/machines/{mill}/travel", data=SHOWN | {"axis": "X", name: "5 mm", f"was.{name}": ""})

    hands = [threading.Thread(target=change, args=(key,)) for key in keys]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    assert book.machine(mill).document["axes"]["X"] == {"travel": "300 mm"} | dict.fromkeys(keys, "5 mm")
