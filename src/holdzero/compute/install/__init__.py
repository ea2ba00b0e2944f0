"""Install: what to set on each axis, in order of doing, and what to test before it is trusted.

Values only, from the machine, the chosen sensor, the solved travel and wiring, and the squaring; pages,
terminal and record show them.
"""

from holdzero.compute.install.checklist import checklist
from holdzero.compute.install.results import OUTCOMES, Checklist, Outcome, ResultEntry, read_entries, write_entries
from holdzero.compute.install.sheet import install_sheet
from holdzero.compute.install.values import AxisSheet, InstallSheet, Setting, Test

__all__ = [
    "OUTCOMES",
    "AxisSheet",
    "Checklist",
    "InstallSheet",
    "Outcome",
    "ResultEntry",
    "Setting",
    "Test",
    "checklist",
    "install_sheet",
    "read_entries",
    "write_entries",
]
