"""Index: does the zero always come from the same index pulse?

A switch says roughly where the axis is, the index pulse of the encoder says exactly where within one
turn. The zero is the first index after the search starts. If the start lies too near an index, the
scatter of the switch now and then puts it on the other side, and the machine is one whole turn off.
An open-loop motor that lands on a known electrical phase follows the same logic, with a pitch of one
electrical cycle.
"""

from holdzero.compute.index.cycle import electrical_cycle_mm, power_up_jump
from holdzero.compute.index.place import (
    IndexPlace,
    allowed_scatter_mm,
    fastest_polled_mm_s,
    how_to_measure,
    index_place,
    phase_of,
    window,
    wrong_index,
)
from holdzero.compute.index.wandering import Wander, strays_past

__all__ = [
    "IndexPlace",
    "Wander",
    "allowed_scatter_mm",
    "electrical_cycle_mm",
    "fastest_polled_mm_s",
    "how_to_measure",
    "index_place",
    "phase_of",
    "power_up_jump",
    "strays_past",
    "window",
    "wrong_index",
]
