"""Findings: what the homings of one candidate say."""

from holdzero.findings.contract import as_json
from holdzero.findings.find import find
from holdzero.findings.misses import slip_in_reading, upper_limit
from holdzero.findings.patterns import drive_steps
from holdzero.findings.study import study
from holdzero.findings.values import Findings, Misses, Study, WithSetAside

__all__ = [
    "Findings",
    "Misses",
    "Study",
    "WithSetAside",
    "as_json",
    "drive_steps",
    "find",
    "slip_in_reading",
    "study",
    "upper_limit",
]
