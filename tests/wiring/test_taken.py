"""A remedy that is taken: what is typed from then on makes the circuit that was solved with it."""

import pytest

from holdzero.compute.wiring import assess, assess_many, circuits_from
from holdzero.compute.wiring.remedy import proposals
from holdzero.compute.wiring.taken import taken

OPTO = {"kind": "opto", "series_resistor": "2.2 kohm", "i_on": "3 mA", "i_off": "1 mA"}
PIN = {"kind": "logic", "supply": "3.3 V", "v_il": "1 V", "v_ih": "2.2 V", "filter": "10 nF"}
TYPED = {
    "a contact on a pin": {"sensor": {"output": "dry contact", "contact": "NO"}, "input": PIN},
    "a changeover on a coupler": {
        "sensor": {"output": "dry contact", "contact": "changeover", "wired": "NO"},
        "input": OPTO | {"common": "minus"},
    },
    "a PNP on a pin": {
        "sensor": {"output": "PNP", "contact": "NO", "drop": "1.5 V", "name": "S1"},
        "input": PIN,
        "supply": {"joined": "no"},
    },
    "a PNP on a pin of its own supply": {"sensor": {"output": "PNP", "supply": "10 V to 30 V"}, "input": PIN},
    "an NPN against the grain": {
        "sensor": {"output": "NPN", "contact": "NC"},
        "input": OPTO | {"common": "minus"},
    },
    "a PNP against the grain": {"sensor": {"output": "PNP", "contact": "NC"}, "input": OPTO | {"common": "plus"}},
    "an NPN on type 1": {"sensor": {"output": "NPN"}, "input": {"kind": "IEC 61131-2 type 1"}},
    "a 2-wire on type 2": {
        "sensor": {"output": "2-wire", "drop": "6 V", "leakage": "1.7 mA"},
        "input": {"kind": "IEC 61131-2 type 2"},
    },
    "a 2-wire that leaks, on a coupler": {
        "sensor": {"output": "2-wire", "drop": "4 V", "leakage": "1.2 mA"},
        "input": OPTO | {"common": "plus"},
    },
    "NO in parallel": {
        "sensor": [{"output": "dry contact", "contact": "NO"}, {"output": "dry contact", "contact": "NO"}],
        "chain": {"join": "parallel"},
        "input": PIN | {"pull_up": "1 kohm"},
    },
}


def figures(assessment):
    """What a person reads of a circuit."""
    delay = assessment.delay
    return (
        assessment.verdict,
        assessment.sentence,
        [(state.reads, state.grade) for state in (assessment.clear, assessment.tripped)],
        [(row.fault, row.effect) for row in assessment.faults],
        delay is None,
    )


@pytest.mark.parametrize("name", TYPED)
def test_what_was_solved_is_what_is_typed(name):
    """Read again from what was typed, it has the verdict, the faults and the volts of the remedy."""
    typed = TYPED[name]
    (before,) = circuits_from(typed)
    found = assess(before).remedies
    assert found
    rewritten = [taken(typed, before, remedy.circuit) for remedy in found]
    again = [circuits_from(made)[0] for made in rewritten]
    solved, reread = assess_many([remedy.circuit for remedy in found]), assess_many(again)
    for remedy, made, first, second in zip(found, rewritten, solved, reread, strict=True):
        assert figures(second) == figures(first), (remedy.kind, made)
        for one_state, same_state in ((first.clear, second.clear), (first.tripped, second.tripped)):
            assert same_state.input_v == pytest.approx(one_state.input_v, rel=1e-3, abs=1e-3), (remedy.kind, made)
            assert same_state.input_a == pytest.approx(one_state.input_a, rel=1e-3, abs=1e-6), (remedy.kind, made)
        assert typed == TYPED[name]
    assert taken(typed, before, before) == typed


@pytest.mark.parametrize(
    ("name", "remedy", "written"),
    [
        ("a contact on a pin", "opto-coupler", "opto"),
        ("an NPN on type 1", "input type", "IEC 61131-2 type 3"),
    ],
)
def test_the_kind_of_input_is_written_as_a_person_says_it(name, remedy, written):
    """The common of a coupler has a key of its own, the type of the standard has none."""
    (circuit,) = circuits_from(TYPED[name])
    (changed,) = [proposal.circuit for proposal in proposals(circuit) if proposal.kind == remedy]
    assert taken(TYPED[name], circuit, changed)["input"]["kind"] == written


# Worked by hand, supply 24 V +- 10 % (21.6 to 26.4 V), LED 1.0 to 1.4 V, resistors of the E24 row.
# id: circuit, kind; then least and most ohms, the value taken, and the watts in it
WORKED = {
    # least (26.4 - 1)/20 mA, most (21.6 - 1.5 - 1.4)/3 mA; nearest to 7/10 of it; 25.4^2/4300
    "a PNP on a pin": ("opto-coupler", 1270.0, 18.7 / 3e-3, 4300.0, 25.4**2 / 4300),
    # least 26.4/100 mA, most (21.6 - 1.4 - 3 mA x 2310)/(3 + 0.5 mA), 0.5 mA leaking
    "an NPN against the grain": ("pull-up", 264.0, 13.27 / 3.5e-3, 2700.0, 26.4**2 / 2700),
    "a PNP against the grain": ("pull-down", 264.0, 13.27 / 3.5e-3, 2700.0, 26.4**2 / 2700),
    # most (21.6 - 15)/(4 mA x 1.15 + 0.5 mA)
    "an NPN on type 1": ("pull-up", 264.0, 6.6 / 5.1e-3, 910.0, 26.4**2 / 910),
    # with 4300 ohm across the LED, which take 1.4/4300 more: (21.6 - 4 - 1.4)/(3 mA + 0.326 mA)
    "a 2-wire that leaks, on a coupler": ("series", 1270.0, 16.2 / (3e-3 + 1.4 / 4300), 3300.0, 25.4**2 / 3300),
}


@pytest.mark.parametrize("name", WORKED)
def test_the_window_of_a_resistor_by_hand(name):
    kind, least, most, taken_ohm, watts = WORKED[name]
    (circuit,) = circuits_from(TYPED[name])
    (remedy,) = [remedy for remedy in assess(circuit).remedies if remedy.kind == kind]
    assert (remedy.low_ohm, remedy.high_ohm) == pytest.approx((least, most), rel=1e-3)
    assert (remedy.ohm, remedy.heat_w) == pytest.approx((taken_ohm, watts))
    rated = next(size for size in (0.25, 0.5, 1.0, 2.0, 5.0) if size >= 2 * watts)
    assert f"{rated:g}\u202fW" in remedy.text


def test_a_shunt_takes_what_leaks_beyond_off():
    """1.2 mA leak where 1 mA is off: 1.0 V/0.2 mA is 5 kohm, of which at most 92 % with a part of 5 %."""
    (circuit,) = circuits_from(TYPED["a 2-wire that leaks, on a coupler"])
    (shunt,) = [remedy for remedy in assess(circuit).remedies if remedy.kind == "shunt"]
    assert (shunt.low_ohm, shunt.high_ohm, shunt.ohm) == (None, pytest.approx(5000), 4300)
    assert shunt.heat_w == pytest.approx(1.4**2 / 4300)
