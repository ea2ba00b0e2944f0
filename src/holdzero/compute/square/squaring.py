"""Squaring: from rounds to which side moves, which way, by how much, and when to stop."""

from collections.abc import Iterable
from math import atan, cos, hypot, tan

from holdzero.caution import Caution
from holdzero.compute.square.combine import Mean, mean_offset
from holdzero.compute.square.last_digit import rounded_u_mm
from holdzero.compute.square.stops import PUSHED_BY_HAND, against_stops
from holdzero.compute.square.values import Event, GantrySetup, Round, RoundTaken, Squaring, last_baseline
from holdzero.compute.square.words import SquareWords
from holdzero.errors import InputError
from holdzero.quantity import System, show, show_percent

COVERAGE = 2.0  # stop where |change| is under so many combined standard uncertainties
LOAD = 0.1  # share of the thrust that racking may take up; common practice, no source
ALIKE = 0.1  # share by which the sides' back-offs may differ
ENOUGH_ROUNDS = 3

NOT_POWERED = Caution(
    "nothing-loosened-powered", "Loosen nothing on a powered axis. A hand on the stop whenever it homes."
)
AFTER_HOMING = Caution(
    "each-part-after-homing",
    "A part carries the scatter of the homing before it. Home at least three times before cutting one to measure, "
    "and set the mean of all rounds, not the last one: turning the screw after every part makes it worse.",
)
NO_SPREAD = Caution(
    "switch-spread-unknown",
    "The spread of the switches is not given, so what they hold is not in when to stop: give spread, from a "
    "trial.",
)
NO_TOOL = Caution(
    "tool-uncertainty-unknown",
    "The uncertainty of the tool is not given, so nobody can say when to stop: give u, one standard uncertainty.",
)


def squaring(setup: GantrySetup, history: Iterable[Round | Event], *, system: System = "metric") -> Squaring:
    """Work out what to do from every round since the last event.

    Parameters
    ----------
    setup : GantrySetup
        The gantry.
    history : iterable of Round or Event
        Oldest first.
    system : {"metric", "inch"}
        Units that sentences are worded in; figures stay in mm and rad.

    Returns
    -------
    Squaring
        Verdict, advice, figures, and every round.

    Raises
    ------
    InputError
        No round since the last event, or one whose readings contradict each other.

    Notes
    -----
    Turned by δ, the sides are W tan δ apart: plus is the right side ahead, to be brought back. With ρ of an
    offset becoming angle, the offset commanded is W tan δ/ρ and a switch moves by W tan δ (1 + ρ)/(2ρ);
    turns of a screw are for the switch.
    Stop where |change| < 2 u_c, u_c² = u² + (2ρ/(1 + ρ))² 2q². What holds it square loads each drive with
    K |θ₀|/W = k (1 − ρ) W |θ₀|/ρ, whatever was measured: only a natural angle that is known gives a force.

    Examples
    --------
    >>> from holdzero.compute.racking import Racking
    >>> from holdzero.compute.square.flip import Flip
    >>> gap = Round(name="flip", method=Flip(length_mm=600, gap_mm=0.22), u_mm=0.03)
    >>> squared = squaring(GantrySetup(racking=Racking(drive_distance_mm=980)), [gap])
    >>> f"{squared.angle_rad * 1e3:.4f} mrad, right side back by {squared.offset_mm:.4f} mm"
    '0.1833 mrad, right side back by 0.1797 mm'
    """
    rounds = tuple(_taken(round_before, setup, counts, system) for round_before, counts in last_baseline(history))
    counted = [taken for taken in rounds if taken.counts]
    if not counted:
        raise InputError(
            found="no measurement" + (" since the last event" if rounds else ""),
            need="one round: two diagonals, a flip, a reversal or a grid of holes",
            do="measure as the machine stands now",
        )
    mean = mean_offset(
        [taken.needed_mm for taken in counted],
        [taken.offset_u_mm for taken in counted],
        switches_mm=setup.switches_mm,
        least_mm=min(taken.rounded_mm for taken in counted),
    )
    change = mean.value_mm - setup.share * counted[-1].round.setting_mm
    angle = atan(change / setup.drive_distance_mm)
    command, switch_move = change / setup.racking.share, change / setup.racking.trip_share
    move = command if setup.adjust == "offset" else switch_move
    stop = mean.u_mm is not None and abs(change) < COVERAGE * mean.u_mm
    one_sided = _one_sided(counted[-1].round, system)
    natural_known = setup.racking.natural_rad is not None
    force = setup.racking.holding_force_n(0.0) if natural_known else None
    left_mm = change if stop else 0.0
    residual = None if mean.u_mm is None else hypot(left_mm, mean.u_mm, setup.switches_mm or 0.0)
    words = SquareWords(setup=setup, system=system, rounds=len(counted), home_again=bool(one_sided))
    verdict, steps = (
        words.verdict(change, mean.u_mm, stop=stop),
        words.steps(change, command, switch_move, stop=stop),
    )
    stops = against_stops(setup, system=system)
    return Squaring(
        setup=setup,
        rounds=rounds,
        angle_rad=angle,
        angle_u_rad=_angle_u(mean, setup, angle),
        offset_mm=mean.value_mm,
        offset_u_mm=mean.tool_u_mm,
        change_mm=change,
        combined_u_mm=mean.u_mm,
        residual_mm=residual,
        move_mm=move,
        command_mm=command,
        switch_move_mm=switch_move,
        turns=None if setup.screw_pitch_mm is None else abs(switch_move) / setup.screw_pitch_mm,
        force_n=None if force is None else abs(force),
        stop=stop,
        verdict=verdict,
        steps=steps,
        expected=words.expected(residual, mean.tool_u_mm),
        stops=stops,
        cautions=(
            *one_sided,
            NOT_POWERED,
            *(_load(setup, force, words) if natural_known else _load_unknown(setup, mean, words)),
            *(_apart(counted, words) if mean.apart else ()),
            *((NO_TOOL,) if mean.u_mm is None else ()),
            *((NO_SPREAD,) if setup.spread_mm is None else ()),
            *((AFTER_HOMING,) if len(counted) < ENOUGH_ROUNDS else ()),
            *dict.fromkeys(caution for taken in counted for caution in taken.measured.cautions),
            *setup.racking.cautions,
            *((PUSHED_BY_HAND,) if stops else ()),
        ),
    )


