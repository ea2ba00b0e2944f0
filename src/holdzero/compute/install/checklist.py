"""Checklist: what to test before the machine is trusted, in an order in which each test makes the next one safe.

The stop first, then what needs no motion, then slow motion with a hand on the stop, then speed.
"""

from collections.abc import Iterator, Mapping, Sequence

from holdzero.compute.install.values import Blank, Test
from holdzero.compute.square import Squaring
from holdzero.compute.travel import Check, Travel
from holdzero.compute.wiring import TerminalList
from holdzero.inputs.machine.values import Axis, Machine
from holdzero.quantity import System, field_unit, plain, show

STILL, SLOWLY, AT_SPEED, ALL_OF_IT = "Before anything moves", "Slowly", "At speed", "The whole machine"
STEPS = (0.1, 0.25, 0.5, 1.0)  # shares of the top speed at which the limit is tried
SLOW_SHARE = 0.1
BREAK = "Wire break"
HIDES = "Rewire it before the machine is trusted."
SLOW = "A tenth of the speed, clear of fixtures, no tool, a hand on the stop."
UNPOWERED = "Switched off and unplugged while wires are touched. Re-power at low speed, axis clear."
ON_STOP = "A hand on the stop, no tool."
RACKS = "One side can stop while the other drives: the gantry is racked with the force of a motor."
FALLS = "Drives off: it may fall; support it."


def checklist(
    machine: Machine,
    solved: Mapping[str, Travel],
    *,
    wired: Mapping[str, Sequence[TerminalList]],
    squared: Squaring | None = None,
    system: System = "metric",
) -> tuple[Test, ...]:
    """Return the commissioning tests of a machine, in order of doing.

    Parameters
    ----------
    machine : Machine
        As read.
    solved : mapping of Travel
        Axis name to its travel checks: what has to be measured.
    wired : mapping of sequence of TerminalList
        Axis name to its circuits: which wires to open, and what the input then does.
    squared : Squaring or None
        What squaring expects.
    system : {"metric", "inch"}
        Units that expectations and blanks are in.
    """
    return (
        *_before_motion(machine),
        *(
            test
            for axis in machine.axes
            for terminal_list in wired[axis.name]
            for test in _broken(axis, terminal_list)
        ),
        *_other_wires(any(wired.values())),
        *(test for axis in machine.axes for test in _slow(axis, solved[axis.name], system)),
        *(test for axis in machine.axes for test in _fast(axis, solved[axis.name], system)),
        *_whole(machine, squared, system),
    )


def _before_motion(machine: Machine) -> Iterator[Test]:
    yield Test(
        stage=STILL,
        name="Emergency stop",
        proves="stop",
        do="Press it with the drives on and still, then again while jogging slowly into the air. Release it.",
        expect="The drives lose their power at once or stop and then lose it; nothing starts again by itself.",
        blanks=(Blank("stopped after", "s"),),
        guard="Before anything else, and again after every change to the wiring (ISO 13850, IEC 60204-1).",
    )
    for axis in machine.axes:
        yield Test(
            stage=STILL,
            axis=axis.name,
            name="By hand from end to end",
            do="Drives off, move the axis by hand to both hard stops.",
            expect="It moves freely; each flag passes its sensor without touching; stops touch first"
            + (", on both sides together." if axis.motors == 2 else "."),
            guard=FALLS if axis.moving.vertical else "Switched off and unplugged.",
        )
        sides = (
            "left, then right: the inputs are not swapped"
            if axis.motors == 2
            else "the input that is meant changes"
        )
        yield Test(
            stage=STILL,
            axis=axis.name,
            name="Each switch by hand",
            do="Drives off, controller on: trip every switch by hand, or with metal, and watch the inputs.",
            expect=f"Home, limits: {sides}; each reads clear again when let go.",
        )


