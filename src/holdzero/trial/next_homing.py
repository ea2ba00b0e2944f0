"""Entry: which homing comes next, and what the person does for it."""

from collections.abc import Sequence
from dataclasses import dataclass

from holdzero.compute.choose.asks import REPEATS
from holdzero.inputs.machine.values import Axis
from holdzero.store import KeptReading, PowerUp

HOMINGS_A_SET = 5  # more power-ups say more than more homings: see `holdzero.compute.plan`
READINGS_AGAIN = REPEATS  # without homing: what indicator and stand add by themselves
SIDES = {"": "the axis", "L": "the left side", "R": "the right side"}
WORDS = {"": "", "L": "left side", "R": "right side"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """The next reading.

    `sides` is how the axis is read: "both", "L", "R" or "" (one motor). `full`: the set has as many
    homings as it needs, so a new power-up is the better next step.
    """

    sensor: str
    axis: str
    sides: str
    set_label: str
    homing: int
    side: str
    begun: bool  # the set holds a reading already
    full: bool
    again: int = 0  # in a run of readings without homing: how many there are, plus 1

    @property
    def place(self) -> str:
        """Which reading it is."""
        return self.without_side + (f", {WORDS[self.side]}" if self.side else "")

    @property
    def without_side(self) -> str:
        """Which homing it is."""
        number = f"reading {self.again} without homing" if self.again else f"homing {self.homing}"
        return f"Set {self.set_label}, {number}"

    @property
    def sentence(self) -> str:
        """What to do now."""
        if self.again:
            return f"Do not home: lift the tip, let it down, hands off, read {SIDES[self.side]}"
        for_sensor = f"{self.axis} on {self.sensor}".strip() if self.sensor else self.axis
        read = f"read {SIDES[self.side]}"
        if self.full:
            return f"Set {self.set_label} is full: switch off, wait, switch on"
        if self.sides == "both" and self.side == "R":
            return "Same homing: now read the right side"
        if not self.begun:
            return f"Set {self.set_label}: switch off, wait, switch on, home {for_sensor}, then {read}"
        return f"Move away, home {for_sensor} again, {read}"


def next_step(
    rows: Sequence[KeptReading],
    power_ups: Sequence[PowerUp],
    *,
    sensor: str,
    axis: str,
    sides: str,
    set_label: str = "",
    again: bool = False,
    homings: int = HOMINGS_A_SET,
) -> Step:
    """Return what comes next for one candidate.

    Parameters
    ----------
    rows : sequence of KeptReading
        The trial's readings in the order taken.
    power_ups : sequence of PowerUp
        The trial's sets.
    sensor, axis, sides : str
        Which candidate, and which sides are read ("both", "L", "R", "").
    set_label : str
        Which set; the newest of the candidate if none is named.
    again : bool
        Whether readings without homing are being taken: ten, then homing goes on.
    homings : int
        After how many the set is full.
    """
    labels = [power_up.label for power_up in power_ups if (power_up.sensor, power_up.axis) == (sensor, axis)]
    set_label = set_label or (labels[-1] if labels else "1")
    of_set = [
        row
        for row in rows
        if (row.sensor, row.axis, row.set_label) == (sensor, axis, set_label) and not row.undone
    ]
    if again and (step := _again(of_set, sensor=sensor, axis=axis, sides=sides, set_label=set_label)):
        return step
    homed_rows = [row for row in of_set if not row.repeat]
    if sides == "both":
        done = {side: {row.homing for row in homed_rows if row.side == side} for side in "LR"}
        open_homings = sorted(done["L"] - done["R"])
        homing = open_homings[0] if open_homings else max(done["L"] | done["R"], default=0) + 1
        side = "R" if open_homings else "L"
    else:
        side = sides
        homing = max((row.homing for row in homed_rows if row.side == side), default=0) + 1
    return Step(
        sensor=sensor,
        axis=axis,
        sides=sides,
        set_label=set_label,
        homing=homing,
        side=side,
        begun=bool(homed_rows),
        full=homing > homings and not (sides == "both" and side == "R"),
    )


def _again(rows: Sequence[KeptReading], *, sensor: str, axis: str, sides: str, set_label: str) -> Step | None:
    """Return the next reading without homing; None once there are enough since the last homing."""
    side = "L" if sides == "both" else sides
    side_rows = [row for row in rows if row.side == side]
    homed = max((at for at, row in enumerate(side_rows, 1) if not row.repeat), default=0)
    taken = len(side_rows) - homed
    if sides == "both" and taken >= READINGS_AGAIN:
        return _again(rows, sensor=sensor, axis=axis, sides="R", set_label=set_label)
    if taken >= READINGS_AGAIN:
        return None
    homing = max((row.homing for row in side_rows if not row.repeat), default=1)
    place = {"sensor": sensor, "axis": axis, "sides": sides, "set_label": set_label}
    return Step(**place, homing=homing, side=side, begun=bool(side_rows), full=False, again=taken + 1)


def ways_to_read(axis: Axis | None) -> tuple[tuple[str, str], ...]:
    """Return how the sides of an axis can be read: (value, words)."""
    if axis is None or axis.motors == 1:
        return (("", "the axis"),)
    return ("both", "left, then right"), ("L", "left side only"), ("R", "right side only")
