"""Words: what a plan promises, in sentences for page and terminal alike."""

from holdzero.compute.plan.trial_plan import TrialPlan
from holdzero.quantity import System, show, show_share


def what_it_shows(plan: TrialPlan, system: System) -> list[str]:
    """Return what the trial will show, a sentence each.

    Parameters
    ----------
    plan : TrialPlan
        The trial.
    system : {"metric", "inch"}
        Units of the lengths named.
    """
    phrases = [
        f"The true spread lies within {plan.low:.2f} to {plan.high:.2f} times the one found (95 %).",
        f"Two candidates are told apart from a ratio of {plan.apart:.1f} on (4 of 5 trials).",
        (
            f"{'On one side, holds' if plan.both_sides_mm else 'Holds'} needs "
            f"{plan.worst.room.four_in_five:.2f} times as much room as the true spread (4 of 5 trials), "
            f"{plan.heavy_factor:.2f} times more where the scatter may have heavy tails."
        ),
    ]
    if plan.spread_allowed_mm is not None and plan.holds_up_to_mm is not None:
        allowed, up_to = (
            show(size, "length", system=system, digits=3) for size in (plan.spread_allowed_mm, plan.holds_up_to_mm)
        )
        sides_note = "with both sides read, " if plan.both_sides_mm else ""
        phrases.append(
            f"Allowed is a spread of {allowed}: {sides_note}a candidate of {up_to} or less is found "
            "to hold in 4 of 5."
        )
    at_most = show_share(plan.misses_at_most)
    phrases.append(f"No gross miss in {plan.split.total} leaves a share of up to {at_most} possible (95 %).")
    speeds = " and ".join(show(speed, "speed", system=system) for speed in plan.speeds.mm_s) or "two creep speeds"
    phrases.append(f"Speeds: {speeds}; {plan.speeds.why}.")
    return phrases
