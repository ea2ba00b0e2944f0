"""Sections of the record beyond the trial: only what is there, and nothing else."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

from holdzero import demo
from holdzero.case import Case, Texts
from holdzero.errors import InputError
from holdzero.report import Table
from holdzero.report.left import events_section
from holdzero.report.whole import PARTS, record_of
from holdzero.tell.wiring import tell_wiring

WIRING = """
[[circuit]]
name = "Y left"
supply.voltage = "24 V"
sensor.output = "NPN"
sensor.contact = "NC"
input.kind = "opto"
input.series_resistor = "2.2 kohm"
[[circuit]]
name = "Y right"
supply.voltage = "24 V"
sensor.output = "NPN"
sensor.contact = "NC"
input.kind = "opto"
input.series_resistor = "2.2 kohm"
"""
SQUARE = """
homing_end = "low"
[[round]]
method = "flip"
length = "600 mm"
gap = "0.22 mm"
u = "0.03 mm"
day = "2026-03-20"
[[round]]
method = "flip"
length = "600 mm"
gap = "0.01 mm"
u = "0.03 mm"
setting = "0.17 mm"
day = "2026-03-21"
"""
EVENTS = '[[event]]\nwhat = "belt changed"\nday = "2026-03-19"\nnote = "both sides"\nafter_round = 0\n'
TEXTS = {"machine": demo.machine_toml(), "sensors": demo.sensors_toml(), "readings": demo.readings_csv()}
MORE = {"wiring": WIRING, "square": SQUARE, "events": EVENTS}


@pytest.fixture(scope="module")
def bare(tried_case):
    return tried_case


@pytest.fixture(scope="module")
def full():
    return Case(Texts(files=TEXTS | MORE))


def every_section(content):
    """First page, sections and annex, in reading order."""
    return (*content.front.sections, *content.sections, *content.annex)


def headings(results):
    return [section.heading for section in every_section(record_of(results))]


def tables(section):
    found = [block for block in section.blocks if isinstance(block, Table)]
    return [*found, *(table for below in section.sections for table in tables(below))]


def section(results, name):
    (part,) = (part for part in PARTS if part.name == name)
    assert part.applies(results)
    return part.section(results)


def test_only_what_is_there(bare, full):
    only_full = {"Wiring: what the controller sees", "Squareness", "What happened to the machine"}
    assert set(headings(full)) - set(headings(bare)) == only_full
    assert set(headings(bare)) - set(headings(full)) == set()


def test_there_agrees_with_the_section(bare):
    """The page says what is missing by the same rule by which the record leaves it out."""
    assert [part.name for part in PARTS if part.applies(bare) != (part.section(bare) is not None)] == []


def test_travel_lists_each_check_made_with_its_margin(bare):
    (table,) = tables(section(bare, "Travel"))
    made = [check for check in bare.travels[0].checks if check.ok is not None]
    assert len(table.rows) == len(made) >= 8
    margin = table.head.index("Margin mm")
    assert table.rows[0][margin] == f"{made[0].margin_mm:.2f}"


def test_no_axis_that_can_be_checked_no_section(bare):
    (part,) = (part for part in PARTS if part.name == "Travel")
    assert not part.applies(SimpleNamespace(travels=bare.travels[1:]))
    assert part.section(SimpleNamespace(travels=bare.travels[1:])) is None


def test_budget_shows_first_order_beside_simulation(bare):
    contributions, figures, inputs = tables(section(bare, "Error budget"))
    (found,) = bare.budgets
    names = {contribution.name for contribution in found.budget.used}
    assert [{row[0] for row in table.rows} for table in (contributions, inputs)] == [names | {"Together"}, names]
    assert figures.rows[0][0] == "Position, standard uncertainty"
    assert len(figures.rows) == 8
    assert all("–" not in row[1:] for row in figures.rows if "freedom" not in row[0])


def test_circuits_that_are_alike_stand_once(full):
    made = section(full, "Wiring")
    assert [below.heading.split(":")[0] for below in made.sections] == [
        "Y left, Y right",
        "Laying the cable",
        "Before trusting this",
    ]
    captions = [table.caption for table in tables(made)]
    assert [caption.split(" ")[0] for caption in captions] == ["Nominal", "One", "Terminals", "What"]


def test_circuits_stand_together_by_what_was_entered(full):
    """The last digit of a solved figure is the processor's; the section is the same without it."""
    left, right = full.all_circuits
    moved = replace(right, clear=replace(right.clear, input_v=right.clear.input_v * (1 + 1e-15)))
    assert moved != right
    assert len(tell_wiring((left, moved)).more) == 2
    entered = {**right.circuit.entered, "cable": {"length": "9 m"}}
    longer = replace(right, circuit=replace(right.circuit, entered=entered))
    assert len(tell_wiring((left, longer)).more) == 3


