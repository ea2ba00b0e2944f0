"""Network: two-terminal parts between named nodes, solved for many cases at once.

Every part is a current that never falls as its voltage rises, made of straight pieces. The areas
under these curves (the co-content) then add up to a convex function of the node voltages, so there
is exactly one solution, and Newton steps, each taken as far as the co-content falls, always reach it:
no guessing of states, no special code for diodes. How far that is needs no trying, since along a step
the slope of the co-content is itself made of straight pieces.

A broken wire or a short is a changed resistance, never a changed network, so the states, corners and
faults of all circuits of one shape are columns of one batch. A straight piece after a bend is kept
as a hinge, ``i += siemens * max(v - bend, 0)``: evaluating a curve is then a few array operations
whatever piece each column is on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

GROUND = "0"
LEAK_SIEMENS = 1e-10  # every node to ground, so that none floats
OPEN_OHM = 1e10
SHORT_OHM = 0.01
ABSENT_OHM = 1e12  # a short that is not there: far above a contact that is open

STEP_V = 1e-9  # a Newton step below this ends the search
MOST_STEPS = 200
USUAL_V = 8.0  # where the chords of the first guess end
FAR = 1e12  # a bend that a step does not meet


@dataclass(frozen=True, slots=True)
class Curve:
    """Current against voltage: ``amp + siemens v + sum over bends of more * max(v - bend, 0)``.

    Parameters
    ----------
    amp, siemens : float or array, shape (cases,)
        Current at 0 V and slope before the first bend. [A, S]
    bends : tuple of (bend, more)
        Voltage of each bend and how much steeper the curve is after it. [V, S]
    """

    amp: ArrayLike
    siemens: ArrayLike
    bends: tuple[tuple[ArrayLike, ArrayLike], ...] = ()

    @classmethod
    def through(cls, volts: Sequence[ArrayLike], amps: Sequence[ArrayLike]) -> "Curve":
        """Straight pieces through points; the first and last piece run on for ever. [V, A]"""
        v, i = [np.asarray(p, float) for p in volts], [np.asarray(p, float) for p in amps]
        slopes = [(i1 - i0) / (v1 - v0) for (v0, v1), (i0, i1) in zip(pairwise(v), pairwise(i), strict=True)]
        steeper = [after - before for before, after in pairwise(slopes)]
        return cls(i[0] - slopes[0] * v[0], slopes[0], tuple(zip(v[1:-1], steeper, strict=True)))

    @classmethod
    def resistor(cls, ohm: ArrayLike) -> "Curve":
        """A straight line through nothing. [ohm]"""
        return cls(0.0, 1.0 / np.asarray(ohm, float))

    @classmethod
    def supply(cls, volt: ArrayLike, ohm: ArrayLike) -> "Curve":
        """A voltage behind a resistance, first terminal plus. [V, ohm]"""
        siemens = 1.0 / np.asarray(ohm, float)
        return cls(-siemens * np.asarray(volt, float), siemens)


@dataclass(frozen=True, slots=True)
class Solved:
    """Node voltages and part currents, one column a case."""

    nodes: dict[str, int]
    parts: dict[str, int]
    x: Floats  # (nodes, cases)
    across: Floats  # (parts, cases)
    current: Floats  # (parts, cases)
    steps: int

    def volt(self, node: str) -> Floats:
        """Voltage of a node against ground, shape (cases,). [V]"""
        return np.zeros(self.x.shape[1]) if node == GROUND else self.x[self.nodes[node]]

    def amp(self, part: str) -> Floats:
        """Current through a part, from its first to its second node, shape (cases,). [A]"""
        return self.current[self.parts[part]]

    def drop(self, part: str) -> Floats:
        """Voltage across a part, first node against second, shape (cases,). [V]"""
        return self.across[self.parts[part]]


class Network:
    """Parts between nodes, with one curve per part and column.

    Parameters
    ----------
    cases : int
        Number of columns. Curves given as plain numbers hold for all of them.

    Examples
    --------
    >>> net = Network(2)
    >>> net.add("battery", "plus", "0", Curve.supply(9.0, 1.0))
    >>> net.add("load", "plus", "0", Curve.resistor([8.0, OPEN_OHM]))
    >>> [f"{v:.3f}" for v in net.solve().volt("plus")]
    ['8.000', '9.000']
    """

    def __init__(self, cases: int) -> None:
        self.cases = cases
        self.nodes: dict[str, int] = {}
        self.parts: dict[str, int] = {}
        self.ends: list[tuple[int, int]] = []  # -1 is ground
        self.curves: list[Curve] = []

    def add(self, name: str, first: str, second: str, curve: Curve) -> None:
        """Join two nodes by a part; its current counts from `first` to `second`."""
        if name in self.parts:
            raise ValueError(f"two parts called {name}")
        self.parts[name] = len(self.ends)
        self.ends.append((self._node(first), self._node(second)))
        self.curves.append(curve)

    def _node(self, name: str) -> int:
        return -1 if name == GROUND else self.nodes.setdefault(name, len(self.nodes))

    def solve(self, start: Floats | None = None) -> Solved:
        """Find the node voltages of every case.

        Parameters
        ----------
        start : array, shape (nodes, cases), optional
            Where to begin; any start gives the same answer.

        Raises
        ------
        ArithmeticError
            No rest was reached: a slip of ours, since the co-content is convex.
        """
        pieces = Pieces.of(self)
        x = pieces.guess() if start is None else np.array(start, float)
        x, steps = rest(pieces, x)
        across, current, _, _ = pieces.evaluate(x)
        return Solved(dict(self.nodes), dict(self.parts), x, across, current, steps)


@dataclass(frozen=True, slots=True)
class Pieces:
    """A network as arrays: what the Newton steps work on."""

    plan: "Plan"
    amp: Floats  # (parts, cases)
    siemens: Floats
    bend: Floats  # (hinges, cases)
    more: Floats
    part_of: NDArray[np.intp]  # which part a hinge belongs to

    @classmethod
    def of(cls, net: Network) -> "Pieces":
        """Lay the curves of a network out in rows."""
        hinges = [(k, bend, more) for k, c in enumerate(net.curves) for bend, more in c.bends]

        def rows(values: Sequence[ArrayLike]) -> Floats:
            out = np.empty((len(values), net.cases))
            for row, value in zip(out, values, strict=True):
                row[:] = value
            return out

        return cls(
            plan_of(len(net.nodes), tuple(net.ends)),
            rows([c.amp for c in net.curves]),
            rows([c.siemens for c in net.curves]),
            rows([h[1] for h in hinges]),
            rows([h[2] for h in hinges]),
            np.array([h[0] for h in hinges], dtype=np.intp),
        )

    def take(self, columns: NDArray[np.intp]) -> "Pieces":
        """Return only some of the cases."""
        rows = (self.amp, self.siemens, self.bend, self.more)
        return Pieces(self.plan, *(r[:, columns] for r in rows), self.part_of)

    def guess(self) -> Floats:
        """Voltages with every curve replaced by its chord from 0 V to a usual voltage: a start near the end."""
        plan = self.plan
        chord = self.siemens.copy()
        for row, part in enumerate(self.part_of):
            chord[part] += self.more[row] * np.maximum(1.0 - np.maximum(self.bend[row], 0.0) / USUAL_V, 0.0)
        return _step(plan, chord, plan.incidence @ self.amp)

    def evaluate(self, x: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Voltage across, current and slope of every part, and how far each hinge is past its bend."""
        across = self.plan.incidence.T @ x
        over = across[self.part_of] - self.bend
        current, slope = self.siemens * across, self.siemens.copy()
        current += self.amp
        past = over > 0.0
        steeper = self.more * past
        extra = steeper * over
        for row, part in enumerate(self.part_of):
            current[part] += extra[row]
            slope[part] += steeper[row]
        return across, current, slope, over

    def reach(self, step: Floats, over: Floats, fall: Floats) -> Floats:
        """How much of a step brings the co-content to its least along that step.

        Parameters
        ----------
        step : array, shape (nodes, cases)
            A Newton step. [V]
        over : array, shape (hinges, cases)
            How far each hinge is past its bend. [V]
        fall : array, shape (cases,)
            Slope of the co-content at the start of the step, below 0; minus the same is its curvature,
            which is what makes it a Newton step. [W]
        """
        way = (self.plan.incidence.T @ step)[self.part_of]
        past = over > 0.0
        meets = np.where(past, way < 0.0, way > 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            when = np.where(meets, -over / way, FAR)
        part = np.ones(step.shape[1])
        bent = np.flatnonzero(when.min(axis=0, initial=FAR) < 1.0)
        if not len(bent):
            return part
        when, way, past, more = when[:, bent], way[:, bent], past[:, bent], self.more[:, bent]
        change = np.where(when < FAR, more * way * way * np.where(past, -1.0, 1.0), 0.0)
        order = np.argsort(when, axis=0)
        first = np.zeros((1, len(bent)))
        at = np.concatenate([first, np.take_along_axis(when, order, 0)])
        curved = np.cumsum(np.concatenate([-fall[None, bent], np.take_along_axis(change, order, 0)]), axis=0)
        np.maximum(curved, 1e-300, out=curved)
        slope = np.concatenate([first, np.cumsum(curved[:-1] * np.diff(at, axis=0), axis=0)]) + fall[bent]
        ahead = np.maximum((slope < 0.0).sum(axis=0) - 1, 0)[None]  # last bend before the least
        start, rising = np.take_along_axis(at, ahead, 0)[0], np.take_along_axis(curved, ahead, 0)[0]
        part[bent] = start - np.take_along_axis(slope, ahead, 0)[0] / rising
        return part


@dataclass(frozen=True, slots=True)
class Plan:
    """How to eliminate the nodes of one shape of network, fewest neighbours first.

    The matrix of slopes is symmetric with a heavy diagonal, so it needs no row exchanges, and with
    the nodes in this order wiring, which is nearly a tree, fills in almost nothing.
    """

    incidence: Floats  # (nodes, parts): +1 where a part starts, -1 where it ends
    assembly: Floats  # (entries, parts): the matrix of slopes as a sum of slopes
    diagonal: NDArray[np.intp]
    eliminate: tuple[tuple[int, int, "NDArray[np.intp]", "NDArray[np.intp]", tuple[NDArray[np.intp], ...]], ...]
    # per pivot: node, its diagonal entry, neighbours, entries to them, (target, left, right) of the fill


@lru_cache(maxsize=4096)
def plan_of(count: int, ends: tuple[tuple[int, int], ...]) -> Plan:
    """Work out the elimination of a network of `count` nodes with parts between the given ends."""
    incidence = np.zeros((count, len(ends)))
    beside: list[set[int]] = [set() for _ in range(count)]
    for part, (a, b) in enumerate(ends):
        for node, sign in ((a, 1.0), (b, -1.0)):
            if node >= 0:
                incidence[node, part] += sign
        if a >= 0 and b >= 0 and a != b:
            beside[a].add(b)
            beside[b].add(a)
    entry: dict[tuple[int, int], int] = {}

    def at(a: int, b: int) -> int:
        return entry.setdefault((min(a, b), max(a, b)), len(entry))

    diagonal = np.array([at(k, k) for k in range(count)], dtype=np.intp)
    for a, near in enumerate(beside):
        for b in near:
            at(a, b)
    left = set(range(count))
    eliminate = []
    while left:
        pivot = min(left, key=lambda k: (len(beside[k]), k))
        left.remove(pivot)
        near = sorted(beside[pivot])
        pairs = [(a, a) for a in near] + list(combinations(near, 2))
        fill = tuple(
            np.array(rows, dtype=np.intp)
            for rows in (
                [at(a, b) for a, b in pairs],
                [near.index(a) for a, _ in pairs],
                [near.index(b) for _, b in pairs],
            )
        )
        links = np.array([at(pivot, a) for a in near], dtype=np.intp)
        eliminate.append((pivot, at(pivot, pivot), np.array(near, dtype=np.intp), links, fill))
        for a in near:
            beside[a].discard(pivot)
        for a, b in combinations(near, 2):
            beside[a].add(b)
            beside[b].add(a)
    assembly = np.zeros((len(entry), len(ends)))
    for part, (a, b) in enumerate(ends):
        if a == b:
            continue
        for node in (a, b):
            if node >= 0:
                assembly[at(node, node), part] += 1.0
        if a >= 0 and b >= 0:
            assembly[at(a, b), part] -= 1.0
    return Plan(incidence, assembly, diagonal, tuple(eliminate))


def _step(plan: Plan, slope: Floats, surplus: Floats) -> Floats:
    """Newton step of every case: minus (matrix of slopes) to the power -1 times surplus current."""
    matrix = plan.assembly @ slope
    matrix[plan.diagonal] += LEAK_SIEMENS
    right = -surplus
    shares = []
    for pivot, diagonal, near, links, (target, left, other) in plan.eliminate:
        share = matrix[links] / matrix[diagonal]
        shares.append(share)
        if len(near):
            matrix[target] -= share[left] * matrix[links][other]
            right[near] -= share * right[pivot]
    for (pivot, diagonal, near, _, _), share in zip(reversed(plan.eliminate), reversed(shares), strict=True):
        right[pivot] /= matrix[diagonal]
        if len(near):
            right[pivot] -= (share * right[near]).sum(axis=0)
    return right


def rest(pieces: Pieces, x: Floats) -> tuple[Floats, int]:
    """Newton steps, each as far as the co-content falls; cases at rest are left out."""
    plan, done = pieces.plan, x.copy()
    columns = np.arange(x.shape[1])
    for count in range(MOST_STEPS):
        _, current, slope, over = pieces.evaluate(x)
        surplus = plan.incidence @ current + LEAK_SIEMENS * x
        step = _step(plan, slope, surplus)
        fall = (surplus * step).sum(axis=0)
        moving = np.abs(step).max(axis=0, initial=0.0) > STEP_V
        # No fall left that a double can show: the rest is rounding, on a node held by leakage alone.
        moving &= -fall > 1e-22
        if not moving.all():
            done[:, columns] = x + np.where(moving, 0.0, step)
            if not moving.any():
                return done, count
            stay = np.flatnonzero(moving)
            columns, pieces = columns[stay], pieces.take(stay)
            x, step, fall, over = x[:, stay], step[:, stay], fall[stay], over[:, stay]
        x = x + pieces.reach(step, over, fall) * step
    raise ArithmeticError(f"{len(columns)} of {done.shape[1]} cases not at rest after {MOST_STEPS} steps")
