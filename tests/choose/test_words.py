"""The sentences of a verdict, on candidates made by hand: which are said, in what order, with which figures."""

from dataclasses import replace
from types import SimpleNamespace

import pytest
from scipy import stats

import results_by_hand as by_hand
from holdzero.compute.choose import Verdict
from holdzero.compute.choose.cures import Cure
from holdzero.compute.choose.values import Candidate, Lack, More, Part
from holdzero.compute.choose.words import of_homings, reasons, rests_on
from holdzero.compute.choose.words import series as every_series
from holdzero.compute.findings.values import Findings, Misses, MissesElsewhere
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread import Interval
from holdzero.quantity import in_system, plain

RISK = 1e-3
TOO_CLOSE = Verdict.TOO_CLOSE
LACK = Lack(code="homings", side="", sentence="Three homings more.", counted=9, need=12)
NONE_OF_40 = Misses(count=0, n=40, high_95=0.0722)  # 1 - 0.05^(1/40)


def series(read: str = "L", **said: object) -> Findings:
    """Findings of 12 um (9 to 17) in eight power-ups, nothing seen."""
    found = by_hand.STUDY.of("plain", "Y", read)
    return replace(found, **{"spread": Interval(0.012, 0.009, 0.017), "power_ups": 8, "rounding_mm": 0.001} | said)


def part(name: str = "position", findings: Findings | None = None, **said: object) -> Part:
    known = {"spread_allowed_mm": 0.0395, "chance_holds": 0.97, "chance_holds_heavy": 0.9, "share_outside": 1e-4}
    return Part(name=name, findings=findings or series(), **known | said)


def judged(*parts: Part, **said: object) -> Candidate:
    """A candidate that holds by these parts, without anything to be said against it."""
    usual = {"verdict": Verdict.HOLDS, "misses": NONE_OF_40, "ruled_out": (), "risk_times": 3}
    chances = {"chance_holds": 0.97, "chance_holds_heavy": 0.9, "chance_holds_wide": 0.96, "share_outside": 1e-4}
    candidate = replace(by_hand.CHOICE.candidates[0], parts=parts or (part(),), **usual | chances)
    return replace(candidate, **said)


def told(candidate: Candidate, *cures: Cure, **asked: object) -> list[str]:
    return [plain(sentence) for sentence in reasons(candidate, cures, **{"risk": RISK} | asked)]


@pytest.mark.parametrize(
    ("about", "against", "says"),
    [
        (
            {"risk_times": 1},
            False,
            "At most 1 in 1000, even under the heavy tails that these 20 homings leave",
        ),
        (
            {"risk_times": 3},
            False,
            "At most 1 in 1000 if the scatter stays as regular as it looks; under the heavier tails these 20",
        ),
        (
            {"verdict": Verdict.DOES_NOT_HOLD, "wrong_index": 1e-3},
            True,
            "does not hold: the wrong index alone is taken more often than may land outside",
        ),
        (
            {"verdict": Verdict.DOES_NOT_HOLD, "wrong_index": 9e-4},
            True,
            "does not hold: homings landed outside what is asked",
        ),
        ({"verdict": Verdict.DOES_NOT_HOLD}, False, "does not hold even if the scatter is regular"),
        (
            {"verdict": Verdict.DOES_NOT_HOLD, "misses": NONE_OF_40},
            True,
            "does not hold even if the scatter is regular",
        ),
        (
            {"verdict": TOO_CLOSE, "cure": "Look.", "lacks": (LACK,)},
            False,
            "no spread stands while what it rests on is broken",
        ),
        (
            {"verdict": TOO_CLOSE, "lacks": (LACK, replace(LACK, code="both-sides"))},
            False,
            "one side says nothing of the other: read both sides",
        ),
        (
            {"verdict": TOO_CLOSE, "chance_holds": None, "lacks": (LACK,)},
            False,
            "what switching off and on does was not seen",
        ),
        ({"verdict": TOO_CLOSE, "lacks": (LACK,)}, False, "too little was read for anything to hold"),
        (
            {"verdict": TOO_CLOSE, "chance_holds": 0.95, "risk_times": 1},
            False,
            "it would hold with regular scatter; these 20 homings look as if the tails were heavier",
        ),
        (
            {"verdict": TOO_CLOSE, "chance_holds": 0.95},
            False,
            "it would hold with regular scatter; these 20 homings cannot rule out tails under which more than",
        ),
        (
            {"verdict": TOO_CLOSE, "chance_holds": 0.949},
            False,
            "too close even if the scatter stays as regular as it looks",
        ),
        ({"verdict": Verdict.CANNOT_SAY}, False, ""),
    ],
)
def test_what_a_verdict_rests_on_in_one_line(about: dict, against: bool, says: str):
    """By hand: 20 homings on either side, two of them outside; 0.95 is asked."""
    candidate = judged(misses=Misses(count=2, n=20, high_95=0.28, outside=2))
    line = rests_on(replace(candidate, **about), risk=RISK, confidence=0.95, against=against)
    assert plain(line).startswith(says)
    assert bool(line) is bool(says)


