"""The edge delay of the circuit as entered counts wherever a delay does, and not one assumed for any circuit."""

import pytest

from holdzero.case import Case, Texts

MACHINE = """[machine]
name = "m"
[requirement]
position = "0.05 mm"
[axes.X]
travel = "300 mm"
creep_speed = "5 mm/s"
approach_speed = "50 mm/s"
top_speed = "100 mm/s"
acceleration = "500 mm/s2"
filter = "1 ms"
response = "1 ms"
poll = "1 ms"
controller_delay = "1 ms"
home_trip = "30 mm"
limit_trip = "5 mm"
"""
WIRING = """[supply]
voltage = "24 V"
[sensor]
output = "dry contact"
contact = "NC"
[input]
kind = "logic"
supply = "5 V"
pull_up = "{pull_up}"
filter = "{filter}"
v_il = "0.8 V"
v_ih = "2.4 V"
[cable]
length = "5 m"
section = "0.25 mm2"
"""
SENSORS = '[sensors.A]\nprice = 10\novertravel = "0.8 mm"\n'
READINGS = "sensor,axis,set,homing,deviation_mm\n" + "".join(
    f"A,X,{i},{j},{0.001 * ((i * 7 + j * 3) % 5 - 2):.3f}\n" for i in range(1, 9) for j in range(1, 6)
)


def on_axis(**circuit: str):
    files = {"machine": MACHINE, "sensors": SENSORS, "readings": READINGS}
    return Case(Texts(files=files | ({"wiring": WIRING.format(**circuit)} if circuit else {}))).on("X")


def test_a_slow_edge_lengthens_every_way_by_speed_times_delay():
    """By hand: v t more, at 50 mm/s to the home trip and at 100 mm/s to the limit."""
    without, slow = on_axis(), on_axis(pull_up="100 kohm", filter="1 uF")
    edge_s = slow.axis.reaction.edge_delay_s
    assert without.axis.reaction.edge_delay_s is None
    assert 0.04 < edge_s < 0.2  # RC = 0.1 s
    used = [
        {check["check"]: check["uses_mm"] for check in axis.travel.as_json()["checks"]} for axis in (without, slow)
    ]
    for check, speed_mm_s in (("home_overtravel", 50), ("limit_overtravel", 100)):
        assert used[1][check] - used[0][check] == pytest.approx(speed_mm_s * edge_s, rel=1e-6)
    (reason,) = slow.choice.candidates[0].ruled_out
    assert f"{used[0]['home_overtravel'] + 50 * edge_s:.2f} mm" in reason.replace("\u202f", " ")


def test_a_quick_circuit_changes_next_to_nothing():
    quick = on_axis(pull_up="1 kohm", filter="1 nF")
    assert quick.axis.reaction.edge_delay_s == pytest.approx(1.5e-6, abs=1e-6)


def test_what_the_machine_states_comes_first():
    stated = MACHINE + 'edge_delay = "3 ms"\n'
    files = {"machine": stated, "sensors": SENSORS, "wiring": WIRING.format(pull_up="100 kohm", filter="1 uF")}
    assert Case(Texts(files=files)).on("X").axis.reaction.edge_delay_s == pytest.approx(3e-3)
