"""`holdzero budget`: what home position is made of, and which part matters."""

from typing import Any

import click

from holdzero import quantity
from holdzero.case.contract import budget_json
from holdzero.case.sensor_meant import refuse_to_guess
from holdzero.cli import show
from holdzero.cli.drawings import drawings_too, write_drawings
from holdzero.cli.files import check_output_folder
from holdzero.cli.options import how_read, json_too, only_with, units_too
from holdzero.cli.source import opened
from holdzero.compute.budget import Combined
from holdzero.compute.budget.monte_carlo import DrawnFigures
from holdzero.compute.budget.simulate import SEED, Share
from holdzero.compute.design import AxisAssessment, words
from holdzero.quantity import System, column, fixed, show_foretold, show_share


@click.command()
@click.argument("source", metavar="BOOK|MACHINE")
@click.argument("readings", required=False)
@click.option(
    "--sensors", metavar="FILE", help="The candidates (TOML): their data sheets serve where no trial does."
)
@click.option("--sensor", help="Which candidate: by default the one taken, else the one recommended.")
@click.option("--machine", metavar="NAME", help="Of a book: which machine, by name.")
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=SEED,
    show_default=True,
    help="Of the simulation: same seed, same answer.",
)
@click.option(
    "--digits", type=click.IntRange(1, 4), default=2, show_default=True, help="Digits that must stand still."
)
@drawings_too
@how_read
@units_too
@json_too
def command(source: str, seed: int, digits: int, drawings: str | None, json_wanted: bool, **options: Any) -> int:
    """What home position is made of, and which part matters.

    From a book, or from MACHINE (a TOML file) and READINGS (a CSV file with a trial of the candidate, or - for
    standard input).
    """
    only_with("READINGS", options["readings"], "resolution", "step", "protocol")
    if drawings is not None:
        check_output_folder(drawings, option="--drawings")
    with opened(source, options, main="machine") as of:
        refuse_to_guess(of.case, options["sensor"], where="--sensor")
        assessed = [axis.budget_with(axis.sensor_reckoned, seed=seed, digits=digits) for axis in of.case.axes]
        machine, units = of.case.machine, of.case.system
    if drawings is not None:
        from holdzero.chart.index import index_picture

        places = {assessment.axis.name: assessment.budget.index for assessment in assessed}
        write_drawings(
            drawings,
            {
                f"index-{name}": index_picture(place, system=units)
                for name, place in places.items()
                if place is not None
            },
        )
    if json_wanted:
        show.as_json(budget_json(assessed, machine.notes))
    else:
        shown = (block for assessment in assessed for block in blocks(assessment, units))
        show.page(*shown, show.Points("Notes", machine.notes))
    return 0


def blocks(assessment: AxisAssessment, units: System = "metric") -> list[show.Block]:
    """What a person sees of one axis: the figures, the table, then the sums solved backwards."""
    return [
        _headline(assessment, units),
        _rows(assessment, units),
        _figures(assessment, units),
        show.Points("Where the two differ", assessment.simulation.why if assessment.budget.rows else ()),
        show.Points("Solved backwards", _backwards(assessment, units)),
        show.Points("Index pulse", _index(assessment, units)),
        show.Points("Without an index", [cycle] if (cycle := words.of_cycle(assessment, system=units)) else []),
        show.Points("Several touches", _touches(assessment, units)),
        show.Points(
            "Not counted",
            [
                f"{not_counted.name}: give {' and '.join(not_counted.keys)}."
                for not_counted in assessment.budget.not_counted
            ],
        ),
        show.Points("Before trusting these figures", [caution.text for caution in assessment.cautions]),
    ]


def _headline(assessment: AxisAssessment, units: System) -> str:
    budget, name = (
        assessment.budget,
        f"Axis {assessment.axis.name}{f' with {assessment.sensor}' if assessment.sensor else ''}",
    )
    if not budget.rows:
        return f"{name}: nothing could be counted."
    worse = " at the worse end" if assessment.axis.motors == 2 else ""
    text = f"{name}: 95 % of homings within ±{_length(_half(assessment.simulation.position), units)}{worse}"
    if assessment.simulation.squareness is not None and budget.requirement.squareness_over_mm is not None:
        over = quantity.show(budget.requirement.squareness_over_mm, "length", system=units)
        text += f", square within ±{_length(_half(assessment.simulation.squareness), units)} over {over}"
    alone = "" if budget.counts_switch else ", the switch not counted"
    return f"{text}{alone}. {words.held(assessment, system=units)}"


