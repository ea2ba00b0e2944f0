"""Choose: does each candidate hold what is asked, and which is the cheapest that does?"""

from holdzero.choose.allowed import allowed_spread
from holdzero.choose.contract import as_json
from holdzero.choose.decide import choose
from holdzero.choose.outside import heavy_limit, normal_limit, share_outside
from holdzero.choose.values import AllowedSpread, Candidate, Choice, More, Part, Verdict

__all__ = [
    "AllowedSpread",
    "Candidate",
    "Choice",
    "More",
    "Part",
    "Verdict",
    "allowed_spread",
    "as_json",
    "choose",
    "heavy_limit",
    "normal_limit",
    "share_outside",
]
