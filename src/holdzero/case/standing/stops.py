"""Stops: the parts that say whether an axis stops in time, on paper and tried."""

from collections.abc import Iterator
from datetime import date, timedelta

from holdzero.case.basis import day_of
from holdzero.case.lacking import needed_to_stop
from holdzero.case.on_axis import OnAxis
from holdzero.case.standing.values import StandingPart, Stops
from holdzero.compute.install import ResultEntry, Test
from holdzero.compute.square import Event
from holdzero.compute.travel import Check
from holdzero.quantity import show

NAMES = {  # of checks that are named in a headline
    "home_overtravel": "the home switch",
    "limit_overtravel": "the limit switch",
    "sensor_overtravel": "the sensor's own overtravel",
    "creep_overtravel": "the creep",
}


def stopping_parts(on_axis: OnAxis, *, today: date | None) -> Iterator[StandingPart]:
    """Yield travel, wiring and install."""
    yield travel_part(on_axis)
    yield wiring_part(on_axis)
    yield install_part(on_axis, today=today)


def stops_of(parts: list[StandingPart]) -> Stops:
    """Return whether it stops in time: not good when one part is, good when all are.

    Examples
    --------
    >>> room = StandingPart(part="travel", answer="good", sentence="")
    >>> stops_of([room, StandingPart(part="install", answer="not known", sentence="")])
    'not known'
    """
    answers = {part.answer for part in parts}
    return "not good" if "not good" in answers else "good" if answers == {"good"} else "not known"


def travel_part(on_axis: OnAxis) -> StandingPart:
    """Whether there is room to stop, by the checks along the rail."""
    travel = on_axis.travel
    if travel is None:
        missing = on_axis.travel_missing
        contradiction = missing.found if missing else "nothing"
        return StandingPart(
            part="travel",
            answer="not good",
            sentence=f"Its lengths contradict each other: {contradiction}.",
            next=f"Put the places of {on_axis.name} right.",
            station="travel",
        )
    fails = [check for check in travel.checks if check.ok is False]
    if fails:
        first = fails[0]
        more = f", and {len(fails) - 1} more checks fail" if len(fails) > 1 else ""
        return StandingPart(
            part="travel",
            answer="not good",
            sentence=f"{short_of(first, on_axis)}{more}.",
            next=first.do or first.why,
            station="travel",
        )
    needed = ["home_overtravel"] + ["limit_overtravel"] * (on_axis.axis.places.limit_switch != "none")
    unmade = [check for check in travel.checks if check.check in needed and check.ok is None]
    keys = needed_to_stop(on_axis).missing
    if unmade:
        names = " and ".join(dict.fromkeys(NAMES[check.check] for check in unmade))
        return StandingPart(
            part="travel",
            answer="not known",
            sentence=f"Whether it stops after {names} was not reckoned.",
            next=f"To know whether {on_axis.name} stops give {_listed(keys)}." if keys else unmade[0].why,
            station="travel",
        )
    if keys:
        return StandingPart(
            part="travel",
            answer="not known",
            sentence=f"Whether {on_axis.name} falls when the power goes was not said.",
            next=f"Say which way weight pulls {on_axis.name}, or that it is level.",
            station="machine",
        )
    made = sum(check.ok is not None for check in travel.checks)
    return StandingPart(
        part="travel", answer="good", sentence=f"There is room to stop: all {made} checks made fit."
    )


def short_of(check: Check, on_axis: OnAxis) -> str:
    """Word a failing check: what is short, by how much.

    With a margin of -36 mm: "the limit switch is 36 mm short".
    """
    name = NAMES.get(check.check, check.check.replace("_", " "))
    if check.margin_mm is None or check.check not in NAMES:
        return f"{name} fails"
    short = show(abs(check.margin_mm), "length", system=on_axis.case.system, digits=2)
    return f"{name} is {short} short"