def test_how_many_more_may_land_outside_is_the_last_word():
    for about, says in (
        ({}, "cannot rule out, up to 3 in 1000"),
        ({"risk_times": 1}, "that these 20 homings leave open"),
    ):
        assert rests_on(judged(**about), risk=RISK, confidence=0.95, against=False).endswith(says)
    line = rests_on(judged(verdict=TOO_CLOSE), risk=0.002, confidence=0.95, against=False)
    assert line.endswith("more than 3 in 500 land outside")


def test_sides_are_told_before_their_difference():
    apart, left, right = (series(side) for side in ("difference", "L", "R"))
    parts = part("squareness", apart), part("position L", left), part("position R", right)
    assert [findings.side for findings in every_series(parts)] == ["L", "R", "difference"]
    both = (part("squareness and position", right, opposite=left),)
    assert [findings.side for findings in every_series(both)] == ["R", "L"]


def test_the_fewest_homings_of_any_part_are_named():
    few = part("position R", series("R", n=19))
    for parts in ((part(), few), (few, part())):
        assert "these 19 homings" in rests_on(judged(*parts), risk=RISK, confidence=0.95, against=False)


@pytest.mark.parametrize(
    ("times", "risk", "says"),
    [
        (3, 1e-3, "3 in 1000"),
        (1, 1 / 2, "1 in 2"),
        (3, 1 / 6, "3 in 6"),
        (3, 1 / 5, "60 %"),  # more than one of two: no longer so many in so many
        (3, 1 / 4, "75 %"),
        (1, 2 / 5, "40 %"),  # 1 in 2.5
        (3, 0.0015, "1 in 220"),  # 0.0045
    ],
)
def test_a_risk_in_words(times: int, risk: float, says: str):
    assert plain(of_homings(times, risk)) == says


def cure(seen: str) -> Cure:
    return Cure(code="apart", seen=seen, do="Look at it.", name="apart")


def test_what_matters_most_comes_first():
    """All there is to be said of one candidate, in its order; misses first only where there are some."""
    growth = SimpleNamespace(code="more", sentence="It grows by 3 um a degree.")
    stray = Signature(
        code="stray-step",
        sentence="Homing 3 lies off by a full step.",
        statistic=1.0,
        threshold=1.0,
        false_alarm_rate=0.01,
        causes=(),
        check="",
    )
    setup = SimpleNamespace(sets_the_figure=True, sentence="The indicator sets the figure.")
    found = series(
        side="", growth=growth, setup=setup, signatures=(stray,), misses=Misses(count=1, n=20, high_95=0.2)
    )
    sure, doubtful = part("position", found), part("squareness", found, chance_holds=0.5)
    candidate = judged(
        sure,
        doubtful,
        part("position L", found, chance_holds=None),
        verdict=TOO_CLOSE,
        uneven=True,
        index=SimpleNamespace(wrong=2e-4),
        lacks=(LACK,),
        to_settle=More(power_ups=2, homings_each=5, chance=0.9, sentence="Two more power-ups."),
    )
    gross = "Gross misses: none in 40, so fewer than 1 in 13 (95 %)."
    rest = [
        "It stands apart.",
        "It drifts.",
        "Homing 3 lies off by a full step.",
        "Homing 3 lies off by a full step.",
        "Homing 3 lies off by a full step.",
        "A side takes the wrong index in 1 in 5000 homings, and that is outside.",
        "The indicator sets the figure.",
        "Position at the left end: the spread is 12.0 um (95 %: 9.0 to 17.0); 39.5 um is allowed.",
        "Squareness: the sides differ with a spread of 12.0 um (95 %: 9.0 to 17.0); 39.5 um is allowed.",
        "Position: the spread is 12.0 um (95 %: 9.0 to 17.0); 39.5 um is allowed.",
        "The scatter differs from power-up to power-up.",
        "It grows by 3 um a degree.",
        "It grows by 3 um a degree.",
        "It grows by 3 um a degree.",
        "Three homings more.",
        "Two more power-ups.",
    ]
    cures = cure("It stands apart."), cure("It drifts.")
    assert told(candidate, *cures) == [*rest, gross]
    with_one = replace(candidate, misses=Misses(count=1, n=40, high_95=0.1134, apart=1))
    first = "Gross misses: 1 in 40, so up to 1 in 8 (95 %); none of them landed outside what is asked, 1 far from "
    assert told(with_one, *cures) == [f"{first}all others: find the cause first.", *rest]
    without = told(replace(candidate, misses=None, verdict=Verdict.DOES_NOT_HOLD), *cures)
    assert without[:2] == rest[:2]
    assert without[-1] == rest[-1]
    assert not any("Gross" in one or "Three homings" in one or "Homing 3" in one for one in without)


