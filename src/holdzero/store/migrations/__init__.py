"""Numbered steps from an empty file to today's tables. They go forward and are not edited after release."""
