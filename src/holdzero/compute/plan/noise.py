"""Noise: false trips counted under one condition after another, one change at a time.

A false trip comes now and then, so what is counted is a Poisson number: three in an hour and none in the
next may be the same machine. Each count gets its exact interval, each change its exact comparison.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil, inf, isfinite
from typing import Any

from scipy.special import bdtr, bdtrc, betaincinv, chdtri

from holdzero.errors import InputError


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """False trips per hour under one condition. `low`, `high`: where the true rate lies with 95 %."""

    trips: int
    hours: float
    per_hour: float
    low: float
    high: float

    @property
    def middle_words(self) -> str:
        """The rate, with as many digits as a count supports."""
        return _two_digits(self.per_hour)

    @property
    def limit_words(self) -> str:
        """Where the true rate lies."""
        upper = _two_digits(self.high)
        return f"{_two_digits(self.low)} to {upper}" if self.trips else f"up to {upper}"

    @property
    def words(self) -> str:
        """The rate with its interval."""
        if not self.trips:
            return f"U{self.limit_words[1:]} false trips an hour"
        return f"{self.middle_words} false trips an hour ({self.limit_words})"

    def as_json(self) -> dict[str, float]:
        """Return the figures."""
        return {
            "trips": self.trips,
            "hours": self.hours,
            "per_hour": self.per_hour,
            "low": self.low,
            "high": self.high,
        }


def rate(*, trips: int, hours: float, confidence: float = 0.95) -> Rate:
    """False trips per hour, with the exact Poisson interval.

    Parameters
    ----------
    trips : int
        False trips counted.
    hours : float
        Time watched. [h]
    confidence : float
        Of the interval; where nothing tripped, of its upper end alone. [-]

    Returns
    -------
    Rate

    Raises
    ------
    InputError
        No time watched, or trips below 0.

    Notes
    -----
    Chi-square quantiles on 2n and 2n + 2 degrees of freedom (F. Garwood 1936). No trip in T hours leaves at
    most 3.00/T an hour.

    Examples
    --------
    >>> counted = rate(trips=3, hours=1)
    >>> f"{counted.per_hour:.0f} an hour, {counted.low:.2f} to {counted.high:.2f}"
    '3 an hour, 0.62 to 8.77'
    """
    if trips < 0 or not 0 < hours < inf:
        raise InputError(
            where="noise hunt",
            found=f"{trips} trips in {hours:g} h",
            need="a count from 0 up and the time watched",
            do="write down how long was watched, even where nothing tripped",
        )
    tail = (1 - confidence) / (2 if trips else 1)
    low = float(chdtri(2 * trips, 1 - tail)) / 2 / hours if trips else 0.0
    high = float(chdtri(2 * trips + 2, tail)) / 2 / hours
    return Rate(trips=trips, hours=hours, per_hour=trips / hours, low=low, high=high)


@dataclass(frozen=True, slots=True, kw_only=True)
class RateChange:
    """What one change did to the rate of false trips.

    Parameters
    ----------
    ratio_low, ratio_high : float
        Rate after over rate before, 95 %; `ratio_high` is inf where nothing tripped before. [-]
    p : float
        Chance of counts this uneven, either way, where the change did nothing. [-]
    helped : bool or None
        True: fewer trips; False: more; None: the counts cannot tell.
    sentence : str
        The answer in words.
    """

    ratio_low: float
    ratio_high: float
    p: float
    helped: bool | None
    sentence: str


def change(before: Rate, after: Rate, *, confidence: float = 0.95) -> RateChange:
    """Compare the counts before and after one change.

    Parameters
    ----------
    before, after : Rate
        As counted.
    confidence : float
        Of the interval and of the answer. [-]

    Returns
    -------
    RateChange

    Notes
    -----
    Given all trips together, those after the change are binomial with the share of the time watched after it;
    limits by Clopper and Pearson (1934), p twice the smaller tail.

    Examples
    --------
    >>> change(rate(trips=9, hours=1), rate(trips=1, hours=1)).sentence
    'That helped: after it at most 0.80 times as many false trips (95 %).'
    >>> change(rate(trips=2, hours=1), rate(trips=0, hours=1)).sentence
    'Cannot tell yet: watch 5.4 h after the change; none in that time would show that it helped.'
    """
    trips, x = before.trips + after.trips, after.trips
    share = after.hours / (before.hours + after.hours)
    tail = (1 - confidence) / 2
    low = float(betaincinv(x, trips - x + 1, tail)) if x else 0.0
    high = float(betaincinv(x + 1, trips - x, 1 - tail)) if x < trips else 1.0
    odds = before.hours / after.hours
    ratio_low = low / (1 - low) * odds if low < 1 else inf
    ratio_high = high / (1 - high) * odds if high < 1 else inf
    under, over = float(bdtr(x, trips, share)), float(bdtrc(x - 1, trips, share)) if x else 1.0
    p = min(1.0, 2 * min(under, over))
    helped = True if ratio_high < 1 else False if ratio_low > 1 else None
    if helped:
        verdict_words = f"That helped: after it at most {ratio_high:.2f} times as many false trips (95 %)."
    elif helped is False:
        verdict_words = f"That made it worse: after it at least {ratio_low:.2f} times as many false trips (95 %)."
    elif before.trips == 0:
        verdict_words = (
            "Cannot tell: nothing tripped before the change. Watch the first condition until something does."
        )
    elif x == 0:
        hours = _quiet_hours(before, tail)
        verdict_words = (
            f"Cannot tell yet: watch {hours:.1f} h after the change; none in that time would show that it helped."
        )
    else:
        verdict_words = "Cannot tell yet: count longer under both conditions."
    return RateChange(ratio_low=ratio_low, ratio_high=ratio_high, p=p, helped=helped, sentence=verdict_words)


def _quiet_hours(before: Rate, tail: float) -> float:
    """Hours without a trip after which (before/(before + after))^n falls to the tail, rounded up."""
    share: float = tail ** (1 / before.trips)
    return ceil(before.hours * (1 / share - 1) * 10) / 10


@dataclass(frozen=True, slots=True)
class Condition:
    """One line of the hunt: what is changed, and what a difference to the condition `against` says."""

    name: str
    do: str
    says: str
    against: str = ""


AS_IT_RUNS, ALL_QUIET = "as it runs", "all quiet"
_CHANGED = "As it runs, with that changed."
_HELPED = "Did that change help?"
_MORE = "More: "
HUNT = (
    Condition(
        AS_IT_RUNS,
        "Everything on that runs in service; count false trips until there are five or an hour is over.",
        "The rate to beat. Nothing in an hour: watch when it is worst, or log over a day.",
    ),
    Condition(
        ALL_QUIET,
        "Spindle, extractor and pumps off, motors not enabled.",
        "Still trips: not noise from the machine. Look at supply, sensor, flag, a loose wire.",
        AS_IT_RUNS,
    ),
    Condition(
        "motors held",
        "Motors enabled, axes still.",
        "More: the drives' switching gets in while holding.",
        ALL_QUIET,
    ),
    Condition(
        "motors moving",
        "Axes moving, spindle off.",
        "More: motor cables, or a wire that opens as it bends.",
        ALL_QUIET,
    ),
    Condition("spindle on", "Spindle on, axes still.", "More: the spindle, its drive or its cable.", ALL_QUIET),
    Condition(
        "extractor and pumps on",
        "The rest on, one after the other.",
        "More: that one, by the mains or, with an extractor, by static charge.",
        ALL_QUIET,
    ),
    Condition(
        "input closed at the controller",
        "As it runs, but the sensor's wires off and the input held clear by a short wire at the controller.",
        "Still trips: the controller, its supply or its ground; the cable is not to blame.",
        AS_IT_RUNS,
    ),
    Condition(
        "input closed at the sensor",
        "The same with the short wire at the far end of the cable.",
        "Trips now but not before: the cable picks it up. Neither trips: the sensor.",
        "input closed at the controller",
    ),
    Condition("shield to ground at one end", _CHANGED, _HELPED, AS_IT_RUNS),
    Condition("cable away from motor and spindle cables", _CHANGED, _HELPED, AS_IT_RUNS),
    Condition("stiffer pull-up", f"{_CHANGED[:-1]}: 1 to 3.3 kohm.", _HELPED, AS_IT_RUNS),
    Condition("longer input filter", _CHANGED, "It costs overtravel: see the travel checks.", AS_IT_RUNS),
)
"""Common practice, no source: what is quickest and tells most comes first; fixes last, one at a time."""

HUNT_GUARD = (
    "While an input is held clear the machine has no limit and cannot home: axes in the middle of their travel, "
    "low speed, a hand on the stop. Wires only with the machine switched off and unplugged."
)


@dataclass(frozen=True, slots=True)
class HuntLine:
    """One condition of a hunt, what was counted under it, and what it changed. None: not counted yet."""

    condition: Condition
    rate: Rate | None
    change: RateChange | None

    @property
    def comparison(self) -> str:
        """What the counts say against the condition they are held against; empty where one is not counted."""
        if self.change is None:
            return ""
        against, ratio = self.condition.against, self.change
        if ratio.helped:
            return f"Fewer than {against}: at most {ratio.ratio_high:.2f} times as many (95 %)."
        if ratio.helped is False:
            cause = self.condition.says.partition(_MORE)[2]
            text = f"More than {against}: at least {ratio.ratio_low:.2f} times as many (95 %)."
            return f"{text} Points to {cause}" if cause else text
        return f"Against {against}: {ratio.sentence[:1].lower()}{ratio.sentence[1:]}"

    def as_json(self) -> dict[str, Any]:
        """Return the figures; a ratio without an upper end is null."""
        record: dict[str, Any] = {"condition": self.condition.name, "against": self.condition.against or None}
        record |= self.rate.as_json() if self.rate else {}
        if self.change:
            high = self.change.ratio_high
            record |= {"ratio_low": self.change.ratio_low, "ratio_high": high if isfinite(high) else None}
            record |= {"p": self.change.p, "helped": self.change.helped, "said": self.comparison}
        return record


@dataclass(frozen=True, slots=True)
class NoiseHunt:
    """A noise hunt so far: the conditions in their order, those of one's own last."""

    lines: tuple[HuntLine, ...]

    @property
    def counted(self) -> tuple[HuntLine, ...]:
        """The conditions that were counted."""
        return tuple(line for line in self.lines if line.rate)

    @property
    def next(self) -> Condition | None:
        """The first condition of the order that is not counted yet."""
        return next((line.condition for line in self.lines if line.rate is None), None)

    @property
    def sentence(self) -> str:
        """How the hunt stands."""
        base = self.lines[0].rate
        if base is None:
            return "First count false trips as the machine runs: that is the rate to beat"
        first = f"{base.words} as it runs"
        phrases = [
            f"{'fewer' if line.change.helped else 'more'} with {line.condition.name}"
            for line in self.counted
            if line.change and line.change.helped is not None
        ]
        return f"{first}; {', '.join(phrases) or 'no change tells yet'}"

    def as_json(self) -> dict[str, Any]:
        """Return how it stands and every condition that was counted."""
        return {"sentence": self.sentence, "conditions": [line.as_json() for line in self.counted]}


