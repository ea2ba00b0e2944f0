"""Tap: may a channel of a logic analyser hang on this input, and what does it read there?

A channel is an input like any other: it has a rating, levels and a load, and its 0 V is joined to the
controller's. The circuit is solved with it, at every corner; over the rating it is refused, with the divider or
the opto-coupler that fits.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import sqrt
from typing import Any, Literal

import numpy as np

from holdzero.caution import Caution
from holdzero.compute.wiring.cases import Bench, Cases, corners, faulty, states
from holdzero.compute.wiring.keys import figure, span
from holdzero.compute.wiring.netlist import Netlist, NetPart, netlist
from holdzero.compute.wiring.network import ABSENT_OHM, GROUND
from holdzero.compute.wiring.seen import Seen, look
from holdzero.compute.wiring.values import Circuit
from holdzero.compute.wiring.windows import e24, opto_series_window
from holdzero.compute.wiring.words import ohms, volts
from holdzero.errors import InputError
from holdzero.form import dotted, read_keys, table

TapVerdict = Literal["fits", "refused", "does not read"]

TAP_KEYS = (
    span("rating", "voltage", "low_v", "high_v", "-0.5 V to 5.5 V", "What a channel bears, from its manual"),
    figure("low", "voltage", "v_il", "0.8 V", "Up to this it surely reads 0"),
    figure("high", "voltage", "v_ih", "2.0 V", "From this on it surely reads 1"),
    figure("load", "resistance", "load_ohm", "100 kohm", "From the channel to its 0 V"),
)
SAFETY = Caution(
    "tap-safety",
    "Connect with everything switched off. The analyser's 0 V is the computer's: find out first whether it may be "
    "joined to the machine's, or use an isolator. Never to a power stage, mains or motor wires.",
)
_LED_V, _LED_ON_A, _LED_MOST_A = (1.0, 1.4), 3e-3, 20e-3
_OPTO_OHM_W = 0.5
_SHARE_USED = 0.95  # of the rating, by a divider of 5 % resistors
_LOWER_OHM = (10e3, 22e3, 47e3, 4.7e3)  # of a divider, the first that fits


@dataclass(frozen=True, slots=True, kw_only=True)
class AnalyserChannel:
    """One channel of an analyser; levels of 5 V logic and 100 kilohm where nothing is stated."""

    low_v: float
    high_v: float
    v_il: float = 0.8
    v_ih: float = 2.0
    load_ohm: float = 100e3


@dataclass(frozen=True, slots=True)
class Divider:
    """Two resistors: `upper_ohm` from the input's terminal to the channel, `lower_ohm` from there to 0 V."""

    upper_ohm: float
    lower_ohm: float

    @property
    def sentence(self) -> str:
        """What to build."""
        return (
            f"A divider: {ohms(self.upper_ohm)} from the input's terminal to the channel, "
            f"{ohms(self.lower_ohm)} from the channel to 0 V."
        )


@dataclass(frozen=True, slots=True)
class TapOpto:
    """An opto-coupler whose LED, behind `series_ohm`, hangs on the input's terminal."""

    series_ohm: float

    @property
    def sentence(self) -> str:
        """What to build."""
        return f"An opto-coupler, its LED behind {ohms(self.series_ohm)} (0.5 W), its output on the channel."


