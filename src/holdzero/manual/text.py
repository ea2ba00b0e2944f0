"""Text: one page's Markdown as HTML, with an anchor at each heading and links that stay inside the manual."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Any

from markdown_it import MarkdownIt
from markdown_it.renderer import RendererHTML
from markdown_it.token import Token

from holdzero.manual.contents import Topic

PAGE_SHOWN = ".png"  # a page as a browser shows it; there is one in the dark as well
PICTURE = "picture:"
_NOT_IN_ANCHORS = re.compile(r"[^\w\- ]")


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading below the title: how deep, its words, and its anchor."""

    level: int
    words: str
    anchor: str


@dataclass(frozen=True, slots=True)
class Passage:
    """A paragraph that can be searched, and the heading it stands under."""

    heading: str
    anchor: str
    words: str


@dataclass(frozen=True, slots=True)
class Text:
    """One page's body, its headings, and its passages."""

    html: str
    headings: tuple[Heading, ...]
    passages: tuple[Passage, ...]


def set_text(page: Topic) -> Text:
    """Return a page as HTML."""
    reader = _reader()
    tokens = reader.parse(page.source.read_text(encoding="utf-8"))
    headings = tuple(_anchored(tokens))
    for token in tokens:
        for inline in token.children or ():
            if inline.type == "link_open":
                inline.attrSet("href", page_address(str(inline.attrGet("href"))))
    html = reader.renderer.render(tokens, reader.options, {})
    return Text(html, headings[1:], tuple(_passages(tokens)))


def page_address(target: str) -> str:
    """Return where a link of a text leads in the manual.

    >>> page_address("methods.md#2-all-alike"), page_address("decisions/0003-charts.md"), page_address("#signs")
    ('methods.html#2-all-alike', '0003-charts.html', '#signs')
    """
    path, mark, anchor = target.partition("#")
    if path.endswith(".md"):
        path = f"{path.rpartition('/')[2].removesuffix('.md')}.html"
    return f"{path}{mark}{anchor}"


def anchor_of(words: str) -> str:
    """Return the anchor of a heading, as code hosts make it.

    >>> anchor_of("5. Two sides: `L`, R")
    '5-two-sides-l-r'
    """
    return _NOT_IN_ANCHORS.sub("", words.strip().lower()).replace(" ", "-")


@cache
def _reader() -> MarkdownIt:
    reader = MarkdownIt("commonmark").enable("table")
    rules = {
        "table_open": _table_open,
        "table_close": lambda *_: "</table></div>\n",
        "th_open": lambda renderer, tokens, i, *_: renderer.renderToken(_scoped(tokens), i, {}, {}),
        "fence": _fence,
        "code_block": lambda renderer, tokens, i, *_: _code(tokens[i].content),
        "image": _image,
    }
    for name, rule in rules.items():
        reader.add_render_rule(name, rule)
    return reader


def _anchored(tokens: Sequence[Token]) -> list[Heading]:
    headings: list[Heading] = []
    known: dict[str, int] = {}
    for opening, inline in pairwise(tokens):
        if opening.type != "heading_open":
            continue
        words = _plain(inline)
        anchor = anchor_of(words)
        again = known.get(anchor, 0)
        known[anchor] = again + 1
        anchor = f"{anchor}-{again}" if again else anchor
        opening.attrSet("id", anchor)
        headings.append(Heading(int(opening.tag[1]), words, anchor))
    return headings


def _passages(tokens: Sequence[Token]) -> list[Passage]:
    passages, heading, anchor = [], "", ""
    for before, token in zip([None, *tokens], tokens, strict=False):
        if token.type == "inline" and before is not None:
            if before.type == "heading_open":
                heading, anchor = _plain(token), str(before.attrGet("id"))
                passages.append(Passage(heading, anchor, ""))
            elif words := _plain(token):
                passages.append(Passage(heading, anchor, words))
        elif token.type in ("fence", "code_block"):
            passages.append(Passage(heading, anchor, " ".join(token.content.split())))
    return passages


def _plain(inline: Token) -> str:
    kept = ("text", "code_inline", "softbreak")
    parts = [" " if t.type == "softbreak" else t.content for t in inline.children or () if t.type in kept]
    return "".join(parts).strip()


def _table_open(_: RendererHTML, tokens: Sequence[Token], i: int, *__: Any) -> str:
    heading = next((tokens[j + 1] for j in range(i, -1, -1) if tokens[j].type == "heading_open"), None)
    label = _escaped(_plain(heading)) if heading else "Table"
    return f'<div class="table" role="group" aria-label="{label}" tabindex="0"><table>\n'


def _scoped(tokens: Sequence[Token]) -> Sequence[Token]:
    """Say that a heading is of its column; a heading without words is a plain cell."""
    for opening, inline, closing in zip(tokens, tokens[1:], tokens[2:], strict=False):
        if opening.type == "th_open" and inline.content:
            opening.attrSet("scope", "col")
        elif opening.type == "th_open":
            opening.tag = closing.tag = "td"
    return tokens


def _fence(_: RendererHTML, tokens: Sequence[Token], i: int, *__: Any) -> str:
    return _code(tokens[i].content)


def _code(text: str) -> str:
    return f'<pre class="typed" tabindex="0"><code>{_escaped(text)}</code></pre>'


def _image(_: RendererHTML, tokens: Sequence[Token], i: int, *__: Any) -> str:
    """A picture and its words under it, which are read out; one of ours has a second layout for a phone."""
    address, words = str(tokens[i].attrGet("src")), _escaped(tokens[i].content)
    below = f'<span class="below">{words}</span>'
    if address.endswith(PAGE_SHOWN):
        dark = f"{address.removesuffix(PAGE_SHOWN)}-dark{PAGE_SHOWN}"
        return (
            '<span class="drawn shown"><picture>'
            f'<source media="(prefers-color-scheme: dark)" srcset="{_escaped(dark)}">'
            f'<img src="{_escaped(address)}" alt="" loading="lazy"></picture>{below}</span>'
        )
    if not address.startswith(PICTURE):
        return f'<span class="drawn"><img src="{_escaped(address)}" alt="" loading="lazy">{below}</span>'
    name = address.removeprefix(PICTURE)
    return (
        f'<span class="drawn"><picture><source media="(max-width: 40rem)" srcset="pictures/{name}-narrow.svg">'
        f'<img src="pictures/{name}.svg" alt="" loading="lazy"></picture>{below}</span>'
    )


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;").replace('"', "&quot;")
