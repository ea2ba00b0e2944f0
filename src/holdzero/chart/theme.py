"""Theme: the inks a picture is drawn in, on a page and in print.

Drawings and charts name an ink by its role; the theme says what that is. On a page the inks are
`currentColor` and custom properties of the style sheet, so that one inline SVG follows light and
dark without a script. In print they are fixed: a PDF knows neither.
"""

from dataclasses import dataclass

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
        return (
            self.ink if role == INK else self.accent if role == ACCENT else self.paper if role == PAPER else role
        )


PAGE = Theme(
    ink="currentColor",
    accent="var(--accent, #b0421a)",
    paper="var(--paper, #ffffff)",
    font="system-ui, sans-serif",
)
PRINT = Theme(ink="#111111", accent="#a63c14", paper="#ffffff", font="Libertinus Serif")
