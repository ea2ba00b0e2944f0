"""Delay: how long after the switch's own edge the controller's input follows.

One capacitor (cable, or filter) sees the rest of the circuit as one curve: held at a voltage v, it is
given a current i(v). The time to a level is then the integral of C dv / i(v), whatever bends on the
way; between close points i is a straight line, and the integral a logarithm. With a capacitor at the
terminal and another at the pin, the circuit is stepped through time by the trapezoid rule.

RC moves a trip late by the same amount each time: it costs overtravel, not repeatability. What varies
is noise over slew, so the slew at the level is handed out too.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.wiring.cases import LEAKAGE, Bench, Bools, Cases, corners
from holdzero.compute.wiring.netlist import Netlist
from holdzero.compute.wiring.network import GROUND, CurrentCurve, Floats, Pieces, Solved, rest
from holdzero.compute.wiring.results import EdgeDelay
from holdzero.compute.wiring.seen import IEC_OFF, IEC_ON
from holdzero.compute.wiring.values import NOTHING, Circuit

FINE, COARSE = 193, 25  # voltages at which the capacitor is held; the coarse ones only find the slowest corner
HOLD_OHM = 1e-4
MOST_STEPS = 2000


@dataclass(frozen=True, slots=True)
class Steps:
    """How a circuit is stepped: shares of about the time it takes, and how steps grow from first to longest."""

    first: float
    longest: float
    growth: float


FINE_STEPS, COARSE_STEPS = Steps(1 / 3000, 1 / 200, 1.03), Steps(1 / 300, 1 / 30, 1.2)


def delays(circuit: Circuit, net: Netlist, *, clear_is_on: bool, sensor: int = 1) -> EdgeDelay:
    """Time from the switch's edge to the input's, tripping and releasing.

    Parameters
    ----------
    circuit, net : Circuit, Netlist
        The circuit and its parts.
    clear_is_on : bool
        Whether the input reads on (high) with the switch clear.
    sensor : int
        Which sensor trips, counted from 1.

    Returns
    -------
    EdgeDelay
        Nominal and longest over the corners; None where the level is never reached. The longest takes
        capacitors, thresholds, resistors, drop and leakage at their worst together. What the controller's own
        filter adds is in it; what the sensor itself takes is not.

    Notes
    -----
    t = RC ln((V0 - Vend)/(Vth - Vend)) in each straight piece.
    """
    own = circuit.input.filter_s
    farads = _capacitors(circuit)
    if not farads:
        return EdgeDelay(own, own, own, own)
    runs = EdgeRuns.of(circuit, net, farads, clear_is_on=clear_is_on, sensor=sensor)
    coarse = runs.about()
    half = len(coarse) // 2  # tripping, then releasing; the first column of each is nominal
    slowest = (int(np.argmax(coarse[:half])), half + int(np.argmax(coarse[half:])))
    columns = np.array([0, slowest[0], half, slowest[1]])
    runs = runs.only(columns)
    figures, slew = runs.held(FINE)
    if len(farads) > 1:
        figures = runs.walked(coarse[columns], FINE_STEPS)
    trip, trip_longest, release, release_longest = (float(t) + own if np.isfinite(t) else None for t in figures)
    trip_slew, release_slew = (float(slew[k]) if np.isfinite(slew[k]) else None for k in (0, 2))
    unit: Literal["V/s", "A/s"] = "A/s" if circuit.input.kind == "opto" else "V/s"
    return EdgeDelay(trip, trip_longest, release, release_longest, trip_slew, release_slew, unit)


def _capacitors(circuit: Circuit) -> dict[str, tuple[float, float]]:
    """Node of each capacitor that is there, and its nominal and largest value; those on one node added up. [F]"""
    controller_input = circuit.input
    pin = (
        "pin"
        if controller_input.kind == "logic" and controller_input.series_ohm is not None
        else "filter"
        if controller_input.filter_ohm is not None
        else "in"
    )
    farads: dict[str, tuple[float, float]] = {}
    for node, farad in (("in", circuit.cable.farad), (pin, controller_input.filter_f or NOTHING)):
        if farad.nominal > 0:
            nominal, most = farads.get(node, (0.0, 0.0))
            farads[node] = nominal + farad.nominal, most + farad.high
    return farads


def _corners(circuit: Circuit, net: Netlist) -> dict[str, NDArray[np.int8]]:
    """Corners of an edge: it sees its sensor on and off, so that drop and leakage both tell, each at its worst."""
    levels = corners(0, net).levels
    if not any(sensor.output.electronic for sensor in circuit.sensors):
        return levels
    twice = {name: np.tile(row, 2) for name, row in levels.items()}
    return twice | {LEAKAGE: np.concatenate([levels["sensor"], -levels["sensor"]])}


@dataclass(frozen=True, slots=True)
class EdgeRuns:
    """Edges to be followed: both directions, nominal and at every corner, one a column."""

    before: Bench
    after: Bench
    farads: dict[str, Floats]  # node: capacitance of each column
    rising: Bools  # the figure that is read goes up
    level: Floats  # that it has to reach

    @classmethod
    def of(
        cls,
        circuit: Circuit,
        net: Netlist,
        farads: dict[str, tuple[float, float]],
        *,
        clear_is_on: bool,
        sensor: int,
    ) -> "EdgeRuns":
        """Lay both edges out: nominal first, then the corners."""
        count = len(circuit.sensors)
        levels = {k: np.tile(np.append(0, row).astype(np.int8), 2) for k, row in _corners(circuit, net).items()}
        worst = levels["sensor"] != 0
        tripping = np.repeat([True, False], len(worst) // 2)
        first, then = (Cases(count, np.where(tripping == early, 0, sensor), levels) for early in (True, False))
        before, after = (Bench(net, [circuit], cases) for cases in (first, then))
        rising = tripping != clear_is_on
        values = {node: np.where(worst, most, nominal) for node, (nominal, most) in farads.items()}
        return cls(before, after, values, rising, _level(after, rising, worst))

    def only(self, columns: NDArray[np.intp]) -> "EdgeRuns":
        """Return some of the columns."""
        before, after = (Bench(b.net, b.circuits, b.cases.take(columns)) for b in (self.before, self.after))
        farads = {node: farad[columns] for node, farad in self.farads.items()}
        return EdgeRuns(before, after, farads, self.rising[columns], self.level[columns])

    def about(self) -> Floats:
        """Time to the level, near enough to tell the slowest corner.

        With two capacitors it is stepped: what one holds goes through the other, and no single place tells that.
        """
        whole = np.max([self.held(COARSE, node)[0] for node in self.farads], axis=0)
        return whole if len(self.farads) == 1 else self.walked(whole, COARSE_STEPS)

    def walked(self, near_s: Floats, steps: Steps) -> Floats:
        """Time to the level by steps; as it is where that is at once, or never."""
        time_s = near_s.copy()
        walks = np.flatnonzero(np.isfinite(near_s) & (near_s > 0))
        if len(walks):
            time_s[walks] = self.only(walks).stepped(near_s[walks], steps)
        return time_s

    def held(self, points: int, node: str = "") -> tuple[Floats, Floats]:
        """Time to the level, and slew there, with all capacitance at a node, or that of the larger capacitor."""
        node = node or max(self.farads, key=lambda name: self.farads[name][0])
        farad = np.sum(list(self.farads.values()), axis=0)
        start_v, end_v = (bench.network().solve().volt(node)[0] for bench in (self.before, self.after))
        # Closer and closer towards the end, where the current dies away.
        share = 1 - (1 - np.linspace(0, 1, points)[:, None]) ** 2
        held_v = start_v + share * (end_v - start_v)  # (points, columns)
        cases = self.after.cases
        many = cases.take(np.tile(np.arange(cases.count), points))
        network = Bench(self.after.net, self.after.circuits, many).network()
        network.add("held", node, GROUND, CurrentCurve.supply(held_v.reshape(-1), HOLD_OHM))
        solved = network.solve()
        given_a = solved.amp("held").reshape(held_v.shape)
        figure = _figure(self.after, solved).reshape(held_v.shape)
        gone = np.where(self.rising, figure >= self.level, figure <= self.level)
        reached, past = gone.any(axis=0), np.argmax(gone, axis=0)
        column, last = np.arange(len(farad)), np.maximum(past - 1, 0)  # last point before the level
        with np.errstate(divide="ignore", invalid="ignore"):
            pieces_s = farad * np.diff(held_v, axis=0) / _log_mean(given_a[:-1], given_a[1:])
            so_far = np.concatenate([np.zeros((1, len(farad))), np.cumsum(pieces_s, axis=0)])
            run = figure[past, column] - figure[last, column]
            part = (self.level - figure[last, column]) / run  # of the piece in which the level lies
            there_a = given_a[last, column] + part * (given_a[past, column] - given_a[last, column])
            step_v = held_v[past, column] - held_v[last, column]
            time_s = so_far[last, column] + farad * part * step_v / _log_mean(given_a[last, column], there_a)
            slew = np.abs(run / step_v * there_a / farad)
        at_once = past == 0
        time_s = np.where(reached, np.where(at_once, 0.0, time_s), np.inf)
        return time_s, np.where(reached & ~at_once, slew, np.inf)

    def stepped(self, near_s: Floats, steps: Steps) -> Floats:
        """Time to the level with every capacitor where it is, by the trapezoid rule, in shares of `near_s`."""
        start = self.before.network().solve()
        network = self.after.network()
        for node in self.farads:
            network.add(f"C {node}", node, GROUND, CurrentCurve(0.0, 0.0))
        pieces = Pieces.of(network)
        x = np.array([start.volt(node)[0] for node in network.nodes])
        rows = {node: (network.nodes[node], network.parts[f"C {node}"]) for node in self.farads}
        amp = {node: np.zeros(len(near_s)) for node in rows}
        time_s, step_s, crossed_s, was = (
            np.zeros(len(near_s)),
            near_s * steps.first,
            np.full(len(near_s), np.inf),
            _figure(self.after, start)[0],
        )
        for count in range(MOST_STEPS):
            # Two steps of backward Euler first: the current jumps when the switch does.
            euler = count < 2
            for node, (at, row) in rows.items():
                siemens = (1 if euler else 2) * self.farads[node] / step_s
                pieces.siemens[row] = siemens
                pieces.amp[row] = -siemens * x[at] - (0.0 if euler else amp[node])
            x, _ = rest(pieces, x)
            across, current, _, _ = pieces.evaluate(x)
            amp = {node: current[row] for node, (_, row) in rows.items()}
            solved = Solved(network.nodes, network.parts, x[:, None], across[:, None], current[:, None], 0)
            now = _figure(self.after, solved)[0]
            crosses = np.isinf(crossed_s) & np.where(self.rising, now >= self.level, now <= self.level)
            with np.errstate(divide="ignore", invalid="ignore"):
                part = (self.level - was) / (now - was)
            crossed_s = np.where(crosses, time_s + part * step_s, crossed_s)
            if np.isfinite(crossed_s).all():
                break
            time_s, was = time_s + step_s, now
            step_s = np.minimum(step_s * steps.growth, near_s * steps.longest)
        return crossed_s


def _log_mean(a: Floats, b: Floats) -> Floats:
    """Mean of a current that dies away in a straight line over the voltage."""
    alike = np.abs(a - b) <= 1e-9 * np.abs(a)
    return np.where(alike, a, (a - b) / np.log(a / b))


def _level(bench: Bench, rising: Bools, worst: Bools) -> Floats:
    """Level that the figure has to pass in every column: guaranteed, or the Schmitt thresholds where given."""
    controller_input = bench.circuits[0].input
    if controller_input.kind == "opto":
        return np.where(rising, controller_input.on_a, controller_input.off_a)
    if controller_input.kind == "IEC":
        return np.where(rising, IEC_ON[controller_input.iec_type][0], IEC_OFF[controller_input.iec_type][0])
    up, down = controller_input.rising_v, controller_input.falling_v
    return np.where(
        rising,
        bench.high_v()[0] if up is None else np.where(worst, up.high, up.nominal),
        controller_input.surely_low_v if down is None else np.where(worst, down.low, down.nominal),
    )


def _figure(bench: Bench, solved: Solved) -> Floats:
    """What is read: amperes of an LED, volts across an IEC input, volts of a pin."""
    controller_input = bench.circuits[0].input
    if controller_input.kind == "opto":
        return solved.amp("LED")
    if controller_input.kind == "IEC":
        return solved.drop("input")
    return solved.volt("pin" if controller_input.series_ohm is not None else "in")
