"""Signatures: patterns in the readings that point at a cause."""

from holdzero.signature.condition import ConditionEffect, condition_effect
from holdzero.signature.find import signatures
from holdzero.signature.guards import guards
from holdzero.signature.values import Signature

__all__ = ["ConditionEffect", "Signature", "condition_effect", "guards", "signatures"]
