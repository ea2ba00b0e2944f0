"""Method: how the figures of a record were worked out, in words, and where the methods are from."""

_METHOD = """
Spread is the standard deviation of the home position from one homing to the next. The figure that counts is the
day-to-day one: the square root of the sum of the squares of two parts, scatter within a power-up and scatter
from one power-up to the next.

Within one power-up and without rounding, its interval is the chi-square interval [1]. Readings rounded to the
step of a display are treated as what they are, intervals one step wide, with a flat prior for the mean and a
prior 1/(spread + step) for the spread; as the step goes to nothing this becomes the chi-square interval.
Several power-ups are a one-way random-effects model, with a prior that keeps the upper limit honest where there
are few of them [2].

Where every homing shows the same count no spread can be stated, only a bound: the largest spread that would
still show them all alike once in twenty such trials.

A gantry on two motors is turned by the difference of its two home positions over the distance between the
drives; what is cut crosswise is then out of square by the same angle. Where both sides were read at the same
homings, squareness is judged on that difference and position on each side, and the shares of homings outside are
added up. With one side read, or the sides at different homings, nothing holds for squareness.

The verdict is the chance that the true share of homings outside the requirement is at most the risk, taken over
everything the homings leave open about the spread, never at its best estimate. From {confidence} upwards it
holds; from 2.5 % downwards it does not; between, it is too close to call. Below four power-ups, or twelve homings
of a series, nothing holds.

A few dozen homings cannot show whether scatter has heavy tails. The chance is therefore given twice: for
regular (normal) scatter at the risk asked, and for three times that risk under all tails that the homings leave
believable: Student's t by homing and by power-up, weighed by the homings themselves [4]. Both have to reach
{confidence}. Where heavy tails were seen, the second is for the risk itself. Missed have the homings outside what
is asked, and gross misses, which lie far from all others; their share is bounded by the exact binomial.
"""
HANDBOOK = "NIST/SEMATECH e-Handbook of Statistical Methods"
SOURCES = (
    f"[1] {HANDBOOK}; for the interval, section 7.2.3.1.",
    "[2] G. E. P. Box, G. C. Tiao: Bayesian Inference in Statistical Analysis, random-effect models.",
    "[3] JCGM 100:2008, Guide to the expression of uncertainty in measurement.",
    "[4] docs/methods.md, section 13, with the rates it was found to reach by simulation.",
)


def method(confidence: float) -> tuple[str, ...]:
    """Return the paragraphs, with the chance from which a candidate holds filled in."""
    return tuple(
        " ".join(paragraph.split()).replace(" %", "\u202f%").format(confidence=f"{100 * confidence:g}\u202f%")
        for paragraph in _METHOD.split("\n\n")
    )
