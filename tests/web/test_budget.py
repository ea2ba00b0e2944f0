"""Budget: both answers, contributions, backwards, and the index."""

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from holdzero.case import remembered
from holdzero.compute.material import MATERIALS
from holdzero.demo import HOMINGS, POWER_UPS, WINNER
from holdzero.form import read_toml
from holdzero.inputs.machine import machine_from
from holdzero.inputs.machine.keys import GROWING
from holdzero.inputs.machine.presets import preset
from holdzero.store import Book

DATA = Path(__file__).parents[1] / "data"


def words(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", html)).replace("\u202f", " ")


class TestWorkedExample:
    """docs/budget.md, the worked gantry, by hand."""

    @pytest.fixture
    def said(self, client: TestClient, book: Book) -> str:
        key = book.add_machine(read_toml((DATA / "two_motor_gantry.toml").read_text()))
        return words(client.get(f"/machines/{key}/budget").text)

    def test_both_answers_stand_side_by_side(self, said: str):
        assert "Position at the worse end Standard uncertainty 13.3 µm" in said
        assert "Squareness over 600 mm Standard uncertainty 2.87 µm" in said
        assert "Where the two differ" in said

    def test_common_and_own_are_kept_apart(self, said: str):
        assert "Together 12.8 3.3" in said

    def test_the_largest_contribution_comes_first(self, said: str):
        after = said.partition("Each has its own, µm")[2]
        assert after.split()[0] == "Growth"


class TestCandidate:
    """Which candidate, and from its trial or its sheet."""

    def test_the_trial_is_preferred_to_the_data_sheet(self, client: TestClient, demo: int):
        tried = client.get(f"/machines/{demo}/budget", params={"sensor": WINNER}).text
        sheet = client.get(f"/machines/{demo}/budget", params={"sensor": WINNER, "of": "sheet"}).text
        assert f"{POWER_UPS * HOMINGS} homings of {WINNER} over {POWER_UPS} power-ups" in words(tried)
        assert "Several touches" in tried
        assert f"as the data sheet of {WINNER} says" in words(sheet)
        assert "Several touches" not in sheet

    def test_the_choice_is_meant_unless_another_is_named(self, client: TestClient, demo: int):
        assert client.get(f"/machines/{demo}/budget.json").json()["sensor"] == WINNER
        assert client.get(f"/machines/{demo}/budget.json", params={"sensor": "-"}).json()["sensor"] is None

    def test_figures_are_found_again(self, client: TestClient, demo: int, monkeypatch: pytest.MonkeyPatch):
        first = client.get(f"/machines/{demo}/budget").text

        def refuse(*_: object, **__: object) -> None:
            raise AssertionError("reckoned a second time")

        monkeypatch.setattr(remembered, "assess", refuse)
        assert client.get(f"/machines/{demo}/budget").text == first


class TestIndex:
    """The index pulse, and how its phase is measured."""

    def test_its_picture_chance_and_how_to_measure_it(self, client: TestClient, book: Book):
        key = book.add_machine(read_toml(preset("small-mill")))
        page = client.get(f"/machines/{key}/budget", params={"axis": "X"}).text
        assert "The index pulse and the switch" in page
        assert "put shims behind the flag" in page

    def test_without_its_phase_it_says_how_to_get_it(self, client: TestClient, book: Book):
        axis = {"index_pitch": "5 mm", "switch_spread": "3 um"}
        key = book.add_machine({"axes": {"X": axis}})
        page = client.get(f"/machines/{key}/budget").text
        assert '<a href="#f-axes-X-index_phase">index phase</a>' in page
        assert 'id="f-axes-X-index_phase"' in page


class TestInputs:
    """An input changed recomputes in place."""

    def test_one_changed_recomputes_and_is_kept(self, client: TestClient, book: Book):
        axis = {"switch_spread": "3 um", "creep_speed": "2 mm/s", "poll": "1 ms"}
        key = book.add_machine({"requirement": {"position": "0.05 mm"}, "axes": {"X": axis}})
        given = {f"axes.X.{name}": text for name, text in axis.items()} | {"axis": "X", "axes.X.creep_speed": "40"}
        typed = words(client.post(f"/machines/{key}/budget/typed", data=given).text)
        assert book.machine(key).document["axes"]["X"]["creep_speed"] == "2 mm/s"
        kept = words(client.post(f"/machines/{key}/budget", data=given).text)
        assert book.machine(key).document["axes"]["X"]["creep_speed"] == "40 mm/s"
        # poll 40 * 1 ms / sqrt(12) = 11.547 um and 3 um: 11.930 um
        assert "Standard uncertainty 11.9 µm" in typed
        assert "Standard uncertainty 11.9 µm" in kept

    def test_nothing_known_still_has_a_page(self, client: TestClient, book: Book):
        key = book.add_machine({"axes": {"Y": {"motors": 2}}})
        page = client.get(f"/machines/{key}/budget")
        assert page.status_code == 200
        assert "nothing could be counted yet" in page.text
        assert client.get(f"/machines/{key}/budget.json").status_code == 200

    @pytest.mark.parametrize("name", ["growth_material", "drive_growth_material"])
    def test_a_material_nobody_knows_is_refused_at_its_field(self, client: TestClient, book: Book, name: str):
        key = book.add_machine({"axes": {"Y": {"motors": 2}}})
        sent = {"machine.name": "M", f"axes.Y.{name}": "unobtainium"}
        answer = client.post(f"/machines/{key}/machine", data=sent)
        assert answer.status_code == 422
        assert "unobtainium" in answer.text
        assert name not in book.machine(key).document["axes"]["Y"]
        assert client.get(f"/machines/{key}/machine").status_code == 200

    def test_what_a_form_takes_has_its_growth(self):
        assert tuple(GROWING) == tuple(MATERIALS)
        given = {"axes": {"Y": {"growth_material": "Gray cast iron"}}}
        assert machine_from(given).axes[0].influences.growth_material == "grey cast iron"