def _rows(assessment: AxisAssessment, units: System) -> show.Table:
    budget = assessment.budget
    used = budget.used
    figures, unit = column(
        [*(contribution.u_mm for contribution in used), budget.common_mm, budget.own_mm], "length", system=units
    )
    decimals = len(figures[0].partition(".")[2])

    def length(value: float) -> str:
        return fixed(value, "length", unit=unit, decimals=decimals)[0] if value else ""

    head = (
        "contribution",
        "shape",
        "±",
        "divisor",
        "sensitivity",
        "dof",
        f"common {unit}",
        f"own {unit}",
        "share",
        "square",
    )
    body = [
        (
            contribution.name,
            contribution.distribution,
            contribution.say_value(units),
            f"{contribution.divisor:.3f}",
            contribution.say_sensitivity(units),
            _dof(contribution.dof),
            length(contribution.common_mm),
            length(contribution.own_mm),
            f"{share:.1%}",
            f"{square:.1%}" if budget.squareness is not None else "",
        )
        for contribution, share, square in zip(used, budget.shares, budget.shares_squareness, strict=True)
    ]
    total = ("together", "", "", "", "", "", length(budget.common_mm), length(budget.own_mm), "", "")
    return show.Table(head, [*body, total] if body else [], left=(0, 1))


def _figures(assessment: AxisAssessment, units: System) -> show.Table:
    budget, drawn = assessment.budget, assessment.simulation
    head = ("", "u first order", "95 %", "dof", "u drawn", "95 % drawn", "limit", "outside", "outside drawn")
    shares = (drawn.outside_position, drawn.outside_squareness)
    kinds = (
        ("position", budget.position, drawn.position, shares[0]),
        ("squareness", budget.squareness, drawn.squareness, shares[1]),
    )
    body = [
        _figure(name, first, second, share, units)
        for name, first, second, share in kinds
        if first is not None and second is not None and budget.rows
    ]
    return show.Table(head, body)


def _figure(
    name: str, first: Combined, second: DrawnFigures, share: Share | None, units: System
) -> tuple[str, ...]:
    return (
        name,
        _length(first.u_mm, units),
        f"±{_length(first.expanded_mm, units)}",
        _dof(first.dof),
        _length(second.sd, units, second.sd_error),
        f"±{_length(_half(second), units)}",
        "–" if first.limit_mm is None else f"±{_length(first.limit_mm, units)}",
        show_foretold(first.share_outside),
        "–" if share is None else show_foretold(share.value) if share.value else f"under {show_share(share.high)}",
    )


def _backwards(assessment: AxisAssessment, units: System) -> list[str]:
    sentences = [*words.backwards(assessment, system=units)]
    return sentences + [f"For the homing time give {', '.join(assessment.homing_needs)}."] * bool(
        assessment.homing_needs
    )


def _index(assessment: AxisAssessment, units: System) -> list[str]:
    if assessment.axis.index.index_pitch_mm is None:
        return []
    from holdzero.compute.index import how_to_measure

    sentences = [*words.of_index(assessment, system=units)]
    if assessment.budget.phase is None:
        sentences.append("Give index_phase, and the chance of the wrong index is reckoned.")
    return [*sentences, f"To measure the phase: {' '.join(how_to_measure(assessment.axis.index.index_search))}"]


def _touches(assessment: AxisAssessment, units: System) -> list[str]:
    if not assessment.averaging:
        return []
    from holdzero.compute.budget.touches import APPLY_IT

    by_touches = ", ".join(
        f"{touches.touches}: {_length(touches.simulated_mm, units)}" for touches in assessment.averaging
    )
    return [f"Spread of home by the mean of so many touches: {by_touches}.", APPLY_IT.text]


def _half(outcome: DrawnFigures) -> float:
    return (outcome.high - outcome.low) / 2


def _length(value: float, units: System, uncertainty: float | None = None) -> str:
    if uncertainty:
        return quantity.show(value, "length", system=units, uncertainty=uncertainty)
    return quantity.show(value, "length", system=units, digits=3)


def _dof(dof: float) -> str:
    return "∞" if dof > 1000 else f"{dof:.0f}"
