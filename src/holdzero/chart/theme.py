"""Theme: the inks a picture is drawn in, on a page and in print.

Drawings and charts name an ink by its role; the theme says what that is. On a page the inks are
`currentColor` and custom properties of the style sheet, so that one inline SVG follows light and
dark without a script. In print they are fixed: a PDF knows neither.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

INK, QUIET, ACCENT, PAPER = "ink", "quiet", "accent", "paper"  # the roles
THICK_PX, THIN_PX = 1.8, 0.8  # the two line weights: outlines, and everything that explains them
TEXT_PX, SMALL_PX = 13, 12  # sizes of lettering on a sheet


@dataclass(frozen=True, slots=True)
class Theme:
    """Four inks and a typeface.

    Parameters
    ----------
    ink, quiet, accent, paper : str
        Lines and lettering; what should stand back; "look here", used sparingly; the sheet itself.
    font : str
        CSS family list.
    """

    ink: str
    quiet: str
    accent: str
    paper: str
    font: str

    def colour(self, role: str) -> str:
        """Return the colour of a role; anything else (``"none"``) is returned as it is."""
        return {INK: self.ink, QUIET: self.quiet, ACCENT: self.accent, PAPER: self.paper}.get(role, role)


PAGE = Theme(
    ink="currentColor",
    quiet="var(--quiet, currentColor)",
    accent="var(--accent, #b0421a)",
    paper="var(--paper, #ffffff)",
    font="system-ui, sans-serif",
)
PRINT = Theme(ink="#111111", quiet="#555555", accent="#a63c14", paper="#ffffff", font="Libertinus Serif")

COLOUR_KEYS = frozenset(("color", "fill", "stroke", "value", "labelColor", "titleColor"))


def inked(spec: Any, theme: Theme) -> Any:
    """Return a Vega-Lite specification with roles turned into colours; data are left alone."""
    if isinstance(spec, Mapping):
        return {
            key: theme.colour(value)
            if key in COLOUR_KEYS and isinstance(value, str)
            else value
            if key in ("data", "datasets")
            else inked(value, theme)
            for key, value in spec.items()
        }
    if isinstance(spec, list):
        return [inked(part, theme) for part in spec]
    return spec


def chart_config(theme: Theme) -> dict[str, Any]:
    """Return the Vega-Lite configuration that gives a chart the look of the sheet."""
    letters = {"labelFontSize": SMALL_PX, "titleFontSize": SMALL_PX, "titleFontWeight": "normal"}
    lines = {
        "labelColor": theme.ink,
        "titleColor": theme.ink,
        "domainColor": theme.ink,
        "tickColor": theme.ink,
        "gridColor": theme.ink,
        "domainWidth": THIN_PX,
        "tickWidth": THIN_PX,
        "gridWidth": 0.5,
        "gridOpacity": 0.14,
        "labelPadding": 4,
        "titlePadding": 8,
    }
    return {
        "background": "transparent",
        "font": theme.font,
        "axis": letters | lines,
        "axisY": {"minExtent": 36, "maxExtent": 36},
        "axisX": {"minExtent": 20, "maxExtent": 20},
        "view": {"stroke": None},
        "text": {"color": theme.ink, "fontSize": SMALL_PX},
        "point": {"color": theme.ink},
        "rule": {"color": theme.ink, "strokeWidth": THIN_PX},
        "line": {"color": theme.ink, "strokeWidth": THIN_PX},
        "header": {"labelColor": theme.ink, "titleColor": theme.ink},
    }
