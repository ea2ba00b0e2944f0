"""Choose: does each candidate hold what is asked, and which is the cheapest that does?"""

from holdzero.compute.choose.allowed import allowed_spread
from holdzero.compute.choose.contract import choice_as_json
from holdzero.compute.choose.decide import axis_meant, choose
from holdzero.compute.choose.decision import Decision, decision, digest_of_inputs
from holdzero.compute.choose.outside import share_outside
from holdzero.compute.choose.values import (
    AllowedSpread,
    Candidate,
    Change,
    Choice,
    Dearer,
    Lack,
    More,
    Part,
    Verdict,
)
from holdzero.compute.spread.normal import normal_limit

__all__ = [
    "AllowedSpread",
    "Candidate",
    "Change",
    "Choice",
    "Dearer",
    "Decision",
    "Lack",
    "More",
    "Part",
    "Verdict",
    "allowed_spread",
    "axis_meant",
    "choice_as_json",
    "choose",
    "decision",
    "digest_of_inputs",
    "normal_limit",
    "share_outside",
]
