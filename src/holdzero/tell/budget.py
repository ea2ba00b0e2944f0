"""Budget: what home position is made of, which part matters, and whether it stays within what is asked."""

from collections.abc import Sequence

from holdzero.caution import HOMING_MOVES
from holdzero.chart.index import index_picture
from holdzero.compute.budget import Combined, Contribution
from holdzero.compute.budget.monte_carlo import DrawnFigures
from holdzero.compute.budget.simulate import Share
from holdzero.compute.budget.touches import APPLY_IT
from holdzero.compute.design import AxisAssessment, words
from holdzero.compute.index import how_to_measure
from holdzero.compute.index.place import taken_too_often
from holdzero.quantity import System, column, fixed, show, show_foretold, show_percent, show_share
from holdzero.tell.blocks import Answer, Block, Note, Pictures, Points, Section, Table
from holdzero.tell.words import key_in_words, keys_listed, listed, marked, sentence

WORST_FIRST = ("not good", "not known", "good")
VARIES = {"homing": "each homing", "day": "each day", "fixed": "not at all"}
MEANING = (
    (
        "What both sides of a gantry share (common) moves the datum; what each side does by itself (own) also "
        "turns it. A share is of the variance of position, at the worse end of a gantry, or of squareness."
    ),
    (
        "First order adds variances and takes the sum as normal (JCGM 100); drawn is each homing by itself, every "
        "part with its own shape (JCGM 101). The headline is the one that was drawn."
    ),
    "It is not known whether home stays within what is asked while something that moves it is not counted.",
)


def tell_budget(
    assessments: Sequence[AxisAssessment],
    *,
    system: System = "metric",
    notes: Sequence[str] = (),
    other_ways: bool = True,
) -> Answer:
    """Tell what home position of every axis is made of.

    Parameters
    ----------
    assessments : sequence of AxisAssessment
        One an axis, at least one.
    system : {"metric", "inch"}
        Units shown; `assessments` was worded in the same.
    notes : sequence of str
        What the machine says that is not used.
    other_ways : bool
        Whether to tell what several touches, and a motor's cycle in place of an index, would bring.
    """
    ranked = sorted(assessments, key=_rank)
    indexed = any(assessment.axis.index.index_pitch_mm is not None for assessment in assessments)
    known = dict.fromkeys(caution.text for assessment in assessments for caution in assessment.cautions)
    return Answer(
        headline=budget_headline(assessments, system),
        lead=tuple(filter(None, (words.held(ranked[0], system=system),))),
        to_do=Points((*(step for assessment in ranked for step in _steps(assessment)), *map(sentence, notes))),
        table=_overview(assessments, system),
        before=(HOMING_MOVES,) if indexed else (),
        more=tuple(_axis(assessment, system, other_ways=other_ways) for assessment in assessments),
        explained=(
            Section("What these figures mean", MEANING),
            *([Section("Before trusting them", tuple(map(Note, known)))] if known else []),
        ),
    )


def budget_headline(assessments: Sequence[AxisAssessment], system: System) -> str:
    """Say the figures of the worst axis, and of which axes the switch is not counted."""
    worst, *rest = sorted(assessments, key=_rank)
    without = [assessment.axis.name for assessment in rest if not assessment.budget.counts_switch]
    if not without or not worst.budget.counts_switch:
        return sentence(verdict_of(worst, system))
    axes = f"{'axis' if len(without) == 1 else 'axes'} {listed(without)}"
    return f"{verdict_of(worst, system)}; of {axes} the switch is not counted yet."


def verdict_of(assessment: AxisAssessment, system: System) -> str:
    """Say in one sentence, without its full stop, within what an axis homes."""
    budget, drawn = assessment.budget, assessment.simulation
    name = named(assessment)
    if not budget.rows:
        return f"{name}: nothing could be counted yet"
    worse = " at the worse end" if assessment.axis.motors == 2 else ""
    text = f"{name}: 95\u202f% of homings within ±{_length(half_mm(drawn.position), system)}{worse}"
    if drawn.squareness is not None and budget.requirement.squareness_over_mm is not None:
        over = show(budget.requirement.squareness_over_mm, "length", system=system)
        text += f", square within ±{_length(half_mm(drawn.squareness), system)} over {over}"
    return f"{text}{'' if budget.counts_switch else ', the switch not counted'}"


