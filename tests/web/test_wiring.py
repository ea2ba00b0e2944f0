"""The Wiring station: circuits, remedies, candidates, unknown sensors."""

import html
import re
from itertools import product
from typing import Any

import pytest
from starlette.testclient import TestClient

from holdzero.compute.choose.electrical import electrical, tried
from holdzero.compute.wiring import assess_all, assess_many, circuits_from, read_wiring
from holdzero.compute.wiring.presets import PRESETS
from holdzero.compute.wiring.taken import taken
from holdzero.demo import COARSE, WINNER
from holdzero.form import write_toml
from holdzero.inputs.sensor.output import Contact, Output
from holdzero.inputs.sensor.values import Sensor
from holdzero.store import Book
from holdzero.web.case import OpenCase
from holdzero.web.stations.wiring import STATION


def heading(page: str) -> str:
    found = re.search(r"<h1>(.*?)</h1>", page, re.DOTALL)
    assert found
    return " ".join(re.sub("<[^>]+>", "", found[1]).split()).replace("\u202f", " ")


def add(client: TestClient, demo: int, start: str = "contact", **given: str) -> str:
    return client.post(
        f"/machines/{demo}/wiring/circuits", data={"start": start, "axis": "Y", "side": "L"} | given
    ).text


def typed(page: str) -> dict[str, str]:
    """What the form of the circuit holds, as a browser would send it."""
    form = re.search(r'<form[^>]*id="circuit">(.*?)</form>', page, re.DOTALL)
    assert form
    fields = re.findall(r'<input[^>]*name="([^"]+)" value="([^"]*)"', form[1])
    lists = re.findall(r'<select[^>]*name="([^"]+)".*?</select>', form[1], re.DOTALL)
    chosen = [re.search(rf'name="{re.escape(name)}".*?</select>', form[1], re.DOTALL) for name in lists]
    picked = [re.search(r'value="([^"]*)" selected', one[0]) if one else None for one in chosen]
    return dict(fields) | {name: one[1] if one else "" for name, one in zip(lists, picked, strict=True)}


def change(client: TestClient, demo: int, number: int = 1, **given: str):
    page = client.get(f"/machines/{demo}/wiring", params={"circuit": number}).text
    sent = typed(page) | {name.replace("__", "."): text for name, text in given.items()}
    return client.post(f"/machines/{demo}/wiring/{number}", data=sent)


