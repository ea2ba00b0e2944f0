"""Choice: which candidate holds, the cheapest that does, and why."""

from collections.abc import Sequence
from functools import partial

from holdzero.case import Case
from holdzero.compute.choose import AllowedSpread, Candidate, Choice
from holdzero.compute.choose.asks import Ask
from holdzero.compute.compare import Comparison
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import (
    System,
    show,
    show_chance,
    show_foretold,
    show_interval,
    show_range,
    show_share,
    show_temperatures,
)
from holdzero.tell.blocks import Answer, Block, Note, Points, Section, SectionsWorded, Table
from holdzero.tell.method import method
from holdzero.tell.words import MARKS, marked, paragraph, sentence

BOUND = {"both": "squareness and position bind it together"}


def tell_choice(case: Case) -> Answer:
    """Tell which candidate holds what is asked of the axis judged, and the cheapest that does.

    Raises
    ------
    HoldzeroError
        No choice can be made.
    """
    choice, system = case.chosen, case.system
    decided = [f"{decision.sentence} {decision.standing(case.basis.digests)}" for decision in case.basis.decisions]
    about = [
        partial(Section, title, (Points(tuple(items)),))
        for title, items in (
            ("Decided", decided),
            ("What more money buys", [dearer.sentence for dearer in choice.more_money]),
        )
        if items
    ]
    if choice.comparison:
        about.append(
            partial(
                Section,
                "The tightest",
                (compared(choice.comparison, choice.compared), _chances(choice.comparison)),
            )
        )
    known = tuple(Note(caution.text) for caution in (*choice.allowed.cautions, *choice.cautions))
    return Answer(
        headline=headline(case),
        lead=(case.standings.machine.headline, asked_of(choice.allowed, system)),
        to_do=Points(to_do(case)),
        table=candidates_table(choice, tails=False),
        more=SectionsWorded(
            (
                lambda: Section(
                    "Why", (paragraph((choice.reason, case.judged.reservation)), bound_by(choice.allowed))
                ),
                lambda: Section("Chances", (candidates_table(choice),)),
                *about,
                lambda: Section("If something else were asked", (what_if(case.asked_otherwise),)),
                *(partial(_why, candidate, system) for candidate in choice.candidates),
            )
        ),
        explained=(
            Section("What these figures mean", method(choice.confidence)),
            *([Section("Before trusting them", known)] if known else []),
        ),
    )


def headline(case: Case) -> str:
    """Name the choice: the cheapest that holds, so far where something is still asked for; what is taken first."""
    choice, decision = case.chosen, case.judged.decision
    if decision is not None and decision.sensor != choice.choice:
        holds = f"{choice.choice} is the cheapest that holds" if choice.choice else "no candidate is shown to hold"
        return f"{decision.sensor} is taken; {holds}."
    if choice.choice is None:
        return "No candidate is shown to hold."
    so_far = case.still_asked or case.standing.answer == "holds so far"
    return f"{choice.choice} is the cheapest that holds{' so far' if so_far else ''}."


def to_do(case: Case) -> tuple[str, ...]:
    """Say what is open: what is asked before a `holds` may stand, causes to cure, what settles a close call."""
    return what_is_open(case.chosen, case.asks, following=case.standing.next)


def what_is_open(choice: Choice, asks: Sequence[Ask], *, following: str) -> tuple[str, ...]:
    """Say what is open: what is asked before a `holds` may stand, the next thing, causes to cure.

    Parameters
    ----------
    choice : Choice
    asks : sequence of Ask
        What the trial has to hold.
    following : str
        The next thing to do for the axis; empty where there is none.
    """
    asked = [
        f"Before “holds” may stand: {paragraph((ask.text, ask.standing))}"
        for ask in asks
        if not ask.done and choice.any_holds
    ]
    cures = [
        f"{candidate.sensor.name}, cure first: {candidate.cure}"
        for candidate in choice.candidates
        if candidate.cure
    ]
    return (*choice.notes, *asked, *([sentence(f"next: {following}")] if following else []), *map(sentence, cures))


def asked_of(allowed: AllowedSpread, system: System) -> str:
    """Say what is asked of an axis, and the spread that leaves."""

    def length(value_mm: float, digits: int | None = None) -> str:
        return show(value_mm, "length", system=system, digits=digits)

    asked = []
    if allowed.squareness_limit_mm is not None and allowed.squareness_mm and allowed.squareness_over_mm:
        asked.append(f"square to {length(allowed.squareness_mm)} over {length(allowed.squareness_over_mm)}")
    if allowed.position_mm is not None:
        asked.append(f"home within ±{length(allowed.position_mm)}")
    per = "a side" if allowed.motors == 2 else "its switch"
    return (
        f"Asked of axis {allowed.axis}: {', '.join(asked)}, but for {show_share(allowed.risk, of='homings')}: "
        f"a spread of at most {length(allowed.spread_allowed_mm, 3)} for {per}."
    )