def answer_of(assessment: AxisAssessment) -> str:
    """Whether an axis stays within what is asked: good, not good, or not known."""
    budget, outside = assessment.budget, assessment.simulation.outside
    if not budget.rows or not budget.counts_switch or outside is None:
        return "not known"
    if _share(outside) > budget.requirement.risk or _on_wrong_index(assessment):
        return "not good"
    searches = assessment.axis.index.index_pitch_mm is not None
    return "not known" if budget.not_counted or (searches and not budget.index_known) else "good"


def _on_wrong_index(assessment: AxisAssessment) -> bool:
    budget = assessment.budget
    return taken_too_often(budget.index, motors=budget.axis.motors, risk=budget.requirement.risk)


def named(assessment: AxisAssessment) -> str:
    """Name an axis and the candidate it was reckoned with."""
    return f"Axis {assessment.axis.name}{f' with {assessment.sensor}' if assessment.sensor else ''}"


def half_mm(outcome: DrawnFigures) -> float:
    """Half the drawn interval. [mm]"""
    return (outcome.high - outcome.low) / 2


def inputs_table(assessment: AxisAssessment, system: System, *, sources: bool = True) -> Table:
    """Return what goes into each contribution (JCGM 100), the largest first; `sources`: and where it is from."""
    head = ("Contribution", "±", "Shape", "Divisor", "Sensitivity", "Freedom", "Varies")
    rows = tuple(
        (
            contribution.name,
            contribution.say_value(system),
            contribution.distribution,
            f"{contribution.divisor:.3f}",
            contribution.say_sensitivity(system),
            _freedom(contribution.dof),
            VARIES[contribution.varies],
            *((key_in_words(contribution.source),) if sources else ()),
        )
        for contribution, _, _ in _by_size(assessment)
    )
    taken_from = ("Taken from",) if sources else ()
    return Table("What goes into it", (*head, *taken_from), rows, align="wrlrrrw" + "w" * len(taken_from))


def contributions_table(assessment: AxisAssessment, system: System) -> Table:
    """Return how much each contribution moves home, the largest first, and all together."""
    budget, rows_of = assessment.budget, _by_size(assessment)
    two, square = assessment.axis.motors == 2, assessment.budget.squareness is not None
    lengths, unit = column(
        [*(contribution.u_mm for contribution, _, _ in rows_of), budget.common_mm, budget.own_mm],
        "length",
        system=system,
    )
    decimals = max((len(text.partition(".")[2]) for text in lengths), default=1)

    def length(value_mm: float) -> str:
        return fixed(value_mm, "length", unit=unit, decimals=decimals)[0] if value_mm else "–"

    rows = [
        (
            contribution.name,
            *(
                (length(contribution.common_mm), length(contribution.own_mm))
                if two
                else (length(contribution.u_mm),)
            ),
            _percent(share),
            *((_percent(share_square),) if square else ()),
        )
        for contribution, share, share_square in rows_of
    ]
    total = (length(budget.common_mm), length(budget.own_mm)) if two else (length(budget.position.u_mm),)
    rows.append(("Together", *total, "", *(("",) if square else ())))
    head = (
        "Contribution",
        *((f"Common {unit}", f"Own {unit}") if two else (f"u {unit}",)),
        "Of position",
        *(("Of squareness",) if square else ()),
    )
    return Table(f"What home position of axis {assessment.axis.name} is made of", head, tuple(rows))


def figures_table(assessment: AxisAssessment, system: System) -> Table:
    """Return first order beside the homings drawn: uncertainty, interval, freedom, share outside."""
    rows: list[tuple[str, ...]] = []
    for name, first, drawn, outside in _figures(assessment, system):
        limit = "" if first.limit_mm is None else f" ±{_length(first.limit_mm, system)}"
        rows += [
            (
                f"{name}, standard uncertainty",
                _length(first.u_mm, system),
                show(drawn.sd, "length", system=system, uncertainty=drawn.sd_error)
                if drawn.sd_error
                else _length(drawn.sd, system),
            ),
            (
                f"{name}, 95\u202f% of homings",
                f"±{_length(first.expanded_mm, system)}",
                f"±{_length(half_mm(drawn), system)}",
            ),
            (f"{name}, degrees of freedom", _freedom(first.dof), "–"),
        ]
        if limit:
            rows.append((f"{name}, outside{limit}", show_foretold(first.share_outside), _say(outside)))
    count = f"{assessment.simulation.n:,}".replace(",", "\u202f")
    settled = "" if assessment.simulation.settled else "; the figures have not settled yet"
    return Table(
        f"First order beside {count} homings drawn{settled}", ("Figure", "First order", "Drawn"), tuple(rows)
    )


