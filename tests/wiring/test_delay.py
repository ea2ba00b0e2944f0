"""Delay to threshold: closed form and ngspice."""

from itertools import pairwise
from math import log

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

import spice
from holdzero.compute.wiring import assess, circuits_from
from holdzero.compute.wiring.cases import Bench, Cases
from holdzero.compute.wiring.netlist import netlist
from holdzero.tell.wiring import delay_of

SCHMITT = {
    "kind": "logic",
    "supply": "3.3 V +- 0.01 %",
    "pull_up": "10 kohm",
    "series_resistor": "1 kohm",
    "filter": "100 nF",
    "v_il": "1.0 V",
    "v_ih": "2.2 V",
    "threshold_rising": "1.9 V +- 0.3 V",
    "threshold_falling": "1.3 V",
}
CONTACT = {"output": "dry contact", "contact": "NC", "contact_resistance": "0.2 ohm"}


def delay(**circuit):
    (one,) = circuits_from(circuit)
    return assess(one).delay


class TestFilteredContact:
    """10 k to 3.3 V at the terminal, 1 k, 100 nF at the pin, Schmitt 1.9 / 1.3 V: 93.18 / 943.17 us."""

    def test_both_edges(self):
        found = delay(sensor=CONTACT, input=SCHMITT)
        assert found.release_s * 1e6 == pytest.approx(93.18, rel=3e-4)  # closes; the open contact leaks 100 Mohm
        assert found.trip_s * 1e6 == pytest.approx(943.17, rel=3e-4)

    def test_slew_where_it_crosses(self):
        """(3.3 - 1.9) / 1.1 ms = 1273 V/s: 5 mV of noise are 3.9 us."""
        assert delay(sensor=CONTACT, input=SCHMITT).trip_slew == pytest.approx(1273, rel=2e-3)

    def test_longest_over_the_corners(self):
        """R +5 %, C +10 %, V_T+ 2.2 V: 1.40 ms; here the pin's 10 uA through 11.55 k hold it back too."""
        end = 3.3 - 10e-6 * 11.55e3
        expected = 11.55e3 * 110e-9 * log(end / (end - 2.2))
        assert 11.55e3 * 110e-9 * log(3.3 / 1.1) * 1e3 == pytest.approx(1.40, abs=0.005)
        assert delay(sensor=CONTACT, input=SCHMITT).trip_longest_s == pytest.approx(expected, rel=2e-3)

    def test_low_is_below_the_least_v_t_plus_too(self):
        """V_T+ 0.6 V at least and no V_T- stated: low is not 1 V of V_IL but 0.6 V, by 1 kohm and 100 nF."""
        pin = {key: value for key, value in SCHMITT.items() if key != "threshold_falling"}
        found = delay(sensor=CONTACT, input=pin | {"threshold_rising": "0.9 V +- 0.3 V"})
        assert found.release_s == pytest.approx(1000.2 * 100e-9 * log(3.3 / 0.6), rel=1e-3)

    def test_with_no_the_fast_edge_trips(self):
        found = delay(sensor={**CONTACT, "contact": "NO"}, input=SCHMITT)
        assert found.trip_s < found.release_s / 5

    @pytest.mark.parametrize(("farad", "said"), [("92 nF", "1.4"), ("100 nF", "1.5"), ("101 nF", "1.6")])
    def test_at_most_is_rounded_up(self, farad, said):
        """1.491 ms with 100 nF and 1.506 ms with 101 nF: the time goes with the farads."""
        assessment = assess(*circuits_from({"sensor": CONTACT, "input": SCHMITT | {"filter": farad}}))
        assert f"tripping at most {said}\u202fms" in delay_of(assessment)
        assert float(said) * 1e-3 - 0.1e-3 < assessment.delay.trip_longest_s <= float(said) * 1e-3


def test_cable_alone():
    """10 k, 1.5 nF of cable, 5 V, to 3.5 V; a contact of 5 ohm, so that it starts at 2.5 mV: 18.0521 us."""
    found = delay(
        sensor={**CONTACT, "contact_resistance": "5 ohm"},
        input={"kind": "logic", "supply": "5 V", "pull_up": "10 kohm", "v_il": "1.5 V", "v_ih": "3.5 V"},
        cable={"length": "10 m", "capacitance": "150 pF/m"},
    )
    assert found.trip_s * 1e6 == pytest.approx(18.0521, rel=2e-4)


