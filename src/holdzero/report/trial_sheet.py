"""Trial sheet: the plan of a trial on paper, with a box for each reading.

Works in a shed without a network: printed before, filled in at the machine, typed in or pasted later.
"""

from collections.abc import Iterable
from itertools import groupby

from holdzero import __version__
from holdzero.chart.indicator import indicator_picture
from holdzero.compute.plan.long_run import CONDITIONS
from holdzero.compute.plan.noise import HUNT, HUNT_GUARD
from holdzero.compute.plan.trial_plan import PlanStep, TrialPlan
from holdzero.compute.plan.words import MOUNTED, about_the_run
from holdzero.quantity import System, show, show_share
from holdzero.report.content import RecordContent
from holdzero.tell.blocks import Blanks, Block, Boxes, Note, Points, Section
from holdzero.tell.motion_program import MOVES_BY_ITSELF
from holdzero.tell.safety import NOT_A_SAFETY_FUNCTION

SIDES = {"L": "left", "R": "right", "": ""}
ACROSS = 10  # boxes beside each other that a pen still fits in
HOW_TO_READ = (
    (
        "Base of the indicator on what does not move, stem along the axis, square to the face it touches. Common "
        "practice, no source."
    ),
    (
        "Preload it by half a turn of the pointer, so that it follows both ways. Zero it once, before the first "
        "homing; leave it and its stand alone after that, over all power-ups."
    ),
    "Home from the same direction, from another place each time. Wait three seconds, hands off, then read.",
    "Write what the display shows, in its own unit; never switch between inch and mm in mid-series.",
    "A reading that looks wrong is written down too, with a word beside it. Nothing is rubbed out.",
)


def trial_sheet(
    plan: TrialPlan, *, machine: str = "", invented: str = "", system: System = "metric", noise: bool = True
) -> RecordContent:
    """Put together the sheet of a trial.

    Parameters
    ----------
    plan : TrialPlan
        The trial.
    machine : str
        Its name.
    invented : str
        What to say on every page about a machine that is made up; empty for a real one.
    system : {"metric", "inch"}
        Units of the lengths named.
    noise : bool
        Add the table of a noise hunt.

    Returns
    -------
    RecordContent
        For `record_pdf` and `record_html`.
    """
    axis = f"axis {plan.axis}" if plan.axis else ""
    days = tuple(
        Section(f"Day {day}{_when(day)}", tuple(_block(block, plan, system) for block in _blocks(steps)))
        for day, steps in groupby(
            (step for step in plan.steps if step.kind != "repeat"), key=lambda step: step.day
        )
    )
    return RecordContent(
        title="Sheet of a confirming trial" if plan.kind == "confirming" else "Trial sheet",
        subject=", ".join(filter(None, (machine, axis))) or "Homing trial",
        verdict=f"{plan.sentence}.",
        reason=f"About {plan.minutes:.0f} min in all, in the order below (seed {plan.seed}).",
        sections=(
            Section(
                "Before anything moves",
                (
                    *(Note(text, strong=True) for text in MOVES_BY_ITSELF),
                    Note(NOT_A_SAFETY_FUNCTION),
                    *((MOUNTED,) if len(plan.candidates) > 1 else ()),
                    Blanks(("Read by", "Indicator, its smallest step and unit", "Sensor mounted on (day, hour)")),
                ),
            ),
            Section("How to read", (indicator_picture(sides=plan.sides, axis=plan.axis), Points(HOW_TO_READ))),
            Section(
                "First: ten readings without homing",
                (
                    (
                        "Leave the axis where it is. Tap the stand lightly, wait, read; ten times. This is what "
                        "indicator and stand add: if it scatters like the homings, it is not the switch."
                    ),
                    *_repeats(plan),
                ),
            ),
            *days,
            Section("Afterwards", (Points(_afterwards(plan, system)),)),
            *_long_run(plan),
            *((_noise_hunt(),) if noise else ()),
        ),
        version=__version__,
        digests=(),
        invented=invented,
        contents=False,
    )


