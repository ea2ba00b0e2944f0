"""Findings: all candidates beside each other, and one side of one of them a tap below."""

import re
from dataclasses import replace

import pytest
from starlette.testclient import TestClient

import results_by_hand as by_hand
from holdzero import demo as invented
from holdzero.case.case import Case
from holdzero.compute.choose import Verdict
from holdzero.quantity import plain
from holdzero.store import Book
from holdzero.tell.one_side import one_side
from holdzero.web.case import OpenCase

PLANTED = [planted.sensor for planted in invented.PLANTED]


def rows(page: str) -> dict[str, str]:
    """The text of each row of the table, by candidate."""
    table = page.partition('class="beside-each"')[2].partition("</table>")[0]
    found = {}
    for row in table.split("<tr")[2:]:
        text = " ".join(re.sub(r"<[^>]+>", " ", row.partition(">")[2]).split()).replace("\u202f", " ")
        found[text.split()[0]] = text
    return found


@pytest.fixture
def overview(client: TestClient, demo: int) -> str:
    return client.get(f"/machines/{demo}/findings").text


def test_every_candidate_has_one_verdict_the_one_of_the_choice(overview: str, book: Book, demo: int):
    case: Case = OpenCase(book, demo)
    told = rows(overview)
    assert list(told) == PLANTED
    for candidate in case.chosen.candidates:
        assert told[candidate.sensor.name].count(candidate.shown) == 1
    assert '<tr class="chosen">' in overview.partition(f">{invented.WINNER}</a>")[0][-400:]


def test_lengths_of_the_table_are_in_one_unit(overview: str):
    assert "Spread, µm" in overview
    assert " mm" not in " ".join(rows(overview).values())


def test_the_difference_is_a_tap_below_with_the_figure_that_was_shown(client: TestClient, overview: str):
    links = re.findall(r'<th scope="row"><a href="([^"]+)"', overview)
    assert len(links) == len(PLANTED)
    shown = re.search(r"([\d.]+ \([\d.]+ to [\d.]+\))", rows(overview)[invented.WINNER])
    below = client.get(
        next(link for link in links if f"sensor={invented.WINNER}" in link).replace("&amp;", "&")
    ).text
    assert shown
    assert shown[1] in below.partition("<h1>")[2].partition("</h1>")[0].replace("\u202f", " ")
    assert "All candidates</a>" in below


def test_five_figures_are_seen_and_the_rest_is_folded(client: TestClient, demo: int):
    page = client.get(f"/machines/{demo}/findings?sensor={invented.WINNER}&side=L").text
    seen, _, folded = page.partition('id="other-figures"')
    assert seen.count('class="what"') == 5
    assert folded.count('class="what"') > 5
    assert "<details open" not in page
    names = re.findall(r'class="what">([^<]+)', seen)
    assert names == [
        "Spread, day to day",
        "Spread it may have",
        "Chance that it holds",
        "Gross misses",
        "Span read",
    ]


def test_of_the_difference_the_readings_of_both_sides_are_listed(client: TestClient, demo: int):
    page = client.get(f"/machines/{demo}/findings?sensor={invented.STRAYS}&side=difference").text
    listed = page.partition('id="readings"')[2]
    assert f"All {2 * invented.POWER_UPS * invented.HOMINGS}" in listed
    assert "<td>left</td>" in listed
    assert "<td>right</td>" in listed


def test_one_without_homings_is_there_too(client: TestClient, book: Book, demo: int):
    book.add_sensor(demo, "Z", {"kind": "spare"})
    assert "cannot say" in rows(client.get(f"/machines/{demo}/findings").text)["Z"]


def test_without_a_requirement_it_says_why_nothing_is_judged(client: TestClient, book: Book, demo: int):
    document = {key: part for key, part in book.machine(demo).document.items() if key != "requirement"}
    book.change_machine(demo, document)
    page = client.get(f"/machines/{demo}/findings").text
    assert "Not judged yet" in page
    assert list(rows(page))


class TestChoice:
    """One picture with one verdict each, and the form to decide."""

    def test_the_picture_comes_first_and_the_rest_is_folded(self, client: TestClient, demo: int):
        page = client.get(f"/machines/{demo}/choice").text
        assert page.index("fit this one") < page.index('id="rests-on"')
        assert page.partition("<h2>Decision")[0].count('<div class="picture">') == 1
        assert 'id="why"' in page
        assert '<details class="more" id="why" open' not in page

    def test_the_cure_is_there_where_there_is_one(self, client: TestClient, book: Book, demo: int):
        cured = [candidate for candidate in OpenCase(book, demo).chosen.candidates if candidate.cure]
        page = client.get(f"/machines/{demo}/choice").text
        assert page.count("<summary>Cure of ") == len(cured) > 0

    def test_what_was_typed_stays_when_it_is_refused_and_after_it_was_kept(self, client: TestClient, demo: int):
        at = f"/machines/{demo}/choice/decision"
        refused = client.post(at, data={"sensor": invented.DEARER, "reason": "", "by": "the keeper"})
        assert refused.status_code == 422
        assert 'name="by" value="the keeper"' in refused.text
        assert f'<option value="{invented.DEARER}" selected>' in refused.text
        kept = client.post(
            at, data={"sensor": invented.DEARER, "reason": "nobody cleans it", "by": "the keeper"}
        ).text
        assert 'name="reason" value="nobody cleans it"' in kept
        assert f'<option value="{invented.DEARER}" selected>' in kept
        assert ", taken" in kept
        assert "fit this one" not in kept


def test_a_chance_that_only_regular_scatter_has_is_not_shown_alone():
    """Else it says over 99.9 % beside “too close to call”."""
    part = next(part for candidate in by_hand.CHOICE.candidates for part in candidate.parts)
    shown = {}
    for verdict, wide in ((Verdict.TOO_CLOSE, 0.42), (Verdict.HOLDS, 0.96)):
        judged = replace(part, chance_holds=0.9996, chance_holds_wide=wide, verdict=verdict)
        shown[verdict] = {figure.name: words for figure, words in one_side(part.findings, judged).matters}
    assert plain(shown[Verdict.TOO_CLOSE]["Chance that it holds"]) == "over 99.9 % if regular, else 42.0 %"
    assert plain(shown[Verdict.HOLDS]["Chance that it holds"]) == "over 99.9 %"