def _rank(assessment: AxisAssessment) -> tuple[int, bool, float]:
    """The worst first; of those alike, with the switch counted, then the largest share outside."""
    outside, budget = assessment.simulation.outside, assessment.budget
    switchless = not (budget.rows and budget.counts_switch)
    return WORST_FIRST.index(answer_of(assessment)), switchless, -_share(outside) if outside is not None else 0.0


def _steps(assessment: AxisAssessment) -> tuple[str, ...]:
    """What to do about one axis: the index, the largest part, what is not counted."""
    name, budget, halving = f"Axis {assessment.axis.name}", assessment.budget, assessment.halve
    steps = []
    if budget.index is not None and not budget.index.holds:
        steps.append(f"{name}: {budget.index.advice}")
    elif halving is not None and budget.counts_switch:
        steps.append(
            f"{name}: halve {halving.name} first, {halving.part} of the variance of {halving.of}"
            f"{halving.taken_away}."
        )
    if assessment.axis.index.index_pitch_mm is not None and budget.phase is None:
        steps.append(
            f"{name}: say how far the first index is from the start of the search, and the chance of the wrong "
            "index is reckoned."
        )
    if budget.rows and not budget.counts_switch:
        steps.append(f"{name}: try the switch out, or give its standard deviation: it is not counted.")
    missing = dict.fromkeys(key for lacking in budget.not_counted for key in lacking.keys)
    if missing:
        parts = list(dict.fromkeys(lacking.cause or lacking.name for lacking in budget.not_counted))
        counted = f"not counted {'are' if parts[1:] else 'is'} {listed(parts, most=3)}"
        steps.append(f"{name}: {counted}; give {keys_listed(missing)}.")
    return tuple(steps)


def _overview(assessments: Sequence[AxisAssessment], system: System) -> Table:
    """A row an axis and figure: within what it stays, what is asked, what lands outside, the largest part."""
    rows: list[tuple[str, ...]] = []
    for assessment in sorted(assessments, key=_rank):
        budget = assessment.budget
        if not budget.rows:
            rows.append((assessment.axis.name, "position", *("–",) * 3, marked("not known"), "–"))
        largest = (
            max(zip(shares, budget.used, strict=True), key=lambda pair: pair[0])
            for shares in (budget.shares, budget.shares_squareness)
        )
        for (name, first, drawn, outside), (share, part) in zip(
            _figures(assessment, system), largest, strict=False
        ):
            rows.append(
                (
                    assessment.axis.name,
                    name.lower(),
                    *_beside_each_other(half_mm(drawn), first.limit_mm, system),
                    _say(outside) if budget.counts_switch else "–",  # without the switch it would comfort
                    marked(_answer_of_figure(assessment, outside)),
                    f"{part.name}, {show_percent(share)}",
                )
            )
    head = ("Axis", "Figure", "95\u202f% drawn", "Asked", "Outside", "So it is", "Largest part")
    return Table("Within what each axis homes, and what moves it most", head, tuple(rows), align="lwrrwlw")


def _answer_of_figure(assessment: AxisAssessment, outside: Share | None) -> str:
    """What the axis is, but for a figure that stays within what is asked where the other does not."""
    answer, risk = answer_of(assessment), assessment.budget.requirement.risk
    drawn = assessment.simulation
    over = [
        share for share in (drawn.outside_position, drawn.outside_squareness) if share and _share(share) > risk
    ]
    if answer != "not good" or not over or outside in over or _on_wrong_index(assessment):
        return answer
    return "not known" if assessment.budget.not_counted or outside is None else "good"


