"""Wiring: what the controller's input makes of a home switch, whole and with every single fault.

The circuit of sensors, cable, supplies and input is solved as it stands (`network`), at the corners of
its tolerances and with each fault, and read by the levels the input guarantees. `read_wiring` makes
circuits from a file, `assess` solves and judges one, `assess_many` many at a time, and `terminal_list` is
what to take to the machine of it.
"""

from holdzero.compute.wiring.entry import circuits_from, read_wiring
from holdzero.compute.wiring.judge import assess, assess_all, assess_many
from holdzero.compute.wiring.netlist import Netlist, NetPart, netlist
from holdzero.compute.wiring.results import Assessment, Damage, EdgeDelay, FaultRow, Remedy, State, Wetting
from holdzero.compute.wiring.tap import TAP_KEYS, AnalyserChannel, Divider, TapOpto, TapSeen, analyser_channel, tap
from holdzero.compute.wiring.terminals import TerminalList, Wire, WireBreak, terminal_list, wires
from holdzero.compute.wiring.values import Cable, Circuit, Input, Limits, SensorOutput, Supply, Unsaid

__all__ = [
    "TAP_KEYS",
    "AnalyserChannel",
    "Assessment",
    "Cable",
    "Circuit",
    "Damage",
    "Divider",
    "EdgeDelay",
    "FaultRow",
    "Input",
    "Limits",
    "NetPart",
    "Netlist",
    "Remedy",
    "SensorOutput",
    "State",
    "Supply",
    "TapOpto",
    "TapSeen",
    "TerminalList",
    "Unsaid",
    "Wetting",
    "Wire",
    "WireBreak",
    "analyser_channel",
    "assess",
    "assess_all",
    "assess_many",
    "circuits_from",
    "netlist",
    "read_wiring",
    "tap",
    "terminal_list",
    "wires",
]