def hunt(counts: Iterable[tuple[str, int, float]]) -> NoiseHunt:
    """Put the counts of a noise hunt together, each condition compared with the one it is to be held against.

    Parameters
    ----------
    counts : iterable of (str, int, float)
        Condition, false trips, time watched [h]; counts of one condition add up. A condition that is not in the
        order is one change to the machine as it runs.

    Returns
    -------
    NoiseHunt

    Raises
    ------
    InputError
        No time watched, or trips below 0.

    Examples
    --------
    >>> hunt([("as it runs", 9, 1.0), ("all quiet", 0, 1.0), ("spindle on", 8, 1.0)]).sentence
    '9.0 false trips an hour (4.1 to 17) as it runs; fewer with all quiet, more with spindle on'
    """
    watched: dict[str, Rate] = {}
    for name, trips, hours in counts:
        before = watched.get(name)
        rate_here = rate(trips=trips, hours=hours)
        watched[name] = rate(trips=trips + before.trips, hours=hours + before.hours) if before else rate_here
    known = {condition.name for condition in HUNT}
    own = (Condition(name, _CHANGED, _HELPED, AS_IT_RUNS) for name in watched if name not in known)
    lines = []
    for condition in (*HUNT, *own):
        watched_rate, against = watched.get(condition.name), watched.get(condition.against)
        lines.append(
            HuntLine(condition, watched_rate, change(against, watched_rate) if against and watched_rate else None)
        )
    return NoiseHunt(tuple(lines))


def _two_digits(per_hour: float) -> str:
    return f"{per_hour:#.2g}".rstrip(".") if per_hour < 100 else f"{per_hour:.0f}"
