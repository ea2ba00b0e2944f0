"""Compare: which candidate is the tightest, and how sure is that?"""

from holdzero.compute.compare.comparison import Comparison, Homed, Pair, compare
from holdzero.compute.compare.ranking import Ranking, Ratio, rank

__all__ = ["Comparison", "Homed", "Pair", "Ranking", "Ratio", "compare", "rank"]
