"""Watch: whether a machine still homes where it did, what to do, and what the log says of each series."""

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from math import isfinite

from holdzero.case.standing.due import DueTest
from holdzero.case.watch.log_watched import FalseTrips, LogWatched, SideWatched
from holdzero.case.watch.words import OF_SIDE, STATES, headline, state, to_do
from holdzero.compute.watch import WatchBaseline
from holdzero.inputs.log import LogEntry
from holdzero.quantity import System, show, show_share, show_signed
from holdzero.store import KeptEntry
from holdzero.tell.blocks import Answer, Block, Facts, Points, Section, SectionsWorded, Table
from holdzero.tell.safety import A_GOOD_CHART
from holdzero.tell.words import count_of, marked, sentence

NOTHING_LOGGED = "No check homing was logged yet: the watch begins with the first."
RULES = {"single": "one homing", "ewma": "running mean", "miss": "gross miss"}
MOST_ALARMS = 20  # of a series, the newest
NEWEST = 20  # entries of a log listed first
MEANING = (
    (
        "A baseline is made of the first power-ups after the start or the last event. An alarm is one homing, or "
        "the running mean, farther from it than chance would bring in the time asked for; it stands until a note "
        "closes it or an event begins a new baseline."
    ),
    "“Off by” is the running mean now, from the mean of the baseline; where it wanders, the end of its line.",
    (
        "“Outside” is the share of homings expected outside what is asked, from there; “lost on” the day from "
        "which more are outside than are allowed, with a chance of 95\u202f%."
    ),
    A_GOOD_CHART,
)
OF_AN_ENTRY = (
    "Each counts once, however often it is brought in; taken back it stays in the book and counts no more.",
    (
        "An event begins a new baseline, and tests of stop, limit and broken wire are due again. A note of what "
        "was looked at closes the alarms before it."
    ),
)


def tell_watch(watched: LogWatched | None, *, due: Sequence[DueTest] = (), system: System = "metric") -> Answer:
    """Tell whether the machines of a log still home where they did.

    Parameters
    ----------
    watched : LogWatched or None
        None: nothing was logged yet.
    due : sequence of DueTest
        Tests to do again.
    system : {"metric", "inch"}
        Units shown.
    """
    tests = tuple(test.sentence for test in due)
    if watched is None:
        return Answer(headline=NOTHING_LOGGED, to_do=Points(tests))
    return Answer(
        headline=headline(watched),
        to_do=Points((*asked_of_log(watched.rows, system=system), *tests)),
        table=watch_table(watched, system=system),
        more=watch_details(watched, system=system, notes=watched.notes),
        explained=(Section("What these figures mean", (*MEANING, Points(tuple(map(sentence, STATES.values()))))),),
    )


def asked_of_log(rows: Iterable[SideWatched], *, system: System = "metric") -> tuple[str, ...]:
    """Say what each charted series asks for, the worst first."""
    return tuple(text for row in rows if row.logged.charted for text in to_do(row, system=system))


def watch_table(watched: LogWatched, *, system: System = "metric") -> Table:
    """Return a row a machine, axis and side, worst first."""
    several = len({row.logged.machine for row in watched.rows}) > 1
    head = ("Axis and side", "State", "Homings", "Off by", "Outside now", "Lost on")
    rows = tuple((*((row.logged.machine or "–",) if several else ()), *_row(row, system)) for row in watched.rows)
    heads = (*(("Machine",) if several else ()), *head)
    return Table("The watch, worst first", heads, rows, align="w" * several + "wwrrrw")


def _row(row: SideWatched, system: System) -> tuple[str, ...]:
    own, lost = row.watched, row.lost_on
    return (
        _place(row),
        marked(own.state),
        str(own.n),
        "–" if own.level_mm is None else show_signed(own.level_mm, "length", system=system, digits=2),
        "–" if row.share_outside is None else show_share(row.share_outside),
        "–" if lost is None or lost[0] is None else f"{lost[0]} to {lost[1] or 'open'}",
    )


def watch_details(
    watched: LogWatched, *, system: System = "metric", notes: tuple[str, ...] = ()
) -> SectionsWorded:
    """Return baseline, limits, step, slope and alarms of each charted series; false trips by condition; notes."""
    words: list[Callable[[], Section]] = [
        partial(_series, row, system) for row in watched.rows if row.logged.charted
    ]
    if watched.rows and watched.rows[0].false_trips:
        words.append(partial(_false_trips, watched.rows[0].false_trips))
    if notes:
        words.append(partial(Section, "Notes on the log", (Points(notes),)))
    return SectionsWorded(tuple(words))


def _false_trips(trips: Sequence[FalseTrips]) -> Section:
    rows = tuple(
        (
            condition.condition or "not said",
            f"{condition.count:g}",
            f"{condition.hours:.3g}",
            f"{condition.per_hour:.2g}",
            "{:.2g} to {:.2g}".format(*condition.interval_per_hour),
        )
        for condition in trips
    )
    head = ("Condition", "Trips", "Hours", "Per hour", "95\u202f%")
    return Section("False trips by condition", (Table("", head, rows, align="wrrrr"),))


