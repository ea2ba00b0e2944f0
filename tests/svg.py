"""Read an SVG back: what stands where."""

from dataclasses import dataclass
from xml.etree import ElementTree

NS = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Text:
    """A line of lettering, with its baseline."""

    words: str
    x: float
    y: float
    anchor: str
    size: float


class Svg:
    """A parsed drawing; a drawing that is not well formed does not parse."""

    def __init__(self, text: str) -> None:
        self.root = ElementTree.fromstring(text)

    def all(self, tag: str) -> list[ElementTree.Element]:
        """Every element of a kind, in drawing order."""
        return list(self.root.iter(NS + tag))

    @property
    def texts(self) -> list[Text]:
        """All lettering."""
        return [
            Text(
                e.text or "", float(e.get("x")), float(e.get("y")), e.get("text-anchor"), float(e.get("font-size"))
            )
            for e in self.all("text")
        ]

    @property
    def words(self) -> list[str]:
        """All lettering, words only."""
        return [text.words for text in self.texts]

    @property
    def all_words(self) -> list[str]:
        """All lettering of a drawing that is not ours."""
        return [element.text or "" for element in self.all("text")]

    @property
    def circles(self) -> list[tuple[float, float, float]]:
        """All circles: x, y, radius."""
        return [(float(e.get("cx")), float(e.get("cy")), float(e.get("r"))) for e in self.all("circle")]

    @property
    def lines(self) -> list[list[tuple[float, float]]]:
        """All lines, as their points."""
        return [
            [tuple(float(part) for part in point.split(",")) for point in e.get("points").split()]
            for e in self.all("polyline")
        ]

    def title_of(self, element: ElementTree.Element) -> str:
        """What a pointer brings up over an element."""
        title = element.find(NS + "title")
        return "" if title is None else title.text or ""
