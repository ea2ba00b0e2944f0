"""Budget: what home position is made of, as a section of a document."""

from collections.abc import Sequence

from holdzero.chart.index import index_picture
from holdzero.compute.budget import Combined
from holdzero.compute.budget.monte_carlo import DrawnFigures
from holdzero.compute.budget.simulate import Share
from holdzero.compute.design import AxisAssessment, words
from holdzero.quantity import System, column, fixed, show, show_foretold, show_share
from holdzero.tell.blocks import Block, Points, Section, Table


def budget_section(assessments: Sequence[AxisAssessment], *, system: System = "metric") -> Section | None:
    """Return the contributions of every axis, first order beside simulation.

    Parameters
    ----------
    assessments : sequence of AxisAssessment
        One an axis.
    system : "metric" or "inch"
        Units shown; `assessments` was worded in the same.

    Returns
    -------
    Section or None
        None where nothing could be counted on any axis.
    """
    counted = [assessment for assessment in assessments if assessment.budget.rows]
    if not counted:
        return None
    return Section(
        "Error budget: what home position is made of",
        (
            (
                "What both sides of a gantry share (common) moves the datum; what each side does by itself (own) "
                "also turns it. First order adds variances (JCGM 100); simulated is each homing drawn by itself "
                "(JCGM 101)."
            ),
        ),
        tuple(_axis(assessment, system) for assessment in counted),
    )


def _axis(assessment: AxisAssessment, system: System) -> Section:
    budget = assessment.budget
    named = f"Axis {assessment.axis.name}{f' with {assessment.sensor}' if assessment.sensor else ''}"
    blocks: list[Block] = [_contributions(assessment, system), _figures(assessment, system)]
    if assessment.simulation.why:
        blocks.append(Points(assessment.simulation.why))
    if budget.index is not None:
        blocks += [index_picture(budget.index, system=system), budget.index.advice]
    sentences = [*words.backwards(assessment, system=system)]
    if budget.not_counted:
        sentences.append(
            "Not counted: "
            + "; ".join(
                f"{not_counted.name} (give {' and '.join(key.replace('_', ' ') for key in not_counted.keys)})"
                for not_counted in budget.not_counted
            )
            + "."
        )
    sentences += [caution.text for caution in assessment.cautions]
    return Section(named, (*blocks, Points(tuple(sentences))) if sentences else tuple(blocks))


def _contributions(assessment: AxisAssessment, system: System) -> Table:
    budget, used = assessment.budget, assessment.budget.used
    two = assessment.axis.motors == 2
    lengths, unit = column(
        [*(contribution.u_mm for contribution in used), budget.common_mm, budget.own_mm], "length", system=system
    )
    decimals = max((len(text.partition(".")[2]) for text in lengths), default=1)

    def length(value_mm: float) -> str:
        return fixed(value_mm, "length", unit=unit, decimals=decimals)[0] if value_mm else "–"

    parts = (f"Common {unit}", f"Own {unit}") if two else (f"u {unit}",)
    head = ("Contribution", "Shape", "±", "Divisor", "Freedom", *parts, "Share")
    rows = [
        (
            contribution.name,
            contribution.distribution,
            contribution.say_value(system),
            f"{contribution.divisor:.3g}",
            _freedom(contribution.dof),
            *(
                (length(contribution.common_mm), length(contribution.own_mm))
                if two
                else (length(contribution.u_mm),)
            ),
            _percent(share),
        )
        for contribution, share in zip(used, budget.shares, strict=True)
    ]
    total = (length(budget.common_mm), length(budget.own_mm)) if two else (length(budget.position.u_mm),)
    rows.append(("Together", "", "", "", "", *total, ""))
    where = " at the worse end" if two else ""
    caption = f"Contributions on axis {assessment.axis.name}; share of the variance of position{where}"
    return Table(caption, head, tuple(rows), align="ll" + "r" * (len(head) - 2))


def _figures(assessment: AxisAssessment, system: System) -> Table:
    budget, drawn = assessment.budget, assessment.simulation
    sums: list[tuple[str, Combined, DrawnFigures | None, Share | None]] = [
        ("Position", budget.position, drawn.position, drawn.outside_position)
    ]
    over_mm = budget.requirement.squareness_over_mm
    if budget.squareness is not None and over_mm is not None:
        over = show(over_mm, "length", system=system)
        sums.append((f"Square over {over}", budget.squareness, drawn.squareness, drawn.outside_squareness))
    head = ("", "u", "Expanded, 95 %", "u simulated", "95 % simulated", "Asked", "Outside", "simulated")
    caption = f"Axis {assessment.axis.name}: first order beside {drawn.n:,} simulated homings".replace(
        ",", "\u202f"
    )
    return Table(caption, head, tuple(_figure(*combined, system=system) for combined in sums))


def _figure(
    name: str, first: Combined, drawn: DrawnFigures | None, outside: Share | None, *, system: System
) -> tuple[str, ...]:
    def length(value_mm: float, doubt_mm: float | None = None) -> str:
        if doubt_mm:
            return show(value_mm, "length", system=system, uncertainty=doubt_mm)
        return show(value_mm, "length", system=system, digits=3)

    counted = "–"
    if outside is not None:
        counted = show_share(outside.value) if outside.value else f"under {show_share(outside.high)}"
    return (
        name,
        length(first.u_mm),
        f"± {length(first.expanded_mm)}",
        "–" if drawn is None else length(drawn.sd, drawn.sd_error),
        "–" if drawn is None else f"± {length((drawn.high - drawn.low) / 2)}",
        "–" if first.limit_mm is None else f"± {length(first.limit_mm)}",
        show_foretold(first.share_outside),
        counted,
    )


def _freedom(dof: float) -> str:
    return "∞" if dof > 1000 else f"{dof:.0f}"


def _percent(share: float) -> str:
    return f"{100 * share:.1f}\u202f%"