class TestCircuits:
    """From the first circuit to several; what is kept is a wiring file."""

    def test_begins_with_a_question_and_our_own_circuits(self, client: TestClient, demo: int):
        page = client.get(f"/machines/{demo}/wiring").text
        assert heading(page) == "How are the home switches wired?"
        assert all(f'value="{start}"' in page for start in PRESETS)

    @pytest.mark.parametrize("start", PRESETS)
    def test_every_circuit_to_start_from_works(self, start: str):
        (found,) = assess_all(circuits_from(PRESETS[start][1]))
        assert found.verdict.startswith("works")

    def test_the_verdict_comes_first_then_the_diagram(self, client: TestClient, demo: int):
        page = add(client, demo)
        assert heading(page).lower().endswith("works, and a broken wire stops the machine")
        at = [
            page.index(part)
            for part in ("<h1>", "<figure", "What the input reads", "One fault", "What it was made")
        ]
        assert at == sorted(at)
        assert "Switch off, unplug" in page[: page.index('aria-label="Terminals')]
        twin = client.get(f"/machines/{demo}/wiring.json").json()["circuits"][0]
        assert twin["name"] == "Y left home"
        assert {"states", "faults", "terminals", "layout", "remedies", "damage"} <= twin.keys()

    def test_left_then_right_and_each_is_kept(self, client: TestClient, book: Book, demo: int):
        add(client, demo)
        page = add(client, demo, "copy-1", side="R")
        assert heading(page) == "Y right home: works, and a broken wire stops the machine"
        names = [one["name"] for one in book.sheets(demo, "wiring")[0]["circuit"]]
        assert names == ["Y left home", "Y right home"]
        page = client.post(f"/machines/{demo}/wiring/1/remove").text
        assert heading(page).lower().endswith("works, and a broken wire stops the machine")
        client.post(f"/machines/{demo}/wiring/1/remove")
        assert book.sheets(demo, "wiring")[0] == {}
        assert len(book.sheets(demo, "wiring")) == 4  # nothing is lost

    def test_an_input_changed_is_kept_with_its_unit_and_solved_again(
        self, client: TestClient, book: Book, demo: int
    ):
        add(client, demo)
        page = change(client, demo, cable__length="10", sensor1__contact="NO").text
        assert "works, but a broken" in heading(page)
        kept_now = book.sheets(demo, "wiring")[0]["circuit"][0]
        assert kept_now["cable"] == {"length": "10 mm"}
        assert kept_now["sensor"]["contact"] == "NO"
        assert "needs a look: Y left home: a lost wire or supply hides" in page

    def test_nothing_changed_keeps_nothing(self, client: TestClient, book: Book, demo: int):
        add(client, demo, "both-sides")
        change(client, demo)
        assert len(book.sheets(demo, "wiring")) == 1

    @pytest.mark.parametrize(
        ("given", "field", "says"),
        [
            ({"supply__voltage": "lots"}, "f-supply-voltage", "lots"),
            (
                {"input__kind": "logic", "input__v_il": "3 V", "input__v_ih": "2 V"},
                "f-input-v_ih",
                "V_IH above V_IL",
            ),
        ],
    )
    def test_what_is_wrong_is_said_at_its_field(
        self, client: TestClient, book: Book, demo: int, given: dict[str, str], field: str, says: str
    ):
        add(client, demo, "contact-logic")
        answer = change(client, demo, **given)
        assert answer.status_code == 422
        error = re.search(rf'id="{field}-error">(.*?)</p>', answer.text, re.DOTALL)
        assert error
        assert says in error[1]
        assert len(book.sheets(demo, "wiring")) == 1

    def test_damage_is_refused_loudly(self, client: TestClient, demo: int):
        add(client, demo, "pnp")
        page = change(client, demo, input__kind="logic").text
        assert heading(page).endswith("Do not switch this on")
        assert re.search(r'class="refused" role="alert"', page)
        assert "DO NOT BUILD THIS" in page

    def test_what_is_not_known_leads_to_the_bench(self, client: TestClient, demo: int):
        add(client, demo, "pnp")
        page = change(client, demo, sensor1__output="unknown").text
        assert "cannot say: " in heading(page).lower()
        assert "wiring/unknown?circuit=1" in page

    def test_no_such_circuit(self, client: TestClient, demo: int):
        assert client.get(f"/machines/{demo}/wiring/3.svg").status_code == 404


class TestTakeAway:
    """Files and the list to print."""

    def test_the_file_reads_back_equal(self, client: TestClient, demo: int):
        add(client, demo)
        add(client, demo, "both-sides", side="", name="Both")
        text = client.get(f"/machines/{demo}/wiring.toml").text
        again = write_toml({"circuit": [circuit.entered for circuit in read_wiring(text)]})
        assert f"example = true\n\n{again}" == text  # the demo's machine is one

    def test_the_diagram_and_the_list(self, client: TestClient, demo: int):
        add(client, demo)
        drawn = client.get(f"/machines/{demo}/wiring/1.svg")
        assert drawn.headers["content-type"].startswith("image/svg+xml")
        assert "<title>" in drawn.text
        page = client.get(f"/machines/{demo}/wiring/terminals").text
        assert page.index("Switch off, unplug") < page.index("-B1:11")
        assert "Screen joined to earth at one end only" in page

    def test_the_delay_goes_to_the_axis_once(self, client: TestClient, book: Book, demo: int):
        add(client, demo, "contact-logic")
        assert "Hand " in client.get(f"/machines/{demo}/wiring").text
        page = client.post(f"/machines/{demo}/wiring/1/delay").text
        assert "Axis Y counts this delay" in page
        axis = book.machine(demo).machine.axis("Y")
        longest = OpenCase(book, demo).circuits.edge_delay_s("Y")
        assert longest
        assert axis.reaction.edge_delay_s == pytest.approx(longest, rel=2e-3)
        assert axis.reaction.edge_delay_s >= longest


