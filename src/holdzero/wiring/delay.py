"""Delay: how long after the switch's own edge the controller's input follows.

One capacitor (cable, or filter) sees the rest of the circuit as one curve: held at a voltage v, it is
given a current i(v). The time to a level is then the integral of C dv / i(v), whatever bends on the
way; between close points i is a straight line, and the integral a logarithm. With a capacitor at the
terminal and another at the pin, the circuit is stepped through time by the trapezoid rule.

RC moves a trip late by the same amount each time: it costs overtravel, not repeatability. What varies
is noise over slew, so the slew at the level is handed out too.
"""

from dataclasses import dataclass, replace

import numpy as np

from holdzero.wiring.cases import Bench, Cases, corners, states
from holdzero.wiring.netlist import Netlist
from holdzero.wiring.network import GROUND, Curve, Floats, Pieces, rest
from holdzero.wiring.results import Delay
from holdzero.wiring.seen import IEC_OFF, IEC_ON
from holdzero.wiring.values import NOTHING, Circuit, Limits

POINTS = 193  # voltages at which the capacitor is held
HOLD_OHM = 1e-4
GROWTH = 1.02  # of the time steps
MOST_STEPS = 900


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge of the input: which level it has to reach, from where, in which columns."""

    rising: bool  # the figure that is read goes up
    before: int  # state
    after: int


def delays(circuit: Circuit, net: Netlist, *, clear_is_on: bool, sensor: int = 1) -> Delay:
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
    Delay
        Nominal and longest over the corners; None where the level is never reached. The longest takes
        capacitors, thresholds and resistors at their worst together.

    Notes
    -----
    t = RC ln((V0 - Vend)/(Vth - Vend)) in each straight piece.
    """
    at = _capacitors(circuit)
    if not at:
        own = circuit.input.filter_s
        return Delay(own, own, own, own)
    figures = []
    for edge in (Edge(not clear_is_on, 0, sensor), Edge(clear_is_on, sensor, 0)):
        nominal = _times(circuit, net, edge, at, states(len(circuit.sensors)))
        spread = _times(circuit, net, edge, at, corners(len(circuit.sensors), net))
        time_s, slew = float(nominal[0][0]), float(nominal[1][0])
        longest = float(spread[0].max())
        if len(at) == 2 and np.isfinite(time_s):
            slowest = int(np.argmax(spread[0])) if np.isfinite(longest) else 0
            time_s = _stepped(circuit, net, edge, at, states(len(circuit.sensors)), 0, time_s)
            if np.isfinite(longest):
                longest = _stepped(circuit, net, edge, at, corners(len(circuit.sensors), net), slowest, longest)
        figures.append((_or_none(time_s), _or_none(longest), _or_none(slew)))
    own = circuit.input.filter_s
    (trip, trip_longest, trip_slew), (release, release_longest, release_slew) = figures
    late = [None if t is None else t + own for t in (trip, trip_longest, release, release_longest)]
    return Delay(*late, trip_slew, release_slew, "A/s" if circuit.input.kind == "opto" else "V/s")


