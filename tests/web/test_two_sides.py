"""Two-sided trials, reading by reading, through every page."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from every_page import pages
from holdzero.store import open_book
from holdzero.web.app import create_app
from two_sides import Read, kept_trial, walk


def states(seeds: range, *, every: int) -> list[tuple[Read, ...]]:
    return [reads for seed in seeds for at, reads in enumerate(walk(seed)) if (at + seed) % every == 0]


def looked_through(folder: Path, found: list[tuple[Read, ...]], *, twins: bool, simulated: int = 1) -> None:
    """Open every page of every state; each state in a book of its own, so that the first page stays quick.

    Record and budget, which simulate homings, are opened in every `simulated`-th state.
    """
    for number, reads in enumerate(found):
        with open_book(folder / f"{number}.holdzero") as book:
            machine_id = kept_trial(book, reads)
            with TestClient(create_app(book), base_url="http://127.0.0.1") as client:
                for address in pages(machine_id, twins=twins):
                    if number % simulated and address.partition(".")[0].endswith(("/record", "/budget")):
                        continue
                    answer = client.get(address)
                    assert answer.status_code == 200, (address, reads, answer.text[:2000])
                    assert "went wrong" not in answer.text, (address, reads)


def test_states_of_trials_have_every_page(tmp_path: Path):
    found = states(range(12), every=31)
    assert len(found) >= 3
    looked_through(tmp_path, found, twins=False, simulated=4)


@pytest.mark.checks
def test_more_states_have_every_page_and_twin(tmp_path: Path):
    looked_through(tmp_path, states(range(16), every=11), twins=True, simulated=3)
