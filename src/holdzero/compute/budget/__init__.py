"""Budget: why is home not always in the same place, and which reason matters?

The contributions of switch, wiring, controller, drive and temperature, to first order (JCGM 100) and homing
by homing (JCGM 101), for position and for squareness; and the sums solved backwards.
"""

from holdzero.compute.budget.allowed import AllowedOwn, allowed_own, allowed_sd_mm, share_outside
from holdzero.compute.budget.backwards import Halve, fastest_creep_mm_s, fastest_creep_of, worth_halving
from holdzero.compute.budget.contribution import Contribution, NotCounted
from holdzero.compute.budget.counted import TrialSpread
from holdzero.compute.budget.grid import StepGrid, grid, grid_scatter
from holdzero.compute.budget.simulate import Share, Simulation, simulate
from holdzero.compute.budget.table import Budget, Combined, budget
from holdzero.compute.budget.touches import Touches, touches

__all__ = [
    "AllowedOwn",
    "Budget",
    "Combined",
    "Contribution",
    "Halve",
    "NotCounted",
    "Share",
    "Simulation",
    "StepGrid",
    "Touches",
    "TrialSpread",
    "allowed_own",
    "allowed_sd_mm",
    "budget",
    "fastest_creep_mm_s",
    "fastest_creep_of",
    "grid",
    "grid_scatter",
    "share_outside",
    "simulate",
    "touches",
    "worth_halving",
]
