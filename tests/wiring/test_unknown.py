"""An unknown sensor: every kind put on the bench by the solver, and told from four voltages."""

from itertools import product

import pytest

from holdzero.compute.wiring import parts
from holdzero.compute.wiring.network import CurrentCurve, Network
from holdzero.compute.wiring.unknown import TEST_OHM, identify

KINDS = ("NPN", "PNP", "push-pull")


def volt(kind, *, on, to_plus, supply_v=24.0, knee_v=0.7, leak_a=1e-4, pull_ohm=None):
    """The output against 0 V with the test resistor to plus, or to 0 V."""
    net = Network(1)
    net.add("supply", "p", "0", CurrentCurve.supply(supply_v, 1.0))
    net.add("electronics", "p", "0", parts.electronics(own_a=0.01))
    common = {"knee_v": knee_v, "ohm": 5.0, "limit_a": 0.2, "leak_a": leak_a}
    if kind != "NPN":
        net.add("high", "p", "out", parts.transistor(on=on, **common))
    if kind != "PNP":
        net.add("low", "out", "0", parts.transistor(on=on if kind == "NPN" else not on, **common))
    net.add("d1", "0", "out", parts.diode())
    net.add("d2", "out", "p", parts.diode())
    if pull_ohm:
        net.add("inside", *(("p", "out") if kind == "NPN" else ("out", "0")), CurrentCurve.resistor(pull_ohm))
    net.add("test", *(("p", "out") if to_plus else ("out", "0")), CurrentCurve.resistor(TEST_OHM))
    return net.solve().volt("out").item()


def measured(kind, contact, **more):
    near = contact == "NO"
    at = {"minus": False, "plus": True}
    return {
        f"{rail}_{flag}_v": volt(kind, on=near == (flag == "near"), to_plus=to_plus, **more)
        for (rail, to_plus), flag in product(at.items(), ("away", "near"))
    }


@pytest.mark.parametrize("contact", ["NO", "NC"])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "more", [{}, {"knee_v": 3.5, "leak_a": 0.5e-3}, {"supply_v": 12.0}, {"supply_v": 12.0, "knee_v": 2.5}]
)
def test_every_kind_is_told(kind, contact, more):
    found = identify(supply_v=more.get("supply_v", 24.0), **measured(kind, contact, **more))
    assert (found.output, found.contact, found.pull_ohm) == (kind, contact, None)


@pytest.mark.parametrize("contact", ["NO", "NC"])
@pytest.mark.parametrize("kind", ["NPN", "PNP"])
@pytest.mark.parametrize("ohm", [4700.0, 10e3, 22e3])
def test_a_resistor_inside_is_found(kind, contact, ohm):
    found = identify(supply_v=24.0, **measured(kind, contact, pull_ohm=ohm))
    assert (found.output, found.contact) == (kind, contact)
    assert found.pull_ohm == pytest.approx(ohm, rel=0.12)  # 0.1 mA of leakage works against it
    assert "Inside is a resistor" in found.text


def test_nothing_changes():
    found = identify(supply_v=24.0, minus_away_v=0, minus_near_v=0, plus_away_v=24, plus_near_v=24)
    assert found.output is None
    assert "Nothing changes" in found.text


def test_nonsense():
    found = identify(supply_v=24.0, minus_away_v=12, minus_near_v=0, plus_away_v=12, plus_near_v=12)
    assert found.output is None
    assert "measure again" in found.text


def test_all_81_patterns_of_low_between_and_high():
    """A kind where every level of it fits, a dead sensor only where nothing at all changes, else no answer."""
    volts = {"low": 1.0, "between": 12.0, "high": 23.0}
    lifted, pulled = ("low", "high"), ("high", "low")
    for minus, plus in product(product(volts, repeat=2), repeat=2):
        found = identify(
            supply_v=24.0,
            minus_away_v=volts[minus[0]],
            minus_near_v=volts[minus[1]],
            plus_away_v=volts[plus[0]],
            plus_near_v=volts[plus[1]],
        )
        contact = None
        if minus in (lifted, pulled) and plus == minus:
            output, contact = "push-pull", "NO" if minus == lifted else "NC"
        elif minus in (lifted, pulled) and "low" not in plus:
            output, contact = "PNP", "NO" if minus == lifted else "NC"
        elif plus in (lifted, pulled) and "high" not in minus:
            output, contact = "NPN", "NO" if plus == pulled else "NC"
        else:
            output = None
            still = minus[0] == minus[1] and plus[0] == plus[1]
            assert found.text.startswith("Nothing changes" if still else "These four voltages fit no kind")
        assert (found.output, found.contact) == (output, contact), (minus, plus)
