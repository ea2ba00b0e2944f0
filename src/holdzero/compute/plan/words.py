"""Words: what a plan promises and asks for, in sentences for page and terminal alike."""

from holdzero.compute.plan.long_run import RunWeighed
from holdzero.compute.plan.trial_plan import TrialPlan
from holdzero.quantity import System, show, show_share

MOUNTED = (
    "Mount all candidates at once and leave them where they are. To go on to the next one switch off, unplug the "
    "machine, change only the plug of the sensor, switch on: that is a power-up of its own. What is taken off and "
    "put back is another trial."
)


def what_it_shows(plan: TrialPlan, system: System) -> list[str]:
    """Return what the trial will show, a sentence each.

    Parameters
    ----------
    plan : TrialPlan
        The trial.
    system : {"metric", "inch"}
        Units of the lengths named.
    """
    phrases = [_promise(plan, system)]
    phrases.append(f"The true spread lies within {plan.low:.2f} to {plan.high:.2f} times the one found (95 %).")
    if len(plan.candidates) > 1:
        phrases.append(f"Two candidates are told apart from a ratio of {plan.apart:.1f} on (4 of 5 trials).")
    at_most = show_share(plan.misses_at_most)
    phrases.append(f"No gross miss in {plan.split.total} leaves a share of up to {at_most} possible (95 %).")
    speeds = " and ".join(show(speed, "speed", system=system) for speed in plan.speeds.mm_s) or "two creep speeds"
    phrases.append(f"Speeds: {speeds}; {plan.speeds.why}.")
    return phrases


def _promise(plan: TrialPlan, system: System) -> str:
    sides = " with both sides read" if len(plan.sides) == 2 else ""
    if plan.spread_allowed_mm is None:
        least = min(outlook.room.four_in_five for outlook in plan.outlook)
        needed = f"{plan.worst.room.four_in_five:.1f}"
        span = needed if len(plan.outlook) == 1 else f"{least:.1f} to {needed}"
        return (
            f"In 4 of 5 such trials{sides} a candidate is found to hold where the spread allowed is {span} times "
            "its true one" + ("." if len(plan.outlook) == 1 else ", the more the more power-ups scatter.")
        )
    allowed = show(plan.spread_allowed_mm, "length", system=system, digits=3)
    if plan.holds_up_to_mm is None:
        return f"Allowed is a spread of {allowed}; the display is too coarse to promise a candidate anything."
    up_to = show(plan.holds_up_to_mm, "length", system=system, digits=2)
    return (
        f"Allowed is a spread of {allowed}: in 4 of 5 such trials{sides} a candidate of {up_to} or less is "
        "found to hold."
    )


def about_the_run(run: RunWeighed) -> list[str]:
    """Return whether a long run is worth it, a sentence each.

    Parameters
    ----------
    run : RunWeighed
    """
    settles = "A long run settles the tails, the power-ups settle the day: it replaces none of them."
    more = f"{run.power_ups_instead} more power-up{'' if run.power_ups_instead == 1 else 's'} in the same time"
    if run.pays_up_to is None:
        asked = f"A long run of {run.homings} homings ({run.minutes:.0f} min)"
        return [f"{asked} is not worth it here: {more} say as much.", settles]
    gain = max((gain for gain in run.gains if gain.pays), key=lambda gain: gain.between_ratio)
    without, with_run, instead = (
        f"{needed.four_in_five:.1f}" for needed in (gain.without, gain.with_run, gain.instead)
    )
    phrases = [
        (
            f"Worth it for the one chosen, once its power-ups are taken and only the tails keep it open: a long "
            f"run of {run.homings} homings in one power-up, by counter, indicator or logic analyser "
            f"({run.minutes:.0f} min)."
        ),
        (
            f"Where power-ups scatter {gain.between_ratio:g} times as much as the homings of one, the spread "
            f"allowed then has to be {with_run} times the true one, not {without}; {more} would bring {instead}."
        ),
        settles,
    ]
    if run.life_share is not None:
        phrases.append(f"It uses {show_share(run.life_share)} of the shortest life stated of a candidate.")
    if run.stops != "good":
        phrases.append(f"Not yet: whether this machine stops in time is {_stops(run.stops)}.")
    return phrases


def _stops(stops: str) -> str:
    return "not known: pass the stop, limit and broken-wire tests first" if stops == "not known" else "not good"
