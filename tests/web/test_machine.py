"""Machine: axes come and go, a drawing that follows what is typed, examples."""

import re

import pytest
from starlette.testclient import TestClient

from holdzero.chart.axis_sketch import WORDS
from holdzero.form import EXAMPLE
from holdzero.inputs.machine import AXIS_KEYS
from holdzero.inputs.machine.keys import OF_TWO_MOTORS
from holdzero.inputs.machine.presets import PRESETS
from holdzero.store import Book


def names(book: Book, machine: int) -> list[str]:
    return [axis.name for axis in book.machine(machine).machine.axes]


@pytest.fixture
def mill(book: Book) -> int:
    axes = {"X": {"travel": "300 mm"}, "Y": {"travel": "200 mm"}, "Z": {"travel": "150 mm"}}
    return book.add_machine({"requirement": {"position": "0.05 mm"}, "axes": axes})


class TestAxes:
    """Any number of axes."""

    def test_a_new_name_keeps_figures_and_place(self, client: TestClient, book: Book, mill: int):
        client.post(f"/machines/{mill}/axes/rename", data={"axis": "Y", "name": "V"})
        assert names(book, mill) == ["X", "V", "Z"]
        assert book.machine(mill).machine.axis("V").travel_mm == 200

    def test_one_less_down_to_the_last(self, client: TestClient, book: Book, mill: int):
        for axis in ("X", "Z"):
            client.post(f"/machines/{mill}/axes/remove", data={"axis": axis})
        assert names(book, mill) == ["Y"]
        refused = client.post(f"/machines/{mill}/axes/remove", data={"axis": "Y"})
        assert refused.status_code == 422
        assert "A machine needs at least one axis." in refused.text

    @pytest.mark.parametrize("name", ["", "X"])
    def test_a_name_that_cannot_be(self, client: TestClient, book: Book, mill: int, name: str):
        refused = client.post(f"/machines/{mill}/axes/rename", data={"axis": "Y", "name": name})
        assert refused.status_code == 422
        assert 'id="f-new-name-error"' in refused.text
        assert names(book, mill) == ["X", "Y", "Z"]

    def test_an_axis_with_a_trial_keeps_its_name(self, client: TestClient, book: Book, demo: int):
        for address, given in (("rename", {"axis": "Y", "name": "V"}), ("remove", {"axis": "Y"})):
            refused = client.post(f"/machines/{demo}/axes/{address}", data=given)
            assert refused.status_code == 422
            assert "would lose its axis" in refused.text
        assert names(book, demo) == ["Y", "X"]


class TestTyped:
    """The drawing and the verdict follow what is typed; only keeping it keeps it."""

    def test_the_drawing_follows(self, client: TestClient, book: Book, mill: int):
        given = _given(client.get(f"/machines/{mill}/machine").text) | {"axes.X.travel": "465"}
        page = client.post(f"/machines/{mill}/machine/typed", data=given).text
        assert "Axis X: travel 465\u202fmm" in page
        assert book.machine(mill).machine.axis("X").travel_mm == 300

    def test_half_a_word_leaves_the_rest_as_typed(self, client: TestClient, mill: int):
        given = _given(client.get(f"/machines/{mill}/machine").text)
        given |= {"axes.X.travel": "465 m m", "axes.Y.travel": "222"}
        page = client.post(f"/machines/{mill}/machine/typed", data=given).text
        assert "Axis X: travel 300\u202fmm" in page
        assert "Axis Y: travel 222\u202fmm" in page

    def test_the_verdict_follows(self, client: TestClient, mill: int):
        page = client.get(f"/machines/{mill}/machine").text
        # normal, one end, 1 in 1000: 50 um / 3.2905 = 15.2 um
        assert "may have a spread of" in page
        assert ">15.2<" in page
        given = _given(page) | {"requirement.position": "0.1 mm"}
        assert ">30.4<" in client.post(f"/machines/{mill}/machine/typed", data=given).text


