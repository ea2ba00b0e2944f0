"""Tails: how far a verdict may lean on the regular look of a few dozen homings."""