def _broken(axis: Axis, wired: TerminalList) -> Iterator[Test]:
    """One test a wire of a circuit, and one a plug, with what the fault table says of it."""
    for wire_break in wired.breaks:
        if wire_break.harms:
            continue
        wire, at, way = wire_break.part, wire_break.start, f"{wire_break.start} to {wire_break.end}"
        below = f"{wire} at {at}" if wire else "plug"
        yield Test(
            stage=f"{BREAK}: {wired.name}",
            axis=axis.name,
            proves="wire",
            name=f"Wire break, {wired.name}, {below}",
            below=below,
            do=f"Switched off and unplugged, open {way}; re-power, look at the input."
            if wire
            else "Switched off and unplugged, pull the plug of the sensor; re-power, look at the input.",
            expect=wire_break.text if wire_break.shows else f"{wire_break.text} {HIDES}",
            guard=UNPOWERED,
        )


def _other_wires(some_are_solved: bool) -> Iterator[Test]:
    text = "one wire of one switch that is not listed above" if some_are_solved else "one wire of one switch"
    yield Test(
        proves="" if some_are_solved else "wire",
        stage=f"{BREAK}: every other switch" if some_are_solved else STILL,
        name="Wire break, every other switch" if some_are_solved else "Wire break",
        do=f"Switched off and unplugged, open {text}; re-power. Once for each wire, then with the whole plug off.",
        expect="The controller refuses to move or to home. A wire that changes nothing hides a crash: rewire it.",
        blanks=(Blank("wires that hide"),),
        guard=UNPOWERED,
    )


def _slow(axis: Axis, solved: Travel, system: System) -> Iterator[Test]:
    yield Test(
        stage=SLOWLY,
        axis=axis.name,
        name="Which way",
        do="Jog a little each way at the lowest speed.",
        expect="It moves the way the sign says" + ("; both sides go together." if axis.motors == 2 else "."),
        guard=SLOW if axis.motors == 1 else f"{SLOW} {RACKS}",
    )
    if axis.places.limit_switch != "none":
        yield Test(
            stage=SLOWLY,
            axis=axis.name,
            name="Limit, slowly",
            proves="limit",
            do="In the middle of the travel, jog slowly and trip the limit with a stick, out of its reach; "
            "or open its input unpowered first: then it must not move. "
            + _into_the_limit_slowly(axis, solved, system),
            expect=f"It stops both times{_room_after(solved, 'limit_overtravel', system)}.",
            blanks=(Blank("limit trip to hard stop", _unit("length", system)),),
            guard=SLOW,
        )
    low = axis.moving.gravity == "towards home"
    yield Test(
        stage=SLOWLY,
        axis=axis.name,
        name="Home, slowly",
        do="From the middle, home at a tenth of the speeds; then once started with the switch already made."
        + (" Its home is at the low end: nothing under it, and after all other axes." if low else ""),
        expect="It finds the switch, backs off, creeps in, stops; started on the switch it drives off first.",
        blanks=(Blank("home trip to hard stop", _unit("length", system)),),
        guard=f"{SLOW} {FALLS}" if axis.moving.vertical else SLOW,
    )
    unit = _unit("length", system)
    if axis.motors == 2:
        asked = (
            ""
            if axis.places.back_off_mm is None
            else f" {_say(axis.places.back_off_mm, 'length', system)}, or what is set for it"
        )
        yield Test(
            stage=SLOWLY,
            axis=axis.name,
            name="Both sides back off",
            do="Home with an indicator or a feeler at each side in turn, and read how far each backs off.",
            expect=f"Each side backs off{asked or ' as set'}, and both inputs read clear before the slow pass.",
            blanks=(Blank("left", unit), Blank("right", unit)),
            guard=f"{RACKS} {ON_STOP} No hand between while it moves.",
        )
        yield Test(
            stage=SLOWLY,
            axis=axis.name,
            name="One side on its switch",
            do="Drives off, set one side a little ahead by hand so that only its switch is made; home slowly. "
            "Then the other side.",
            expect="It squares itself or refuses; it never drives one side on against the other.",
            guard=f"{RACKS} {ON_STOP}",
        )
        window = (
            ""
            if axis.sides.abort_window_mm is None
            else f" at {_say(axis.sides.abort_window_mm, 'length', system)} of skew"
        )
        yield Test(
            stage=SLOWLY,
            axis=axis.name,
            name="One side never trips",
            do="Unpowered, make one side's home input one that never trips. Home at the lowest speed.",
            expect=f"The controller gives up{window}, and both sides stop.",
            blanks=(Blank("skew when it gave up", unit),),
            guard=f"{RACKS} {UNPOWERED} {ON_STOP}",
        )
    else:
        yield Test(
            stage=SLOWLY,
            axis=axis.name,
            name="Back-off frees the switch",
            do="Home and watch the input after the back-off.",
            expect="It reads clear before the slow pass.",
            blanks=(Blank("backed off", unit),),
            guard=ON_STOP,
        )