def _long_run(plan: TrialPlan) -> tuple[Section, ...]:
    """Where a long run pays: what for, and under which conditions alone."""
    if plan.long_run is None or plan.long_run.pays_up_to is None:
        return ()
    conditions = tuple(Note(text, strong=True) for text in CONDITIONS)
    return (Section("Long run", (Points(tuple(about_the_run(plan.long_run))), *conditions)),)


def _when(day: int) -> str:
    return "" if day == 1 else ": a night or more after mounting"


def _blocks(steps: Iterable[PlanStep]) -> list[tuple[PlanStep, ...]]:
    return [tuple(block) for _, block in groupby(steps, key=lambda step: step.block)]


def _block(steps: tuple[PlanStep, ...], plan: TrialPlan, system: System) -> Boxes:
    first = steps[0]
    if first.kind == "speeds":
        speeds = [show(speed, "speed", system=system) for speed in plan.speeds.mm_s]
        speeds_said = " and ".join(speeds) if speeds else "two creep speeds, one half of the other"
        caption = f"Speeds: after one more power-up, creep speed in turn {speeds_said}"
        heads = [f"{i} {'ab'[(i + 1) % 2]}" for i in range(1, first.readings + 1)]
    else:
        caption = f"Power-up {first.block} of each: switch off, wait, switch on, warm up as always, home, read"
        heads = [str(i) for i in range(1, first.readings + 1)]
    return _boxes(caption, heads, [step.candidate for step in steps], plan.sides)


def _boxes(caption: str, heads: list[str], names: list[str], sides: tuple[str, ...]) -> Boxes:
    """A row for each candidate and side; more boxes than go beside each other take further rows."""
    pieces = [heads[at : at + ACROSS] for at in range(0, len(heads), ACROSS)]
    rows = [
        (name, SIDES[side], *((f"from {piece[0]}",) if len(pieces) > 1 else ()))
        for name in names
        for side in sides
        for piece in pieces
    ]
    across = pieces[0] if len(pieces) == 1 else [f"+{i}" for i in range(ACROSS)]
    lead = ("Candidate", "Side", *(("",) if len(pieces) > 1 else ()), "Time", "Temp.")
    return Boxes(caption, (*lead, *across), tuple(rows))


def _repeats(plan: TrialPlan) -> tuple[Boxes, ...]:
    steps = [step for step in plan.steps if step.kind == "repeat"]
    heads = [str(i) for i in range(1, steps[0].readings + 1)]
    return (_boxes("Without homing", heads, [""], plan.sides),)


def _afterwards(plan: TrialPlan, system: System) -> tuple[str, ...]:
    sentences = [
        "Type it in or paste it at the Trial station; the last number of a line counts. A set is one power-up.",
        *(ask.text for ask in plan.asks),
        (
            f"{plan.split.total} homings without a gross miss leave a share of up to "
            f"{show_share(plan.misses_at_most)} possible."
        ),
    ]
    if plan.holds_up_to_mm is not None:
        side = "on each side " if len(plan.sides) == 2 else ""
        sentences.append(
            f"In 4 of 5 such trials a candidate is found to hold where its true spread {side}is "
            f"{show(plan.holds_up_to_mm, 'length', system=system, digits=2)} or less."
        )
    if plan.kind == "confirming":
        sentences.append("Enter it as a trial of the kind confirming: it is judged alone.")
    return tuple(sentences)


def _noise_hunt() -> Section:
    blocks: tuple[Block, ...] = (
        "Only where trips come without the flag. One change at a time, in this order; undo it before the next.",
        Note(HUNT_GUARD, strong=True),
        Boxes(
            "False trips under each condition",
            ("Condition", "Hours", "Trips", "Remark"),
            tuple((condition.name,) for condition in HUNT),
        ),
    )
    return Section("Noise hunt", blocks)