def test_as_found_and_as_left(full):
    (table,) = tables(section(full, "As found, as left"))
    rows = {name: (found, left) for name, found, left in table.rows}
    assert rows["Day"] == ("2026-03-20", "2026-03-21")
    found, left = rows["Right side to bring back"]
    assert found.startswith("0.196\u202fmm (u ")  # W gap/(2 length) = 1070 x 0.22/1200 = 0.1962
    assert left.startswith("9\u202fµm (u ")  # 1070 x 0.01/1200 = 0.0089
    assert rows["Axis Y, home against the datum"] == ("…………", "…………")


def test_events_begin_a_new_baseline(full):
    (table,) = events_section(full.basis.squaring.history).blocks[1:]
    assert table.rows == (("2026-03-19", "belt changed", "both sides"),)
    assert full.squared is not None
    assert len(full.squared.counted) == 2


def test_an_event_after_the_last_round_leaves_nothing_that_counts():
    after = EVENTS.replace("after_round = 0", "after_round = 2")
    results = Case(Texts(files=TEXTS | MORE | {"events": after}))
    assert results.squared is None
    assert "What happened to the machine" in headings(results)


def test_gantry_of_the_squaring_is_the_machine_s_and_the_trial_s(full):
    """Distance and spread need not be typed twice; the spread of one side is the difference's over root two."""
    apart = full.study.of(demo.WINNER, "Y", "difference")
    assert full.squared.setup.drive_distance_mm == full.machine.axis("Y").drive_distance_mm
    assert full.squared.setup.spread_mm == pytest.approx(apart.spread.middle / 2**0.5, rel=0.01)


class TestBeforeTheTrial:
    """A record can be made of whatever there is: the machine alone is enough."""

    def test_machine_alone(self):
        made = record_of(Case(Texts(files={"machine": TEXTS["machine"]})))
        assert made.verdict == "Cannot say yet whether axis Y holds zero: nothing was tried."
        assert made.reason == "No candidate is named yet."
        said = [section.heading for section in every_section(made)]
        assert {"The choice", "The decision", "What each figure tells"}.isdisjoint(said)
        assert {"Travel: does it stop where there is room?", "Tests before it is trusted"} <= set(said)

    def test_candidates_not_yet_tried(self):
        made = record_of(Case(Texts(files={name: TEXTS[name] for name in ("machine", "sensors")})))
        assert made.reason.startswith("No candidate holds yet")
        of = {section.heading: [table.caption for table in tables(section)] for section in every_section(made)}
        assert of["The choice"] == ["The candidates"]
        assert of["Data sheets"] == ["What the data sheets say (not what was found)"]

    def test_no_machine(self):
        with pytest.raises(InputError, match="needed is a machine"):
            record_of(Case(Texts(files={"sensors": TEXTS["sensors"]})))


def test_what_came_of_the_tests_stands_in_the_checklist(full):
    written = '[[check]]\nitem = "emergency-stop"\noutcome = "done"\nmeasured = "0.3 s"\nday = "2026-03-20"\n'
    made = section(Case(Texts(files=TEXTS | MORE | {"checklist": written})), "Commissioning checklist")
    (first, *_) = (row for table in tables(made) for row in table.rows)
    assert first[0] == "☑"
    assert first[-1].endswith("DONE 2026-03-20: 0.3 s.")


def test_install_sheet_and_budget_are_of_the_candidate_taken(full):
    """It need not be the one recommended."""
    taken = f'[[decision]]\nsensor = "{demo.DEARER}"\nverdict = "holds"\nreason = "no dirt"\nday = "2026-03-20"\n'
    results = Case(Texts(files=TEXTS | MORE | {"decisions": taken}))
    assert (full.sensor.name, results.sensor.name) == (demo.WINNER, demo.DEARER)
    assert [one.sensor for one in results.budgets] == [demo.DEARER]
