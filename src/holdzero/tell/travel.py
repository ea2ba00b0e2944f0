"""Travel: whether each axis stops where there is still room, and what to change where it does not."""

from collections.abc import Mapping, Sequence

from holdzero.caution import HOMING_MOVES
from holdzero.chart.travel import travel_picture
from holdzero.compute.travel import Check, Start, Travel
from holdzero.quantity import System, field_unit, fixed, show
from holdzero.tell.blocks import Answer, Block, Note, Pictures, Points, Section, Table
from holdzero.tell.words import count_of, key_in_words, keys_listed, listed, marked, paragraph, sentence

MANY = 3  # failing checks named in a headline; of more, only how many
MEANING = (
    (
        "After a switch trips the axis runs on: through the reaction delay, then while it brakes. “Uses” is that "
        "way, or the length a flag has to have; “room” is what there is for it; the margin is room less use."
    ),
    "“Fits up to” is the highest speed of that name at which the check still fits, all else as it is.",
    (
        "Places count from the hard stop at the homing end into the work. These are sums of what was stated: a "
        "check knows nothing of a length that was measured wrongly."
    ),
)


def tell_travel(
    travels: Sequence[Travel],
    *,
    system: System = "metric",
    starts: Mapping[str, Start] | None = None,
    notes: Sequence[str] = (),
    fits: bool = True,
) -> Answer:
    """Tell whether every axis of a machine stops in time.

    Parameters
    ----------
    travels : sequence of Travel
        One an axis, at least one.
    system : {"metric", "inch"}
        Units shown; `travels` was worded in the same.
    starts : mapping of str to Start, optional
        What a homing from where it stands now does, by axis.
    notes : sequence of str
        What the machine says that is not used.
    fits : bool
        Whether to tell why each check that fits does; its figures stand in the table anyway.
    """
    starts = starts or {}
    several = len(travels) > 1
    cautions = dict.fromkeys(caution.text for travel in travels for caution in travel.cautions)
    moving = [HOMING_MOVES, *(caution.text for start in starts.values() for caution in start.cautions)]
    beside = dict.fromkeys(
        caution.text for travel in travels for check in travel.checks for caution in check.cautions
    )
    known = (Section("To know beside the figures", (Points(tuple(beside)),)),) if beside else ()
    return Answer(
        headline=travel_headline(travels),
        lead=tuple(from_here(start, system) for start in starts.values()),
        to_do=Points((*_wrong(travels, several=several), *map(sentence, notes), *_wanted(travels))),
        table=_overview(travels, system, several=several),
        before=(*cautions, *(dict.fromkeys(moving) if starts else ())),
        more=(*(_axis(travel, system, fits=fits) for travel in travels), *known),
        explained=(Section("What these figures mean", MEANING),),
    )


def travel_headline(travels: Sequence[Travel]) -> str:
    """Say the worst: axes that do not stop in time, then those of which nothing is known, then the others."""
    if len(travels) == 1:
        return sentence(verdict_of(travels[0]))
    fail = [travel for travel in travels if failing(travel)]
    if fail:
        if len(fail) == 1:
            return sentence(verdict_of(fail[0]))
        counts = [
            f"{count_of(len(failing(travel)), 'check') if not number else len(failing(travel))} "
            f"of {travel.axis.name}"
            for number, travel in enumerate(fail)
        ]
        return f"{_axes(fail)} do not stop in time: {listed(counts)} fail."
    unknown = [travel for travel in travels if not made(travel)]
    known = [travel for travel in travels if made(travel)]
    if not known:
        return f"{_axes(unknown)}: nothing can be checked yet."
    if len(known) == 1:
        good = verdict_of(known[0])
    else:
        total = count_of(sum(len(made(travel)) for travel in known), "check")
        short_of = any(travel.needs for travel in known)
        good = (
            f"{_axes(known)} stop in time{f', as far as {total} can tell' if short_of else f': all {total} fit'}"
        )
    if not unknown:
        return sentence(good)
    of = _axes(unknown)
    return f"Nothing can be checked yet of {of[:1].lower()}{of[1:]}; {good[:1].lower()}{good[1:]}."


def verdict_of(travel: Travel) -> str:
    """Say in one sentence, without its full stop, whether an axis stops in time."""
    name, fail, count = f"Axis {travel.axis.name}", failing(travel), len(made(travel))
    if fail:
        share = f"{len(fail)} of {count} checks fail" if count > 1 else "the one check made fails"
        names = [key_in_words(check.check) for check in fail]
        return f"{name}: {share}: {listed(names, most=MANY if len(names) > MANY + 1 else 0)}"
    if not count:
        return f"{name}: nothing can be checked yet"
    if travel.needs:
        return f"{name} stops in time, as far as {count_of(count, 'check')} can tell"
    return f"{name} stops in time: {'the one check made fits' if count == 1 else f'all {count} checks fit'}"


def made(travel: Travel) -> tuple[Check, ...]:
    """The checks that have a verdict."""
    return tuple(check for check in travel.checks if check.ok is not None)


def failing(travel: Travel) -> tuple[Check, ...]:
    """The checks that do not fit."""
    return tuple(check for check in travel.checks if check.ok is False)


