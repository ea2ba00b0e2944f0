"""Plan: how many homings, over how many power-ups, before the figures can be trusted.

With scatter between power-ups, eight power-ups of four homings say more than one of thirty. What a
trial is worth is told by the degrees of freedom of its day-to-day figure.
"""

from holdzero.plan.precision import homings_to_notice, homings_to_tell_apart, precision
from holdzero.plan.room import Room, room
from holdzero.plan.split import Split, best_split, degrees_of_freedom, splits

__all__ = [
    "Room",
    "Split",
    "best_split",
    "degrees_of_freedom",
    "homings_to_notice",
    "homings_to_tell_apart",
    "precision",
    "room",
    "splits",
]
