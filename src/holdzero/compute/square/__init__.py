"""Square: from measured parts to the offset between the two sides of a gantry.

Four ways to measure the corner between x and y, each with its uncertainty; rounds combined into the
offset that squares the gantry, which side and which way, and when to stop.
"""

from holdzero.compute.square.beside import beside
from holdzero.compute.square.diagonals import Diagonals
from holdzero.compute.square.distances import Distance, Distances
from holdzero.compute.square.entry import (
    Asked,
    history_from,
    read_square,
    round_from,
    rounds_from,
    setup_from,
    square_from,
)
from holdzero.compute.square.flip import Flip
from holdzero.compute.square.grid import Grid, Hole
from holdzero.compute.square.measured import Measured, Residual, Scale
from holdzero.compute.square.reversal import Reversal
from holdzero.compute.square.squaring import squaring
from holdzero.compute.square.stops import against_stops
from holdzero.compute.square.values import Event, Round, Setup, Squaring, Stops, Taken

__all__ = [
    "Asked",
    "Diagonals",
    "Distance",
    "Distances",
    "Event",
    "Flip",
    "Grid",
    "Hole",
    "Measured",
    "Residual",
    "Reversal",
    "Round",
    "Scale",
    "Setup",
    "Squaring",
    "Stops",
    "Taken",
    "against_stops",
    "beside",
    "history_from",
    "read_square",
    "round_from",
    "rounds_from",
    "setup_from",
    "square_from",
    "squaring",
]
