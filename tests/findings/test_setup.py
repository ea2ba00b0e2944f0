"""The measuring set-up's own spread (docs/methods.md, section 9): found the same way, and taken out."""

import numpy as np
import pytest

from holdzero.compute.findings import Findings, study
from holdzero.compute.findings.setup import without
from holdzero.compute.spread import pooled_spread, spread, spread_of_sets
from holdzero.compute.spread.alike import hidden_spread_of_sets
from holdzero.inputs.reading import read_readings

HEAD = "set,homing,deviation_mm,repeat"


def found(homing_sd: float, setup_sd: float, *, repeats: int = 3, seed: int = 1, extra: str = "") -> Findings:
    """8 x 5 homings; the last of each set is read `repeats` times more without homing."""
    rng = np.random.default_rng(seed)
    lines = [HEAD]
    for number in range(1, 9):
        for homing in range(1, 6):
            at = rng.normal(0, homing_sd)
            lines.append(f"{number},{homing},{at + rng.normal(0, setup_sd):.6f},")
        lines += [f"{number},5,{at + rng.normal(0, setup_sd):.6f},yes" for _ in range(repeats)]
    return study(read_readings("\n".join([*lines, extra]).rstrip() + "\n")).findings[0]


def test_repeats_are_readings_of_one_place():
    own = found(0.010, 0.002).setup
    assert (own.n, own.places) == (32, 8)
    assert own.spread.low < 0.002 < own.spread.high
    assert own.homing.low < 0.010 < own.homing.high
    assert not own.sets_the_figure
    assert own.sentence.startswith("Read again without homing, the set-up scatters by")


def test_a_set_up_that_scatters_as_much_sets_the_figure():
    one = found(0.001, 0.004)
    assert one.setup.sets_the_figure
    assert one.setup.sentence.startswith("Your indicator, not the switch, sets this figure")
    assert one.setup.homing.low == 0


def test_its_spread_is_that_of_pooled_spread():
    text = f"{HEAD}\n1,1,0.010,\n1,1,0.012,yes\n1,1,0.011,yes\n1,2,0.020,\n2,1,0.015,\n2,1,0.013,yes\n"
    own = study(read_readings(text, resolution_mm=0.001)).findings[0].setup
    same = pooled_spread([[0.010, 0.012, 0.011], [0.015, 0.013]], resolution=0.001)
    assert (own.n, own.places) == (5, 2)
    assert own.sd_mm == pytest.approx(same.sd)
    assert own.spread.high == pytest.approx(same.high)


def test_readings_zeroed_each_time_say_nothing_of_it():
    text = f"{HEAD}\n1,1,0.010,\n1,1,0.012,yes\n1,2,0.020,\n"
    assert study(read_readings(text, protocol="previous")).findings[0].setup is None
    alone = text.replace("1,1,0.012,yes\n", "")
    assert study(read_readings(alone)).findings[0].setup is None


def test_variances_subtract_when_both_are_well_known():
    """5² - 3² = 4²; 4000 and 2000 degrees of freedom leave 2 %."""
    rng = np.random.default_rng(2)
    left = without(
        spread(rng.normal(0, 5, 4001), resolution=0).posterior,
        spread(rng.normal(0, 3, 2001), resolution=0).posterior,
    )
    assert left.middle == pytest.approx(4, rel=0.04)
    assert left.low < 4 < left.high


def coverage(homing: float, own: float, trials: int, seed: int = 3) -> float:
    rng = np.random.default_rng(seed)
    inside = 0
    for _ in range(trials):
        whole = spread_of_sets([rng.normal(0, np.hypot(homing, own), 5) for _ in range(8)], resolution=0)
        part = pooled_spread([rng.normal(0, own, 3) for _ in range(8)], resolution=0)
        left = without(whole.posterior, part.posterior)
        inside += left.low <= homing <= left.high
    return inside / trials


def test_coverage_small():
    assert coverage(1.0, 0.5, 40) >= 0.85  # three standard errors under 0.95


def test_what_is_left_is_never_above_the_whole():
    """Ten homings whose set-up scatters as much as they do: what remains was believed wider than all of it."""
    rng = np.random.default_rng(6)
    for _ in range(20):
        whole, part = (spread(rng.normal(0, 1, n), resolution=0) for n in (10, 8))
        left = without(whole.posterior, part.posterior)
        assert left.high <= whole.high * 1.001
        assert left.middle <= whole.posterior.quantile(0.5) * 1.001
        assert left.low <= left.middle


@pytest.mark.checks
@pytest.mark.parametrize(("homing", "own"), [(1.0, 0.5), (1.0, 1.0), (1.0, 0.2), (0.3, 1.0)])
def test_coverage(homing: float, own: float):
    assert coverage(homing, own, 1000) >= 0.93


@pytest.mark.parametrize("homing_sd", [0.003, 0.4])
def test_repeats_all_alike_give_a_bound_and_no_zero(homing_sd: float):
    """20 places read four times each, every time the same: no 0, however large the homings' own spread is."""
    rng = np.random.default_rng(2)
    lines = [HEAD]
    for number in range(1, 5):
        for homing in range(1, 6):
            at = round(rng.normal(0, homing_sd), 3)
            lines += [f"{number},{homing},{at},", *[f"{number},{homing},{at},yes"] * 3]
    own = study(read_readings("\n".join(lines) + "\n", resolution_mm=0.001)).findings[0].setup
    assert own.spread.middle is None
    assert own.spread.high == pytest.approx(hidden_spread_of_sets([4] * 20, resolution=0.001), rel=1e-12, abs=0)
    said = own.sentence.replace("\u202f", " ")
    assert "every reading came back the same: the set-up scatters by less than 0.24 µm, the homings by" in said


def test_a_small_set_up_beside_large_homings_keeps_its_digits():
    assert " 0.00 mm" not in found(0.3, 0.0002).setup.sentence.replace("\u202f", " ")
