"""The reference of keys is made from the tables that read the files, and nothing in it is empty."""

import os
from pathlib import Path

import pytest
from click.testing import CliRunner

from holdzero.cli.keys import command
from holdzero.compute.capture import CAPTURE_KEYS
from holdzero.compute.square import keys as square
from holdzero.compute.wiring import TAP_KEYS
from holdzero.compute.wiring.keys import WIRING_KEYS
from holdzero.errors import InputError
from holdzero.form import Key
from holdzero.inputs import sensor
from holdzero.inputs.log import SETTING_KEYS
from holdzero.inputs.machine import AXIS_KEYS, MACHINE_KEYS, REQUIREMENT_KEYS
from holdzero.quantity import KINDS
from holdzero.report.key_reference import HEAD, key_groups

INTRO = """\
# Keys

Every key that a machine, sensors, wiring, squaring or watch file or the map of a capture may hold. The pages
ask for the same keys under the same names. `holdzero keys WORD` shows those with a word in their name or
meaning. This page is made from the tables that read the files, and a test compares the two.

The unit is the one that a form shows, metric and inch; a file takes any unit of its kind. Lengths along an axis
count from the hard stop at the homing end into the work.
"""
PAGE = Path(__file__).parents[2] / "docs" / "keys.md"
TABLES: dict[str, tuple[Key, ...]] = {
    "machine": MACHINE_KEYS,
    "requirement": REQUIREMENT_KEYS,
    "axis": AXIS_KEYS,
    "sensor": sensor.KEYS,
    **{f"wiring {name}": keys for name, keys in WIRING_KEYS.items()},
    "square": square.SETUP_KEYS,
    "round": square.ROUND_KEYS,
    **{f"round by {name}": keys for name, keys in square.METHOD_KEYS.items()},
    "hole": square.HOLE_KEYS,
    "place": square.PLACE_KEYS,
    "distance": square.DISTANCE_KEYS,
    "watch": SETTING_KEYS,
    "capture": CAPTURE_KEYS,
    "tap": TAP_KEYS,
}
EVERY = [pytest.param(key, id=f"{table}: {key.name}") for table, keys in TABLES.items() for key in keys]


@pytest.mark.parametrize("key", EVERY)
def test_every_key_says_what_it_means_and_how_to_write_it(key: Key):
    assert key.meaning.strip()
    assert not key.meaning.endswith(".")
    assert key.example.strip()
    assert len(key.read(key.example, key.name)) == len(key.fields)
    if key.kind:
        assert key.kind in KINDS


def test_every_key_of_every_table_stands_in_it_once():
    rows = [(row.name, row.meaning) for group in key_groups() for row in group.rows]
    assert sorted(rows) == sorted((key.name, key.meaning) for keys in TABLES.values() for key in keys)


def test_no_two_places_of_the_page_have_one_name():
    anchors = [group.anchor for group in key_groups()]
    assert len(anchors) == len(set(anchors))


def as_markdown() -> str:
    """The reference as a page of the manual."""
    parts = [INTRO]
    before = ""
    for group in key_groups():
        if group.file != before:
            parts.append(f"\n## {group.file}\n")
        before = group.file
        at = f" `{group.table}`" if group.table else ""
        parts.append(f"\n### {group.title}{at}\n\n| {' | '.join(HEAD)} |\n|{'---|' * len(HEAD)}\n")
        for row in group.rows:
            name, *rest = (cell.replace("|", "\\|") for cell in row.cells)
            parts.append(f"| `{name}` | {' | '.join(rest)} |\n")
    return "".join(parts)


def test_the_page_of_the_manual_is_what_the_tables_say():
    """Run with HOLDZERO_WRITE_DOCS=1 to write the page anew."""
    if os.environ.get("HOLDZERO_WRITE_DOCS") == "1":
        PAGE.write_text(as_markdown(), encoding="utf-8")
    assert PAGE.read_text(encoding="utf-8") == as_markdown()


def test_a_row_holds_unit_sign_and_example():
    (group,) = key_groups("natural_angle")[:1]
    assert group.rows[0].cells == (
        *("natural_angle", "Angle out of square that the guides would take by themselves"),
        *("mrad", "plus or minus", "0.3 mrad"),
    )
    rows = {row.name: row for group in key_groups() for row in group.rows}
    assert (rows["lead"].unit, rows["index_shift"].sign, rows["approach_speed"].unit) == (
        *("mm or in", "zero or above"),
        "mm/s or in/min",
    )
    assert "back" in rows["index_search"].cells[-1]


def test_a_word_finds_its_keys():
    result = CliRunner().invoke(command, ["bumper"])
    assert result.exit_code == 0
    assert "bumper_stroke" in result.output
    assert "bumper_energy" in result.output
    assert "approach_speed" not in result.output
    assert {row.name for group in key_groups("two sides") for row in group.rows} >= {"overhang", "start_skew"}


def test_a_word_that_no_key_has_is_refused_with_what_may_be_meant():
    with pytest.raises(InputError, match="bumper_stroke"):
        key_groups("bumper_stroek")
