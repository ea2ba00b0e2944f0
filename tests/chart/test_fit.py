"""The picture of which one to fit: a block a candidate, the limit drawn, the verdict and the cure in words."""

import re
from dataclasses import replace

import pytest

import results_by_hand as by_hand
from holdzero.chart.fit import fit_picture, worst_part
from holdzero.quantity import plain
from holdzero.tell.lengths import Lengths
from svg import Svg

CHOICE = by_hand.CHOICE


def lettering(choice=CHOICE, *, narrow: bool = False, **how) -> list[str]:
    svg = Svg(fit_picture(choice, **how).svg(narrow=narrow))
    return [plain(text) for text in svg.words]


@pytest.mark.parametrize("narrow", [False, True])
def test_every_candidate_has_its_verdict_and_the_choice_is_to_be_fitted(narrow):
    words = lettering(narrow=narrow)
    assert sum(": fit this one" in text for text in words) == (CHOICE.choice is not None)
    for candidate in CHOICE.candidates:
        assert any(text.startswith(candidate.sensor.name) for text in words)
    assert "the most it may have" in words


def test_the_worst_side_is_drawn_against_what_it_may_have():
    """By hand: of each candidate's parts the one whose spread over its allowance is largest."""
    words = " | ".join(lettering())
    for candidate in CHOICE.candidates:
        part = worst_part(candidate)
        if part is None or part.findings.spread.middle is None:
            continue
        ratios = [
            part.findings.spread.middle / part.spread_allowed_mm
            for part in candidate.parts
            if part.findings.spread.middle is not None
        ]
        assert part.findings.spread.middle / part.spread_allowed_mm == max(ratios)
        allowed = f"{part.spread_allowed_mm * 1000:.3g} um"
        assert f"may have {allowed}" in words


def test_a_spread_has_as_many_digits_as_in_the_findings():
    words = " | ".join(lettering())
    say = Lengths([part.findings for candidate in CHOICE.candidates for part in candidate.parts], "metric")
    told = [
        part for part in map(worst_part, CHOICE.candidates) if part and part.findings.spread.middle is not None
    ]
    assert told
    for part in told:
        assert f": {plain(say.middle(part.findings.spread))} um, may have" in words


def test_the_bar_crosses_the_limit_where_the_interval_does():
    picture = fit_picture(CHOICE)
    spans = [candidate for candidate in CHOICE.candidates if worst_part(candidate)]
    assert len(re.findall(r"may have", picture.text)) == len(spans)


def test_one_taken_is_said_and_a_ruled_out_one_is_not_to_be_fitted():
    first = CHOICE.candidates[0]
    taken = lettering(taken=first.sensor.name)
    assert any(", taken" in text for text in taken)
    ruled_out = replace(first, ruled_out=("needs 24 V, there are 12 V",))
    words = lettering(replace(CHOICE, candidates=(ruled_out,), choice=None))
    assert "✗ ruled out" in words
    assert any("24 V" in text for text in words)
    assert not any("fit this one" in text for text in words)


def test_a_cure_is_named():
    first = replace(CHOICE.candidates[0], cause="drift after power-up", cure="Let it warm up.", ruled_out=())
    words = lettering(replace(CHOICE, candidates=(first,), choice=None))
    assert "to cure: drift after power-up" in words
