"""Capture: what some hundred homings of one power-up say of each switch; before that, whether it may be tapped."""

from collections.abc import Sequence

from holdzero import quantity
from holdzero.caution import Caution
from holdzero.chart import Picture
from holdzero.chart.wiring import diagram
from holdzero.compute.capture import CaptureFindings, DebounceTime, SwitchFindings
from holdzero.compute.wiring import TapSeen, assess
from holdzero.quantity import System, field_unit, fixed, show_interval
from holdzero.tell.blocks import Answer, Note, Pictures, Points, Section, Table
from holdzero.tell.words import count_of, listed, marked, paragraph

SHOWN_RATE = 1e-3  # of the debounce times, the one that is told first
KINDS = {
    "first edge": "first edge, then lock out",
    "quiet": "until it is quiet",
}
_FEW = 6  # rows of the table by speed that one look takes in
LISTED = 20  # trips and releases in the table of a page; all are in the readings file and the JSON
MEANING = (
    (
        "A place is counted from the start of the file, plus towards the switch, at the first edge of each "
        "event; between two counts it is interpolated. Spread is about the mean at each speed; trips seconds "
        "apart are not independent, so they count as fewer."
    ),
    (
        "The delay is the slope of place on speed; jitter, the part of the scatter that grows with speed, is told "
        "where the scatter differs between speeds. Differential travel is trip less the release after it, the way "
        "of the delay taken out where it is known."
    ),
    (
        "First edge: the controller takes the first edge and locks the rest out. No way is lost, but pulses "
        "come through. Quiet: it waits until the level has stood still; that time and the bounce are way, and "
        "the bounce is scatter."
    ),
    "One capture is one power-up: it shows the scatter within it, and nothing of what the next power-up brings.",
)


def tell_capture(findings: CaptureFindings, *, system: System = "metric") -> Answer:
    """Tell each switch in a sentence, what to doubt, its speeds; then debounce, index, both sides.

    Parameters
    ----------
    findings : CaptureFindings
    system : {"metric", "inch"}
        Units shown.
    """
    headline, *further = (switch_headline(switch, system) for switch in findings.switches)
    several = bool(further)
    cautions = capture_cautions(findings)
    lead = [
        *further,
        *filter(None, (paragraph(_timing(switch, system, several=several)) for switch in findings.switches)),
        paragraph(_count(findings, system)),
    ]
    notes = tuple(findings.recorded.notes)
    speeds = speeds_table(findings, system)
    return Answer(
        headline=headline,
        lead=tuple(lead),
        to_do=Points(tuple(caution.text for caution in cautions), title="Before trusting these figures"),
        table=speeds if len(speeds.rows) <= _FEW else speeds_table(findings, system, trips_only=True),
        more=(
            *([Section("Trips and releases, each way", (speeds,))] if len(speeds.rows) > _FEW else []),
            *(
                Section(f"Debounce of {switch.switch.name}" if several else "Debounce", (table,))
                for switch in findings.switches
                if (table := debounce_table(switch, system))
            ),
            *(
                Section(f"Pulses of {switch.switch.name}" if several else "Pulses", (_pulses(switch, findings),))
                for switch in findings.switches
                if switch.events.pulse_tick.size
            ),
            *([Section("Notes", (Points(notes),))] if notes else []),
        ),
        explained=(
            Section("What these figures mean", MEANING),
            *(
                [Section("Sources", (Points(tuple(dict.fromkeys(caution.source for caution in sourced))),))]
                if (sourced := [caution for caution in cautions if caution.source])
                else []
            ),
        ),
    )


def capture_cautions(findings: CaptureFindings) -> tuple[Caution, ...]:
    """What to know before trusting the figures: of the file, then of each switch."""
    return (*findings.cautions, *(caution for switch in findings.switches for caution in switch.cautions))


def switch_headline(findings: SwitchFindings, system: System = "metric") -> str:
    """Say what one switch did, and how far its trips scatter."""
    events, scatter = findings.events, findings.trips
    trips, releases, pulses = int(events.trip.sum()), int((~events.trip).sum()), events.pulse_tick.size
    name = {"L": "Left, ", "R": "Right, "}.get(findings.switch.side, "") + findings.switch.name
    interval = scatter.interval
    if interval is None or interval.middle is None:
        spread = "no spread can be stated"
    else:
        middle = quantity.show(interval.middle, "length", system=system, digits=2)
        spread = f"spread {middle} ({show_interval(interval.low, interval.high, 'length', system=system)})"
    counts = ", ".join(
        f"{n} {word}{'' if n == 1 else 's'}"
        for n, word in ((trips, "trip"), (releases, "release"), (pulses, "pulse"))
    )
    return f"{name}: {counts}; {spread}."


