"""A stored record can be checked later: what it carries, and what a check of it says."""

import json
from dataclasses import replace
from hashlib import sha256
from io import BytesIO

import pypdf
import pytest

from holdzero import demo
from holdzero.case import Texts
from holdzero.errors import InputError
from holdzero.report.check import check
from holdzero.report.stored import figures, read_stored, stored_of

TEXTS = {"machine": demo.machine_toml(), "sensors": demo.sensors_toml(), "readings": demo.readings_csv()}


@pytest.fixture(scope="module")
def results(tried_case):
    return tried_case


@pytest.fixture(scope="module")
def files(set_record):
    return {ending: set_record("trial", ending) for ending in ("pdf", "html")}


@pytest.mark.parametrize("ending", ["pdf", "html"])
class TestCarried:
    """Both forms carry the inputs whole, their digests and every figure."""

    def test_inputs_and_figures(self, files, results, ending):
        stored = read_stored(files[ending])
        assert stored.texts == TEXTS
        assert stored.basis.digests == {name: sha256(text.encode()).hexdigest() for name, text in TEXTS.items()}
        assert stored.how == results.basis.how
        assert stored.figures["choice.choice"] == demo.WINNER
        chance = next(one.chance_holds for one in results.choice.candidates if one.sensor.name == demo.WINNER)
        assert stored.figures[f"choice.candidates.{demo.WINNER}.chance_holds"] == pytest.approx(chance, rel=1e-8)
        margin = results.travels[0]["home_overtravel"].margin_mm
        assert stored.figures["travel.Y.checks.home_overtravel.margin_mm"] == pytest.approx(margin, rel=1e-8)

    def test_what_was_not_changed_is_the_same_to_the_byte(self, files, ending):
        found = check(read_stored(files[ending]), None, files[ending])
        assert found.same
        assert found.sentences == ("Same inputs, same figures.", "The file is the same to the byte.")


class TestPdfAttachments:
    """Any reader of PDF shows them, and any program can take their digest."""

    def test_names(self, files):
        attached = pypdf.PdfReader(BytesIO(files["pdf"])).attachments
        assert sorted(attached) == ["machine.toml", "readings.csv", "record.json", "sensors.toml"]
        assert attached["readings.csv"][0].decode() == TEXTS["readings"]
        assert json.loads(attached["record.json"][0])["digests"].keys() == TEXTS.keys()


class TestWhatChanged:
    """Inputs, version, figures, or the file itself."""

    def test_an_input(self, results, files):
        machine = TEXTS["machine"].replace("0.09 mm over", "0.08 mm over")
        found = check(stored_of(results), Texts(files=TEXTS | {"machine": machine}), files["html"])
        assert not found.same
        assert found.changed == ("machine",)
        assert found.sentences[0].startswith("Inputs changed: machine; ")
        places = {one.place: (one.then, one.now) for one in found.different}
        assert places["choice.requirement.squareness_mm"] == (0.09, 0.08)

    def test_a_new_input_without_a_new_figure_elsewhere(self, results, files):
        """A comment changes the text and no figure."""
        found = check(stored_of(results), Texts(files=TEXTS | {"machine": TEXTS["machine"] + "# x\n"}), b"")
        assert found.sentences[0] == "Inputs changed: machine; the figures are the same."
        assert not found.same

    def test_a_decision_taken_since(self, results, files):
        """The record does not hold it; no figure is another."""
        taken = (
            f'[[decision]]\nsensor = "{demo.WINNER}"\nverdict = "holds"\nreason = "cheapest"\nday = "2026-03-16"\n'
        )
        found = check(stored_of(results), Texts(files=TEXTS | {"decisions": taken}), files["html"])
        assert found.sentences[0] == "Inputs changed: decisions (new); the figures are the same."

    def test_a_version_that_reckons_otherwise(self, results, files):
        stored = stored_of(results)
        was = replace(stored, version="0.0.1", figures=dict(stored.figures) | {"choice.choice": "Q", "gone": 1.5})
        found = check(was, None, files["pdf"])
        assert found.sentences[0] == "Same inputs, but 2 figures differ."
        assert "Made by holdzero 0.0.1" in found.sentences[1]
        assert [str(one) for one in found.different] == [
            f"choice.choice: Q in the record, {demo.WINNER} now",
            "gone: 1.5 in the record, none now",
        ]
        assert not found.same

    def test_another_version_with_the_same_figures_is_the_same(self, results, files):
        found = check(replace(stored_of(results), version="0.0.1"), None, files["pdf"])
        assert found.same
        assert found.whole == "not compared"

    def test_added_to(self, files):
        """A signature is written behind the pages."""
        raw = files["html"] + b"<!-- signed -->"
        found = check(read_stored(raw), None, raw)
        assert found.same
        assert "added to since" in found.sentences[1]

    def test_a_figure_on_the_page(self, files):
        raw = files["html"].replace(b"over 99.9", b"over 99.8", 1)
        found = check(read_stored(raw), None, raw)
        assert not found.same
        assert "changed after it was written" in found.sentences[-1]

    def test_an_input_in_the_file(self, files):
        """The block's digest no longer finds its text."""
        raw = files["html"].replace(b"Plywood router", b"Plywood rooter")
        with pytest.raises(InputError, match="machine in the record: found a digest without the text"):
            check(read_stored(raw), None, raw)


def test_no_record():
    with pytest.raises(InputError, match="a PDF or a page written by holdzero record"):
        read_stored(b"%PDF-1.7 of somebody else", where="plan.pdf")


def test_rows_of_a_list_that_share_a_name_are_told_apart():
    rows = [{"sensor": "A", "side": "L", "n": 1}, {"sensor": "A", "side": "R", "n": 2}, {"n": 3}, {"n": 4.0}]
    assert [place for place, _ in figures({"rows": rows})] == ["rows.A L.n", "rows.A R.n", "rows.3.n", "rows.4.n"]
