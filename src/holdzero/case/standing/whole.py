"""Whole: the standing of each axis, and of the machine as the worst of them."""

from datetime import date
from typing import TYPE_CHECKING

from holdzero.case.on_axis import OnAxis
from holdzero.case.standing.answers import ANSWERS, STOPS, answer_of_zero, worst
from holdzero.case.standing.in_use import since_record, watch_stands
from holdzero.case.standing.stops import stopping_parts, stops_of
from holdzero.case.standing.values import NOT_A_SAFETY_FUNCTION, Standing, StandingPart, Standings, Stops, Zero
from holdzero.case.standing.zero import judged, zero_parts

if TYPE_CHECKING:
    from holdzero.case.case import Case

SAYS: dict[Zero, str] = {
    "holds": "{sensor} holds zero on {axis}",
    "holds so far": "{sensor} holds zero on {axis} so far",
    "does not hold": "{axis} does not hold zero",
    "cure first": "{axis}: cure first",
    "too close to call": "{axis}: too close to call whether it holds zero",
    "cannot say": "Cannot say yet whether {axis} holds zero",
}
STOPS_SAYS: dict[Stops, str] = {
    "good": "{axis} stops in time",
    "not good": "{axis} does not stop in time",
    "not known": "Whether {axis} stops in time is not known",
}


def standing_of(on_axis: OnAxis, *, today: date | None) -> Standing:
    """Return how one axis stands.

    Parameters
    ----------
    on_axis : OnAxis
        The axis with its results.
    today : date or None
        For tests whose time has run out; None: none has.
    """
    candidate = judged(on_axis)
    zero = list(zero_parts(on_axis))
    in_use = watch_stands(on_axis, today=today)
    if in_use is not None:
        zero.append(in_use.part)
    stopping = list(stopping_parts(on_axis, today=today))
    asks_open = bool(on_axis.reservation) or any(not ask.done for ask in on_axis.case.asks)
    verdict = candidate.verdict if candidate is not None and candidate.parts else None
    answer = answer_of_zero(
        verdict,
        zero,
        cure=bool(candidate and candidate.cure),
        asks_open=asks_open,
        watch_outside=in_use is not None and in_use.outside,
        watch_gap=in_use is not None and in_use.gap,
    )
    stops = stops_of(stopping)
    parts = (*zero, *stopping)
    first = _next(on_axis, answer, zero, stopping)
    name = candidate.sensor.name if candidate is not None else ""
    about_zero = _about_zero(on_axis.name, name, answer, zero)
    about_stops = _about_stops(on_axis.name, stops, stopping)
    return Standing(
        axis=on_axis.name,
        answer=answer,
        stops=stops,
        headline=_in_one(about_zero, "", about_stops),
        about_zero=about_zero,
        about_stops=about_stops,
        parts=parts,
        valid_for_degc=None if candidate is None else candidate.valid_for_degc,
        next=first.next if first else "",
        station=first.station if first else "",
        why=first.sentence if first and first.sentence != first.next else "",
        about=on_axis.name,
    )


def standings(case: "Case", *, today: date | None) -> Standings:
    """Return how the machine and each of its axes stand."""
    axes = tuple(standing_of(on_axis, today=today) for on_axis in case.axes)
    tried = [axis for axis, on_axis in zip(axes, case.axes, strict=True) if on_axis.tried]
    untried = [axis for axis, on_axis in zip(axes, case.axes, strict=True) if not on_axis.tried]
    look_at = [axis for axis in untried if _watch_is_bad(axis)]  # never judged, but its watch has found something
    answer = worst([axis.answer for axis in tried or axes], ANSWERS)
    if untried and answer == "holds":
        answer = "holds so far"
    stops = worst([axis.stops for axis in axes], STOPS)
    lead = next(axis for axis in tried or axes if axis.answer == worst([a.answer for a in tried or axes], ANSWERS))
    to_do = next((axis for axis in (lead, *axes) if axis.next), None)
    watch_first = next(
        ((axis, part) for axis in look_at for part in axis.parts if part.part == "watch" and part.next), None
    )
    left_out = f" {', '.join(str(axis.axis) for axis in untried)} not tried." if tried and untried else ""
    if look_at:
        left_out += f" Look at the watch of {', '.join(str(axis.axis) for axis in look_at)}."
    worst_stop = next(axis for axis in axes if axis.stops == stops)
    degc = [axis.valid_for_degc for axis in tried]
    known = [pair for pair in degc if pair is not None]
    whole = known and len(known) == len(degc)
    return Standings(
        machine=Standing(
            axis=None,
            answer=answer,
            stops=stops,
            headline=_in_one(lead.about_zero, left_out, worst_stop.about_stops),
            parts=tuple(_worst_parts(axes)),
            valid_for_degc=(max(low for low, _ in known), min(high for _, high in known)) if whole else None,
            **_first_to_do(watch_first, to_do),
        ),
        axes=axes,
        since_record=since_record(case, today=today),
    )


