"""Order: runs about the median, with the tie rule said."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.sandbox.stats.runs import runstest_1samp

from holdzero.compute.shape import residuals, runs
from holdzero.compute.spread import lag1
from nist import LEW, MAVRO, ZARR13
from printed import printed


class TestBeam:
    """NIST/SEMATECH e-Handbook 1.3.5.13: beam deflections, no ties with the median."""

    found = runs(LEW)

    def test_counts(self):
        assert (self.found.runs, self.found.above, self.found.below) == (120, 100, 100)

    def test_statistic(self):
        assert self.found.z == printed("2.6938")
        assert self.found.p == printed("0.007065")


def test_filter_transmittance():
    """e-Handbook 1.4.2.6. Ties count as above: 7, 26, 24. In the book (-5.3246) with the value before them."""
    found = runs(MAVRO)
    assert (found.runs, found.above, found.below) == (7, 26, 24)
    assert found.z == printed("-5.427136")


def test_heat_flow():
    """e-Handbook 1.4.2.8: ties counted above, as here."""
    assert runs(ZARR13).z == printed("-3.2306")


@pytest.mark.parametrize("step", [0, 1])
def test_agrees_with_statsmodels(step):
    x = np.random.default_rng(1).normal(size=45)
    x = np.rint(x / step) * step if step else x
    z, p = runstest_1samp(x, cutoff="median", correction=False)
    assert (runs(x).z, runs(x).p) == pytest.approx((z, p), rel=1e-9)


def _digits_of_pi(n: int) -> list[int]:
    """Machin's formula in whole numbers, with 10 digits to spare."""
    one = 10 ** (n + 10)

    def arc_cotangent(x: int) -> int:
        term = total = one // x
        k, sign = 1, -1
        while term:
            term //= x * x
            k += 2
            total += sign * (term // k)
            sign = -sign
        return total

    pi = 4 * (4 * arc_cotangent(5) - arc_cotangent(239)) // 10**11
    head, tail = divmod(pi, 10 ** (n // 2))  # Python writes no more than 4300 digits at once
    return [int(digit) for digit in f"{head}{tail:0{n // 2}}"]


def test_digits_of_pi():
    """NIST StRD PiDigits: 5000 digits of pi, but for one of them, a 3 where pi has an 8."""
    digits = _digits_of_pi(5000)
    assert digits[956] == 8
    digits[956] = 3
    values = np.array(digits, float)
    assert values.mean() == pytest.approx(4.5348, rel=1e-14)
    assert residuals(values).sd == pytest.approx(2.86733906028871, rel=1e-13)
    assert lag1(values) == pytest.approx(-0.00355099287237972, rel=1e-11)


@given(st.lists(st.integers(-9, 9), min_size=1, max_size=40))
def test_backwards_it_is_the_same(counts):
    x = np.array(counts, float)
    assert runs(x[::-1]) == runs(x)
    assert runs(3 * x + 1) == runs(x)


def test_one_side_only():
    assert runs(np.ones(9)).z == 0
