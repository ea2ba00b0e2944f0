"""`holdzero choose`: which candidate holds, the cheapest that does, and which one is taken."""

from collections.abc import Mapping
from typing import Any

import click

from holdzero.case import Case
from holdzero.cli import show
from holdzero.cli.depth import depth_too, print_answer
from holdzero.cli.drawings import pictures_too, write_pictures
from holdzero.cli.files import check_output_folder
from holdzero.cli.options import how_read, json_too, misses_too, units_too
from holdzero.cli.progress import at_work
from holdzero.cli.source import files_needed, holds_all, opened
from holdzero.errors import InputError


@click.command()
@click.argument("source", metavar="BOOK|READINGS")
@click.option(
    "--machine",
    metavar="NAME|FILE",
    help="Of a book: which machine, by name. Of files: the machine and what is asked of it (TOML).",
)
@click.option("--sensors", metavar="FILE", help="Of files: the candidates (TOML).")
@click.option("--axis", help="Axis to judge: by default the one with two motors, else the only one with readings.")
@click.option(
    "--confidence", type=float, default=0.95, show_default=True, help="Chance from which a candidate holds."
)
@click.option(
    "--wiring",
    metavar="FILE",
    help="Of files: the circuits (TOML) each candidate is put into; what cannot be made to work is out.",
)
@click.option("--price-limit", type=float, help="Most that one switch may cost.")
@click.option(
    "--minutes",
    type=(float, float),
    default=(1.0, 5.0),
    show_default=True,
    metavar="HOMING POWER-UP",
    help="What a further homing and a further power-up take.",
)
@click.option("--take", metavar="SENSOR", help="Of a book: keep the decision for this candidate; needs --because.")
@click.option("--because", metavar="TEXT", help="Why it is taken, in one sentence.")
@click.option("--by", metavar="NAME", help="Who takes it.")
@misses_too
@how_read
@units_too
@pictures_too
@depth_too
@json_too
def command(source: str, **options: Any) -> int:
    """Which candidate holds what is asked, and the cheapest that does.

    From a book, or from READINGS (a CSV file, or - for standard input) with --machine and --sensors.

    With --take the decision is kept in the book: candidate, reason, day, what the homings said of it, and the
    digests of what it rests on. It need not be the candidate recommended.
    """
    _refuse_slips(options)
    pictures = options.pop("pictures")
    if pictures is not None:
        check_output_folder(pictures, option="--pictures")
    if not holds_all(source):
        files_needed(source, options, only_books=("take",))
    with opened(source, options) as of:
        case = of.case
        if options["take"] and of.book is not None:
            from holdzero.case.decide import decide

            with at_work("Judging the candidates", quiet=options["json_wanted"]):
                decide(
                    of.book,
                    of.machine_id,
                    case,
                    sensor=options["take"],
                    reason=options["because"] or "",
                    by=options["by"] or "",
                )
            case = Case(case.basis.again())
        if pictures is not None:
            from holdzero.chart.of_choice import choice_pictures

            write_pictures(pictures, choice_pictures(case.chosen, case.study, case.machine, system=case.system))
        if options["take"] and not options["json_wanted"]:
            kept = case.basis.decisions[0]
            from holdzero.tell.acts import candidate_taken

            show.page(f"{candidate_taken(kept)} Kept in {source}.")
            return 0
        if options["json_wanted"]:
            from holdzero.case.contract import choice_json

            show.as_json(choice_json(case))
        else:
            from holdzero.tell.choice import tell_choice  # who wants JSON never waits for the words

            with at_work("Judging the candidates", quiet=False):
                answer = tell_choice(case)
            print_answer(answer)
    return 0


def _refuse_slips(options: Mapping[str, Any]) -> None:
    """Refuse options that say nothing, or that contradict each other."""
    homing, power_up = options["minutes"]
    if not (homing > 0 and power_up >= 0):
        raise InputError(
            where="--minutes",
            found=f"{homing:g} {power_up:g}",
            need="minutes above zero",
            do="write them like 1 5",
        )
    limit = options["price_limit"]
    if limit is not None and not limit >= 0:
        raise InputError(
            where="--price-limit", found=f"{limit:g}", need="a price", do="write it like 40, without currency"
        )
    if options["take"]:
        if not (options["because"] or "").strip():
            raise InputError(
                where="--because",
                found="nothing",
                need="a reason",
                do="write one sentence: why this one, and not another",
            )
        for name in ("price_limit", "misses"):
            if options[name]:
                raise InputError(
                    where=f"--{name.replace('_', '-')}",
                    found="an option beside --take",
                    need="what the book says and nothing else",
                    do="leave it out: a decision rests on the book",
                )
    for name in ("because", "by"):
        if options[name] and not options["take"]:
            raise InputError(
                where=f"--{name}", found="no --take", need="the candidate taken", do="add --take SENSOR"
            )