@dataclass(frozen=True, slots=True, kw_only=True)
class TapSeen:
    """What a channel sees at one input. Volts are those at the input's terminal with the channel on it.

    `clear_v`, `tripped_v`: lowest and highest over all corners; `fault_v` the furthest from 0 under any single
    fault, named in `fault`.
    """

    circuit: Circuit
    verdict: TapVerdict
    clear_v: tuple[float, float]
    tripped_v: tuple[float, float]
    tripped_reads: int | None  # 1 or 0; None: not surely either
    fault_v: float
    fault: str
    disturbs: bool  # the channel's load changes what the controller reads
    remedy: Divider | TapOpto | None
    cautions: tuple[Caution, ...]

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON-ready values."""
        return {
            "circuit": self.circuit.name,
            "verdict": self.verdict,
            "clear_v": list(self.clear_v),
            "tripped_v": list(self.tripped_v),
            "tripped_reads": self.tripped_reads,
            "fault_v": self.fault_v,
            "fault": self.fault,
            "disturbs": self.disturbs,
            "remedy": self.remedy.sentence if self.remedy else None,
            "cautions": [caution.as_json() for caution in self.cautions],
        }


@dataclass(frozen=True, slots=True)
class _Levels:
    """Volts at the terminal, clear and tripped, over all corners, and what the controller reads in each."""

    clear: tuple[float, float]
    tripped: tuple[float, float]
    reads: bytes

    @property
    def ends(self) -> tuple[float, float]:
        return min(self.clear[0], self.tripped[0]), max(self.clear[1], self.tripped[1])


def tap(circuit: Circuit, channel: AnalyserChannel) -> TapSeen:
    """Solve a circuit with a channel of an analyser at its input, and judge it.

    Parameters
    ----------
    circuit : Circuit
        As a wiring file has it; the analyser's 0 V is the controller's.
    channel : AnalyserChannel
        Rating, levels, load.

    Notes
    -----
    Over the rating at any corner of either state: refused. A remedy is solved again at all corners: the channel
    has to stay inside its rating, to read both states surely, and to leave the controller's reading alone.
    """
    net = netlist(circuit)
    alone = _levels(circuit, net, ABSENT_OHM)
    with_it = _levels(circuit, net, channel.load_ohm)
    over = not (channel.low_v <= with_it.ends[0] and with_it.ends[1] <= channel.high_v)
    reads = _tripped_reads(with_it, channel, 1.0)
    disturbs = with_it.reads != alone.reads
    verdict: TapVerdict = "refused" if over else "fits" if reads is not None and not disturbs else "does not read"
    remedy = None if verdict == "fits" else _remedy(circuit, net, channel, alone)
    fault_v, fault = _worst_fault(circuit, net, channel.load_ohm)
    cautions = [SAFETY]
    if verdict == "fits" and not channel.low_v <= fault_v <= channel.high_v:
        text = f"Under a fault ({fault}) the channel would see {volts(fault_v)}, over its rating."
        cautions.append(Caution("tap-fault", text))
    return TapSeen(
        circuit=circuit,
        verdict=verdict,
        clear_v=with_it.clear,
        tripped_v=with_it.tripped,
        tripped_reads=None if over else reads,
        fault_v=fault_v,
        fault=fault,
        disturbs=disturbs,
        remedy=remedy,
        cautions=tuple(cautions),
    )


def _look(circuit: Circuit, net: Netlist, cases: Cases, load_ohm: float) -> Seen:
    tapped = replace(net, parts=(*net.parts, NetPart("tap", "tap", "in", GROUND)))
    return look(Bench(tapped, [circuit], cases, tap_ohm=load_ohm))


def _levels(circuit: Circuit, net: Netlist, load_ohm: float) -> _Levels:
    sensors = len(circuit.sensors)
    low, high = np.full(1 + sensors, np.inf), np.full(1 + sensors, -np.inf)
    reads = b""
    for cases in (states(sensors), corners(sensors, net)):
        seen = _look(circuit, net, cases, load_ohm)
        volt = np.broadcast_to(seen.volt["in"], (1, cases.count))[0]
        np.minimum.at(low, cases.state, volt)
        np.maximum.at(high, cases.state, volt)
        reads += seen.level.tobytes()
    return _Levels((float(low[0]), float(high[0])), (float(low[1:].min()), float(high[1:].max())), reads)


def _tripped_reads(levels: _Levels, channel: AnalyserChannel, part: float) -> int | None:
    """What the channel reads when tripped, behind a divider that passes `part`; None where not surely."""
    for reads, zero, high in ((1, levels.clear, levels.tripped), (0, levels.tripped, levels.clear)):
        if part * zero[1] <= channel.v_il and part * high[0] >= channel.v_ih:
            return reads
    return None


def _worst_fault(circuit: Circuit, net: Netlist, load_ohm: float) -> tuple[float, str]:
    sensors = len(circuit.sensors)
    cases = faulty(sensors, net.faults)
    volt = np.broadcast_to(_look(circuit, net, cases, load_ohm).volt["in"], (1, cases.count))[0]
    worst = int(np.argmax(np.abs(volt)))
    return float(volt[worst]), net.faults[worst // (1 + sensors)].text


def _remedy(circuit: Circuit, net: Netlist, channel: AnalyserChannel, alone: _Levels) -> Divider | TapOpto | None:
    top = alone.ends[1]
    for lower in _LOWER_OHM:
        below = lower * channel.load_ohm / (lower + channel.load_ohm)
        least = below * (top / (_SHARE_USED * channel.high_v) - 1)
        for upper in e24(max(least, 100.0), 1e6)[:6]:
            part = below / (upper + below)
            levels = _levels(circuit, net, upper + below)
            inside = channel.low_v <= part * levels.ends[0] and part * levels.ends[1] <= channel.high_v
            if inside and levels.reads == alone.reads and _tripped_reads(levels, channel, part) is not None:
                return Divider(upper, lower)
    lit = max(alone.clear[0], alone.tripped[0])
    low, high = opto_series_window(
        supply_low_v=lit,
        supply_high_v=top,
        drop_v=0.0,
        led_low_v=_LED_V[0],
        led_high_v=_LED_V[1],
        on_a=_LED_ON_A,
        most_a=_LED_MOST_A,
    )
    least = max(low, (top - _LED_V[0]) ** 2 / (_OPTO_OHM_W / 2), 1.0)
    for series in e24(sqrt(least * max(high, least)), max(high, least)):
        if series <= high and _levels(circuit, net, series).reads == alone.reads:
            return TapOpto(series)
    return None


def analyser_channel(entered: Mapping[str, Any], *, where: str = "") -> tuple[AnalyserChannel, tuple[str, ...]]:
    """Make a channel of what was entered, nested as in a file with a table ``[tap]``; with notes on other keys.

    Raises
    ------
    InputError
        No rating, or a value its key cannot take.
    """
    fields, notes = read_keys(table(entered, "tap", where=where), TAP_KEYS, path=("tap",), where=where)
    if "high_v" not in fields:
        raise InputError(
            where=dotted(where, "tap", "rating"),
            found="nothing",
            need="what a channel of the analyser bears, from its manual",
            do='write rating = "-0.5 V to 5.5 V" below [tap]',
        )
    return AnalyserChannel(**fields), notes