class TestExamples:
    """Presets, marked as examples."""

    @pytest.mark.parametrize("name", PRESETS)
    def test_each_begins_a_machine_marked_as_an_example(self, client: TestClient, book: Book, name: str):
        page = client.post("/presets", data={"preset": name})
        assert page.status_code == 200
        assert EXAMPLE in page.text
        assert "needs a look" not in page.text.partition('class="name">Machine')[2].partition("</li>")[0]

    @pytest.mark.parametrize("name", [*PRESETS, "the demo"])
    def test_each_axis_says_what_moves(self, client: TestClient, book: Book, name: str):
        """So the drawing names it and the interview does not ask."""
        client.post("/demo") if name == "the demo" else client.post("/presets", data={"preset": name})
        (kept,) = book.machines()
        page = client.get(f"/machines/{kept.id}/machine").text
        for axis in kept.machine.axes:
            asked = page.partition(f'id="axis-{axis.name}"')[2].partition("</details>")[0]
            chosen = re.search(r'name="axes.[^"]*.moves".*?value="(\w*)" selected', asked, re.DOTALL)[1]
            assert chosen == axis.moves
            assert f">{WORDS[axis.moves]}</text>" in asked
            assert axis.motors == (2 if axis.moves == "gantry" else 1)

    def test_offered_where_a_newcomer_starts(self, client: TestClient, book: Book):
        for _ in ("empty", "with a machine in it"):
            page = client.get("/").text
            assert all(f'value="{name}"' in page for name in PRESETS)
            client.post("/machines", data={"name": "Mine"})

    def test_the_mark_goes_when_the_person_says_so_and_not_before(self, client: TestClient, book: Book):
        client.post("/presets", data={"preset": "small-mill"})
        (key,) = (kept.id for kept in book.machines())
        page = client.get(f"/machines/{key}/machine").text
        client.post(f"/machines/{key}/machine", data=_given(page) | {"axes.X.travel": "333 mm"})
        assert book.machine(key).invented == EXAMPLE
        assert EXAMPLE in client.get("/").text
        page = client.post(f"/machines/{key}/own").text
        assert "No longer marked as an example." in page
        assert EXAMPLE not in page
        assert book.machine(key).invented == ""
        assert book.machine(key).machine.axis("X").travel_mm == 333

    def test_any_other_name_begins_nothing(self, client: TestClient, book: Book):
        client.post("/presets", data={"preset": "../secret"})
        assert book.machines() == ()


def test_each_axis_leads_to_its_travel_and_its_budget(client: TestClient, demo: int):
    page = client.get(f"/machines/{demo}/machine").text
    for axis in ("Y", "X"):
        assert f'href="/machines/{demo}/travel?axis={axis}"' in page
        assert f'href="/machines/{demo}/budget?axis={axis}"' in page


def _given(html: str) -> dict[str, str]:
    form = html.partition('id="machine"')[2].partition("</form>")[0]
    return dict(re.findall(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"', form))


def fields(html: str) -> list[str]:
    """Names of the fields a person can fill in the machine's own form."""
    form = html.partition('id="machine"')[2].partition("</form>")[0]
    return re.findall(r'<(?:input|select)(?![^>]*type="(?:hidden|search)")[^>]* name="([^"]+)"', form)


class TestInterview:
    """First a drawing, then the figures an answer needs; every figure in one place."""

    def test_every_key_has_one_field(self, client: TestClient, demo: int):
        named = fields(client.get(f"/machines/{demo}/machine").text)
        assert sorted(set(named)) == sorted(named)
        of_y = {name.removeprefix("axes.Y.") for name in named if name.startswith("axes.Y.")}
        assert of_y == {key.name for key in AXIS_KEYS}

    def test_one_motor_shows_nothing_of_two_but_what_was_typed(self, client: TestClient, book: Book):
        axes = {"X": {"motors": "1"}, "Y": {"motors": "1", "drive_distance": "980 mm"}, "V": {"motors": "2"}}
        machine = book.add_machine({"axes": axes})
        named = fields(client.get(f"/machines/{machine}/machine").text)
        two = {name for name in named if name.partition(".")[2].partition(".")[2] in OF_TWO_MOTORS}
        assert {name for name in two if ".X." in name} == set()
        assert {name for name in two if ".Y." in name} == {"axes.Y.drive_distance"}
        assert len([name for name in two if ".V." in name]) == len(OF_TWO_MOTORS)

    def test_added_by_what_moves(self, client: TestClient, book: Book, mill: int):
        for moves, letter, motors in (("head", "W", 1), ("gantry", "V", 2), ("carriage", "U", 1)):
            client.post(f"/machines/{mill}/axes", data={"moves": moves})
            axis = book.machine(mill).machine.axis(letter)
            assert (axis.moves, axis.motors) == (moves, motors)
        client.post(f"/machines/{mill}/axes", data={"moves": "table", "axis": "T"})
        assert book.machine(mill).machine.axis("T").moves == "table"
        refused = client.post(f"/machines/{mill}/axes", data={"moves": "head", "axis": "T"})
        assert refused.status_code == 422
        assert "there already" in refused.text

    @pytest.mark.parametrize(("name", "moves", "asked"), [("Z", "", True), ("A", "head", True), ("A", "", False)])
    def test_what_looks_upright_is_asked_whether_it_falls(self, client, book: Book, name, moves, asked):
        machine = book.add_machine({"axes": {name: {"moves": moves}}})
        page = client.get(f"/machines/{machine}/machine").text
        assert (f"can {name} fall, and which way?" in page) == asked
        form = {"shown_in": "metric", f"axes.{name}.gravity": "level", f"was.axes.{name}.gravity": ""}
        page = client.post(f"/machines/{machine}/machine", data=form).text
        assert "can it fall?" not in page
        assert book.machine(machine).machine.axes[0].moving.gravity == "level"

    def test_the_answer_names_what_it_lacks_and_leads_there(self, client: TestClient, book: Book):
        machine = book.add_machine({"axes": {"Y": {"motors": "2", "home_trip": "12 mm", "delay": "9 ms"}}})
        page = client.get(f"/machines/{machine}/machine").text
        assert "To know whether Y stops in time I need 4 figures" in page
        assert 'href="#f-axes-Y-limit_trip"' in page
        assert 'href="#f-requirement-squareness"' in page