def _fast(axis: Axis, solved: Travel, system: System) -> Iterator[Test]:
    yield _home_at_speed(axis, solved, system)
    if axis.places.limit_switch != "none":
        yield _limit_at_speed(axis, solved, system)
    if axis.index.index_pitch_mm is not None:
        yield Test(
            stage=AT_SPEED,
            axis=axis.name,
            name="Trip to index",
            do="Home ten times and log the way from the trip to the index pulse.",
            expect="Between a quarter and three quarters of the pitch, and never near either end.",
            blanks=(Blank("mean", _unit("length", system)), Blank("span", _unit("length", system))),
            guard=ON_STOP,
        )
    if axis.places.soft_limit_low_mm is not None:
        yield Test(
            stage=AT_SPEED,
            axis=axis.name,
            name="Soft limits",
            do="After homing, command a move beyond each soft limit, slowly.",
            expect="It is refused or stops at the limit. Before homing it is not: switches are there for that.",
            guard=SLOW,
        )


def _home_at_speed(axis: Axis, solved: Travel, system: System) -> Test:
    """Home at the speeds that are set, or as fast as the sums leave room for."""
    name, unit = "Home at full homing speed", _unit("length", system)
    check, set_mm_s = solved["home_overtravel"], axis.speeds.approach_speed_mm_s
    fits = _fits_mm_s(check, set_mm_s)
    if fits == 0:
        return _withheld(axis, name, check)
    do = "Home at the speeds that are set; measure how far it runs on after the first trip."
    if fits is not None:
        do = (
            f"Set the search for the switch to {_say(fits, 'speed', system)}, the most that the sums leave room "
            "for, and home; measure how far it runs on after the first trip."
        )
    return Test(
        stage=AT_SPEED,
        axis=axis.name,
        name=name,
        do=do,
        expect=f"It stops before the limit{'' if fits else _room_after(solved, 'home_overtravel', system)}.",
        blanks=(Blank("runs on", unit),),
        guard="Clear of fixtures, no tool, a hand on the stop.",
    )


def _limit_at_speed(axis: Axis, solved: Travel, system: System) -> Test:
    """Jog into the limit faster and faster, up to the speed that the sums leave room for."""
    name, unit = "Limit, faster", _unit("length", system)
    check, top_mm_s = solved["limit_overtravel"], axis.speeds.top_speed_mm_s
    fits = _fits_mm_s(check, top_mm_s)
    if top_mm_s is None or fits == 0 or (fits is not None and fits < STEPS[0] * top_mm_s):
        return _withheld(axis, name, check, proves="limit")
    share = 1.0 if fits is None else fits / top_mm_s
    steps = [f"{100 * step:.0f}" for step in STEPS if step <= share]
    most = ""
    if fits is not None:
        most = (
            f", and no faster than {_say(fits, 'speed', system)}: by the sums more than that does not stop "
            "before the hard stop"
        )
    sums = "" if most else _room_after(solved, check.check, system)
    several = f"{', '.join(steps[:-1])} and {steps[-1]}" if len(steps) > 1 else steps[0]
    return Test(
        stage=AT_SPEED,
        axis=axis.name,
        name=name,
        proves="limit",
        do=f"Jog into the limit at {several} % of the top speed{most}; go on only while room is left.",
        expect=f"It stops before the hard stop every time{sums}.",
        blanks=(Blank(f"room left at {steps[-1]} %", unit),),
        guard="Clear of fixtures, no tool, a hand on the stop. End where a step halves the room.",
    )


