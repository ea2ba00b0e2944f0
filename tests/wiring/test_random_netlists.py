"""Random circuits, whole and with faults, against a second netlist that ngspice solves."""

import random
from itertools import product

import pytest

import spice
from holdzero.compute.wiring import assess_many, circuits_from
from own_netlist import Card, Chain, drawn, drawn_chain, solved

FAULTS_EACH = 5
LEAST_V = {"open": 0.5, "unplugged": 0.5, "supply": 0.05}  # of a node that hangs on gigaohms alone


def compare(count, seed, folder):
    """Voltages at the input within 1 mV or 0.1 %, and what it reads; return how many readings were compared."""
    draw = random.Random(seed)
    files = [drawn(draw) for _ in range(count)]
    assessments = assess_many([circuit for file in files for circuit in circuits_from(file)])
    places = []
    for file, assessment in zip(files, assessments, strict=True):
        rows = draw.sample(assessment.faults, FAULTS_EACH)
        places += [(file, assessment, row, tripped) for row, tripped in product((None, *rows), (False, True))]
    cards = [Card(file, tripped=tripped, fault=row.fault if row else "") for file, _, row, tripped in places]
    volts = solved(cards, folder)
    again = [k for k, (card, volt) in enumerate(zip(cards, volts, strict=True)) if card.starved(volt)]
    for k in again:
        file, _, row, tripped = places[k]
        cards[k] = Card(file, tripped=tripped, fault=row.fault if row else "", let_go=True)
    for k, volt in zip(again, solved([cards[k] for k in again], folder) if again else [], strict=True):
        volts[k] = volt
    for card, volt, (file, assessment, row, tripped) in zip(cards, volts, places, strict=True):
        state = assessment.tripped if tripped else assessment.clear
        ours = state.input_v if row is None else row.tripped_v if tripped else row.clear_v
        theirs = volt[card.pin]
        where = (file, row.fault if row else "whole", tripped, ours, theirs)
        least = 1e-3 if row is None else LEAST_V.get(row.kind, 1e-3)
        assert abs(ours - theirs) <= max(least, 1e-3 * abs(theirs)), where
        level = card.level(volt)
        if level is None or (row is not None and row.chatters):
            continue
        reads = state.reads if row is None else row.reads_tripped if tripped else row.reads_clear
        clear = 1 if assessment.clear_is_on else -1
        assert reads == {clear: "clear", -clear: "tripped", 0: "undefined"}[level], where
    return len(places)


@pytest.mark.ngspice
def test_a_few_random_circuits(tmp_path):
    spice.need_ngspice()
    assert compare(12, 20261128, tmp_path) == 12 * 2 * (1 + FAULTS_EACH)


@pytest.mark.checks
def test_300_random_circuits_of_a_new_seed(tmp_path):
    spice.need_ngspice()
    seed = random.SystemRandom().randrange(1 << 32)
    print("seed", seed)
    assert compare(300, seed, tmp_path) == 300 * 2 * (1 + FAULTS_EACH)


def compare_chains(count, seed, folder):
    """The same of contacts in series; of several that trip, each alone, the one counts whose trip reads worst."""
    draw = random.Random(seed)
    files = [drawn_chain(draw) for _ in range(count)]
    assessments = assess_many([circuit for file in files for circuit in circuits_from(file)])
    places, cards = [], []
    for file, assessment in zip(files, assessments, strict=True):
        for row in (None, *draw.sample(assessment.faults, FAULTS_EACH)):
            states = (None, *range(len(file["sensor"])))
            places.append((file, assessment, row, slice(len(cards), len(cards) + len(states))))
            cards += [Chain(file, tripped=state, fault=row.fault if row else "") for state in states]
    volts = solved(cards, folder)
    for file, assessment, row, of in places:
        at_pin = [volt[card.pin] for card, volt in zip(cards[of], volts[of], strict=True)]
        levels = [card.level(volt) for card, volt in zip(cards[of], volts[of], strict=True)]
        ours = (row.clear_v, row.tripped_v) if row else (assessment.clear.input_v, assessment.tripped.input_v)
        said = (row.reads_clear, row.reads_tripped) if row else (assessment.clear.reads, assessment.tripped.reads)
        where = (file, row.fault if row else "whole", ours, at_pin, levels)
        least = 1e-3 if row is None else LEAST_V.get(row.kind, 1e-3)
        clear = 1 if assessment.clear_is_on else -1
        worst = 0 if None in levels else min(range(1, len(levels)), key=lambda k: _BADNESS[levels[k] * clear])
        theirs = at_pin[1:] if None in levels else [at_pin[worst]]
        assert abs(ours[0] - at_pin[0]) <= max(least, 1e-3 * abs(at_pin[0])), where
        assert min(abs(ours[1] - v) - max(least, 1e-3 * abs(v)) for v in theirs) <= 0, where
        if None not in levels:
            reads = {clear: "clear", -clear: "tripped", 0: "undefined"}
            assert said == (reads[levels[0]], reads[levels[worst]]), where
    return len(places)


_BADNESS = {1: 0, 0: 1, -1: 2}  # to read clear though one has tripped is worst


@pytest.mark.ngspice
def test_a_few_random_chains(tmp_path):
    """Two or three contacts in series: the links on the strip and each one's own cable are conductors too."""
    spice.need_ngspice()
    assert compare_chains(8, 20261129, tmp_path) == 8 * (1 + FAULTS_EACH)


@pytest.mark.checks
def test_150_random_chains_of_a_new_seed(tmp_path):
    spice.need_ngspice()
    seed = random.SystemRandom().randrange(1 << 32)
    print("seed", seed)
    assert compare_chains(150, seed, tmp_path) == 150 * (1 + FAULTS_EACH)
