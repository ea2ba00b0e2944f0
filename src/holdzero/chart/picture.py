"""Picture: one picture with its name and its words, ready for a page, a phone or paper.

A picture is either a chart (a Vega-Lite specification, which can also come alive in the browser) or a
finished drawing (see `sheet`). Both come in two layouts, wide and narrow, so that lettering stays
readable at the width of a phone.
"""

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from hashlib import sha256
from typing import Any
from xml.sax.saxutils import escape, quoteattr

from holdzero.chart.sheet import Sheet
from holdzero.chart.theme import PAGE, Theme, chart_config, inked

WIDE_PX, NARROW_PX = 720, 358  # a page's column; a phone of 390 px less its margins
NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


@dataclass(frozen=True)
class Picture:
    """A picture, its name, and what it shows for whoever cannot see it.

    Parameters
    ----------
    title : str
        Name and caption: one line.
    text : str
        What the picture shows, in words and figures.
    wide, narrow : Sheet or dict
        The two layouts: drawings, or Vega-Lite specifications in which colours are named by role
        (`theme.INK`, `QUIET`, `ACCENT`, `PAPER`) and `config`, `background` and `width` are left out.

    Notes
    -----
    SVG made here has no ids, no scripts and no links, so any number of pictures can stand inline on one
    page. Its root is an image with `title` as its name and `text` as its description.
    """

    title: str
    text: str
    wide: Sheet | Mapping[str, Any]
    narrow: Sheet | Mapping[str, Any] | None = field(default=None)

    def svg(self, theme: Theme = PAGE, *, narrow: bool = False) -> str:
        """Return the picture as one SVG element.

        Parameters
        ----------
        theme : Theme
            `PAGE` follows the style sheet around it, light and dark; `PRINT` has fixed inks.
        narrow : bool
            The layout for a phone.
        """
        what = self.narrow if narrow and self.narrow is not None else self.wide
        drawn = what.svg(theme) if isinstance(what, Sheet) else _chart_svg(_spec(what, theme, narrow=narrow))
        head, rest = drawn.split(">", 1)
        name = quoteattr(clean(self.title))
        title, text = escape(clean(self.title)), escape(clean(self.text))
        return f'{head} role="img" aria-label={name}><title>{title}</title><desc>{text}</desc>{rest}'

    def html(self) -> str:
        """Return both layouts for a page, `<div class="wide">` and `<div class="narrow">`; `STYLE` shows one."""
        return f'<div class="wide">{self.svg()}</div><div class="narrow">{self.svg(narrow=True)}</div>'

    def script_json(self) -> str | None:
        """Return the chart's specification for a `<script type="application/json">`; None for a drawing.

        As wide as the element it is drawn in; inks follow the page as in `svg`.
        """
        if isinstance(self.wide, Sheet):
            return None
        spec = json.loads(_spec(self.wide, PAGE, narrow=False))
        spec |= {
            "description": f"{self.title}. {self.text}",
            "width": "container",
            "autosize": {"type": "fit-x", "contains": "padding"},
        }
        return json.dumps(spec, sort_keys=True).replace("<", "\\u003c")

    @cached_property
    def digest(self) -> str:
        """Short name of the picture's content: the same for the same picture."""
        return sha256(self.svg().encode()).hexdigest()[:12]


STYLE = """\
.picture svg{display:block;width:100%;max-width:45rem;height:auto}
.picture .narrow svg{max-width:26rem}
.picture .narrow{display:none}
@media (max-width:40rem){.picture .wide{display:none}.picture .narrow{display:block}}
"""  # for `<div class="picture">` around `Picture.html()`; a hidden layout is not read out


def drawing(title: str, text: str, draw: Callable[[float], Sheet]) -> Picture:
    """Return a drawing in both layouts.

    Parameters
    ----------
    title, text : str
        As in `Picture`.
    draw : callable
        Takes the width to draw for, in px, and returns the sheet.
    """
    return Picture(title, text, wide=draw(WIDE_PX), narrow=draw(NARROW_PX))


def clean(text: str) -> str:
    """Return the text without the control characters that XML cannot hold."""
    return NOT_XML.sub("\ufffd", text)


def _spec(chart: Mapping[str, Any], theme: Theme, *, narrow: bool) -> str:
    """Return the complete specification as JSON, the same text for the same chart."""
    spec = {
        "width": NARROW_PX if narrow else WIDE_PX,
        "autosize": {"type": "fit-x", "contains": "padding"},
        "padding": 4,
    }
    spec |= inked(chart, theme) | {"config": chart_config(theme) | {"aria": False}}
    return json.dumps(spec, sort_keys=True)


@lru_cache(maxsize=512)
def _chart_svg(spec: str) -> str:
    """Draw a chart. 20 to 60 ms, and no other thread runs meanwhile: hence the cache."""
    import vl_convert  # 0.1 s: only where a chart is drawn

    drawn: str = clean(vl_convert.vegalite_to_svg(spec, vl_version=VEGA_LITE))
    mine = sha256(spec.encode()).hexdigest()[:8]
    return re.sub(r'(id="|url\(#)(?=[a-z])', rf"\1p{mine}-", drawn)  # clips: ids must not meet on one page


VEGA_LITE = "6.1"  # the version the specifications are written for
