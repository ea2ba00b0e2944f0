"""Square: from measured parts to the offset between the two sides of a gantry.

Four ways to measure the corner between x and y, each with its uncertainty; rounds combined into the
offset that squares the gantry, which side and which way, and when to stop.
"""

from holdzero.square.beside import beside
from holdzero.square.diagonals import Diagonals
from holdzero.square.distances import Distance, Distances
from holdzero.square.entry import Asked, history_from, read_square, round_from, setup_from, square_from
from holdzero.square.flip import Flip
from holdzero.square.grid import Grid, Hole
from holdzero.square.measured import Measured, Residual, Scale
from holdzero.square.reversal import Reversal
from holdzero.square.squaring import squaring
from holdzero.square.stops import against_stops
from holdzero.square.values import Event, Round, Setup, Squaring, Stops, Taken

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
    "setup_from",
    "square_from",
    "squaring",
]
