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

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise
from math import prod

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
class CurrentCurve:
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
    def through(cls, volts: Sequence[ArrayLike], amps: Sequence[ArrayLike]) -> "CurrentCurve":
        """Straight pieces through points; the first and last piece run on for ever. [V, A]"""
        v, i = [np.asarray(p, float) for p in volts], [np.asarray(p, float) for p in amps]
        slopes = [(i1 - i0) / (v1 - v0) for (v0, v1), (i0, i1) in zip(pairwise(v), pairwise(i), strict=True)]
        steeper = [after - before for before, after in pairwise(slopes)]
        return cls(i[0] - slopes[0] * v[0], slopes[0], tuple(zip(v[1:-1], steeper, strict=True)))

    @classmethod
    def resistor(cls, ohm: ArrayLike) -> "CurrentCurve":
        """A straight line through nothing. [ohm]"""
        return cls(0.0, 1.0 / np.asarray(ohm, float))

    @classmethod
    def supply(cls, volt: ArrayLike, ohm: ArrayLike) -> "CurrentCurve":
        """A voltage behind a resistance, first terminal plus. [V, ohm]"""
        siemens = 1.0 / np.asarray(ohm, float)
        return cls(-siemens * np.asarray(volt, float), siemens)


@dataclass(frozen=True, slots=True)
class Solved:
    """Node voltages and part currents of every case."""

    nodes: dict[str, int]
    parts: dict[str, int]
    x: Floats  # (nodes, *shape)
    across: Floats  # (parts, *shape)
    current: Floats  # (parts, *shape)
    steps: int

    def volt(self, node: str) -> Floats:
        """Voltage of a node against ground. [V]"""
        row: Floats = np.zeros(self.x.shape[1:]) if node == GROUND else self.x[self.nodes[node]]
        return row

    def amp(self, part: str) -> Floats:
        """Current through a part, from its first to its second node. [A]"""
        row: Floats = self.current[self.parts[part]]
        return row

    def drop(self, part: str) -> Floats:
        """Voltage across a part, first node against second. [V]"""
        row: Floats = self.across[self.parts[part]]
        return row


