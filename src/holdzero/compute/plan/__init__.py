"""Plan: how many homings, over how many power-ups, before the figures can be trusted.

With scatter between power-ups, eight power-ups of four homings say more than one of thirty. What a
trial is worth is told by the degrees of freedom of its day-to-day figure, and promised for the verdict itself
(`promise`). `trial_plan` puts it together;
`noise` counts false trips, `cycles` places the starts of a motion program inside the travel.
"""

from holdzero.compute.plan.cycles import Cycles, StatedTravel, away_and_back
from holdzero.compute.plan.long_run import Gain, RunWeighed
from holdzero.compute.plan.order import Block, shuffled_blocks
from holdzero.compute.plan.precision import precision, ratio_told_apart
from holdzero.compute.plan.promise import PlannedTrial, holds_up_to, question_of, room
from holdzero.compute.plan.room import Room
from holdzero.compute.plan.speeds import Speeds, speeds_to_try
from holdzero.compute.plan.split import Split, degrees_of_freedom, neighbours, splits
from holdzero.compute.plan.trial_plan import Outlook, PlanStep, TrialPlan, trial_plan

__all__ = [
    "Block",
    "Cycles",
    "Gain",
    "Outlook",
    "PlanStep",
    "PlannedTrial",
    "Room",
    "RunWeighed",
    "Speeds",
    "Split",
    "StatedTravel",
    "TrialPlan",
    "away_and_back",
    "degrees_of_freedom",
    "holds_up_to",
    "neighbours",
    "precision",
    "question_of",
    "ratio_told_apart",
    "room",
    "shuffled_blocks",
    "speeds_to_try",
    "splits",
    "trial_plan",
]
