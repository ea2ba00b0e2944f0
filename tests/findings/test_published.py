"""Published figures, from file to findings: values as written down, through the reader and `study`."""

import pytest
from scipy import stats

from nist import GEAR, LEW, LOTTERY, MAVRO, MICHELSO, MPC62, SIRSTV, ZARR13, num_acc
from printed import printed
from trials import found_in, text_of


class TestStRD:
    """NIST StRD univariate summary statistics: certified mean, standard deviation, lag-1 autocorrelation."""

    @pytest.mark.parametrize(
        ("values", "mean", "sd", "lag1"),
        [
            (LEW, "-177.435", "277.332168044316", "-0.307304800605679"),
            (LOTTERY, "518.958715596330", "291.699727470969", "-0.120948622967393"),
            (MAVRO, "2.001856", "0.000429123454003053", "0.937989183438248"),
            (MICHELSO, "299.8524", "0.0790105478190518", "0.535199668621283"),
        ],
    )
    def test_certified(self, values, mean: str, sd: str, lag1: str):
        found = found_in([text_of(values)])
        # A double holds 15 to 17 digits; of a sd of 0.0004 about 2.0018 it can hold 12.
        assert found.mean_mm == printed(mean, units_in_last_place=2)
        assert found.sd_mm == pytest.approx(float(sd), rel=1e-11)
        assert found.lag1 == pytest.approx(float(lag1), abs=1e-11)
        assert found.within_sd_mm == pytest.approx(found.sd_mm, rel=1e-12)


class TestNumAcc:
    """NIST StRD NumAcc1 to 4: small scatter far from zero."""

    @pytest.mark.parametrize(
        ("number", "mean", "sd", "lag1", "digits"),
        [
            (1, 10000002.0, 1.0, -0.5, 0),
            (2, 1.2, 0.1, -0.999, 1e-13),
            (3, 1000000.2, 0.1, -0.999, 1e-8),
            (4, 10000000.2, 0.1, -0.999, 1e-7),
        ],
    )
    def test_certified(self, number: int, mean: float, sd: float, lag1: float, digits: float):
        found = found_in([text_of(num_acc(number))])
        assert found.mean_mm == pytest.approx(mean, rel=1e-15)
        assert found.sd_mm == pytest.approx(sd, abs=digits)
        assert found.lag1 == pytest.approx(lag1, abs=digits)


class TestMpc62:
    """NIST/SEMATECH e-Handbook 2.6.2: a check standard read once on each of 25 days."""

    found = found_in([[value] for value in text_of(MPC62)])

    def test_day_to_day_is_the_published_figure(self):
        assert self.found.sd_mm == printed("0.0268")
        assert self.found.mean_mm == printed("97.06984")
        assert self.found.mean_mm - 2 * self.found.sd_mm == printed("97.01624")
        assert self.found.mean_mm + 2 * self.found.sd_mm == printed("97.12344")

    def test_interval_is_chi_square_with_24_degrees_of_freedom(self):
        """By SciPy's chi-square."""
        from scipy.stats import chi2

        sd = self.found.sd_mm
        assert self.found.spread.low == pytest.approx(sd * (24 / chi2.ppf(0.975, 24)) ** 0.5, rel=2e-3)
        assert self.found.spread.high == pytest.approx(sd * (24 / chi2.ppf(0.025, 24)) ** 0.5, rel=2e-3)

    def test_within_a_day_cannot_be_told(self):
        assert self.found.within_sd_mm is None
        assert self.found.within.middle is None
        assert "single-readings" in [c.code for c in self.found.cautions]
        assert self.found.power_ups == 25


class TestMavro:
    """StRD Mavro and e-Handbook 1.4.2.6: 50 readings in a row that wander (lag-1 0.94, slope with t = 5.6)."""

    found = found_in([text_of(MAVRO)])

    def test_one_power_up_is_said(self):
        assert self.found.power_ups == 1
        assert self.found.between is None
        assert "one-power-up" in [c.code for c in self.found.cautions]

    def test_not_steady_caps_the_verdict(self):
        assert "not-steady" in [s.code for s in self.found.signatures if s.lowers == "caps"]


def test_zarr13_limits_of_the_mean():
    """NIST/SEMATECH e-Handbook 1.3.5.2: mean 9.26146, sd 0.02279, 95 % limits 9.258242 and 9.264679."""
    found = found_in([text_of(ZARR13)])
    assert found.mean_mm == printed("9.26146")
    assert found.sd_mm == printed("0.02279")
    low, high = stats.t.interval(0.95, found.n - 1, found.mean_mm, found.sd_mm / found.n**0.5)
    assert (low, high) == (printed("9.258242"), printed("9.264679"))


def test_sirstv_five_sets():
    """NIST StRD SiRstv: certified residual sd 0.104076068334656 and F 1.18046237440255."""
    found = found_in(SIRSTV.tolist())
    assert found.within_sd_mm == pytest.approx(0.104076068334656, rel=1e-11)
    assert found.figures.ms_between / found.figures.ms_within == pytest.approx(1.18046237440255, rel=1e-10)
    assert found.sets == 5


def test_gear_chi_square_limits():
    """NIST/SEMATECH e-Handbook 1.3.5.8: n 100, 95 % limits of sigma 0.00551 and 0.00729."""
    found = found_in([text_of(GEAR.ravel())])
    assert (found.spread.low, found.spread.high) == (printed("0.00551"), printed("0.00729"))
