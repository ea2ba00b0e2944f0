"""What an answer needs is told from the figures there are, and is enough."""

import itertools

import pytest

from holdzero.case import Case, Texts
from holdzero.case.lacking import needed_for
from holdzero.compute.travel import stop_needs, travel
from holdzero.form import write_toml
from holdzero.inputs.machine import AXIS_KEYS, machine_from
from holdzero.tell.lacking import tell_needed

KEYS = {key.name: key for key in AXIS_KEYS}


def on(document, name="Y"):
    return Case(Texts(files={"machine": write_toml(document)})).on(name)


@pytest.mark.parametrize(
    ("motors", "squareness", "position", "apart"),
    list(itertools.product((1, 2), ("", "0.1 mm over 600 mm"), ("", "0.05 mm"), ("", "980 mm"))),
)
def test_the_spread_is_said_to_be_missing_just_where_it_cannot_be_had(motors, squareness, position, apart):
    asked = {"squareness": squareness, "position": position}
    on_axis = on({"requirement": asked, "axes": {"Y": {"motors": motors, "drive_distance": apart}}})
    spread = needed_for(on_axis)[0]
    assert spread.known == (on_axis.allowed is not None)
    if spread.missing == ("drive_distance",):
        assert "drive_distance" in on_axis.allowed_missing.found


@pytest.mark.parametrize("built", [{}, {"limit_switch": "none"}, {"limit_switch": "shared"}, {"motors": "2"}])
def test_the_keys_of_stopping_are_enough_and_none_is_too_many(built):
    """By another way: with all of them both checks are judged, with any one left out not both are."""
    bare = on({"axes": {"Y": built}}).axis
    needs = stop_needs(bare)
    assert "home_trip" in needs
    assert ("limit_trip" in needs) == ("limit_switch" not in built)
    full = built | {name: KEYS[name].example for name in needs}

    def judged(keys) -> bool:
        checks = travel(machine_from({"axes": {"Y": keys}}).axes[0])
        asked = ["home_overtravel"] + ["limit_overtravel"] * (built.get("limit_switch") != "none")
        return all(checks[name].ok is not None for name in asked)

    assert judged(full)
    for name in needs:
        assert not judged({key: text for key, text in full.items() if key != name})


def test_an_axis_that_may_fall_is_asked_which_way_before_it_stops():
    places = {"home_trip": "12 mm", "limit_trip": "6 mm", "delay": "9 ms", "top_speed": "20 mm/s"}
    rail = places | {"approach_speed": "9 mm/s", "acceleration": "500 mm/s2"}
    for name, keys, unsaid in (
        ("Y", rail, False),
        ("Z", rail, True),
        ("Y", rail | {"moves": "head"}, True),
        ("Z", rail | {"gravity": "level"}, False),
    ):
        on_axis = on({"requirement": {"position": "0.05 mm"}, "axes": {name: keys}}, name)
        stops = needed_for(on_axis)[1]
        assert stops.missing == (("gravity",) if unsaid else ())
        part = next(part for part in on_axis.case.standings.axes[0].parts if part.part == "travel")
        assert part.answer == ("not known" if unsaid else "good")
        assert tell_needed(stops, name).startswith("To know" if unsaid else "Whether")


def test_what_the_trial_shows_is_not_asked_for():
    budget = needed_for(on({"axes": {"Y": {}}}))[2]
    assert "growth_length" in budget.missing
    assert "switch_spread" not in budget.keys
    given = {"growth_length": "300 mm", "growth_material": "steel", "temperature": "15 degC to 30 degC"}
    after = needed_for(on({"axes": {"Y": given}}))[2]
    assert "growth_length" in after.keys  # it stays where it was typed
    assert "growth_length" not in after.missing
