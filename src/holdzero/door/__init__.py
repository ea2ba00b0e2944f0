"""The Python door: `import holdzero as hz`, and each question is a function.

A function fetches, asks the case or the room that computes, and gives an `Reply`; it decides nothing. The package
`holdzero` brings a function in when it is first named, so that importing it stays quick.
"""

from holdzero.door.later import capture, watch
from holdzero.door.many import fleet
from holdzero.door.paper import budget, index, install, plan, square, travel, wiring
from holdzero.door.prove import record, standing
from holdzero.door.things import book, machine, sensors
from holdzero.door.trial import choose, spread, study

__all__ = [
    "book",
    "budget",
    "capture",
    "choose",
    "fleet",
    "index",
    "install",
    "machine",
    "plan",
    "record",
    "sensors",
    "spread",
    "square",
    "standing",
    "study",
    "travel",
    "watch",
    "wiring",
]
