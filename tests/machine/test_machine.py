"""The machine file, with the further keys that the worked axes of docs/travel.md and docs/budget.md need."""

import re
from dataclasses import fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdzero.errors import InputError
from holdzero.form.wording import _UNSEEN
from holdzero.inputs.machine import (
    AXIS_GROUPS,
    AXIS_KEYS,
    MACHINE_KEYS,
    REQUIREMENT_KEYS,
    Axis,
    Machine,
    Requirement,
    machine_from,
    read_machine,
    write_machine,
)
from holdzero.inputs.machine.values import GROUP_OF

FILE = """
[machine]
name = "Plywood router"

[requirement]
squareness = "0.10 mm over 600 mm"
position = "0.05 mm"
risk = "1 in 1000"

[axes.Y]
travel = "1300 mm"
motors = 2
drive_distance = "980 mm"
lead = "10 mm"
full_steps = 200
microsteps = 16
creep_speed = "2 mm/s"

[axes.X]
lead = "40 mm"
"""


def test_the_file_of_the_contract():
    machine = read_machine(FILE, where="machine.toml")
    assert (machine.name, machine.notes) == ("Plywood router", ())
    assert machine.requirement == Requirement(
        squareness_mm=0.1, squareness_over_mm=600, position_mm=0.05, risk=0.001, datum_homings=None
    )
    y = machine.axis("Y")
    assert (y.travel_mm, y.motors, y.drive_distance_mm, y.drive.lead_mm) == (1300, 2, 980, 10)
    assert (y.drive.full_steps, y.drive.microsteps, y.speeds.creep_speed_mm_s) == (200, 16, 2)
    assert [axis.name for axis in machine.axes] == ["Y", "X"]
    assert machine.axis("X").motors == 1
    with pytest.raises(KeyError):
        machine.axis("Z")


def test_the_screw_axis_as_a_file():
    """The screw axis of docs/travel.md: all that its checks need."""
    y = read_machine(
        """
        [axes.Y]
        limit_trip = "6 mm"
        home_trip = "12 mm"
        approach_speed = "40 mm/s"
        creep_speed = "2 mm/s"
        top_speed = "150 mm/s"
        acceleration = "800 mm/s2"
        jerk = "8000 mm/s3"
        delay = "12 ms"
        moving_mass = "28 kg"
        rotor_inertia = "1.2e-4 kg m2"
        lead = "10 mm"
        friction = "40 N"
        thrust = "600 N"
        bumper_stroke = "5 mm"
        differential_travel = "0.3 mm +- 0.2 mm"
        back_off = "5 mm"
        back_off_from = "rest"
        flag_home = "14 mm"
        flag_limit = "8 mm"
        """
    ).axis("Y")
    assert (y.places.limit_trip_mm, y.places.home_trip_mm, y.places.flag_home_mm, y.places.flag_limit_mm) == (
        6,
        12,
        14,
        8,
    )
    assert (y.speeds.approach_speed_mm_s, y.speeds.creep_speed_mm_s, y.speeds.top_speed_mm_s) == (40, 2, 150)
    assert (y.speeds.acceleration_mm_s2, y.speeds.jerk_mm_s3, y.reaction.delay_s) == (800, 8000, 0.012)
    assert (y.moving.moving_mass_kg, y.moving.rotor_inertia_kg_m2, y.moving.friction_n, y.moving.thrust_n) == (
        28,
        1.2e-4,
        40,
        600,
    )
    assert (y.places.differential_travel_mm, y.places.differential_travel_half_width_mm) == (0.3, 0.2)
    assert (y.places.back_off_mm, y.places.back_off_from, y.moving.bumper_stroke_mm) == (5, "rest", 5)


def test_the_gantry_as_a_file():
    """The gantry of docs/budget.md: what it needs beyond the screw axis."""
    y = read_machine(
        """
        [axes.Y]
        switch_spread = "3 um"
        delay_jitter = "0.1 ms"
        poll = "1 ms"
        supply_drift = "0.5 um/V"
        supply_variation = "+- 0.5 V"
        trip_drift = "1 um/K"
        temperature = "20 degC +- 5 K"
        side_temperature = "+- 0.5 K"
        growth_length = "300 mm"
        growth_coefficient = "11.5e-6/K +- 2e-6/K"
        """
    ).axis("Y")
    assert (y.influences.switch_spread_mm, y.reaction.delay_jitter_s, y.reaction.poll_s) == (0.003, 1e-4, 0.001)
    assert (y.influences.supply_drift_mm_v, y.influences.supply_variation_v, y.influences.trip_drift_mm_k) == (
        0.0005,
        0.5,
        0.001,
    )
    assert (y.temperature_low_degc, y.temperature_high_degc, y.influences.side_temperature_k) == (15, 25, 0.5)
    assert (y.influences.growth_length_mm, y.influences.growth_per_k, y.influences.growth_half_width_per_k) == (
        300,
        11.5e-6,
        2e-6,
    )


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[axes.Y]\nlead = '10 V'", '^machine.toml, axes.Y.lead: found "10 V", a voltage; needed is a length'),
        ("[axes.Y]\nmotors = 3", "axes.Y.motors: found 3; needed is 1 or 2 motors"),
        ("[axes]\nY = 1", r"axes.Y: found 1; needed is a table \[axes.Y\]"),
        ("axes = 1", r"axes: found 1; needed is a table \[axes\]"),
        ("[machine]\nname = 'x'", "found no axis"),
        ("".join(f"[axes.A{i}]\n" for i in range(101)), "found 101 axes; needed is at most 100 of one machine"),
        ("[axes.Y]\n[requirement]\nrisk = '5'", 'requirement.risk: .*did you mean "5 %"'),
        ("[axes.Y]\n[requirement]\nrisk = 0", "risk above zero"),
        ("[axes.Y]\n[requirement]\nrisk = '1 in 1'", "below 1"),  # it may always miss
        ("[axes.Y]\nlead = '1e-200 mm'", "lead above zero; give its size"),  # it divides
        ("[axes.Y]\nlead = '1e200 mm'", "too large"),
        ("[axes.Y]\n[requirement]\nsquareness = '0.1 mm'", "a limit over a length"),
        ("[axes.Y]\ntemperature = '30 to 15 degC'", "larger end first"),
        ("[axes.Y]\nlead = 10 mm", "line 2"),
    ],
)
def test_what_is_wrong_names_file_and_key(text, says):
    with pytest.raises(InputError, match=says):
        read_machine(text, where="machine.toml")


