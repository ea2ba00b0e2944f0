"""The record: the same content on paper and on a page."""

import json
import re
import shutil
import subprocess
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from datetime import date
from io import BytesIO
from os import environ

import pypdf
import pytest

import results_by_hand as by_hand
from holdzero import demo
from holdzero.chart import PAGE, PRINT
from holdzero.compute.choose import Decision, Verdict
from holdzero.compute.choose.asks import Ask
from holdzero.compute.findings import explain
from holdzero.report import Section, Table, record_content, record_html, record_pdf
from holdzero.report.content import as_data
from holdzero.report.proof import candidate_section
from holdzero.report.record import last_day
from holdzero.tell import safety

DIGESTS = {"machine": "ab" * 32, "sensors": "cd" * 32, "readings": "ef" * 32}
INVENTED = "Invented data, to show what the figures look like."
DAY = date(2026, 3, 15)
SAFETY_WORDING = (
    "A switch used for homing or as a travel limit is an ordinary machine input. By itself, and through this "
    "software, it is not a safety function, has no performance level, and does not replace an emergency stop, a "
    "guard or a mechanical end stop. Whether a limit must be a safety function is settled by the risk assessment "
    "of ISO 12100."
)
HOSTILE = '</script><b>#eval("1")$x$*_{{ 7 * 7 }}\x07'


def content(*, machine=by_hand.MACHINE, study=by_hand.STUDY, choice=by_hand.CHOICE, **how):
    return record_content(
        machine,
        study,
        choice,
        **({"digests": DIGESTS, "version": "1.2.3", "invented": INVENTED, "day": DAY} | how),
    )


def pdf_text(made):
    pages = [page.extract_text() for page in pypdf.PdfReader(BytesIO(made)).pages]
    return squeezed(" ".join(pages))


def squeezed(text):
    """Without spaces, so that line breaks and thin gaps do not matter; ligatures opened."""
    opened = text.replace("ﬁ", "fi").replace("ﬂ", "fl").replace("ﬀ", "ff").replace("ﬃ", "ffi").replace("ﬅ", "ft")
    return re.sub(r"\s|-\n", "", opened)


def page_text(html):
    """What a reader of the page reads, without style, pictures and tags."""
    for gone in ("style", "svg", "head"):
        html = re.sub(rf"<{gone}\b.*?</{gone}>", " ", html, flags=re.DOTALL)
    return (
        re.sub(r"<[^>]+>", " ", html)
        .replace("&#34;", '"')
        .replace("&#39;", "'")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&")
    )


@pytest.fixture(scope="module")
def pdf():
    return record_pdf(content())


@pytest.fixture(scope="module")
def paper(pdf):
    return pdf_text(pdf)


@pytest.fixture(scope="module")
def html():
    return record_html(content())


@pytest.fixture(scope="module")
def hostile():
    sensor = replace(by_hand.SENSORS[0], name=HOSTILE, kind=HOSTILE)
    candidate = replace(by_hand.CHOICE.candidates[0], sensor=sensor, reasons=(HOSTILE,))
    choice = replace(by_hand.CHOICE, candidates=(candidate,), choice=HOSTILE, reason=HOSTILE)
    machine = replace(by_hand.MACHINE, name=HOSTILE)
    return content(machine=machine, choice=choice, digests={HOSTILE: HOSTILE})


def must_stand_in_it():
    """Sentences that no record may lack."""
    return [
        "Does this machine hold zero?",
        "plain holds zero on axis Y.",
        by_hand.CHOICE.reason,
        safety.NOT_A_SAFETY_FUNCTION,
        safety.NOT_A_CERTIFICATE,
        safety.TWO_MOTORS,
        *safety.BEFORE_ANYTHING_ELSE,
        *(name for name, _ in safety.STANDARDS),
        by_hand.ALLOWED.datum_from,
        *(caution.text for caution in by_hand.CHOICE.cautions),
        *(caution.text for found in by_hand.STUDY.findings for caution in found.cautions),
        *(reason for candidate in by_hand.CHOICE.candidates for reason in candidate.reasons),
        by_hand.STUDY.findings[7].signatures[0].check,
        "Ruled out: supply of 5 V does not reach 10 V.",
        "NIST/SEMATECH e-Handbook of Statistical Methods; for the interval, section 7.2.3.1.",
        "holdzero 1.2.3",
        *DIGESTS.values(),
        INVENTED,
        "Tried by",
        "Checked by",
        "Column `operator` is not used.",
    ]


