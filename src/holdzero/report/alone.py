"""Alone: one picture as a file of its own, SVG, or PNG where the PDF part is installed to draw it."""

from holdzero.chart import PRINT, Picture
from holdzero.errors import MissingExtra
from holdzero.report.printed import pdf_installed

NO_PNG = (
    "Pictures come as SVG alone: the PDF part (typst) draws the PNG and is not installed; "
    'for PNG: pip install "holdzero[pdf]".'
)
DOTS_PER_INCH = 192  # two a pixel of the page
_BEYOND_ITS_OWN = "\u2c00"  # letters from here on are not in typst's own typefaces
_SHEET = b'#set page(width: auto, height: auto, margin: 8pt)\n#image(bytes(sys.inputs.svg), format: "svg")'


def no_png() -> str:
    """What to say where no PNG can be had; empty where it can."""
    return "" if pdf_installed() else NO_PNG


def picture_svg(picture: Picture, *, invented: str = "") -> bytes:
    """Return a picture as an SVG file in fixed inks; `invented` is written at its foot, after its own mark."""
    return picture.marked(f"{picture.mark} {invented}".strip()).svg(PRINT).encode()


def picture_png(picture: Picture, *, invented: str = "") -> bytes:
    """Return a picture as a PNG file; the same picture gives the same bytes.

    Parameters
    ----------
    picture : Picture
        What is drawn.
    invented : str
        Written at its foot, after its own mark; empty: nothing.

    Raises
    ------
    MissingExtra
        typst is not installed: some platforms have no wheel of it.
    """
    try:
        import typst  # 40 MB of typesetter: only where a picture is drawn
    except ImportError as missing:
        raise MissingExtra(where="PNG", extra="pdf", package="typst", instead="ask for SVG") from missing
    svg = picture_svg(picture, invented=invented).decode()
    made = typst.compile(
        _SHEET,
        ignore_system_fonts=max(svg) < _BEYOND_ITS_OWN,
        format="png",
        ppi=DOTS_PER_INCH,
        sys_inputs={"svg": svg},
    )
    assert isinstance(made, bytes)
    return made
