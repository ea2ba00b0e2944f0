"""Which is the cheapest that holds, what is said of the others, and what more money buys: candidates by hand."""

from dataclasses import replace
from types import SimpleNamespace

import pytest

import results_by_hand as by_hand
from holdzero.compute.choose import Verdict
from holdzero.compute.choose.compared import dearer, ratio_of
from holdzero.compute.choose.decide import MOST_NAMED, _cheapest
from holdzero.compute.choose.values import Candidate, More
from holdzero.compute.compare.ranking import Ratio
from holdzero.compute.findings.values import Misses
from holdzero.compute.spread import Interval
from holdzero.inputs.sensor import Sensor
from holdzero.inputs.sensor.output import Output

HOLDS, TOO_CLOSE, FAILS = Verdict.HOLDS, Verdict.TOO_CLOSE, Verdict.DOES_NOT_HOLD
NONE = Misses(count=0, n=40, high_95=0.0722)


def candidate(name: str, price: float | None, verdict: Verdict = HOLDS, **about: object) -> Candidate:
    known = {
        "chance_holds": 0.99,
        "chance_holds_wide": 0.97,
        "tolerance_times": 0.6,
        "misses": NONE,
        "ruled_out": (),
    }
    plain_one = replace(by_hand.CHOICE.candidates[0], verdict=verdict, **known | about)
    return replace(plain_one, sensor=Sensor(name=name, price=price, output=Output.PNP))


def more(sentence: str, homings_each: int) -> More:
    return More(power_ups=3 if homings_each else None, homings_each=homings_each, chance=0.9, sentence=sentence)


def compared_by(*ratios: tuple[str, str, float | None, float, float]) -> SimpleNamespace:
    pairs = [
        Ratio(name=name, to=to, ratio=Interval(middle, low, high), chance_tighter=0.5)
        for name, to, middle, low, high in ratios
    ]
    return SimpleNamespace(ranking=SimpleNamespace(ratios=tuple(pairs)))


@pytest.mark.parametrize(
    ("first", "second", "surer"),
    [
        (
            {"chance_holds": 0.999, "chance_holds_wide": 0.95},
            {"chance_holds": 0.98, "chance_holds_wide": 0.97},
            "B",
        ),
        (
            {"chance_holds": 0.96, "chance_holds_wide": 0.99},
            {"chance_holds": 0.98, "chance_holds_wide": 0.97},
            "B",
        ),
        ({"chance_holds_wide": None}, {"chance_holds_wide": 0.951}, "B"),
        ({"chance_holds": 0.9991, "chance_holds_wide": 0.9991}, {"chance_holds": 0.98}, "A"),
        # 0.9991 and 0.9994 are one chance: then the one that would hold less of the tolerance
        (
            {"chance_holds": 0.9994, "chance_holds_wide": 0.9994},
            {"chance_holds": 0.9991, "chance_holds_wide": 0.9991, "tolerance_times": 0.5},
            "B",
        ),
        ({"tolerance_times": None}, {}, "B"),
        ({"chance_holds_wide": 0.972}, {}, "A"),
    ],
)
def test_of_those_as_dear_the_surest(first: dict, second: dict, surer: str):
    """By the smaller of both chances, in thousandths; then by how much of the tolerance it needs."""
    pair = candidate("A", 10.0, **first), candidate("B", 10.0, **second)
    other = {"A": "B", "B": "A"}[surer]
    for order in (pair, pair[::-1]):
        name, reason = _cheapest(order)
        assert name == surer
        assert reason == (
            f"{surer} (10.00) is the cheapest that holds; {other} (10.00) costs the same and holds less surely."
        )


def test_as_sure_and_as_dear_the_earlier_is_taken_and_that_is_said():
    name, reason = _cheapest((candidate("A", 10.0), candidate("B", 10.0), candidate("C", 10.0)))
    assert name == "A"
    assert reason == (
        "A (10.00) is the cheapest that holds; B (10.00) and C (10.00) cost the same and hold as surely, but come "
        "later in the file."
    )
    less = candidate("C", 10.0, chance_holds_wide=0.95)
    assert "hold as surely" in _cheapest((candidate("A", 10.0), candidate("B", 10.0), less))[1]