SENSORS = [
    {"output": output, "contact": contact}
    for output, contact in product(("dry contact", "NPN", "PNP", "push-pull", "2-wire"), ("NO", "NC"))
]
INPUTS: list[dict[str, Any]] = [
    *({"kind": f"IEC 61131-2 type {number}"} for number in (1, 3)),
    *({"kind": "opto", "common": common} for common in ("plus", "minus")),
    *({"kind": "logic", "supply": volt} for volt in ("3.3 V", "5 V")),
]


class TestRemedies:
    """What was solved as a remedy is what the circuit is once it is taken over."""

    def test_every_remedy_taken_over_gives_the_verdict_it_promised(self):
        entered = [{"sensor": sensor, "input": one} for sensor, one in product(SENSORS, INPUTS)]
        both = {"sensor": {"output": "dry contact", "contact": "NO"}, "chain": {"count": "2", "join": "parallel"}}
        entered.append({**both, "input": INPUTS[0]})
        circuits = [circuits_from(one)[0] for one in entered]
        taken_over, promised = [], []
        for one, circuit, found in zip(entered, circuits, assess_all(circuits), strict=True):
            for remedy in found.remedies:
                assert found.circuit is circuit
                taken_over.append(circuits_from(taken(one, found.circuit, remedy.circuit))[0])
                promised.append(remedy.verdict)
        assert len(promised) > 50
        assert [one.verdict for one in assess_many(taken_over)] == promised

    def test_a_button_takes_it_over(self, client: TestClient, demo: int):
        add(client, demo, "contact-logic")
        page = change(client, demo, sensor1__contact="NO").text
        text = re.search(r'name="text" value="(take the NC contact[^"]*)"', page)
        assert text
        page = client.post(f"/machines/{demo}/wiring/1/remedy", data={"text": text[1]}).text
        assert heading(page).lower().endswith("works, and a broken wire stops the machine")
        page = client.post(f"/machines/{demo}/wiring/1/remedy", data={"text": text[1]}).text
        assert "nothing was taken over" in page


