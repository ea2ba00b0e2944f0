"""`holdzero choose`: which candidate holds, the cheapest that does, and which one is taken."""

from collections.abc import Mapping, Sequence
from typing import Any

import click

from holdzero import quantity
from holdzero.case import Case
from holdzero.case.contract import choice_json
from holdzero.case.standing.values import Standings
from holdzero.cli import show
from holdzero.cli.options import how_read, json_too, misses_too, units_too
from holdzero.cli.source import files_needed, is_book, opened
from holdzero.compute.choose import AllowedSpread, Candidate, Choice, Decision
from holdzero.compute.plan import Ask
from holdzero.errors import InputError
from holdzero.quantity import System, show_foretold, show_share


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
@json_too
def command(source: str, **options: Any) -> int:
    """Which candidate holds what is asked, and the cheapest that does.

    From a book, or from READINGS (a CSV file, or - for standard input) with --machine and --sensors.

    With --take the decision is kept in the book: candidate, reason, day, what the homings said of it, and the
    digests of what it rests on. It need not be the candidate recommended.
    """
    _refuse_slips(options)
    if not is_book(source):
        files_needed(source, options, only_books=("take",))
    with opened(source, options) as of:
        case = of.case
        choice = case.chosen
        if options["take"] and of.book is not None:
            from holdzero.case.decide import decide

            decide(
                of.book,
                of.machine_id,
                case,
                sensor=options["take"],
                reason=options["because"] or "",
                by=options["by"] or "",
            )
            case = Case(case.basis.again())
        decisions = [(decision, decision.standing(case.basis.digests)) for decision in case.basis.decisions]
        if options["take"] and not options["json_wanted"]:
            kept = decisions[0][0]
            show.page(f"{kept.sensor} is taken ({kept.verdict}): {kept.reason.rstrip('.')}. Kept in {source}.")
            return 0
        _show(case, choice, options, decisions=decisions)
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


def _show(
    case: Case, choice: Choice, options: Mapping[str, Any], *, decisions: Sequence[tuple[Decision, str]]
) -> None:
    if options["json_wanted"]:
        show.as_json(choice_json(case))
    else:
        show.page(
            *blocks(
                choice,
                case.asks,
                decisions,
                standings=case.standings,
                alone=case.judged.reservation,
                system=case.system,
            )
        )


def blocks(
    result: Choice,
    asks: Sequence[Ask] = (),
    decisions: Sequence[tuple[Decision, str]] = (),
    *,
    standings: Standings | None = None,
    alone: str = "",
    system: System = "metric",
) -> list[show.Block]:
    """What a person sees: the choice, what was asked, every verdict, then why."""
    return [
        *([standings.machine.headline] if standings is not None else []),
        f"{result.reason} {alone}".rstrip(),
        _asked(result.allowed, system),
        show.Points("Notes on the files", result.notes),
        _verdicts(result),
        *_before_holds(result, asks),
        show.Points("Decided", [f"{decision.sentence} {standing}" for decision, standing in decisions]),
        *_tightest(result),
        show.Points("What more money buys", [dearer.sentence for dearer in result.more_money]),
        *_what_if(result),
        *(_why(candidate) for candidate in result.candidates),
        show.Points(
            "Before trusting these figures", [c.text for c in (*result.allowed.cautions, *result.cautions)]
        ),
    ]


def _before_holds(result: Choice, asks: Sequence[Ask]) -> list[show.Block]:
    """What the trial still lacks, where a candidate holds by its homings."""
    still = [f"{ask.text} {ask.standing.capitalize()}." for ask in asks if not ask.done and result.any_holds]
    return [show.Points("Before “holds” may stand", still)]


def _tightest(result: Choice) -> list[show.Block]:
    """Which is the tightest, and how sure."""
    comparison = result.comparison
    if comparison is None:
        return []
    chances = ", ".join(f"{name} {_chance(p)}" for name, p in comparison.ranking.chance_tightest.items())
    sentences = [f"Chance of the smallest spread: {chances}.", *(caution.text for caution in comparison.cautions)]
    if comparison.alike is not None:
        sentences.insert(1, f"Brown-Forsythe, scatter within sets alike: p {comparison.alike.p:.2g}.")
    return [show.Points(f"Tightest, {result.compared}: {comparison.sentence}", sentences)]


