"""Scaled drawings of travel, machine and index pulse: what stands where, to scale, and readable on a phone."""

from dataclasses import replace
from pathlib import Path

import pytest

from holdzero.chart import PRINT
from holdzero.chart.index import index_picture
from holdzero.chart.machine import machine_picture
from holdzero.chart.sheet import text_width
from holdzero.chart.travel import travel_picture
from holdzero.compute.index import index_place
from holdzero.compute.travel import travel
from holdzero.inputs.machine import read_machine
from holdzero.inputs.machine.presets import PRESETS, preset
from holdzero.inputs.machine.values import Axis, Machine, Requirement
from svg import Svg

DATA = Path(__file__).parents[1] / "data"
PLACES = {
    "good": index_place(phase=0.45, pitch_mm=5, spread_mm=0.02, shift_mm=0.05),
    "wide": index_place(phase=0.2, pitch_mm=5, spread_mm=0.5, shift_mm=0.4),
    "near": index_place(phase=0.03, pitch_mm=10, spread_mm=0.1, shift_mm=0.3),
    "tight": index_place(phase=0.98, pitch_mm=0.2, spread_mm=0.0001),
}
MACHINES = {name: read_machine(preset(name)) for name in PRESETS}
BARE = Machine(name="Bare", requirement=Requirement(), axes=(Axis.of("Y", motors=2), Axis.of("X"), Axis.of("Z")))
MANY = Machine(
    name="Many",
    requirement=Requirement(),
    axes=tuple(Axis.of(name, travel_mm=300, home_trip_mm=9, limit_trip_mm=5) for name in "XYUVWZ"),
)


def screw():
    return travel(read_machine((DATA / "screw_axis.toml").read_text(encoding="utf-8")).axis("Y"))


PICTURES = {
    "screw": lambda: travel_picture(screw()),
    "bare axis": lambda: travel_picture(travel(Axis.of("Q"))),
    "bare machine": lambda: machine_picture(BARE),
    "many axes": lambda: machine_picture(MANY),
    **{f"travel {name}": lambda m=m: travel_picture(travel(m.axes[0])) for name, m in MACHINES.items()},
    **{f"machine {name}": lambda m=m: machine_picture(m) for name, m in MACHINES.items()},
    **{f"index {name}": lambda p=p: index_picture(p) for name, p in PLACES.items()},
}


@pytest.mark.parametrize("narrow", [False, True])
@pytest.mark.parametrize("name", PICTURES)
class TestEveryDrawing:
    """Named, on the sheet, the same twice."""

    def test_is_a_named_image(self, name, narrow):
        picture = PICTURES[name]()
        svg = Svg(picture.svg(narrow=narrow))
        assert svg.root.get("aria-label") == picture.title
        assert picture.svg(narrow=narrow) == PICTURES[name]().svg(narrow=narrow)

    def test_lettering_stays_on_the_sheet(self, name, narrow):
        svg = Svg(PICTURES[name]().svg(PRINT, narrow=narrow))
        width = float(svg.root.get("width"))
        upright = {text.words for text in svg.texts} - {
            e.text for e in svg.all("text") if (e.get("transform") or "").startswith("rotate")
        }
        for text in svg.texts:
            if text.words in upright:
                room = text_width(text.words, text.size) * 0.9  # it reckons a little generously
                left = text.x - {"start": 0, "middle": room / 2, "end": room}[text.anchor]
                assert left >= -1, text
                assert left + room <= width + 1, text


class TestTravel:
    """The screw axis of docs/travel.md, drawn."""

    def test_says_what_the_checks_say(self):
        words = " ".join(Svg(travel_picture(screw()).svg()).words).replace("\u202f", " ")
        for part in (
            "approach at 40 mm/s: 3.31 mm 2.69 mm left",
            "17.4 mm too far",
            "back off 5 mm 1.16 mm past the release",
            "travel 1300 mm",
        ):
            assert part in words

    def test_places_are_to_scale(self):
        """Hard stop, limit and home stand at 0, 6 and 12 mm: their lines are equally far apart."""
        lines = Svg(travel_picture(screw()).svg()).lines
        upright = [line for line in lines if len(line) == 2 and line[0][0] == line[1][0]]
        tallest = max(abs(line[0][1] - line[1][1]) for line in upright)
        tall = sorted({line[0][0] for line in upright if abs(line[0][1] - line[1][1]) > 0.8 * tallest})
        stop, limit, home = tall[:3]
        assert home - limit == pytest.approx(limit - stop, abs=0.1)

    def test_text_names_what_fails(self):
        assert "Fails: limit_overtravel, coast" in travel_picture(screw()).text

    def test_inches(self):
        picture = travel_picture(screw(), system="inch")
        assert "51.18" in " ".join(Svg(picture.svg()).words)


class TestMachine:
    """Rails, drives and switches."""

    def test_gantry(self):
        words = Svg(machine_picture(MACHINES["two-motor-gantry"]).svg()).words
        assert words.count("home") == 3  # both sides and the beam; the upright one shares its switch
        assert words.count("M") == 2
        assert "home + limit" in words

    def test_distance_that_is_missing_is_asked_for(self):
        assert "drive distance?" in Svg(machine_picture(BARE).svg()).words

    def test_updates_with_what_is_typed(self):
        machine = MACHINES["belt-axis"]
        longer = replace(machine, axes=(machine.axes[0].changed(travel_mm=2500.0),))
        assert machine_picture(machine).digest != machine_picture(longer).digest

    def test_every_axis_is_drawn(self):
        words = " ".join(Svg(machine_picture(MANY).svg()).words)
        assert all(f"{name} 300" in words or name in words.split() for name in "XYUVWZ")


class TestIndex:
    """Phase and pitch to scale; a bad place stands out in words."""

    def test_words(self):
        words = Svg(index_picture(PLACES["near"]).svg()).words
        assert any(word.startswith("wrong index: 50") for word in words)
        assert "next index" in words

    def test_advice_is_told(self):
        assert "against the direction of the search" in index_picture(PLACES["near"]).text
        assert "Leave the flag" in index_picture(PLACES["good"]).text
