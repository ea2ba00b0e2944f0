"""Install sheet and checklist."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from holdzero import demo
from holdzero.compute.install import checklist, install_sheet
from holdzero.compute.install.vocabulary import method
from holdzero.compute.racking import Racking
from holdzero.compute.square import Flip, GantrySetup, Round, squaring
from holdzero.compute.travel import travel
from holdzero.compute.wiring import assess_all, read_wiring
from holdzero.inputs.machine import read_machine
from holdzero.inputs.sensor import read_sensors
from holdzero.quantity import plain

DATA = Path(__file__).parents[1] / "data"
ROUTER = read_machine(demo.machine_toml())
CIRCUITS = assess_all(read_wiring(demo.wiring_toml()))
SENSORS = {sensor.name: sensor for sensor in read_sensors(demo.sensors_toml())}


def setting(sheet, name, axis="Y"):
    (settings,) = (one.settings for one in sheet.axes if one.axis == axis)
    return next(one for one in settings if one.name.startswith(name))


class TestSettings:
    """In order of doing, each from where it is known."""

    def test_order_of_doing(self):
        (y, x) = install_sheet(ROUTER).axes
        assert list(y.groups) == list(x.groups) == ["Places", "Wires", "Homing", "After the first homing"]

    def test_values_are_the_machine_s(self):
        sheet = install_sheet(ROUTER)
        assert setting(sheet, "Home switch trips").value == ROUTER.axis("Y").places.home_trip_mm
        assert (
            setting(sheet, "Speed of the search for the switch").value
            == ROUTER.axis("Y").speeds.approach_speed_mm_s
        )
        assert plain(setting(sheet, "Back-off").say()) == "4 mm from where it came to rest"
        assert plain(setting(sheet, "Speed of the search for zero").say("inch")) == "3.543 in/min"

    def test_what_does_not_fit_is_said_with_what_to_do(self):
        """By hand, docs/travel.md: the limit at top speed fails by 17.363 mm; home overtravel fits."""
        sheet = install_sheet(read_machine((DATA / "screw_axis.toml").read_text(encoding="utf-8")))
        limit = setting(sheet, "Limit trips")
        assert limit.ok is False
        assert "24 mm" in plain(limit.note)
        assert setting(sheet, "Home switch trips").ok is True
        assert sheet.verdict.startswith("1 setting does not fit")

    def test_fastest_approach_that_fits(self):
        """By hand: at most 60.59 mm/s."""
        sheet = install_sheet(read_machine((DATA / "screw_axis.toml").read_text(encoding="utf-8")))
        assert "At most 60.6 mm/s" in plain(setting(sheet, "Speed of the search for the switch").note)

    def test_sensor_and_one_input_a_side(self):
        sheet = install_sheet(ROUTER, sensors={"Y": SENSORS[demo.ON_STEPS]})
        assert setting(sheet, "Home sensor").say() == f"{demo.ON_STEPS}, reed and magnet, dry contact, NO"
        assert "broken wire goes unnoticed" in setting(sheet, "Home sensor").note
        assert setting(sheet, "Inputs").say() == "one for each side"
        with pytest.raises(StopIteration):
            setting(sheet, "Home sensor", axis="X")

    def test_offset_comes_from_squaring(self):
        gap = Round(name="flip", method=Flip(length_mm=490, gap_mm=-0.5), u_mm=0.05, setting_mm=0.1)
        squared = squaring(GantrySetup(racking=Racking(drive_distance_mm=980)), [gap])
        offset = setting(install_sheet(ROUTER, squared={"Y": squared}), "Offset between the sides")
        assert plain(offset.say()) == "0.4 mm right side forward"  # 0.1 back was set, 0.5 forward more is needed

    def test_unknown_is_a_blank_and_counted(self):
        sheet = install_sheet(ROUTER)
        assert not setting(sheet, "Home offset").known
        unknown = sum(len(axis.unknown) for axis in sheet.axes)
        assert sheet.verdict.startswith(f"{unknown} settings are still to be filled in; ")

    def test_where_nothing_could_be_checked_nothing_fits(self):
        sheet = install_sheet(read_machine("[axes.X]\n"))
        assert sheet.verdict.endswith("still to be filled in; no other could be checked.")

    def test_falling_axes_home_first(self):
        text = '[axes.X]\n[axes.Z]\ngravity = "away from home"\n'
        assert install_sheet(read_machine(text)).order == ("Z", "X")


class TestWords:
    """IEC 61800-7-201 (CiA 402): the standard's words where they exist, and only these."""

    def test_words(self):
        words = {one.name: one.word for one in install_sheet(ROUTER).axes[0].settings if one.word}
        assert words["Homing method"] == "homing method (6098h)"
        assert "speed during search for switch (6099h sub 1)" in words["Speed of the search for the switch"]
        assert "speed during search for zero (6099h sub 2)" in words["Speed of the search for zero"]
        assert words["Acceleration while homing"] == "homing acceleration (609Ah)"
        assert words["Home offset"] == "home offset (607Ch)"
        objects = {found for word in words.values() for found in re.findall(r"60\w\wh", word)}
        assert objects == {"6098h", "6099h", "609Ah", "607Ch"}

    @pytest.mark.parametrize(
        ("index", "limit", "says"),
        [(True, True, "1 or 2"), (True, False, "3 to 14"), (False, True, "17 or 18"), (False, False, "19 to 30")],
    )
    def test_methods(self, index, limit, says):
        assert says in method(index=index, on_the_limit=limit)