class TestWords:
    """The safety wording in full, every caution, the verdict first: on paper and on the page alike."""

    def test_on_paper(self, paper):
        assert [words for words in must_stand_in_it() if squeezed(words).lower() not in paper.lower()] == []

    def test_on_the_page(self, html):
        page = squeezed(page_text(html)).lower()
        assert [words for words in must_stand_in_it() if squeezed(words).lower() not in page] == []

    def test_the_safety_wording_is_not_shortened(self):
        """Our own wording, word for word."""
        assert safety.NOT_A_SAFETY_FUNCTION == SAFETY_WORDING

    def test_verdict_and_safety_before_figures(self, paper):
        first = ("plain holds zero", "Spread of the candidates", "A switch used for homing", "Figures of plain")
        places = [paper.index(squeezed(words)) for words in first]
        assert places == sorted(places)

    def test_invented_stands_on_every_page_and_only_if_flagged(self, pdf, paper):
        pages = len(pypdf.PdfReader(BytesIO(pdf)).pages)
        assert paper.count("INVENTEDDATA") == pages
        real = content(invented="")
        assert not as_data(real, PRINT)["invented"]
        assert "invented" not in page_text(record_html(real)).lower()

    def test_force_of_the_motors_is_said_where_known(self):
        axis = by_hand.MACHINE.axes[0].changed(thrust_n=600.0)
        made = record_html(content(machine=replace(by_hand.MACHINE, axes=(axis,))))
        assert "racked with the force of one motor, up to 600 N." in made

    def test_no_choice(self):
        made = content(choice=replace(by_hand.CHOICE, choice=None, reason="Nobody holds."))
        assert made.verdict == "No candidate is shown to hold zero."

    def test_inch(self):
        made = squeezed(page_text(record_html(content(system="inch"))))
        assert squeezed("Lengths in thou") in made
        assert squeezed("3.543 thou over 27.56 in") in made  # 0.09 mm over 700 mm


class TestDecision:
    """Who took what, when and why, and whether what it rests on is the same."""

    TAKEN = Decision(
        sensor="coarse",
        verdict="holds",
        reason="nobody has to clean it",
        by="the keeper",
        day="2026-03-16",
        recommended="plain",
        digests=DIGESTS,
        version="1.2.2",
    )

    def said(self, **how):
        return squeezed(page_text(record_html(content(**how))))

    def test_what_was_taken(self):
        earlier = replace(self.TAKEN, sensor="plain", day="2026-03-14", digests={**DIGESTS, "readings": "00" * 32})
        made = self.said(decisions=[self.TAKEN, earlier])
        for words in (
            "Taken: coarse (holds), 2026-03-16 by the keeper: nobody has to clean it.",
            "Nothing it rests on has changed since.",
            f"inputs {self.TAKEN.digest[:12]}, holdzero 1.2.2",
            "What was taken, newest first",
            "What it rests on has changed since: readings.",
        ):
            assert squeezed(words) in made

    def test_nothing_taken_yet(self):
        made = self.said()
        assert squeezed("No decision is kept.") in made
        assert "Decidedby" in made


