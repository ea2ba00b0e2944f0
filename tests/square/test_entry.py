"""Entry: the square file of the contract, rounds, and what is refused."""

import pytest

from holdzero.compute.square import Event, read_square, squaring
from holdzero.compute.square.entry import event_from, step_from
from holdzero.errors import InputError
from printed import printed

DIAGONALS = """\
method = "diagonals"
drive_distance = "980 mm"
a = "1000 mm"
b = "800 mm"
ac = "1280.81607 mm"
bd = "1280.43360 mm"
u = "0.1 mm"
"""


def test_contract():
    """0.3 mm over 980 mm, from a file."""
    asked = read_square(DIAGONALS)
    found = squaring(asked.setup, asked.rounds).as_json()
    assert found["offset_mm"] == printed("0.3000")
    assert found["offset_u_mm"] == printed("0.111")
    assert found["angle_u_mrad"] == printed("0.1132")
    (taken,) = found["rounds"]
    assert (taken["angle_mrad"], taken["angle_u_mrad"]) == (printed("0.3061"), printed("0.1132"))
    assert (taken["square_mrad"], taken["scale"], taken["residuals_mm"], taken["counts"]) == (None, None, [], True)
    assert asked.notes == ()


def test_rounds_take_what_stands_at_the_top():
    text = DIAGONALS + '[[round]]\n[[round]]\nac = "1280.63 mm"\nsetting = "0.2 mm"\nday = "2026-03-15"\n'
    first, second = read_square(text).rounds
    assert first.method.ac_mm == 1280.81607
    assert (second.method.ac_mm, second.setting_mm, second.day) == (1280.63, 0.2, "2026-03-15")


def test_every_method():
    text = """
    drive_distance = "38.58 in"
    u = "1 thou"
    [[round]]
    method = "flip"
    length = "24 in"
    gap = "-0.004 in"
    [[round]]
    method = "reversal"
    length = "200 mm"
    rise_1 = "12 um"
    rise_2 = "4 um"
    [[round]]
    method = "grid"
    hole = [{x = "0 mm", y = "0 mm", measured_x = "0 mm", measured_y = "0 mm"},
            {x = "8 mm", y = "0 mm", measured_x = "8 mm", measured_y = "0 mm"},
            {x = "0 mm", y = "8 mm", measured_x = "0 mm", measured_y = "8 mm"}]
    [[round]]
    method = "distances"
    [[round.hole]]
    x = "0 mm"
    y = "0 mm"
    [[round.hole]]
    x = "800 mm"
    y = "0 mm"
    [[round.hole]]
    x = "800 mm"
    y = "600 mm"
    [[round.distance]]
    from = 1
    to = 2
    length = "800 mm"
    [[round.distance]]
    from = 2
    to = 3
    length = "600 mm"
    [[round.distance]]
    from = 1
    to = 3
    length = "1000.1 mm"
    """
    asked = read_square(text)
    assert [one.name for one in asked.rounds] == ["flip", "reversal", "grid", "distances"]
    assert asked.setup.drive_distance_mm == pytest.approx(979.932)
    assert asked.rounds[0].method.gap_mm == pytest.approx(-0.1016)
    taken = squaring(asked.setup, asked.rounds).as_json()["rounds"]
    assert len(taken) == 4
    assert taken[1]["square_mrad"] == printed("0.02000")  # (12 - 4)/2 um over 200 mm
    assert taken[2]["scale"]["x"] == pytest.approx(0)
    assert [one["at"] for one in taken[2]["residuals_mm"]] == ["0, 0", "8, 0", "0, 8"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('drive_distance = "980 mm"', "method: found nothing; needed is one of diagonals, flip"),
        ('method = "diagonal"\ndrive_distance = "980 mm"', "did you mean diagonals"),
        ('method = "flip"\nlength = "600 mm"\ngap = "0.2 mm"', "drive_distance: found nothing"),
        (
            'method = "flip"\ndrive_distance = "980 mm"\ngap = "0.2 mm"',
            'length: found nothing.*write length = "600 mm"',
        ),
        ('method = "flip"\ndrive_distance = "980 mm"\ngap = 0.2\nlength = "1 m"', "gap"),
        ('method = "grid"\ndrive_distance = "980 mm"', r"tables \[\[hole\]\]"),
        (
            'method = "grid"\ndrive_distance = "980 mm"\nhole = 3',
            r"hole: found 3; needed is tables \[\[hole\]\]",
        ),
        (
            'method = "grid"\ndrive_distance = "980 mm"\nhole = [3]',
            r"found .*3.*; needed is tables \[\[hole\]\]",
        ),
        ('method = "grid"\ndrive_distance = "980 mm"\n[[hole]]\nx = "0 mm"', "hole 1"),
        ('drive_distance = "980 mm"\nround = 3', r"tables \[\[round\]\]"),
        *(
            (f'drive_distance = "980 mm"\nround = {rows}', r"tables \[\[round\]\]")
            for rows in ("[3]", '["flip"]', '"3"')
        ),
        ('method = "flip"\ndrive_distance = "980 mm"\ngap = "0.2 mm"\nlength = " "', "length: found nothing"),
        ('drive_distance = "980 mm"\n[[round]]\nmethod = "flip"\ngap = "0 mm"', "round 1.*length"),
    ],
)
def test_refusals_say_what_is_needed(text, says):
    with pytest.raises(InputError, match=says):
        read_square(text, where="s.toml")


