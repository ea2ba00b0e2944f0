"""Motion: what an axis does between the moment it is told to stop and the moment it stands."""

from holdzero.compute.motion.delay import Delay
from holdzero.compute.motion.homing_time import HomingWay
from holdzero.compute.motion.mass import GRAVITY_M_S2, coast_mm_s2, equivalent_mass_kg
from holdzero.compute.motion.stopping import (
    Stop,
    highest_speed_mm_s,
    run_up_speed_mm_s,
    stop,
    stop_while_accelerating,
)

__all__ = [
    "GRAVITY_M_S2",
    "Delay",
    "HomingWay",
    "Stop",
    "coast_mm_s2",
    "equivalent_mass_kg",
    "highest_speed_mm_s",
    "run_up_speed_mm_s",
    "stop",
    "stop_while_accelerating",
]
