"""The manual: every page is there, every link and anchor leads somewhere, and nothing is asked of the network."""

import re
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser
from pathlib import Path

import pytest

from holdzero import manual
from holdzero.errors import InputError
from holdzero.manual.contents import docs
from holdzero.manual.pictures import picture_file, picture_names
from holdzero.store.schema import metadata
from holdzero.web.manual import FITS, manual_href

VOID = {"meta", "link", "img", "input", "br", "wbr", "source", "hr"}


class Seen(HTMLParser):
    """Ids, addresses and open tags of one page."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.links: list[str] = []
        self.loaded: list[str] = []
        self.open: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        self.ids += [values["id"]] if values.get("id") else []
        if tag == "a":
            self.links.append(values["href"])
        else:
            self.loaded += [values[name] for name in ("href", "src", "srcset") if values.get(name)]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        if tag not in VOID:
            assert self.open.pop() == tag


@pytest.fixture(scope="module")
def pages() -> dict[str, Seen]:
    return {page.file: Seen(manual.file_of(page.file, book="/").decode()) for page in manual.topics()}


def test_every_text_in_docs_is_a_page_and_has_its_own_name():
    texts = {path.relative_to(docs()).as_posix() for path in docs().rglob("*.md")}
    listed = [page.source.relative_to(docs()).as_posix() for page in manual.topics()]
    assert sorted(listed) == sorted(texts)
    assert len({page.slug for page in manual.topics()}) == len(listed)


def test_every_link_and_anchor_leads_somewhere(pages):
    astray = []
    for name, seen in pages.items():
        assert seen.open == [], name
        assert len(set(seen.ids)) == len(seen.ids), name
        for link in seen.links:
            path, _, anchor = link.partition("#")
            target = path or name
            if link == "/" or (target in manual.names() and target not in pages and not anchor):
                continue
            if target not in pages or (anchor and anchor not in pages[target].ids):
                astray.append((name, link))
    assert astray == []


def test_every_page_has_its_neighbours_and_the_way_up():
    topics = manual.topics()
    for before, page, after in zip([None, *topics], topics, [*topics[1:], None], strict=False):
        text = manual.file_of(page.file).decode()
        turns = dict(re.findall(r'rel="(prev|next)" href="([^"]+)"', text))
        assert turns.get("prev") == (before and before.file)
        assert turns.get("next") == (after and after.file)
        assert 'class="up" href="index.html"' in text
        assert 'href="/"' not in text  # opened from a folder there is no book to go back to


def test_everything_a_page_loads_is_a_file_of_the_manual(pages):
    for name, seen in pages.items():
        assert [each for each in seen.loaded if each not in manual.names()] == [], name
    for script in ("manual.js", "manual.css", "holdzero.css"):
        assert not re.search(rb"https?://", manual.file_of(script))


def test_pictures_are_drawn_in_both_layouts_and_follow_light_and_dark():
    style = manual.file_of("holdzero.css").decode()
    for name in picture_names():
        for layout in (name, f"{name}-narrow"):
            svg = picture_file(f"{layout}.svg").decode()
            ElementTree.fromstring(svg)
            assert ("Invented example." in svg) == (name not in ("opening", "indicator", "bench", "diagonals"))
            inks = set(re.findall(r"#[0-9a-f]{6}", svg.partition("</style>")[0].partition("<style>")[2]))
            assert len(inks) == 6
            assert all(ink in style for ink in inks)  # the tokens of the app
    asked = set(re.findall(r"picture:([\w-]+)", "".join(page.source.read_text() for page in manual.topics())))
    assert asked - set(picture_names()) == {"NAME"}  # of the page that explains them


def test_what_is_searched_is_all_there(pages):
    words = manual.file_of("words.js").decode()
    assert words.startswith("window.manualWords = [")
    for needle in ("differential travel", "homings", "socket://", "NPN", "Clopper"):
        assert needle in words
    for address in re.findall(r'\["[^"]*","([^"#]+)#', words):
        assert address in pages


def test_every_page_of_the_app_has_a_page_that_fits(pages):
    for name in FITS:
        path, _, anchor = manual_href(name).removeprefix("/manual/").partition("#")
        assert path in pages, name
        assert not anchor or anchor in pages[path].ids, name
    drawn = {path.stem for path in (Path(manual.__file__).parents[1] / "web" / "templates").glob("*.html")}
    with_blocks = {
        name
        for name in drawn
        if "{% extends layout %}"
        in (Path(manual.__file__).parents[1] / "web" / "templates" / f"{name}.html").read_text()
    }
    led_home = {name for name in with_blocks - {"error"} if manual_href(name) == manual_href("")}
    assert led_home == set(), "name a page of the manual for it in web/manual.py"


def test_every_table_of_a_book_is_told_of():
    told = set(re.findall(r"^\| `(\w+)` \| ", (docs() / "tables.md").read_text(), re.MULTILINE))
    assert set(metadata.tables) <= told


def test_a_topic_that_is_not_there_names_what_was_meant():
    with pytest.raises(InputError, match="did you mean wiring"):
        manual.topic_named("wirings")


def test_the_manual_is_written_whole_into_a_folder(tmp_path):
    place = manual.written(tmp_path / "manual")
    assert {path.relative_to(place).as_posix() for path in place.rglob("*.*")} == set(manual.names())
    (tmp_path / "taken").write_text("")
    with pytest.raises(InputError, match="folder that can be written"):
        manual.written(tmp_path / "taken")
