"""Posterior: quantiles and chances of a belief held on a grid."""

import numpy as np
import pytest
from scipy.special import ndtr

from holdzero.compute.spread import Posterior


def lognormal(nodes: int) -> Posterior:
    """Belief with log(value) normal about log 2, sd 0.3, on `nodes` values."""
    z = np.linspace(-6, 6, nodes)
    return Posterior.from_log_weights(2 * np.exp(0.3 * z), -z * z / 2)


class TestQuantiles:
    """A lognormal belief has quantiles that can be written down."""

    @pytest.mark.parametrize(("nodes", "within"), [(400, 1e-4), (40, 0.01)])
    def test_lognormal(self, nodes, within):
        for p, z in ((0.025, -1.959964), (0.5, 0.0), (0.95, 1.644854)):
            assert lognormal(nodes).quantile(p) == pytest.approx(2 * np.exp(0.3 * z), rel=within)

    def test_chance_is_the_inverse(self):
        belief = lognormal(60)
        for p in (0.001, 0.3, 0.975):
            assert belief.chance_at_most(belief.quantile(p)) == pytest.approx(p)

    def test_chance_outside_the_grid(self):
        assert lognormal(50).chance_at_most(0.0) == 0
        assert lognormal(50).chance_at_most(100.0) == 1

    def test_chance_between_the_last_two_nodes(self):
        belief = lognormal(40)
        for nodes in (belief.value[:2], belief.value[-2:]):
            limit = float(np.sqrt(nodes[0] * nodes[1]))
            assert belief.chance_at_most(limit) == pytest.approx(ndtr(np.log(limit / 2) / 0.3), abs=1e-8)

    def test_weights_of_any_size(self):
        """exp(-2000), 1 and exp(-1), times exp(900), of which none can be written down as it is."""
        belief = Posterior.from_log_weights(np.array([1.0, 2.0, 3.0]), np.array([-1100.0, 900.0, 899.0]))
        assert belief.weight == pytest.approx([0, 0.7310586, 0.2689414])  # 1/(1 + 1/e)

    def test_order_of_nodes_does_not_matter(self):
        value = np.array([[3.0, 1.0], [2.0, 4.0]])
        found = Posterior.from_log_weights(value, np.log(value))
        assert found.value.tolist() == [1, 2, 3, 4]
        assert found.weight == pytest.approx(np.array([1, 2, 3, 4]) / 10)

    def test_from_chances(self):
        edge = 2 * np.exp(0.3 * np.linspace(-6, 6, 201))
        z = np.log(edge / 2) / 0.3
        belief = Posterior.from_chances(edge, ndtr(z), ndtr(-z))
        assert belief.quantile(0.975) == pytest.approx(2 * np.exp(0.3 * 1.959964), rel=1e-3)

    def test_both_tails_keep_their_digits(self):
        """A lognormal belief and its mirror image, 1/x, give the same chances, however small (SciPy's ndtr)."""
        z = np.linspace(-9, 9, 2001)
        belief = Posterior.from_chances(np.exp(z), ndtr(z), ndtr(-z))
        beyond = belief.weight[belief.value > np.exp(7)].sum()
        before = belief.weight[belief.value < np.exp(-7)].sum()
        assert beyond == pytest.approx(before, rel=1e-9, abs=0)
        assert beyond == pytest.approx(ndtr(-7.0), rel=0.05, abs=0)  # the cell at 7 counts whole or not at all
        assert belief.weight[1800:].sum() == pytest.approx(ndtr(-z[1800]) - ndtr(-9.0), rel=1e-9, abs=0)
        assert belief.score() == pytest.approx(-belief.score()[::-1], abs=1e-9)


def test_mean():
    """Of a lognormal: 2 exp(0.3²/2)."""
    belief = lognormal(200)
    assert belief.weight @ belief.value == pytest.approx(2 * np.exp(0.045), rel=1e-6)


def test_scaled():
    assert lognormal(50).scaled(25.4).quantile(0.3) == pytest.approx(25.4 * lognormal(50).quantile(0.3))