class TestBeforeHolds:
    """What the plan asks for stands beside every `holds`."""

    ASKS = (
        Ask(code="settled", text="A set after the sensor has settled.", done=False),
        Ask(code="another-day", text="A set on another day.", done=None),
        Ask(code="power-ups", text="At least 4 power-ups.", done=True),
    )

    def test_still_asked(self):
        made = content(asks=self.ASKS)
        assert "Before “holds” may stand, 2 more things are asked for" in made.reason
        page = page_text(record_html(made))
        assert "Before “holds” may stand: A set after the sensor has settled. Still to do." in page
        assert "Before “holds” may stand: A set on another day. Cannot say: no times." in page
        assert "At least 4 power-ups" not in page

    def test_nothing_where_nothing_holds(self):
        lost = [replace(one, verdict=Verdict.TOO_CLOSE) for one in by_hand.CHOICE.candidates]
        made = content(asks=self.ASKS, choice=replace(by_hand.CHOICE, candidates=tuple(lost), choice=None))
        assert "may stand" not in page_text(record_html(made))


@pytest.fixture(scope="module")
def made(tried_case, tried_record):
    """The demo's results and its record."""
    return tried_case, tried_record


class TestNewerFigures:
    """Findings and choice in the record, by the words of the pages: one set of findings, one of what-ifs."""

    def tables(self, section):
        found = {block.caption: block for block in section.blocks if isinstance(block, Table)}
        for below in section.sections:
            found |= self.tables(below)
        return found

    def section(self, made, heading):
        return next(
            section
            for section in (*made.front.sections, *made.sections, *made.annex)
            if section.heading.startswith(heading)
        )

    def proof(self, results, sensor):
        """The proof of one candidate, whichever is meant."""
        candidate = next(one for one in results.choice.candidates if one.sensor.name == sensor)
        return candidate_section(candidate, results.machine, results.study, results.choice, {}, "metric")

    def test_every_figure_that_is_explained(self, made):
        results, record = made
        proofs = {planted.sensor: self.proof(results, planted.sensor) for planted in demo.PLANTED}
        for name, proof in proofs.items():
            named = {row[0] for row in self.tables(proof)[f"Figures of {name}"].rows}
            sides = [f for f in results.study.findings if f.sensor == name]
            assert len(sides) == 3
            assert named >= {one.name for f in sides for one in explain(f)}
        planted = next(p for p in demo.PLANTED if p.jitter_s)  # its scatter was planted in time
        table = self.tables(proofs[planted.sensor])[f"Figures of {planted.sensor}"]
        of_it = {row[0]: row[1] for row in table.rows}
        low, high = of_it["Jitter of the delay"].replace("\u202fms", "").split(" to ")
        assert float(low) <= planted.jitter_s * 1e3 <= float(high)
        shape = results.study.of(planted.sensor, "Y", "L").behaviour.scatter.normality
        assert of_it["Anderson-Darling; its limit"] == f"{shape.adjusted:.2f}; {shape.limit:g}"
        of_record = self.tables(self.section(record, f"What the homings say of {demo.WINNER}"))
        assert of_record == self.tables(proofs[demo.WINNER])

    def test_what_each_figure_tells(self, made):
        results, record = made
        table = self.tables(self.section(record, "What each figure tells"))[
            f"Shown on {demo.WINNER}, right minus left"
        ]
        told = explain(results.study.of(demo.WINNER, "Y", "difference"))
        assert [row[1] for row in table.rows] == [one.sentence for one in told]

    def test_probability_plot_of_the_one_that_is_meant(self, made):
        titles = [picture["title"] for picture in _pictures(as_data(made[1], PRINT)["sections"])]
        plots = [title for title in titles if title.endswith("normal probability plot")]
        assert [plot[0] for plot in plots] == [demo.WINNER]

    def test_the_others_are_rows_of_one_table(self, made):
        others = self.section(made[1], "The other candidates")
        table, why, shown, elsewhere = others.blocks
        names = [planted.sensor for planted in demo.PLANTED if planted.sensor != demo.WINNER]
        assert [row[0] for row in table.rows] == names
        assert [item.partition(",")[0] for item in why.items] == names
        assert "record.json" in elsewhere
        codes = {s.code for f in made[0].study.findings if f.sensor in names for s in f.signatures}
        assert len(shown.items) == len(codes)

    def test_what_if(self, made):
        results, record = made
        found = self.tables(self.section(record, "The choice"))
        (caption,) = (caption for caption in found if caption.startswith("If something else were asked"))
        rows = found[caption].rows
        assert [row[0] for row in rows] == [one.name for one in results.asked_otherwise.changes]
        marks = {"holds": "✓", "does not hold": "✗", "too close to call": "≈", "cannot say": "?"}
        half = results.asked_otherwise.changes[0]
        verdicts = [marks[half.verdicts[c.sensor.name]] for c in results.choice.candidates]
        assert rows[0] == ("half the tolerance", *verdicts, demo.WINNER)

    def test_causes_stand_once(self, made):
        page = page_text(record_html(made[1]))
        assert page.count("now and then another event on top of the scatter") == 1

    def test_only_the_typefaces_of_typst(self, pdf):
        reader = pypdf.PdfReader(BytesIO(pdf))
        objects = (reader.get_object(number) for number in range(1, reader.trailer["/Size"]))
        fonts = {str(one["/BaseFont"]) for one in objects if isinstance(one, dict) and "/BaseFont" in one}
        families = {font.partition("+")[2].split("-")[0] for font in fonts}
        assert families <= {"LibertinusSerif", "DejaVuSansMono", "NewCMMath"}  # typst's own


