"""Standing: two questions of one machine, never mixed. Does it hold zero? Does it stop in time?"""

from holdzero.case.standing.answers import ANSWERS, STOPS, answer_of_zero, worst
from holdzero.case.standing.values import Standing, StandingPart, Standings
from holdzero.case.standing.whole import standing_of, standings

__all__ = [
    "ANSWERS",
    "STOPS",
    "Standing",
    "StandingPart",
    "Standings",
    "answer_of_zero",
    "standing_of",
    "standings",
    "worst",
]
