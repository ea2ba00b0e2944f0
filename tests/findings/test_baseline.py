"""Homings read before something happened to the machine: an event starts a new baseline."""

import pytest

from holdzero.compute.findings.baseline import read_before
from holdzero.compute.square import Event, Flip, Round
from holdzero.inputs.reading import Readings, read_readings

DAYS = ("2026-03-07T09:00", "2026-03-08T09:00", "2026-03-14T09:00", "2026-03-15T09:00")


def trial(*times):
    return read_readings("set,deviation_mm,time\n" + "".join(f"1,0.001,{time}\n" for time in times))


class TestToldApart:
    """By the day of each reading against the day of the last event."""

    def test_no_event_and_all_after_say_nothing(self):
        assert read_before(trial(*DAYS), []) is None
        assert read_before(trial(*DAYS), [Event("crash", "2026-03-07")]) is None
        assert read_before(Readings(()), [Event("crash", "2026-03-07")]) is None

    def test_all_before(self):
        said = read_before(trial(*DAYS), [Event("crash", "2026-05-01")]).text
        assert said.startswith("These homings were read before the last event (crash, 2026-05-01)")
        assert "Begin a new trial" in said

    def test_some_before(self):
        """Two of the four days lie before the 14th."""
        said = read_before(trial(*DAYS), [Event("crash", "2026-01-01"), Event("belt changed", "2026-03-14")]).text
        assert said.startswith("2 of the 4 homings were read before the last event (belt changed, 2026-03-14)")

    def test_readings_without_a_time_count_as_not_known_to_be_before(self):
        said = read_before(trial("", "2026-03-07T09:00", "2026-03-09"), [Event("crash", "2026-03-08")]).text
        assert said.startswith("1 of the 3 homings were read before the last event (crash, 2026-03-08)")

    def test_an_event_named_in_a_round(self):
        after = Round(name="flip", method=Flip(length_mm=600, gap_mm=0), event="crash", day="2026-05-01")
        assert "crash, 2026-05-01" in read_before(trial(*DAYS), [after]).text

    @pytest.mark.parametrize(
        ("times", "day", "lacking"),
        [(("", ""), "2026-05-01", "no times"), (DAYS, "", "no day"), (DAYS, "last spring", "no day")],
    )
    def test_what_cannot_be_told_is_said(self, times, day, lacking):
        said = read_before(trial(*times), [Event("crash", day)]).text
        assert "cannot be told" in said
        assert lacking in said