def wiring_part(on_axis: OnAxis) -> StandingPart:
    """Whether the circuits of the axis work, and a broken wire stops the machine."""
    circuits, put_in = on_axis.fitted, on_axis.newly_fitted
    with_it = f" With {put_in}, not the sensor it was described with." if put_in else ""
    if not circuits:
        return StandingPart(
            part="wiring",
            answer="not known",
            sentence="How its switches are wired was not described.",
            next=f"Describe the circuit of {on_axis.name}'s home switch.",
            station="wiring",
        )
    bad = next((circuit for circuit in circuits if not circuit.passes), None)
    if bad is not None:
        unsaid = bad.circuit is None
        return StandingPart(
            part="wiring",
            answer="not known" if unsaid else "not good",
            sentence=f"{bad.name or 'Its circuit'}: {bad.sentence}{with_it}",
            next=next(iter((*bad.mending, *bad.advice)), bad.sentence),
            station="wiring",
        )
    sides = on_axis.sides_wired
    if on_axis.axis.motors == 2 and len(circuits) < 2 and not {"L", "R"} <= sides:
        return StandingPart(
            part="wiring",
            answer="not known",
            sentence="Only one circuit of two sides was described.",
            next=f"Describe the circuit of the other side of {on_axis.name}.",
            station="wiring",
        )
    return StandingPart(
        part="wiring",
        answer="good",
        sentence=f"Each circuit works, and a broken wire stops the machine.{with_it}",
    )


def install_part(on_axis: OnAxis, *, today: date | None) -> StandingPart:
    """Whether stop, limit and broken wire were tried here since the last change of what they rest on."""
    case = on_axis.case
    if on_axis.travel is None:
        return StandingPart(part="install", answer="not known", sentence="Not tried.", next="", station="install")
    tests = [test for test in case.sheet.tests if test.proves and test.axis in ("", on_axis.name)]
    failed = [test for test in tests if case.checklist.outcome(test) == "failed"]
    if failed:
        return StandingPart(
            part="install",
            answer="not good",
            sentence=f"“{failed[0].title}” failed.",
            next=f"Put right what failed, then do “{failed[0].title}” again.",
            station="install",
        )
    for test in tests:
        why = not_proved(on_axis, test, today=today)
        if why:
            return StandingPart(
                part="install",
                answer="not known",
                sentence=f"Good on paper, not tried: “{test.title}” {why}.",
                next=f"Do “{test.title}”.",
                station="install",
            )
    return StandingPart(
        part="install", answer="good", sentence="Stop, limit and broken wire were tried on this machine."
    )


def not_proved(on_axis: OnAxis, test: Test, *, today: date | None) -> str:
    """Say why a test does not count now; empty where it does."""
    case = on_axis.case
    entries = case.checklist.of(test)
    if not entries or entries[0].outcome != "done":
        if entries and entries[0].outcome == "not applicable":
            return ""
        return "was not done"
    entry = entries[0]
    if not entry.rests_on:
        return "was done, but on what was not kept"
    if entry.rests_on != case.tests_rest_on(test.axis):
        return f"was done on {entry.day}, before something it rests on was changed"
    if event := _event_since(on_axis, entry):
        return f"was done on {entry.day}, before the last event ({event})"
    after_s = case.machine.test_again_after_s
    if after_s and today is not None and (day := _day(entry.day)) and day + timedelta(seconds=after_s) < today:
        return f"was done on {entry.day}, longer ago than it may be"
    return ""


def _event_since(on_axis: OnAxis, entry: ResultEntry) -> str:
    """Name an event logged on the day of a test or later, or without a day; empty where there is none."""
    for logged in on_axis.case.basis.squaring.history:
        event = logged.what if isinstance(logged, Event) else logged.event
        if event and (not _day(logged.day) or logged.day >= entry.day):
            return event
    for noted in on_axis.case.basis.log:
        if noted.event and noted.axis in ("", on_axis.name) and f"{day_of(noted.moment_s)}" >= entry.day:
            return noted.event
    return ""


def _day(text: str) -> date | None:
    try:
        return date.fromisoformat(text)
    except ValueError:
        return None


def _listed(keys: tuple[str, ...]) -> str:
    words = [key.replace("_", " ") for key in keys]
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