class TestSameBytes:
    """The same results give the same files, so a record can be checked later."""

    def test_pdf(self, pdf):
        assert record_pdf(content()) == pdf

    def test_html(self, html):
        assert record_html(content()) == html


class TestPdf:
    """PDF/A-3a and PDF/UA-1 as typst checks them, with an alternative for every picture."""

    def test_is_archival_and_tagged(self, pdf):
        reader = pypdf.PdfReader(BytesIO(pdf))
        xmp = reader.trailer["/Root"]["/Metadata"].get_object().get_data().decode()
        assert "<pdfaid:part>3</pdfaid:part>" in xmp
        assert "<pdfaid:conformance>A</pdfaid:conformance>" in xmp
        assert "<pdfuaid:part>1</pdfuaid:part>" in xmp
        assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
        assert reader.trailer["/Root"]["/Lang"] == "en"
        assert reader.metadata.title == "Does this machine hold zero? Plywood router, axis Y"

    def test_without_a_day_no_day_is_made_up(self):
        reader = pypdf.PdfReader(BytesIO(record_pdf(content(day=None))))
        assert "/CreationDate" not in (reader.metadata or {})
        assert "pdfaid" not in reader.trailer["/Root"]["/Metadata"].get_object().get_data().decode()

    def test_every_picture_has_a_text_alternative(self, pdf):
        reader = pypdf.PdfReader(BytesIO(pdf))
        objects = (reader.get_object(number) for number in range(1, reader.trailer["/Size"]))
        alternatives = {str(found["/Alt"]) for found in objects if isinstance(found, dict) and "/Alt" in found}
        data = as_data(content(), PRINT)
        front = data["front"]
        sections = [*front["left"], *front["right"], *front["across"], *front["foot"], *data["sections"]]
        pictures = [*_pictures(sections)]
        assert len(pictures) == 7  # candidates, shares outside, two sides, difference and its shape, gantry
        assert alternatives >= {f"{picture['title']}. {picture['text']}" for picture in pictures}

    def test_pages_and_contents(self, pdf):
        reader = pypdf.PdfReader(BytesIO(pdf))
        assert 3 <= len(reader.pages) <= 12
        assert f"1 / {len(reader.pages)}" in reader.pages[0].extract_text()
        headings = [entry.title for entry in reader.outline if not isinstance(entry, list)]
        assert [heading.split("  ")[0] for heading in headings[:4]] == ["1", "2", "3", "4"]