def _taken(round_taken: Round, setup: GantrySetup, counts: bool, system: System) -> RoundTaken:
    rounded_mm = rounded_u_mm(round_taken.digit_mm)
    u_mm = None if round_taken.u_mm is None else max(round_taken.u_mm, rounded_mm)
    measured = round_taken.method.measured(u_mm, where=round_taken.where, system=system)
    width = setup.drive_distance_mm
    offset = width * tan(measured.angle_rad)
    offset_u = None if measured.u_rad is None else width * measured.u_rad / cos(measured.angle_rad) ** 2
    return RoundTaken(
        round=round_taken,
        measured=measured,
        offset_mm=offset,
        offset_u_mm=offset_u,
        rounded_mm=offset_u * rounded_mm / u_mm if offset_u is not None and u_mm else 0.0,
        needed_mm=offset + setup.share * round_taken.setting_mm,
        counts=counts,
    )


def _angle_u(mean: Mean, setup: GantrySetup, angle_rad: float) -> float | None:
    if mean.tool_u_mm is None:
        return None
    return mean.tool_u_mm / setup.drive_distance_mm * cos(angle_rad) ** 2


def _load(setup: GantrySetup, force_n: float | None, words: SquareWords) -> tuple[Caution, ...]:
    """Say what pushing square with the motors costs, where it is known or a good part of the thrust."""
    if force_n is None or abs(force_n) < 1e-9:
        return ()
    load = words.force(abs(force_n))
    if setup.thrust_n is not None and abs(force_n) >= LOAD * setup.thrust_n:
        return (
            Caution(
                "pushed-not-fixed",
                f"The offset loads each drive with {load}, {show_percent(abs(force_n) / setup.thrust_n)} of its "
                "thrust. Pushing square with motors is not fixing it: square the gantry mechanically first, until "
                "less than 10 % is left.",
                "common practice, no source",
            ),
        )
    return (
        Caution(
            "drives-hold-it",
            f"The offset loads each drive with {load}. With the drives off the gantry goes back to its own angle "
            "where the drives can be pushed back.",
        ),
    )


def _load_unknown(setup: GantrySetup, mean: Mean, words: SquareWords) -> tuple[Caution, ...]:
    """Say what the load hangs on: the part measured does not tell crooked guides from switches that differ."""
    guides, apart = setup.racking.guides_n_mm, abs(mean.value_mm)
    if not guides or guides * apart < 1e-9:
        return ()
    heavy = ""
    if setup.thrust_n is not None:
        heavy = (
            f" From {words.length(LOAD * setup.thrust_n / guides)} on that is 10 % of the thrust: square the "
            "gantry mechanically first."
        )
    return (
        Caution(
            "load-unknown",
            "What the drives must hold once it is square is not known: nothing if only the switches differ, "
            f"{words.force(guides * apart)} in each drive if with the drives off the sides stand "
            f"{words.length(apart)} apart too, and in proportion to that.{heavy} Measure it with the drives off "
            "and give the angle that the guides take by themselves.",
        ),
    )


def _one_sided(last: Round, system: System) -> tuple[Caution, ...]:
    """Say it where one side did not back off as the other did."""
    left, right = last.back_off_left_mm, last.back_off_right_mm
    if left is None or right is None or abs(left - right) <= ALIKE * max(abs(left), abs(right)):
        return ()
    side = "left" if left < right else "right"
    backed = [show(length, "length", system=system, digits=3) for length in (left, right)]
    return (
        Caution(
            "one-side-did-not-back-off",
            f"The left side backed off {backed[0]}, the right one {backed[1]}. Unless they are meant to differ, "
            f"the {side} side does not really back off: put that right before squaring, and home again.",
            "common practice, no source",
        ),
    )


def _apart(counted: list[RoundTaken], words: SquareWords) -> tuple[Caution, ...]:
    offsets = [taken.needed_mm for taken in counted]
    return (
        Caution(
            "rounds-differ",
            f"The rounds lie {words.length(max(offsets) - min(offsets))} apart, more than tool and switches "
            "explain: the uncertainty is widened to match. Look for a loose bracket, a warm machine, or a side "
            "that does not back off.",
        ),
    )
