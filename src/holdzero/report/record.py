"""Record: what stands in the record of a machine's homing, in the order a person reads it.

Verdict, what it is not, machine and requirement, choice, findings of every candidate, method, cautions,
inputs, signatures. A pure function: the same results give the same record.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from math import isfinite, isnan

from holdzero.caution import Caution
from holdzero.chart import Picture
from holdzero.chart.comparison import comparison_picture
from holdzero.chart.distribution import distribution_picture
from holdzero.chart.gantry import gantry_picture, worst_pair
from holdzero.chart.lengths import length_unit
from holdzero.chart.ranking import ranking_picture
from holdzero.chart.readings import readings_picture
from holdzero.chart.share import share_picture
from holdzero.choose.values import AllowedSpread, Candidate, Choice, Part
from holdzero.findings.values import Findings, Study
from holdzero.machine.values import Axis, Machine
from holdzero.quantity import System, decimals_for, fixed, show, show_interval, show_share
from holdzero.report import safety
from holdzero.report.content import (
    Attached,
    Blanks,
    Block,
    Facts,
    Note,
    Pictures,
    Points,
    RecordContent,
    Section,
    Table,
)
from holdzero.report.method import SOURCES, method
from holdzero.sensor.values import Sensor
from holdzero.spread.posterior import Interval

SIDES = {"L": "left side", "R": "right side", "difference": "right minus left", "": "one side"}


def record_content(
    machine: Machine,
    sensors: Sequence[Sensor],
    study: Study,
    choice: Choice,
    *,
    digests: Mapping[str, str],
    version: str,
    invented: str = "",
    day: date | None = None,
    system: System = "metric",
    more: Sequence[Section] = (),
    attached: tuple[Attached, ...] = (),
) -> RecordContent:
    """Put together the record of one axis.

    Parameters
    ----------
    machine : Machine
        The machine, with what is asked of it.
    sensors : sequence of Sensor
        The candidates, as their file has them.
    study : Study
        What the homings of each said.
    choice : Choice
        The decision, for the axis `choice.allowed.axis`.
    digests : mapping of str
        Name of each input to the SHA-256 of its text.
    version : str
        Version that computed the figures.
    invented : str
        What to say on every page where the data are made up.
    day : date, optional
        Day of the record; `last_day` gives that of the last reading.
    system : "metric" or "inch"
        Units shown.
    more : sequence of Section
        Further sections (wiring, travel, squareness, checklist), set after the findings.
    attached : tuple of Attached
        Files the document carries along.
    """
    axis = machine.axis(choice.allowed.axis)
    notes = (
        (Section("Notes on the files", (Points((*machine.notes, *study.notes)),)),)
        if machine.notes or study.notes
        else ()
    )
    sections = (
        _before(axis),
        _asked(machine, axis, choice.allowed, system),
        _choice(axis, machine, sensors, study, choice, system),
        _findings(study, choice, system),
        *more,
        Section("How the figures were worked out", (*method(choice.confidence), _sources(study))),
        _cautions(choice, study),
        *notes,
        _signed(version, digests),
    )
    holds = (
        f"{choice.choice} holds zero on axis {axis.name}."
        if choice.choice
        else "No candidate is shown to hold zero."
    )
    return RecordContent(
        title="Does this machine hold zero?",
        subject=f"{machine.name}, axis {axis.name}",
        verdict=holds,
        reason=choice.reason,
        sections=sections,
        version=version,
        digests=tuple(digests.items()),
        invented=invented,
        day=day,
        attached=attached,
    )


def last_day(study: Study) -> date | None:
    """Return the day of the last reading whose time is given as YYYY-MM-DD..., or None."""
    days = []
    for found in study.findings:
        for time in found.homings.time:
            try:
                days.append(date.fromisoformat(str(time)[:10]))
            except ValueError:
                continue
    return max(days, default=None)


def _before(axis: Axis) -> Section:
    """What this record is not, and what comes first at the machine."""
    two = (Note(safety.racking_force(axis.thrust_n), strong=True),) if axis.motors == 2 else ()
    return Section(
        "Before anything else",
        (
            Note(safety.NOT_A_SAFETY_FUNCTION, strong=True),
            Points((*safety.BEFORE_ANYTHING_ELSE, f"{safety.NOT_A_CERTIFICATE} {safety.A_GOOD_CHART}")),
            *two,
            Table(
                "Standards this record defers to", ("Standard", "What it settles"), safety.STANDARDS, align="ll"
            ),
        ),
    )


def _asked(machine: Machine, axis: Axis, allowed: AllowedSpread, system: System) -> Section:
    """The machine, what is asked of it, and the spread that leaves."""

    def length(value_mm: float | None) -> str:
        return "not given" if value_mm is None else show(value_mm, "length", system=system)

    rows = [
        ("Machine", machine.name),
        ("Axis", f"{axis.name}, {'two motors side by side' if axis.motors == 2 else 'one motor'}"),
        ("Travel", length(axis.travel_mm)),
    ]
    if axis.motors == 2:
        rows.append(("Between the drives", length(axis.drive_distance_mm)))
    if axis.lead_mm is not None:
        rows.append(("Lead per motor turn", length(axis.lead_mm)))
    if axis.creep_speed_mm_s is not None:
        rows.append(("Creep speed", show(axis.creep_speed_mm_s, "speed", system=system)))
    if allowed.squareness_mm is not None:
        rows.append(
            ("Squareness asked", f"{length(allowed.squareness_mm)} over {length(allowed.squareness_over_mm)}")
        )
    if allowed.position_mm is not None:
        rows.append(("Position asked", f"within ± {length(allowed.position_mm)} of the datum"))
    rows += [
        ("Risk", f"{show_share(allowed.risk)} homings may land outside"),
        ("Spread allowed, a switch", show(allowed.spread_allowed_mm, "length", system=system, digits=3)),
        ("Bound by", "squareness and position together" if allowed.bound_by == "both" else allowed.bound_by),
    ]
    if allowed.squareness_alone_mm is not None and allowed.position_alone_mm is not None:
        square, position = (
            show(x, "length", system=system, digits=3)
            for x in (allowed.squareness_alone_mm, allowed.position_alone_mm)
        )
        rows.append(("Each alone would allow", f"squareness {square}, position {position}"))
    return Section(
        "The machine and what is asked of it",
        (Facts(tuple(rows)), allowed.datum_from),
    )


def _choice(
    axis: Axis, machine: Machine, sensors: Sequence[Sensor], study: Study, choice: Choice, system: System
) -> Section:
    """Every candidate side by side, the pictures, and what each verdict rests on."""
    head = (
        "Sensor",
        "Kind",
        "Price",
        "Verdict",
        "Chance it holds",
        "with heavy tails",
        "Share outside",
        "Gross misses",
    )
    rows = tuple(_candidate_row(candidate) for candidate in choice.candidates)
    blocks: list[Block] = [choice.reason, Table("The candidates", head, rows, align="llrlrrrl")]
    blocks.append(comparison_picture(choice, system=system))
    if ranked := ranking_picture(choice, system=system):
        blocks.append(ranked)
    blocks += [one.sentence for one in choice.more_money]
    if any(part.findings.posterior is not None for candidate in choice.candidates for part in candidate.parts):
        blocks.append(share_picture(choice, system=system))
    blocks += _gantry(axis, machine, study, choice, system)
    blocks.append(_sheet_facts(sensors, system))
    return Section("The choice", tuple(blocks))


def _candidate_row(candidate: Candidate) -> tuple[str, ...]:
    sensor, misses = candidate.sensor, candidate.misses
    return (
        sensor.name,
        sensor.kind,
        "–" if sensor.price is None else show(sensor.price, "price"),
        candidate.verdict.value + (", ruled out" if candidate.ruled_out else ""),
        _chance(candidate.chance_holds),
        _chance(candidate.chance_holds_heavy),
        _outside(candidate.share_outside),
        "–" if misses is None else f"{misses.count} of {misses.n} (≤ {show_share(misses.high_95)})",
    )


def _chance(chance: float | None) -> str:
    """A chance, never so many nines that they claim what the homings cannot show."""
    if chance is None:
        return "–"
    return "over 99.9\u202f%" if chance > 0.999 else "below 0.1\u202f%" if chance < 0.001 else show_share(chance)


def _outside(share: float | None) -> str:
    """A share outside; what a bell curve foretells beyond one in a million means nothing."""
    return "–" if share is None else show_share(share) if share >= 1e-6 else "< 1 in 1\u202f000\u202f000"


def _gantry(axis: Axis, machine: Machine, study: Study, choice: Choice, system: System) -> list[Picture]:
    """The gantry racked by the worst pair of the chosen sensor, or of the tightest that was tried."""
    if axis.motors != 2 or axis.drive_distance_mm is None:
        return []
    names = [choice.choice] if choice.choice else [candidate.sensor.name for candidate in choice.candidates]
    for name in names:
        left, right = (study.of(name, axis.name, side) for side in ("L", "R"))
        if left and right and (worst := worst_pair(left, right)):
            return [gantry_picture(axis, machine.requirement, worst, system=system)]
    return []


def _sheet_facts(sensors: Sequence[Sensor], system: System) -> Table:
    """What the data sheets say; it is not what was found."""
    head = ("Sensor", "Supply", "Output", "Contact", "Repeatability stated", "Life stated")
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
    if low is None and high is None:
        return "–"
    return show(low, "voltage") if low is not None and low == high else show_interval(low, high, "voltage")


def _findings(study: Study, choice: Choice, system: System) -> Section:
    """One part a candidate: verdict, figures, pictures, patterns."""
    below = [_candidate(candidate, study, choice.allowed, system) for candidate in choice.candidates]
    reading = (
        "All figures are day-to-day ones unless they are called within; an interval has a chance of 95\u202f%."
    )
    return Section("What the homings say", (reading,), tuple(below))


def _candidate(candidate: Candidate, study: Study, allowed: AllowedSpread, system: System) -> Section:
    """The findings of one candidate on the axis of the record."""
    name, kind = candidate.sensor.name, candidate.sensor.kind
    heading = f"{name}{f', {kind}' if kind else ''}: {candidate.verdict.value}"
    found = [f for f in study.findings if f.sensor == name and f.axis in (allowed.axis, "")]
    said = " ".join(_sentences((*candidate.reasons, candidate.rests_on)))
    blocks: list[Block] = [said] if said else []
    if candidate.ruled_out:
        blocks.append(Note(f"Ruled out: {'; '.join(candidate.ruled_out)}."))
    if candidate.to_settle is not None:
        blocks.append(candidate.to_settle.sentence)
    if not found:
        return Section(heading, (*blocks, "There are no readings of this candidate."))
    blocks.append(_figures(name, found, candidate.parts, system))
    pictures = [readings_picture(f, allowed=allowed, system=system) for f in found]
    if candidate.parts and candidate.parts[0].findings.counted.any():
        pictures.append(distribution_picture(candidate.parts[0].findings, allowed=allowed, system=system))
    blocks.append(Pictures(tuple(pictures)))
    blocks += dict.fromkeys(f.setup.sentence for f in found if f.setup)
    blocks += dict.fromkeys(effect.sentence for f in found for effect in f.effects)
    blocks += _patterns(found)
    return Section(heading, tuple(blocks))


def _figures(name: str, found: Sequence[Findings], parts: Sequence[Part], system: System) -> Table:
    """Figures down, sides across, all lengths in one unit."""
    part_of = {id(part.findings): part for part in parts}
    asked = [part_of.get(id(f)) for f in found]
    highs = [f.spread.high for f in found if isfinite(f.spread.high)]
    unit = length_unit(max(highs, default=0.0), system)

    def length(value_mm: float | None, doubt_mm: float | None = None) -> str:
        if value_mm is None or isnan(value_mm):
            return "–"
        if not doubt_mm or not isfinite(doubt_mm):
            return unit.say(value_mm).removesuffix(unit.name).strip()
        return fixed(value_mm, "length", unit=unit.name, decimals=decimals_for(doubt_mm / unit.size_mm))[0]

    def spread(interval: Interval | None) -> str:
        if interval is None or not isfinite(interval.high):
            return "–"
        if interval.middle is None:
            return f"at most {length(interval.high)}"
        middle, low, high = (
            length(x, (interval.high - interval.low) / 4) for x in (interval.middle, interval.low, interval.high)
        )
        return f"{middle} ({low} to {high})"

    rows: list[tuple[str, ...]] = [
        ("Homings that count; power-ups", *(f"{f.n}; {f.sets}" for f in found)),
        ("Step of the display", *(length(f.resolution_mm) if f.resolution_mm else "not stated" for f in found)),
        ("Mean", *(length(f.mean_mm, f.sd_mm / f.n**0.5 if f.n > 1 else None) for f in found)),
        ("Span", *(length(f.span_mm) for f in found)),
        ("Plain standard deviation", *(length(f.sd_mm) for f in found)),
        ("Spread, day to day (95 %)", *(spread(f.spread) for f in found)),
        ("Spread within a power-up", *(spread(f.within) for f in found)),
        ("Spread between power-ups", *(spread(f.between) for f in found)),
    ]
    aside = [int((f.homings.set_aside != "").sum()) for f in found]
    if any(aside):
        rows.insert(1, ("Set aside", *(str(count) for count in aside)))
        rows.append(
            (
                "Spread with those set aside",
                *(spread(f.with_set_aside.spread if f.with_set_aside else None) for f in found),
            )
        )
    if any(asked):
        rows.append(("Spread allowed", *("–" if p is None else length(p.spread_allowed_mm) for p in asked)))
        rows.append(("Chance it holds", *(_chance(p.chance_holds if p else None) for p in asked)))
    head = (f"Lengths in {unit.name}", *(SIDES.get(f.side, f.side) for f in found))
    return Table(f"Figures of {name}", head, tuple(rows))


def _patterns(found: Iterable[Findings]) -> list[Block]:
    """Patterns in the readings that point at a cause: each once, with the sides that show it."""
    seen: dict[str, list[str]] = {}
    advice: dict[str, str] = {}
    for f in found:
        for signature in f.signatures:
            side = SIDES.get(f.side, f.side).capitalize()
            seen.setdefault(signature.code, []).append(f"{side}: {signature.sentence}")
            causes = f" Likely causes, likeliest first: {'; '.join(signature.causes)}." if signature.causes else ""
            advice[signature.code] = causes + (
                f" To tell them apart: {signature.check}" if signature.check else ""
            )
    return [Note(" ".join(sentences) + advice[code]) for code, sentences in seen.items()]


def _cautions(choice: Choice, study: Study) -> Section:
    """Every doubt that travels with a figure, each once, with the candidates it is about."""
    whose: dict[Caution, list[str]] = {}
    for caution in (*choice.allowed.cautions, *choice.cautions):
        whose.setdefault(caution, [])
    for candidate in choice.candidates:
        for caution in candidate.cautions:
            whose.setdefault(caution, []).append(candidate.sensor.name)
    for f in study.findings:
        for caution in f.cautions:
            names = whose.setdefault(caution, [])
            if f.sensor and f.sensor not in names:
                names.append(f.sensor)
    items = []
    for caution, names in whose.items():
        about = f"{', '.join(dict.fromkeys(names))}: " if names else ""
        items.append(f"{about}{caution.text}{f' ({caution.source})' if caution.source else ''}")
    return Section("Cautions that go with the figures", (Points(tuple(items)) if items else "None.",))


def _sources(study: Study) -> Points:
    """Where the methods are from: ours, and those that the figures name."""
    named = dict.fromkeys(source for f in study.findings for source in f.sources)
    return Points((*SOURCES, *named))


def _signed(version: str, digests: Mapping[str, str]) -> Section:
    """What the figures came from, and who stands for them."""
    rows = tuple((name, digest) for name, digest in digests.items())
    return Section(
        "Inputs and signatures",
        (
            f"Computed by holdzero {version}. The same inputs give the same figures.",
            Table("SHA-256 of the inputs", ("Input", "Digest"), rows, align="ll"),
            Blanks(
                ("Indicator or encoder used", "Temperature at the machine", "Changed since the trial"),
                signed=("Tried by", "Checked by"),
            ),
        ),
    )


def _sentences(parts: Iterable[str]) -> list[str]:
    """Reasons as sentences: a capital in front, a full stop behind."""
    return [
        part[:1].upper() + part[1:] + ("" if part.endswith((".", "?", "!")) else ".") for part in parts if part
    ]
