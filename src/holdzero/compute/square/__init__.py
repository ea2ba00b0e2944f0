"""Square: from measured parts to the offset between the two sides of a gantry.

Four ways to measure the corner between x and y, each with its uncertainty; rounds combined into the
offset that squares the gantry, which side and which way, and when to stop.
"""

from holdzero.compute.square.beside import beside
from holdzero.compute.square.diagonals import Diagonals
from holdzero.compute.square.distances import Distance, Distances
from holdzero.compute.square.entry import (
    SquareStated,
    event_from,
    read_square,
    round_from,
    rounds_from,
    setup_from,
    square_from,
    step_from,
)
from holdzero.compute.square.flip import Flip
from holdzero.compute.square.grid import Hole, HoleGrid
from holdzero.compute.square.measured import Measured, Residual, Scale
from holdzero.compute.square.reversal import Reversal
from holdzero.compute.square.squaring import squaring
from holdzero.compute.square.stops import against_stops
from holdzero.compute.square.values import Event, GantrySetup, Round, RoundTaken, Squaring, Stops

__all__ = [
    "Diagonals",
    "Distance",
    "Distances",
    "Event",
    "Flip",
    "GantrySetup",
    "Hole",
    "HoleGrid",
    "Measured",
    "Residual",
    "Reversal",
    "Round",
    "RoundTaken",
    "Scale",
    "SquareStated",
    "Squaring",
    "Stops",
    "against_stops",
    "beside",
    "event_from",
    "read_square",
    "round_from",
    "rounds_from",
    "setup_from",
    "square_from",
    "squaring",
    "step_from",
]
