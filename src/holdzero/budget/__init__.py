"""Budget: why is home not always in the same place, and which reason matters?

The contributions of switch, wiring, controller, drive and temperature, to first order (JCGM 100) and homing
by homing (JCGM 101), for position and for squareness; and the sums solved backwards.
"""

from holdzero.budget.allowed import AllowedOwn, allowed_own, allowed_sd_mm, share_outside
from holdzero.budget.contribution import Contribution
from holdzero.budget.counted import NotCounted, Trial
from holdzero.budget.grid import Grid, grid, grid_scatter
from holdzero.budget.simulate import Share, Simulation, simulate
from holdzero.budget.table import Budget, Combined, budget

__all__ = [
    "AllowedOwn",
    "Budget",
    "Combined",
    "Contribution",
    "Grid",
    "NotCounted",
    "Share",
    "Simulation",
    "Trial",
    "allowed_own",
    "allowed_sd_mm",
    "budget",
    "grid",
    "grid_scatter",
    "share_outside",
    "simulate",
]
