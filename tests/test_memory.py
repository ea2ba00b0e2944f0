"""Memory: what is kept between questions stays within its bytes, whatever is asked."""

import gc
import threading
import tracemalloc
from random import Random

import numpy as np
import pytest
from starlette.testclient import TestClient

from holdzero import memory
from holdzero.case import in_book
from holdzero.inputs.reading import read_readings
from holdzero.memory import MIB, Remembered, Same, exactly, kept_within, weight
from holdzero.quantity import glyphs
from holdzero.store import open_book
from holdzero.web.app import create_app


class TestWeight:
    """Bytes, against what Python's own account of allocations says."""

    @pytest.mark.parametrize(
        "make",
        [
            lambda: np.zeros(10_000),
            lambda: np.zeros(20_000)[::2],  # holds all of what it is a part of
            lambda: [{str(i): float(i) + 0.5} for i in range(2000)],
            lambda: ("x" * 50_000, {"a": np.ones((50, 50))}),
        ],
    )
    def test_it_is_what_was_allocated(self, make):
        gc.collect()
        tracemalloc.start()
        kept = make()
        held, _ = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert weight(kept) == pytest.approx(held, rel=0.2)

    def test_each_part_counts_once(self):
        part = np.zeros(1000)
        assert weight([part, part]) < 8500

    def test_counting_stops_where_it_is_enough(self):
        assert weight([np.zeros(1000)] * 2 + [np.ones(10**6)], enough=1000) < 10**7


class TestKeys:
    """What is kept under a key is found again under that key alone."""

    def test_values_alike_are_not_the_same(self):
        kinds = [1, 1.0, True, "1", b"1", None, 0.0, -0.0, ""]
        assert len({exactly([(kind,)]) for kind in kinds}) == len(kinds)
        again = "".join(("a", "b")), float("0.1")  # others, and equal
        assert exactly([("ab", 0.1)]) == exactly([again])

    def test_one_very_object(self):
        one, alike = [1], [1]
        assert len({Same(one), Same(one), Same(alike)}) == 2