def tell_log(entries: Sequence[KeptEntry], *, system: System = "metric") -> Answer:
    """Tell what is in the log of a machine, the newest first.

    Parameters
    ----------
    entries : sequence of KeptEntry
        Oldest first, as the book keeps them.
    system : {"metric", "inch"}
        Units shown.
    """
    if not entries:
        return Answer(headline="No entry yet.", to_do=Points(("Log a check homing: holdzero log BOOK --help.",)))
    rows = tuple(_entry(kept, system) for kept in reversed(entries))
    head = ("Entry", "Time", "Axis", "Read", "What was written")
    of_all = Table("", head, rows, align="rllrw")
    return Answer(
        headline=f"{count_of(len(entries), 'entry', 'entries')}; the newest first.",
        table=Table("", head, rows[:NEWEST], align="rllrw"),
        more=(Section("The whole log", (of_all,)),) if len(rows) > NEWEST else (),
        explained=(Section("What an entry does", OF_AN_ENTRY),),
    )


def happened_beside(entry: LogEntry) -> str:
    """Say which event, look or failure an entry tells of; empty where it tells of none."""
    words = (
        entry.event and f"event: {entry.event}",
        entry.acknowledged and f"looked at: {entry.acknowledged}",
        entry.failed and f"failed: {entry.failed}",
    )
    return "; ".join(filter(None, words))


def written_beside(entry: LogEntry) -> str:
    """Say all that was written down with an entry; empty where nothing was."""
    return "; ".join(filter(None, (happened_beside(entry), entry.condition, entry.note)))


def _entry(kept: KeptEntry, system: System) -> tuple[str, ...]:
    entry = kept.entry
    read_mm = entry.deviation_mm
    shown = "" if read_mm is None else show_signed(read_mm, "length", system=system, digits=3)
    place = f"{entry.axis} {OF_SIDE.get(entry.side, entry.side) if entry.side else ''}".strip()
    return str(kept.id), entry.time[:16].replace("T", " "), place, shown, written_beside(entry)


def _series(row: SideWatched, system: System) -> Section:
    """Return what a series says beyond its row of the table."""
    own, limits = row.watched, row.limits
    rows = [("State", state(row))]
    if own.baseline is not None:
        rows += _baseline(own.baseline, system)
        widened = (limits.single_sds * own.baseline.widening, limits.ewma_sds * own.baseline.widening)
        rows.append(("Limits, in standard deviations", "{:.2f}, running mean {:.2f}".format(*widened)))
    if row.nuisance_weeks is not None:
        rows.append(("One false alarm of the machine in", f"{row.nuisance_weeks:.0f} weeks"))
    if own.step_row is not None and own.step_mm is not None:
        day = row.logged.times[own.step_row][:10]
        rows.append((f"Step on {day}", show_signed(own.step_mm, "length", system=system, digits=2)))
    if own.trend is not None:
        year_mm = 365.25 * own.trend.line.slope
        rows.append(("Slope since, per year", show_signed(year_mm, "length", system=system, digits=2)))
    if row.life is not None:
        low, high = row.life.b10_interval
        ends = f"{low:.3g} to {f'{high:.3g}' if isfinite(high) else 'no end'}"
        name = f"Nine in ten switches last (B10, {row.life.failed} failures)"
        rows.append((name, f"{row.life.b10:.3g} cycles, {ends}"))
    if row.life_used is not None:
        rows.append(("Life used", show_share(row.life_used)))
    blocks: list[Block] = [Facts(tuple(rows))]
    if own.alarms:
        blocks.append(_alarms(row, system))
    return Section(_place(row), tuple(blocks))


def _alarms(row: SideWatched, system: System) -> Table:
    """Return the newest alarms, the newest last."""
    times, alarms = row.logged.times, row.watched.alarms
    rows = tuple(
        (
            times[alarm.row][:16].replace("T", " "),
            RULES[alarm.rule],
            show_signed(alarm.off_mm, "length", system=system, digits=2),
            f"{alarm.off_sds:+.1f}".replace("-", "−"),
            marked("alarm") if alarm.open else "closed",
        )
        for alarm in alarms[-MOST_ALARMS:]
    )
    shown = "" if len(rows) == alarms.in_all else f", the newest {len(rows)}"
    head = ("When", "What", "Off by", "Standard deviations", "So it is")
    return Table(f"{_place(row)}: {count_of(alarms.in_all, 'alarm')}{shown}", head, rows, align="lwrrl")


def _baseline(home: WatchBaseline, system: System) -> list[tuple[str, str]]:
    def length(value_mm: float, digits: int) -> str:
        return show(value_mm, "length", system=system, digits=digits)

    rows = [
        ("Baseline", f"{home.n} power-ups of the {'trial' if home.of_trial else 'log'}"),
        ("Its mean", length(home.mean_mm, 3)),
        ("Its standard deviation", length(home.sd_mm, 2)),
    ]
    if home.moving_range_mm is not None:
        rows.append(("Mean step from one to the next", length(home.moving_range_mm, 2)))
    if home.temperature is not None:
        rows.append(
            (
                "Taken out for temperature",
                show(home.temperature.slope_mm_per_degc, "drift", system=system, digits=2),
            )
        )
    return rows


def _place(row: SideWatched) -> str:
    """Axis and side of a series."""
    return f"{row.logged.axis} {OF_SIDE[row.logged.side]}".strip()