class TestChecklist:
    """The stop first; what each test needs was tested before it."""

    def test_order(self):
        names = [test.name for test in install_sheet(ROUTER).tests]
        assert names[0] == "Emergency stop"
        order = [
            "Each switch by hand",
            "Wire break",
            "Which way",
            "Limit, slowly",
            "Home, slowly",
            "Both sides back off",
            "Home at full homing speed",
            "Squareness",
            "The next day",
        ]
        assert [name for name in dict.fromkeys(names) if name in order] == order

    def test_nothing_fast_before_all_is_slow(self):
        stages = [test.stage for test in install_sheet(ROUTER).tests]
        assert list(dict.fromkeys(stages)) == ["Before anything moves", "Slowly", "At speed", "The whole machine"]
        assert stages == sorted(stages, key=list(dict.fromkeys(stages)).index)

    def test_both_sides_only_where_there_are_two(self):
        tests = install_sheet(ROUTER).tests
        assert [test.axis for test in tests if test.name == "Both sides back off"] == ["Y"]
        assert [test.axis for test in tests if test.name == "Back-off frees the switch"] == ["X"]
        assert next(t for t in tests if t.name == "Both sides back off").blanks == (
            ("left", "mm"),
            ("right", "mm"),
        )

    def test_what_moves_is_guarded(self):
        for test in install_sheet(ROUTER).tests:
            if test.stage in ("Slowly", "At speed") and ("jog" in test.do.lower() or test.name.startswith("Home")):
                assert "stop" in test.guard, test.name

    def test_expectations_are_those_of_the_travel_checks(self):
        """By hand: home overtravel uses 3.308 of 6 mm."""
        sheet = install_sheet(read_machine((DATA / "screw_axis.toml").read_text(encoding="utf-8")))
        test = next(one for one in sheet.tests if one.name == "Home at full homing speed")
        assert "3.31 mm of the 6.00 mm" in plain(test.expect)

    def test_blanks_take_the_units_shown(self):
        tests = install_sheet(ROUTER, system="inch").tests
        assert any(("runs on", "in") in test.blanks for test in tests)

    def test_a_limit_that_is_not_there_is_not_tested(self):
        text = '[axes.X]\nlimit_switch = "none"\n'
        assert "Limit, slowly" not in [test.name for test in install_sheet(read_machine(text)).tests]
        assert not [one for one in install_sheet(read_machine(text)).axes[0].settings if "Limit" in one.name]

    def test_every_test_has_a_key_of_its_own(self):
        """Two axes, two sides wired alike: results must never land at another test."""
        keys = [test.key for test in install_sheet(ROUTER, circuits={"Y": (*CIRCUITS, *CIRCUITS)}).tests]
        assert len(keys) == len(set(keys))


