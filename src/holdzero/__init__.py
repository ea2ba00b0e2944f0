"""holdzero: does this machine hold zero?

To hold zero is shop language: switch it off, switch it on, home it, and every axis is back where it
was, with the gantry square.
"""

__version__ = "0.1.0"