def _what_if(result: Choice) -> list[show.Block]:
    """Verdicts if the tolerance or the risk were another."""
    if not result.changes:
        return []
    head = ("if asked", *(c.sensor.name for c in result.candidates), "choice")
    rows = [
        (
            change.name,
            *(show.MARKS[change.verdicts[c.sensor.name]][0] for c in result.candidates),
            change.choice or "–",
        )
        for change in result.changes
    ]
    as_asked = ("as asked", *(show.MARKS[c.verdict][0] for c in result.candidates), result.choice or "–")
    return [show.Table(head, [*rows[:2], as_asked, *rows[2:]], left=(0,))]


def _asked(allowed: AllowedSpread, system: System) -> str:
    asked = []
    if allowed.squareness_limit_mm is not None and allowed.squareness_mm and allowed.squareness_over_mm:
        over = quantity.show(allowed.squareness_over_mm, "length", system=system)
        asked.append(f"square to {quantity.show(allowed.squareness_mm, 'length', system=system)} over {over}")
    if allowed.position_mm is not None:
        asked.append(f"home within ±{quantity.show(allowed.position_mm, 'length', system=system)}")
    spread = quantity.show(allowed.spread_allowed_mm, "length", system=system, digits=3)
    per = "a side" if allowed.motors == 2 else "its switch"
    bound = {"both": "squareness and position bind it together"}.get(
        allowed.bound_by, f"{allowed.bound_by} binds it"
    )
    return (
        f"Asked of axis {allowed.axis}: {', '.join(asked)}, but for {show_share(allowed.risk)} homings. "
        f"Spread allowed for {per}: {spread}; {bound}. {allowed.datum_from}"
    )


def _verdicts(result: Choice) -> show.Table:
    head = ("sensor", "price", "verdict", "chance", "heavier tails", "tails", "share outside", "gross misses")
    rows = [
        (
            f"{c.sensor.name}{' ←' if c.sensor.name == result.choice else ''}",
            "–" if c.sensor.price is None else quantity.show(c.sensor.price, "price"),
            f"✗ ruled out ({c.shown})" if c.ruled_out else f"{show.MARKS[c.verdict][0]} {c.shown}",
            _chance(c.chance_holds),
            _chance(c.chance_holds_wide),
            c.tails,
            show_foretold(c.share_outside),
            f"{c.misses.count} in {c.misses.n}" if c.misses else "–",
        )
        for c in result.candidates
    ]
    return show.Table(head, rows, left=(0, 2, 5))


def _chance(value: float | None) -> str:
    """A chance with three decimals, never rounded up to certainty."""
    if value is None:
        return "–"
    return "> 0.999" if value > 0.9995 else "< 0.001" if value < 0.0005 else f"{value:.3f}"


def _why(candidate: Candidate) -> show.Points:
    facts = [f"Ruled out. {fact}" for fact in candidate.ruled_out]
    rests = [f"{candidate.rests_on[:1].upper()}{candidate.rests_on[1:]}." if candidate.rests_on else ""]
    cautions = [c.text for c in candidate.cautions]
    kind = f", {candidate.sensor.kind}" if candidate.sensor.kind else ""
    return show.Points(
        f"{candidate.sensor.name}{kind}: {candidate.shown}{_valid_for(candidate)}",
        [sentence for sentence in (*facts, *candidate.reasons, *rests, *cautions) if sentence],
    )


def _valid_for(candidate: Candidate) -> str:
    """At which temperatures it was tried, where they were noted."""
    if candidate.valid_for_degc is None:
        return ""
    low, high = candidate.valid_for_degc
    return f", tried at {low:g} °C" if low == high else f", tried at {low:g} to {high:g} °C"
