"""Drives cut: with nothing but friction to brake it, how far does the axis coast, and what does it hit with?"""

from dataclasses import dataclass, replace
from math import sqrt

from holdzero.caution import Caution
from holdzero.compute.motion import GRAVITY_M_S2, highest_speed_mm_s
from holdzero.compute.travel.overtravel import limit_trip_mm, rounded_down
from holdzero.compute.travel.values import HOMING_END, Check, End, TravelCase

FRICTION_ONLY = Caution(
    "friction-only",
    "Only friction is taken to brake. Geared motors and motors with shorted windings brake harder.",
    "common practice, no source",
)
HOLDING_THRUST = Caution(
    "holding-thrust",
    "If the drive still pushes: a stepping motor that stalls has a mean thrust of about zero; its holding thrust "
    "is the upper limit.",
    "common practice, no source",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """What is left when the axis reaches the hard stop. Forces over the bumper's stroke, None without one."""

    speed_mm_s: float
    energy_j: float
    mean_force_n: float | None
    spring_force_n: float | None
    driven_energy_j: float | None  # with the drives still pushing, which then do not let it coast first

    @property
    def takes_j(self) -> float:
        """What the bumper has to take: the worse of cut and driven, where the thrust is known. [J]"""
        return self.energy_j if self.driven_energy_j is None else max(self.energy_j, self.driven_energy_j)


def hit(
    *,
    speed_mm_s: float,
    coast_mm_s2: float,
    room_mm: float,
    delay_s: float,
    mass_kg: float,
    stroke_mm: float | None = None,
    thrust_n: float | None = None,
    weight_n: float = 0.0,
) -> Hit:
    """Return what the hard stop has to take.

    Parameters
    ----------
    speed_mm_s, coast_mm_s2, room_mm, delay_s : float
        Speed at the trip, deceleration by friction, way from trip to hard stop, time until the drives are
        cut. [mm/s, mm/s², mm, s]
    mass_kg : float
        Equivalent mass, what turns counted in. [kg]
    stroke_mm : float or None
        Stroke of the bumper. [mm]
    thrust_n : float or None
        Thrust of all drives, where they were not cut. [N]
    weight_n : float, default 0
        Of an axis whose weight pulls towards this stop. [N]

    Notes
    -----
    Cut: v² − 2 a (S − v t), then m v²/2 plus weight times stroke. Driven: the speed at the trip is that at the
    stop, m v²/2 plus thrust and weight times stroke. A bumper of constant force takes E/x, a spring peaks at 2E/x.
    What friction and a weight that pulls away take off over the stroke is left out. Textbook mechanics.

    Examples
    --------
    20 kg at 0.1 m/s into 2 mm of bumper, with 150 N still pushing:

    >>> impact = hit(
    ...     speed_mm_s=100, coast_mm_s2=0, room_mm=0, delay_s=0, mass_kg=20, stroke_mm=2, thrust_n=150
    ... )
    >>> print(f"{impact.energy_j:.1f} J, {impact.mean_force_n:.0f} N, driven {impact.driven_energy_j:.1f} J")
    0.1 J, 50 N, driven 0.4 J
    """
    braked = max(0.0, room_mm - speed_mm_s * delay_s)
    left = sqrt(max(0.0, speed_mm_s**2 - 2 * coast_mm_s2 * braked))
    falls_j = weight_n * (stroke_mm or 0.0) / 1000
    energy = mass_kg * (left / 1000) ** 2 / 2 + falls_j
    driven = None
    if stroke_mm is not None and thrust_n is not None:
        driven = mass_kg * (speed_mm_s / 1000) ** 2 / 2 + falls_j + thrust_n * stroke_mm / 1000
    return Hit(
        speed_mm_s=left,
        energy_j=energy,
        mean_force_n=None if stroke_mm is None else energy / stroke_mm * 1000,
        spring_force_n=None if stroke_mm is None else 2 * energy / stroke_mm * 1000,
        driven_energy_j=driven,
    )


def coast(case: TravelCase, end: End = HOMING_END) -> Check:
    """Drives cut at the limit trip at top speed, it stands before the hard stop by friction alone."""
    trip = limit_trip_mm(case, end)
    (top,) = case.need("top_speed_mm_s")
    slows, delay = case.coast_mm_s2(end), case.limit_delay_s
    falls = (_falls(case),) if case.axis.moving.vertical else ()
    if slows <= 0:
        return Check(
            check=end.key("coast"),
            ok=False,
            speed_limit_mm_s=0.0,
            speed_key="top_speed",
            why=f"With the drives cut it never stops by itself on the way to the hard stop {end.where}.",
            do="It needs a brake that closes when the power goes.",
            cautions=falls,
        )
    way = top * delay + top**2 / (2 * slows)
    struck = case_hit(case, end, speed_mm_s=top)
    left = f" It reaches the stop at {case.mm_s(struck.speed_mm_s)}." if struck.speed_mm_s else ""
    limit = highest_speed_mm_s(room_mm=trip, brake_mm_s2=slows, delay_s=delay)
    return case.judged(
        end.key("coast"),
        uses_mm=way,
        room_mm=trip,
        speed_limit_mm_s=limit,
        speed_key="top_speed",
        why=f"Drives cut at {case.mm_s(top)}, friction stops it in {case.mm(way)}; the hard stop {end.where} is "
        f"{case.mm(trip)} away.{left}",
        do=f"{_instead(case, end)}, or jog at {case.mm_s(rounded_down(limit))} or less until homed.",
        cautions=(FRICTION_ONLY, *falls),
    )


def _instead(case: TravelCase, end: End) -> str:
    """What to do where friction does not stop it in time; a bumper that is enough is there already."""
    moving = case.axis.moving
    if None not in (moving.bumper_stroke_mm, moving.bumper_energy_j) and bumper(case, end).ok:
        return "The bumper takes that (see that check). To stop before it, brake instead of cutting the drives"
    return "Let the bumper take it (see that check), brake instead of cutting the drives"


def _falls(case: TravelCase) -> Caution:
    """Whether a vertical axis falls with the drives off, by its weight and friction."""
    mass_kg, friction_n = case.need("moving_mass_kg", "friction_n")
    weight_n = mass_kg * GRAVITY_M_S2
    weight, friction = case.say(weight_n, "force"), case.say(friction_n, "force")
    support = "Support it before switching off or working under it."
    if weight_n > friction_n:
        where = "towards home" if case.axis.moving.gravity == "towards home" else "away from home"
        text = f"Drives off, this axis falls, {where}: its weight of {weight} exceeds the friction of {friction}. "
    else:
        text = (
            f"By sums the friction of {friction} holds the weight of {weight} with the drives off; friction "
            "gets less as it runs in. "
        )
    return Caution("falls", text + support)


def bumper(case: TravelCase, end: End = HOMING_END) -> Check:
    """The bumper takes what is left, with the drive still pushing where its thrust is known."""
    rating = () if case.axis.moving.bumper_stroke_mm is not None else ("bumper_energy_j",)  # both or neither
    stroke, top, *_ = case.need("bumper_stroke_mm", "top_speed_mm_s", *rating)
    struck, begins = case_hit(case, end, speed_mm_s=top), case.mm_s(top)
    falls = case_hit(case, end, speed_mm_s=0.0)
    driven_from = ""
    if falls.energy_j > struck.energy_j:  # the slower at the trip, the longer the way it falls with the drives cut
        # but still driven it hits the hardest from its top speed
        struck, driven_from = replace(falls, driven_energy_j=struck.driven_energy_j), f" from {begins}"
        begins = "rest at the trip"
    driven = (
        ""
        if struck.driven_energy_j is None
        else f"; still driven{driven_from} {case.say(struck.driven_energy_j, 'energy')}"
    )
    hits = (
        f"reaches the hard stop {end.where} at {case.mm_s(struck.speed_mm_s)}: "
        f"{case.say(struck.energy_j, 'energy')}, over {case.mm(stroke)} "
        f"{case.say(struck.mean_force_n or 0, 'force')} mean, {case.say(struck.spring_force_n or 0, 'force')} at "
        "the end of a spring"
        if struck.energy_j
        else f"stands before the hard stop {end.where}"
    )
    why = f"From {begins} with the drives cut it {hits}{driven}."
    cautions = () if case.axis.moving.thrust_n is None else (HOLDING_THRUST,)
    rated = case.axis.moving.bumper_energy_j
    if rated is None:
        return Check(
            check=end.key("bumper"),
            ok=None,
            why=f"{why} No verdict: give the energy that the bumper and the frame may take in one hit.",
            needs=("bumper_energy",),
            cautions=cautions,
        )
    limit = _speed_for_energy(case, end, rated)
    slower = "or keep the speed down until homed" if limit else "at no speed is this one enough"
    return case.judged(
        end.key("bumper"),
        uses_mm=stroke * struck.takes_j / rated,  # of a bumper of constant force
        room_mm=stroke,
        speed_limit_mm_s=limit,
        speed_key="top_speed",
        why=f"{why} The bumper may take {case.say(rated, 'energy')}.",
        do=f"Take a bumper for {case.at_least(struck.takes_j, 'energy')}, {slower}.",
        cautions=cautions,
    )


def case_hit(case: TravelCase, end: End, *, speed_mm_s: float) -> Hit:
    """What reaches the hard stop at one end from a speed at the limit trip, drives cut."""
    slows = case.coast_mm_s2(end)
    return hit(
        speed_mm_s=speed_mm_s,
        coast_mm_s2=slows,
        room_mm=limit_trip_mm(case, end),
        delay_s=case.limit_delay_s,
        mass_kg=case.equivalent_kg,
        stroke_mm=case.axis.moving.bumper_stroke_mm,
        thrust_n=case.thrust_n,
        weight_n=case.need("moving_mass_kg")[0] * GRAVITY_M_S2 if case.pulls_towards(end) else 0.0,
    )


def _speed_for_energy(case: TravelCase, end: End, rated_j: float) -> float:
    """Highest speed at the trip after which the bumper has its rated energy to take; 0: too much at any. [mm/s]"""
    from_rest = case_hit(case, end, speed_mm_s=0.0)  # weight and thrust alone
    spare = rated_j - from_rest.energy_j
    if rated_j < from_rest.takes_j:
        return 0.0
    cut = _cut_speed(case, end, from_rest, spare)
    if from_rest.driven_energy_j is None:
        return cut
    return min(cut, sqrt(2e6 * (rated_j - from_rest.driven_energy_j) / case.equivalent_kg))


def _cut_speed(case: TravelCase, end: End, from_rest: Hit, spare_j: float) -> float:
    """The same with the drives cut; `spare_j` is left for what the speed brings. [mm/s]"""
    strikes = sqrt(from_rest.speed_mm_s**2 + 2e6 * spare_j / case.equivalent_kg)
    slows, delay, room = case.coast_mm_s2(end), case.limit_delay_s, limit_trip_mm(case, end)
    if strikes * delay >= room:
        return strikes
    # v² + 2 a t v = strikes² + 2 a S, of which falling from rest, a < 0, leaves 0 but for rounding
    return sqrt((slows * delay) ** 2 + max(strikes**2 + 2 * slows * room, 0.0)) - slows * delay