def _first_to_do(watch_first: tuple[Standing, StandingPart] | None, to_do: Standing | None) -> dict[str, str]:
    """What comes first on the machine: a watch that has found something, else the next thing of an axis."""
    if watch_first is not None:
        axis, part = watch_first
        return {"next": part.next, "station": part.station, "why": part.sentence, "about": str(axis.axis)}
    if to_do is None:
        return {"next": ""}
    return {"next": to_do.next, "station": to_do.station, "why": to_do.why, "about": to_do.about}


def _watch_is_bad(axis: Standing) -> bool:
    """Whether the watch of an axis that was never tried has something to say all the same."""
    return any(part.part == "watch" and part.answer == "not good" for part in axis.parts)


def _worst_parts(axes: tuple[Standing, ...]) -> list[StandingPart]:
    """The worst of each part over the axes, in the order of the first axis that has it."""
    by_name: dict[str, StandingPart] = {}
    for axis in axes:
        for part in axis.parts:
            kept = by_name.get(part.part)
            if kept is None or STOPS.index(part.answer) < STOPS.index(kept.answer):
                by_name[part.part] = part
    return list(by_name.values())


def _next(
    on_axis: OnAxis, answer: Zero, zero: list[StandingPart], stopping: list[StandingPart]
) -> StandingPart | None:
    """The first of what fails, of what is asked, of what is not known."""
    fails = [part for part in (*zero, *stopping) if part.answer == "not good"]
    unknown_zero = [part for part in zero if part.answer == "not known"]
    asks = [ask for ask in on_axis.case.asks if not ask.done] if answer == "holds so far" else []
    asked = [
        StandingPart(part="trial", answer="not known", sentence=ask.text, next=ask.text, station="trial")
        for ask in asks
    ]
    unknown = [part for part in stopping if part.answer == "not known"]
    if on_axis.reservation:
        alone = on_axis.reservation
        asked.append(StandingPart(part="trial", answer="not known", sentence=alone, next=alone, station="trials"))
    trial_first = [part for part in unknown_zero if part.part == "trial"]
    rest = [part for part in unknown_zero if part.part != "trial"]
    return next(iter([*fails, *trial_first, *asked, *rest, *unknown]), None)


def _in_one(about_zero: str, left_out: str, about_stops: str) -> str:
    return f"{about_zero}{left_out} {about_stops} {NOT_A_SAFETY_FUNCTION}"


def _about_zero(axis: str, sensor: str, answer: Zero, zero: list[StandingPart]) -> str:
    text = SAYS[answer].format(axis=axis, sensor=sensor)
    why = next((part for part in zero if part.answer == "not good"), None)
    if answer == "cure first":
        why = why or next((part for part in zero if part.part == "trial"), None)
    if answer in ("does not hold", "cure first") and why is not None:
        text += f": {_inside(why.sentence, sensor)}"
    return f"{text.rstrip('.')}."


def _about_stops(axis: str, stops: Stops, stopping: list[StandingPart]) -> str:
    stops_sentence = STOPS_SAYS[stops].format(axis=axis)
    reason = next((part for part in stopping if part.answer == stops and stops != "good"), None)
    if reason is not None:
        stops_sentence += f": {_inside(reason.sentence, '')}"
    return f"{stops_sentence.rstrip('.')}."


def _inside(sentence: str, sensor: str) -> str:
    """A sentence as the second half of another."""
    bare = sentence.removeprefix(f"{sensor}: cure first. ") if sensor else sentence
    first = bare.split(" ", 1)[0]
    keeps = len(first) == 1 or first.isupper() or first.startswith("“")
    return bare if keeps else bare[:1].lower() + bare[1:]