def speeds_table(findings: CaptureFindings, system: System = "metric", *, trips_only: bool = False) -> Table:
    """Return a row for each kind of event, way and speed.

    Parameters
    ----------
    findings : CaptureFindings
    system : {"metric", "inch"}
    trips_only : bool
        Only trips on the way in, where there are any: those make the home.
    """
    speed, length = field_unit("speed", system=system), field_unit("length", system=system)
    small = "µm" if system == "metric" else "thou"
    several = len(findings.switches) > 1
    head = (*(["Switch"] if several else []), "Event", "Way", speed, "n", f"Mean, {length}", f"Spread, {small}")
    groups = [(switch, group) for switch in findings.switches for group in switch.by_speed]
    inward = [pair for pair in groups if pair[1].kind == "trip" and pair[1].direction == 1]
    rows = tuple(
        (
            *([switch.switch.name] if several else []),
            group.kind,
            "in" if group.direction == 1 else "out",
            quantity.show(group.speed_mm_s, "speed", system=system, digits=3).split("\u202f")[0],
            str(group.n),
            fixed(group.mean_mm, "length", unit=length, decimals=4 if length == "mm" else 5)[0],
            fixed(group.spread.middle if group.spread else None, "length", unit=small, decimals=2)[0],
        )
        for switch, group in (inward if trips_only and inward else groups)
    )
    return Table("By speed", head, rows, align=("l" if several else "") + "llrrrr")


def debounce_table(findings: SwitchFindings, system: System = "metric") -> Table | None:
    """Return for how long a controller has to look away, by kind and miss rate, and what that costs; or None."""
    if not findings.bounce_longest_s:
        return None
    rows = tuple(
        (
            KINDS[row.kind],
            f"1 in {1 / row.miss_rate:.0f}",
            "cannot be said" if row.time_s is None else quantity.show(row.time_s, "time", digits=2),
            _cost(row, row.overtravel_mm, system),
            _cost(row, row.spread_mm, system),
            row.rests_on or "–",
        )
        for row in findings.debounce
    )
    head = ("The controller", "Missed", "Time", "Further way at approach", "Spread it adds", "Rests on")
    return Table(f"Debounce of {findings.switch.name}", head, rows, align="llrrrl")


def debounce_answer(findings: SwitchFindings, miss_rate: float, *, system: System = "metric") -> str:
    """Say for how long a controller has to look away after an edge of one switch, and what that costs.

    Parameters
    ----------
    findings : SwitchFindings
        Its rows are of the kind the controller has, or of both where that is not said.
    miss_rate : float
        Share of trips with a longer bounce, one of those of the rows. [-]
    system : {"metric", "inch"}
    """
    name = findings.switch.name
    if not findings.bounce_longest_s:
        return f"{name} does not bounce: any debounce time will do."
    clauses = []
    for row in findings.debounce:
        if row.miss_rate != miss_rate:
            continue
        kind = KINDS[row.kind]
        if row.time_s is None:
            clauses.append(f"{kind}: too few trips, or no exponential tail, to say a time; capture more homings")
            continue
        time = quantity.show(row.time_s, "time", digits=2)
        if row.kind == "first edge":
            clauses.append(f"{kind}: {time} of lock-out. No way and no spread, but a pulse counts as a trip")
            continue
        way = _cost(row, row.overtravel_mm, system)
        cost = (
            f"{way} further at approach speed" if row.overtravel_mm is not None else "way not known: say the speed"
        )
        clauses.append(f"{kind}: {time}. It costs {cost}, and adds {_cost(row, row.spread_mm, system)} of spread")
    return f"{name}, 1 in {1 / miss_rate:.0f} missed: " + paragraph(clauses)


def _cost(row: DebounceTime, cost_mm: float | None, system: System) -> str:
    if row.kind == "first edge":
        return "none"
    return "not known" if cost_mm is None else quantity.show(cost_mm, "length", system=system, digits=2)


