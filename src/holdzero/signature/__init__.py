"""Signatures: patterns in the readings that point at a cause."""
