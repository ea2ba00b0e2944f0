"""Average run length of fixed limits (NIST/SEMATECH e-Handbook, 6.3.2)."""

import numpy as np
import pytest

from holdzero.compute.watch import average_run_length
from printed import printed


class TestThreeSigmaLimits:
    """A textbook prints 370.4 and 43.9 (the e-Handbook 371); the other digits are by hand, 1/(Φ + Φ)."""

    @pytest.mark.parametrize(
        ("shift", "homings"), [(0, "370.3983"), (0.5, "155.2242"), (1, "43.8947"), (2, "6.3030"), (3, "2.0000")]
    )
    def test_published(self, shift, homings):
        assert average_run_length(limit_sds=3, shift_sds=shift) == printed(homings)

    def test_either_way(self):
        assert average_run_length(limit_sds=3, shift_sds=-1.5) == average_run_length(limit_sds=3, shift_sds=1.5)

    @pytest.mark.parametrize("shift", [0.0, 1.0, 2.0])
    def test_agrees_with_homings_counted_until_the_alarm(self, shift):
        """Another way: home until a reading falls outside, and count."""
        rng = np.random.default_rng(20260101)
        outside = np.abs(rng.normal(shift, 1, 400_000)) > 2.5
        lengths = np.diff(np.flatnonzero(outside), prepend=-1)
        four_errors = 4 * lengths.std() / np.sqrt(lengths.size)
        assert average_run_length(limit_sds=2.5, shift_sds=shift) == pytest.approx(lengths.mean(), abs=four_errors)