class TestCandidates:
    """Each candidate in each circuit, and what that rules out."""

    def test_a_sheet_fills_the_circuit(self, client: TestClient, book: Book, demo: int):
        add(client, demo)
        page = client.post(f"/machines/{demo}/wiring/1/candidate", data={"sensor": WINNER}).text
        assert f"{WINNER} is in, as its sheet says" in page
        sensor = book.sheets(demo, "wiring")[0]["circuit"][0]["sensor"]
        assert sensor == {"output": "PNP", "contact": "NC", "supply": "10 V to 36 V"}

    def test_what_a_resistor_mends_is_not_ruled_out_and_what_would_burn_is(self):
        """An NPN output on an IEC input needs a pull-up; 26.4 V are too much for a sensor made for 5 V."""
        circuit = {
            "axis": "Y",
            "supply": {"voltage": "24 V"},
            "input": {"kind": "IEC 61131-2 type 3"},
            "sensor": {},
        }
        mends = Sensor(name="N", output=Output.NPN, contact=Contact.NC)
        burns = Sensor(
            name="S",
            output=Output.NPN,
            contact=Contact.NC,
            supply_high_v=5.5,
            entered={"supply": "4.5 V to 5.5 V"},
        )
        found = electrical(tried([circuit], [mends, burns]), "Y")
        assert found["N"][0].startswith("works")
        assert "Works once changed: put" in found["N"][1]
        assert found["S"][0] == "damage"
        assert electrical(tried([circuit], [mends]), "X") == {}

    def test_resistors_added_for_another_sensor_do_not_rule_one_out(self):
        """With a pull-up to an IEC input a PNP output changes nothing; without it, it works."""
        added = {"kind": "IEC 61131-2 type 3", "pull_up": "2.2 kohm"}
        circuit = {"supply": {"voltage": "24 V"}, "sensor": {"output": "NPN"}, "input": added}
        found = tried([circuit], [Sensor(name="P", output=Output.PNP, contact=Contact.NC)])["P"][0]
        assert found.verdict.startswith("works")

    def test_the_choice_leaves_out_what_would_burn(self, book: Book, client: TestClient, demo: int):
        kept = next(one for one in book.sensors(demo) if one.sensor.name == WINNER)
        book.change_sensor(kept.id, WINNER, {**kept.sensor.entered, "supply": "5 V to 24 V"})
        before = client.get(f"/machines/{demo}/choice.json").json()
        assert before["choice"] == WINNER
        add(client, demo)  # 24 V +- 10 %: it is made for 24 V at most
        after = client.get(f"/machines/{demo}/choice.json").json()
        ruled = {one["sensor"]: one["ruled_out"] for one in after["candidates"]}
        assert any(why.startswith("As wired: damage") for why in ruled[WINNER])
        assert ruled[COARSE] == next(one["ruled_out"] for one in before["candidates"] if one["sensor"] == COARSE)
        assert after["choice"] != WINNER


class TestBringIn:
    """A wiring file comes in by the reader of `holdzero wiring`, and goes out again the same."""

    TEXT = """
[input]
kind = "IEC 61131-2 type 3"
[[circuit]]
name = "X home"
sensor = {output = "dry contact", contact = "NC"}
[[circuit]]
name = "X limit"
sensor = {output = "PNP", contact = "NO"}
"""

    def bring(self, client: TestClient, demo: int, text: str = "", file: bytes | None = None, **given: str):
        files = {"file": ("wires.toml", file)} if file is not None else None
        return client.post(f"/machines/{demo}/wiring/import", data={"text": text, **given}, files=files)

    @pytest.mark.parametrize("way", ["pasted", "a file", "a file with a byte order mark"])
    def test_comes_in_and_goes_out(self, client: TestClient, demo: int, way: str):
        mark = b"\xef\xbb\xbf" if way.endswith("mark") else b""
        if way == "pasted":
            page = self.bring(client, demo, self.TEXT).text
        else:
            page = self.bring(client, demo, file=mark + self.TEXT.encode()).text
        assert "2 circuits are in." in page
        assert heading(page) == "X home: works, and a broken wire stops the machine"
        gone = client.get(f"/machines/{demo}/wiring.toml").text
        assert read_wiring(gone) == read_wiring(self.TEXT)
        self.bring(client, demo, gone, place="instead")
        assert client.get(f"/machines/{demo}/wiring.toml").text == gone

    def test_beside_or_in_place_of_those_that_are_here(self, client: TestClient, book: Book, demo: int):
        add(client, demo)
        for place, names in (
            ("beside", ["Y left home", "X home", "X limit"]),
            ("instead", ["X home", "X limit"]),
        ):
            self.bring(client, demo, self.TEXT, place=place)
            assert [one["name"] for one in book.sheets(demo, "wiring")[0]["circuit"]] == names
        assert len(book.sheets(demo, "wiring")) == 3  # nothing is lost

    @pytest.mark.parametrize(
        ("given", "says"),
        [
            ({"text": "[sensor"}, "found a line that is not TOML"),
            ({"text": '[axes.Y]\ntravel = "1 m"'}, "pasted text: found what looks like a machine file"),
            ({"text": '[[check]]\nname = "B1"'}, "pasted text: found what looks like a checklist file"),
            ({"file": b"deviation_mm\n0.012\n"}, "wires.toml: found what looks like a readings file"),
            ({"text": '[sensor]\noutput = "PNP"'}, "pasted text: found no table [input]"),
            ({"file": b'[sensor]\noutput = "P"\n[input]\nkind = "opto"'}, "wires.toml, sensor.output: found"),
            ({"file": b"\xff\xfe\x00"}, "wires.toml: found a file that is no text"),
            ({}, "found nothing; needed is a wiring file"),
        ],
    )
    def test_what_is_wrong_is_said_as_on_the_terminal(
        self, client: TestClient, book: Book, demo: int, given: dict[str, Any], says: str
    ):
        answer = self.bring(client, demo, **given)
        assert answer.status_code == 422
        error = re.search(r'id="f-wiring-error" role="alert">(.*?)</p>', answer.text, re.DOTALL)
        assert error
        assert says in html.unescape(error[1])
        assert html.escape(given.get("text", ""), quote=True) in answer.text.replace("&#34;", "&quot;")
        assert book.sheets(demo, "wiring") == ()

    def test_lines_that_no_key_has_are_kept(self, client: TestClient, demo: int):
        """Dates and numbers that JSON has no word for too."""
        text = '[sensor]\noutput = "PNP"\nbought = 2026-11-25\nodd = nan\n[input]\nkind = "opto"'
        assert self.bring(client, demo, text).status_code == 200
        assert "2026-11-25" in client.get(f"/machines/{demo}/wiring.toml").text