def _fits_mm_s(check: Check, set_mm_s: float | None) -> float | None:
    """Speed that leaves room where the one that is set does not; None: that one fits, 0: none is known. [mm/s]"""
    if check.ok is None or set_mm_s is None:
        return 0.0
    if check.ok:
        return None
    limit = check.speed_limit_mm_s or 0.0
    return limit if limit < set_mm_s else 0.0


def _withheld(axis: Axis, name: str, check: Check, *, proves: str = "") -> Test:
    """A test that is not ordered, with the reason."""
    reason = check.why if check.ok is None else f"{check.why} {check.do}"
    return Test(
        stage=AT_SPEED,
        axis=axis.name,
        name=name,
        proves=proves,
        do=f"Do not do this yet. {reason}",
        expect="Once the sums leave room, this test is asked for with the speeds that fit.",
        guard="Held back: it could run into the hard stop.",
    )


def _into_the_limit_slowly(axis: Axis, solved: Travel, system: System) -> str:
    """Then into it, no faster than the sums leave room for."""
    check, top_mm_s = solved["limit_overtravel"], axis.speeds.top_speed_mm_s
    fits = _fits_mm_s(check, top_mm_s)
    if fits and top_mm_s is not None and fits < SLOW_SHARE * top_mm_s:
        return f"Then jog into it at {_say(fits, 'speed', system)} at most: more does not fit, by the sums."
    return "Then jog slowly into it."


def _whole(machine: Machine, squared: Squaring | None, system: System) -> Iterator[Test]:
    unit = _unit("length", system)
    yield Test(
        stage=ALL_OF_IT,
        name="Motors and spindle on, nothing moving",
        do="Ten minutes with the drives on, then with the spindle running at three speeds; watch every input.",
        expect="No input changes. One that does is interference: route, screen and earth the cables first.",
        blanks=(Blank("false trips"),),
        guard="No tool in the spindle.",
    )
    yield Test(
        stage=ALL_OF_IT,
        name="Homing again",
        do="Home all axes ten times, five of them after switching off and on; read an indicator each time.",
        expect="As the trial found. One that stands apart is a miss: find out why before going on.",
        blanks=(Blank("span", unit), Blank("misses")),
        guard=ON_STOP,
    )
    if any(axis.motors == 2 for axis in machine.axes):
        says = ""
        if squared is not None and squared.residual_mm is not None:
            expected, allowed = 2 * squared.residual_mm, squared.setup.allowed_mm
            asked_for = allowed is not None and allowed < expected
            within = _say(allowed if asked_for and allowed is not None else expected, "length", system)
            because = "which is asked" if asked_for else "twice what is expected"
            says = f" Within {within} between the sides, {because}."
        yield Test(
            stage=ALL_OF_IT,
            name="Squareness",
            do="Home three times, then cut or drill a part and measure it: as found, before anything is "
            "moved, and as left, after.",
            expect=f"The same after switching off and on.{says}",
            blanks=(Blank("as found", unit), Blank("as left", unit)),
            guard="A hand on the stop while it homes. Loosen nothing on a powered axis.",
        )
    yield Test(
        stage=ALL_OF_IT,
        name="The next day",
        do="Home and read each axis again, cold.",
        expect="Where it was. New brackets settle overnight.",
        blanks=(Blank("moved", unit),),
        guard=ON_STOP,
    )


def _room_after(solved: Travel, name: str, system: System) -> str:
    """What a check says it uses and has, for the person to compare with."""
    check = solved[name]
    if check.uses_mm is None or check.room_mm is None:
        return ""
    uses, room = (_say(value, "length", system) for value in (check.uses_mm, check.room_mm))
    return f"; worked out: {uses} of the {room} there are at full speed"


def _say(value: float, kind: str, system: System) -> str:
    return show(value, kind, system=system, digits=3)


def _unit(kind: str, system: System) -> str:
    return plain(field_unit(kind, system=system))
