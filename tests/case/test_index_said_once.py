"""The wrong index is judged once: choice, budget and standing say the same, wherever the switch sits."""

import numpy as np
import pytest
from scipy import stats

from holdzero.case import Case, Texts
from holdzero.case.standing.zero import index_part
from holdzero.compute.choose import Verdict
from holdzero.tell.budget import answer_of

SCATTER_MM, RISK = 0.02, 1e-3
SCORES = stats.norm.ppf((np.arange(1, 41) - 0.375) / 40.25)


def case_of(wrong: float, motors: int) -> Case:
    """Homes that hold; a search that begins so near an index that a side takes the wrong one with that chance."""
    phase = -SCATTER_MM * stats.norm.ppf(wrong) / 5
    machine = (
        '[machine]\nname = "m"\n[requirement]\nposition = "0.05 mm"\nrisk = "1 in 1000"\n'
        f"[axes.X]\nmotors = {motors}\n"
        f'index_pitch = "5 mm"\nindex_phase = "{float(phase)!r}"\nindex_search = "on"\nswitch_spread = "20 um"\n'
        'index_shift = "0 mm"\ntravel = "300 mm"\n' + ('drive_distance = "900 mm"\n' if motors == 2 else "")
    )
    lines = ["sensor,axis,side,set,homing,deviation_mm"]
    for seed, side in enumerate("LR" if motors == 2 else " ", 3):
        scatter = 0.003 * np.random.default_rng(seed).permutation(SCORES / SCORES.std(ddof=1))
        lines += [f"A,X,{side.strip()},{i // 5 + 1},{i % 5 + 1},{v:.5f}" for i, v in enumerate(scatter)]
    files = {"machine": machine, "sensors": "[sensors.A]\nprice = 10\n", "readings": "\n".join(lines) + "\n"}
    return Case(Texts(files=files))


@pytest.mark.parametrize("motors", [1, 2])
@pytest.mark.parametrize("times", [1e-4, 0.01, 0.9, 1.1, 30.0])
def test_all_three_say_the_same(times: float, motors: int):
    """By hand: two sides take it twice as often as one; at the risk and above nothing holds, below it counts."""
    case = case_of(times * RISK / motors, motors)
    on_axis = case.on("X")
    too_often = times > 1
    (candidate,) = on_axis.choice.candidates
    assert candidate.wrong_index == pytest.approx(times * RISK, rel=0.02)
    assert (candidate.verdict == Verdict.DOES_NOT_HOLD) == too_often
    part = index_part(on_axis)
    assert part.answer == ("not good" if too_often else "good")
    assert (answer_of(on_axis.budget) == "not good") == too_often
    assert (case.standings.axes[0].answer == "does not hold") == too_often
    assert ("Move the flag" in part.sentence + part.next) == (times > 1e-3)
