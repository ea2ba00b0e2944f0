"""Front: the first page of a record, the one to pin to the machine.

Machine, what is asked, standing, the candidates against the limit, what is open, the decision, lines to sign and
what comes before anything else.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from holdzero.case.standing.values import Standing
from holdzero.chart.comparison import comparison_picture
from holdzero.compute.choose import AllowedSpread, Choice, Decision
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.quantity import System, show, show_share
from holdzero.report.content import Front
from holdzero.tell import safety
from holdzero.tell.blocks import Blanks, Block, Facts, Note, Pictures, Points, Section
from holdzero.tell.standing import axis_section
from holdzero.tell.words import count_of

MOST_SERIES = 20  # lines of the picture; of more, only the one of each candidate that decides
TALL = 6  # lines of a picture from which nothing more goes below it
MOST_OPEN = 7
LONGEST = 220  # letters of a reason given by hand that stand on the first page; the whole stands in the annex


def front_page(
    machine: Machine,
    choice: Choice,
    *,
    standing: Standing | None,
    still_open: Sequence[str],
    decisions: Sequence[Decision],
    digests: Mapping[str, str],
    system: System,
) -> Front:
    """Put the first page together.

    Parameters
    ----------
    machine : Machine
        The machine.
    choice : Choice
        For the axis `choice.allowed.axis`.
    standing : Standing or None
        Of that axis.
    still_open : sequence of str
        What is left to do, most important first.
    decisions : sequence of Decision
        Newest first.
    digests : mapping of str
        Of the inputs, to see whether a decision still rests on the same.
    system : "metric" or "inch"
        Units shown.
    """
    axis = machine.axis(choice.allowed.axis)
    asked = Section("The machine and what is asked of it", (_asked(machine, axis, choice.allowed, system),))
    stands = [_standing(standing, system)] if standing is not None else []
    series = sum(len(candidate.parts) for candidate in choice.candidates)
    picture = [_picture(choice, system)] if series else []
    left_to_do = _open(still_open)
    tall = series > TALL
    return Front(
        left=(asked, *stands) if picture else (asked,),
        right=(*(picture or stands), *(() if tall else (left_to_do,))),
        across=(*((left_to_do,) if tall else ()), _before(axis)),
        foot=(*([_decision(decisions, digests)] if choice.candidates else []), _signed()),
    )


def _asked(machine: Machine, axis: Axis, allowed: AllowedSpread, system: System) -> Facts:
    """The machine, what is asked of it, and the spread that leaves."""

    def length(value_mm: float | None, digits: int | None = None) -> str:
        return "not given" if value_mm is None else show(value_mm, "length", system=system, digits=digits)

    two = axis.motors == 2
    across = f", {length(axis.drive_distance_mm)} apart" if two and axis.drive_distance_mm is not None else ""
    rows = [
        ("Machine", machine.name),
        ("Axis", f"{axis.name}, {'two motors side by side' if two else 'one motor'}{across}"),
        ("Travel", length(axis.travel_mm)),
    ]
    if allowed.squareness_mm is not None:
        square = f"{length(allowed.squareness_mm)} over {length(allowed.squareness_over_mm)}"
        rows.append(("Squareness asked", square))
    if allowed.position_mm is not None:
        rows.append(("Position asked", f"within ± {length(allowed.position_mm)} of the datum"))
    return Facts(
        (
            *rows,
            ("Risk", f"{show_share(allowed.risk, of='homings')} may land outside"),
            ("Spread allowed, a switch", length(allowed.spread_allowed_mm, digits=3)),
        )
    )


def _standing(standing: Standing, system: System) -> Section:
    """Both questions part by part."""
    return Section("Where it stands", axis_section(standing, system=system).blocks)


def _picture(choice: Choice, system: System) -> Section:
    """Every candidate against what is allowed."""
    if sum(len(candidate.parts) for candidate in choice.candidates) > MOST_SERIES:
        deciding = (replace(candidate, parts=candidate.parts[:1]) for candidate in choice.candidates)
        choice = replace(choice, candidates=tuple(deciding))
    return Section("The candidates against the limit", (Pictures((comparison_picture(choice, system=system),)),))


def _open(still_open: Sequence[str]) -> Section:
    """What is left to do; of much, how much more there is."""
    more = len(still_open) - MOST_OPEN
    items = tuple(still_open) if more <= 1 else (*still_open[:MOST_OPEN], f"{more} more: see the annex.")
    return Section(
        "What is open", (Points(items) if items else "Nothing that the figures ask for; see where it stands.",)
    )


def _before(axis: Axis) -> Section:
    """What this record is not, and what comes first at the machine."""
    two = (Note(safety.racking_force(axis.moving.thrust_n), strong=True),) if axis.motors == 2 else ()
    return Section(
        "Before anything else",
        (
            Note(safety.NOT_A_SAFETY_FUNCTION, strong=True),
            *two,
            Points((*safety.BEFORE_ANYTHING_ELSE, f"{safety.NOT_A_CERTIFICATE} {safety.A_GOOD_CHART}")),
        ),
    )


def _decision(decisions: Sequence[Decision], digests: Mapping[str, str]) -> Section:
    """What was taken, by whom and why, and whether what it rests on is still the same."""
    if not decisions:
        blanks = Blanks(("Candidate taken", "Because"), signed=("Decided by",))
        return Section(
            "The decision", ("No decision is kept. Which one is taken, and why, is a person's to say.", blanks)
        )
    newest = decisions[0]
    rows = [
        ("Taken", f"{newest.sensor} ({newest.verdict})"),
        ("Recommended then", newest.recommended or "none"),
        ("Because", shortened(newest.reason)),
        ("Decided", " by ".join(filter(None, (newest.day, newest.by)))),
        ("Rests on", f"inputs {newest.digest[:12]}, holdzero {newest.version}"),
        ("Since then", newest.standing(digests)),
    ]
    earlier = len(decisions) - 1
    before: tuple[Block, ...] = (f"{count_of(earlier, 'decision')} before it: see the annex.",) if earlier else ()
    return Section("The decision", (Facts(tuple(rows)), *before))


def _signed() -> Section:
    """Who stands for it, and at what it was tried."""
    blanks = Blanks(
        ("Indicator or encoder used", "Temperature at the machine", "Changed since the trial"),
        signed=("Tried by", "Checked by"),
    )
    return Section("Signatures", (blanks,))


def shortened(text: str) -> str:
    """Cut what a person wrote to what the first page has room for; `annex` gives the whole of it."""
    return text if len(text) <= LONGEST else text[: LONGEST - 1].rstrip() + "…"
