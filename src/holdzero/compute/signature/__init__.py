"""Signatures: patterns in the readings that point at a cause."""

from holdzero.compute.signature.condition import ConditionEffect, condition_effect
from holdzero.compute.signature.find import signatures
from holdzero.compute.signature.values import Signature

__all__ = ["ConditionEffect", "Signature", "condition_effect", "signatures"]