def test_unknown_keys_are_named():
    (note,) = read_square(DIAGONALS + 'spreed = "1 um"\n').notes
    assert "did you mean spread" in note


def test_a_screw_means_that_the_switch_is_moved():
    assert read_square(DIAGONALS + 'screw_pitch = "0.7 mm"\n').setup.adjust == "switch"
    assert read_square(DIAGONALS + 'screw_pitch = "0.7 mm"\nadjust = "offset"\n').setup.adjust == "offset"


def test_motors_that_jump_are_known_by_lead_and_steps_together():
    """A lead of 10 mm and 200 steps: by hand, two rectangles of ±0.1 mm have a standard deviation of 0.0816 mm."""
    lead, steps = 'lead = "10 mm"\n', "full_steps = 200\n"
    assert read_square(DIAGONALS + lead + steps).setup.power_up_jump_mm == printed("0.0816")
    assert [read_square(DIAGONALS + one).setup.power_up_jump_mm for one in (lead, steps)] == [None, None]


def test_the_finest_digit_written_is_the_one_read_to():
    """An end in zeros may be left out: 1280.8 and 1280.43 are both read to 0.01 mm."""
    text = DIAGONALS.replace("1280.81607", "1280.8").replace("1280.43360", "1280.43")
    assert read_square(text).rounds[0].digit_mm == pytest.approx(0.01)


def test_steps_of_a_book():
    """A round, an event, the gantry, or the number of the step that is taken back."""
    told = {"what": "crash", "day": "2026-03-14", "note": "bent flag"}
    assert step_from({"event": told}) == Event("crash", day="2026-03-14", note="bent flag")
    assert event_from({"what": "crash", "note": None}) == Event("crash")
    assert step_from({"take back": 0}) == 0
    assert step_from({"setup": {"spread": "4 um"}}).spread_mm == pytest.approx(0.004)
    assert step_from({"round": {"method": "flip", "length": "600 mm", "gap": "0.2 mm"}}).method.gap_mm == 0.2


@pytest.mark.parametrize(
    ("sheet", "says"),
    [
        ({"take back": -1}, "which of them is taken back"),
        ({"take back": True}, "which of them is taken back"),
        ({}, "found nothing; needed is a round, an event"),
        ({"turns": 2, "day": "x"}, 'found "turns, day"; needed is a round, an event'),
        ({"event": {"day": "2026-03-14"}}, "what happened"),
        ({"event": 3}, "the keys of the event"),
    ],
)
def test_steps_that_say_nothing(sheet, says):
    with pytest.raises(InputError, match=says):
        step_from(sheet, where="b")
