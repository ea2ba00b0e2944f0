"""Tapped: may a logic analyser be connected to this machine, before anything is captured?

Every channel is an input, so every circuit of the machine is solved with one on it, and so is the output that the
encoder or the step signals come from. What is refused may be connected through what fits instead, or isolated.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from holdzero import quantity
from holdzero.compute.wiring import TAP_KEYS, Assessment, TapSeen, Unsaid, analyser_channel, circuits_from, tap
from holdzero.errors import InputError
from holdzero.form import read_keys
from holdzero.memory import MIB, Remembered

Joined = Literal["", "direct", "instead", "isolated"]
JOINED: dict[Joined, str] = {
    "": "not said yet",
    "direct": "straight to each input's terminal",
    "instead": "through what is advised for each input",
    "isolated": "through isolated inputs of its own, nothing joined",
}
SIGNALS = "Encoder or step signals"
DROP_SHARE = 0.12  # of the supply, lost in the output of an encoder or controller: common practice, no source

_solved = Remembered(8 * MIB)


@dataclass(frozen=True, slots=True)
class Tapping:
    """What comes of connecting an analyser to a machine.

    Parameters
    ----------
    seen : tuple of TapSeen
        Every circuit that could be solved, and the encoder or step signals where their supply is said.
    unsolved : tuple of str
        Circuits that are not described far enough.
    described : bool
        Whether the machine has any circuit at all.
    joined : {"", "direct", "instead", "isolated"}
        How the channels are connected, as the person says.
    notes : tuple of str
        What was read of the channel and not used.
    """

    seen: tuple[TapSeen, ...]
    unsolved: tuple[str, ...]
    described: bool
    joined: Joined
    notes: tuple[str, ...] = ()

    @property
    def refused(self) -> InputError | None:
        """Why the analyser may not be connected so; None: it may."""
        need, where = "every channel known to stay inside its rating", "the analyser's channels"
        if self.joined == "isolated":
            return None
        if not self.joined:
            return InputError(
                where=where,
                found="not said how they are connected",
                need=need,
                do="choose how they are connected, above",
            )
        if not self.described or self.unsolved:
            lacking = f"circuits not described far enough ({', '.join(self.unsolved)})" if self.unsolved else ""
            return InputError(
                where=where,
                found=lacking or "no circuit of this machine",
                need=need,
                do="describe the circuits at Wiring, or connect through isolated inputs",
            )
        bad = [tapped for tapped in self.seen if tapped.verdict != "fits"]
        if self.joined == "instead":
            bad = [tapped for tapped in bad if tapped.remedy is None]
        if not bad:
            return None
        names = ", ".join(tapped.circuit.name or "a circuit without a name" for tapped in bad)
        return InputError(
            where=where,
            found=f"{bad[0].verdict} at {names}",
            need=need,
            do="connect through what is advised for each input"
            if all(tapped.remedy for tapped in bad)
            else "tap behind the controller's own input stage, isolated",
        )


def tapped(
    circuits: Sequence[Assessment], entered: Mapping[str, Any], *, signals: str = "", joined: str = ""
) -> Tapping | None:
    """Solve every circuit of a machine with a channel of the analyser on it.

    Parameters
    ----------
    circuits : sequence of Assessment
        Of the machine.
    entered : mapping
        The channel as it was typed: the table ``[tap]`` of a map.
    signals : str, default ""
        Supply of the encoder or of the step signals, e.g. "5 V"; empty: not said, or not tapped.
    joined : str, default ""
        One of `JOINED`.

    Returns
    -------
    Tapping or None
        None: the rating of a channel is not said, so nothing can be solved.

    Raises
    ------
    InputError
        A value cannot be read.
    """
    if not entered.get("rating"):
        read_keys(
            {name: typed for name, typed in entered.items() if typed}, TAP_KEYS, path=("tap",), where="analyser"
        )
        if signals:
            signals_circuit(signals)
        return None
    channel, notes = analyser_channel({"tap": entered}, where="analyser")
    whole = [assessment.circuit for assessment in circuits if assessment.circuit is not None]
    unsolved = tuple(
        assessment.name or "one without a name" for assessment in circuits if assessment.circuit is None
    )
    if signals:
        whole.append(signals_circuit(signals))

    def solve() -> tuple[TapSeen, ...]:
        return tuple(tap(circuit, channel) for circuit in whole)

    seen = _solved((repr(whole), repr(channel)), solve)
    way: Joined = joined if joined in JOINED else ""
    return Tapping(seen, unsolved, bool(circuits), way, notes)


def signals_circuit(supply: str) -> Any:
    """Return the output that encoder or step signals come from, as a circuit: both ways driven, lightly loaded."""
    volts = quantity.read(supply, "voltage", unit="V", where="supply of the encoder or step signals")
    (circuit,) = circuits_from(
        {
            "name": SIGNALS,
            "supply": {"voltage": f"{volts} V"},
            "sensor": {
                "output": "push-pull",
                "contact": "NO",
                "drop": f"{DROP_SHARE * volts:.4g} V",
                "leakage": "0 mA",
            },
            "input": {
                "kind": "logic",
                "supply": f"{volts} V",
                "v_il": f"{0.25 * volts:.4g} V",
                "v_ih": f"{0.5 * volts:.4g} V",
                "pull_down": "100 kohm",
            },
        },
        where=SIGNALS,
    )
    if isinstance(circuit, Unsaid):  # everything it needs is written above
        raise InputError(where=SIGNALS, found=supply, need="the supply", do='write it like "5 V"')
    return circuit
