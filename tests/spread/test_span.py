"""Span: factors of a normal sample, and what a span says about homings to come."""

from math import atan, pi, sqrt

import numpy as np
import pytest

from holdzero.compute.spread import c4, d2, d3, share_inside_span
from holdzero.errors import TooFewReadings
from printed import printed
from relative_range import relative_range_quantile

# n, d2, d3, c4, as the tables of statistics textbooks print them (d2 to n 50: Wan et al. 2014, table 1)
FACTORS = """
 2 1.12838 0.85250 0.797885   19 3.68896 0.73348 0.986214   36 4.23625 0.67759 0.992884
 3 1.69257 0.88837 0.886227   20 3.73495 0.72869 0.986934   37 4.25855 0.67538 0.993080
 4 2.05875 0.87981 0.921318   21 3.77834 0.72417 0.987583   38 4.28018 0.67325 0.993267
 5 2.32593 0.86408 0.939986   22 3.81938 0.71991 0.988170   39 4.30117 0.67118 0.993443
 6 2.53441 0.84804 0.951533   23 3.85832 0.71589 0.988705   40 4.32155 0.66919 0.993611
 7 2.70436 0.83321 0.959369   24 3.89535 0.71207 0.989193   41 4.34136 0.66725 0.993770
 8 2.84720 0.81983 0.965030   25 3.93063 0.70844 0.989640   42 4.36063 0.66537 0.993922
 9 2.97003 0.80783 0.969311   26 3.96432 0.70499 0.990052   43 4.37938 0.66355 0.994066
10 3.07751 0.79705 0.972659   27 3.99654 0.70170 0.990433   44 4.39764 0.66178 0.994203
11 3.17287 0.78731 0.975350   28 4.02741 0.69855 0.990786   45 4.41544 0.66007 0.994335
12 3.25846 0.77848 0.977559   29 4.05704 0.69555 0.991113   46 4.43279 0.65840 0.994460
13 3.33598 0.77042 0.979406   30 4.08552 0.69267 0.991418   47 4.44972 0.65677 0.994580
14 3.40676 0.76302 0.980971   31 4.11293 0.68990 0.991703   48 4.46624 0.65519 0.994695
15 3.47183 0.75621 0.982316   32 4.13934 0.68725 0.991969   49 4.48238 0.65364 0.994806
16 3.53198 0.74991 0.983484   33 4.16482 0.68470 0.992219   50 4.49815 0.65214 0.994911
17 3.58788 0.74405 0.984506   34 4.18943 0.68224 0.992454
18 3.64006 0.73859 0.985410   35 4.21322 0.67987 0.992675
"""


def test_factors_of_a_normal_sample():
    """d2, d3 and c4: integrated here; d2 also as in Wan et al., BMC Med. Res. Methodol. 14 (2014), table 1."""
    figures = FACTORS.split()
    rows = [figures[i : i + 4] for i in range(0, len(figures), 4)]
    assert len(rows) == 49
    for n, mean, sd, bias in rows:
        assert (d2(int(n)), d3(int(n)), c4(int(n))) == (printed(mean), printed(sd), printed(bias)), n


def test_closed_forms():
    """The integrals that can be done by hand."""
    assert d2(2) == pytest.approx(2 / sqrt(pi), rel=1e-10)
    assert d2(3) == pytest.approx(3 / sqrt(pi), rel=1e-10)
    assert d2(4) == pytest.approx(12 / pi**1.5 * atan(sqrt(2)), rel=1e-10)
    assert d2(5) == pytest.approx(30 / pi**1.5 * atan(sqrt(2)) - 5 / sqrt(pi), rel=1e-10)
    assert d3(2) == pytest.approx(sqrt(2 - 4 / pi), rel=1e-9)


class TestRelativeRange:
    """Quantiles of W = range/sigma: integrated, SciPy's studentized range, and 2 000 000 simulated samples."""

    @pytest.mark.parametrize(
        ("p", "n", "w"),
        [
            (0.025, 30, "2.86680"),
            (0.05, 30, "3.03441"),
            (0.5, 30, "4.03734"),
            (0.95, 30, "5.30129"),
            (0.975, 30, "5.57680"),
            (0.95, 20, "5.011689"),
            (0.95, 10, "4.474124"),
        ],
    )
    def test_quantiles(self, p, n, w):
        assert relative_range_quantile(p, n) == printed(w)

    def test_two_homings(self):
        """Range of two is |difference|: sqrt(2) times the normal quantile of (1 + p)/2."""
        assert relative_range_quantile(0.95, 2) == pytest.approx(sqrt(2) * 1.959963985, rel=1e-8)

    def test_simulated(self):
        ranges = np.ptp(np.random.default_rng(36).standard_normal((100_000, 12)), axis=1)
        below = (ranges < relative_range_quantile(0.9, 12)).mean()
        assert below == pytest.approx(0.9, abs=0.004)  # four standard errors


def test_the_relative_range_of_thirty():
    """Quantiles of W = R/σ at 2.5, 50 and 97.5 %: by hand."""
    assert [relative_range_quantile(p, 30) for p in (0.025, 0.5, 0.975)] == pytest.approx(
        [2.86680, 4.03734, 5.57680], rel=1e-5
    )


def test_one_homing_has_no_span():
    with pytest.raises(TooFewReadings, match="for a span"):
        share_inside_span(1)


class TestShareInsideSpan:
    """Wilks 1941: n p^(n-1) - (n-1) p^n = 0.05."""

    @pytest.mark.parametrize("n", [2, 5, 30, 1000])
    def test_equation(self, n):
        p = share_inside_span(n)
        assert n * p ** (n - 1) - (n - 1) * p**n == pytest.approx(0.05, rel=1e-9)

    def test_93_homings_for_95_of_95(self):
        """The sample size found in every textbook on distribution-free tolerance limits."""
        assert share_inside_span(92) < 0.95 <= share_inside_span(93)

    def test_simulated(self):
        """Of uniform values the span is the share itself; any continuous one can be stretched to them."""
        share = np.ptp(np.random.default_rng(38).uniform(size=(40_000, 30)), axis=1)
        assert (share >= share_inside_span(30)).mean() == pytest.approx(0.95, abs=0.0045)