def test_unknown_keys_are_kept_and_noted():
    machine = read_machine(FILE + "leed = '5 mm'\n[axis.Z]\nlead = '5 mm'\n", where="m.toml")
    assert machine.notes == (
        "m.toml, axis is kept but not used; did you mean axes.",
        "m.toml, axes.X.leed is kept but not used; did you mean lead.",
    )
    assert machine.axis("X").entered["leed"] == "5 mm"
    assert "leed" in write_machine(machine)


def test_a_form_is_read_like_a_file():
    entered = {"axes": {"Y": {"lead": "0,5 in", "motors": "2", "microsteps": ""}}, "machine": {"name": ""}}
    machine = machine_from(entered)
    assert machine.axis("Y") == Axis.of("Y", lead_mm=12.7, motors=2, entered=entered["axes"]["Y"])
    assert machine.name == "machine"


TABLES = [(MACHINE_KEYS, Machine), (REQUIREMENT_KEYS, Requirement), (AXIS_KEYS, Axis)]


@pytest.mark.parametrize(("keys", "value_class"), TABLES)
def test_each_field_has_a_key_and_each_key_a_field(keys, value_class):
    made_elsewhere = {"entered", "notes", "axes", "requirement"} | ({"name"} if value_class is Axis else set())
    filled = [name for key in keys for name in key.fields]
    groups = set(GROUP_OF.values()) if value_class is Axis else set()
    own = {each.name for each in fields(value_class)} - made_elsewhere - groups
    assert sorted(filled) == sorted([*own, *(GROUP_OF if value_class is Axis else ())])


def test_the_axis_is_grouped_as_its_form():
    """One group of values for each group of keys, and no name in two groups."""
    of_title = {
        title: {GROUP_OF.get(f) for key in keys for f in key.fields} for title, keys in AXIS_GROUPS.items()
    }
    assert of_title.pop("Axis") == {None}
    assert all(len(groups) == 1 for groups in of_title.values())
    assert len({group for groups in of_title.values() for group in groups}) == len(of_title)
    assert len(GROUP_OF) == sum(len(fields(getattr(Axis(name="Y"), group))) for group in set(GROUP_OF.values()))


def test_values_are_found_by_their_names():
    axis = Axis.of("Y", motors=2, lead_mm=10.0).changed(creep_speed_mm_s=2.0, lead_mm=5.0)
    assert (axis.motors, axis.drive.lead_mm, axis.speeds.creep_speed_mm_s) == (2, 5.0, 2.0)
    assert (axis.value("motors"), axis.value("lead_mm"), axis.value("jerk_mm_s3")) == (2, 5.0, None)
    with pytest.raises(TypeError, match="lead"):
        axis.changed(lead=5.0)


@pytest.mark.parametrize(("keys", "value_class"), TABLES)
def test_each_example_can_be_entered(keys, value_class):
    for key in keys:
        assert len(key.read(key.example, key.name)) == len(key.fields)
        assert re.match(r"[A-Z].*[^.]$", key.meaning)


entered_axes = st.fixed_dictionaries({}, optional={key.name: st.just(key.example) for key in AXIS_KEYS})


@given(
    st.dictionaries(
        st.text(st.characters(codec="utf-8"), max_size=4).filter(lambda name: not _UNSEEN.search(name)),
        entered_axes,
        min_size=1,
        max_size=3,
    )
)
def test_written_files_read_back_equal(axes):
    machine = machine_from({"machine": {"name": "R"}, "requirement": {"risk": "1 in 500"}, "axes": axes})
    assert read_machine(write_machine(machine)) == machine


def test_a_key_by_its_first_name_is_read_and_written_by_the_present_one():
    """`planner` was what `controller_delay` is; where both are said the present one counts."""
    machine = read_machine('[axes.Y]\nplanner = "2 ms"\n')
    assert machine.axis("Y").reaction.controller_s == 0.002
    assert 'controller_delay = "2 ms"' in write_machine(machine)
    both = read_machine('[axes.Y]\nplanner = "2 ms"\ncontroller_delay = "3 ms"\n')
    assert both.axis("Y").reaction.controller_s == 0.003
    assert any("planner" in note for note in both.notes)
