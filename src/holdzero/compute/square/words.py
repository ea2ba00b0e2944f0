"""Words: the verdict and the steps, as said to the person at the machine."""

from dataclasses import dataclass

from holdzero.compute.square.values import GantrySetup
from holdzero.quantity import System, show, show_percent


@dataclass(frozen=True, slots=True, kw_only=True)
class SquareWords:
    """What the sentences are about.

    `home_again`: a side did not back off, which comes first.
    """

    setup: GantrySetup
    system: System
    rounds: int
    home_again: bool = False

    def length(self, value_mm: float, u_mm: float | None = None) -> str:
        """Word a length without its sign."""
        if u_mm:
            return show(abs(value_mm), "length", system=self.system, uncertainty=u_mm)
        return show(abs(value_mm), "length", system=self.system, digits=3)

    def force(self, force_n: float) -> str:
        """Word a force."""
        return show(force_n, "force", system=self.system, digits=2)

    def verdict(self, change_mm: float, u_mm: float | None, *, stop: bool) -> str:
        """One sentence: how it stands and what to do."""
        if self.home_again:
            return "One side does not back off as the other: put that right first, then home and measure again."
        if stop and u_mm is not None:
            inside = show(2 * u_mm, "length", system=self.system, digits=2)
            return (
                f"Stop adjusting: {self.length(change_mm, u_mm)} is inside the {inside} that can be told and held."
            )
        if change_mm == 0:
            return "Square: the readings show no difference between the sides."
        side = "back" if change_mm > 0 else "forward"
        doubt = "" if not u_mm else f", uncertain by {show(u_mm, 'length', system=self.system, digits=2)}"
        return f"Bring the right side {side} by {self.length(change_mm, u_mm)}{doubt}."

    def steps(self, change_mm: float, command_mm: float, switch_move_mm: float, *, stop: bool) -> tuple[str, ...]:
        """What to do, in order: the offset to command or the switch to move, each by its own length."""
        if self.home_again:
            return (
                "Check each side with an indicator or a feeler while it backs off, then home and measure again.",
            )
        if stop or change_mm == 0:
            return ("Leave it as it is and keep this round as the baseline: adjusting on only adds scatter.",)
        back = change_mm > 0
        way, opposite = ("back", "forward") if back else ("forward", "back")
        by_command = self.setup.adjust == "offset"
        moved = self.length(command_mm if by_command else switch_move_mm)
        turned = self.length(change_mm)
        if by_command:
            first = f"Command an offset of {moved}, right side {way} (or the left side {opposite} by as much)"
            if self.setup.share < 1:
                first += (
                    f": {show_percent(self.setup.share)} of it turns the gantry, by {turned} between the sides; "
                    "by the rest the drives give"
                )
        else:
            first = f"Move the right side's switch or flag so that it stops {moved} further {way}"
            if self.setup.share < 1:
                first += f": the sides drag each other, so the gantry turns by {turned}"
        instead = f"Instead of the command its switch can be moved, by {self.length(switch_move_mm)}. "
        return (
            f"{first}.",
            (instead if by_command else "") + self._switch(switch_move_mm),
            *self._turns(switch_move_mm, way),
            self._again(),
        )

    def _switch(self, move_mm: float) -> str:
        """Which way the trip goes at this homing end."""
        back, end = move_mm > 0, self.setup.homing_end
        moved = self.length(move_mm)
        if end is None:
            return (
                f"Back is towards low y. Homing at low y the right side then trips {moved} "
                f"{'later' if back else 'sooner'}, homing at high y {'sooner' if back else 'later'}."
            )
        later = back == (end == "low")
        does = "runs on further before it trips" if later else "trips sooner"
        return f"It homes at {end} y, so with its switch moved the right side {does}, by {moved}."

    def _turns(self, move_mm: float, way: str) -> tuple[str, ...]:
        """Turns of the screw that moves the switch; of a commanded offset no screw knows."""
        pitch = self.setup.screw_pitch_mm
        if pitch is None:
            return ()
        turns = abs(move_mm) / pitch
        count = f"{turns:.2f} turn{'' if f'{turns:.2f}' == '1.00' else 's'}"
        if self.setup.clockwise is None:
            return (f"That move of the switch is {count} of its screw; try first which way it goes.",)
        way_round = "clockwise" if self.setup.clockwise == way else "anticlockwise"
        return (f"That move of the switch is {count} of the right side's screw, {way_round}.",)

    def _again(self) -> str:
        return "Then home three times, make and measure a new part, and add it as a round with its setting."

    def expected(self, residual_mm: float | None, tool_u_mm: float | None) -> str:
        """What is left to expect, against what is asked; where that is too much, the larger part of it."""
        if residual_mm is None:
            return ""
        left = show(residual_mm, "length", system=self.system, digits=2)
        held = "" if self.setup.switches_mm is None else " at any one homing"
        says = f"Expect the sides within {left} (one standard deviation) of square{held}"
        allowed = self.setup.allowed_mm
        if allowed is None:
            return f"{says}."
        limit, over = (
            show(length or 0.0, "length", system=self.system)
            for length in (self.setup.squareness_mm, self.setup.squareness_over_mm)
        )
        if residual_mm > allowed:
            tool = (tool_u_mm or 0.0) >= (self.setup.switches_mm or 0.0)
            why = "this measurement cannot show it, measure better" if tool else "the switches cannot hold it"
            return f"{says}: already more than the {self.length(allowed)} that {limit} over {over} allows; {why}."
        fits = "inside" if 2 * residual_mm <= allowed else "more than"
        return f"{says}; twice that is {fits} the {self.length(allowed)} that {limit} over {over} allows."