def events_table(findings: SwitchFindings, system: System = "metric", *, tick_s: float, first: int = 0) -> Table:
    """Return the trips and releases of one switch, `LISTED` of them from number `first` (counted from 0).

    Parameters
    ----------
    findings : SwitchFindings
    system : {"metric", "inch"}
    tick_s : float
        Length of a tick. [s]
    first : int
        The first that is listed.
    """
    events, at = findings.events, findings.at
    length, speed = field_unit("length", system=system), field_unit("speed", system=system)
    with_index = bool((findings.to_index_mm == findings.to_index_mm).any())
    rows = []
    for i in range(first, min(first + LISTED, events.first.size)):
        counted = at.direction[i] != 0
        rows.append(
            (
                str(i + 1),
                "trip" if events.trip[i] else "release",
                quantity.show(float(events.first[i] * tick_s), "time", digits=6),
                {1: "in", -1: "out"}.get(int(at.direction[i]), "–"),
                fixed(float(at.position_mm[i]) if counted else None, "length", unit=length, decimals=4)[0],
                "–"
                if at.speed_mm_s[i] != at.speed_mm_s[i]
                else quantity.show(float(at.speed_mm_s[i]), "speed", system=system, digits=3).split("\u202f")[0],
                str(int(events.edges[i])),
                quantity.show(float((events.last[i] - events.first[i]) * tick_s), "time", digits=3),
                *([_or_dash(float(findings.to_index_mm[i]), length)] if with_index else []),
                "△ suspect" if findings.suspect[i] else "",
            )
        )
    head = (
        *("No.", "Event", "At", "Way", f"Place, {length}", speed, "Edges", "Bounce"),
        *([f"To index, {length}"] if with_index else []),
        "Place",
    )
    return Table(
        f"{findings.switch.name}: trips and releases", head, tuple(rows), align="llrlrrrr" + "r" * with_index + "l"
    )


def _or_dash(way_mm: float, unit: str) -> str:
    return fixed(way_mm, "length", unit=unit, decimals=4)[0] if way_mm == way_mm else "–"


def _timing(findings: SwitchFindings, system: System, *, several: bool) -> list[str]:
    name, lines = findings.switch.name, []
    if findings.differential_mm is not None:
        way = quantity.show(findings.differential_mm, "length", system=system, digits=3)
        lines.append(f"{name} releases {way} before it trips (differential travel)")
    if findings.delay is not None:
        delay = quantity.show(findings.delay.delay_s, "time", digits=3)
        within = show_interval(findings.delay.low_s, findings.delay.high_s, "time")
        jitter = (
            f", varying by {quantity.show(findings.jitter_s or 0.0, 'time', digits=2)}"
            if _jitters(findings)
            else ""
        )
        lines.append(f"{name} answers {delay} late ({within}){jitter}")
    if findings.bounce_longest_s:
        lines.append(f"{name} bounces for {quantity.show(findings.bounce_longest_s, 'time', digits=3)} at most")
        rows = [row for row in findings.debounce if row.time_s is not None and row.miss_rate == SHOWN_RATE]
        lines += [_debounce(row, system) for row in rows[-1 if several else 0 :]]
    return lines


def _jitters(findings: SwitchFindings) -> bool:
    """Whether the scatter is seen to grow with speed, so that a jitter may be told."""
    return bool(findings.jitter_s) and findings.trips.slowest_only


def _debounce(row: DebounceTime, system: System) -> str:
    time = quantity.show(row.time_s or 0.0, "time", digits=2)
    misses = f"1 in {1 / row.miss_rate:.0f} missed"
    if row.kind == "first edge":
        return f"Debounce by lock-out, {time}, {misses}: pulses come through"
    way, spread = "way not known", ""
    if row.overtravel_mm is not None:
        way = f"{quantity.show(row.overtravel_mm, 'length', system=system, digits=2)} way"
    if row.spread_mm is not None:
        spread = f", {quantity.show(row.spread_mm, 'length', system=system, digits=2)} spread"
    return f"Debounce by quiet, {time}, {misses}: {way}{spread}"


def _pulses(findings: SwitchFindings, whole: CaptureFindings) -> str:
    """Say how many pulses came away from any trip, how wide they are and what that points at."""
    width = findings.events.pulse_width * whole.recorded.tick_s
    narrow, wide = int((width < 1e-6).sum()), int((width > 100e-6).sum())
    least, most = (quantity.show(float(end), "time", digits=3) for end in (width.min(), width.max()))
    span = least if least == most else f"{least} to {most}"
    seen = whole.recorded.last_tick * whole.recorded.tick_s
    rate = f", {width.size / seen * 60:.3g} a minute" if seen > 0 else ""
    points_at = [
        *([f"{narrow} under 1\u202fµs, which an RC filter takes away"] if narrow else []),
        *([f"{wide} over 100\u202fµs, which are bounce or a loose wire"] if wide else []),
    ]
    return paragraph(
        (
            f"{count_of(width.size, 'pulse')} of {findings.switch.name} away from any trip{rate}, {span} wide",
            listed(points_at) if points_at else "",
            "Capture again with the spindle off, then on, to see what makes them. Common practice, no source",
        )
    )


