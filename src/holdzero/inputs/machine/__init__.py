"""Machine: what it is, what is asked of it, and the form that says so."""

from holdzero.inputs.machine.entry import machine_from, read_machine, write_machine
from holdzero.inputs.machine.keys import AXIS_GROUPS, AXIS_KEYS, MACHINE_KEYS, REQUIREMENT_KEYS
from holdzero.inputs.machine.values import Axis, Machine, Requirement

__all__ = [
    "AXIS_GROUPS",
    "AXIS_KEYS",
    "MACHINE_KEYS",
    "REQUIREMENT_KEYS",
    "Axis",
    "Machine",
    "Requirement",
    "machine_from",
    "read_machine",
    "write_machine",
]