@pytest.mark.parametrize(
    ("kind", "on_v", "bends"),
    [
        (1, 15, ((24, 6.4e-3), (15, 4e-3), (5, 4e-3 / 3))),
        (2, 11, ((24, 7e-3 + 13e-3 / 19), (11, 7e-3), (5, 2.4e-3))),
        (3, 11, ((24, 2.6e-3 + 13 * 0.4e-3 / 19), (11, 2.6e-3), (5, 1.8e-3))),
    ],
)
def test_an_iec_input_by_its_own_curve(kind, on_v, bends):
    """1 nF down to 5 V through the straight pieces of the curve; up through contact, two cores and the supply."""
    found = delay(
        supply={"voltage": "24 V"},
        sensor=CONTACT,
        input={"kind": f"IEC 61131-2 type {kind}"},
        cable={"length": "10 m", "section": "0.25 mm2", "capacitance": "100 pF/m"},
    )
    down_s = sum(
        1e-9 * (high_v - low_v) * log(high_a / low_a) / (high_a - low_a)
        for (high_v, high_a), (low_v, low_a) in pairwise(bends)
    )
    assert found.trip_s == pytest.approx(down_s, rel=1e-3)
    assert found.release_s == pytest.approx((0.2 + 2 * 0.79 + 0.05) * 1e-9 * log(24 / (24 - on_v)), rel=5e-3)
    assert found.slew_unit == "V/s"


def test_a_level_just_below_where_it_starts():
    """3.28 V of 3.3 V: 1 kohm x 100 nF x ln(3.3/3.28)."""
    near = SCHMITT | {"threshold_rising": "3.29 V", "threshold_falling": "3.28 V"}
    found = delay(sensor=CONTACT, input=near)
    assert found.release_s == pytest.approx(1000.2 * 100e-9 * log(3.3 / 3.28), rel=0.02)


def test_a_corner_that_is_there_already_is_not_the_longest():
    """A worn contact leaves 0.76 V of 3.3 V, above V_T+ of 0.6 V at most: the longest is that of the good one."""
    pin = SCHMITT | {"threshold_rising": "0.55 V +- 0.05 V", "threshold_falling": "0.5 V", "v_il": "0.5 V"}
    found = delay(sensor=CONTACT | {"contact_resistance": "0.2 ohm to 3 kohm"}, input=pin)
    end = 3.3 - 10e-6 * 11.55e3
    assert found.trip_longest_s == pytest.approx(11.55e3 * 110e-9 * log(end / (end - 0.6)), rel=4e-3)


def test_a_led_that_bends_on_the_way():
    """24 V contact, 1 k, 220 nF, 2.2 k + LED: on at 3 mA in two pieces, off at 1 mA: 93.22 / 956.69 us.

    The open contact (100 Mohm) lets the capacitor start at 27 mV: 0.25 us less to charge.
    """
    found = delay(
        sensor={**CONTACT, "contact": "NO"},
        input={
            "kind": "opto",
            "common": "minus",
            "series_resistor": "2.2 kohm",
            "filter": "220 nF",
            "filter_resistor": "1 kohm",
            "i_on": "3 mA",
            "i_off": "1 mA",
        },
    )
    assert found.trip_s * 1e6 == pytest.approx(93.22 - 0.25, abs=0.05)
    assert found.release_s * 1e6 == pytest.approx(956.69, rel=3e-4)
    assert found.slew_unit == "A/s"


def test_no_capacitor_no_delay_and_the_controllers_own_filter_counts():
    found = delay(sensor=CONTACT, input={"kind": "IEC 61131-2 type 3", "filter": "3 ms"})
    assert (found.trip_s, found.release_longest_s) == (3e-3, 3e-3)


def test_a_circuit_that_misreads_has_no_delay():
    assert delay(sensor={"output": "NPN"}, input={"kind": "IEC 61131-2 type 3"}) is None


@pytest.mark.parametrize(
    ("cable_nf", "filter_nf", "closed_ohm"), [(30, 100, 100), (30, 10, 100), (3, 3, 100), (12, 5, 0.2)]
)
def test_two_capacitors_by_their_two_exponentials(cable_nf, filter_nf, closed_ohm):
    """Two linear equations, 10 kohm and contact at the terminal, 1 kohm to the pin: eigenvalues, and a root.

    A cable that holds more than the filter and that a contact empties in nanoseconds says nothing of the pin.
    """
    cable = {"length": "100 m", "section": "4 mm2", "capacitance": f"{cable_nf} nF"}
    one = SCHMITT | {"filter": f"{filter_nf} nF"}
    found = delay(sensor=CONTACT | {"contact_resistance": f"{closed_ohm} ohm"}, input=one, cable=cable)
    core_ohm = 100 * 4.61e-3  # IEC 60228, two of them in the loop

    def states(contact_ohm):
        loop = 1 / (contact_ohm + 2 * core_ohm)
        given = np.array([[1e-4 + loop + 1e-3, -1e-3], [-1e-3, 1e-3]])
        return np.linalg.solve(given, [3.3e-4, 0]), -given / 1e-9 / np.array([[cable_nf], [filter_nf]])

    for time_s, level, before, after, rel in (
        (found.trip_s, 1.9, states(closed_ohm), states(1e8), 3e-5),
        (found.release_s, 1.3, states(1e8), states(closed_ohm), 3e-4),
    ):
        rates, vectors = np.linalg.eig(after[1])
        parts = np.linalg.solve(vectors, before[0] - after[0])

        def pin_v(at_s, rates=rates, vectors=vectors, parts=parts, end=after[0]):
            return (end + vectors @ (parts * np.exp(rates * at_s)))[1]

        exact_s = brentq(lambda at_s, level=level, pin_v=pin_v: pin_v(at_s) - level, 0, 0.1)
        assert time_s == pytest.approx(exact_s, rel=rel)


