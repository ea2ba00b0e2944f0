"""Budget: what home position is made of, as a section of a document."""

from collections.abc import Sequence

from holdzero.chart.index import index_picture
from holdzero.compute.budget import Combined
from holdzero.compute.budget.monte_carlo import DrawnFigures
from holdzero.compute.budget.simulate import Share
from holdzero.compute.design import AxisAssessment, words
from holdzero.quantity import System, column, fixed, show, show_foretold, show_share
from holdzero.report.content import Block, Points, Section, Table


def budget_section(found: Sequence[AxisAssessment], *, system: System = "metric") -> Section | None:
    """Return the contributions of every axis, first order beside simulation.

    Parameters
    ----------
    found : sequence of AxisAssessment
        One an axis.
    system : "metric" or "inch"
        Units shown; `found` was worded in the same.

    Returns
    -------
    Section or None
        None where nothing could be counted on any axis.
    """
    counted = [one for one in found if one.budget.rows]
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
        tuple(_axis(one, system) for one in counted),
    )


def _axis(found: AxisAssessment, system: System) -> Section:
    budget = found.budget
    named = f"Axis {found.axis.name}{f' with {found.sensor}' if found.sensor else ''}"
    blocks: list[Block] = [_contributions(found, system), _figures(found, system)]
    if found.simulation.why:
        blocks.append(Points(found.simulation.why))
    if budget.index is not None:
        blocks += [index_picture(budget.index, system=system), budget.index.advice]
    said = [*words.backwards(found, system=system)]
    if budget.not_counted:
        said.append(
            "Not counted: "
            + "; ".join(
                f"{one.name} (give {' and '.join(key.replace('_', ' ') for key in one.keys)})"
                for one in budget.not_counted
            )
            + "."
        )
    said += [caution.text for caution in found.cautions]
    return Section(named, (*blocks, Points(tuple(said))) if said else tuple(blocks))


def _contributions(found: AxisAssessment, system: System) -> Table:
    budget, used = found.budget, found.budget.used
    two = found.axis.motors == 2
    lengths, unit = column([*(one.u_mm for one in used), budget.common_mm, budget.own_mm], "length", system=system)
    decimals = max((len(text.partition(".")[2]) for text in lengths), default=1)

    def length(value_mm: float) -> str:
        return fixed(value_mm, "length", unit=unit, decimals=decimals)[0] if value_mm else "–"

    parts = (f"Common {unit}", f"Own {unit}") if two else (f"u {unit}",)
    head = ("Contribution", "Shape", "±", "Divisor", "Freedom", *parts, "Share")
    rows = [
        (
            one.name,
            one.distribution,
            one.say_value(system),
            f"{one.divisor:.3g}",
            _freedom(one.dof),
            *((length(one.common_mm), length(one.own_mm)) if two else (length(one.u_mm),)),
            _percent(share),
        )
        for one, share in zip(used, budget.shares, strict=True)
    ]
    total = (length(budget.common_mm), length(budget.own_mm)) if two else (length(budget.position.u_mm),)
    rows.append(("Together", "", "", "", "", *total, ""))
    where = " at the worse end" if two else ""
    caption = f"Contributions on axis {found.axis.name}; share of the variance of position{where}"
    return Table(caption, head, tuple(rows), align="ll" + "r" * (len(head) - 2))


def _figures(found: AxisAssessment, system: System) -> Table:
    budget, drawn = found.budget, found.simulation
    sums: list[tuple[str, Combined, DrawnFigures | None, Share | None]] = [
        ("Position", budget.position, drawn.position, drawn.outside_position)
    ]
    over_mm = budget.requirement.squareness_over_mm
    if budget.squareness is not None and over_mm is not None:
        over = show(over_mm, "length", system=system)
        sums.append((f"Square over {over}", budget.squareness, drawn.squareness, drawn.outside_squareness))
    head = ("", "u", "Expanded, 95 %", "u simulated", "95 % simulated", "Asked", "Outside", "simulated")
    caption = f"Axis {found.axis.name}: first order beside {drawn.n:,} simulated homings".replace(",", "\u202f")
    return Table(caption, head, tuple(_figure(*one, system=system) for one in sums))


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
