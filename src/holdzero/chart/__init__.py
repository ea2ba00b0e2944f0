"""Pictures: what the figures look like, for the page, the phone and the printed record alike.

`picture` holds a picture and turns it into SVG; `sheet` draws workshop drawings; the other modules
each make one kind of picture from result objects and compute nothing.
"""

from holdzero.chart.picture import Picture, chart, drawing
from holdzero.chart.theme import PAGE, PRINT, Theme

__all__ = ["PAGE", "PRINT", "Picture", "Theme", "chart", "drawing"]