def _axis(assessment: AxisAssessment, system: System, *, other_ways: bool) -> Section:
    """Return everything about one axis."""
    budget = assessment.budget
    blocks: list[Block] = [sentence(verdict_of(assessment, system)), words.held(assessment, system=system)]
    if budget.rows:
        blocks += [
            contributions_table(assessment, system),
            figures_table(assessment, system),
            Points(tuple(assessment.simulation.why), title="Where the two differ"),
            inputs_table(assessment, system, sources=False),
            Points(
                tuple(f"{part.name}: {key_in_words(part.source)}." for part, _, _ in _by_size(assessment)),
                title="Taken from",
            ),
        ]
    solved = list(words.backwards(assessment, system=system))
    if assessment.homing_needs:
        solved.append(f"For the homing time give {keys_listed(assessment.homing_needs)}.")
    blocks.append(Points(tuple(solved), title="Solved backwards"))
    blocks += _index(assessment, system)
    cycle = words.of_cycle(assessment, system=system) if other_ways else ""
    blocks.append(Points((cycle,) if cycle else (), title="Without an index"))
    if other_ways and assessment.averaging:
        spreads = ", ".join(
            f"{touches.touches}: {_length(touches.simulated_mm, system)}" for touches in assessment.averaging
        )
        several = (f"Spread of home by the mean of so many touches: {spreads}.", APPLY_IT.text)
        blocks.append(Points(several, title="Several touches"))
    lacking = tuple(f"{missing.name}: give {keys_listed(missing.keys)}." for missing in budget.not_counted)
    blocks.append(Points(lacking, title="Not counted"))
    return Section(named(assessment), tuple(block for block in blocks if not _empty(block)))


def _index(assessment: AxisAssessment, system: System) -> list[Block]:
    """What the index pulse does, and how its phase is measured; nothing without one."""
    if assessment.axis.index.index_pitch_mm is None:
        return []
    place = assessment.budget.index
    pictures: list[Block] = [] if place is None else [Pictures((index_picture(place, system=system),))]
    return [
        *pictures,
        Points(words.of_index(assessment, system=system), title="Index pulse"),
        Points(tuple(how_to_measure(assessment.axis.index.index_search)), title="To measure the phase"),
    ]


def _figures(assessment: AxisAssessment, system: System) -> list[tuple[str, Combined, DrawnFigures, Share | None]]:
    """Position, and squareness where there is one; nothing where nothing was counted."""
    budget, drawn = assessment.budget, assessment.simulation
    if not budget.rows:
        return []
    figures = [("Position", budget.position, drawn.position, drawn.outside_position)]
    over_mm = budget.requirement.squareness_over_mm
    if budget.squareness is not None and drawn.squareness is not None and over_mm is not None:
        over = show(over_mm, "length", system=system)
        figures.append((f"Square over {over}", budget.squareness, drawn.squareness, drawn.outside_squareness))
    return figures


def _by_size(assessment: AxisAssessment) -> list[tuple[Contribution, float, float]]:
    """Contributions with their shares in position and in squareness, the largest in position first."""
    budget = assessment.budget
    parts = list(zip(budget.used, budget.shares, budget.shares_squareness, strict=True))
    return sorted(parts, key=lambda part: -budget.at_worse_end_mm(part[0]))


def _share(outside: Share) -> float:
    return outside.high if outside.value is None else outside.value


def _say(outside: Share | None) -> str:
    if outside is None:
        return "–"
    return f"under {show_share(outside.high)}" if outside.value is None else show_share(outside.value)


def _empty(block: Block) -> bool:
    return not (block.items if isinstance(block, Points) else block)


def _beside_each_other(drawn_mm: float, asked_mm: float | None, system: System) -> tuple[str, str]:
    """Say what was drawn and what is asked in one unit, that of the first."""
    (drawn,), unit = column([drawn_mm], "length", system=system)
    if asked_mm is None:
        return f"±{drawn}\u202f{unit}", "–"
    asked, _ = fixed(asked_mm, "length", unit=unit, decimals=len(drawn.partition(".")[2]))
    return f"±{drawn}\u202f{unit}", f"±{asked}\u202f{unit}"


def _length(value_mm: float, system: System) -> str:
    return show(value_mm, "length", system=system, digits=3)


def _freedom(dof: float) -> str:
    return "∞" if dof > 1000 else f"{dof:.0f}"


def _percent(share: float) -> str:
    return f"{fixed(100 * share, 'count', unit='', decimals=1)[0]}\u202f%"
