"""The diagram says what was solved: its joins, read back out of the SVG by geometry, are those of the netlist."""

import random
import re
import xml.etree.ElementTree as ET
from functools import cache, lru_cache
from itertools import combinations, pairwise

import pytest

from holdzero.chart.sheet import text_width
from holdzero.chart.wiring import diagram
from holdzero.compute.wiring import Unsaid, assess_many, circuits_from
from holdzero.compute.wiring.cases import JOINED_BY_FAULT
from holdzero.compute.wiring.conductor import COLOURS
from holdzero.errors import InputError
from wiring_cases import DRAWN, anything

SVG = "{http://www.w3.org/2000/svg}"
INSIDE = (*JOINED_BY_FAULT, "diode", "clamp", "leak up", "leak down", "logic supply", "others")  # not drawn


def _numbers(text):
    values = [float(v) for v in re.findall(r"-?\d+(?:\.\d+)?", text)]
    return list(zip(values[::2], values[1::2], strict=True))


def _on(point, a, b):
    (x, y), (x0, y0), (x1, y1) = point, a, b
    across = (x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)
    return (
        abs(across) < 0.5
        and min(x0, x1) - 0.01 <= x <= max(x0, x1) + 0.01
        and min(y0, y1) - 0.01 <= y <= max(y0, y1) + 0.01
    )


class Read:
    """What the drawing joins, told by lines and dots alone."""

    def __init__(self, svg):
        root = ET.fromstring(svg)
        self.root = root
        self.lines = [
            (e.get("data-join"), _numbers(e.get("points")))
            for e in root.iter(f"{SVG}polyline")
            if e.get("data-join")
        ]
        self.dots = [
            (float(e.get("cx")), float(e.get("cy"))) for e in root.iter(f"{SVG}circle") if e.get("data-dot")
        ]
        self.parts = {
            e.get("data-part"): (_numbers(e.get("data-from"))[0], _numbers(e.get("data-to"))[0])
            for e in root.iter(f"{SVG}path")
            if e.get("data-part")
        }
        self.count = sum(e.get("data-part") is not None for e in root.iter(f"{SVG}path"))
        self.things = [("line", k) for k in range(len(self.lines))] + [
            ("end", name, k) for name in self.parts for k in (0, 1)
        ]
        self.group = {thing: {thing} for thing in self.things}
        self.boxes = {thing: _box(self._points(thing)[1]) for thing in self.things}
        for one, other in combinations(self.things, 2):
            if _meet(self.boxes[one], self.boxes[other]) and self._touch(one, other):
                self._unite(one, other)

    def _points(self, thing):
        if thing[0] == "line":
            points = self.lines[thing[1]][1]
            return points, [points[0], points[-1], *points[1:-1]]
        return [], [self.parts[thing[1]][thing[2]]]

    def _touch(self, one, other):
        for first, second in ((one, other), (other, one)):
            line, _ = self._points(first)
            _, ends = self._points(second)
            for k, end in enumerate(ends):
                if any(_near(end, vertex) for vertex in (line or self._points(first)[1])) and (
                    k < 2 or _dotted(end, self.dots)
                ):
                    return True
                inside = any(_on(end, a, b) for a, b in pairwise(line))
                if inside and _dotted(end, self.dots):
                    return True
        lines = [self._points(t)[0] for t in (one, other)]
        return any(all(any(_on(d, a, b) for a, b in pairwise(line)) for line in lines) for d in self.dots)

    def _unite(self, one, other):
        both = self.group[one] | self.group[other]
        for thing in both:
            self.group[thing] = both


def _box(points):
    return tuple(f(p[axis] for p in points) for axis in (0, 1) for f in (min, max))


def _meet(a, b):
    """Whether two boxes come within 1 of each other: what is further apart cannot touch, nor share a dot."""
    return all(a[k] <= b[k + 1] + 1 and b[k] <= a[k + 1] + 1 for k in (0, 2))


def _near(a, b):
    return abs(a[0] - b[0]) < 0.02 and abs(a[1] - b[1]) < 0.02


def _dotted(point, dots):
    return any(_near(point, dot) for dot in dots)