class TestWiring:
    """Where each wire goes, and what each does when it is opened: from the solved circuit."""

    SHEET = install_sheet(ROUTER, circuits={"Y": CIRCUITS})

    def test_terminals_stand_at_their_axis(self):
        y, x = self.SHEET.axes
        assert [one.name for one in y.wired] == ["Y left", "Y right"]
        assert x.wired == ()
        assert not [one for one in x.settings if one.name.startswith("Input of")]
        first = y.wired[0].wires[0]
        assert (first.start, first.end, first.colour, first.length_m) == ("-B1:1", "-X1:1", "BN", 6.0)
        assert setting(self.SHEET, "Input of Y left").say() == "opto-coupled, common minus"
        assert self.SHEET.as_json()["wiring"]["Y"][0]["terminals"][0]["from"] == "-B1:1"

    def test_one_break_a_conductor_and_one_a_plug(self):
        """The fault table's open and unplugged rows, each a test of its own, before anything moves."""
        losses = [row for row in CIRCUITS[0].faults if row.kind in ("open", "unplugged")]
        tests = [test for test in self.SHEET.tests if test.stage == "Wire break: Y left"]
        assert len(tests) == len(losses) == 5
        assert [test.name.partition(", ")[2] for test in tests] == [
            "Y left, BN at -B1:1",
            "Y left, BK at -B1:2",
            "Y left, BU at -B1:3",
            "Y left, BU at -A1:COM",
            "Y left, plug",
        ]
        assert all(test.expect == "The input goes off: it reads tripped at once." for test in tests)
        names = [test.name for test in self.SHEET.tests]
        assert names.index(tests[-1].name) < names.index("Which way")
        assert "unplugged" in tests[0].guard
        assert "Wire break, every other switch" in names

    def test_a_wire_that_hides_is_to_be_rewired(self):
        """A normally open contact: with a broken wire the input stays clear for ever."""
        (found,) = assess_all(
            read_wiring('[sensor]\noutput = "dry contact"\ncontact = "NO"\n[input]\nkind = "IEC 61131-2 type 3"\n')
        )
        hidden = [
            test
            for test in install_sheet(ROUTER, circuits={"Y": [found]}).tests
            if test.stage.startswith("Wire b")
        ]
        assert "this break hides. Rewire it before the machine is trusted." in hidden[0].expect

    def test_a_break_that_would_do_harm_is_not_tried(self):
        (y, _) = self.SHEET.axes
        first, *others = y.wired[0].breaks
        listed = replace(y.wired[0], breaks=(replace(first, harms=True), *others))
        wired = {"Y": [listed], "X": []}
        solved = {axis.name: travel(axis) for axis in ROUTER.axes}
        names = [
            test.name for test in checklist(ROUTER, solved, wired=wired) if test.name.startswith("Wire break, Y")
        ]
        assert names == [test.name for test in self.SHEET.tests if test.stage == "Wire break: Y left"][1:]