def _count(findings: CaptureFindings, system: System) -> list[str]:
    recorded = findings.recorded
    n = recorded.invalid_tick.size
    final = int(recorded.count[-1]) * findings.channels.inward if recorded.count.size else 0
    lines = [f"{sum(recorded.changes.values())} changes, {n} impossible; the count ends at {final}"]
    if findings.sides is not None:
        interval = findings.sides.scatter.interval
        spread = interval.middle if interval else None
        scatter = "" if spread is None else f", spread {quantity.show(spread, 'length', system=system, digits=2)}"
        mean = quantity.show(findings.sides.mean_mm, "length", system=system, digits=3)
        lines.append(f"Right less left, {findings.sides.n} homings: mean {mean}{scatter}")
    if findings.index is not None and findings.index.pitch_mm is not None:
        pitch = quantity.show(findings.index.pitch_mm, "length", system=system, digits=4)
        phase = "" if findings.index.phase is None else f", {findings.index.phase:.2f} of that after the trip"
        wrong = "" if findings.index.wrong is None else f"; {findings.index.wrong} met another than usual"
        lines.append(f"Index every {pitch}{phase}{wrong}")
    return lines


def tell_tap(seen: Sequence[TapSeen], *, notes: Sequence[str] = ()) -> Answer:
    """Tell whether a channel of an analyser may hang on each input, and what to build where it may not.

    Parameters
    ----------
    seen : sequence of TapSeen
        At least one.
    notes : sequence of str
        What was read of the channel and not used.
    """
    bad = [tapped for tapped in seen if tapped.verdict != "fits"]
    rows = tuple(
        (
            tapped.circuit.name or "–",
            marked(tapped.verdict),
            show_interval(*tapped.clear_v, "voltage"),
            show_interval(*tapped.tripped_v, "voltage"),
            "–" if tapped.tripped_reads is None else str(tapped.tripped_reads),
        )
        for tapped in sorted(seen, key=lambda tapped: tapped.verdict == "fits")
    )
    return Answer(
        headline=f"{len(bad)} of {len(seen)} inputs may not be tapped as they are."
        if bad
        else "The analyser may be connected.",
        to_do=Points(
            tuple(f"{tapped.circuit.name or 'This input'}: {tap_instead(tapped)}" for tapped in bad),
            title="Instead",
        ),
        table=Table(
            "Each input with a channel on it",
            ("Circuit", "So it", "Clear", "Tripped", "Tripped reads"),
            rows,
            align="llrrr",
        ),
        before=tuple(dict.fromkeys(caution.text for tapped in seen for caution in tapped.cautions)),
        pictures=Pictures(tuple(tap_drawing(tapped) for tapped in seen)),
        more=(Section("Notes", (Points(tuple(notes)),)),) if notes else (),
        explained=(
            Section(
                "How it was worked out",
                (
                    (
                        "Each circuit is solved with the channel's load from its input's terminal to 0 V, "
                        "clear and tripped, at every corner of its tolerances, and under every single fault. "
                        "Refused: over the rating in one of them without a fault. Does not read: one of the "
                        "two states is not surely 0 or 1 to the channel, or its load changes what the "
                        "controller reads."
                    ),
                    Note("A tap is for looking: take it off before the machine goes to work."),
                ),
            ),
        ),
    )


def tap_instead(seen: TapSeen) -> str:
    """Say what to build between an input and the channel."""
    if seen.remedy is not None:
        return seen.remedy.sentence
    return "neither a divider nor an opto-coupler fits here: tap behind the controller's own input stage."


def tap_drawing(seen: TapSeen) -> Picture:
    """Draw a circuit; where the channel hangs, and what to mind, stands on the drawing itself."""
    where = "Tap of an analyser: its channel at -A1:IN, its 0 V at the controller's 0 V."
    refused = "" if seen.verdict == "fits" else f"NOT AS IT IS ({seen.verdict}). {tap_instead(seen)}"
    words = " ".join(filter(None, (where, refused, *(caution.text for caution in seen.cautions))))
    return diagram(assess(seen.circuit)).marked(words)
