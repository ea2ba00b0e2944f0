"""Design: one axis reckoned through as a whole, and many variants of it side by side."""

from holdzero.compute.design.assessment import AxisAssessment, assess
from holdzero.compute.design.sweep import Row, Sweep, Task, read_sweep, reckon, run, tasks

__all__ = ["AxisAssessment", "Row", "Sweep", "Task", "assess", "read_sweep", "reckon", "run", "tasks"]