def test_a_setup_that_does_not_set_the_figure_is_not_told():
    quiet = SimpleNamespace(sets_the_figure=False, sentence="The indicator adds nothing.")
    assert not any("indicator" in one for one in told(judged(part(findings=series(setup=quiet)))))


def test_growth_that_may_be_nothing_is_not_told():
    none = SimpleNamespace(code="not-shown", sentence="It may not grow.")
    assert "It may not grow." not in told(judged(part(findings=series(growth=none))))
    one = SimpleNamespace(code="less", sentence="It grows less.")
    sides = part(findings=series(growth=one)), part("position R", series("R", growth=none))
    assert "Left side: it grows less." in told(judged(*sides))


@pytest.mark.parametrize(
    ("to_settle", "lack", "said"),
    [
        (None, LACK, True),
        ((4, 20, 0.0, "Four more power-ups."), LACK, False),  # 9 and 20 are more than 12
        ((1, 3, 0.0, "One more power-up."), LACK, False),  # 9 and 3 are 12
        ((1, 2, 0.0, "One more power-up."), LACK, True),
        ((4, 20, 0.1, "Four more power-ups."), LACK, True),  # foreseen, not asked for unseen
        ((4, 20, 0.0, "Four more power-ups."), replace(LACK, counted=None), True),
        ((4, 20, 0.0, "Four more power-ups."), replace(LACK, need=None), True),
        ((4, 20, 0.0, "Four more power-ups."), replace(LACK, code="both-sides"), True),
        ((3, 2, 0.0, "Three more power-ups."), replace(LACK, code="power-ups", counted=1, need=4), False),
        ((2, 9, 0.0, "Two more power-ups."), replace(LACK, code="power-ups", counted=1, need=4), True),
        ((None, None, 0.0, "Look."), LACK, True),
        ((None, None, 0.0, LACK.sentence), LACK, True),  # once, as what settles it
    ],
)
def test_what_is_missing_is_not_asked_for_twice(to_settle: tuple | None, lack: Lack, said: bool):
    settle = to_settle and More(
        power_ups=to_settle[0], homings_each=5, homings=to_settle[1], chance=to_settle[2], sentence=to_settle[3]
    )
    sentences = told(judged(verdict=TOO_CLOSE, lacks=(lack,), to_settle=settle))
    assert sentences.count(LACK.sentence) == said


@pytest.mark.parametrize(
    ("about", "allowed_mm", "system", "says"),
    [
        ({}, 0.0395, "metric", "is 12.0 um (95 %: 9.0 to 17.0); 39.5 um is allowed."),
        ({"power_ups": 2}, 0.0395, "metric", "is 12.0 um (95 %: 9.0 to 17.0); 39.5 um is allowed."),
        (
            {"power_ups": 1},
            0.0395,
            "metric",
            "is 12.0 um within one power-up (95 %: 9.0 to 17.0); 39.5 um is allowed.",
        ),
        ({}, 0.0395, "inch", "is 0.47 thou (95 %: 0.35 to 0.67); 1.56 thou is allowed."),
        ({"spread": Interval(1.2, 0.9, 1.7)}, 3.95, "metric", "is 1.200 mm (95 %: 0.900 to 1.700); 3.950 mm is"),
        (
            {"spread": Interval(1.2, 0.9, 1.7)},
            0.0395,
            "metric",
            "is 1200.0 um (95 %: 900.0 to 1700.0); 39.5 um is",
        ),
        (
            {"spread": Interval(0.012, 0.009, 0.017)},
            3.95,
            "metric",
            "is 12.0 um (95 %: 9.0 to 17.0); 3950.0 um is",
        ),
        (
            {"spread": Interval(3.81, 2.54, 5.08)},
            127.0,
            "inch",
            "is 0.1500 in (95 %: 0.1000 to 0.2000); 5.0000 in",
        ),
        (
            {"spread": Interval(None, 0.0, 0.0067), "resolution_mm": 0.02, "rounding_mm": 0.0283},
            0.0395,
            "metric",
            "is at most 6.7 um, as far as a display that counts in 20 um can tell; 39.5 um is allowed.",
        ),
        (
            {"spread": Interval(None, 0.0, 0.0067), "resolution_mm": 0.02, "power_ups": 1},
            0.0395,
            "metric",
            "is at most 6.7 um within one power-up, as far as a display that counts in 20 um can tell; 39.5 um is",
        ),
        (
            {"posterior": None, "n": 2},
            0.0395,
            "metric",
            "every homing read the same and the step of the display is not said; say it, and what it can hide is",
        ),
        (
            {"posterior": None, "n": 1},
            0.0395,
            "metric",
            "1 homing cannot show a spread; record at least 10, over several power-ups.",
        ),
        (
            {"posterior": None, "n": 0},
            0.0395,
            "metric",
            "0 homings cannot show a spread; record at least 10, over several power-ups.",
        ),
    ],
)
def test_the_figure_of_a_part_in_one_unit(about: dict, allowed_mm: float, system: str, says: str):
    """By hand: 12 um and 39.5 um are 0.472 and 1.555 thou; the unit is that of the smaller, spread or allowed."""
    first = told(judged(part(findings=series(**about), spread_allowed_mm=allowed_mm)), system=system)[0]
    assert first.startswith(f"Position: {'' if 'posterior' in about else 'the spread '}{says}")


