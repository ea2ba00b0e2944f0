"""Standing: does it hold zero, does it stop in time, part by part, and what is next."""

from collections.abc import Iterable, Iterator

from holdzero.case.standing.values import Standing, StandingPart, Standings
from holdzero.quantity import System
from holdzero.tell.blocks import Answer, Points, Section, Table
from holdzero.tell.words import marked, sentence

ANSWERS = ("not good", "not known", "good")


def tell_standing(standings: Standings, *, system: System) -> Answer:
    """Tell how a machine stands: both answers, the next thing to do, a row a part of each axis.

    Parameters
    ----------
    standings : Standings
    system : {"metric", "inch", "both"}
        Of the temperatures.
    """
    machine = standings.machine
    rows = tuple(
        (str(axis.axis), question, marked(answer), *_by_answer(parts))
        for axis in standings.axes
        for question, answer, parts in (
            ("holds zero", axis.answer, axis.of_zero),
            ("stops in time", axis.stops, axis.of_stopping),
        )
    )
    head = ("Axis", "Question", "Answer", *map(str.capitalize, ANSWERS))
    return Answer(
        headline=machine.headline,
        lead=(standings.since_record,) if standings.since_record else (),
        to_do=Points((sentence(machine.next),) if machine.next else (), title="Next"),
        table=Table("What that rests on", head, rows, align="lllwww"),
        more=tuple(axis_section(axis, system=system) for axis in standings.axes),
    )


def _by_answer(parts: Iterable[StandingPart]) -> Iterator[str]:
    """Name the parts that answer so, one list an answer."""
    by_answer: dict[str, list[str]] = {answer: [] for answer in ANSWERS}
    for part in parts:
        by_answer[part.answer].append(part.part)
    return (", ".join(names) or "–" for names in by_answer.values())


def axis_section(standing: Standing, *, system: System) -> Section:
    """Return both questions of one axis, part by part, and for which temperatures they are answered."""
    rows = tuple((part.part.capitalize(), marked(part.answer), sentence(part.sentence)) for part in standing.parts)
    zero = (
        f"Does it hold zero? {standing.answer.capitalize()}. Does it stop in time? {standing.stops.capitalize()}."
    )
    table = Table("What that rests on", ("Part", "Answer", "Why"), rows, align="llw")
    return Section(f"Axis {standing.axis}", (zero, table, standing.valid_for(system)))
