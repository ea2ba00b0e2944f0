"""Asks: what a trial has to hold before its `holds` may stand."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from holdzero.compute.tails.floors import FEWEST_HOMINGS, FEWEST_POWER_UPS, enough
from holdzero.inputs.reading.values import Homings

REPEATS = 10
SETTLED = timedelta(hours=12)  # a night; 0.07 mm overnight has been seen beside a span of 0.002 mm


@dataclass(frozen=True, slots=True, kw_only=True)
class Ask:
    """One thing the plan asks for.

    Parameters
    ----------
    code : str
        Short name that does not change.
    text : str
        What to do, for the person at the machine.
    done : bool or None
        Whether the readings show that it was done; None where they cannot show it.
    """

    code: str
    text: str
    done: bool | None

    @property
    def standing(self) -> str:
        """How it stands, in words."""
        return {True: "done", False: "still to do", None: "cannot say: no times"}[self.done]

    def as_json(self) -> dict[str, str | bool | None]:
        """Return the ask as JSON-ready values."""
        return {"code": self.code, "text": self.text, "done": self.done}


def asked_before_holds(groups: Sequence[Homings]) -> tuple[Ask, ...]:
    """Say what the plan asks for before `holds` may stand, and what of it the readings show.

    Parameters
    ----------
    groups : sequence of Homings
        The readings of a trial; empty before it. What is true of every candidate counts as done.

    Returns
    -------
    tuple of Ask

    Notes
    -----
    Common practice, no source, but for the power-ups and homings of each series: below these the verdict itself is
    at most too close to call (docs/methods.md, section 13). A reading later
    than a night after the first one counts as settled: the sensor was mounted before the first.
    """
    tried = [[group for group in groups if group.sensor == name] for name in {group.sensor for group in groups}]
    repeats = sum(int(group.repeat.sum()) for group in groups)
    sets = min((min(_power_ups(group) for group in homings) for homings in tried), default=0)
    fewest = min((min(int(group.counted.sum()) for group in homings) for homings in tried), default=0)
    ways = [_time_between(homings) for homings in tried if any(group.counted.any() for group in homings)]
    nights = [way for way in ways if way is not None]
    known = len(nights) == len(ways)
    return (
        Ask(
            code="repeat",
            text=f"{REPEATS} readings without homing in between: what indicator and stand add by themselves.",
            done=repeats >= REPEATS,
        ),
        Ask(
            code="power-ups",
            text=f"At least {FEWEST_POWER_UPS} power-ups: what switching off and on adds. And {FEWEST_HOMINGS} "
            "homings of each side.",
            done=enough(power_ups=sets, homings=fewest),
        ),
        Ask(
            code="another-day",
            text="A set on another day: what warmth, weather and a night add.",
            done=bool(nights) and min(days for days, _ in nights) > 0 if known else None,
        ),
        Ask(
            code="settled",
            text="A set after the sensor has settled, a night or more after it was mounted.",
            done=bool(nights) and min(apart for _, apart in nights) >= SETTLED if known else None,
        ),
    )


def _power_ups(group: Homings) -> int:
    return len(set(group.set_label[group.counted].tolist()))


def _time_between(groups: Sequence[Homings]) -> tuple[int, timedelta] | None:
    """Days and time from the first homing to the last; None where no time was written down."""
    written = (text for group in groups for text in group.time[group.counted].tolist())
    times = sorted(time for time in map(_time, written) if time is not None)
    return ((times[-1].date() - times[0].date()).days, times[-1] - times[0]) if times else None


def _time(text: str) -> datetime | None:
    """A reading's time as it stands on the workshop's clock; None where it is none."""
    try:
        return datetime.fromisoformat(text).replace(tzinfo=None) if text else None
    except ValueError:
        return None