def test_in_both_units_each_of_them_is_as_it_is_alone():
    candidate = judged(part(findings=series(spread=Interval(1.2, 0.9, 1.7)), spread_allowed_mm=0.9))
    (whole, *_) = reasons(candidate, risk=RISK, system="both")
    for system, says in (("metric", "1.200 mm (95 %: 0.900 to"), ("inch", "47.24 thou (95 %: 35.43 to")):
        alone = reasons(candidate, risk=RISK, system=system)[0]
        assert in_system(whole, system) == alone
        assert says in plain(alone)


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("squareness", "Squareness: the sides differ with a spread of 12.0 um"),
        ("position L", "Position at the left end: the spread is 12.0 um"),
        ("position R", "Position at the right end: the spread is 12.0 um"),
        ("position", "Position: the spread is 12.0 um"),
        ("squareness and position", "Squareness and position: the spread of a side is 12.0 um"),
    ],
)
def test_what_each_part_is_called(name: str, says: str):
    assert told(judged(part(name)))[0].startswith(says)


@pytest.mark.parametrize(
    ("about", "share", "said"),
    [
        ({}, 1.1e-3, True),
        ({}, 1e-3, False),
        ({}, None, False),
        ({"verdict": TOO_CLOSE}, 1.1e-3, False),
        ({"chance_holds": None}, 1.1e-3, False),
    ],
)
def test_a_mean_share_above_the_risk_is_explained_where_it_holds(about: dict, share: float | None, said: bool):
    sentence = (
        "The share outside, 1 in 910, is a mean over every spread these homings allow, and the few wide ones "
        "weigh most in it; that the true share is at most 1 in 1000 has a chance of 0.97. More power-ups bring "
        "the two together."
    )
    assert (sentence in told(judged(share_outside=share, **about))) is said


@pytest.mark.parametrize(
    ("about", "confidence", "says"),
    [
        (
            {"chance_holds_wide": 0.94},
            0.95,
            "Only the tails keep it open: a long run of some hundred homings in one",
        ),
        ({"chance_holds_wide": None}, 0.95, "Only the tails keep it open"),
        ({"chance_holds_wide": 0.95}, 0.95, ""),
        ({"chance_holds": 0.95, "chance_holds_wide": 0.9}, 0.95, "Only the tails keep it open"),
        ({"chance_holds": 0.949, "chance_holds_wide": 0.9}, 0.95, ""),
        ({"chance_holds_wide": 0.94, "cure": "Look."}, 0.95, ""),
        ({"chance_holds_wide": 0.94, "verdict": Verdict.HOLDS}, 0.95, ""),
        ({"chance_holds_wide": 0.94}, 0.9, ""),
        (
            {"chance_holds_wide": 0.94, "tails_hidden": True},
            0.95,
            "A display this coarse hides the tails: a finer one, not more homings, is what is missing.",
        ),
        (
            {"tails": "heavy"},
            0.95,
            "Heavy tails were seen, so the asked risk itself is required; with twice the room",
        ),
    ],
)
def test_what_would_show_the_tails(about: dict, confidence: float, says: str):
    sentences = told(judged(**{"verdict": TOO_CLOSE} | about), confidence=confidence)
    about_tails = [one for one in sentences if "tails" in one]
    assert len(about_tails) == bool(says)
    assert all(one.startswith(says) for one in about_tails)


