"""Pages: verdict first, forms that keep what was typed, a JSON twin of each."""

import html
import re

import pytest
from starlette.testclient import TestClient

from holdzero import demo as invented
from holdzero.inputs.reading import read_readings
from holdzero.store import Book
from holdzero.web import start
from holdzero.web.case import OpenCase
from holdzero.web.stations import STATIONS

OPEN = [station.slug for station in STATIONS if station.router]


def heading(page: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", page, re.DOTALL)
    assert found, "a page begins with its verdict"
    return " ".join(re.sub("<[^>]+>", "", found[1]).split()).replace("\u202f", " ")


class TestStart:
    """First visit: welcoming, and two ways on."""

    def test_an_empty_book_says_what_this_is_and_offers_two_ways(self, client: TestClient):
        page = client.get("/").text
        assert heading(page) == "Does this machine hold zero?"
        assert 'action="/demo"' in page
        assert 'action="/machines"' in page

    def test_the_mark_of_the_demo_goes_with_its_figures(self, client: TestClient, book: Book):
        """Both the field and the remark: a machine says itself whether it is invented."""
        client.post("/demo")
        assert (book.machine(1).invented, book.machine(1).machine.example) == (invented.INVENTED, True)
        page = client.post("/machines/1/own").text
        assert invented.INVENTED not in page
        assert (book.machine(1).remark, book.machine(1).invented) == ("", "")
        assert (
            "Of an invented example: readings of H, J, K, M, N, P; squaring." in page
        )  # nobody measured that here
        assert client.get("/machines/1/choice.json").json()["invented"] is True
        assert invented.INVENTED not in client.get("/").text

    def test_each_machine_stands_there_in_the_words_of_its_standing(self, client: TestClient, book: Book):
        client.post("/demo")
        client.post("/machines", data={"name": "New"})
        page = client.get("/?figures=yes").text
        for machine_id in (1, 2):
            standing = OpenCase(book, machine_id).standings.machine
            assert standing.headline in html.unescape(page)
        assert "Cannot say yet whether Y holds zero. Whether Y stops in time is not known" in page
        assert "Next: " in page
        listed = client.get("/machines.json").json()["machines"]
        assert [(row["name"], row["standing"]["answer"]) for row in listed][1] == ("New", "cannot say")
        assert listed[0]["standing"] == OpenCase(book, 1).standings.machine.as_json()

    def test_machines_follow_one_by_one_where_they_take_long(
        self, client: TestClient, book: Book, monkeypatch: pytest.MonkeyPatch
    ):
        """The page is there at once; each answer brings one more, until none is open. A change begins anew."""
        monkeypatch.setattr(start, "ANSWER_WITHIN_S", 0.0)
        for name in "ABC":
            client.post("/machines", data={"name": name})
        client.post("/machines", data={"name": "D"})
        assert [client.get("/").text.count("data-late") for _ in range(4)] == [3, 2, 1, 0]
        book.change_machine(1, {"machine": {"name": "Other"}, "axes": {"Y": {}}})
        assert "data-late" in client.get("/").text

    def test_the_demo_opens_on_its_choice_and_stays_marked_as_invented(self, client: TestClient):
        answer = client.post("/demo")
        assert answer.url.path == "/machines/1/choice"
        assert invented.INVENTED in answer.text
        assert (
            heading(answer.text) == f"{invented.WINNER} is the cheapest that holds so far"
        )  # the truth planted in the demo

    def test_a_machine_of_one_s_own(self, client: TestClient, book: Book):
        given = {"name": "Bench mill", "axis": "X", "squareness": "", "drive_distance": "", "position": "0.5 thou"}
        answer = client.post("/machines", data=given)
        assert answer.url.path == "/machines/1/machine"
        assert book.machine(1).machine.axis("X").motors == 1
        assert book.machine(1).machine.requirement.position_mm == pytest.approx(0.0127)

    def test_what_is_wrong_is_said_at_the_field_and_nothing_typed_is_lost(self, client: TestClient, book: Book):
        answer = client.post(
            "/machines", data={"name": "Mill", "position": "a hair", "squareness": "0.1 mm over 600 mm"}
        )
        assert answer.status_code == 422
        assert book.machines() == ()
        field = re.search(r'<input[^>]*name="position"[^>]*>', answer.text)
        assert field
        assert 'value="a hair"' in field[0]
        assert 'aria-invalid="true"' in field[0]
        assert 'value="0.1 mm over 600 mm"' in answer.text


@pytest.mark.parametrize("station", ["machine", "sensors", "wiring", "travel", "budget", "choice", "square"])
def test_each_form_leads_to_what_its_keys_mean(client: TestClient, demo: int, book: Book, station: str):
    if station == "wiring":
        client.post(f"/machines/{demo}/wiring/circuits", data={"preset": "pnp"})
    page = client.get("/keys")
    assert page.status_code == 200
    places = re.findall(r'<h2 id="([^"]+)"', page.text)
    led_to = re.findall(r'href="/keys#([^"]+)"', client.get(f"/machines/{demo}/{station}").text)
    assert led_to
    assert set(led_to) <= set(places)


def test_the_page_of_keys_has_a_twin(client: TestClient):
    groups = client.get("/keys.json").json()["groups"]
    rows = {row["key"]: row for group in groups for row in group["keys"]}
    assert rows["lead"] == {
        "key": "lead",
        "meaning": rows["lead"]["meaning"],
        "unit": "mm or in",
        "sign": "above zero",
        "example": "10 mm",
        "choices": [],
    }


BESIDE = {  # page beside a station -> its station
    "budget": "Travel",
    "plan": "Trial",
    "noise": "Trial",
    "install": "Square",
    "wiring/terminals": "Wiring",
    "wiring/unknown": "Wiring",
}


@pytest.mark.parametrize("address", BESIDE)
def test_a_page_beside_a_station_stands_at_it(client: TestClient, demo: int, address: str):
    """The carriage stands at the station, whose link leads to another page than this."""
    rail = client.get(f"/machines/{demo}/{address}").text.partition("<nav")[2].partition("</nav>")[0]
    assert 'aria-current="page"' not in rail
    assert rail.count('aria-current="true"') == 1
    here = rail.partition('aria-current="true"')[2].partition("</a>")[0]
    assert f'class="name">{BESIDE[address]}</span>' in here


@pytest.mark.parametrize("slug", OPEN)
class TestEachStation:
    """Verdict, rail, title block; a JSON twin of each page."""

    def test_it_has_a_verdict_a_picture_of_the_rail_and_a_title_block(
        self, client: TestClient, demo: int, slug: str
    ):
        answer = client.get(f"/machines/{demo}/{slug}")
        assert answer.status_code == 200
        assert heading(answer.text)
        assert 'aria-current="page"' in answer.text
        assert "Design aid, not a certificate" in answer.text
        assert invented.INVENTED in answer.text

    def test_it_has_a_json_twin(self, client: TestClient, demo: int, slug: str):
        twin = client.get(f"/machines/{demo}/{slug}.json")
        assert twin.status_code == 200
        assert twin.json()["version"]

    def test_a_machine_with_nothing_yet_has_the_page_too(self, client: TestClient, book: Book, slug: str):
        machine_id = book.add_machine({"machine": {"name": "Bare"}, "axes": {"Y": {"motors": 2}}})
        assert heading(client.get(f"/machines/{machine_id}/{slug}").text)
        assert client.get(f"/machines/{machine_id}/{slug}.json").status_code == 200

    def test_the_script_gets_the_sheet_without_the_head(self, client: TestClient, demo: int, slug: str):
        answer = client.get(f"/machines/{demo}/{slug}", headers={"x-swap": "sheet"})
        assert answer.text.lstrip().startswith('<div id="sheet"')
        assert "<html" not in answer.text


class TestRail:
    """Ten stations as places along an axis."""

    def test_all_ten_places_are_on_it_in_the_order_of_the_job(self, client: TestClient, demo: int):
        rail = client.get(f"/machines/{demo}/machine").text.partition("<nav")[2].partition("</nav>")[0]
        names = re.findall(r'class="name">(\w+)<', rail)
        job = "Machine Sensors Wiring Travel Trial Findings Choice Square Record Watch"
        assert " ".join(names) == job

    def test_a_station_that_needs_a_look_lifts_a_flag_and_says_why(
        self, client: TestClient, book: Book, demo: int
    ):
        book.add_sensor(demo, "X", {"kind": "unpriced"})
        rail = client.get(f"/machines/{demo}/machine").text.partition("<nav")[2].partition("</nav>")[0]
        assert ", needs a look: no price for X" in rail


class TestMachine:
    """Editing recomputes; what is kept does not change its meaning with the units shown."""

    def test_editing_recomputes(self, client: TestClient, book: Book, demo: int):
        before = heading(client.get(f"/machines/{demo}/machine").text)
        given = dict(_inputs(client.get(f"/machines/{demo}/machine").text, "machine"))
        answer = client.post(
            f"/machines/{demo}/machine", data=given | {"requirement.squareness": "0.02 mm over 600 mm"}
        )
        assert answer.status_code == 200
        assert heading(answer.text) != before
        assert book.machine(demo).document["axes"] == {
            name: {key: str(value) for key, value in axis.items()}
            for name, axis in _document(invented.machine_toml())["axes"].items()
        }  # sent back as it stood, nothing else changed

    def test_a_bare_number_takes_the_unit_its_field_showed(self, client: TestClient, book: Book, demo: int):
        given = dict(_inputs(client.get(f"/machines/{demo}/machine").text, "machine"))
        client.post(f"/machines/{demo}/machine", data=given | {"axes.Y.drive_distance": "800"})
        client.post("/system", data={"system": "inch", "back": "/"})
        client.post(f"/machines/{demo}/machine", data=given | {"axes.X.travel": "910"})  # given out in mm
        inch = dict(_inputs(client.get(f"/machines/{demo}/machine").text, "machine"))
        client.post(f"/machines/{demo}/machine", data=inch | {"axes.Y.travel": "36"})
        axes = book.machine(demo).document["axes"]
        assert axes["Y"]["drive_distance"] == "800 mm"
        assert (axes["X"]["travel"], axes["Y"]["travel"]) == ("910 mm", "36 in")

    def test_keys_no_field_stands_for_are_kept(self, client: TestClient, book: Book):
        axes = {"Y": {"motors": 2, "drive_distance": "980 mm", "colour": "green"}}
        key = book.add_machine({"machine": {"name": "Odd"}, "axes": axes})
        given = dict(_inputs(client.get(f"/machines/{key}/machine").text, "machine"))
        client.post(f"/machines/{key}/machine", data=given)
        assert book.machine(key).document["axes"]["Y"]["colour"] == "green"

    def test_another_axis(self, client: TestClient, book: Book, demo: int):
        client.post(f"/machines/{demo}/axes", data={"axis": "Z"})
        assert [axis.name for axis in book.machine(demo).machine.axes] == ["Y", "X", "Z"]
        again = client.post(f"/machines/{demo}/axes", data={"axis": "Z"})
        assert again.status_code == 422
        assert "is there already" in again.text


class TestSensors:
    """Candidates come and go; their homings stay."""

    def test_add_change_and_take_out(self, client: TestClient, book: Book, demo: int):
        client.post(f"/machines/{demo}/sensors", data={"name": "G", "kind": "reed", "price": "2"})
        kept = book.sensors(demo)[-1]
        assert (kept.sensor.name, kept.sensor.price) == ("G", 2.0)
        client.post(
            f"/machines/{demo}/sensors/{kept.id}", data={"name": "G", "kind": "reed", "supply": "5 V to 24 V"}
        )
        assert book.sensor(kept.id).document == {"kind": "reed", "supply": "5 V to 24 V"}
        client.post(f"/machines/{demo}/sensors/{kept.id}/remove")
        assert "G" not in [one.sensor.name for one in book.sensors(demo)]

    def test_a_name_twice_is_said_at_the_name(self, client: TestClient, demo: int):
        answer = client.post(f"/machines/{demo}/sensors", data={"name": invented.WINNER})
        assert answer.status_code == 422
        assert "a second sensor" in answer.text


class TestChoice:
    """Shown; the figures are tested where they are computed."""

    def test_asking_for_more_changes_the_verdicts(self, client: TestClient, demo: int):
        asked = {"requirement.squareness": "0.005 mm over 600 mm", "requirement.position": "0.10 mm"}
        answer = client.post(f"/machines/{demo}/choice", data=asked)
        assert heading(answer.text) == "No candidate is shown to hold"

    def test_what_is_missing_is_said_first(self, client: TestClient, book: Book):
        key = book.add_machine({"machine": {"name": "Bare"}, "axes": {"Y": {"motors": 2}}})
        assert heading(client.get(f"/machines/{key}/choice").text).startswith("Cannot say yet")

    def test_the_twin_is_the_contract_of_the_terminal(self, client: TestClient, demo: int):
        twin = client.get(f"/machines/{demo}/choice.json").json()
        assert twin["choice"] == invented.WINNER
        assert {one["sensor"] for one in twin["candidates"]} == {planted.sensor for planted in invented.PLANTED}


class TestFindings:
    """Shown; both figures stay visible where a reading is set aside."""

    def test_the_twin_is_the_contract_of_the_terminal(self, client: TestClient, demo: int):
        twin = client.get(f"/machines/{demo}/findings.json").json()
        assert len(twin["sensors"]) == 18  # six candidates: left, right, difference
        assert {one["side"] for one in twin["sensors"]} == {"L", "R", "difference"}

    def test_each_candidate_has_its_page(self, client: TestClient, demo: int):
        page = client.get(
            f"/machines/{demo}/findings", params={"sensor": invented.WARMING, "axis": "Y", "side": "difference"}
        ).text
        assert heading(page).startswith(f"{invented.WARMING}, Y right minus left: spread")

    def test_a_reading_set_aside_stays_and_both_figures_show(self, client: TestClient, book: Book, demo: int):
        strays = [row for row in book.rows(1) if row.sensor == invented.STRAYS and row.deviation_mm > 0.3]
        (miss,) = (row for row in strays if row.side == "R")
        back = f"/machines/{demo}/findings?sensor={invented.STRAYS}&axis=Y&side=R"
        page = client.post(
            f"/readings/{miss.id}/set-aside", data={"reason": "chip on the flag", "back": back}
        ).text
        assert "chip on the flag" in page
        assert "spread with them" in page
        assert len(book.rows(1)) == invented.READINGS


class TestUnits:
    """Switching changes what is shown, never what is stored."""

    def test_inches_are_shown_and_nothing_stored_changes(self, client: TestClient, book: Book, demo: int):
        before = book.readings(1).digest
        page = client.post("/system", data={"system": "inch", "back": f"/machines/{demo}/findings?sensor=K"}).text
        assert "thou" in heading(page)
        assert "µm" not in heading(page)
        assert book.readings(1).digest == before
        assert 'aria-pressed="true">inch' in page

    def test_back_leads_nowhere_else(self, client: TestClient):
        for away in ("https://evil.example/", "//evil.example", "/\\evil.example"):
            answer = client.post("/system", data={"system": "inch", "back": away}, follow_redirects=False)
            assert answer.headers["location"] == "/"


class TestRecord:
    """A record can be checked later."""

    def test_pdf_and_page(self, client: TestClient, demo: int):
        pdf = client.get(f"/machines/{demo}/record.pdf")
        assert pdf.content.startswith(b"%PDF")
        assert client.get(f"/machines/{demo}/record.pdf").content == pdf.content
        assert "Plywood router" in client.get(f"/machines/{demo}/record.html").text

    def test_what_is_in_it_and_what_is_missing(self, client: TestClient, demo: int):
        page = client.get(f"/machines/{demo}/record").text
        assert "<li>Travel</li>" in page
        assert (
            f'Squareness before and after: missing; <a href="/machines/{demo}/square">measure the gantry</a>'
            in page
        )
        parts = client.get(f"/machines/{demo}/record.json").json()["parts"]
        assert parts["Error budget"]
        assert not parts["Wiring"]

    def test_wiring_of_the_book_comes_into_the_record(self, client: TestClient, book: Book, demo: int):
        """The newest sheet of the station, in the shape of the wiring file."""
        circuit = {"sensor": {"output": "PNP"}, "input": {"kind": "IEC 61131-2 type 3"}}
        book.add_sheet(demo, "wiring", circuit)
        assert "Wiring: what the controller sees" in client.get(f"/machines/{demo}/record.html").text

    def test_a_kept_record_tells_whether_the_figures_still_stand(self, client: TestClient, book: Book, demo: int):
        assert "the same" in client.post(f"/machines/{demo}/record").text
        book.set_aside(book.rows(1)[0].id, "slip")
        page = client.get(f"/machines/{demo}/record").text
        assert "changed since" in page
        assert "needs a look: what the kept record was made from has changed" in page


class TestErrors:
    """One handler turns what went wrong into a page or JSON."""

    def test_no_such_page_machine_or_trial(self, client: TestClient, demo: int):
        for address in (
            "/nowhere",
            "/machines/99/choice",
            f"/machines/{demo}/trial?trial=99",
            "/machines/x/choice",
        ):
            answer = client.get(address)
            assert answer.status_code in (404, 422), address
            assert heading(answer.text)

    def test_a_twin_says_it_in_json(self, client: TestClient):
        answer = client.get("/machines/99/choice.json")
        assert answer.status_code == 404
        assert answer.json()["error"]["found"] == "no machine 99"

    def test_a_book_that_can_only_be_read_says_so_on_every_page(self, client: TestClient, book: Book, demo: int):
        book.shelf.read_only = "This book is a copy for reading."
        assert book.read_only in client.get(f"/machines/{demo}/choice").text
        refused = client.post(f"/machines/{demo}/axes", data={"axis": "Z"})
        assert refused.status_code == 422
        assert "reading only" in refused.text

    def test_names_are_never_markup(self, client: TestClient, book: Book):
        book.add_machine({"machine": {"name": "<script>alert(1)</script>"}, "axes": {"Y": {}}})
        for address in ("/", "/machines/1/machine", "/machines/1/trial"):
            assert "<script>alert" not in client.get(address).text


def _inputs(html: str, form_id: str) -> list[tuple[str, str]]:
    """Names and values of the fields of one form, as a browser would send them."""
    form = html.partition(f'id="{form_id}"')[2].partition("</form>")[0]
    found = re.findall(r'<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"', form)
    for name, options in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found.append((name, chosen[1] if chosen else ""))
    return [(name, value.replace("&#43;", "+")) for name, value in found]


def _document(toml: str) -> dict:
    import tomllib

    return tomllib.loads(toml)


class TestDecision:
    """A decision is recorded with a reason and kept with the digest of its inputs."""

    def test_is_kept_and_says_whether_anything_changed_since(self, client, book, demo):
        machine = demo
        at = f"/machines/{machine}/choice/decision"
        assert client.post(at, data={"sensor": invented.DEARER, "reason": ""}).status_code == 422
        client.post(at, data={"sensor": invented.DEARER, "reason": "nobody has to clean it", "by": "the keeper"})
        (kept,) = book.results(machine, "decision")
        assert (kept.document["sensor"], len(kept.digest)) == (invented.DEARER, 64)
        page = client.get(f"/machines/{machine}/choice").text
        assert "by the keeper: Nobody has to clean it." in page
        assert "Nothing it rests on has changed since." in page
        book.change_sensor(book.sensors(machine)[0].id, invented.COARSE, {"price": "4"})
        assert "What it rests on has changed since: sensors." in client.get(f"/machines/{machine}/choice").text


@pytest.mark.parametrize("station", ["findings", "choice", "record"])
def test_what_the_plan_asks_for_stands_beside_a_holds(client, book, demo, station):
    """What a trial lacks is said wherever its `holds` is shown: here nothing was read again without homing."""
    once = "".join(line for line in invented.readings_csv().splitlines(True) if not line.endswith(",yes,yes\n"))
    book.remove_trial(1)
    trial = book.add_trial(demo, name="Once", axis="Y", resolution="0.002 mm")
    book.import_readings(trial, read_readings(once))
    said = "Before “holds” may stand: 10 readings without homing in between"
    assert said in client.get(f"/machines/{demo}/{station}", params={"sensor": invented.WINNER}).text
    assert said not in client.get(f"/machines/{demo}/findings", params={"sensor": invented.ON_STEPS}).text


@pytest.mark.parametrize("station", ["findings", "choice", "record", "record.html", "record.json"])
def test_a_machine_without_candidates_or_trial(client, book, station):
    machine = book.add_machine(
        {"machine": {"name": "Mill"}, "requirement": {"position": "0.02 mm"}, "axes": {"Z": {"motors": 1}}}
    )
    assert client.get(f"/machines/{machine}/{station}").status_code == 200
