"""Files on the pages: each is given out, each brought in, and the mark of an example goes with it."""

import io
import zipfile

import pytest
from starlette.testclient import TestClient

from case.books import SENSORS, Trialled, one_motor, readings_csv
from holdzero import demo as example
from holdzero.case.exchange import files_of
from holdzero.case.in_book import InBook
from holdzero.form import write_toml
from holdzero.store import Book, Outcome
from ready_books import keep_demo

PAGES = {  # the page, and the files it gives and takes
    "machine": ("machine.toml",),
    "sensors": ("sensors.toml",),
    "wiring": ("wiring.toml",),
    "trial": ("readings.csv",),
    "square": ("square.toml", "events.toml"),
    "install": ("checklist.toml",),
    "watch": ("log.csv", "watch.toml"),
    "choice": ("decisions.toml",),
}
EXAMPLES = {
    "s.toml": example.sensors_toml(),
    "w.toml": example.wiring_toml(),
    "q.toml": example.square_toml(),
    "r.csv": example.readings_csv(),
}


def whole_book(book: Book) -> int:
    """The demo with all that a person would have added to it."""
    machine_id = keep_demo(book)
    book.add_sheet(machine_id, "square", {"event": {"what": "crash", "day": "2025-03-01"}})
    book.add_check(machine_id, item="emergency-stop", outcome=Outcome.DONE, measured="0.3 s")
    document = {"sensor": "K", "verdict": "holds", "reason": "cheapest", "digests": {}}
    book.add_result(machine_id, kind="decision", digest="", version="0", document=document)
    return machine_id


def send(client: TestClient, machine_id: int, files: dict[str, bytes | str], **more: str):
    sent = [("file", (name, content)) for name, content in files.items()]
    return client.post(f"/machines/{machine_id}/files", files=sent, data=more)


def test_each_page_gives_its_files_and_leads_to_where_they_come_in(client: TestClient, book: Book):
    machine_id = whole_book(book)
    texts = files_of(InBook(book, book.machine(machine_id)))
    assert {name for names in PAGES.values() for name in names} | {"book.toml"} == set(texts)
    for page, names in PAGES.items():
        shown = client.get(f"/machines/{machine_id}/{page}").text
        assert f'href="/machines/{machine_id}/files"' in shown, page
        for name in names:
            assert f'href="/machines/{machine_id}/files/{name}"' in " ".join(shown.split()), page
            saved = client.get(f"/machines/{machine_id}/files/{name}")
            assert saved.text == texts[name]
            assert saved.headers["content-disposition"] == f'attachment; filename="{name}"'


def test_out_of_one_machine_and_into_a_book_again(client: TestClient, book: Book):
    """Every file of the ZIP, one form each, brought into the machine whose name it has: all is there already."""
    machine_id = whole_book(book)
    content = client.get(f"/machines/{machine_id}/files/all.zip").content
    archive = zipfile.ZipFile(io.BytesIO(content))
    before = files_of(InBook(book, book.machine(machine_id)))
    assert {name: archive.read(name).decode() for name in archive.namelist()} == before
    for name, text in before.items():
        answer = send(client, machine_id, {name: text})
        assert (answer.status_code, "there already" in answer.text) == (200, True), name
    assert files_of(InBook(book, book.machine(machine_id))) == before


@pytest.fixture
def own(book: Book) -> int:
    return book.add_machine(one_motor() | {"machine": {"name": "Mill"}})


def test_files_come_in_together_and_what_is_none_is_said(client: TestClient, book: Book, own: int):
    files: dict[str, bytes | str] = {
        "s.toml": write_toml({"sensors": {"K": SENSORS["K"]}}),
        "r.csv": readings_csv(Trialled(axis="X", sensors=("K",))),
        "leaflet.pdf": b"%PDF-1.7",
    }
    shown = send(client, own, files).text
    assert "s.toml, candidates: K new." in shown
    assert "r.csv, readings: 32 readings new in the trial" in shown
    assert "leaflet.pdf: not brought in, it is a PDF." in shown
    changed: dict[str, bytes | str] = {"s.toml": write_toml({"sensors": {"K": SENSORS["K"] | {"price": 99.0}}})}
    assert "K kept as the book has it" in send(client, own, changed).text
    assert "K replaced" in send(client, own, changed, replace="yes").text
    assert book.sensors(own)[0].sensor.price == 99.0


def test_a_refusal_keeps_nothing_and_says_why(client: TestClient, book: Book, own: int):
    answer = send(
        client, own, {"s.toml": write_toml({"sensors": {"K": SENSORS["K"]}}), "log.csv": example.log_csv()}
    )
    assert answer.status_code == 422
    assert "Nothing was brought in. log.csv: found a log of an invented example" in answer.text
    assert book.sensors(own) == ()
    assert send(client, own, {}).status_code == 422


@pytest.mark.parametrize("name", EXAMPLES)
def test_what_comes_from_an_example_marks_every_page(client: TestClient, own: int, name: str):
    assert "nvented example:" not in client.get(f"/machines/{own}/machine").text
    send(client, own, {name: EXAMPLES[name]})
    every = (*PAGES, "files", "findings", "record") if name == "r.csv" else ("machine", "install")
    for page in every:
        assert "Of an invented example: " in client.get(f"/machines/{own}/{page}").text, page
        twin = client.get(f"/machines/{own}/{page}.json")
        assert twin.status_code != 200 or twin.json()["invented"] is True, page


def test_the_wiring_page_keeps_the_mark_of_a_file_and_of_a_circuit_changed_later(
    client: TestClient, book: Book, own: int
):
    client.post(f"/machines/{own}/wiring/import", data={"text": example.wiring_toml()})
    assert book.sheets(own, "wiring")[0]["example"] is True
    client.post(f"/machines/{own}/circuits", data={"name": "another"})
    client.post(f"/machines/{own}/wiring/circuits", data={"name": "another"})
    assert len(book.sheets(own, "wiring")) > 1
    assert book.sheets(own, "wiring")[0]["example"] is True


def test_calling_it_own_takes_the_mark_off_figures_and_not_off_readings(client: TestClient, book: Book):
    machine_id = keep_demo(book)
    client.post(f"/machines/{machine_id}/own")
    shown = client.get(f"/machines/{machine_id}/machine").text
    assert "Of an invented example: readings of H, J, K, M, N, P; squaring." in shown
    texts = files_of(InBook(book, book.machine(machine_id)))
    assert [name for name in ("machine.toml", "sensors.toml", "wiring.toml") if "example" in texts[name]] == []