class TestUnknown:
    """Holding an unknown sensor: the cautions first, then what to measure, then what it is."""

    def test_the_page(self, client: TestClient, demo: int):
        page = client.get(f"/machines/{demo}/wiring/unknown").text
        assert page.index("never try it out on the controller") < page.index("In this order")
        assert "<desc>" in page

    def test_four_voltages_say_what_it_is_and_fill_the_circuit(self, client: TestClient, book: Book, demo: int):
        """NPN with 10 kohm inside: 2.2 / 12.2 x 24 V = 4.33 V with the resistor to 0 V while off."""
        add(client, demo)
        measured = {"minus_away": "0.1", "minus_near": "4.33", "plus_away": "0.2", "plus_near": "24"}
        address = f"/machines/{demo}/wiring/unknown"
        twin = client.get(f"{address}.json", params=measured | {"supply": "24"}).json()
        assert (twin["output"], twin["contact"]) == ("NPN", "NC")
        page = client.get(address, params=measured | {"supply": "24", "circuit": "1"}).text
        sent = dict(re.findall(r'type="hidden" name="(output|contact|pull_up)" value="([^"]*)"', page))
        client.post(f"/machines/{demo}/wiring/1/identified", data=sent)
        sensor = book.sheets(demo, "wiring")[0]["circuit"][0]["sensor"]
        (circuit,) = circuits_from({"sensor": sensor, "input": INPUTS[0]})
        assert circuit.sensors[0].pull_up_ohm == pytest.approx(10e3, rel=0.02)

    def test_a_slip_is_said_at_its_field(self, client: TestClient, demo: int):
        answer = client.get(f"/machines/{demo}/wiring/unknown", params={"minus_away": "some"})
        assert answer.status_code == 422
        assert 'id="f-minus_away-error"' in answer.text


def test_the_rail_flags_the_first_circuit_that_is_not_safe_to_trust(client: TestClient, demo: int):
    assert "needs a look" not in rail_of(client, demo)
    add(client, demo)
    assert ", done" in rail_of(client, demo)
    add(client, demo, "pnp", side="R")
    assert "needs a look: Y right home: a lost wire or supply hides" in rail_of(client, demo)


def rail_of(client: TestClient, demo: int) -> str:
    page = client.get(f"/machines/{demo}/machine").text
    link = re.search(rf'<a href="/machines/{demo}/{STATION.slug}".*?</a>', page, re.DOTALL)
    assert link
    return link[0]
