"""Picture: one picture with its name and its words, ready for a page, a phone or paper.

Every picture is drawn on a sheet, in two layouts so that lettering stays readable at the width of a
phone. The marks of a chart carry their figures, which a script of the pages reads out.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache, cached_property
from hashlib import sha256
from typing import TYPE_CHECKING

from holdzero.chart.markup import attribute, words_in_xml
from holdzero.chart.theme import PAGE, Theme

if TYPE_CHECKING:  # answers name pictures, and the terminal draws none
    from holdzero.chart.plot import Plot
    from holdzero.chart.sheet import Sheet

WIDE_PX, NARROW_PX = 720, 358  # a page's column; a phone of 390 px less its margins


@dataclass(frozen=True)
class Picture:
    """A picture, its name, and what it shows for whoever cannot see it.

    Parameters
    ----------
    title : str
        Name and caption: one line.
    text : str
        What the picture shows, in words and figures.
    wide, narrow : Sheet
        The two layouts.
    live : bool
        A chart: its marks say their figures when pointed at.
    mark : str
        What stands at its foot where it goes alone, see `marked`.

    Notes
    -----
    SVG made here has no ids, no scripts and no links, so any number of pictures can stand inline on one
    page. Its root is an image with `title` as its name and `text` as its description.
    """

    title: str
    text: str
    wide: "Sheet"
    narrow: "Sheet"
    live: bool = False
    mark: str = ""  # written at the foot of a drawing that goes alone

    def marked(self, sentence: str) -> "Picture":
        """Return the picture with a sentence at its foot, e.g. that its figures are invented; empty: as it is."""
        return replace(self, mark=sentence) if sentence else self

    def svg(self, theme: Theme = PAGE, *, narrow: bool = False) -> str:
        """Return the picture as one SVG element.

        Parameters
        ----------
        theme : Theme
            `PAGE` follows the style sheet around it, light and dark; `PRINT` has fixed inks.
        narrow : bool
            The layout for a phone.
        """
        head, rest = (self.narrow if narrow else self.wide).svg(theme, foot=self.mark).split(">", 1)
        words = f"{self.text} {self.mark}".strip()
        name, title, text = attribute(self.title), words_in_xml(self.title), words_in_xml(words)
        return clean(f'{head} role="img" aria-label={name}><title>{title}</title><desc>{text}</desc>{rest}')

    def html(self) -> str:
        """Return both layouts for a page, `<div class="wide">` and `<div class="narrow">`; `STYLE` shows one."""
        return f'<div class="wide">{self.svg()}</div><div class="narrow">{self.svg(narrow=True)}</div>'

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


def drawing(title: str, text: str, draw: "Callable[[float], Sheet]") -> Picture:
    """Return a drawing in both layouts.

    Parameters
    ----------
    title, text : str
        As in `Picture`.
    draw : callable
        Takes the width to draw for, in px, and returns the sheet.
    """
    return Picture(title, text, wide=draw(WIDE_PX), narrow=draw(NARROW_PX))


def chart(title: str, text: str, plot: "Callable[[float], Plot]") -> Picture:
    """Return a chart in both layouts, whose marks say their figures.

    Parameters
    ----------
    title, text : str
        As in `Picture`.
    plot : callable
        Takes the width to plot for, in px, and returns the plot.
    """
    return Picture(title, text, wide=plot(WIDE_PX).sheet(), narrow=plot(NARROW_PX).sheet(), live=True)


def clean(text: str) -> str:
    """Return the text without the control characters that XML cannot hold."""
    return _not_xml().sub("\ufffd", text)


@cache
def _not_xml() -> re.Pattern[str]:  # 4 ms, which the terminal need not wait for
    return re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