def _or_none(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _capacitors(circuit: Circuit) -> dict[str, Limits]:
    """Node and value of each capacitor that is there; those on one node added up."""
    one = circuit.input
    pin = "pin" if one.kind == "logic" and one.series_ohm is not None else "filter" if one.filter_ohm is not None else "in"
    found: dict[str, Limits] = {}
    for node, farad in (("in", circuit.cable.farad), (pin, one.filter_f or NOTHING)):
        if farad.nominal > 0:
            other = found.get(node, NOTHING)
            found[node] = Limits(other.nominal + farad.nominal, other.low + farad.low, other.high + farad.high)
    return found


def _main(at: dict[str, Limits]) -> str:
    return max(at, key=lambda node: at[node].nominal)


def _level(bench: Bench, edge: Edge, *, worst: bool) -> tuple[str, Floats]:
    """What is read, and the level it must pass; shape (circuits, cases) or less."""
    one = bench.circuits[0].input
    if one.kind == "opto":
        return "LED", np.array([[one.on_a if edge.rising else one.off_a]])
    if one.kind == "IEC":
        return "input", np.array([[IEC_ON[one.iec_type][0] if edge.rising else IEC_OFF[one.iec_type][0]]])
    given = one.rising_v if edge.rising else one.falling_v
    if given is not None:
        value = (given.high if edge.rising else given.low) if worst else given.nominal
        return "pin", np.array([[value]])
    if edge.rising:
        return "pin", 0.7 * bench.logic_v() if one.v_ih is None else np.array([[one.v_ih]])
    return "pin", np.array([[one.v_il if one.v_il is not None else 0.8]])


def _bench(circuit: Circuit, net: Netlist, cases: Cases, state: int) -> Bench:
    """Return the columns of `cases` in which the circuit is in one state."""
    columns = np.flatnonzero(cases.state == state)
    picked = Cases(cases.sensors, cases.state[columns], {k: v[columns] for k, v in cases.levels.items()})
    return Bench(net, [circuit], picked)


def _read(bench: Bench, solved_volt: dict[str, Floats], across: Floats, current: Floats, parts: dict[str, int], what: str) -> Floats:
    """The figure that is read: LED amperes, volts across an IEC input, volts of a pin."""
    if what == "LED":
        return current[parts["LED"]]
    if what == "input":
        return across[parts["input"]]
    return solved_volt["pin" if bench.circuits[0].input.series_ohm is not None else "in"]


def _times(circuit: Circuit, net: Netlist, edge: Edge, at: dict[str, Limits], cases: Cases) -> tuple[Floats, Floats]:
    """Time and slew of every column, with all capacitance at the node of the larger capacitor."""
    worst = bool(cases.levels)
    node = _main(at)
    farad = sum(c.high if worst else c.nominal for c in at.values())
    start_v = _bench(circuit, net, cases, edge.before).network().solve().volt(node)
    bench = _bench(circuit, net, cases, edge.after)
    after = bench.network()
    end_v = after.solve().volt(node)
    count = len(start_v)
    # Closer and closer towards the end, where the current dies away.
    share = 1 - (1 - np.linspace(0, 1, POINTS)) ** 2
    held_v = start_v + share[:, None] * (end_v - start_v)  # (points, columns)
    wide = Bench(net, [circuit], _repeated(bench.cases, POINTS))
    network = wide.network()
    network.add("held", node, GROUND, Curve.supply(held_v.reshape(-1), HOLD_OHM))
    solved = network.solve()
    given_a = solved.amp("held").reshape(POINTS, count)
    what, level = _level(bench, edge, worst=worst)
    volts = {name: solved.volt(name) for name in ("in", "pin") if name in solved.nodes}
    figure = _read(bench, volts, solved.across, solved.current, solved.parts, what).reshape(POINTS, count)
    level = np.broadcast_to(level, (1, count))[0]
    sign = 1.0 if edge.rising else -1.0
    gone = sign * (figure - level) >= 0
    reached = gone.any(axis=0)
    last = np.argmax(gone, axis=0)  # first point past the level
    with np.errstate(divide="ignore", invalid="ignore"):
        step_v, a, b = np.diff(held_v, axis=0), given_a[:-1], given_a[1:]
        log_mean = np.where(np.abs(a - b) > 1e-9 * np.abs(a), (a - b) / np.log(a / b), a)
        each = farad * step_v / log_mean
        total = np.concatenate([np.zeros((1, count)), np.cumsum(each, axis=0)])
        column, before = np.arange(count), np.maximum(last - 1, 0)
        part = (level - figure[before, column]) / (figure[last, column] - figure[before, column])
        here = given_a[before, column] + part * (given_a[last, column] - given_a[before, column])
        log_here = np.where(
            np.abs(given_a[before, column] - here) > 1e-9 * np.abs(here),
            (given_a[before, column] - here) / np.log(given_a[before, column] / here),
            here,
        )
        rest_s = farad * part * step_v[np.minimum(before, POINTS - 2), column] / log_here
        rise = (figure[last, column] - figure[before, column]) / (held_v[last, column] - held_v[before, column])
        slew = np.abs(rise * here / farad)
    time_s = np.where(last == 0, 0.0, total[before, column] + rest_s)
    return np.where(reached, time_s, np.inf), np.where(reached & (last > 0), slew, np.inf)


def _repeated(cases: Cases, times: int) -> Cases:
    return replace(cases, state=np.tile(cases.state, times), levels={k: np.tile(v, times) for k, v in cases.levels.items()})


def _stepped(circuit: Circuit, net: Netlist, edge: Edge, at: dict[str, Limits], cases: Cases, column: int, near_s: float) -> float:
    """Time of one column by stepping through it, with both capacitors where they are."""
    worst = bool(cases.levels)
    before = _bench(circuit, net, cases, edge.before)
    bench = _bench(circuit, net, cases, edge.after)
    start = before.network().solve()
    network = bench.network()
    farads = {node: (c.high if worst else c.nominal) for node, c in at.items()}
    for node in farads:
        network.add(f"C {node}", node, GROUND, Curve(0.0, 0.0))
    rows = {node: network.parts[f"C {node}"] for node in farads}
    # The same nodes, whatever order they were met in.
    x = np.array([[start.volt(node)[column]] for node in network.nodes])
    pieces = Pieces.of(network).take(np.array([column]))
    what, level = _level(bench, edge, worst=worst)
    goal = float(np.broadcast_to(level, (1, bench.shape[1]))[0, column])
    sign = 1.0 if edge.rising else -1.0
    names = {node: k for node, k in network.nodes.items()}
    volt = {node: float(x[names[node], 0]) for node in farads}
    amp = dict.fromkeys(farads, 0.0)
    time_s, step_s = 0.0, near_s / 3000
    was: float | None = None
    for count in range(MOST_STEPS):
        # The first two steps are backward Euler: the current jumps when the switch does.
        weight = 1.0 if count < 2 else 2.0
        for node, row in rows.items():
            siemens = weight * farads[node] / step_s
            pieces.siemens[row] = siemens
            pieces.amp[row] = -siemens * volt[node] - (amp[node] if count >= 2 else 0.0)
        x, _ = rest(pieces, x)
        across, current, _, _ = pieces.evaluate(x)
        for node, row in rows.items():
            volt[node], amp[node] = float(x[names[node], 0]), float(current[row, 0])
        volts = {name: x[names[name]] for name in ("in", "pin") if name in names}
        now = float(_read(bench, volts, across, current, network.parts, what)[0])
        time_s += step_s
        if sign * (now - goal) >= 0:
            return time_s if was is None or now == was else time_s - step_s * (now - goal) / (now - was)
        was = now
        step_s = min(step_s * GROWTH, near_s / 200)
    return np.inf
