"""Spans on the page of the trial: brought as a file or pasted, listed, taken back."""

import json

import pytest
from starlette.testclient import TestClient

from bringing_in import bring_in
from holdzero.store import Book

SPANS = "side,set,least_mm,greatest_mm,n\n" + "".join(
    f"{side},{i},{-0.001 * i},{0.004 + 0.001 * (i % 3)},6\n" for side in "LR" for i in range(1, 9)
)


def test_a_file_becomes_a_trial_and_is_studied(client: TestClient, book: Book, demo: int):
    text = "sensor,axis," + SPANS.replace("\nL", "\nN,Y,L").replace("\nR", "\nN,Y,R")
    answer = bring_in(client, f"/machines/{demo}/import", files={"file": ("spans.csv", text.encode())})
    assert answer.status_code == 200
    assert "16 spans came in" in answer.text
    assert "By spans alone" in answer.text or "spans" in answer.text.lower()
    choice = json.loads(client.get(f"/machines/{demo}/choice.json?axis=Y").text)
    assert "N" in json.dumps(choice)


def test_pasted_listed_taken_back_and_counted_again(client: TestClient, book: Book, demo: int):
    trial = book.add_trial(demo, name="Spans", axis="Y")
    bring_in(client, f"/trials/{trial}/paste", data={"text": SPANS, "sensor": "H", "axis": "Y"})
    assert [row.sensor for row in book.spans(trial)] == ["H"] * 16
    page = client.get(f"/machines/{demo}/trial?trial={trial}").text
    assert "<h2>Spans</h2>" in page
    first = book.spans(trial)[0].id
    client.post(f"/spans/{first}/undo", data={"back": "/"})
    assert len(book.spans(trial)) == 15
    assert "taken back" in client.get(f"/machines/{demo}/trial?trial={trial}").text
    client.post(f"/spans/{first}/redo", data={"back": "/"})
    assert len(book.spans(trial)) == 16


@pytest.mark.parametrize("text", ["Power-up;Min;Max;Count\n1;0;0,01;5\n2;0;0,02;5\n"])
def test_columns_without_their_unit_are_asked_for_by_name(client: TestClient, book: Book, demo: int, text: str):
    answer = client.post(f"/machines/{demo}/import", files={"file": ("spans.csv", text.encode())})
    assert answer.status_code == 422
    assert "least_mm and greatest_mm" in answer.text
