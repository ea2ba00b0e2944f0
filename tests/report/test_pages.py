"""Pages of the record: the first one whole, the proof, then an annex; few of them, and none half empty."""

import re
import shutil
import subprocess
from functools import cache
from io import BytesIO
from os import environ

import numpy as np
import pypdf
import pytest

from holdzero import demo
from holdzero.inputs.sensor import read_sensors
from holdzero.tell import safety
from holdzero.tell.method import method

MADE = ("demo", "one that holds", "none that holds")
FIRST_PAGE = (
    "Does this machine hold zero?",
    "The machine and what is asked of it",
    "Spread allowed, a switch",
    "Where it stands",
    "The candidates against the limit",
    "What is open",
    "Before anything else",
    safety.NOT_A_SAFETY_FUNCTION,
    *safety.BEFORE_ANYTHING_ELSE,
    safety.NOT_A_CERTIFICATE,
    "The decision",
    "Candidate taken",
    "Decided by",
    "Signatures",
    "Tried by",
    "Checked by",
    "Inputs: machine",
)
MOST_EMPTY = 1 / 3  # of the height between header and footer, at the foot of a page
DPI = 40


def squeezed(text):
    """Without spaces and hyphens, wherever a line ends; ligatures opened."""
    opened = text.replace("ﬁ", "fi").replace("ﬂ", "fl").replace("ﬀ", "ff").replace("ﬃ", "ffi").replace("ﬅ", "ft")
    return re.sub(r"[\s-]", "", opened)


@pytest.fixture(scope="module")
def pages(set_record):
    """By machine: the words of each page."""

    @cache
    def read(name):
        return [squeezed(page.extract_text()) for page in pypdf.PdfReader(BytesIO(set_record(name))).pages]

    return read


@pytest.mark.parametrize("name", MADE)
def test_the_first_page_is_the_whole_record(pages, name):
    """Machine, question, standing, candidates against the limit, open, decision, signatures, cautions."""
    first, second, *_ = pages(name)
    assert [words for words in FIRST_PAGE if squeezed(words) not in first] == []
    assert "1Whatitisjudgedagainst" in second  # all of the first page is on the first page


def test_every_candidate_stands_in_the_picture_of_the_first_page(pages):
    first = pages("demo")[0]
    kinds = (squeezed(f"{sensor.name} {sensor.kind}") for sensor in read_sensors(demo.sensors_toml()))
    assert [kind for kind in kinds if kind not in first] == []
    assert first.count("doesnothold") >= 3


def test_the_mark_of_an_example_is_in_every_header(pages):
    assert [page.count("INVENTEDDATA") for page in pages("demo")] == [1] * len(pages("demo"))
    assert not any("INVENTED" in page for page in pages("one that holds"))


def test_pages_2_to_4_prove_the_candidate_that_is_meant(pages):
    proof = "".join(pages("demo")[1:4])
    name = demo.WINNER
    for words in (
        f"The proof is that of {name}, the candidate recommended.",
        "What it is judged against",
        "The candidates",
        f"Figures of {name}",
        f"{name}, axis Y, right minus left: normal probability plot",
        f"{name}: the gantry as the worst homing left it",
        "Error budget: what home position is made of",
        "Cautions that go with the figures",
        "Annex: to look things up",
    ):
        assert squeezed(words) in proof, words


def test_the_demo_fits_on_12_pages(pages):
    assert len(pages("demo")) <= 12


@pytest.mark.parametrize("name", MADE)
def test_methods_stand_once(pages, name):
    whole = "".join(pages(name))
    assert [whole.count(squeezed(text)[:60]) for text in method(0.95)] == [1] * len(method(0.95))
    assert whole.count("Whatitisjudgedagainst") == 1
    assert whole.count("Whateachfiguretells") == 2  # its heading, and in the list of the annex


def test_the_page_says_the_same(set_record, pages):
    """Each heading of the paper is one of the page, in the same order, the first page first."""
    headings = re.findall(r"<h[23] id=[^>]*>([^<]+)</h[23]>", set_record("demo", "html").decode())
    whole = "".join(pages("demo"))
    assert len(headings) >= 25
    assert [heading for heading in headings if squeezed(heading.replace("&#39;", "'")) not in whole] == []
    assert headings[:3] == [
        "The machine and what is asked of it",
        "Where it stands",
        "The candidates against the limit",
    ]


@pytest.mark.pictures
@pytest.mark.skipif(
    not shutil.which("pdftoppm") and environ.get("HOLDZERO_NEED_POPPLER") != "1", reason="needs poppler's pdftoppm"
)
@pytest.mark.parametrize("name", MADE)
def test_no_page_but_the_last_is_more_than_a_third_empty(set_record, name, tmp_path):
    (tmp_path / "record.pdf").write_bytes(set_record(name))
    subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", "record.pdf", "page"], cwd=tmp_path, check=True)
    *full, last = (empty_at_the_foot(page.read_bytes()) for page in sorted(tmp_path.glob("page*.pgm")))
    assert len(full) >= 3
    assert max(full) < MOST_EMPTY
    assert last < 1


def empty_at_the_foot(pgm):
    """Share of the height between header and footer that has no ink down to the footer."""
    _, size, _, pixels = pgm.split(b"\n", 3)
    width, height = map(int, size.split())
    ink = np.frombuffer(pixels, dtype=np.uint8).reshape(height, width).min(axis=1) < 200
    top, foot = round(17 / 297 * height), round(278 / 297 * height)  # header and footer lie outside
    inked = np.nonzero(ink[top:foot])[0]
    return 1 - (inked[-1] + 1) / (foot - top) if inked.size else 1.0
