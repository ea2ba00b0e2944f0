"""Stray: one homing off by just one index pitch, electrical cycle, full step, belt tooth, motor or screw turn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from holdzero.compute.signature.hunt import (
    BELT_TOOTH,
    FULL_STEP,
    MOTOR_TURN,
    SCREW_TURN,
    WHOLE_CYCLE,
    WHOLE_TURN,
    Hunt,
)
from holdzero.compute.signature.values import Signature
from holdzero.quantity import System, show, show_signed

HUNTS: dict[str, Hunt] = {
    "index pitch": WHOLE_TURN,
    "electrical cycle": WHOLE_CYCLE,
    "full step": FULL_STEP,
    "belt tooth": BELT_TOOTH,
    "motor turn": MOTOR_TURN,
    "screw turn": SCREW_TURN,
}
NEAR = 0.02  # of the step; or three robust spreads where these are more
_SPREADS = 3.0
_CLEAR = 0.1  # of the step, which three robust spreads may be at most: otherwise any homing would fit


@dataclass(frozen=True, slots=True)
class Stray:
    """A homing off by one step. `place`: which of those given; `times`: its distance over the step."""

    place: int
    step: str
    times: float


def strays(away: Sequence[float], steps: Mapping[str, float], *, spread: float) -> tuple[Stray, ...]:
    """Find the homings that are off by just one step of the drive.

    Parameters
    ----------
    away : sequence of float
        How far each of some homings landed from home. [mm]
    steps : mapping of str to float
        Length by name; the first that fits is named. [mm]
    spread : float
        Robust spread of the homings at home. [mm]

    Examples
    --------
    >>> strays([0.2012, -0.13], {"electrical cycle": 0.2, "full step": 0.05}, spread=0.002)
    (Stray(place=0, step='electrical cycle', times=1.006),)
    """
    found_strays = []
    for place, distance in enumerate(away):
        for name in HUNTS:
            step = steps.get(name)
            if step is None or _SPREADS * spread > _CLEAR * step:
                continue
            if abs(abs(distance) - step) <= max(NEAR * step, _SPREADS * spread):
                found_strays.append(Stray(place, name, round(abs(distance) / step, 6)))
                break
    return tuple(found_strays)


def named_strays(
    away: Sequence[float],
    names: Sequence[str],
    steps: Mapping[str, float],
    *,
    spread: float,
    system: System = "metric",
) -> tuple[Signature, ...]:
    """Return one signature for each step that strays are off by.

    Parameters
    ----------
    away : sequence of float
        As for `strays`. [mm]
    names : sequence of str
        What a person calls each of the homings, e.g. "homing 3 of set 2".
    steps, spread
        As for `strays`.
    system : {"metric", "inch"}
        Units of the sentence.
    """
    named = strays(away, steps, spread=spread)
    signatures = []
    for step in dict.fromkeys(stray.step for stray in named):
        of_step = [stray for stray in named if stray.step == step]
        stray_words = [
            f"{names[stray.place]} by {show_signed(away[stray.place], 'length', system=system, digits=3)}"
            for stray in of_step[:3]
        ]
        more = f" and {len(of_step) - 3} more" if len(of_step) > 3 else ""
        signatures.append(
            Signature(
                code=f"stray-{step.replace(' ', '-')}",
                sentence=f"Off by one {step} of {show(steps[step], 'length', system=system)}, "
                f"{of_step[0].times:.2f} times it: {', '.join(stray_words)}{more}.",
                statistic=of_step[0].times,
                threshold=1 + NEAR,
                false_alarm_rate=NEAR,  # of a distance that may be any up to the step
                causes=HUNTS[step].causes,
                check=HUNTS[step].check,
            )
        )
    return tuple(signatures)
