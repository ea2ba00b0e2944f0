"""Beyond chance: settled with the first shuffles that are enough, the answer is that of all of them."""

from itertools import pairwise

import numpy as np
import pytest

from holdzero.compute.steady.shuffle import DRAWS, SEED, beyond_chance, chance, normals, shuffles


@pytest.mark.parametrize("n", [12, 33])
def test_same_answer_as_all_shuffles(n):
    draw = np.random.default_rng(n)
    answers = set()
    for shift in np.linspace(0, 2.5, 25):
        values = draw.standard_normal(n)
        values[n // 2 :] += shift

        def reach(orders, values=values):
            dealt = values[orders]
            return np.abs(dealt[:, : n // 2].mean(axis=1) - dealt[:, n // 2 :].mean(axis=1))

        seen = float(reach(np.arange(n)[None, :])[0])
        whole = chance(reach(shuffles((n,))), seen)
        assert beyond_chance(reach, n, seen, risk=0.01) == (whole <= 0.01)
        for share in (0.5, 1.0):  # what is surely reached settles a part, or all

            def at_least(orders, share=share, reach=reach):
                return share * reach(orders)

            assert beyond_chance(reach, n, seen, risk=0.01, at_least=at_least) == (whole <= 0.01)
        answers.add(whole <= 0.01)
    assert answers == {True, False}


def test_looks_at_few_where_nothing_is_there():
    looked = []

    def reach(orders):
        looked.append(len(orders))
        return np.ones(len(orders))

    assert not beyond_chance(reach, 20, 1.0, risk=0.01)
    assert sum(looked) < DRAWS / 20


def test_orders_that_are_kept_cannot_be_written_over():
    """They serve whoever asks next."""

    def reach(orders):
        with pytest.raises(ValueError, match="read-only"):
            orders[0, 0] = 0
        return np.zeros(len(orders))

    assert beyond_chance(reach, 21, 1.0, risk=0.01)
    for kept in (shuffles((2, 3)), normals(5)):
        with pytest.raises(ValueError, match="read-only"):
            kept[0, 0] = 0


def test_what_is_surely_reached_is_not_asked_again():
    def reach(orders):
        raise AssertionError("asked")

    assert not beyond_chance(reach, 20, 1.0, risk=0.01, at_least=lambda orders: np.ones(len(orders)))


@pytest.mark.parametrize("sizes", [(1,), (7,), (6,) * 10, (1, 120, 1, 60), (300,), (2,) * 150])
def test_dealt_as_one_who_asks_for_the_order_of_the_keys(sizes):
    """The keys drawn all at once, and put in order set by set."""
    order, starts = shuffles(sizes), np.cumsum((0, *sizes))
    keys = np.random.default_rng(SEED).random((DRAWS, sum(sizes)))
    for start, end in pairwise(starts):
        assert np.array_equal(order[:, start:end] - start, np.argsort(keys[:, start:end], axis=1))
    assert order.dtype == np.intp