@pytest.mark.parametrize(
    ("series_ohm", "down_ohm", "filter_nf", "leak_ma", "length_m"),
    [(15e3, 2.2e3, 22, 0.05, 12), (22e3, 2.2e3, 28.41, 0.1, 100)],
)
def test_an_edge_from_on_to_off_takes_the_least_drop_and_the_most_leakage(
    series_ohm, down_ohm, filter_nf, leak_ma, length_m
):
    """A divider let go: it starts at 25.2 V less 0.3 V, and leakage and the pin's 10 uA hold it up to the end.

    Cable and filter together by SciPy: 200 pF a metre at the terminal, 10 % more of the filter at the pin, down to
    0.8 V, with the top resistor where it is slower: how much of the cable comes through it tells too.
    """
    found = delay(
        supply={"voltage": "24 V +- 5 %"},
        sensor={
            "output": "PNP",
            "contact": "NC",
            "drop": "0.5 V",
            "drop_at": "5 mA",
            "leakage": f"{leak_ma} mA",
            "supply": "10 V to 36 V",
            "protection_diodes": False,
        },
        input={
            "kind": "3.3 V logic",
            "supply": "3.3 V +- 5 %",
            "series_resistor": f"{series_ohm} ohm",
            "pull_down": f"{down_ohm} ohm",
            "filter": f"{filter_nf} nF",
            "v_il": "0.8 V",
            "v_ih": "2 V",
            "clamp": False,
        },
        cable={"length": f"{length_m} m", "section": "0.25 mm2"},
    )
    cable_f, filter_f, leak, pin = 200e-12 * length_m, 1.1e-9 * filter_nf, 1e-3 * leak_ma, 10e-6

    def longest_s(series, down):
        start_v = (24.895 / series + pin) / (1 / series + 1 / down)  # 5 ohm of the output take 5 mV

        def slopes(_, at_v):
            through = (at_v[0] - at_v[1]) / series
            return (leak - through) / cable_f, (through + pin - at_v[1] / down) / filter_f

        def low(_, at_v):
            return at_v[1] - 0.8

        low.terminal = True
        ran = solve_ivp(slopes, (0, 5e-3), (24.895, start_v), events=low, rtol=1e-9, atol=1e-9, method="LSODA")
        return ran.t_events[0][0]

    expected = max(longest_s(share * series_ohm, 1.05 * down_ohm) for share in (0.95, 1.05))
    assert found.trip_longest_s == pytest.approx(expected, rel=2e-3)


@pytest.mark.ngspice
@pytest.mark.parametrize("tripping", [True, False])
def test_two_capacitors_against_ngspice(tripping):
    """Cable at the terminal and filter at the pin: no closed form, so step against step."""
    spice.need_ngspice()
    cable = {"length": "100 m", "section": "0.25 mm2", "capacitance": "300 pF/m"}
    (one,) = circuits_from({"sensor": CONTACT, "input": SCHMITT, "cable": cable})
    found = assess(one).delay
    net = netlist(one)
    # One network for both: the contact as a switch that ngspice throws at 1 ms.
    network = Bench(net, [one], Cases(1, _state(0 if tripping else 1))).network()
    nodes = {name: f"n{k}" for name, k in network.nodes.items()}
    at = list(network.parts).index("B1 contact")
    a, b = (f"n{k}" if k >= 0 else "0" for k in network.ends[at])
    network.curves[at] = type(network.curves[at])(0.0, 1e-15)
    first, then = (0, 1) if tripping else (1, 0)
    extra = [
        f"Vc ctl 0 PULSE({1 - first} {1 - then} 1m 1n 1n 1 2)",
        ".model sm sw vt=0.5 vh=0 ron=0.2 roff=1e8",
        f"Ssw {a} {b} ctl 0 sm",
        f"Ca {nodes['in']} 0 30n",
        f"Cb {nodes['pin']} 0 100n",
    ]
    level, rising = (1.9, True) if tripping else (1.3, False)
    theirs = (
        spice.transient(network, extra=extra, node="pin", level=level, rising=rising, stop_s=5e-3, step_s=2e-7)
        - 1e-3
    )
    assert (found.trip_s if tripping else found.release_s) == pytest.approx(theirs, rel=1e-3)


def _state(k):
    return np.array([k])
