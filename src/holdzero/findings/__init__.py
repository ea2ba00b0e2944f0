"""Findings: what the homings of one candidate say."""

from holdzero.findings.behaviour import Behaviour
from holdzero.findings.contract import as_json
from holdzero.findings.explain import Explained, explain
from holdzero.findings.find import find
from holdzero.findings.misses import slip_in_reading, upper_limit
from holdzero.findings.patterns import drive_steps
from holdzero.findings.setup import Setup
from holdzero.findings.study import study
from holdzero.findings.values import Findings, Misses, MissesElsewhere, Study, UnderCondition, WithSetAside

__all__ = [
    "Behaviour",
    "Explained",
    "Findings",
    "Misses",
    "MissesElsewhere",
    "Setup",
    "Study",
    "UnderCondition",
    "WithSetAside",
    "as_json",
    "drive_steps",
    "explain",
    "find",
    "slip_in_reading",
    "study",
    "upper_limit",
]
