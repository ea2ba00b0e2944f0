"""Motion: what an axis does between the moment it is told to stop and the moment it stands."""

from holdzero.motion.delay import Delay
from holdzero.motion.homing_time import HomingWay
from holdzero.motion.mass import GRAVITY_M_S2, coast_mm_s2, equivalent_mass_kg
from holdzero.motion.stopping import Stop, highest_speed_mm_s, run_up_speed_mm_s, stop

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
]
