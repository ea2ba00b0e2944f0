"""Pictures of the manual: drawn from the demo's own figures when a page asks for them, so none is out of date."""

from collections.abc import Callable, Mapping
from functools import cache

from holdzero import demo
from holdzero.case.basis import How, Texts
from holdzero.case.case import Case
from holdzero.chart import Picture
from holdzero.chart.distribution import distribution_picture
from holdzero.chart.indicator import indicator_picture
from holdzero.chart.machine import machine_picture
from holdzero.chart.of_choice import choice_pictures
from holdzero.chart.opening import opening
from holdzero.chart.readings import readings_picture
from holdzero.chart.square import method_picture, squaring_picture
from holdzero.chart.travel import travel_picture
from holdzero.chart.watch import watch_picture
from holdzero.chart.wiring import diagram
from holdzero.chart.wiring_bench import bench_tests

AXIS = "Y"
_INKS = (
    "<style>svg{color:#1b2127;--paper:#fbfaf5;--accent:#ad3f14;background:#fbfaf5}"
    "@media (prefers-color-scheme:dark){"
    "svg{color:#e8e5dc;--paper:#13191f;--accent:#ff9d66;background:#13191f}}</style>"
)  # an image knows no style sheet but its own: the tokens of web/static/holdzero.css, which a test compares


def picture_file(name: str) -> bytes:
    """Return a picture as an SVG file that follows light and dark; `-narrow` is the layout for a phone.

    Raises
    ------
    KeyError
        No picture has this name.
    """
    base = name.removesuffix(".svg")
    narrow = base.endswith("-narrow")
    picture = _drawn(base.removesuffix("-narrow"))
    head, mark, rest = picture.svg(narrow=narrow).partition("<title>")
    return f"{head}{_INKS}{mark}{rest}".encode()


def picture_names() -> tuple[str, ...]:
    """Return the names that a page may ask for."""
    return tuple(_PICTURES)


@cache
def _drawn(name: str) -> Picture:
    picture = _PICTURES[name]()
    return picture if name in _OF_NO_MACHINE else picture.marked("Invented example.")


@cache
def _case() -> Case:
    files = {
        "machine": demo.machine_toml(),
        "sensors": demo.sensors_toml(),
        "readings": demo.readings_csv(),
        "wiring": demo.wiring_toml(),
        "square": demo.square_toml(),
        "log": demo.log_csv(),
        "watch": demo.watch_toml(),
    }
    return Case(Texts(files=files, how=How(axis=AXIS, invented=demo.INVENTED)))


def _series(sensor: str, draw: Callable[..., Picture]) -> Picture:
    findings = _case().study.of(sensor, AXIS, "L")
    assert findings is not None  # the demo tried it there
    return draw(findings)


@cache
def _of_choice() -> Mapping[str, Picture]:
    return choice_pictures(_case().chosen, _case().study, _case().machine)


def _travel() -> Picture:
    rail = _case().on(AXIS).travel
    assert rail is not None
    return travel_picture(rail)


def _squared() -> Picture:
    squaring = _case().squared
    assert squaring is not None
    return squaring_picture(squaring)


def _watched() -> Picture:
    watched = _case().watched
    assert watched is not None
    return watch_picture(next(row for row in watched.rows if row.logged.charted))


_OF_NO_MACHINE = ("opening", "indicator", "bench", "diagonals")
_PICTURES: dict[str, Callable[[], Picture]] = {
    "opening": opening,
    "machine": lambda: machine_picture(_case().machine),
    "indicator": lambda: indicator_picture(sides=("L", "R"), axis=AXIS),
    "readings": lambda: _series(demo.WINNER, readings_picture),
    "on-steps": lambda: _series(demo.ON_STEPS, readings_picture),
    "strays": lambda: _series(demo.STRAYS, readings_picture),
    "warming": lambda: _series(demo.WARMING, readings_picture),
    "distribution": lambda: _series(demo.WINNER, distribution_picture),
    "comparison": lambda: _of_choice()["comparison"],
    "gantry": lambda: _of_choice()["gantry"],
    "share": lambda: _of_choice()["share"],
    "travel": _travel,
    "wiring": lambda: diagram(next(circuit for circuit in _case().all_circuits if circuit.circuit)),
    "bench": bench_tests,
    "diagonals": lambda: method_picture("diagonals"),
    "squared": _squared,
    "watch": _watched,
}
