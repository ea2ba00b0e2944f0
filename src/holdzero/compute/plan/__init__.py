"""Plan: how many homings, over how many power-ups, before the figures can be trusted.

With scatter between power-ups, eight power-ups of four homings say more than one of thirty. What a
trial is worth is told by the degrees of freedom of its day-to-day figure, and promised for the verdict itself
(`promise`, held against it by `rehearsal`). `trial_plan` puts it together;
`noise` counts false trips, `cycles` places the starts of a motion program inside the travel.
"""

from holdzero.compute.plan.asks import Ask, asked_before_holds
from holdzero.compute.plan.cycles import Cycles, StatedTravel, away_and_back
from holdzero.compute.plan.long_run import Gain, RunWeighed
from holdzero.compute.plan.order import Block, shuffled_blocks
from holdzero.compute.plan.precision import homings_to_notice, homings_to_tell_apart, precision, ratio_told_apart
from holdzero.compute.plan.promise import PlannedTrial, holds_up_to, question_of, room, share_that_hold
from holdzero.compute.plan.rehearsal import Rehearsal, rehearsal
from holdzero.compute.plan.room import Room
from holdzero.compute.plan.speeds import Speeds, speeds_to_try
from holdzero.compute.plan.split import Split, degrees_of_freedom, neighbours, splits
from holdzero.compute.plan.trial_plan import Outlook, PlanStep, TrialPlan, trial_plan

__all__ = [
    "Ask",
    "Block",
    "Cycles",
    "Gain",
    "Outlook",
    "PlanStep",
    "PlannedTrial",
    "Rehearsal",
    "Room",
    "RunWeighed",
    "Speeds",
    "Split",
    "StatedTravel",
    "TrialPlan",
    "asked_before_holds",
    "away_and_back",
    "degrees_of_freedom",
    "holds_up_to",
    "homings_to_notice",
    "homings_to_tell_apart",
    "neighbours",
    "precision",
    "question_of",
    "ratio_told_apart",
    "rehearsal",
    "room",
    "share_that_hold",
    "shuffled_blocks",
    "speeds_to_try",
    "splits",
    "trial_plan",
]
