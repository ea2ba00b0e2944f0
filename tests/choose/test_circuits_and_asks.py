"""Candidates in the circuits of a machine, what is asked otherwise, chances of each part: by hand or by SciPy."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import norm

from holdzero.compute.choose import Verdict, allowed_spread, choose
from holdzero.compute.choose.asks import asked_before_holds
from holdzero.compute.choose.beliefs import believed, counts_for
from holdzero.compute.choose.decide import axis_meant
from holdzero.compute.choose.electrical import _mended, electrical, tried, with_sensor
from holdzero.compute.choose.parts import Sides, asking
from holdzero.compute.choose.what_if import changes
from holdzero.compute.findings import study
from holdzero.compute.spread import effective_n
from holdzero.inputs.machine import Axis, Machine, Requirement
from holdzero.inputs.reading import read_readings
from holdzero.inputs.sensor import Sensor
from holdzero.inputs.sensor.output import Contact, Output
from trials import study_of

IEC = {"kind": "IEC 61131-2 type 3"}
CONTACT = Sensor(name="contact", output=Output.DRY_CONTACT, contact=Contact.NC)
NPN = Sensor(name="npn", output=Output.NPN, contact=Contact.NC)
PNP = Sensor(name="pnp", output=Output.PNP, contact=Contact.NC)
ROUTER = Axis.of("Y", motors=2, drive_distance_mm=980.0)


class TestCandidateInACircuit:
    """What stays of the sensor wired now, and what has to be added or taken out for the new one."""

    def test_the_rail_stays_where_both_have_two_terminals(self):
        now = {
            "output": "dry contact",
            "contact": "NO",
            "feed": "minus",
            "name": "S1",
            "side": "L",
            "material": "gold",
        }
        kept = with_sensor({"sensor": now, "input": IEC}, CONTACT)["sensor"]
        assert kept == {"name": "S1", "side": "L", "feed": "minus", "output": "dry contact", "contact": "NC"}
        for new in (NPN, PNP):
            assert "feed" not in with_sensor({"sensor": now, "input": IEC}, new)["sensor"]
        three = {"output": "NPN", "contact": "NO", "feed": "minus", "name": "S1"}
        assert "feed" not in with_sensor({"sensor": three, "input": IEC}, CONTACT)["sensor"]

    def test_what_was_found_out_about_the_one_wired_now_stays(self):
        now = {"output": "NPN", "contact": "NC", "leakage": "0.3 mA"}
        several = with_sensor({"sensor": [now, {**now, "contact": "NO"}], "input": IEC}, NPN)["sensor"]
        assert [row.get("leakage") for row in several] == ["0.3 mA", None]

    def test_only_what_was_entered_of_a_candidate_goes_into_the_circuit(self):
        """A figure that nobody typed has no words to be put in; one that was typed goes in as typed."""
        worked_out = Sensor(name="npn", output=Output.NPN, contact=Contact.NC, supply_high_v=24.0, drop_v=2.0)
        typed = replace(worked_out, entered={"drop": "2 V"})
        told = [with_sensor({"sensor": {}, "input": IEC}, sensor)["sensor"] for sensor in (NPN, worked_out, typed)]
        assert told[0] == told[1] == {"output": "NPN", "contact": "NC"}
        assert told[2] == {"output": "NPN", "contact": "NC", "drop": "2 V"}

    def test_resistors_of_the_one_wired_now_are_taken_out_where_nothing_else_mends_it(self):
        """47 ohm across the LED for an output that leaks: it takes all of the current of one that does not."""
        opto = {"kind": "opto", "common": "plus", "series_resistor": "2.2 kohm", "shunt": "47 ohm"}
        circuit = {"name": "home", "axis": "Y", "sensor": {"output": "NPN", "contact": "NC"}, "input": opto}
        ((way,),) = tried([circuit], [CONTACT]).values()
        assert (way.circuit, way.axis, way.mend) == ("home", "Y", None)
        assert way.assessment.circuit.input.shunt_ohm is None
        assert way.verdict in ("works", "works, but")
        mild = {**circuit, "input": {**opto, "shunt": "4.7 kohm"}}
        ((way,),) = tried([mild], [CONTACT]).values()
        assert way.assessment.circuit.input.shunt_ohm.nominal == 4700.0

    def test_what_works_is_not_mended(self):
        circuit = {"sensor": {"output": "NPN"}, "input": {"kind": "opto", "common": "plus"}}
        ((way,),) = tried([circuit], [Sensor(name="no", output=Output.NPN, contact=Contact.NO)]).values()
        assert (way.verdict, way.mend) == ("works, but", None)
        assert way.sentence == way.assessment.sentence

    def test_the_mend_that_leaves_nothing_to_wish_for_goes_first(self):
        """An NPN on an input that sinks: another sensor is no mend, the resistor is."""
        circuit = {"sensor": {"output": "NPN"}, "input": IEC}
        ((way,),) = tried([circuit], [NPN]).values()
        kinds = [remedy.kind for remedy in way.assessment.remedies]
        assert kinds[0] == "output type"
        assert way.mend.kind == "pull-up"
        assert way.sentence == f"Works once changed: {way.mend.text}."
        assert way.verdict == way.mend.verdict

    @pytest.mark.parametrize(
        ("remedies", "verdict", "mend"),
        [
            (
                [("pull-up", "works, but"), ("setting", "works"), ("pull-down", "works")],
                "does not work",
                "setting",
            ),
            ([("contact", "works"), ("output type", "works"), ("pull-up", "works, but")], "damage", "pull-up"),
            ([("contact", "works"), ("output type", "works")], "does not work", None),
            ([("pull-up", "works")], "works, but", None),
            ([], "does not work", None),
        ],
    )
    def test_what_mends_it_is_no_other_sensor_and_works_if_anything_does(self, remedies, verdict, mend):
        offered = [SimpleNamespace(kind=kind, verdict=leaves, text=kind) for kind, leaves in remedies]
        assessment = SimpleNamespace(remedies=offered, verdict=verdict, sentence="It does not.")
        way = _mended({"name": "home", "axis": "Y"}, assessment)
        assert (way.mend and way.mend.kind) == mend
        assert way.verdict == (way.mend.verdict if mend else verdict)
        assert way.sentence == (f"Works once changed: {mend}." if mend else "It does not.")

    def test_the_worst_circuit_of_the_axis_counts(self):
        good = {"name": "good", "axis": "X", "sensor": {"output": "PNP"}, "input": IEC}
        burns = {**good, "name": "burns", "axis": "Y", "supply": {"voltage": "40 V"}}
        anywhere = {"name": "any", "sensor": {"output": "PNP"}, "input": {"kind": "opto", "common": "minus"}}
        ways = tried([good, burns, anywhere], [PNP])
        verdicts = [way.verdict for way in ways["pnp"]]
        assert verdicts[1] == "damage"
        assert electrical(ways)["pnp"] == ("damage", ways["pnp"][1].sentence)
        assert electrical(ways, "Y")["pnp"][0] == "damage"
        assert electrical(ways, "X")["pnp"][0] in verdicts[::2]
        assert electrical({"pnp": ways["pnp"][:2]}, "Z") == {}


class TestAskedOtherwise:
    """Four other tolerances, both limits together, and a risk ten times as large and as small."""

    def test_each_is_judged_as_it_says(self):
        asked = Requirement(position_mm=0.1, squareness_mm=0.3, squareness_over_mm=500.0, risk=0.002)
        seen = []

        def judged(requirement):
            seen.append((requirement.position_mm, requirement.squareness_mm, requirement.risk))
            candidate = SimpleNamespace(sensor=Sensor(name="A"), verdict=Verdict.HOLDS, chance_holds=0.97)
            return (candidate,), "A"

        told = changes(asked, judged)
        names = ["half the tolerance", "0.7 of the tolerance", "1.4 times the tolerance", "twice the tolerance"]
        assert [one.name for one in told[:4]] == names
        assert all(one.name.startswith("risk ") for one in told[4:])
        assert [one.tolerance_times for one in told] == [0.5, 0.7, 1.4, 2.0, 1.0, 1.0]
        factors = [(0.5, 1), (0.7, 1), (1.4, 1), (2.0, 1), (1.0, 10), (1.0, 0.1)]
        assert np.array(seen) == pytest.approx(np.array([(0.1 * t, 0.3 * t, 0.002 * r) for t, r in factors]))
        assert [one.risk for one in told] == pytest.approx([0.002] * 4 + [0.02, 0.0002])
        assert {tuple(one.chances.items()) for one in told} == {(("A", 0.97),)}

    def test_no_risk_of_one_half_or_more(self):
        told = changes(Requirement(position_mm=0.1, risk=0.06), lambda _: ((), None))
        assert [one.risk for one in told] == pytest.approx([0.06] * 4 + [0.006])


def scattered(sd: float, seed: int, sets: int = 8, each: int = 5) -> np.ndarray:
    return np.random.default_rng(seed).normal(0, sd, (sets, each))


def lines(values: np.ndarray, side: str) -> list[str]:
    return [f"A,Y,{side},{k},{i},{value:.6f}" for (k, i), value in np.ndenumerate(values)]


@pytest.mark.parametrize(
    ("asked", "shares"),
    [
        (Requirement(squareness_mm=0.03, squareness_over_mm=600.0, position_mm=0.08, datum_homings=8), (2, 4, 4)),
        (Requirement(position_mm=0.05, datum_homings=8), (2, 2)),
        (Requirement(squareness_mm=0.03, squareness_over_mm=600.0), (1,)),
    ],
)
def test_each_part_by_the_whole_risk_and_its_share_of_it(asked: Requirement, shares: tuple[int, ...]):
    """Normal law by SciPy: a part holds under limit/z(risk); its room is limit/z(its share)."""
    allowed = allowed_spread(ROUTER, asked)
    left, right = scattered(0.007, 1), scattered(0.009, 2)
    sides = Sides.of(study_of(*lines(left, "L"), *lines(right, "R"), resolution_mm=1e-6), "A", "Y")
    parts = asking(allowed, sides).parts
    assert len(parts) == len(shares)
    for part, share in zip(parts, shares, strict=True):
        limit = 0.03 * 980 / 600 if part.name == "squareness" else asked.position_mm / np.sqrt(1 + 1 / 8)
        assert part.risk == pytest.approx(1e-3 / share)
        assert part.spread_allowed_mm == pytest.approx(limit / norm.isf(1e-3 / share / 2))
        believes = part.findings.posterior
        assert part.chance_holds == pytest.approx(believes.chance_at_most(limit / norm.isf(5e-4)), abs=1e-9)
        assert part.swing == 1.0


class TestLongRun:
    """Homings seconds apart that hang together count for less; single ones and short series for all they are."""

    def evidence(self, homings: int, *kinds: str) -> np.ndarray:
        """How far apart the laws of scatter are, of two slow runs whose homings are of these kinds."""
        rng = np.random.default_rng(4)
        slow = np.zeros((2, homings))
        for i in range(1, homings):
            slow[:, i] = 0.9 * slow[:, i - 1] + rng.normal(0, 0.003, 2)
        rows = [f"A,Y,{k},{i},{value:.6f},{kinds[i % len(kinds)]}" for (k, i), value in np.ndenumerate(slow)]
        text = "\n".join(["sensor,axis,set,homing,deviation_mm,kind", *rows, ""])
        series = Sides.of(study(read_readings(text, resolution_mm=1e-6)), "A", "Y").unnamed
        return believed(series).log_evidence

    def test_worth_what_they_are_worth(self):
        assert np.ptp(self.evidence(60, "long run")) < 0.7 * np.ptp(self.evidence(60, ""))

    def test_from_thirty_homings_on(self):
        for homings, counts_less in ((29, False), (30, True)):
            same = np.array_equal(self.evidence(homings, "long run"), self.evidence(homings, ""))
            assert same is not counts_less

    def test_what_one_counts_for(self):
        """A wander of period 60 has no more than the 3 that are told at least; without one it is nearly all."""
        wander = np.sin(np.arange(60) * 2 * np.pi / 60)
        assert counts_for(wander, long_run=True) == effective_n(wander) / 60
        assert counts_for(wander, long_run=True) < 0.3
        assert counts_for(wander[:30], long_run=True) < 0.5
        for homings, long_run in ((wander, False), (wander[:29], True)):
            assert counts_for(homings, long_run=long_run) == 1.0

    def test_only_where_the_whole_power_up_is_one(self):
        assert np.array_equal(self.evidence(30, "long run", ""), self.evidence(30, ""))


class TestWhichIsMeant:
    """Axes and readings whose names leave a choice."""

    W = Axis.of("W", motors=2, drive_distance_mm=500)
    MACHINE = Machine(name="m", requirement=Requirement(position_mm=0.05), axes=(Axis.of("X"), ROUTER, W))

    def test_of_two_with_two_motors_the_one_that_was_read(self):
        for name in ("W", "Y"):
            rows = [f"A,{name},,{k},{i},{0.001 * i}" for k in range(3) for i in range(3)]
            also = [f"A,X,,{k},{i},{0.001 * i}" for k in range(3) for i in range(3)]
            assert axis_meant(self.MACHINE, study_of(*rows, *also)).name == name

    def test_readings_without_a_sensor_are_called_so(self):
        machine = Machine(name="m", requirement=Requirement(position_mm=0.05), axes=(Axis.of("X"),))
        rows = [f"{name},X,,{k},{i},{0.001 * i}" for name in ("A", "", "Q") for k in range(4) for i in range(4)]
        (caution,) = choose(machine, (Sensor(name="A"),), study_of(*rows)).cautions
        assert caution.text.startswith("Readings of (no name), Q are not judged")

    def test_without_a_candidate_no_axis_is_taken_for_granted(self):
        machine = Machine(name="m", requirement=Requirement(position_mm=0.05), axes=(Axis.of("X"),))
        rows = [f"Q,,,{k},{i},{0.001 * i}" for k in range(4) for i in range(4)]
        codes = [
            [c.code for c in choose(machine, own, study_of(*rows)).cautions] for own in ((), (Sensor(name="Q"),))
        ]
        assert ["axis-not-said" in of for of in codes] == [False, True]


@pytest.mark.parametrize(("squareness", "lacks"), [(0.05, True), (None, False)])
def test_spans_lack_the_other_side_only_where_squareness_is_asked(squareness: float | None, lacks: bool):
    asked = Requirement(
        position_mm=0.1, squareness_mm=squareness, squareness_over_mm=None if squareness is None else 600.0
    )
    machine = Machine(name="g", requirement=asked, axes=(ROUTER,))
    text = "sensor,side,set,least_mm,greatest_mm,n\n" + "".join(f"A,L,{k},0.001,0.00{2 + k},6\n" for k in range(5))
    (candidate,) = choose(machine, (Sensor(name="A"),), study(read_readings(text))).candidates
    assert ("both-sides" in [lack.code for lack in candidate.lacks]) is lacks


class TestAsks:
    """A set on another day and one after settling, before `holds` may stand."""

    @staticmethod
    def done(*rows: str) -> list[bool | None]:
        head = "deviation_mm,sensor,set,time,repeat\n"
        return [ask.done for ask in asked_before_holds(read_readings(head + "\n".join(rows), where="").groups)]

    def test_nothing_before_the_trial(self):
        assert [ask.done for ask in asked_before_holds(())] == [False] * 4

    def test_all_done(self):
        rows = [f"0.00{i},A,1,2026-03-07T09:0{i},yes" for i in range(10)]
        rows += [f"0.00{i},A,{i},2026-03-0{7 + i // 3}T1{i}:0{j}," for i in range(1, 5) for j in range(3)]
        assert self.done(*rows) == [True] * 4

    def test_four_power_ups_of_two_homings_are_too_few(self):
        rows = [f"0.00{i},A,{i},2026-03-07T1{i}:0{j}," for i in range(1, 5) for j in range(2)]
        assert self.done(*rows)[1] is False

    def test_without_times_it_cannot_say(self):
        assert self.done("0.001,A,1,,", "0.002,A,2,,") == [False, False, None, None]

    def test_a_side_set_aside_leaves_the_other_to_count(self):
        """A was read on one day only: that its right side is set aside makes it no other candidate."""
        head = "deviation_mm,sensor,side,set,time,set_aside\n"
        rows = [f"0.001,A,L,{k},2026-03-07T09:0{k}," for k in range(3)]
        rows += [f"0.001,A,R,{k},2026-03-07T09:0{k},bumped" for k in range(3)]
        rows += [f"0.001,B,L,{k},2026-03-0{7 + k}T09:00," for k in range(3)]
        plan = asked_before_holds(read_readings(head + "\n".join(rows), where="").groups)
        assert [ask.done for ask in plan[2:]] == [False, False]

    @pytest.mark.parametrize(
        ("left", "right", "enough"),
        [
            ((4, 12), (4, 12), True),
            ((4, 12), (3, 12), False),
            ((3, 12), (4, 12), False),
            ((4, 11), (4, 12), False),
        ],
    )
    def test_each_side_needs_its_power_ups_and_homings(self, left, right, enough):
        rows = [
            f"0.00{i % 10},A,{side},{i % power_ups}"
            for side, (power_ups, homings) in (("L", left), ("R", right))
            for i in range(homings)
        ]
        plan = asked_before_holds(
            read_readings("deviation_mm,sensor,side,set\n" + "\n".join(rows), where="").groups
        )
        assert plan[1].done is enough

    def test_one_candidate_left_out_counts(self):
        both = ("0.001,A,1,2026-03-07T09:00,", "0.002,A,2,2026-03-08T09:00,", "0.001,B,1,2026-03-07T09:00,")
        assert self.done(*both)[2:] == [False, False]

    def test_after_midnight_is_another_day_but_not_settled(self):
        assert self.done("0.001,A,1,2026-03-07T23:00,", "0.002,A,2,2026-03-08T01:00,")[2:] == [True, False]

    @pytest.mark.parametrize(
        ("last", "another_day", "settled"),
        [
            ("08T10:59", True, True),
            ("07T22:59", False, False),
            ("07T23:00", False, True),
            ("08T10:59+09:00", True, True),
        ],
    )
    def test_a_night_is_twelve_hours_by_the_workshops_clock(self, last: str, another_day: bool, settled: bool):
        rows = "0.001,A,1,2026-03-07T11:00,", "0.002,A,2,10:00,", f"0.001,A,3,2026-03-{last},"
        assert self.done(*rows)[2:] == [another_day, settled]

    def test_nine_repeats_three_power_ups_or_eleven_homings_are_too_few(self):
        """Ten, four and twelve are asked; of several candidates each needs its own, repeats are of all."""

        def rows(name: str, power_ups: int, homings: int, repeats: int) -> list[str]:
            told = [f"0.00{i % 10},{name},{i % power_ups},," for i in range(homings)]
            return told + [f"0.00{i},{name},0,,yes" for i in range(repeats)]

        for first, second, repeated, enough in (
            ((4, 12, 5), (4, 12, 5), True, True),
            ((4, 12, 5), (4, 12, 4), False, True),
            ((4, 12, 9), (3, 12, 1), True, False),
            ((4, 11, 9), (4, 12, 1), True, False),
        ):
            assert self.done(*rows("A", *first), *rows("B", *second))[:2] == [repeated, enough]

    def test_how_it_stands_in_words(self):
        plan = asked_before_holds(read_readings("deviation_mm,set\n0.001,1\n", where="").groups)
        assert [ask.standing for ask in plan] == ["still to do", "still to do", *["cannot say: no times"] * 2]
        assert plan[0].as_json() == {"code": "repeat", "text": plan[0].text, "done": False}