def bound_by(allowed: AllowedSpread) -> str:
    """Say what binds the spread allowed, and where the datum comes from."""
    return paragraph((BOUND.get(allowed.bound_by, f"{allowed.bound_by} binds it"), allowed.datum_from))


def candidates_table(choice: Choice, *, tails: bool = True) -> Table:
    """Return a row a candidate: verdict, chance, what lands outside, price; `tails`: also under heavier ones."""
    chances = ("Chance it holds", "under heavier tails") if tails else ("Chance it holds",)
    head = ("Candidate", "Verdict", *chances, "Share outside", "Missed", "Price")
    rows = tuple(_row(candidate, tails) for candidate in choice.candidates)
    return Table("The candidates", head, rows, align="lw" + "r" * (len(head) - 2))


def _row(candidate: Candidate, tails: bool) -> tuple[str, ...]:
    sensor, misses = candidate.sensor, candidate.misses
    return (
        sensor.name,
        f"✗ ruled out ({candidate.shown})" if candidate.ruled_out else marked(candidate.shown),
        show_chance(candidate.chance_holds),
        *([show_chance(candidate.chance_holds_wide)] if tails else []),
        show_foretold(candidate.share_outside),
        "–" if misses is None else f"{misses.count}/{misses.n}",
        "–" if sensor.price is None else show(sensor.price, "price"),
    )


def _why(candidate: Candidate, system: System) -> Section:
    """Return what a verdict rests on, and what to know before trusting it."""
    kind = f", {candidate.sensor.kind}" if candidate.sensor.kind else ""
    reasons = (*(f"Ruled out. {fact}" for fact in candidate.ruled_out), *candidate.reasons, candidate.rests_on)
    points = tuple(sentence(reason) for reason in reasons if reason)
    cautions = tuple(Note(caution.text) for caution in candidate.cautions)
    blocks: tuple[Block, ...] = (*([Points(points)] if points else []), *cautions)
    return Section(f"{candidate.sensor.name}{kind}: {candidate.shown}{tried_at(candidate, system)}", blocks)


def tried_at(candidate: Candidate, system: System) -> str:
    """Say at which temperatures it was tried, where they were noted."""
    if candidate.valid_for_degc is None:
        return ""
    return f", tried at {show_temperatures(*candidate.valid_for_degc, system=system)}"


def _chances(comparison: Comparison) -> str:
    chances = (f"{name} {show_chance(chance)}" for name, chance in comparison.ranking.chance_tightest.items())
    return f"Chance of the smallest spread: {', '.join(chances)}."


def compared(comparison: Comparison, basis: str) -> str:
    """Which is the tightest, in words."""
    sentences = [comparison.sentence, f"Meant is the spread {basis}, on the worse side"]
    if comparison.alike is not None:
        sentences.append(
            f"Brown-Forsythe, whether all scatter alike within their sets: chance {comparison.alike.p:.2g}"
        )
    return paragraph((*sentences, *(caution.text for caution in comparison.cautions)))


def what_if(choice: Choice) -> Table:
    """Verdicts if the tolerance or the risk were another."""
    names = [candidate.sensor.name for candidate in choice.candidates]
    rows = tuple(
        (change.name, *(MARKS[change.verdicts[name]] for name in names), change.choice or "–")
        for change in choice.changes
    )
    sentence = "If something else were asked (✓ holds, ≈ too close to call, ✗ does not hold, ? cannot say)"
    return Table(sentence, ("If asked", *names, "Choice"), rows, align="l" * (len(names) + 2))


def sheet_facts(sensors: Sequence[Sensor], system: System) -> Table:
    """What the data sheets say; it is not what was found."""
    head = ("Sensor", "Supply", "Output", "Contact", "Repeatability", "Life")
    rows = []
    for sensor in sensors:
        supply = _supply(sensor)
        stated = "–"
        if sensor.repeatability_mm is not None:
            figure = show(sensor.repeatability_mm, "length", system=system)
            stated = f"{figure} {sensor.repeatability_convention or ''}".strip()
        life = "–" if sensor.life_cycles is None else show(sensor.life_cycles, "cycles")
        rows.append((sensor.name, supply, sensor.output or "–", sensor.contact or "–", stated, life))
    return Table("What the data sheets say (not what was found)", head, tuple(rows), align="llllll")


def _supply(sensor: Sensor) -> str:
    low, high = sensor.supply_low_v, sensor.supply_high_v
    if low is None or high is None:
        return "–" if low is high else show_interval(low, high, "voltage")
    return show_range(low, high, "voltage")