class TestRemembered:
    """The newest stay, within their bytes."""

    def test_the_oldest_go_first(self):
        answers = Remembered(100_000)
        for i in range(100):
            answers(i, lambda: np.zeros(1000))
            answers(0, lambda: np.zeros(1000))  # asked for again and again
            assert answers.taken <= 100_000
        kept = [i for i in range(100) if answers.has(i)]
        assert kept == [0, *range(101 - len(kept), 100)]
        assert 10 <= len(kept) <= 12

    def test_the_newest_is_kept_whatever_it_takes(self):
        answers = Remembered(1000)
        for i in range(3):
            answers(i, lambda: np.zeros(1000))
        assert [answers.has(i) for i in range(3)] == [False, False, True]

    def test_one_that_weighs_as_another_is_weighed_itself_once_that_is_gone(self):
        answers = Remembered(100_000)
        answers("both", lambda: np.zeros(1000))
        one = answers.taken
        answers("a part", lambda: np.zeros(500), weighs_as="both")
        assert answers.taken == 2 * one
        answers.forget()
        answers("a part", lambda: np.zeros(500), weighs_as="both")
        assert 4000 < answers.taken < one

    def test_an_answer_of_an_earlier_mark_is_made_anew_in_its_place(self):
        answers, made = Remembered(MIB), iter(range(9))
        asked = [answers("n", lambda: next(made), mark=mark) for mark in ("a", "a", "b", "b", "a", None)]
        assert asked == [0, 0, 1, 1, 2, 3]
        assert answers.has("n")
        assert not answers.has("n", mark="a")
        assert answers.taken < 1000

    def test_a_function_is_asked_once(self):
        asked = []

        @kept_within(MIB)
        def squared(n: int, *, shift: int = 0) -> int:
            asked.append((n, shift))
            return n * n + shift

        assert [squared(3), squared(3), squared(3, shift=1), squared(3, shift=1)] == [9, 9, 10, 10]
        assert asked == [(3, 0), (3, 1)]

    def test_many_threads_keep_the_account(self):
        answers = Remembered(50_000)

        def ask(seed: int) -> None:
            rng = Random(seed)
            for _ in range(300):
                answers(rng.randrange(40), lambda: np.zeros(rng.randrange(500)))

        threads = [threading.Thread(target=ask, args=(seed,)) for seed in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert answers.taken == sum(size for _, size, _ in answers._kept.values()) <= 50_000


def test_400_requests_that_always_bring_something_new(tmp_path, monkeypatch: pytest.MonkeyPatch):
    """Files brought in, keys typed, homings entered, each unlike all before; the room is small, and held to."""
    for kept in memory._every:
        monkeypatch.setattr(kept, "_most", min(kept._most, MIB // 16))
        kept.forget()
    rng, given = Random(20), {"name": "Bench mill", "requirement.position": "0.05 mm"}
    evicted = False
    with open_book(tmp_path / "soak.holdzero") as book:
        machine = book.add_machine({"machine": {"name": "Bench mill"}, "axes": {"X": {}}})
        book.add_sensor(machine, "A", {"price": "3"})
        trial = book.add_trial(machine, name="First", axis="X")
        with TestClient(create_app(book), base_url="http://127.0.0.1", follow_redirects=False) as client:
            for i in range(400):
                if i % 50 == 0:
                    texts = given | {"requirement.risk": f"1 in {1000 + i}"}
                    answer = client.post(f"/machines/{machine}/machine/typed", data=texts)
                elif i % 20 == 1:
                    new = {"sensor": "A", "axis": "X", "set": "1", "deviation": f"{rng.gauss(0, 0.003):.3f}"}
                    answer = client.post(f"/trials/{trial}/readings", data=new | {"ticket": str(i)})
                else:
                    rows = "".join(f"{n};{rng.gauss(0, 0.01):.4f}\n" for n in range(60))
                    file = {"file": (f"shop {i}.csv", f"Run;Dial (mm)\n{rows}")}
                    answer = client.post(f"/machines/{machine}/import", files=file)
                    assert answer.status_code == 303
                assert answer.status_code < 500, answer.text
                evicted |= memory.in_all() > memory.most_in_all() // 8
                assert all(kept.taken <= kept._most or len(kept._kept) == 1 for kept in memory._every)
    assert evicted


def test_long_units_are_not_kept():
    """A unit is found again by its text; texts of any length are typed, and a thousand of them are kept."""
    glyphs._known.cache_clear()
    assert glyphs.unit_key("mm / s^2") == glyphs.unit_key("mm / s^2") == "mm/s2"
    assert glyphs.unit_key("m" * 70_000) == "m" * 70_000
    assert glyphs._known.cache_info().currsize == 1


def test_machines_that_are_taken_out_of_sight_make_room(tmp_path, monkeypatch: pytest.MonkeyPatch):
    for kept in memory._every:
        monkeypatch.setattr(kept, "_most", min(kept._most, MIB // 16))
        kept.forget()
    rows = "".join(f"A,X,{i // 5},{i % 5},0.00{i % 7}\n" for i in range(40))
    readings = read_readings(f"sensor,axis,set,homing,deviation_mm\n{rows}")
    with (
        open_book(tmp_path / "shed.holdzero") as book,
        TestClient(create_app(book), base_url="http://127.0.0.1", follow_redirects=False) as client,
    ):
        for i in range(12):
            machine = book.add_machine({"machine": {"name": f"Mill {i}"}, "axes": {"X": {}}})
            book.add_sensor(machine, "A", {"price": str(i + 1)})
            book.import_readings(book.add_trial(machine, name="First", axis="X"), readings)
            for page in ("findings", "choice", "trial"):
                assert client.get(f"/machines/{machine}/{page}").status_code == 200
            assert client.post(f"/machines/{machine}/remove").status_code < 400
            assert f"Mill {i}" not in client.get("/machines.json").text
            assert all(kept.taken <= kept._most or len(kept._kept) == 1 for kept in memory._every)
        known = {key[1] for key in in_book._parts._kept if key[0] == book.address}
        assert 1 not in known
        assert 12 in known
