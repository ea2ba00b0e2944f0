"""Decide: judge every candidate, then take the cheapest that holds."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from holdzero.caution import Caution
from holdzero.compute.choose.allowed import allowed_spread, with_plain_ones_tried
from holdzero.compute.choose.compared import compared, dearer
from holdzero.compute.choose.facts import as_wired, life_years, ruled_out
from holdzero.compute.choose.more import MINUTES
from holdzero.compute.choose.parts import Sides
from holdzero.compute.choose.picked import left_by_index, picked_index
from holdzero.compute.choose.spans import beside_readings, judge_spans
from holdzero.compute.choose.tried_at import beyond_tried
from holdzero.compute.choose.values import HOLDS, AllowedSpread, Candidate, Choice, Verdict
from holdzero.compute.choose.verdict import judge
from holdzero.compute.choose.what_if import asked_otherwise, changes
from holdzero.compute.choose.words import gross_misses
from holdzero.compute.findings.spans import SpanFindings
from holdzero.compute.findings.trial import trial_of
from holdzero.compute.findings.values import Study
from holdzero.errors import InputError
from holdzero.inputs.machine.values import Axis, Machine, Requirement
from holdzero.inputs.sensor.values import Sensor
from holdzero.memory import MIB, Remembered, Same
from holdzero.quantity import System, show

MOST_NAMED = 12  # candidates that a sentence names
MOST_TRIED = 100  # candidates with readings: each is compared with each
Judged = tuple[Candidate, ...]  # by each question asked
_judged = Remembered(32 * MIB)  # only candidates with new findings are judged again


def choose(
    machine: Machine,
    sensors: tuple[Sensor, ...],
    study: Study,
    *,
    axis: str | None = None,
    confidence: float = HOLDS,
    electrical: Mapping[str, tuple[str, str]] | None = None,
    what_if: bool = False,
    system: System = "metric",
    minutes: tuple[float, float] = MINUTES,
) -> Choice:
    """Judge the candidates for one axis and choose the cheapest that holds.

    Parameters
    ----------
    machine : Machine
        The axis and what is asked of it.
    sensors : tuple of Sensor
        The candidates.
    study : Study
        Findings of the homings that were tried with them.
    axis : str, optional
        By default the axis with two motors, else the only one that has readings.
    confidence : float, default 0.95
        Chance from which a candidate holds, between 0.5 and 1. [-]
    electrical : mapping of str to (str, str), optional
        Verdict of `wiring` on the circuit of each sensor, and the sentence that says why.
    what_if : bool, default False
        Judge again by other tolerances and risks too, for `Choice.changes`.
    system : {"metric", "inch"}
        Units of the sentences.
    minutes : (float, float)
        What a further homing and a further power-up take. [min]

    Returns
    -------
    Choice
        One candidate per sensor, in the order given.

    Raises
    ------
    InputError
        No axis is meant, the axis is unknown, nothing is asked of it, the confidence is no chance, or more
        candidates were tried than `MOST_TRIED`.
    """
    if not 0.5 < confidence < 1:
        raise InputError(
            where="confidence",
            found=f"{confidence:g}",
            need="a chance above 0.5 and below 1",
            do="give for instance 0.95",
        )
    meant = axis_meant(machine, study, axis)
    allowed = allowed_spread(meant, machine.requirement, system=system)
    names = _names(sensors, study)
    trials = {name: trial_of(study, sensor=named, axis=meant.name) for name, named in names.items()}
    places = {s.name: picked_index(machine, meant, s, trials[s.name], system=system) for s in sensors}
    tried = {sensor.name: _sides(study, names[sensor.name], meant.name) for sensor in sensors}
    _refuse_many(tried)
    facts = {
        sensor.name: ruled_out(sensor, machine, meant, electrical=electrical, system=system) for sensor in sensors
    }

    spans = {sensor.name: _spans(study, names[sensor.name], meant.name) for sensor in sensors}

    def left(asked: Requirement, sensor: Sensor) -> AllowedSpread | None:
        rest = left_by_index(asked, places[sensor.name], motors=meant.motors)
        return None if rest is None else allowed_spread(meant, rest, system=system)

    def of_sensor(sensor: Sensor) -> tuple[Candidate, ...]:
        name = sensor.name
        sides = tried[name]
        if spans[name] and not any(findings.n for findings in sides.tried):
            return tuple(
                judge_spans(sensor, asked, spans[name], ruled_out=facts[name], system=system) for asked in limits
            )
        asked_and_left = [
            (asked, left(requirement, sensor)) for asked, requirement in zip(limits, requirements, strict=True)
        ]
        seen = tuple(map(Same, (sides.left, sides.right, sides.difference, sides.unnamed)))

        def judged(questions: Sequence[tuple[AllowedSpread, AllowedSpread | None]], *, first: bool) -> Judged:
            def work_out() -> Judged:
                return tuple(
                    judge(
                        sensor,
                        asked,
                        sides,
                        ruled_out=facts[name],
                        confidence=confidence,
                        index=places[name],
                        left_allowed=left_asked,
                        told_apart=first,
                        system=system,
                        minutes=minutes,
                    )
                    for asked, left_asked in questions
                )

            if not sides.tried:
                return work_out()
            words = repr((sensor, questions, facts[name], places[name], confidence, system, minutes))
            key = machine.name, meant.name, name, len(sensors), first, system
            return _judged(key, work_out, mark=(words, *seen))

        (as_asked,) = judged(asked_and_left[:1], first=True)
        more = judged(asked_and_left[1:], first=False) if what_if else ()
        beside = (*beside_readings(spans[name]), *beyond_tried(as_asked, meant, system=system))
        return replace(as_asked, cautions=(*as_asked.cautions, *beside)), *more

    otherwise = asked_otherwise(machine.requirement) if what_if else ()
    requirements = (machine.requirement, *(wish.asked for wish in otherwise))
    limits = tuple(allowed_spread(meant, requirement, system=system) for requirement in requirements)
    by_sensor = [of_sensor(sensor) for sensor in sensors]

    def judged_by(requirement: Requirement) -> tuple[tuple[Candidate, ...], str | None]:
        place = requirements.index(requirement)
        rejudged = tuple(candidates[place] for candidates in by_sensor)
        return rejudged, _cheapest(rejudged)[0]

    candidates = tuple(
        replace(
            candidate,
            life_years=life_years(candidate.sensor, machine),
            reasons=(*candidate.reasons, *_reservations(candidate.sensor, electrical or {})),
        )
        for candidate, *_ in by_sensor
    )
    best, reason = _cheapest(candidates)
    failed = [c.sensor.name for c in candidates if _plain(c.sensor) and c.verdict == Verdict.DOES_NOT_HOLD]
    allowed = with_plain_ones_tried(allowed, failed, system=system)
    comparison, basis = compared(tried)
    return Choice(
        allowed=allowed,
        candidates=candidates,
        choice=best,
        reason=reason,
        cautions=_cautions(sensors, study, meant, names),
        confidence=confidence,
        comparison=comparison,
        compared=basis,
        more_money=dearer(candidates, best, comparison),
        changes=changes(machine.requirement, judged_by) if what_if else (),
        notes=(*machine.notes, *(note for sensor in sensors for note in sensor.notes), *study.notes),
    )


def _reservations(sensor: Sensor, electrical: Mapping[str, tuple[str, str]]) -> tuple[str, ...]:
    """What the circuit leaves to be wished for, where it does not rule the sensor out."""
    verdict, why = electrical.get(sensor.name, ("", ""))
    return (as_wired(why),) if verdict in ("works, but", "cannot say") else ()


def axis_meant(machine: Machine, study: Study, name: str | None = None) -> Axis:
    """Return the axis named; else the one with two motors, else the only one that has readings."""
    known = {axis.name: axis for axis in machine.axes}
    if name is not None:
        if name in known:
            return known[name]
        raise InputError(
            where="axis",
            found=name,
            need=f"one of {', '.join(known) or 'no axis at all'}",
            do="name one of the machine file",
        )
    two_motors = [axis for axis in machine.axes if axis.motors == 2]
    read = {findings.axis for findings in study.series}
    with_readings = [axis for axis in machine.axes if axis.name in read]
    for meant in (
        two_motors,
        [axis for axis in two_motors if axis.name in read],
        with_readings,
        list(machine.axes),
    ):
        if len(meant) == 1:
            return meant[0]
    raise InputError(
        where="axis",
        found=f"{len(known)} axes ({', '.join(known)}) and none that stands out",
        need="the axis to judge",
        do="name it with --axis",
    )


def _refuse_many(tried: Mapping[str, Sides]) -> None:
    """Refuse more candidates with readings than can be compared in seconds."""
    with_readings = sum(bool(sides.tried) for sides in tried.values())
    if with_readings > MOST_TRIED:
        raise InputError(
            where="sensors",
            found=f"{with_readings} candidates that were tried",
            need=f"at most {MOST_TRIED} in one choice",
            do="leave out those that are out of the question",
        )


def _names(sensors: tuple[Sensor, ...], study: Study) -> dict[str, str]:
    """Name of each sensor in the readings: its own; none where there is one sensor and the readings name none."""
    read = {findings.sensor for findings in study.series}
    lone = len(sensors) == 1 and read == {""}
    return {sensor.name: "" if lone else sensor.name for sensor in sensors}


def _sides(study: Study, sensor: str, axis: str) -> Sides:
    """What was tried on the axis; readings that name no axis are taken to be of the one that is judged."""
    sides = Sides.of(study, sensor, axis)
    return sides if sides.tried else Sides.of(study, sensor, "")


def _spans(study: Study, sensor: str, axis: str) -> tuple[SpanFindings, ...]:
    """The spans of the axis; those that name no axis are taken to be of the one that is judged."""
    return study.spans_of(sensor, axis) or study.spans_of(sensor, "")


def _cheapest(candidates: tuple[Candidate, ...]) -> tuple[str | None, str]:
    """Name of the cheapest that holds, and why."""
    holding = [c for c in candidates if c.verdict == Verdict.HOLDS and not c.ruled_out]
    if not holding:
        return None, _none_holds(candidates)
    best, *rest_of_them = sorted(holding, key=_price_then_chance)
    sentences = [f"{_named(best)} is {_why(best, rest_of_them)}."]
    if best.misses and best.misses.count:
        sentences.insert(0, gross_misses(best.misses))
    if _plain(best.sensor):
        sentences.append("A plain switch is enough here.")
    unpriced = [c for c in rest_of_them if c.sensor.price is None and best.sensor.price is not None]
    if unpriced:
        hold, pronoun = ("holds", "it") if len(unpriced) == 1 else ("hold", "they")
        sentences.append(
            f"{_list(unpriced)} {hold} too, but without a price nobody can say whether {pronoun} would be cheaper."
        )
    cheaper = [
        c
        for c in candidates
        if c not in holding
        and c.sensor.price is not None
        and best.sensor.price is not None
        and c.sensor.price < best.sensor.price
    ]
    sentences += [f"{_list(group)}: {verdict}." for verdict, group in _by_verdict(cheaper)]
    return best.sensor.name, " ".join(sentences)


def _plain(sensor: Sensor) -> bool:
    """Whether it is a contact and nothing more; an output that is not stated is none."""
    return sensor.output is not None and not sensor.output.electronic


def _price_then_chance(candidate: Candidate) -> tuple[bool, float, float, float]:
    price = candidate.sensor.price
    return price is None, price or 0.0, *_doubt(candidate)


def _doubt(candidate: Candidate) -> tuple[float, float]:
    """Less is surer: by the smaller chance; near certainty by how much of the tolerance it needs."""
    least = min(candidate.chance_holds or 0.0, candidate.chance_holds_wide or 0.0)
    return -round(least, 3), candidate.tolerance_times or float("inf")


def _why(best: Candidate, rest_of_them: list[Candidate]) -> str:
    """What sets the chosen one apart from the others that hold."""
    if not rest_of_them:
        return "the only one that holds"
    if best.sensor.price is None:
        return "the surest of those that hold; no prices are given, so none can be called the cheapest"
    same = [c for c in rest_of_them if c.sensor.price == best.sensor.price]
    if not same:
        return "the cheapest that holds"
    surer = all(_doubt(c) > _doubt(best) for c in same)
    s = "s" if len(same) == 1 else ""
    behind = f"hold{s} less surely" if surer else f"hold{s} as surely, but come{s} later in the file"
    return f"the cheapest that holds; {_list(same)} cost{s} the same and {behind}"


def _none_holds(candidates: tuple[Candidate, ...]) -> str:
    if not candidates:
        return "No candidate is named yet."
    groups = _by_verdict(candidates)
    text = "; ".join(f"{_list(group)}: {verdict}" for verdict, group in groups)
    near = [(c, c.to_settle) for c in candidates if c.to_settle and not c.ruled_out]
    hint = ""
    if near:
        # First those that homings can settle, then those whose cause is to be found.
        surest, settle = max(near, key=lambda pair: (pair[1].homings_each > 0, pair[0].chance_holds or 0.0))
        hint = f" For {surest.sensor.name}: {settle.sentence}"
    return f"No candidate holds yet ({text}).{hint}"


def _by_verdict(candidates: "list[Candidate] | tuple[Candidate, ...]") -> list[tuple[str, list[Candidate]]]:
    groups: dict[str, list[Candidate]] = {}
    for c in candidates:
        groups.setdefault("ruled out" if c.ruled_out else c.shown, []).append(c)
    return list(groups.items())


def _named(candidate: Candidate) -> str:
    price = candidate.sensor.price
    return candidate.sensor.name if price is None else f"{candidate.sensor.name} ({show(price, 'price')})"


def _list(candidates: list[Candidate]) -> str:
    names = [_named(c) for c in candidates[:MOST_NAMED]]
    if more := len(candidates) - len(names):
        names.append(f"{more} more")
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _cautions(sensors: tuple[Sensor, ...], study: Study, axis: Axis, names: dict[str, str]) -> tuple[Caution, ...]:
    cautions = []
    everything = study.series
    strangers = sorted({f.sensor for f in everything} - set(names.values()))
    if strangers:
        text = ", ".join(name or "(no name)" for name in strangers[:MOST_NAMED])
        text += f" and {len(strangers) - MOST_NAMED} more" if len(strangers) > MOST_NAMED else ""
        cautions.append(
            Caution(
                "not-in-sensors-file", f"Readings of {text} are not judged: the sensors file does not name them."
            )
        )
    elsewhere = sorted({f.axis for f in everything} - {axis.name, ""})
    axis_tried = any(f.axis in (axis.name, "") for f in everything)
    if elsewhere and not axis_tried:
        cautions.append(
            Caution(
                "other-axis",
                f"The readings are of axis {', '.join(elsewhere)}, but axis {axis.name} is judged. "
                "Name the one you mean.",
            )
        )
    if any(f.axis == "" for f in everything) and len(sensors) > 0:
        cautions.append(
            Caution("axis-not-said", f"Readings that name no axis are taken to be of axis {axis.name}.")
        )
    return tuple(cautions)
