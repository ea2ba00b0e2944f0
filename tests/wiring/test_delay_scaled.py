"""Delays of one circuit against those of another that must be as long, or so many times as long."""

import pytest

from holdzero.compute.wiring import assess, circuits_from

CONTACT = {"output": "dry contact", "contact": "NC", "contact_resistance": "0.2 ohm"}
CABLE = {"length": "50 m", "section": "0.25 mm2"}


def delay(sensor, controller_input, cable=None):
    (circuit,) = circuits_from(
        {"sensor": sensor, "input": controller_input, **({"cable": cable} if cable else {})}
    )
    return assess(circuit).delay


def times(edge):
    return [edge.trip_s, edge.trip_longest_s, edge.release_s, edge.release_longest_s]


def pin(filter_nf, **keys):
    return {
        "kind": "logic", "supply": "3.3 V", "pull_up": "10 kohm", "series_resistor": "1 kohm",
        "filter": f"{filter_nf} nF", "v_il": "1 V", "v_ih": "2.2 V", **keys,
    }  # fmt: skip


def opto(filter_nf, common="minus", **keys):
    return {
        "kind": "opto", "common": common, "series_resistor": "2.2 kohm", "filter": f"{filter_nf} nF",
        "filter_resistor": "1 kohm", "i_on": "3 mA", "i_off": "1 mA", **keys,
    }  # fmt: skip


@pytest.mark.parametrize("make", [pin, opto])
def test_three_times_the_farads_three_times_the_time(make):
    small, large = delay(CONTACT, make(100)), delay(CONTACT, make(300))
    assert times(large) == pytest.approx([3 * time for time in times(small)], rel=1e-6)
    assert (large.trip_slew, large.release_slew) == pytest.approx((small.trip_slew / 3, small.release_slew / 3))


def test_two_capacitors_three_times_as_large():
    """Cable and filter together: stepped through time, with steps that are in proportion."""
    small = delay(CONTACT, pin(10), CABLE | {"capacitance": "100 pF/m"})
    large = delay(CONTACT, pin(30), CABLE | {"capacitance": "300 pF/m"})
    assert times(large) == pytest.approx([3 * time for time in times(small)], rel=1e-5)


@pytest.mark.parametrize("small", ["cable", "filter"])
def test_a_capacitor_of_next_to_nothing_adds_next_to_nothing(small):
    """Stepped with both, and in one integral with the other alone; 1 kohm and 1 pF are 1 ns."""
    tiny, large = CABLE | {"capacitance": "0.1 pF/m"}, CABLE | {"capacitance": "300 pF/m"}
    if small == "cable":
        both, alone = delay(CONTACT, pin(10), tiny), delay(CONTACT, pin(10), CABLE | {"capacitance": "0 F"})
    else:
        unfiltered = {key: value for key, value in pin(1).items() if key != "filter"}
        both, alone = delay(CONTACT, pin(1e-3), large), delay(CONTACT, unfiltered, large)
    assert times(both) == pytest.approx(times(alone), rel=2e-3, abs=1.5e-9)


def test_mirrored_sides_are_as_late():
    """An NPN that sinks from a coupler at + and a PNP that feeds one at 0 V."""
    npn = delay({"output": "NPN", "contact": "NC"}, opto(220, common="plus"))
    pnp = delay({"output": "PNP", "contact": "NC"}, opto(220, common="minus"))
    assert times(npn) == pytest.approx(times(pnp), rel=2e-2)


@pytest.mark.parametrize(
    ("make", "keys", "step", "edge"),
    [
        (pin, ("threshold_rising", "threshold_falling", "V", (1.9, 1.3)), 0.02, "V/s"),
        (opto, ("i_on", "i_off", "mA", (3.0, 1.0)), 0.02, "A/s"),
    ],
)
def test_slew_is_what_a_level_a_little_off_costs(make, keys, step, edge):
    """Time to two levels a little apart, and the quotient."""
    up_key, down_key, unit, (up, down) = keys
    scale = 1e-3 if unit == "mA" else 1.0

    def at(shift):
        return delay(CONTACT, make(220, **{up_key: f"{up + shift} {unit}", down_key: f"{down + shift} {unit}"}))

    low, middle, high = at(-step), at(0.0), at(step)
    assert middle.slew_unit == edge
    trip = 2 * step * scale / abs(high.trip_s - low.trip_s)
    release = 2 * step * scale / abs(high.release_s - low.release_s)
    assert (middle.trip_slew, middle.release_slew) == pytest.approx((trip, release), rel=0.03)


@pytest.mark.parametrize("contact", ["NC", "NO"])
def test_an_input_of_type_3_by_its_own_line(contact):
    """The slow edge is the contact opening: as long at the corners as nominal or longer, and in proportion."""
    sensor = {**CONTACT, "contact": contact}
    once = delay(sensor, {"kind": "IEC 61131-2 type 3"}, CABLE | {"capacitance": "100 pF/m"})
    twice = delay(sensor, {"kind": "IEC 61131-2 type 3"}, CABLE | {"capacitance": "200 pF/m"})
    late = delay(sensor, {"kind": "IEC 61131-2 type 3", "filter": "3 ms"}, CABLE | {"capacitance": "100 pF/m"})
    assert times(twice) == pytest.approx([2 * time for time in times(once)], rel=1e-6, abs=1e-15)
    assert times(late) == pytest.approx([3e-3 + time for time in times(once)])
    assert once.trip_longest_s >= once.trip_s
    assert once.release_longest_s >= once.release_s
    opening = once.trip_s if contact == "NC" else once.release_s
    assert opening > 10 * (once.release_s if contact == "NC" else once.trip_s)
