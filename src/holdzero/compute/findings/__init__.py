"""Findings: what the homings of one candidate say."""

from holdzero.compute.findings.behaviour import Behaviour
from holdzero.compute.findings.contract import study_as_json
from holdzero.compute.findings.explain import Explained, explain
from holdzero.compute.findings.find import find
from holdzero.compute.findings.misses import slip_in_reading, upper_limit
from holdzero.compute.findings.patterns import drive_steps
from holdzero.compute.findings.setup import Setup
from holdzero.compute.findings.study import study
from holdzero.compute.findings.values import Findings, Misses, MissesElsewhere, Study, UnderCondition, WithSetAside

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
    "drive_steps",
    "explain",
    "find",
    "slip_in_reading",
    "study",
    "study_as_json",
    "upper_limit",
]