def from_here(start: Start, system: System) -> str:
    """Say what a homing from where the axis stands now does, step by step."""
    twist = ""
    if start.twists:
        angle = show(abs(start.angle_rad), "angle", system=system, digits=3)
        twist = f"the gantry stands {angle} out of square, the {start.ahead} side nearer the hard stop"
    return paragraph((f"From here: {start.in_short}", *start.steps, twist))


def _axes(travels: Sequence[Travel]) -> str:
    return f"{'Axis' if len(travels) == 1 else 'Axes'} {listed([travel.axis.name for travel in travels])}"


def _wrong(travels: Sequence[Travel], *, several: bool) -> tuple[str, ...]:
    """What to change where a check fails; why it fails where nothing is known to mend it."""
    steps = []
    for travel in travels:
        of = f"axis {travel.axis.name}, " if several else ""
        for check in failing(travel):
            step = check.do or check.why
            steps.append(sentence(f"{of}{key_in_words(check.check)}: {step[:1].lower()}{step[1:]}"))
    return tuple(steps)


def _wanted(travels: Sequence[Travel]) -> tuple[str, ...]:
    """What to give for the checks that could not be made."""
    wanted = []
    for travel in travels:
        lacking = [key_in_words(check.check) for check in travel.checks if check.needs]
        if not lacking:
            continue
        further = listed(lacking) if len(lacking) <= MANY + 1 else f"{len(lacking)} checks more"
        wanted.append(f"Axis {travel.axis.name}: give {keys_listed(travel.needs)}; then {further} can be made.")
    return tuple(wanted)


def _overview(travels: Sequence[Travel], system: System, *, several: bool) -> Table:
    """A row a check that fails, the tightest that fits, and how many more fit or were not made."""
    rows = []
    for travel in travels:
        fits = sorted((check for check in made(travel) if check.ok), key=_tightness)
        shown = [*failing(travel), *fits[:1]]
        lacking = sum(bool(check.needs) for check in travel.checks)
        counts = [
            (number, thing, word)
            for number, thing, word in (
                (len(fits[1:]), "more check", "fits"),
                (lacking, "check", "not made"),
            )
            if number
        ]
        name = (travel.axis.name,) if several else ()
        rows += [(*name, *_row(check, system)) for check in shown]
        rows += [
            (*name, count_of(number, thing), marked("fit" if word == "fits" and number > 1 else word), *("–",) * 4)
            for number, thing, word in counts
        ]
    return Table(
        "What does not fit, and the tightest that does",
        (*(("Axis",) if several else ()), *_head(system)),
        tuple(rows),
        align=("l" if several else "") + "llrrrr",
    )


def _tightness(check: Check) -> float:
    return float("inf") if check.margin_mm is None else check.margin_mm


def _axis(travel: Travel, system: System, *, fits: bool) -> Section:
    """Return everything about one axis; of one that cannot be checked at all, what it lacks."""
    judged = made(travel)
    if not judged:
        return Section(f"Axis {travel.axis.name}", (sentence(verdict_of(travel)), *_wanted([travel])))
    blocks: list[Block] = [sentence(verdict_of(travel)), Pictures((travel_picture(travel, system=system),))]
    blocks += [Note(f"{_name(check)} fails. {check.why}") for check in failing(travel)]
    caption = f"Checks of axis {travel.axis.name}; margin is room less use"
    blocks.append(Table(caption, _head(system), tuple(_row(check, system) for check in judged), align="llrrrr"))
    fit = tuple(f"{_name(check)}: {check.why}" for check in judged if check.ok and fits)
    lacking = tuple(
        f"{_name(check)}: {check.so_far or f'give {keys_listed(check.needs)}.'}"
        for check in travel.checks
        if check.needs
    )
    idle = tuple(f"{_name(check)}: {check.why}" for check in travel.checks if check.status == "does not apply")
    for title, items in (("Why it fits", fit), ("Not made", lacking), ("Does not apply", idle)):
        if items:
            blocks.append(Points(items, title=title))
    return Section(f"Axis {travel.axis.name}", tuple(blocks))


def _head(system: System) -> tuple[str, ...]:
    length, speed = field_unit("length", system=system), field_unit("speed", system=system)
    return "Check", "Verdict", f"Uses {length}", f"Room {length}", f"Margin {length}", f"Fits up to {speed}"


def _row(check: Check, system: System) -> tuple[str, ...]:
    length, speed = field_unit("length", system=system), field_unit("speed", system=system)
    decimals = 2 if length == "mm" else 3
    fastest = fixed(check.speed_limit_mm_s, "speed", unit=speed, decimals=1)[0]
    of = key_in_words(check.speed_key).removesuffix(" speed")
    return (
        _name(check),
        marked(check.status),
        *(
            fixed(value_mm, "length", unit=length, decimals=decimals)[0] or "–"
            for value_mm in (check.uses_mm, check.room_mm, check.margin_mm)
        ),
        f"{of} {fastest}" if check.speed_limit_mm_s is not None else "–",
    )


def _name(check: Check) -> str:
    return key_in_words(check.check).capitalize()