def _pictures(sections):
    for section in sections:
        for block in section["blocks"]:
            if block["kind"] == "picture":
                yield block
            for column in block.get("columns", ()):
                yield from column
        yield from _pictures(section["sections"])


class TestPage:
    """One file that needs nothing else."""

    def test_asks_for_nothing_and_runs_nothing(self, html):
        assert "<script" not in html
        assert not re.search(r"""(?:src|href|action|data|poster)\s*=\s*["'](?!#)""", html)
        assert not re.search(r"url\(|@import", html)
        assert "default-src 'none'; style-src 'unsafe-inline'" in html

    def test_pictures_are_whole(self, html):
        drawings = re.findall(r"<svg.*?</svg>", html, re.DOTALL)
        assert len(drawings) >= 7  # the first picture in two layouts
        for drawing in drawings:
            assert ElementTree.fromstring(drawing).get("aria-label")

    def test_the_same_sections_as_on_paper(self, html, paper):
        headings = re.findall(r"<h[23] id=[^>]*>([^<]+)</h[23]>", html)
        assert len(headings) >= 10
        for heading in headings:
            assert squeezed(heading.replace("&#39;", "'")) in paper


class TestHostileNames:
    """Text from outside is never markup: not for the page, not for the PDF, not for a drawing."""

    def test_page(self, hostile):
        html = record_html(hostile)
        assert "</script>" not in html
        assert "<b>" not in html
        assert "{{ 7 * 7 }}" in html
        assert "\x07" not in html

    def test_paper(self, hostile):
        text = pdf_text(record_pdf(hostile))
        assert squeezed('</script><b>#eval("1")$x$*_{{7*7}}') in text.replace("“", '"').replace("”", '"')


def test_a_name_in_letters_that_the_typefaces_lack():
    """A PDF still comes out; the page has the name whole."""
    made = content(machine=replace(by_hand.MACHINE, name="工房 ⛵ \U000f0000"))
    assert len(pypdf.PdfReader(BytesIO(record_pdf(made))).pages) >= 3
    assert "工房 ⛵" in record_html(made)


def test_further_sections_begin_the_annex():
    """Wiring, travel and the checklist are added without touching the record."""
    more = Section(
        "Wiring", ("One circuit.", Table("States", ("State", "Input"), (("clear", "24 V"),), align="ll"))
    )
    annex = as_data(content(more=(more,)), PAGE)["annex"]
    assert (annex[0]["number"], annex[0]["heading"]) == ("A", "Wiring")
    assert annex[1]["heading"] == "The other candidates"


def test_data_for_typst_is_plain_json():
    json.dumps(as_data(content(), PRINT))


def test_day_of_the_last_reading():
    study = by_hand.STUDY
    assert last_day(study) is None
    taken = study.findings[0].homings
    times = taken.time.astype("<U20")
    times[3], times[4] = "2026-03-08T09:12", "soon"
    assert last_day(
        replace(study, findings=(replace(study.findings[0], homings=replace(taken, time=times)),))
    ) == date(2026, 3, 8)


@pytest.mark.pictures
@pytest.mark.skipif(
    not shutil.which("pdftoppm") and environ.get("HOLDZERO_NEED_POPPLER") != "1", reason="needs poppler's pdftoppm"
)
def test_every_page_has_ink_on_it(pdf, tmp_path):
    """Look at the pages as pictures: none blank, none drawn over black."""
    (tmp_path / "record.pdf").write_bytes(pdf)
    subprocess.run(["pdftoppm", "-r", "40", "-gray", "record.pdf", "page"], cwd=tmp_path, check=True)
    pages = sorted(tmp_path.glob("page*.pgm"))
    assert len(pages) == len(pypdf.PdfReader(BytesIO(pdf)).pages)
    for page in pages:
        pixels = page.read_bytes().split(b"255\n", 1)[1]
        dark = sum(value < 128 for value in pixels) / len(pixels)
        assert 0.001 < dark < 0.2
