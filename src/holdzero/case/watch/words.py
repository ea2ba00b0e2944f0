"""Words: what an alarm means, and what is likely behind it."""

from holdzero.case.watch.log_watched import LogWatched, SideWatched
from holdzero.compute.watch import WatchAlarm
from holdzero.quantity import System, show_share, show_signed

OF_SIDE = {"difference": "right minus left", "mean": "mean of both sides", "": "home", "L": "left", "R": "right"}
_LIKELY = {
    "single": (
        "a switch, flag or bracket was touched or slipped, dirt on the flag, lost steps",
        "home again three times, a hand on the stop; then, switched off, look at screws and flag",
    ),
    "ewma": (
        "a bracket working loose, wear of roller or lever, a belt or the room changing",
        "look at the bracket's screws and the roller, compare the room's temperature",
    ),
    "miss": (
        "interference on the cable, a chip at the switch, lost steps",
        "home again three times, a hand on the stop; if it comes back, look at shield, plug and supply",
    ),
}
STATES = {
    "learning": "still learning: fewer than 8 power-ups since the start or the last event",
    "in limits": "in limits",
    "alarm": "alarm",
    "not compensated": "not compensated: the temperature lies outside what the baseline knows, or was not logged",
    "not known": "not known",
}
_NOT_KNOWN = {
    "gap": "not known: no check homing for five times the usual interval",
    "alike": "not known: all readings of the baseline are alike; say the step of the display with --resolution",
}


def where(row: SideWatched) -> str:
    """Machine, axis and side of a row."""
    logged = row.logged
    return " ".join(filter(None, (logged.machine, logged.axis, OF_SIDE[logged.side])))


def state(row: SideWatched) -> str:
    """The state of a row in words."""
    return _NOT_KNOWN.get(row.watched.why) or STATES[row.watched.state]


def sentence(row: SideWatched, alarm: WatchAlarm, *, system: System = "metric") -> str:
    """What changed, since when, what is likely behind it, and what to look at."""
    logged = row.logged
    off = show_signed(alarm.off_mm, "length", system=system, digits=2)
    sds = f"{abs(alarm.off_sds):.1f} standard deviations of the baseline"
    since = logged.times[alarm.since_row][:16].replace("T", " ")
    change = {
        "single": f"{where(row)} was off by {off} ({sds}) on {since}",
        "ewma": f"the running mean of {where(row)} is off by {off} ({sds}), since about {since}",
        "miss": f"{where(row)} landed elsewhere on {since}, by {off}",
    }[alarm.rule]
    likely, look = _LIKELY[alarm.rule]
    closed = "" if alarm.open else " Closed by a note or an event."
    return f"{change[0].upper()}{change[1:]}. Likely: {likely}. Do: {look}.{closed}"


def to_do(row: SideWatched, *, system: System = "metric") -> tuple[str, ...]:
    """What a row asks for: its first open alarm and how many came since; what is asked, not kept or when lost."""
    raised = row.watched.alarms.first_open()
    asked = []
    if raised is not None:
        more = row.watched.alarms.open_in_all - 1
        since = f" {more} more alarm{'' if more == 1 else 's'} since." if more else ""
        asked.append(sentence(row, raised, system=system) + since)
    if row.above_risk or row.surely_outside:
        name = where(row)
        asked.append(f"{name[0].upper()}{name[1:]}: {expected_outside(row)}.")
    trend = row.watched.trend
    if trend is not None and row.lost_on is not None and row.lost_on[0] is not None:
        year_mm = 365.25 * trend.line.slope
        moves = show_signed(year_mm, "length", system=system, digits=2)
        latest = (
            f"between {row.lost_on[0]} and {row.lost_on[1]}" if row.lost_on[1] else f"from {row.lost_on[0]} on"
        )
        name = where(row)
        asked.append(
            f"{name[0].upper()}{name[1:]} moves by {moves} a year: what is asked is lost {latest} (95 %)."
        )
    return tuple(asked)


def expected_outside(row: SideWatched) -> str:
    """How many homings are expected outside now, whether that is sure, and how many are allowed."""
    share = "–" if row.share_outside is None else show_share(row.share_outside)
    doubt = "" if row.surely_outside else ", though that is not sure"
    limit = f"; {show_share(row.risk)} are allowed" if row.risk is not None else ""
    return f"{share} are expected outside now{doubt}{limit}"


def look_at(rule: str) -> str:
    """What to look at after an alarm of a rule, and that it wants a note."""
    look = _LIKELY[rule][1]
    return f"{look[0].upper()}{look[1:]}; then note at Watch what was done."


def headline(watched: LogWatched) -> str:
    """The answer in one line."""
    rows = [row for row in watched.rows if row.logged.charted]
    look = [row for row in rows if row.needs_look]
    if look:
        return f"Look at {where(look[0])}: {_why(look[0])}" + (f" ({len(look) - 1} more)." if look[1:] else ".")
    unsure = [row for row in rows if row.watched.state != "in limits"]
    if unsure:
        return f"No alarm, but {where(unsure[0])} is {state(unsure[0])}."
    return "In limits."


def _why(row: SideWatched) -> str:
    if row.watched.state == "alarm":
        count = row.watched.alarms.open_in_all
        return "1 open alarm" if count == 1 else f"{count} open alarms"
    if row.surely_outside:
        return expected_outside(row)
    low = row.lost_on[0] if row.lost_on else None
    return f"what is asked may be lost from {low} on"
