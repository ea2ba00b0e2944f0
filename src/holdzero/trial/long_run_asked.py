"""Long run asked: what has to be answered before hundreds of homings in one sitting, which is never left alone."""

from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING

from holdzero.errors import InputError
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import show_share

if TYPE_CHECKING:  # the questions alone are there at once
    from holdzero.case.on_axis import OnAxis

BEFORE = (
    "A long run is never left alone: spindle and coolant off and locked out, no tool, axis clear for its whole "
    "way, the controller's own time-out and the limit armed, at or below the speed that the stop test was passed "
    "at, someone in sight and within reach of the stop."
)
COUNTS_ONLY = "It counts trips; it cannot stop the machine: the controller's time-out, the limit and you do."
PER = 100  # trips, where it is not said how many there will be


@dataclass(frozen=True, slots=True)
class RunQuestion:
    """One thing to be answered with yes; `code` names it in a command."""

    code: str
    text: str


STOPS_TRIED = RunQuestion(
    "stops", "Were stop, limit and broken wire tested on this machine, and passed, since anything was changed?"
)
QUESTIONS = (  # common practice, no source
    RunQuestion("off", "Are spindle and coolant off and locked out?"),
    RunQuestion("tool", "Is there no tool in the spindle?"),
    RunQuestion("clear", "Is the axis clear for its whole way?"),
    RunQuestion("speed", "Does it run at or below the speed that the stop test was passed at?"),
    RunQuestion("armed", "Are the controller's own time-out and the limit armed?"),
    RunQuestion("watched", "Does someone stay in sight and within reach of the stop until it ends?"),
)
EVERY = (STOPS_TRIED, *QUESTIONS)


def still_to_answer(answered: Collection[str], *, stops_known: bool) -> tuple[RunQuestion, ...]:
    """Return what nobody answered with yes yet.

    Parameters
    ----------
    answered : collection of str
        Codes of the questions that were.
    stops_known : bool
        The tests kept in a book say that the axis stops: it need not be asked.

    Examples
    --------
    >>> [question.code for question in still_to_answer(["off", "tool", "clear", "speed"], stops_known=True)]
    ['armed', 'watched']
    """
    asked = QUESTIONS if stops_known else EVERY
    return tuple(question for question in asked if question.code not in answered)


def refuse_unless_it_stops(on_axis: "OnAxis") -> None:
    """Refuse a long run on an axis of which tests made on this machine do not say that it stops.

    Raises
    ------
    InputError
        With the first part of the standing that is not good, and what to do about it.
    """
    standing = next(axis for axis in on_axis.case.standings.axes if axis.axis == on_axis.name)
    if standing.stops == "good":
        return
    of_stopping = ("travel", "wiring", "install")
    open_parts = [part for part in standing.parts if part.part in of_stopping and part.answer != "good"]
    why = f": {open_parts[0].sentence}" if open_parts else ""
    do = next((part.next for part in open_parts if part.next), "do the tests of the install page")
    raise InputError(
        where=f"a long run on {on_axis.name}",
        found=f"stops: {standing.stops}{why.rstrip('.')}",
        need="stop, limit and broken wire tested on this machine since the last change",
        do=do[0].lower() + do[1:].rstrip("."),
    )


def life_used(sensor: Sensor | None, trips: int | None) -> str:
    """Say what a run takes of the life of its switch.

    Parameters
    ----------
    sensor : Sensor or None
        None: not known.
    trips : int or None
        How many there will be; None: not said.

    Examples
    --------
    >>> from holdzero.inputs.sensor import Sensor
    >>> from holdzero.quantity import plain
    >>> plain(life_used(Sensor(name="H", life_cycles=5e6), 400))
    'It trips H 400 times of the 5 000 000 its sheet gives: 1 in 12 000 of its life.'
    """
    if sensor is None or sensor.life_cycles is None:
        return "It uses up the life of a contact; how much, its sheet does not say."
    share = show_share((trips or PER) / sensor.life_cycles)
    many = f"It trips {sensor.name} {trips} times" if trips else f"Each {PER} trips of {sensor.name} are"
    gives = f"{sensor.life_cycles:,.0f}".replace(",", "\u202f")
    return f"{many} of the {gives} its sheet gives: {share} of its life."
