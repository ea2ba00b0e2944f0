"""Guards: the signatures the verdict leans on at once.

A machine that is not steady yet never `holds`. That the scatter does not look like a bell curve, or that a homing
stands apart, is said: how far it may lower the verdict is weighed by `tails` and by the count of misses.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from holdzero.compute.shape.judge import Shape
from holdzero.compute.signature.hunt import DRIFT, ODD_SHAPE, OUTLYING, STEP, WARMTH
from holdzero.compute.signature.values import Signature
from holdzero.compute.spread.layout import Layout
from holdzero.compute.steady.steadiness import UNSTEADY, WARM, Steadiness
from holdzero.quantity import System, show_signed

Floats = NDArray[np.float64]


def not_steady(time: Steadiness, sets: NDArray[Any], system: System) -> tuple[Signature, ...]:
    """Drift, warm-up or step, at 1 % for all of them together."""
    if not time.unsteady:
        return ()
    change = show_signed(time.change, "length", system=system, digits=2)
    match time.shape:
        case "warm-up":
            text = f"the first homings of a set move by {change} before they settle"
            text += f"; discard the first {time.discard} of each set" if time.discard else ""
            hunt, name = WARMTH, "drift after power-up"
        case "line":
            text = f"the homings wander by {change} from the start of a set to its end"
            hunt, name = DRIFT, "drift after power-up"
        case "line over the trial":
            text = f"the sets wander by {change} from the first to the last"
            hunt, name = DRIFT, "drift over the trial"
        case _:
            text = f"a step of {change} before {name_homing(time.step_before or 0, sets)}"
            hunt, name = STEP, "a step"
    return (
        Signature(
            code="not-steady",
            sentence=f"Not yet steady: {text} (a steady machine shows this with a chance of {time.p:.2g}).",
            statistic=time.p,
            threshold=UNSTEADY,
            false_alarm_rate=UNSTEADY,
            causes=hunt.causes,
            check=hunt.check,
            lowers="caps",
            p=time.p,
            name=name,
        ),
    )


def warm(time: Steadiness, system: System) -> tuple[Signature, ...]:
    """A line or warm-up within sets at 5 %, where the whole is not unsteady at 1 %."""
    if not time.warm or time.unsteady:
        return ()
    change = show_signed(time.change, "length", system=system, digits=2)
    advice = f"; try without the first {time.discard} of each set" if time.discard else ""
    hunt = WARMTH if time.shape == "warm-up" else DRIFT
    return (
        Signature(
            code="warm",
            sentence=f"The homings of a set may move by {change} from its start to its end{advice}.",
            statistic=time.p_drift,
            threshold=WARM,
            false_alarm_rate=WARM,
            causes=hunt.causes,
            check=hunt.check,
        ),
    )


def odd_shape(scatter: Shape) -> tuple[Signature, ...]:
    """Anderson-Darling at 5 %."""
    anderson_darling = scatter.normality
    if anderson_darling is None or not anderson_darling.fires:
        return ()
    return (
        Signature(
            code="shape",
            sentence="The scatter does not look like a bell curve (Anderson-Darling "
            f"{anderson_darling.adjusted:.2f}, "
            f"limit {anderson_darling.limit}).",
            statistic=anderson_darling.adjusted,
            threshold=anderson_darling.limit,
            false_alarm_rate=0.05,
            causes=ODD_SHAPE.causes,
            check=ODD_SHAPE.check,
        ),
    )


def outlying(scatter: Shape, values: Floats, sets: NDArray[Any], system: System) -> tuple[Signature, ...]:
    """Generalised extreme studentised deviates at 5 %; on a display of half to one spread up to 8 % (measured)."""
    places = scatter.outliers.places
    if not places:
        return ()
    named = []
    for place in places[:3]:
        usual = float(np.median(values[sets == sets[place]]))
        away = show_signed(values[place] - usual, "length", system=system, digits=2)
        named.append(f"{name_homing(place, sets)} by {away}")
    more = f" and {len(places) - 3} more" if len(places) > 3 else ""
    stand = "stands" if len(places) == 1 else "stand"
    return (
        Signature(
            code="outlying",
            sentence=(
                f"{len(places)} of {values.size} homings {stand} apart from the rest: {', '.join(named)}{more}."
            ),
            statistic=float(scatter.outliers.statistic[0]),
            threshold=float(scatter.outliers.limit[0]),
            false_alarm_rate=0.08,
            causes=OUTLYING.causes,
            check=OUTLYING.check,
        ),
    )


def name_homing(place: int, sets: NDArray[Any]) -> str:
    """Name a reading as the person knows it: "homing 3 of set 2"."""
    return f"homing {Layout.read(sets).place[place] + 1} of set {sets[place]}"