@pytest.mark.parametrize(
    ("candidates", "chosen", "reason"),
    [
        ([("A", 10.0, HOLDS)], "A", "A (10.00) is the only one that holds."),
        ([("A", 10.0, HOLDS), ("B", 9.0, HOLDS)], "B", "B (9.00) is the cheapest that holds."),
        (
            [("A", None, HOLDS), ("B", None, HOLDS)],
            "A",
            "A is the surest of those that hold; no prices are given, so none can be called the cheapest.",
        ),
        (
            [("A", None, HOLDS), ("B", 9.0, HOLDS)],
            "B",
            "B (9.00) is the cheapest that holds. A holds too, but without a price nobody can say whether it",
        ),
        (
            [("A", None, HOLDS), ("B", 9.0, HOLDS), ("C", None, HOLDS)],
            "B",
            "B (9.00) is the cheapest that holds. A and C hold too, but without a price nobody can say whether",
        ),
        (
            [("A", 0.0, HOLDS), ("B", 9.0, HOLDS)],
            "A",
            "A (0.00) is the cheapest that holds.",
        ),
        (
            [
                ("A", 10.0, HOLDS),
                ("B", 9.0, FAILS),
                ("C", 10.0, FAILS),
                ("D", None, FAILS),
                ("E", 9.99, TOO_CLOSE),
            ],
            "A",
            "A (10.00) is the only one that holds. B (9.00): does not hold. E (9.99): too close to call.",
        ),
        (
            [("A", None, HOLDS), ("B", 9.0, FAILS)],
            "A",
            "A is the only one that holds.",
        ),
        ([], None, "No candidate is named yet."),
        (
            [("A", 10.0, FAILS), ("B", None, FAILS), ("C", 1.0, TOO_CLOSE)],
            None,
            "No candidate holds yet (A (10.00) and B: does not hold; C (1.00): too close to call).",
        ),
    ],
)
def test_what_is_said_of_the_choice(candidates: list[tuple], chosen: str | None, reason: str):
    name, sentences = _cheapest(tuple(candidate(*about) for about in candidates))
    assert name == chosen
    assert sentences.removesuffix(" would be cheaper.").removesuffix(" they") == reason


def test_ruled_out_is_never_chosen_and_is_called_so():
    out = candidate("A", 5.0, ruled_out=("It is too long.",))
    name, reason = _cheapest((out, candidate("B", 10.0)))
    assert (name, reason) == ("B", "B (10.00) is the only one that holds. A (5.00): ruled out.")
    assert _cheapest((out,)) == (None, "No candidate holds yet (A (5.00): ruled out).")


def test_misses_of_the_chosen_one_come_first():
    missed = candidate("A", 10.0, misses=Misses(count=1, n=40, high_95=0.1134))
    assert _cheapest((missed,))[1].startswith("Gross misses: 1 in 40, so up to 1 in 8")
    for misses in (NONE, None):
        assert _cheapest((candidate("A", 10.0, misses=misses),))[1] == "A (10.00) is the only one that holds."


@pytest.mark.parametrize(("output", "enough"), [(Output.DRY_CONTACT, True), (Output.NPN, False), (None, False)])
def test_a_plain_switch_is_enough_only_where_it_is_one(output: Output | None, enough: bool):
    chosen = replace(candidate("A", 10.0), sensor=Sensor(name="A", price=10.0, output=output))
    assert (
        _cheapest((chosen,))[1]
        == "A (10.00) is the only one that holds." + " A plain switch is enough here." * enough
    )


def test_where_none_holds_homings_come_before_causes():
    """What homings can settle first, then the likelier; none of what is ruled out."""
    cause = candidate("A", 1.0, TOO_CLOSE, chance_holds=0.99, to_settle=more("Find the cause.", 0))
    near = candidate("B", 1.0, TOO_CLOSE, chance_holds=0.6, to_settle=more("Six more.", 1))
    far = candidate("C", 1.0, TOO_CLOSE, chance_holds=0.5, to_settle=more("Nine more.", 5))
    unknown = candidate("D", 1.0, TOO_CLOSE, chance_holds=None, to_settle=more("Four more.", 5))
    for order in ((cause, near, far, unknown), (unknown, far, near, cause)):
        assert _cheapest(order)[1].endswith("). For B: Six more.")
    for order in ((cause, unknown), (unknown, cause)):
        assert _cheapest(order)[1].endswith("). For D: Four more.")
    out = replace(near, ruled_out=("It is too long.",))
    assert _cheapest((cause, out, far))[1].endswith("). For C: Nine more.")
    assert _cheapest((cause, out))[1].endswith("). For A: Find the cause.")