class TestOrderedBySums:
    """No test orders what the sums forbid."""

    SCREW = read_machine((DATA / "screw_axis.toml").read_text(encoding="utf-8"))

    @staticmethod
    def of(axis):
        machine = replace(TestOrderedBySums.SCREW, axes=(axis,))
        return {test.name: test for test in install_sheet(machine).tests}

    def test_limit_stops_at_the_speed_that_fits(self):
        """23.4 mm of 6 at 150 mm/s; 60.59 mm/s fits, so 10 and 25 % are asked for and no more."""
        test = self.of(self.SCREW.axes[0])["Limit, faster"]
        assert "at 10 and 25 % of the top speed, and no faster than 60.6 mm/s" in plain(test.do)
        assert "100 %" not in test.do
        assert "23.4" not in test.expect
        assert test.proves == "limit"

    def test_it_is_asked_in_full_where_it_fits(self):
        test = self.of(self.SCREW.axes[0].changed(limit_trip_mm=24.0, home_trip_mm=32.0))["Limit, faster"]
        assert "10, 25, 50 and 100 %" in test.do

    def test_it_is_withheld_where_not_even_a_tenth_fits(self):
        test = self.of(self.SCREW.axes[0].changed(limit_trip_mm=0.2))["Limit, faster"]
        assert test.do.startswith("Do not do this yet. At 150")
        assert not test.blanks
        assert test.proves == "limit"

    def test_it_is_withheld_where_nothing_is_known(self):
        test = self.of(self.SCREW.axes[0].changed(limit_trip_mm=None))["Limit, faster"]
        assert test.do == "Do not do this yet. Not made: give limit_trip."

    def test_homing_at_the_speed_that_fits(self):
        test = self.of(self.SCREW.axes[0].changed(approach_speed_mm_s=90.0))["Home at full homing speed"]
        assert "Set the search for the switch to 60.6 mm/s" in plain(test.do)

    def test_acceptance_is_the_smaller_of_asked_and_expected(self):
        """0.174 over 600 on 980 mm is 0.284 between the sides; twice 0.2245 is 0.449."""
        gap = Round(name="flip", method=Flip(length_mm=490, gap_mm=0.0), u_mm=0.2245)
        for asked, within in ((0.174, "0.284"), (None, "0.449")):
            setup = GantrySetup(
                racking=Racking(drive_distance_mm=980),
                squareness_mm=asked,
                squareness_over_mm=None if asked is None else 600,
            )
            squared = squaring(setup, [gap])
            sheet = install_sheet(ROUTER, squared={"Y": squared})
            (test,) = (test for test in sheet.tests if test.name == "Squareness")
            assert f"Within {within} mm" in plain(test.expect)


class TestFallingAxes:
    """They home first and away from the table; where home is at the low end, last and with a hand on the stop."""

    AXES = '[axes.X]\nlead = "10 mm"\n[axes.Z]\nlead = "5 mm"\ngravity = "{}"\n'

    @pytest.mark.parametrize(
        ("gravity", "order"), [("away from home", ("Z", "X")), ("towards home", ("X", "Z")), ("level", ("X", "Z"))]
    )
    def test_order(self, gravity, order):
        sheet = install_sheet(read_machine(self.AXES.format(gravity)))
        assert sheet.order == order
        assert ("Z has home at the low end" in sheet.order_note) is (gravity == "towards home")
        assert ("hand on the stop" in sheet.order_note) is (gravity == "towards home")


def test_no_hand_at_a_moving_axis():
    """Limits are tripped with a stick, wires opened unplugged, and whoever homes has a hand on the stop."""
    solved = {axis.name: travel(axis) for axis in ROUTER.axes}
    tests = checklist(ROUTER, solved, wired={axis.name: () for axis in ROUTER.axes})
    for test in tests:
        words = f"{test.do} {test.guard}"
        if "home " in test.do.casefold() and "Do not do this yet" not in test.do:
            assert "hand on the stop" in words, test.name
        if test.name.startswith("Wire break"):
            assert "witched off and unplugged" in test.do, test.name
        assert "limit by hand" not in test.do


class TestCautions:
    """Each test of the checklist carries what guards it."""

    ALL = install_sheet(ROUTER, circuits={"Y": CIRCUITS}).tests

    def test_wires_are_opened_switched_off_and_unplugged(self):
        breaks = [test for test in self.ALL if "Wire break" in test.name]
        assert len(breaks) > 5
        assert all("witched off and unplugged" in test.do for test in breaks)

    def test_whoever_homes_or_jogs_has_a_hand_on_the_stop(self):
        moving = [
            test
            for test in self.ALL
            if re.search(r"\b([Hh]ome|[Jj]og)\b", test.do) and not test.guard.startswith("Held back")
        ]
        assert len(moving) > 8
        assert [test.name for test in moving if "hand on the stop" not in test.guard.lower()] == []

    def test_no_hand_at_a_moving_axis(self):
        by_hand = [test for test in self.ALL if "by hand" in test.do]
        assert by_hand
        assert all("Drives off" in test.do for test in by_hand)
        (limit,) = (test for test in self.ALL if test.axis == "Y" and test.name == "Limit, slowly")
        assert "with a stick" in limit.do
