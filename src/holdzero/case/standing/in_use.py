"""In use: what the watch of an axis says of the question of zero."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from holdzero.case.basis import day_of
from holdzero.case.on_axis import OnAxis
from holdzero.case.standing.values import StandingPart
from holdzero.quantity import show_signed

if TYPE_CHECKING:
    from holdzero.case.case import Case
    from holdzero.case.watch.log_watched import LogWatched, SideWatched


@dataclass(frozen=True, slots=True)
class WatchStands:
    """The part, and what the answer asks of it.

    Parameters
    ----------
    part : StandingPart
    outside : bool
        More land outside than are allowed, with a chance of 0.95 or more.
    gap : bool
        It is not known because no check homing came for too long.
    """

    part: StandingPart
    outside: bool = False
    gap: bool = False


def watch_stands(on_axis: OnAxis, *, today: date | None) -> WatchStands | None:
    """How the watch of an axis stands; None before its first check homing.

    Parameters
    ----------
    on_axis : OnAxis
    today : date or None
        Day it is asked for; None: that of the last entry.
    """
    watched = on_axis.case.watched_on(today)
    rows = rows_of(on_axis, watched)
    if watched is None or not rows:
        return None
    from holdzero.case.watch.words import OF_SIDE, state  # a machine without a log loads no watch

    outside = next((row for row in rows if row.surely_outside), None)
    bad = outside or next((row for row in rows if row.needs_look or row.above_risk), None)
    unsure = next((row for row in rows if row.watched.state != "in limits"), None)
    if bad is not None:
        sentence, to_do = _not_good(bad, on_axis, sure=outside is not None)
        part = StandingPart(part="watch", answer="not good", sentence=sentence, next=to_do, station="watch")
        return WatchStands(part, outside=outside is not None)
    n = max(row.watched.n for row in rows)
    if unsure is not None:
        part = StandingPart(
            part="watch",
            answer="not known",
            sentence=f"{OF_SIDE[unsure.logged.side].capitalize()}: {state(unsure)}.",
            next=_to_know(unsure),
            station="watch",
        )
        return WatchStands(part, gap=any(row.watched.why == "gap" for row in rows))
    return WatchStands(
        StandingPart(part="watch", answer="good", sentence=f"In limits over {n} check homings.", station="watch")
    )


def rows_of(on_axis: OnAxis, watched: "LogWatched | None") -> "tuple[SideWatched, ...]":
    """The charted rows of an axis, worst first; those that name none are of the axis that is meant."""
    names = (on_axis.name, "") if on_axis.case.is_meant(on_axis) else (on_axis.name,)
    return (
        ()
        if watched is None
        else tuple(row for row in watched.rows if row.logged.charted and row.logged.axis in names)
    )


def since_record(case: "Case", *, today: date | None) -> str:
    """What the log has seen since the newest record of the machine was kept; empty without one.

    A signed record keeps its own answer: this is what came after it.
    """
    made = case.basis.recorded_s
    if made is None:
        return ""
    since = [entry for entry in case.basis.log if entry.moment_s > made]
    if today is not None:
        since = [entry for entry in since if day_of(entry.moment_s) <= today]
    homings = len({entry.moment_s for entry in since if entry.deviation_mm is not None})
    events = len({(entry.moment_s, entry.event) for entry in since if entry.event})
    watched = case.watched_on(today)
    alarms = sum(
        float(row.logged.series.moment_s[alarm.row]) > made
        for row in (watched.rows if watched else ())
        for alarm in row.watched.alarms
    )
    counts = ((homings, "check homing"), (events, "event"), (alarms, "alarm"))
    listed = ", ".join(f"{count or 'no'} {noun}{'' if count == 1 else 's'}" for count, noun in counts)
    return f"Since the record of {day_of(made)}: {listed}."


def _not_good(row: "SideWatched", on_axis: OnAxis, *, sure: bool) -> tuple[str, str]:
    from holdzero.case.watch.words import OF_SIDE, expected_outside, look_at

    raised = [alarm for alarm in row.watched.alarms if alarm.open]
    if sure or (row.above_risk and not raised):
        return f"{expected_outside(row)}.", look_at(
            raised[0].rule
        ) if raised else "Look at switch, flag and bracket, then home again."
    if raised:
        first = raised[0]
        off = show_signed(first.off_mm, "length", system=on_axis.case.system, digits=2)
        count = "an alarm is" if len(raised) == 1 else f"{len(raised)} alarms are"
        day = row.logged.times[first.since_row][:10]
        return f"{count.capitalize()} open: {OF_SIDE[row.logged.side]} off by {off} since {day}.", look_at(
            first.rule
        )
    low = row.lost_on[0] if row.lost_on else None
    return f"What is asked may be lost from {low} on.", "Put right what moves before then."


def _to_know(row: "SideWatched") -> str:
    if row.watched.why == "alike":
        return "Give the step of the display at Watch."
    if row.watched.state == "learning":
        return "Home once after each power-up and log it; 8 make a baseline."
    if row.watched.state == "not compensated":
        return "Log the temperature with each check homing."
    return "Make a check homing now and log it."