def test_a_dozen_is_named_and_the_rest_are_counted():
    many = [candidate(f"S{number}", None, FAILS) for number in range(14)]
    first = ", ".join(f"S{number}" for number in range(11))
    assert MOST_NAMED == 12
    assert f"({first} and S11: does not hold)" in _cheapest(tuple(many[:12]))[1]
    assert f"({first}, S11 and 1 more: does not hold)" in _cheapest(tuple(many[:13]))[1]
    assert f"({first}, S11 and 2 more: does not hold)" in _cheapest(tuple(many))[1]


def test_what_more_money_buys_by_hand():
    """Only what holds, is not ruled out, has a price and costs more; the least extra first."""
    best = candidate("A", 10.0, tolerance_times=0.8)
    others = (
        candidate("B", 30.5),
        candidate("C", 12.0, tolerance_times=None),
        candidate("D", 10.0),
        candidate("E", 9.0, FAILS),
        candidate("F", 50.0, TOO_CLOSE),
        candidate("G", 50.0, ruled_out=("It is too long.",)),
        candidate("H", None),
    )
    ratios = compared_by(("A", "B", 4.0, 2.0, 8.0), ("C", "A", 0.9, 0.5, 1.5))
    cheap, dear = dearer((*others, best), "A", ratios)
    assert (cheap.sensor, cheap.extra, dear.sensor, dear.extra) == ("C", 2.0, "B", 20.5)
    assert (
        cheap.sentence == "C costs 2.00 more, and its spread is not told apart from that of A (0.5 to 1.5 times)."
    )
    assert dear.sentence == (
        "B costs 20.50 more: its spread is 0.25 times that of A (0.12 to 0.5); it would hold 0.6 of the tolerance "
        "asked, A 0.8."
    )
    assert dear.ratio == Interval(0.25, 0.125, 0.5)
    assert dearer((*others, replace(best, sensor=Sensor(name="A"))), "A", ratios) == ()
    assert dearer((*others, best), None, ratios) == ()
    assert dearer((*others, best), "Q", ratios) == ()


@pytest.mark.parametrize(
    ("low", "high", "apart"), [(1.01, 2.0, True), (1.0, 2.0, False), (0.5, 0.99, True), (0.5, 1.0, False)]
)
def test_a_spread_is_told_apart_where_one_lies_outside_its_interval(low: float, high: float, apart: bool):
    (told,) = dearer((candidate("A", 10.0), candidate("B", 11.0)), "A", compared_by(("B", "A", 1.0, low, high)))
    assert ("not told apart" in told.sentence) is not apart


def test_a_ratio_is_found_whichever_way_round_it_was_taken():
    ratios = compared_by(("A", "B", 4.0, 2.0, 8.0), ("B", "C", None, 0.5, 4.0))
    assert ratio_of(ratios, "A", "B") == Interval(4.0, 2.0, 8.0)
    assert ratio_of(ratios, "B", "A") == Interval(0.25, 0.125, 0.5)
    assert ratio_of(ratios, "C", "B") == Interval(None, 0.25, 2.0)
    assert ratio_of(ratios, "A", "C") is None
    assert ratio_of(None, "A", "B") is None
    (told,) = dearer((candidate("B", 10.0), candidate("C", 11.0)), "B", ratios)
    assert told.sentence.startswith(
        "C costs 1.00 more; how its spread compares with that of B is not known; it would"
    )


def test_whether_any_holds():
    assert by_hand.CHOICE.any_holds
    none = [one for one in by_hand.CHOICE.candidates if one.verdict != HOLDS]
    assert {one.verdict for one in none} == {FAILS, Verdict.CANNOT_SAY}
    assert not replace(by_hand.CHOICE, candidates=tuple(none)).any_holds
    assert not replace(by_hand.CHOICE, candidates=()).any_holds
