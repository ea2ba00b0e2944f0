"""Sheet: the settings of a machine, in order of doing.

What stands first must be there before what follows makes sense: stops and switches in their places, wires,
speeds, then the first homing and what is set by it.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from holdzero.caution import Caution
from holdzero.compute.install import vocabulary
from holdzero.compute.install.checklist import checklist
from holdzero.compute.install.values import AxisSheet, InstallSheet, Setting
from holdzero.compute.square import Squaring
from holdzero.compute.travel import Travel, travel
from holdzero.compute.wiring import Assessment, TerminalList, terminal_list
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.inputs.sensor.output import Contact
from holdzero.inputs.sensor.values import Sensor
from holdzero.quantity import System, show

Wired = tuple[Assessment, TerminalList | None]  # None: it is not said what is joined to what
PLACES, WIRES, HOMING, AFTER = "Places", "Wires", "Homing", "After the first homing"
FROM_FILE, FROM_CHECK, BY_TRIAL = "machine file", "travel check", "found at the first homing"
NEVER_FALLING_FIRST = (
    "Axes that weight pulls away from their home come first, away from the table; then the others as they stand "
    "in the file. Both sides of a gantry home together, each stopped by its own switch. Common practice, no "
    "source."
)
TRY_FIRST = Caution(
    "stop-first",
    "The emergency stop is tested before anything moves. Then every setting is tried at a tenth of its speed, "
    "clear of fixtures, no tool, a hand on the stop.",
    "ISO 13850, IEC 60204-1",
)
SWITCH_OFF = Caution(
    "switch-off-first",
    "Switch off, unplug, wait until stored energy is gone, before wiring or moving a switch. Mains work: a "
    "licensed person; local codes come first. Loosen nothing on a powered axis.",
)


def install_sheet(
    machine: Machine,
    *,
    sensors: Mapping[str, Sensor | None] | None = None,
    circuits: Mapping[str, Sequence[Assessment]] | None = None,
    newly_fitted: Mapping[str, str] | None = None,
    squared: Mapping[str, Squaring | None] | None = None,
    system: System = "metric",
) -> InstallSheet:
    """Put together a machine's install sheet and its commissioning tests.

    Parameters
    ----------
    machine : Machine
        As read; the travel of each axis is checked with it.
    sensors : mapping of str to Sensor or None, optional
        By axis: the home sensor that was chosen.
    circuits : mapping of str to sequence of Assessment, optional
        By axis: wiring as solved, with that sensor in it.
    newly_fitted : mapping of str to str, optional
        By axis: the home sensor, where its circuits were described with another one; empty where not.
    squared : mapping of str to Squaring or None, optional
        By axis: what squaring says.
    system : {"metric", "inch"}
        Units that notes are worded in; values stay canonical.

    Raises
    ------
    InputError
        A machine whose places contradict each other.

    References
    ----------
    CiA 402 and IEC 61800-7-201 for the words.
    """
    sensors, squared = sensors or {}, squared or {}
    solved = {axis.name: travel(axis, system=system) for axis in machine.axes}
    first = [axis.name for axis in machine.axes if axis.moving.gravity == "away from home"]
    last = [axis.name for axis in machine.axes if axis.moving.gravity == "towards home"]
    of_axis = _named(machine, circuits or {})
    wired = {name: tuple(listed for _, listed in pairs if listed) for name, pairs in of_axis.items()}
    sheets = tuple(
        AxisSheet(
            axis.name,
            tuple(
                _settings(
                    axis,
                    solved[axis.name],
                    sensors.get(axis.name),
                    of_axis[axis.name],
                    (newly_fitted or {}).get(axis.name, ""),
                    squared.get(axis.name),
                    system,
                )
            ),
            wired[axis.name],
        )
        for axis in machine.axes
    )
    cautions = [TRY_FIRST, SWITCH_OFF]
    for result in solved.values():
        cautions += [*result.cautions, *(caution for check in result.checks for caution in check.cautions)]
    return InstallSheet(
        machine=machine.name,
        order=(*first, *(axis.name for axis in machine.axes if axis.name not in (*first, *last)), *last),
        order_note=NEVER_FALLING_FIRST + (_homes_last(last) if last else ""),
        axes=sheets,
        tests=checklist(
            machine, solved, wired=wired, squared=next(filter(None, squared.values()), None), system=system
        ),
        cautions=tuple(dict.fromkeys(cautions)),
        system=system,
    )


def _homes_last(names: Sequence[str]) -> str:
    """What is said of axes that home at the low end, towards the table."""
    many = len(names) > 1
    return (
        f" {' and '.join(names)} {'have' if many else 'has'} home at the low end, where weight pulls, towards the "
        f"table: {'they home' if many else 'it homes'} last, nothing under the spindle, with a hand on the stop."
    )


def _named(machine: Machine, circuits: Mapping[str, Sequence[Assessment]]) -> dict[str, list[Wired]]:
    """Circuits of each axis, each under a name of its own."""
    called = [circuit.name for of_axis in circuits.values() for circuit in of_axis]
    wired: dict[str, list[Wired]] = {axis.name: [] for axis in machine.axes}
    number = 0
    for name, of_axis in circuits.items():
        for circuit in of_axis:
            number += 1
            own = circuit.name if called.count(circuit.name) == 1 else ""
            own = own or f"{circuit.name or 'circuit'} {number}"
            listed = terminal_list(circuit)
            wired[name].append((replace(circuit, name=own), replace(listed, name=own) if listed else None))
    return wired


def _settings(
    axis: Axis,
    solved: Travel,
    sensor: Sensor | None,
    circuits: Sequence[Wired],
    newly_fitted: str,
    squared: Squaring | None,
    system: System,
) -> Iterator[Setting]:
    yield from _places(axis, solved, system)
    yield from _wires(axis, sensor, circuits, newly_fitted)
    yield from _homing(axis, solved, system)
    yield from _after(axis, squared)


def _checked(solved: Travel, *names: str) -> tuple[bool | None, str]:
    """Whether the checks behind a setting fit, and what they say: what fails first."""
    checks = [check for check in solved.checks if check.check in names and check.ok is not None]
    failing = [check for check in checks if check.ok is False]
    if failing:
        return False, " ".join(f"{check.why} {check.do}".strip() for check in failing)
    return (True if checks else None), ""


def _places(axis: Axis, solved: Travel, system: System) -> Iterator[Setting]:
    sides_note = " Both sides alike." if axis.motors == 2 else ""
    yield Setting(
        group=PLACES,
        name="Hard stop at the homing end",
        value=0.0,
        kind="length",
        text="(all places count from here, into the work)",
        note=f"Firm, and reached before anything else touches.{sides_note}",
        origin="definition",
    )
    shared = axis.places.limit_switch == "shared"
    if axis.places.limit_switch != "none" and not shared:
        ok, why = _checked(solved, "limit_overtravel")
        yield Setting(
            group=PLACES,
            name="Limit trips",
            value=axis.places.limit_trip_mm,
            kind="length",
            word=vocabulary.LIMIT_SWITCH,
            origin=FROM_FILE,
            ok=ok,
            note=why,
        )
        ok, why = _checked(solved, "flag_limit")
        yield Setting(
            group=PLACES,
            name="Limit's flag, length at least",
            value=axis.places.limit_trip_mm,
            kind="length",
            origin=FROM_CHECK,
            ok=ok,
            note=why or _has(axis.places.flag_limit_mm, system),
        )
    ok, why = _checked(solved, "home_overtravel", "sensor_overtravel", "target")
    yield Setting(
        group=PLACES,
        name="Home switch trips" + (" (it is the limit too)" if shared else ""),
        value=axis.places.home_trip_mm,
        kind="length",
        word=vocabulary.HOME_SWITCH,
        origin=FROM_FILE,
        ok=ok,
        note=why or sides_note.strip(),
    )
    ok, why = _checked(solved, "flag_home", "flag_dwell")
    yield Setting(
        group=PLACES,
        name="Home switch's flag, length at least",
        value=axis.places.home_trip_mm,
        kind="length",
        origin=FROM_CHECK,
        ok=ok,
        note=why or _has(axis.places.flag_home_mm, system),
    )
    if axis.target.flag_gap_mm is not None:
        yield Setting(
            group=PLACES,
            name="Gap from the sensor's face to the flag",
            value=axis.target.flag_gap_mm,
            kind="length",
            text=f"± {show(axis.target.flag_gap_half_width_mm, 'length', system=system)}"
            if axis.target.flag_gap_half_width_mm
            else "",
            origin=FROM_FILE,
        )
    if axis.places.far_limit_trip_mm is not None:
        ok, why = _checked(solved, "far_limit_overtravel", "far_flag_limit")
        yield Setting(
            group=PLACES,
            name="Far limit trips, from its own hard stop",
            value=axis.places.far_limit_trip_mm,
            kind="length",
            origin=FROM_FILE,
            ok=ok,
            note=why,
        )


def _has(length_mm: float | None, system: System) -> str:
    return "" if length_mm is None else f"The flag given is {show(length_mm, 'length', system=system)}."


def _wires(axis: Axis, sensor: Sensor | None, circuits: Sequence[Wired], newly_fitted: str) -> Iterator[Setting]:
    with_it = f"With {newly_fitted} in it: the circuit was described with another sensor." if newly_fitted else ""
    if sensor is not None:
        facts = (sensor.kind, sensor.output, sensor.contact)
        closed = "Normally open: a broken wire goes unnoticed." if sensor.contact is Contact.NO else ""
        yield Setting(
            group=WIRES,
            name="Home sensor",
            text=", ".join(filter(None, (sensor.name, *facts))),
            origin="choice",
            note=closed,
        )
    if axis.motors == 2:
        yield Setting(
            group=WIRES,
            name="Inputs",
            text="one for each side",
            note="Left and right each to its own input, or the controller cannot tell which side tripped.",
            origin="two motors",
        )
    for circuit, listed in circuits:
        yield Setting(
            group=WIRES,
            name=f"Input of {circuit.name}",
            text=listed.input if listed else str(circuit.verdict),
            origin="wiring",
            ok=circuit.passes,
            note=" ".join(filter(None, (with_it, circuit.setting, *(() if circuit.passes else _wrong(circuit))))),
        )
    yield Setting(
        group=WIRES,
        name="Input filter or debounce",
        value=axis.reaction.filter_s,
        kind="time",
        origin=FROM_FILE,
        note="Longer than the bounce of the switch. It costs overtravel at every speed.",
    )
    if axis.reaction.delay_s is not None:
        yield Setting(
            group=WIRES,
            name="Trip to reaction, all parts, at most",
            value=axis.reaction.delay_s,
            kind="time",
            origin=FROM_FILE,
            note="The filter is a part of it.",
        )


def _wrong(circuit: Assessment) -> tuple[str, ...]:
    return circuit.sentence, *circuit.mending, *circuit.advice


def _homing(axis: Axis, solved: Travel, system: System) -> Iterator[Setting]:
    yield Setting(
        group=HOMING,
        name="Homing method",
        text=vocabulary.method(
            index=axis.index.index_pitch_mm is not None, on_the_limit=axis.places.limit_switch == "shared"
        ),
        word=vocabulary.HOMING_METHOD,
        origin=vocabulary.SOURCE,
        note="Which one depends on the end and on the edge that is taken: the drive's manual draws them.",
    )
    ok, why = _checked(solved, "home_overtravel")
    yield Setting(
        group=HOMING,
        name="Speed of the search for the switch",
        value=axis.speeds.approach_speed_mm_s,
        kind="speed",
        word=vocabulary.SEARCH_FOR_SWITCH,
        origin=FROM_FILE,
        ok=ok,
        note=why or _at_most(solved, "home_overtravel", system),
    )
    ok, why = _checked(solved, "back_off")
    counted = {"rest": "from where it came to rest", "trip": "from the trip"}.get(
        axis.places.back_off_from or "", ""
    )
    yield Setting(
        group=HOMING,
        name="Back-off",
        value=axis.places.back_off_mm,
        kind="length",
        text=counted if axis.places.back_off_mm is not None else "",
        origin=FROM_FILE,
        ok=ok,
        note=why or ("Each side by its own." if axis.motors == 2 else ""),
    )
    ok, why = _checked(solved, "creep_overtravel")
    yield Setting(
        group=HOMING,
        name="Speed of the search for zero",
        value=axis.speeds.creep_speed_mm_s,
        kind="speed",
        word=vocabulary.SEARCH_FOR_ZERO,
        origin=FROM_FILE,
        ok=ok,
        note=why,
    )
    yield Setting(
        group=HOMING,
        name="Acceleration while homing",
        value=axis.speeds.acceleration_mm_s2,
        kind="acceleration",
        word=vocabulary.HOMING_ACCELERATION,
        origin=FROM_FILE,
    )
    taken = {"edge": "the count stored at the edge", "rest": "where the axis comes to rest"}
    yield Setting(
        group=HOMING,
        name="What becomes zero",
        text=taken.get(axis.reaction.position_taken or "", ""),
        origin=FROM_FILE,
        note="Ask the controller's manual; it differs.",
    )
    if axis.index.index_pitch_mm is not None:
        yield Setting(
            group=HOMING,
            name="Trip to index, of a pitch",
            value=0.5 if axis.index.index_phase is None else axis.index.index_phase,
            kind="share",
            word=vocabulary.INDEX_PULSE,
            origin=FROM_FILE if axis.index.index_phase is not None else "aim",
            note="Between a quarter and three quarters of the pitch; shift the flag until it is.",
            ok=None if axis.index.index_phase is None else 0.25 <= axis.index.index_phase <= 0.75,
        )
    if axis.motors == 2:
        ok, why = _checked(solved, "skew")
        yield Setting(
            group=HOMING,
            name="Skew at which the controller gives up",
            value=axis.sides.abort_window_mm,
            kind="length",
            origin=FROM_FILE,
            ok=ok,
            note=why
            or "Both sides together, each stopped by its own switch; the slow pass begins from where they stand.",
        )


def _at_most(solved: Travel, name: str, system: System) -> str:
    limit = solved[name].speed_limit_mm_s
    return "" if limit is None else f"At most {show(limit, 'speed', system=system, digits=3)} fits."


def _after(axis: Axis, squared: Squaring | None) -> Iterator[Setting]:
    yield Setting(
        group=AFTER,
        name="Home offset",
        kind="length",
        word=vocabulary.HOME_OFFSET,
        origin=BY_TRIAL,
        note="From the home position found to the zero that the programs use; write it down.",
    )
    if axis.motors == 2:
        right = "" if squared is None else f"right side {'back' if squared.to_set_mm >= 0 else 'forward'}"
        yield Setting(
            group=AFTER,
            name="Offset between the sides, commanded"
            if squared is None or squared.setup.adjust == "offset"
            else "Move of the right side's switch",
            value=None if squared is None else abs(squared.to_set_mm),
            kind="length",
            text=right,
            origin="squaring" if squared else "found by squaring",
            note="" if squared is None else squared.verdict,
        )
    if axis.places.soft_limit_low_mm is not None:
        for name, value in (("low", axis.places.soft_limit_low_mm), ("high", axis.places.soft_limit_high_mm)):
            yield Setting(
                group=AFTER,
                name=f"Soft limit, {name}",
                value=value,
                kind="length",
                text="from the hard stop at the homing end",
                origin=FROM_FILE,
                note="Means nothing before homing.",
            )
