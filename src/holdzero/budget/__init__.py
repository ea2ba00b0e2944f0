"""Placeholder; the owner of this package replaces it."""
