"""Choose: does each candidate hold what is asked, and which is the cheapest that does?"""

from holdzero.choose.allowed import allowed_spread
from holdzero.choose.contract import as_json
from holdzero.choose.decide import axis_meant, choose
from holdzero.choose.decision import Decision, decision, digest_of_inputs
from holdzero.choose.outside import heavy_limit, normal_limit, share_outside
from holdzero.choose.values import AllowedSpread, Candidate, Change, Choice, Dearer, More, Part, Verdict

__all__ = [
    "AllowedSpread",
    "Candidate",
    "Change",
    "Choice",
    "Dearer",
    "Decision",
    "More",
    "Part",
    "Verdict",
    "allowed_spread",
    "as_json",
    "axis_meant",
    "choose",
    "decision",
    "digest_of_inputs",
    "heavy_limit",
    "normal_limit",
    "share_outside",
]