class Network:
    """Parts between nodes, with one curve per part and case.

    Parameters
    ----------
    *shape : int
        How many cases, along one or more axes; the figures of a curve are spread over them.

    Examples
    --------
    >>> net = Network(2)
    >>> net.add("battery", "plus", "0", CurrentCurve.supply(9.0, 1.0))
    >>> net.add("load", "plus", "0", CurrentCurve.resistor([8.0, OPEN_OHM]))
    >>> [f"{v:.3f}" for v in net.solve().volt("plus")]
    ['8.000', '9.000']
    """

    def __init__(self, *shape: int) -> None:
        self.shape = shape
        self.nodes: dict[str, int] = {}
        self.parts: dict[str, int] = {}
        self.ends: list[tuple[int, int]] = []  # -1 is ground
        self.curves: list[CurrentCurve] = []

    def add(self, name: str, first: str, second: str, curve: CurrentCurve) -> None:
        """Join two nodes by a part; its current counts from `first` to `second`."""
        if name in self.parts:
            raise ValueError(f"two parts called {name}")
        self.parts[name] = len(self.ends)
        self.ends.append((self._node(first), self._node(second)))
        self.curves.append(curve)

    def with_curves(self, curves: Mapping[str, CurrentCurve]) -> "Network":
        """Return the network with other curves for some parts."""
        network = Network(*self.shape)
        network.nodes, network.parts, network.ends = self.nodes, self.parts, self.ends
        network.curves = [curves.get(name, curve) for name, curve in zip(self.parts, self.curves, strict=True)]
        return network

    def _node(self, name: str) -> int:
        return -1 if name == GROUND else self.nodes.setdefault(name, len(self.nodes))

    def solve(self, start: Floats | None = None, *, only: NDArray[np.bool_] | None = None) -> Solved:
        """Find the node voltages of every case.

        Parameters
        ----------
        start : array, shape (nodes, *shape), optional
            Where to begin; any start gives the same answer.
        only : array of bool, shape (*shape), optional
            Cases to be solved; in the others `start` is the solution already.

        Raises
        ------
        ArithmeticError
            No rest was reached: a slip of ours, since the co-content is convex.
        """
        pieces = Pieces.of(self)
        x = pieces.guess() if start is None else np.array(start, float).reshape(len(self.nodes), -1)
        if only is None:
            x, steps = rest(pieces, x)
        else:
            columns = np.flatnonzero(only)
            x[:, columns], steps = rest(pieces.take(columns), x[:, columns])
        across, current, _, _ = pieces.evaluate(x)
        x, across, current = (rows.reshape(-1, *self.shape) for rows in (x, across, current))
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
            out = np.empty((len(values), *net.shape))
            for row, value in zip(out, values, strict=True):
                row[...] = value
            return out.reshape(len(values), prod(net.shape))

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
        amp, siemens, bend, more = (rows[:, columns] for rows in (self.amp, self.siemens, self.bend, self.more))
        return Pieces(self.plan, amp, siemens, bend, more, self.part_of)

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

    def reach(self, step: Floats, over: Floats, fall: Floats) -> tuple[Floats, NDArray[np.intp]]:
        """How much of a step brings the co-content to its least along that step, and where bends are met.

        Parameters
        ----------
        step : array, shape (nodes, cases)
            A Newton step. [V]
        over : array, shape (hinges, cases)
            How far each hinge is past its bend. [V]
        fall : array, shape (cases,)
            Slope of the co-content at the start of the step, below 0; minus the same is its curvature,
            which is what makes it a Newton step. [W]

        Returns
        -------
        part : array, shape (cases,)
            Of the step; 1 where no bend is met. [-]
        bent : array of int
            Columns in which the step meets a bend. In the others it ends at the solution.
        """
        way = (self.plan.incidence.T @ step)[self.part_of]
        past = over > 0.0
        meets = np.where(past, way < 0.0, way > 0.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            when = np.where(meets, -over / way, FAR)
        part = np.ones(step.shape[1])
        bent = np.flatnonzero(when.min(axis=0, initial=FAR) < 1.0)
        if not len(bent):
            return part, bent
        when, way = when[:, bent], way[:, bent]
        steeper = self.more[:, bent] * way * way * np.where(past[:, bent], -1.0, 1.0)
        part[bent] = _least(when.T, np.where(when < FAR, steeper, 0.0).T, fall[bent])
        return part, bent


def _least(when: Floats, change: Floats, fall: Floats) -> Floats:
    """Where a slope that is made of straight pieces comes to nothing.

    Parameters
    ----------
    when, change : array, shape (cases, bends)
        Where each bend is met, and how much steeper it goes on from there.
    fall : array, shape (cases,)
        Slope at 0, below 0; it would come to nothing at 1 if there were no bends.
    """
    row = np.arange(len(when))
    order = np.argsort(when, axis=1)
    at = np.zeros((len(when), when.shape[1] + 1))
    at[:, 1:] = when[row[:, None], order]
    curved = np.empty_like(at)  # how steep from each bend on
    curved[:, 0] = -fall
    curved[:, 1:] = change[row[:, None], order]
    np.maximum(curved.cumsum(axis=1), 1e-300, out=curved)
    slope = np.empty_like(at)  # at each bend
    slope[:, 0] = fall
    slope[:, 1:] = curved[:, :-1] * np.diff(at, axis=1)
    np.cumsum(slope, axis=1, out=slope)
    last = np.maximum((slope < 0.0).sum(axis=1) - 1, 0)  # bend before it
    lowest: Floats = at[row, last] - slope[row, last] / curved[row, last]
    return lowest


@dataclass(frozen=True, slots=True)
class Plan:
    """How to eliminate the nodes of one shape of network, fewest neighbours first.

    The matrix of slopes is symmetric with a heavy diagonal, so it needs no row exchanges, and with
    the nodes in this order wiring, which is nearly a tree, fills in almost nothing.
    """

    incidence: Floats  # (nodes, parts): +1 where a part starts, -1 where it ends
    assembly: Floats  # (entries, parts): the matrix of slopes as a sum of slopes
    diagonal: NDArray[np.intp]
    eliminate: tuple["Pivot", ...]


@dataclass(frozen=True, slots=True)
class Pivot:
    """One node to be eliminated."""

    node: int
    diagonal: int  # its entry
    beside: tuple[tuple[int, int], ...]  # neighbours still there, each with the entry between
    fill: tuple[tuple[int, int, int], ...]  # entry to be changed, and which two neighbours it lies between


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
        around = sorted(beside[pivot])
        pairs = [(k, k) for k in range(len(around))] + list(combinations(range(len(around)), 2))
        links = tuple((a, at(pivot, a)) for a in around)
        fill = tuple((at(around[k], around[m]), k, m) for k, m in pairs)
        eliminate.append(Pivot(pivot, at(pivot, pivot), links, fill))
        for a in around:
            beside[a].discard(pivot)
        for a, b in combinations(around, 2):
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
    for pivot in plan.eliminate:
        diagonal = matrix[pivot.diagonal]
        share = [matrix[entry] / diagonal for _, entry in pivot.beside]
        for target, k, m in pivot.fill:
            matrix[target] -= share[k] * matrix[pivot.beside[m][1]]
        for (node, _), neighbour in zip(pivot.beside, share, strict=True):
            right[node] -= neighbour * right[pivot.node]
        right[pivot.node] /= diagonal
        shares.append(share)
    for pivot, share in zip(reversed(plan.eliminate), reversed(shares), strict=True):
        for (node, _), neighbour in zip(pivot.beside, share, strict=True):
            right[pivot.node] -= neighbour * right[node]
    return right


def rest(pieces: Pieces, x: Floats) -> tuple[Floats, int]:
    """Newton steps, each as far as the co-content falls; cases at rest are left out."""
    plan, done = pieces.plan, x.copy()
    columns = np.arange(x.shape[1])
    for count in range(1, MOST_STEPS + 1):
        _, current, slope, over = pieces.evaluate(x)
        surplus = plan.incidence @ current + LEAK_SIEMENS * x
        step = _step(plan, slope, surplus)
        part, bent = pieces.reach(step, over, (surplus * step).sum(axis=0))
        x = x + part * step
        done[:, columns] = x
        # A step that met no bend, or that is too small to matter, has arrived.
        far = np.abs(step[:, bent]).max(axis=0, initial=0.0) > STEP_V
        bent = bent[far]
        if not len(bent):
            return done, count
        if len(bent) < len(columns):
            columns, pieces, x = columns[bent], pieces.take(bent), x[:, bent]
    raise ArithmeticError(f"{len(columns)} of {done.shape[1]} cases not at rest after {MOST_STEPS} steps")
