"""Theme: the inks a picture is drawn in, on a page and in print.

Drawings and charts name an ink by its role; the theme says what that is. On a page the inks are
`currentColor` and custom properties of the style sheet, so that one inline SVG follows light and
dark without a script. In print they are fixed: a PDF knows neither.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

INK, ACCENT, PAPER = "ink", "accent", "paper"  # the roles
THICK_PX, THIN_PX = 1.8, 0.8  # the two line weights: outlines, and everything that explains them
TEXT_PX, SMALL_PX = 13, 12  # sizes of lettering: on a drawing, on a chart
GRID_OPACITY = 0.13


@dataclass(frozen=True, slots=True)
class Theme:
    """Three inks and a typeface.

    Parameters
    ----------
    ink, accent, paper : str
        Lines and lettering; "look here", used sparingly; the sheet itself.
    font : str
        CSS family list.
    """

    ink: str
    accent: str
    paper: str
    font: str

    def colour(self, role: str) -> str:
        """Return the colour of a role; anything else (``"none"``) is returned as it is."""
        return {INK: self.ink, ACCENT: self.accent, PAPER: self.paper}.get(role, role)


PAGE = Theme(
    ink="currentColor",
    accent="var(--accent, #b0421a)",
    paper="var(--paper, #ffffff)",
    font="system-ui, sans-serif",
)
PRINT = Theme(ink="#111111", accent="#a63c14", paper="#ffffff", font="Libertinus Serif")


def inked(spec: Any, theme: Theme) -> Any:
    """Return a Vega-Lite specification with roles turned into colours; data are left alone."""
    if isinstance(spec, Mapping):
        return {
            key: theme.colour(value) if key == "color" else value if key == "data" else inked(value, theme)
            for key, value in spec.items()
        }
    return [inked(part, theme) for part in spec] if isinstance(spec, list) else spec


def chart_config(theme: Theme) -> dict[str, Any]:
    """Return the Vega-Lite configuration that gives a live chart the look of the sheet."""
    colours = dict.fromkeys(("labelColor", "titleColor", "domainColor", "tickColor", "gridColor"), theme.ink)
    axis = {
        "labelFontSize": SMALL_PX,
        "titleFontSize": SMALL_PX,
        "titleFontWeight": "normal",
        "domainWidth": THIN_PX,
        "tickWidth": THIN_PX,
        "gridWidth": THIN_PX,
        "gridOpacity": GRID_OPACITY,
    }
    return {"background": "transparent", "font": theme.font, "axis": axis | colours, "view": {"stroke": None}}
