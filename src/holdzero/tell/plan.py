"""Plan: how a trial is shared out, what it will show, and what comes before it; a hunt for noise beside it."""

from collections.abc import Sequence

from holdzero.caution import HOMING_MOVES
from holdzero.compute.plan.noise import HUNT_GUARD, NoiseHunt
from holdzero.compute.plan.trial_plan import TrialPlan
from holdzero.compute.plan.words import MOUNTED, about_the_run, what_it_shows
from holdzero.quantity import System
from holdzero.tell.blocks import Answer, Note, Points, Section, Table
from holdzero.tell.words import paragraph, sentence

NEAREST = 3  # ways to share the time beside each other in short

MEANING = (
    (
        "Every power-up is another sample of what switching off and on does; further homings of the same one say "
        "less. Degrees of freedom say how well the trial knows a spread: more of them, a narrower interval."
    ),
    (
        "Room is how many times the true spread of a candidate the spread allowed has to be, so that 4 of 5 such "
        "trials find that it holds; the least room is planned, where it is not known how much more power-ups "
        "scatter for the worst of four cases."
    ),
)


def plan_headline(plan: TrialPlan) -> str:
    """Say how many power-ups and homings, and how long they take."""
    return f"{plan.sentence}: {plan.split.minutes:.0f} min for each candidate, {plan.minutes:.0f} min in all."


def tell_plan(plan: TrialPlan, *, system: System = "metric", before: Sequence[str] = ()) -> Answer:
    """Tell a trial before it is made.

    Parameters
    ----------
    plan : TrialPlan
        The trial.
    system : {"metric", "inch"}
        Units shown.
    before : sequence of str
        What to read before a program that was written moves the machine.
    """
    promise, *further = what_it_shows(plan, system)
    ways = [Section("Every way to share the time", (_splits(plan),))] if len(plan.options) > NEAREST else []
    sections = [*ways, Section("What that shows", (Points(tuple(further)),))]
    if plan.long_run is not None:
        sections.append(Section("Long run", (Points(tuple(about_the_run(plan.long_run))),)))
    if len(plan.candidates) > 1:
        sections.append(Section("In this order", (_order(plan), MOUNTED)))
    sections.append(Section("What it depends on", (_outlook(plan),)))
    known = tuple(Note(caution.text) for caution in plan.cautions)
    return Answer(
        headline=plan_headline(plan),
        lead=(promise,),
        to_do=Points(tuple(ask.text for ask in plan.asks), title="Before “holds” may stand"),
        table=_splits(plan, most=NEAREST),
        before=(HOMING_MOVES, *([paragraph(before)] if before else [])),
        more=tuple(sections),
        explained=(
            Section("What these figures mean", MEANING),
            *([Section("Before trusting them", known)] if known else []),
        ),
    )


def tell_hunt(noise_hunt: NoiseHunt) -> Answer:
    """Tell what the false trips counted under one condition after another say.

    Parameters
    ----------
    noise_hunt : NoiseHunt
    """
    rows = tuple(
        (line.condition.name, f"{rate.trips} in {rate.hours:.3g}\u202fh", rate.middle_words, rate.limit_words)
        for line in noise_hunt.counted
        if (rate := line.rate)
    )
    following = noise_hunt.next
    steps = (sentence(f"{following.name}: {following.do} {following.says}"),) if following else ()
    return Answer(
        headline=sentence(noise_hunt.sentence),
        lead=tuple(
            sentence(f"{line.condition.name}: {line.comparison}") for line in noise_hunt.counted if line.comparison
        ),
        to_do=Points(steps, title="Next"),
        table=Table("False trips", ("Condition", "Counted", "An hour", "95\u202f%"), rows) if rows else None,
        before=(HUNT_GUARD,),
    )


def _splits(plan: TrialPlan, *, most: int = 0) -> Table:
    """A row a way to share the time, the best for each number of power-ups; what is planned is marked.

    `most`: only that planned and those nearest to it, so many in all.
    """
    planned = plan.split.power_ups
    nearest = sorted(plan.options, key=lambda option: abs(option.split.power_ups - planned))
    shown = nearest[:most] if most else plan.options
    rows = tuple(
        (
            f"{option.split.power_ups}{', planned' if option.split == plan.split else ''}",
            f"{option.split.homings}",
            f"{option.split.total}",
            f"{option.split.minutes:.0f}",
            f"{option.split.df:.1f}",
            f"{option.room:.2f}",
        )
        for option in plan.options
        if option in shown
    )
    head = ("Power-ups", "Homings each", "In all", "Minutes", "Degrees of freedom", "Room it needs")
    return Table("Ways to share the time", head, rows)


def _outlook(plan: TrialPlan) -> Table:
    rows = tuple(
        (
            f"{outlook.between_ratio:g}",
            f"{outlook.df:.1f}",
            f"{outlook.low:.2f} to {outlook.high:.2f}",
            f"{outlook.apart:.2f}",
            f"{outlook.room.half:.2f}",
            f"{outlook.room.four_in_five:.2f}",
        )
        for outlook in plan.outlook
    )
    head = (
        "Between over within",
        "Degrees of freedom",
        "True spread, times found",
        "Told apart from",
        "Room, half the trials",
        "4 of 5",
    )
    return Table("Scatter between power-ups over scatter within", head, rows)


def _order(plan: TrialPlan) -> Table:
    rows = tuple((f"{block.number}", f"{block.day}", ", ".join(block.candidates)) for block in plan.blocks)
    return Table("The order, left to chance", ("Power-up", "Day", f"Order (seed {plan.seed})"), rows, align="rrw")
