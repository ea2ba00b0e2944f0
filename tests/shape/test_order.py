"""Order: runs about the median, with the tie rule said."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.sandbox.stats.runs import runstest_1samp

from holdzero.shape import runs
from nist import LEW, MAVRO, ZARR13
from printed import printed


class TestBeam:
    """CV-11. NIST/SEMATECH e-Handbook 1.3.5.13: beam deflections, no ties with the median."""

    found = runs(LEW)

    def test_counts(self):
        assert (self.found.runs, self.found.above, self.found.below) == (120, 100, 100)

    def test_statistic(self):
        assert self.found.z == printed("2.6938")
        assert self.found.p == printed("0.007065")


def test_filter_transmittance():
    """CV-12. Ties count as above: 7 runs, 26, 24. In the book (-5.3246) they go with the value before them."""
    found = runs(MAVRO)
    assert (found.runs, found.above, found.below) == (7, 26, 24)
    assert found.z == printed("-5.427136")


def test_heat_flow():
    """CV-12. e-Handbook 1.4.2.8: ties counted above, as here."""
    assert runs(ZARR13).z == printed("-3.2306")


@pytest.mark.parametrize("step", [0, 1])
def test_agrees_with_statsmodels(step):
    x = np.random.default_rng(1).normal(size=45)
    x = np.rint(x / step) * step if step else x
    z, p = runstest_1samp(x, cutoff="median", correction=False)
    assert (runs(x).z, runs(x).p) == pytest.approx((z, p), rel=1e-9)


@given(st.lists(st.integers(-9, 9), min_size=1, max_size=40))
def test_backwards_it_is_the_same(counts):
    x = np.array(counts, float)
    assert runs(x[::-1]) == runs(x)
    assert runs(3 * x + 1) == runs(x)


def test_one_side_only():
    assert runs(np.ones(9)).z == 0