@cache
def assessed(name):
    """A circuit of ours, solved once for all tests."""
    (assessment,) = assess_many(circuits_from(DRAWN[name]))
    return assessment


@cache
def drawing(name, narrow):
    """Its diagram."""
    return diagram(assessed(name)).svg(narrow=narrow)


@lru_cache(4)
def read_back(name, narrow):
    """What its drawing joins."""
    return Read(drawing(name, narrow))


@pytest.fixture(scope="module", params=sorted(DRAWN))
def name(request):
    return request.param


@pytest.fixture(scope="module")
def found(name):
    return assessed(name)


@pytest.mark.parametrize("narrow", [False, True], ids=["page", "phone"])
class TestDiagram:
    """Every shape of circuit, for a page and for a phone."""

    def test_joins_are_those_of_the_netlist(self, name, found, narrow):
        self.joins_are_right(read_back(name, narrow), found)

    def joins_are_right(self, read, found):
        parts = {p.name: p for p in found.netlist.parts}
        assert read.count == len(read.parts), "a part is drawn twice"
        wanted = {p.name for p in found.netlist.parts if p.kind not in INSIDE}
        assert wanted == set(read.parts) - {"logic supply", "reverse diode"}
        node = {
            ("end", name, k): (parts[name].first, parts[name].second)[k] for name in read.parts for k in (0, 1)
        }
        for one, other in combinations(node, 2):
            together = other in read.group[one]
            assert together == (node[one] == node[other]), (one, node[one], other, node[other])

    def test_lines_say_the_node_they_are(self, name, found, narrow):
        read = read_back(name, narrow)
        parts = {p.name: p for p in found.netlist.parts}
        for k, (node, _) in enumerate(read.lines):
            for thing in read.group[("line", k)]:
                if thing[0] == "end":
                    assert (parts[thing[1]].first, parts[thing[1]].second)[thing[2]] == node

    def test_no_two_labels_overlap_and_none_leaves_the_sheet(self, found, narrow):
        root = ET.fromstring(diagram(found, day="2026-11-25").svg(narrow=narrow))
        boxes = []
        for text in root.iter(f"{SVG}text"):
            size, words = float(text.get("font-size")), text.text
            wide, x, y = text_width(words, size), float(text.get("x")), float(text.get("y"))
            wide *= 1.15 if text.get("font-weight") and wide > 100 else 1  # bold lines are wider
            left = x - {"start": 0, "middle": wide / 2, "end": wide}[text.get("text-anchor")]
            boxes.append((left, y - 0.75 * size, left + wide, y + 0.2 * size, words))
        width = float(root.get("width"))
        for box in boxes:
            assert box[0] >= -0.5 and box[2] <= width + 0.5, box  # noqa: PT018
        for a, b in combinations(boxes, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (a, b)

    def test_every_core_bears_its_letters(self, name, found, narrow):
        """Colour never alone: as many lettered colours as there are conductors."""
        root = read_back(name, narrow).root
        letters = [t.text for t in root.iter(f"{SVG}text") if t.text in COLOURS]
        assert sorted(letters) == sorted(p.colour for p in found.netlist.conductors)

    def test_named_and_described(self, name, found, narrow):
        root = read_back(name, narrow).root
        assert root.get("role") == "img"
        assert root.find(f"{SVG}title").text.startswith("Wiring diagram")
        description = root.find(f"{SVG}desc").text
        for sensor in found.circuit.sensors:
            assert f"{sensor.name} {sensor.output} {sensor.contact}" in description


class TestSymbols:
    """What the wiring says beyond the joins."""

    def drawn(self, name, narrow):
        return ET.fromstring(drawing(name, narrow))

    @pytest.mark.parametrize("narrow", [False, True])
    def test_the_face_of_each_plug(self, narrow):
        """On the pins of the sensor: key up, 1 to its right, then counted to the left; IEC 61076-2-101."""
        root = self.drawn("plugs of two kinds", narrow)
        pins = [
            (t.text, float(t.get("x")), float(t.get("y")))
            for t in root.iter(f"{SVG}text")
            if re.fullmatch(r"[1-4] [A-Z]{2}", t.text or "")
        ]
        assert [words for words, _, _ in pins] == ["1 BN", "2 BK", "3 BU", "1 BN", "3 BU", "4 BK"]
        (_, x1, y1), (_, x2, y2), (_, x3, y3), *_ = pins
        assert x2 < x1
        assert (x3, y2) == (x2, y1)
        assert y3 > y2
        (_, x1, y1), (_, x3, y3), (_, x4, y4) = pins[3:]
        assert x3 < x1
        assert (x4, y4) == (x1, y3)
        assert y4 > y1
        assert "plug M12" in root.find(f"{SVG}desc").text

    def test_an_arrow_in_a_circle_for_each_contact_that_opens_directly(self):
        direct, plain = (
            self.drawn(name, False) for name in ("contacts that open directly", "two contacts in series, filtered")
        )
        rings = [sum(e.get("r") == "5.5" for e in root.iter(f"{SVG}circle")) for root in (direct, plain)]
        assert rings == [2, 0]
        assert "direct opening" in direct.find(f"{SVG}desc").text
        words = " ".join(t.text for t in direct.iter(f"{SVG}text"))
        assert "direct opening (IEC 60947-5-1)" in words


def _readable(count, seed):
    """Circuits of random files that are read at all."""
    rng = random.Random(seed)
    while count:
        try:
            (circuit,) = circuits_from(anything(rng))
        except InputError:
            continue
        assert not isinstance(circuit, Unsaid)
        count -= 1
        yield circuit


def test_whatever_a_file_says_is_judged_and_drawn_right():
    """Any mixture of keys: solved without an error of ours, and the drawing is that of its netlist."""
    checks = TestDiagram()
    for found in assess_many(list(_readable(30, 20261125))):
        for narrow in (False, True):
            checks.joins_are_right(Read(diagram(found).svg(narrow=narrow)), found)
            checks.test_no_two_labels_overlap_and_none_leaves_the_sheet(found, narrow)


@pytest.mark.parametrize("narrow", [False, True])
class TestAlone:
    """A drawing goes to the cabinet alone."""

    def words(self, name, narrow):
        root = ET.fromstring(drawing(name, narrow))
        return [t.text for t in root.iter(f"{SVG}text")]

    def test_it_carries_the_caution(self, narrow):
        for name in DRAWN:
            together = " ".join(self.words(name, narrow))
            for words in ("switch off, unplug", "stored energy", "a licensed person", "emergency stop"):
                assert words in together, name

    def test_both_rails_are_named_and_the_fuse_is_to_be_chosen(self, narrow):
        words = self.words("four NPN in parallel, shunt and reverse diode", narrow)
        assert {"+24\u202fV", "0 V", "-F1 to be chosen"} <= set(words)
        assert "-F1 1\u202fA" in self.words("two contacts in series, filtered", narrow)

    def test_resistors_inside_a_sensor_have_their_values(self, narrow):
        words = self.words("everything round a pin", narrow)
        assert {"pull-up 10\u202fkΩ inside", "pull-down 100\u202fkΩ inside"} <= set(words)


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("name", sorted(DRAWN))
def test_a_dot_wherever_three_lines_of_one_node_meet(name, narrow):
    """Counted in the drawing: at each end of a line, how many ways its node goes from there."""
    root = ET.fromstring(drawing(name, narrow))
    lines = [
        (e.get("data-join"), _numbers(e.get("points"))) for e in root.iter(f"{SVG}polyline") if e.get("data-join")
    ]
    rings = [(float(e.get("cx")), float(e.get("cy"))) for e in root.iter(f"{SVG}circle")]
    for node, points in lines:
        for point in (points[0], points[-1]):
            ways = set()
            for other, line in lines:
                for a, b in pairwise(line):
                    if other == node and _on(point, a, b):
                        ways |= {_sense(point, end) for end in (a, b) if not _near(point, end)}
            if len(ways) > 2:
                assert any(abs(x - point[0]) < 4.5 and abs(y - point[1]) < 0.1 for x, y in rings), (node, point)


def _sense(point, end):
    return tuple((c > p + 0.02) - (c < p - 0.02) for p, c in zip(point, end, strict=True))