def test_of_both_sides_a_long_run_of_both_would_show_them():
    """Position of two sides is two series, squareness three."""
    sides = part("position L"), part("position R", series("R"))
    for parts in (sides, (part("squareness", series("difference")), *sides)):
        (said,) = [one for one in told(judged(*parts, verdict=TOO_CLOSE, chance_holds_wide=0.9)) if "Only" in one]
        assert "a long run of some hundred homings of both sides in one power-up" in said


def test_power_ups_that_did_not_happen_are_told_by_the_fewest_of_any_part():
    """Binomial, by SciPy: what lands elsewhere with a share q shows in none of 6 with chance 0.05."""
    parts = part(), part("position R", series("R", power_ups=6))
    (said,) = [one for one in told(judged(*parts)) if "lands elsewhere" in one]
    assert said.startswith(
        "A power-up that lands elsewhere may not have happened in these 6, even if up to 39 % of"
    )
    assert stats.binom.pmf(0, 6, 0.39) == pytest.approx(0.05, abs=0.002)
    assert not any("lands elsewhere" in one for one in told(judged(*parts, verdict=TOO_CLOSE)))


def wrong(side: str, *codes: str) -> Findings:
    """A side with one homing plainly wrong, and what was seen of it."""
    seen = [
        Signature(
            code=code,
            sentence=f"It is {code}.",
            statistic=1.0,
            threshold=1.0,
            false_alarm_rate=0.01,
            causes=(),
            check="",
        )
        for code in codes
    ]
    return series(side, signatures=tuple(seen), misses=Misses(count=1, n=20, high_95=0.22))


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ([wrong("L", "outlying", "stray-step", "drift")], ["It is stray-step."]),
        ([wrong("L", "outlying", "drift")], ["It is outlying."]),
        ([wrong("L", "drift")], []),
        (
            [wrong("L", "outlying"), wrong("R", "stray-turn")],
            ["Left side: it is outlying.", "Right side: it is stray-"],
        ),
        ([wrong("difference", "outlying"), wrong("L", "outlying")], ["Left side: it is outlying."]),
        ([wrong("difference", "outlying")], ["It is outlying."]),  # the only series there is
        ([replace(wrong("L", "outlying"), misses=NONE_OF_40)], []),
    ],
)
def test_a_homing_that_is_plainly_wrong_is_told_with_its_side(parts: list[Findings], says: list[str]):
    candidate = judged(*(part(findings=findings) for findings in parts))
    said = [
        one for one in told(candidate) if " is " in one and one.endswith(("outlying.", "step.", "turn.", "drift."))
    ]
    assert len(said) == len(says)
    assert all(one.startswith(begins) for one, begins in zip(said, says, strict=True))
    fault = replace(candidate, misses=replace(NONE_OF_40, fault=True))
    assert not any(one.endswith(("outlying.", "step.", "turn.")) for one in told(fault))


def test_misses_counted_elsewhere_are_named_with_their_source():
    elsewhere = (
        MissesElsewhere(sensor="A", count=1, n=900, source="watch log"),
        MissesElsewhere(sensor="A", count=0, n=60),
    )
    misses = Misses(count=1, n=1000, high_95=0.00473, outside=1, elsewhere=elsewhere)
    assert told(judged(misses=misses))[0] == (
        "Gross misses: 1 in 1000 (1 in 900 from watch log, 0 in 60 from elsewhere), so up to 1 in 211 (95 %); "
        "1 of them landed outside what is asked."
    )
    assert stats.beta.ppf(0.95, 2, 999) == pytest.approx(0.00473, abs=1e-5)
    none = replace(misses, count=0, outside=0, high_95=0.002991)
    assert told(judged(misses=none))[-1] == (
        "Gross misses: none in 1000 (1 in 900 from watch log, 0 in 60 from elsewhere), so fewer than 1 in 334 "
        "(95 %)."
    )


@pytest.mark.parametrize("wrong_share", [None, 2e-4])
def test_the_wrong_index_is_told_where_it_is_known(wrong_share: float | None):
    index = wrong_share and SimpleNamespace(wrong=wrong_share)
    said = [one for one in told(judged(index=index)) if "wrong index" in one]
    assert said == ["A side takes the wrong index in 1 in 5000 homings, and that is outside."] * bool(wrong_share)


def test_nothing_is_said_of_tails_where_nothing_holds():
    for verdict in (Verdict.DOES_NOT_HOLD, Verdict.CANNOT_SAY):
        candidate = judged(verdict=verdict, uneven=True, tails="heavy", chance_holds_wide=0.1)
        assert not any("tails" in one or "differs from" in one for one in told(candidate))
